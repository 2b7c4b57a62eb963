package exchange

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/travel"
)

// place is where in a file a value stands; nil is the top. It becomes text only when something is wrong there.
type place struct {
	in    *place
	name  string // of a field
	index int    // in a list, when name is empty
}

func (p *place) String() string {
	if p == nil {
		return ""
	}
	before := p.in.String()
	switch {
	case p.name == "":
		return fmt.Sprintf("%s[%d]", before, p.index)
	case before == "":
		return p.name
	}
	return before + "." + p.name
}

// reader fills Go values from JSON that is known to be well formed, and notes all that is wrong.
type reader struct {
	in    *json.Decoder
	wrong catalogue.FieldErrors
}

func (r *reader) token() json.Token {
	token, err := r.in.Token()
	if err != nil {
		panic("exchange: JSON that was found valid does not read: " + err.Error())
	}
	return token
}

func (r *reader) add(at *place, reason, text string, args ...any) {
	path := at.String()
	if path == "" {
		path = "the file"
	}
	r.wrong.Add(path, reason, text, args...)
}

// value reads the value that begins with a token.
func (r *reader) value(token json.Token, into reflect.Value, at *place) {
	t := into.Type()
	if token == nil {
		r.add(at, ReasonType, "null: leave the field out where there is no value")
		return
	}
	switch {
	case t.Kind() == reflect.Pointer:
		pointed := reflect.New(t.Elem())
		r.value(token, pointed.Elem(), at)
		into.Set(pointed)
	case t == durationType || reflect.PointerTo(t).Implements(textType):
		if text, ok := token.(string); !ok {
			r.other(token, at, "text such as "+example(t))
		} else if err := parseText(into, text); err != nil {
			r.add(at, ReasonType, "%v", err)
		}
	case t == matrixType:
		if r.begins(token, '{', at, "an object") {
			r.matrix(into, at)
		}
	case t.Kind() == reflect.Struct:
		if r.begins(token, '{', at, "an object") {
			r.object(into, theFormat().objects[t], at)
		}
	case t.Kind() == reflect.Slice:
		if r.begins(token, '[', at, "a list") {
			r.list(into, at)
		}
	case t.Kind() == reflect.Map:
		if r.begins(token, '{', at, "an object") {
			r.dictionary(into, at)
		}
	case t.Kind() == reflect.String:
		r.word(token, into, at)
	case t.Kind() == reflect.Bool:
		if is, ok := token.(bool); ok {
			into.SetBool(is)
		} else {
			r.other(token, at, "true or false")
		}
	default:
		r.number(token, into, at)
	}
}

// other notes a value of another type, and reads past it.
func (r *reader) other(token json.Token, at *place, want string) {
	is := "an object"
	switch t := token.(type) {
	case json.Delim:
		if t == '[' {
			is = "a list"
		}
	case string:
		is = strconv.Quote(t)
	default:
		is = fmt.Sprint(t)
	}
	r.add(at, ReasonType, "%s: want %s", is, want)
	r.skip(token)
}

// skip reads past the value that begins with a token.
func (r *reader) skip(token json.Token) {
	depth := 0
	for {
		switch token {
		case json.Delim('{'), json.Delim('['):
			depth++
		case json.Delim('}'), json.Delim(']'):
			depth--
		}
		if depth == 0 {
			return
		}
		token = r.token()
	}
}

func (r *reader) begins(token json.Token, with json.Delim, at *place, want string) bool {
	if token == with {
		return true
	}
	r.other(token, at, want)
	return false
}

// object reads the fields of an object, and what the absent ones stand for.
func (r *reader) object(into reflect.Value, o *object, at *place) {
	seen := make([]bool, len(o.fields))
	for r.in.More() {
		name := r.token().(string)
		here := &place{in: at, name: name}
		i, known := o.named[name]
		switch {
		case !known:
			r.add(here, ReasonField, "no field of %s: want one of %s", article(o.Title), o.names())
			r.skip(r.token())
		case seen[i]:
			r.add(here, ReasonDuplicate, "stands there twice: want it once")
			r.skip(r.token())
		default:
			seen[i] = true
			r.value(r.token(), into.FieldByIndex(o.fields[i].index), here)
		}
	}
	r.token()
	for i, f := range o.fields {
		switch {
		case seen[i]:
		case f.required:
			r.add(&place{in: at, name: f.name}, ReasonMissing, "missing: want %s. %s", typeName(f.of), f.means)
		default:
			into.FieldByIndex(f.index).Set(f.absent)
		}
	}
}

func (o *object) names() string {
	names := make([]string, len(o.fields))
	for i, f := range o.fields {
		names[i] = f.name
	}
	return strings.Join(names, ", ")
}

func article(title string) string {
	title = strings.ToLower(title)
	if strings.ContainsAny(title[:1], "aeiou") {
		return "an " + title
	}
	return "a " + title
}

