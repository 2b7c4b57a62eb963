package course_test

import (
	"slices"
	"strings"
	"testing"

	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

func TestCourse_WaterHarderThanTheLabelAllowsRefusesTheMix(t *testing.T) {
	t.Parallel()
	limit, soft, hard := 300.0, 120.0, 420.0
	for _, c := range []struct {
		name    string
		max     *float64
		water   *float64
		refused bool
	}{
		{"no limit stated, hardness unknown", nil, nil, false},
		{"limit stated, hardness unknown", &limit, nil, true},
		{"limit stated, harder", &limit, &hard, true},
		{"limit stated, softer", &limit, &soft, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			in := week(officeCase)
			for i := range in.Products {
				in.Products[i].Label.MaxHardness = c.max
			}
			for i := range in.Sites {
				in.Sites[i].Water = site.Water{Area: in.Sites[i].Areas[0].ID, HardnessMgL: c.water}
			}
			got, err := course.Compute(in)
			if err != nil {
				t.Fatal(err)
			}
			refused := slices.ContainsFunc(got.Refused, func(r course.Refusal) bool {
				return strings.Contains(strings.Join(r.Reasons, " "), "allows water of 300 mg/L at most")
			})
			if refused != c.refused {
				t.Errorf("refused for its water: %v, want %v: %+v", refused, c.refused, got.Refused)
			}
		})
	}
}
