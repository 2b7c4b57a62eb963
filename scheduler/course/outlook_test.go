package course_test

import (
	"math"
	"slices"
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

func foresee(t *testing.T, in course.Input) course.Outlook {
	t.Helper()
	o, err := course.Foresee(in)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func living(all []float64) float64 {
	total := 0.0
	for _, x := range all {
		total += x
	}
	return total
}

// On the day of the last application the curve stands where the course says that the plants are then.
func TestForesee_EndsWhereTheCourseSays(t *testing.T) {
	t.Parallel()
	for _, of := range []course.CaseID{officeCase, lobbyCase} {
		in := week(of)
		c, o := compute(t, in), foresee(t, in)
		last := -1
		for i, day := range o.Days {
			if len(day.Applied) > 0 {
				last = i
			}
			if i > 0 && day.On != o.Days[i-1].On+1 {
				t.Errorf("%s: %v follows %v", of, day.On, o.Days[i-1].On)
			}
			if i > 0 && day.Free < o.Days[i-1].Free-1e-9 {
				t.Errorf("%s: the chance that none is left falls on %v", of, day.On)
			}
			if math.Abs(living(day.Expected)-day.All) > 1e-3 {
				t.Errorf("%s: %v expects %v in all, %v by stage", of, day.On, day.All, day.Expected)
			}
			if len(day.Expected) != len(o.Stages) || slices.Min(day.Expected) < 0 {
				t.Errorf("%s: %v expects %v of %d stages", of, day.On, day.Expected, len(o.Stages))
			}
		}
		if last < 0 || o.Days[0].Applied == nil || last != c.Proof.LastDay {
			t.Fatalf("%s: applications on day 0 to %d, the course's last is on day %d", of, last, c.Proof.LastDay)
		}
		if share := o.Days[last].All / o.AtFirst; math.Abs(share-c.ExpectedLeft) > 2e-4 {
			t.Errorf("%s: %.4f of the insects are left, the course says %.4f", of, share, c.ExpectedLeft)
		}
		if free := o.Days[last].Free; math.Abs(free-c.ChanceFree) > 2e-4 {
			t.Errorf("%s: chance %.4f, the course says %.4f", of, free, c.ChanceFree)
		}
		stages := slices.Concat(o.Stages...)
		var pest []catalogue.StageID
		for _, s := range catalogue.Shipped().Pests[in.Histories[slices.IndexFunc(in.Histories, func(h course.History) bool { return h.Case == of })].Pest].Stages {
			pest = append(pest, s.ID)
		}
		if !slices.Equal(stages, pest) || o.Caution == "" {
			t.Errorf("%s: stages %v, want %v; caution %q", of, stages, pest, o.Caution)
		}
	}
}

func TestForesee_HasNoDaysWhereNothingIsApplied(t *testing.T) {
	t.Parallel()
	if o := foresee(t, week(homeCase)); len(o.Days) != 0 || o.Caution == "" {
		t.Errorf("a suspicion has %d days, caution %q", len(o.Days), o.Caution)
	}
}

func TestSuppose_ChangesTheCourseAndNothingElse(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	before := in.Key()
	present := compute(t, in)
	supposed := func(o course.Otherwise) course.Course { return compute(t, course.Suppose(in, o)) }

	if c := supposed(course.Otherwise{Replace: true}); len(kind(c, course.KindApplication)) != 0 || len(kind(c, course.KindReplacement)) != 1 {
		t.Errorf("replaced: %d applications, %d replacements", len(kind(c, course.KindApplication)), len(kind(c, course.KindReplacement)))
	}
	if c := supposed(course.Otherwise{StartOn: in.Today + 7}); c.EndsOn() <= present.EndsOn() || c.FollowUps[0].Due.EarliestOn < in.Today+7 {
		t.Errorf("begun a week later it ends on %v, now on %v; its first item from %v on", c.EndsOn(), present.EndsOn(), c.FollowUps[0].Due.EarliestOn)
	}
	if c := supposed(course.Otherwise{Climate: &site.Season{Coldest: 24, Usual: 26, Warmest: 28}}); c.Proof.GreatestLag >= present.Proof.GreatestLag {
		t.Errorf("warmer, the greatest lag is %.1f days, now %.1f: want it shorter", c.Proof.GreatestLag, present.Proof.GreatestLag)
	}
	moved := supposed(course.Otherwise{Area: "O3"})
	for _, f := range kind(moved, course.KindApplication) {
		if f.Ways[0].Parts[0].Area != "O3" {
			t.Errorf("moved, %s is in %s", f.ID, f.Ways[0].Parts[0].Area)
		}
	}
	if len(kind(moved, course.KindApplication)) == 0 {
		t.Error("moved, nothing is applied")
	}
	other := soap()
	other.ID, other.Name = "a-soap", "another soap"
	in.Products = append(in.Products, other)
	first := compute(t, in)
	for _, want := range []catalogue.ProductID{"a-soap", "soap-s"} {
		if c := supposed(course.Otherwise{Product: want}); c.Chosen != want {
			t.Errorf("preferred %s, chosen %s (else %s)", want, c.Chosen, first.Chosen)
		}
	}
	if c := supposed(course.Otherwise{Product: "bti-b"}); c.Chosen == "bti-b" {
		t.Error("a product that is not lawful is chosen")
	}
	in.Products = in.Products[:2]
	if in.Key() != before {
		t.Error("supposing changed the input")
	}
}
