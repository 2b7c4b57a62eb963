package course_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// anyEvent draws an event that a report could bring, sensible or not.
func anyEvent(rt *rapid.T, i int) course.Event {
	at := newYork().At(date("2026-02-20").AddDays(rapid.IntRange(0, 90).Draw(rt, "day")), civil.NewClock(rapid.IntRange(0, 23).Draw(rt, "hour"), 0))
	event := course.Event{ID: fmt.Sprintf("e-%d", i), At: at}
	plants := rapid.SliceOfNDistinct(rapid.SampledFrom([]site.PlantID{"O-a", "O-b", "O-c", "L-a"}), 1, 3, rapid.ID).Draw(rt, "plants")
	product := rapid.SampledFrom([]catalogue.ProductID{"soap-s", "bti-b", "unheard-of", ""}).Draw(rt, "product")
	kinds := []course.FollowUpKind{course.KindApplication, course.KindInspectInfested, course.KindInspectNeighbours, course.KindTrapChange, course.KindPatchTest, course.KindIsolation}
	id := course.NewItemID(officeCase, rapid.SampledFrom(kinds).Draw(rt, "kind"), rapid.IntRange(1, 3).Draw(rt, "run"), rapid.IntRange(1, 9).Draw(rt, "ordinal"))
	if rapid.Bool().Draw(rt, "unplanned") {
		id = ""
	}
	switch rapid.IntRange(0, 11).Draw(rt, "what") {
	case 6:
		event.Patch = &course.PatchResult{Material: "insecticidal-soap", Plants: plants, Harmed: rapid.Bool().Draw(rt, "harmed")}
	case 7:
		event.Moved = &course.Moved{Plants: plants, From: "O3", To: "O1"}
		if rapid.Bool().Draw(rt, "uncertain") {
			event.Moved.NotBefore, event.Moved.NotAfter = date("2026-03-01"), date("2026-03-15")
		}
	case 8:
		event.Split = &course.Split{From: plants[0], Into: rapid.SliceOfNDistinct(rapid.SampledFrom([]site.PlantID{"O-a", "O-c", "O-d"}), 1, 3, rapid.ID).Draw(rt, "into")}
	case 9:
		event.Joined = &course.Joined{From: plants, Into: rapid.SampledFrom([]site.PlantID{"O-a", "O-c", "O-d"}).Draw(rt, "joined into")}
	case 10:
		event.Gone = &course.Gone{Plants: plants, Kind: course.Discarded, Successors: []site.PlantID{"O-b"}}
	case 11:
		event.Decision = &course.Decision{Kind: rapid.SampledFrom([]course.DecisionKind{course.DecideReplace, course.DecideTreat}).Draw(rt, "decision"), Plants: plants[:rapid.IntRange(0, len(plants)).Draw(rt, "of")]}
	case 0:
		pest := rapid.SampledFrom([]catalogue.PestID{"citrus-mealybug", "citrus-mealybug", "fungus-gnat"}).Draw(rt, "pest")
		event.Finding = &course.Finding{Pest: pest, Certainty: rapid.SampledFrom([]course.Certainty{course.Confirmed, course.Suspected, course.ClientCall}).Draw(rt, "certainty"),
			Life:     rapid.SampledFrom([]course.Life{course.Living, course.Dead, course.NotSure}).Draw(rt, "life"),
			Severity: rapid.IntRange(0, 3).Draw(rt, "severity"), Plants: []site.PlantID{"O-a", "O-c"}[:rapid.IntRange(1, 2).Draw(rt, "found on")]}
	case 1:
		event.Application = &course.Application{FollowUp: id, Product: product, Began: at, Ended: at + 1800, Plants: plants, AboveLabel: rapid.Bool().Draw(rt, "above")}
	case 2:
		event.Inspection = &course.Inspection{FollowUp: id, Plants: plants}
		if rapid.Bool().Draw(rt, "find") {
			event.Inspection.Found = plants[:1]
		}
		if rapid.Bool().Draw(rt, "cards") {
			n := rapid.IntRange(0, 3).Draw(rt, "adults")
			event.Inspection.AdultsOnCards = &n
		}
	case 3:
		event.NotDone = &course.NotDone{FollowUp: id, Outcome: rapid.SampledFrom(course.Outcomes()).Draw(rt, "outcome"), Plants: plants}
	case 4:
		event.Approval = &course.Approval{Product: product, Ways: []course.WayKind{course.InPlace}, Withdrawn: rapid.Bool().Draw(rt, "withdrawn")}
	default:
		event.Done = &course.OtherDone{FollowUp: id, Plants: plants}
	}
	return event
}

