package exchange

import (
	"bytes"
	"encoding"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strconv"
	"time"
	"unicode/utf8"

	"vernation/scheduler/travel"
)

// maxLine is how long a line may get before an object or a list is broken into several.
const maxLine = 120

// writer renders Go values as JSON; err is the first thing that cannot be written.
type writer struct{ err error }

// value renders a value that stands depth levels in.
func (w *writer) value(v reflect.Value, depth int, at *place) []byte {
	t := v.Type()
	switch {
	case t.Kind() == reflect.Pointer:
		return w.value(v.Elem(), depth, at)
	case t == durationType:
		return w.text(formatDuration(time.Duration(v.Int())), at)
	case reflect.PointerTo(t).Implements(textType):
		text, err := v.Interface().(encoding.TextMarshaler).MarshalText()
		w.fail(err, at)
		return w.text(string(text), at)
	case t == matrixType:
		return w.matrix(v.Interface().(travel.Matrix), depth, at)
	case t.Kind() == reflect.Struct:
		return w.object(v, theFormat().objects[t], depth, at)
	case t.Kind() == reflect.Slice:
		return w.list(v, depth, at)
	case t.Kind() == reflect.Map:
		return w.dictionary(v, depth, at)
	case t.Kind() == reflect.String:
		return w.text(v.String(), at)
	case t.Kind() == reflect.Bool:
		return strconv.AppendBool(nil, v.Bool())
	case v.CanInt():
		return strconv.AppendInt(nil, v.Int(), 10)
	case v.CanUint():
		return strconv.AppendUint(nil, v.Uint(), 10)
	}
	number, err := json.Marshal(v.Float())
	w.fail(err, at)
	return number
}

func (w *writer) fail(err error, at *place) {
	if err != nil && w.err == nil {
		w.err = fmt.Errorf("write %s: %w", at, err)
	}
}

func (w *writer) text(text string, at *place) []byte {
	if !utf8.ValidString(text) {
		w.fail(fmt.Errorf("%q is no UTF-8", text), at)
	}
	var b bytes.Buffer
	encoder := json.NewEncoder(&b)
	encoder.SetEscapeHTML(false)
	w.fail(encoder.Encode(text), at)
	return bytes.TrimSuffix(b.Bytes(), []byte("\n"))
}

func (w *writer) object(v reflect.Value, o *object, depth int, at *place) []byte {
	var parts [][]byte
	for _, f := range o.fields {
		value := v.FieldByIndex(f.index)
		if !f.always && isAbsent(value, f.absent) {
			continue
		}
		here := &place{in: at, name: f.name}
		parts = append(parts, append([]byte(`"`+f.name+`": `), w.value(value, depth+1, here)...))
	}
	return enclose('{', '}', parts, depth)
}

// isAbsent says whether a value is what an absent field stands for: an empty list is none.
func isAbsent(value, absent reflect.Value) bool {
	switch {
	case value.Kind() == reflect.Slice || value.Kind() == reflect.Map:
		return value.Len() == 0
	case absent.IsZero():
		return value.IsZero()
	}
	return value.Comparable() && value.Equal(absent)
}

func (w *writer) list(v reflect.Value, depth int, at *place) []byte {
	parts := make([][]byte, v.Len())
	for i := range parts {
		parts[i] = w.value(v.Index(i), depth+1, &place{in: at, index: i})
	}
	if v.Len() > 0 && (v.Index(0).CanInt() || v.Index(0).CanFloat()) && !reflect.PointerTo(v.Type().Elem()).Implements(textType) {
		return line('[', ']', parts)
	}
	return enclose('[', ']', parts, depth)
}

func (w *writer) dictionary(v reflect.Value, depth int, at *place) []byte {
	values := map[string]reflect.Value{}
	for key, value := range v.Seq2() {
		values[key.String()] = value
	}
	var parts [][]byte
	for _, key := range slices.Sorted(maps.Keys(values)) {
		here := &place{in: at, name: key}
		parts = append(parts, append(append(w.text(key, here), ": "...), w.value(values[key], depth+1, here)...))
	}
	return enclose('{', '}', parts, depth)
}

// matrix renders a travel matrix with one line for each row.
func (w *writer) matrix(m travel.Matrix, depth int, at *place) []byte {
	n := len(m.Places)
	inRows := func(entries []int32) reflect.Value {
		rows := make([][]int32, 0, n)
		for i := 0; i < len(entries); i += n {
			rows = append(rows, entries[i:i+n])
		}
		return reflect.ValueOf(rows)
	}
	parts := [][]byte{
		append([]byte(`"places": `), w.value(reflect.ValueOf(m.Places), depth+1, at)...),
		append([]byte(`"seconds": `), w.value(inRows(m.Seconds), depth+1, at)...),
	}
	if len(m.Metres) > 0 {
		parts = append(parts, append([]byte(`"metres": `), w.value(inRows(m.Metres), depth+1, at)...))
	}
	return enclose('{', '}', parts, depth)
}

// enclose puts parts between brackets: on one line where they fit, else one a line.
func enclose(begin, end byte, parts [][]byte, depth int) []byte {
	length, broken := 2*depth+2, false
	for _, part := range parts {
		length += len(part) + 2
		broken = broken || bytes.IndexByte(part, '\n') >= 0
	}
	if !broken && length <= maxLine || len(parts) == 0 {
		return line(begin, end, parts)
	}
	text := []byte{begin}
	for i, part := range parts {
		if i > 0 {
			text = append(text, ',')
		}
		text = append(text, '\n')
		text = append(text, bytes.Repeat([]byte("  "), depth+1)...)
		text = append(text, part...)
	}
	text = append(text, '\n')
	text = append(text, bytes.Repeat([]byte("  "), depth)...)
	return append(text, end)
}

func line(begin, end byte, parts [][]byte) []byte {
	text := append([]byte{begin}, bytes.Join(parts, []byte(", "))...)
	return append(text, end)
}
