package week_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler"
	"vernation/scheduler/week"
)

var byHand = map[string]func(scheduler.Problem, scheduler.Rates) scheduler.Plan{"first fit": week.FirstFit, "own trips": week.OwnTrips}

func TestByHand_KeepsTheRulesAndForgetsNothing(t *testing.T) {
	t.Parallel()
	for _, kind := range []week.Kind{week.Small, week.TooShort} {
		p := drawn(t, kind, 2)
		for name, plan := range byHand {
			made := plan(p, rates)
			for _, v := range scheduler.Check(p, made) {
				t.Errorf("%s, %s: %v", name, kind, v)
			}
			m := week.Measure(p, made)
			if got := m.PlannedFollowUps + m.PlannedServices + len(made.Unplanned); got != m.FollowUps+m.Services || m.PlannedFollowUps == 0 {
				t.Errorf("%s, %s: %+v and %d unplanned: want each item once", name, kind, m, len(made.Unplanned))
			}
		}
	}
}

func TestByHand_IsTheSameEachTime(t *testing.T) {
	t.Parallel()
	p := drawn(t, week.Small, 1)
	for name, plan := range byHand {
		if diff := cmp.Diff(text(t, plan(p, rates)), text(t, plan(p, rates))); diff != "" {
			t.Errorf("%s: two plans of one Problem differ: %s", name, diff)
		}
	}
}

// On trips of its own no follow-up rides with a service; an office lets some, and drives less.
func TestByHand_FirstFitRidesWhereOwnTripsDoNot(t *testing.T) {
	t.Parallel()
	p := drawn(t, week.Small, 1)
	rides, own := week.Measure(p, week.FirstFit(p, rates)), week.Measure(p, week.OwnTrips(p, rates))
	if own.Riding != 0 || rides.Riding == 0 || rides.Driven >= own.Driven {
		t.Errorf("by first fit %+v,\non own trips %+v", rides, own)
	}
}

// The price counts a plan anew from its visits and comes to what Solve says, part by part.
func TestPrice_IsSolvesOwnPartByPart(t *testing.T) {
	t.Parallel()
	for _, kind := range []week.Kind{week.Small, week.Tight(scheduler.RuleShift), week.Tight(scheduler.RuleTiming), week.Tight(scheduler.RuleReentry)} {
		p := drawn(t, kind, 4)
		plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: 1, Limit: 150 * time.Millisecond, Rates: rates})
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(plan.Cost, week.Price(p, plan, rates)); diff != "" {
			t.Errorf("%s: (-Solve +Price)\n%s", kind, diff)
		}
	}
}
