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
		{"policy", reflect.TypeFor[course.Policy](), c.PolicyDefaults, []string{"standings", "extent_by_severity"}},
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

func TestDefaults_EachSeverityHasAnExtent(t *testing.T) {
	t.Parallel()
	// Common practice: few by hand, swab or spot; light every plant whole; heavy the plants near it too (or removal).
	want := []catalogue.Extent{catalogue.ExtentSpot, catalogue.ExtentSpot, catalogue.ExtentWhole, catalogue.ExtentNeighbours}
	if got := catalogue.Shipped().ExtentDefaults; !slices.Equal(got.BySeverity, want) || got.Standing != catalogue.CommonPractice {
		t.Errorf("extents %+v, want %v by common practice", got, want)
	}
	policy := course.DefaultPolicy(catalogue.Shipped())
	if !slices.Equal(policy.ExtentBySeverity[:], want) || policy.Standings["extent_by_severity"] != catalogue.CommonPractice {
		t.Errorf("policy %v, %q", policy.ExtentBySeverity, policy.Standings["extent_by_severity"])
	}
}
