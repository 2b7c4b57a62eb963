package convert_test

import (
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/course"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
)

// keptBack are the fields of a course that the contract does not say, with the reason.
var keptBack = map[string]string{
	"Key":                        "the hash of the input is the store's; callers see the hash of what the course says",
	"Ended":                      "the ending is the case's, with the day on which it was told",
	"Learned.Tolerance.Standing": "what was learned is the business's own record, always",
}

// exempt returns the entry of keptBack that a path falls under.
func exempt(path string) (entry string, ok bool) {
	for entry := range keptBack {
		if path == entry || strings.HasPrefix(path, entry+".") {
			return entry, true
		}
	}
	return "", false
}

// written converts a course without its etag, which is a hash of all of it.
func written(c course.Course) *vernationv1.Course {
	m := convert.Course(names, firm.Case{}, c)
	m.Etag = ""
	return m
}

// eachField calls see for every field of a value, however deep, by its path; lists hold one item.
func eachField(at string, v reflect.Value, see func(path string, field reflect.Value)) {
	if _, leaf := samples[v.Type()]; leaf {
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		eachField(at, v.Elem(), see)
	case reflect.Slice:
		eachField(at, v.Index(0), see)
	case reflect.Struct:
		for i := range v.NumField() {
			if !v.Type().Field(i).IsExported() {
				continue
			}
			path := strings.TrimPrefix(fmt.Sprintf("%s.%s", at, v.Type().Field(i).Name), ".")
			see(path, v.Field(i))
			eachField(path, v.Field(i), see)
		}
	}
}

func TestCourse_EveryFieldOfTheValueReachesTheContract(t *testing.T) {
	t.Parallel()
	of := whole[course.Course](t)
	full, unmet, fields := written(of), maps.Clone(keptBack), 0
	eachField("", reflect.ValueOf(&of).Elem(), func(path string, field reflect.Value) {
		fields++
		was := reflect.New(field.Type()).Elem()
		was.Set(field)
		field.SetZero()
		same := proto.Equal(full, written(of))
		field.Set(was)
		entry, kept := exempt(path)
		if same != kept {
			t.Errorf("course.Course.%s reaches the contract: %v, want %v", path, !same, !kept)
		}
		delete(unmet, entry)
	})
	if fields < 100 || len(unmet) > 0 {
		t.Errorf("%d fields were walked; kept back but no field: %v", fields, slices.Sorted(maps.Keys(unmet)))
	}
}

// A walk that could not fail would say nothing: a field that no conversion reads is found.
func TestCourse_TheWalkFindsAFieldThatIsNotConverted(t *testing.T) {
	t.Parallel()
	of := whole[struct{ Shown, Hidden string }](t)
	shown := func() string { return of.Shown }
	full, missed := shown(), []string{}
	eachField("", reflect.ValueOf(&of).Elem(), func(path string, field reflect.Value) {
		was := field.String()
		field.SetZero()
		if shown() == full {
			missed = append(missed, path)
		}
		field.SetString(was)
	})
	if !slices.Equal(missed, []string{"Hidden"}) {
		t.Errorf("missed %v, want Hidden", missed)
	}
}
