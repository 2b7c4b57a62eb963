package exchange

import (
	"reflect"
	"strings"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// typeName says for people what a value of a Go type is in a file.
func typeName(t reflect.Type) string {
	if name, ok := namedTypes[t]; ok {
		return name
	}
	switch t.Kind() {
	case reflect.Pointer:
		return typeName(t.Elem())
	case reflect.Slice:
		return "list of " + typeName(t.Elem())
	case reflect.Map:
		return "object of " + typeName(t.Elem()) + " by " + typeName(t.Key())
	case reflect.Struct:
		return theFormat().objects[t].Title
	case reflect.String:
		if words := theFormat().words[t]; words != nil {
			return "one of " + strings.Join(words, ", ")
		}
		return "text"
	case reflect.Bool:
		return "true or false"
	case reflect.Float64:
		return "number"
	}
	return "whole number"
}

// namedTypes are the types that are not what their Go kind says.
var namedTypes = map[reflect.Type]string{
	durationType:                        "duration",
	reflect.TypeFor[civil.Instant]():    "instant",
	reflect.TypeFor[civil.Date]():       "date",
	reflect.TypeFor[civil.Clock]():      "clock time",
	reflect.TypeFor[civil.Weekday]():    "weekday",
	reflect.TypeFor[civil.Zone]():       "time zone",
	reflect.TypeFor[quantity.Volume]():  "volume",
	reflect.TypeFor[quantity.Mass]():    "mass",
	reflect.TypeFor[quantity.Surface](): "surface",
	reflect.TypeFor[quantity.Money]():   "money",
}

// example is a text of a type.
func example(t reflect.Type) string { return examples[namedTypes[t]] }

var examples = map[string]string{
	"duration": `"90 min"`, "instant": `"2026-03-02T17:00:00Z"`, "date": `"2026-03-02"`, "clock time": `"07:30"`,
	"weekday": `"mon"`, "time zone": `"America/New_York"`, "volume": `"2.5 US fl oz"`, "mass": `"12.5 g"`, "surface": `"0.08 m2"`,
}
