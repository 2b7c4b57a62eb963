package catalogue_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
)

// Every field that a business can set has a default, and no default is for a field that nobody has.
func TestDefaults_CoverEverySetting(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	for _, tc := range []struct {
		name     string
		settings reflect.Type
		defaults map[string]catalogue.Figure
		not      []string // fields that are no settings: resolved for each problem
	}{
		{"policy", reflect.TypeFor[course.Policy](), c.PolicyDefaults, []string{"standings"}},
		{"rates", reflect.TypeFor[scheduler.Rates](), c.RateDefaults, nil},
		{"rules", reflect.TypeFor[scheduler.PlaceRules](), c.RuleDefaults, []string{"notice_lead", "supervision", "categories", "least_entry"}},
	} {
		fields := map[string]bool{}
		for i := range tc.settings.NumField() {
			field, _, _ := strings.Cut(tc.settings.Field(i).Tag.Get("json"), ",")
			if slices.Contains(tc.not, field) {
				continue
			}
			fields[field] = true
			found := 0
			for key := range tc.defaults {
				if name, _, _ := strings.Cut(key, "."); name == field {
					found++
				}
			}
			if want := 1; found < want {
				t.Errorf("%s: no default for %s", tc.name, field)
			} else if tc.settings.Field(i).Type.Kind() == reflect.Array && found != tc.settings.Field(i).Type.Len() {
				t.Errorf("%s: %d defaults for %s, want %d", tc.name, found, field, tc.settings.Field(i).Type.Len())
			}
		}
		for key := range tc.defaults {
			if name, _, _ := strings.Cut(key, "."); !fields[name] {
				t.Errorf("%s: a default for %q, which is no field", tc.name, key)
			}
		}
	}
}