func (r *reader) list(into reflect.Value, at *place) {
	list := reflect.Zero(into.Type()) // an empty list and none are the same
	for i := 0; r.in.More(); i++ {
		element := reflect.New(into.Type().Elem()).Elem()
		r.value(r.token(), element, &place{in: at, index: i})
		list = reflect.Append(list, element)
	}
	r.token()
	into.Set(list)
}

func (r *reader) dictionary(into reflect.Value, at *place) {
	all := reflect.MakeMap(into.Type())
	for r.in.More() {
		name := r.token().(string)
		here := &place{in: at, name: name}
		key, element := reflect.New(into.Type().Key()).Elem(), reflect.New(into.Type().Elem()).Elem()
		r.word(name, key, here)
		r.value(r.token(), element, here)
		if all.MapIndex(key).IsValid() {
			r.add(here, ReasonDuplicate, "stands there twice: want it once")
		}
		all.SetMapIndex(key, element)
	}
	r.token()
	if all.Len() > 0 {
		into.Set(all)
	}
}

// word reads a text, which is one of the known words where its type has some.
func (r *reader) word(token json.Token, into reflect.Value, at *place) {
	text, ok := token.(string)
	words := theFormat().words[into.Type()]
	switch {
	case !ok:
		r.other(token, at, typeName(into.Type()))
	case words != nil && !slices.Contains(words, text):
		r.add(at, ReasonWord, "%q: want one of %s", text, strings.Join(words, ", "))
	default:
		into.SetString(text)
	}
}

// number reads a number into a Go value that holds it exactly.
func (r *reader) number(token json.Token, into reflect.Value, at *place) {
	number, ok := token.(json.Number)
	if !ok {
		r.other(token, at, typeName(into.Type()))
		return
	}
	text := number.String()
	switch {
	case into.CanFloat():
		value, err := strconv.ParseFloat(text, 64)
		if err != nil {
			r.add(at, ReasonRange, "%s: want a number that a double holds", text)
		}
		into.SetFloat(value)
	case into.CanUint():
		value, err := strconv.ParseUint(text, 10, into.Type().Bits())
		if err != nil {
			r.add(at, ReasonType, "%s: want a whole number, 0 or more, of %d bits", text, into.Type().Bits())
		}
		into.SetUint(value)
	default:
		value, err := strconv.ParseInt(text, 10, into.Type().Bits())
		if err != nil {
			r.add(at, ReasonType, "%s: want a whole number of %d bits", text, into.Type().Bits())
		}
		into.SetInt(value)
	}
}

// rows is a matrix as it stands in a file.
type rows struct {
	Places  []travel.PlaceID
	Seconds [][]int32
	Metres  [][]int32
}

// matrix reads a travel matrix, whose entries stand in rows.
func (r *reader) matrix(into reflect.Value, at *place) {
	o := theFormat().objects[matrixType]
	var m rows
	fields := map[string]reflect.Value{
		"places": reflect.ValueOf(&m.Places).Elem(), "seconds": reflect.ValueOf(&m.Seconds).Elem(), "metres": reflect.ValueOf(&m.Metres).Elem(),
	}
	seen := map[string]bool{}
	for r.in.More() {
		name := r.token().(string)
		here := &place{in: at, name: name}
		value, known := fields[name]
		switch {
		case !known:
			r.add(here, ReasonField, "no field of %s: want one of %s", article(o.Title), o.names())
			r.skip(r.token())
		case seen[name]:
			r.add(here, ReasonDuplicate, "stands there twice: want it once")
			r.skip(r.token())
		default:
			r.value(r.token(), value, here)
		}
		seen[name] = true
	}
	r.token()
	for _, f := range o.fields {
		if f.required && !seen[f.name] {
			r.add(&place{in: at, name: f.name}, ReasonMissing, "missing: want %s. %s", typeName(f.of), f.means)
		}
	}
	n := len(m.Places)
	into.Set(reflect.ValueOf(travel.Matrix{
		Places: m.Places, Seconds: r.flat(m.Seconds, n, &place{in: at, name: "seconds"}), Metres: r.flat(m.Metres, n, &place{in: at, name: "metres"}),
	}))
}

// flat lays rows one after another; each must be as long as there are places. No rows are none.
func (r *reader) flat(rows [][]int32, n int, at *place) []int32 {
	if len(rows) == 0 {
		return nil
	}
	if len(rows) != n {
		r.add(at, ReasonSize, "%d rows: want %d, one for each place", len(rows), n)
	}
	flat := make([]int32, 0, len(rows)*len(rows))
	for i, row := range rows {
		if len(row) != n {
			r.add(&place{in: at, index: i}, ReasonSize, "%d entries: want %d, one for each place", len(row), n)
		}
		flat = append(flat, row...)
	}
	return flat
}