func TestCourse_AnyHistoryGivesACourseThatHoldsTogether(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		in := week(officeCase)
		more := in.Plants[0]
		more.ID, more.Name, more.Area, more.Count = "O-c", "pothos in the store", "O3", 2
		in.Plants = append(in.Plants, more)
		in.Plants[rapid.IntRange(0, 6).Draw(rt, "new plant")].New = true
		in.Products[0].Label.LeastDays = rapid.IntRange(0, 20).Draw(rt, "least days")
		in.Sites[0].Areas[0].People.Always = false
		if rapid.Bool().Draw(rt, "always people in the store") {
			in.Sites[0].Areas[1].People = civil.Calendar{Always: true}
		}
		for i := range rapid.IntRange(0, 14).Draw(rt, "events") {
			in = with(in, anyEvent(rt, i))
		}
		in = on(in, date("2026-03-02").AddDays(rapid.IntRange(0, 90).Draw(rt, "today")))
		c, err := course.Compute(in)
		if err != nil {
			rt.Fatal(err)
		}
		holdsTogether(rt, in, c)
		course.Describe(c, in)
	})
}

// holdsTogether checks what every course must be, whatever its history.
func holdsTogether(rt *rapid.T, in course.Input, c course.Course) {
	seen := map[course.ItemID]bool{"water-L": true}
	done := map[course.ItemID]bool{}
	for _, event := range in.Histories[slices.IndexFunc(in.Histories, func(h course.History) bool { return h.Case == in.Case })].Events {
		switch {
		case event.Application != nil:
			done[event.Application.FollowUp] = true
		case event.Inspection != nil:
			done[event.Inspection.FollowUp] = true
		case event.Done != nil:
			done[event.Done.FollowUp] = true
		}
	}
	for _, f := range c.FollowUps {
		if done[f.ID] {
			rt.Fatalf("%s was done and is asked for again", f.ID)
		}
		if seen[f.ID] {
			rt.Fatalf("%s is there twice", f.ID)
		}
		if f.Due.After != "" && !seen[f.Due.After] {
			rt.Fatalf("%s counts from %s, which is not before it", f.ID, f.Due.After)
		}
		seen[f.ID] = true
		ordered(rt, in, f)
		if len(f.Plants) == 0 || len(f.Ways) == 0 || !slices.IsSorted(f.PricePerDay) || f.Reason == "" {
			rt.Fatalf("%s: plants %v, %d ways, prices %v, reason %q", f.ID, f.Plants, len(f.Ways), f.PricePerDay, f.Reason)
		}
		for _, way := range f.Ways {
			if len(way.Parts) == 0 {
				rt.Fatalf("%s: way %s has no part", f.ID, way.ID)
			}
		}
	}
	for _, link := range c.Links {
		if !seen[link.From] || !seen[link.To] {
			rt.Fatalf("link %+v joins what is not there", link)
		}
	}
	if c.Ended == nil && len(c.FollowUps) == 0 {
		rt.Fatal("neither ended nor anything to do")
	}
}

func ordered(rt *rapid.T, in course.Input, f course.FollowUp) {
	d := f.Due
	if d.After != "" {
		if d.EarliestLag < 1 || d.EarliestLag > d.IdealLag || d.IdealLag > d.LatestLag || d.LatestLag > d.StandsUntilLag {
			rt.Fatalf("%s: lags %+v", f.ID, d)
		}
		return
	}
	if d.EarliestOn < in.Today || d.EarliestOn > d.IdealOn || d.IdealOn > d.LatestOn || !d.StandsUntilOn.IsZero() && d.LatestOn > d.StandsUntilOn {
		rt.Fatalf("%s: window %+v on %v", f.ID, d, in.Today)
	}
}
