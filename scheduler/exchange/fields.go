package exchange

import (
	_ "embed"
	"encoding"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/goccy/go-yaml"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/travel"
)

//go:embed fields.yaml
var fieldsText []byte

// described is fields.yaml: the objects and words of the format by the Go type that they are read into.
type described struct {
	Objects map[string]describedObject `yaml:"objects"`
	Words   map[string][]string        `yaml:"words"`
}

type describedObject struct {
	Title    string            `yaml:"title"`
	About    string            `yaml:"about"`
	Shipped  bool              `yaml:"shipped"` // fields that are absent take the shipped default
	Required map[string]string `yaml:"required"`
	Optional map[string]string `yaml:"optional"`
	Defaults map[string]any    `yaml:"defaults"`
}

// format is the described format, bound to Go types.
type format struct {
	objects map[reflect.Type]*object
	order   []*object // as they are met from a problem file, then from a plan file
	words   map[reflect.Type][]string
}

// object is one kind of JSON object.
type object struct {
	describedObject
	of     reflect.Type
	fields []field // in the order in which they are written
	named  map[string]int
}

// field is one field of an object.
type field struct {
	name     string
	index    []int // of the Go field, for reflect
	of       reflect.Type
	means    string
	required bool
	// absent is the value of a field that is not there; always says that it is written even so.
	absent reflect.Value
	always bool
}

var (
	textType     = reflect.TypeFor[encoding.TextUnmarshaler]()
	durationType = reflect.TypeFor[time.Duration]()
	matrixType   = reflect.TypeFor[travel.Matrix]()
)

// shipped are the values of objects that are absent, where that is not the zero value.
var shipped = map[reflect.Type]func() any{
	reflect.TypeFor[scheduler.PlaceRules](): func() any { return scheduler.DefaultRules(catalogue.Shipped()) },
	reflect.TypeFor[scheduler.Rates]():      func() any { return scheduler.DefaultRates(catalogue.Shipped()) },
	reflect.TypeFor[scheduler.Options](): func() any {
		return scheduler.Options{Rates: scheduler.DefaultRates(catalogue.Shipped())}
	},
}

// theFormat reads the table and binds it to the Go types. It panics where they do not agree: a test reads it too.
var theFormat = sync.OnceValue(func() *format {
	var table described
	if err := yaml.UnmarshalWithOptions(fieldsText, &table, yaml.Strict()); err != nil {
		panic("exchange: fields.yaml: " + err.Error())
	}
	f := &format{objects: map[reflect.Type]*object{}, words: map[reflect.Type][]string{}}
	f.bind(&table, reflect.TypeFor[problemFile]())
	f.bind(&table, reflect.TypeFor[planFile]())
	if len(table.Objects) > 0 || len(table.Words) > 0 {
		panic(fmt.Sprintf("exchange: fields.yaml describes what no file holds: %v %v", slices.Sorted(maps.Keys(table.Objects)), slices.Sorted(maps.Keys(table.Words))))
	}
	return f
})

// bind takes what describes a type, and the types it is made of, out of the table.
func (f *format) bind(table *described, t reflect.Type) {
	switch {
	case reflect.PointerTo(t).Implements(textType) || t == durationType:
	case t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice:
		f.bind(table, t.Elem())
	case t.Kind() == reflect.Map:
		f.bind(table, t.Key())
		f.bind(table, t.Elem())
	case t.Kind() == reflect.String:
		if words, ok := table.Words[t.String()]; ok {
			f.words[t] = words
			delete(table.Words, t.String())
		}
	case t.Kind() == reflect.Struct && f.objects[t] == nil:
		about, ok := table.Objects[t.String()]
		if !ok {
			panic("exchange: fields.yaml does not describe " + t.String())
		}
		delete(table.Objects, t.String())
		o := &object{describedObject: about, of: t, named: map[string]int{}}
		f.objects[t] = o
		f.order = append(f.order, o)
		o.addFields(t, nil)
		for _, field := range o.fields {
			f.bind(table, field.of)
		}
	}
}

// addFields adds the fields of a struct, embedded ones in their place.
func (o *object) addFields(t reflect.Type, index []int) {
	for i := range t.NumField() {
		at := append(slices.Clone(index), i)
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		switch {
		case name == "-":
		case t.Field(i).Anonymous:
			o.addFields(t.Field(i).Type, at)
		default:
			o.named[name] = len(o.fields)
			o.fields = append(o.fields, o.describe(name, t.Field(i).Type, at))
		}
	}
}

func (o *object) describe(name string, t reflect.Type, index []int) field {
	f := field{name: name, of: t, index: index, absent: reflect.Zero(t)}
	if f.means, f.required = o.Required[name]; !f.required {
		f.means = o.Optional[name]
	}
	if f.means == "" {
		panic(fmt.Sprintf("exchange: fields.yaml does not describe %s of %v", name, o.of))
	}
	if value, ok := o.Defaults[name]; ok {
		f.absent = reflect.ValueOf(value).Convert(t)
	}
	// What the shipped defaults are may change; a saved run must not.
	f.always = f.required || shipped[t] != nil || o.Shipped && t.Kind() != reflect.Slice
	if value := shipped[t]; value != nil {
		f.absent = reflect.ValueOf(value())
	} else if o.Shipped {
		f.absent = reflect.ValueOf(shipped[o.of]()).FieldByIndex(index)
	}
	return f
}
