package exchange

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"time"

	"vernation/scheduler"
)

// renderDocument writes FORMAT.md from the table that the reader goes by.
func renderDocument() string {
	var b strings.Builder
	b.WriteString(preface)
	for _, o := range theFormat().order {
		fmt.Fprintf(&b, "\n### %s\n%s\n\n| field | type | | meaning |\n|---|---|---|---|\n", o.Title, o.About)
		for _, f := range o.fields {
			fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", f.name, linked(f.of), standing(o, f), f.means)
		}
	}
	b.WriteString("\n## Words\nA text with words is exactly one of them.\n\n| words | |\n|---|---|\n")
	seen := map[reflect.Type]bool{}
	var walk func(t reflect.Type)
	walk = func(t reflect.Type) {
		switch {
		case t.Kind() == reflect.Slice || t.Kind() == reflect.Pointer:
			walk(t.Elem())
		case t.Kind() == reflect.Map:
			walk(t.Key())
		case theFormat().words[t] != nil && !seen[t]:
			seen[t] = true
			fmt.Fprintf(&b, "| %s | `%s` |\n", wordsTitle(t), strings.Join(theFormat().words[t], "`, `"))
		}
	}
	for _, o := range theFormat().order {
		for _, f := range o.fields {
			walk(f.of)
		}
	}
	return b.String()
}

const preface = `# The format of Problem and Plan files

Written from fields.yaml by ` + "`go test ./scheduler/exchange -update`" + `; the reader goes by the same table.

A file is one JSON object (RFC 8259), in UTF-8. A Problem file holds all that a plan depends on; a Plan file holds an answer.
The program that reads them is strict: a field that this page does not know, a field twice, a null, a required field that is
missing, a word that is not listed and an amount without its unit are errors, each named by its path, such as
` + "`problem.sites[2].access.weekly[0].opens`" + `. A Problem is checked further: names must exist, days must be in order, nothing may wait
for itself. testdata/paper-week.problem.json is a small one, written by hand.

The smallest Problem that is worth planning has ` + "`now`, `zone`, `first_day`, `days`, one of `sites`, `plants`, `technicians` and `services`" + `, and
` + "`travel`" + ` over the site and the technician's base. Follow-ups that apply something add ` + "`products`, `materials`" + ` and, where a label asks for a
licence, ` + "`rules.categories`" + `. All else has a default, which its line states; a field that is absent is 0, false, "" or an empty list
where the line says nothing else. An empty list and an absent one are the same.

A plan made from such a file defers to the label in hand, local codes and licensed practice.

## Types

| type | in JSON | |
|---|---|---|
| instant | "2026-03-02T17:00:00Z" | RFC 3339 with whole seconds and any offset; written in UTC |
| date | "2026-03-02" | ISO 8601; of the site's zone for follow-ups and services, of the business's for plan days and shifts |
| clock time | "07:30" | hours, minutes and, where there are any, seconds; past midnight it is counted on to "48:00" |
| weekday | "mon" | sun, mon, tue, wed, thu, fri or sat |
| time zone | "America/New_York" | a name of the IANA database |
| duration | "90 min" | a number, a space and one of h, min and s |
| volume | "2.5 US fl oz" | an exact decimal or fraction ("5/8"), a space and one of mL, L, US tsp, US tbsp, US fl oz, US pt, US qt, US gal, imp fl oz, imp pt, imp gal; a bare "fl oz" is refused, since US and imperial ones differ |
| mass | "12.5 g" | an exact decimal or fraction, a space and one of mg, g, kg, av oz, lb |
| surface | "0.08 m2" | an exact decimal or fraction, a space and one of m2, ft2, acre |
| money | 1250 | a whole number of minor units (cents, pence) of the business's currency |
| whole number, number, true or false, text | 3, 0.5, true, "text" | as in JSON; whole numbers without a point or an exponent |

## Objects
`

func linked(t reflect.Type) string {
	switch t.Kind() {
	case reflect.Pointer:
		return linked(t.Elem())
	case reflect.Slice:
		if t == reflect.TypeFor[[]int32]() {
			return "list of lists of whole numbers"
		}
		return "list of " + linked(t.Elem())
	case reflect.Map:
		return "object of " + linked(t.Elem()) + " by " + linked(t.Key())
	}
	if o := theFormat().objects[t]; o != nil {
		return fmt.Sprintf("[%s](#%s)", o.Title, strings.ToLower(strings.ReplaceAll(o.Title, " ", "-")))
	}
	if theFormat().words[t] != nil {
		return fmt.Sprintf("[%s](#words)", wordsTitle(t))
	}
	return typeName(t)
}

// wordsTitle makes "follow up kind" of course.FollowUpKind.
func wordsTitle(t reflect.Type) string {
	var b strings.Builder
	for i, letter := range t.Name() {
		if i > 0 && letter >= 'A' && letter <= 'Z' {
			b.WriteByte(' ')
		}
		b.WriteRune(letter)
	}
	return strings.ToLower(b.String())
}

