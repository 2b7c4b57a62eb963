package week_test

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/exchange"
	"vernation/scheduler/travel"
	"vernation/scheduler/week"
)

// text is a Problem or a plan as it is written to a file: two that read alike are alike.
func text(t testing.TB, value any) string {
	t.Helper()
	var b bytes.Buffer
	var err error
	switch v := value.(type) {
	case scheduler.Problem:
		err = exchange.WriteProblem(&b, v, scheduler.Options{})
	case scheduler.Plan:
		err = exchange.WritePlan(&b, v)
	}
	if err != nil || b.Len() == 0 {
		t.Fatalf("%T is not written: %v", value, err)
	}
	return b.String()
}

func drawn(t testing.TB, kind week.Kind, seed uint64) scheduler.Problem {
	t.Helper()
	p, err := week.New(kind, seed)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// quick are the kinds that are drawn and planned in well under a second.
func quick() []week.Kind {
	return slices.DeleteFunc(week.Kinds(), func(k week.Kind) bool { return k == week.Middle || k == week.Large })
}

func TestNew_MeetsTheNumbersOfItsKind(t *testing.T) {
	t.Parallel()
	for _, kind := range append(quick(), week.Middle) {
		p := drawn(t, kind, 3)
		followUps, services, technicians := week.Asked(kind)
		for _, c := range []struct {
			what      string
			got, want int
		}{{"follow-ups", len(p.FollowUps), followUps}, {"services", len(p.Services), services}, {"technicians", len(p.Technicians), technicians}} {
			if off := math.Abs(float64(c.got - c.want)); off > 0.05*float64(c.want) {
				t.Errorf("%s: %d %s, want %d within 5 %%", kind, c.got, c.what, c.want)
			}
		}
	}
}

// The named sizes are those that the scheduler's yardsticks speak of.
func TestKinds_AreTheSizesOfTheYardsticks(t *testing.T) {
	t.Parallel()
	for kind, want := range map[week.Kind][3]int{week.Small: {60, 200, 4}, week.Middle: {500, 1_500, 12}, week.Large: {5_000, 15_000, 120}} {
		followUps, services, technicians := week.Asked(kind)
		if got := [3]int{followUps, services, technicians}; got != want {
			t.Errorf("%s is of %v follow-ups, services, technicians: want %v", kind, got, want)
		}
	}
}

func TestNew_IsTheSameForASeedAndAnotherForAnother(t *testing.T) {
	t.Parallel()
	for _, kind := range []week.Kind{week.Small, week.Tight(scheduler.RulePinned)} {
		first, again, other := text(t, drawn(t, kind, 1)), text(t, drawn(t, kind, 1)), text(t, drawn(t, kind, 2))
		if diff := cmp.Diff(first, again); diff != "" {
			t.Errorf("%s of one seed differs: %s", kind, diff)
		}
		if first == other {
			t.Errorf("%s of two seeds is the same", kind)
		}
	}
}

func TestNew_NamesTheKindsWhenItDoesNotKnowOne(t *testing.T) {
	t.Parallel()
	if _, err := week.New("tiny", 1); err == nil || !strings.Contains(err.Error(), `no week of kind "tiny": want one of small, middle, large`) {
		t.Errorf("New = %v", err)
	}
}

func TestNew_TravelsBetweenSitesAndBasesNotBetweenItems(t *testing.T) {
	t.Parallel()
	p := drawn(t, week.Small, 1)
	bases := map[travel.PlaceID]bool{}
	for _, technician := range p.Technicians {
		bases[technician.Base] = true
	}
	if got, want := len(p.Travel.Places), len(p.Sites)+len(bases); got != want {
		t.Errorf("%d places, want the %d sites and %d bases", got, len(p.Sites), len(bases))
	}
}

// The follow-ups of a week are those that a course gave: each of a case, with a way, a price that rises and a reason for people.
// Many count from another, most are of courses that run already.
func TestNew_FollowUpsComeFromCoursesThatRun(t *testing.T) {
	t.Parallel()
	p := drawn(t, week.Small, 1)
	behind, applied := 0, 0
	for _, f := range p.FollowUps {
		if f.Case == "" || f.Reason == "" || !strings.HasPrefix(string(f.ID), string(f.Case)+"/"+string(f.Kind)+"/") {
			t.Errorf("%s of case %q, %q: want what a course names and gives a reason for", f.ID, f.Case, f.Reason)
		}
		if f.Due.After != "" {
			behind++
		}
	}
	for _, plant := range p.Plants {
		applied += len(plant.Applied)
	}
	if behind < len(p.FollowUps)/5 || applied < 5 {
		t.Errorf("%d of %d follow-ups count from another and %d applications were made: want weeks in the middle of courses", behind, len(p.FollowUps), applied)
	}
}

// A plan by hand of the week before it was made tight breaks the rule that it was made tight on, for one of some seeds: not every
// plan does what the rule speaks of.
func TestTight_BitesOnItsRule(t *testing.T) {
	t.Parallel()
	for _, rule := range scheduler.Rules {
		bites := false
		for seed := uint64(1); seed <= 5 && !bites; seed++ {
			loose := week.Loose(week.Tight(rule), seed)
			plan := week.FirstFit(loose, rates)
			if before := scheduler.Check(loose, plan); len(before) > 0 {
				t.Fatalf("%s: the plan by hand of the loose week breaks rules: %v", rule, before)
			}
			broken := scheduler.Check(drawn(t, week.Tight(rule), seed), plan)
			bites = slices.ContainsFunc(broken, func(v scheduler.Violation) bool { return v.Rule == rule })
		}
		if !bites {
			t.Errorf("no week that is tight on %s refuses the plan of the loose one by that rule", rule)
		}
	}
}

var rates = scheduler.DefaultRates(catalogue.Shipped())

// A little time is enough: the plan in hand is lawful whenever the search ends.
func TestSolve_KeepsTheRulesOnEveryKindOfWeek(t *testing.T) {
	t.Parallel()
	planned := 0
	for _, kind := range quick() {
		p := drawn(t, kind, 2)
		plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: 1, Limit: 100 * time.Millisecond, Rates: rates})
		if err != nil {
			t.Errorf("%s: %v", kind, err)
		}
		for _, v := range scheduler.Check(p, plan) {
			t.Errorf("%s: %v", kind, v)
		}
		if plan.Gap < 0 {
			t.Errorf("%s: the bound is %v, the plan costs %v", kind, plan.Bound, plan.Cost.Total)
		}
		planned += len(plan.Routes)
	}
	if planned == 0 {
		t.Error("all plans are empty")
	}
}