func standing(o *object, f field) string {
	switch {
	case f.required:
		return "required"
	case o.Defaults[f.name] != nil:
		return fmt.Sprintf("default %v", f.absent)
	case o.Shipped && f.of == durationType:
		return "default " + formatDuration(f.absent.Interface().(time.Duration)) + ", shipped"
	}
	if rate, ok := f.absent.Interface().(scheduler.Rate); ok {
		return fmt.Sprintf("default %d %s, %s, shipped", rate.Amount, rate.Unit, rate.Standing)
	}
	if o.Shipped && f.of.Kind() == reflect.Int {
		return fmt.Sprintf("default %v, shipped", f.absent)
	}
	return ""
}

// renderSchema writes a JSON Schema (draft 2020-12) of one kind of file.
func renderSchema(format string) string {
	root := reflect.TypeFor[problemFile]()
	if format == PlanFormat {
		root = reflect.TypeFor[planFile]()
	}
	s := schema{definitions: map[string]any{}}
	top := s.of(root)
	properties := s.definitions[strings.ReplaceAll(theFormat().objects[root].Title, " ", "-")].(map[string]any)["properties"].(map[string]any)
	properties["format"].(map[string]any)["const"] = format
	properties["version"].(map[string]any)["const"] = Version
	whole := map[string]any{"$schema": "https://json-schema.org/draft/2020-12/schema", "title": format, "$ref": top.(map[string]any)["$ref"], "$defs": s.definitions}
	text, err := json.MarshalIndent(whole, "", " ")
	if err != nil {
		panic(err)
	}
	return string(text) + "\n"
}

// schema collects the definitions of objects by title.
type schema struct{ definitions map[string]any }

func (s schema) of(t reflect.Type) any {
	if pattern, ok := patterns[namedTypes[t]]; ok {
		return map[string]any{"type": "string", "pattern": pattern}
	}
	if words := theFormat().words[t]; words != nil {
		return map[string]any{"enum": words}
	}
	switch t.Kind() {
	case reflect.Pointer:
		return s.of(t.Elem())
	case reflect.Slice:
		return map[string]any{"type": "array", "items": s.of(t.Elem())}
	case reflect.Map:
		return map[string]any{"type": "object", "propertyNames": s.of(t.Key()), "additionalProperties": s.of(t.Elem())}
	case reflect.Struct:
		return s.object(theFormat().objects[t])
	case reflect.String:
		return map[string]any{"type": "string"}
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Float64:
		return map[string]any{"type": "number"}
	}
	return map[string]any{"type": "integer"}
}

func (s schema) object(o *object) any {
	reference := map[string]any{"$ref": "#/$defs/" + strings.ReplaceAll(o.Title, " ", "-")}
	name := strings.ReplaceAll(o.Title, " ", "-")
	if s.definitions[name] != nil {
		return reference
	}
	definition := map[string]any{"type": "object", "description": o.About, "additionalProperties": false}
	s.definitions[name] = definition
	properties, required := map[string]any{}, []string{}
	for _, f := range o.fields {
		property := map[string]any{}
		of := s.of(f.of)
		if f.of == reflect.TypeFor[[]int32]() { // a matrix stands in rows
			of = map[string]any{"type": "array", "items": of}
		}
		for key, value := range of.(map[string]any) {
			property[key] = value
		}
		property["description"] = f.means
		properties[f.name] = property
		if f.required {
			required = append(required, f.name)
		}
	}
	definition["properties"] = properties
	if len(required) > 0 {
		definition["required"] = required
	}
	return reference
}

// patterns are regular expressions of the types that are text in a file.
var patterns = map[string]string{
	"instant":    `^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(Z|[+-][0-9]{2}:[0-9]{2})$`,
	"date":       `^[0-9]{4}-[0-9]{2}-[0-9]{2}$`,
	"clock time": `^[0-4][0-9]:[0-5][0-9](:[0-5][0-9])?$`,
	"weekday":    `^(sun|mon|tue|wed|thu|fri|sat)$`,
	"time zone":  `^[A-Za-z0-9_+/-]+$`,
	"duration":   `^-?(0|[1-9][0-9]{0,15})(\.[0-9]{1,12})? (h|min|s)$`,
	"mass":       `^-?[0-9]+(\.[0-9]*|/[0-9]+)? (mg|g|kg|av oz|lb)$`,
	"surface":    `^-?[0-9]+(\.[0-9]*|/[0-9]+)? (m2|ft2|acre)$`,
	"volume":     `^-?[0-9]+(\.[0-9]*|/[0-9]+)? (mL|L|US (tsp|tbsp|fl oz|pt|qt|gal)|imp (fl oz|pt|gal))$`,
}
