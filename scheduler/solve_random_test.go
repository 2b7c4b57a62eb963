package scheduler_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/quantity"
)

func TestSolve_KeepsEveryRuleAndAddsUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		if err := p.Validate(); err != nil {
			t.Fatalf("the drawn Problem is not valid: %v", err)
		}
		rates := roundRates()
		rates.DeferredVisit.Amount = quantity.Money(rapid.IntRange(0, 90_000).Draw(t, "deferred visit"))
		rates.UnevenMinute.Amount = quantity.Money(rapid.IntRange(0, 5).Draw(t, "uneven minute"))
		o := scheduler.Options{Seed: rapid.Uint64().Draw(t, "seed"), Iterations: rapid.IntRange(0, 8).Draw(t, "iterations"), Rates: rates}
		plan, err := scheduler.Solve(t.Context(), p, o)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range scheduler.Check(p, plan) {
			if !v.Standing { // a visit that does not move may break a rule
				t.Errorf("the plan breaks a rule: %v", v)
			}
		}
		addsUp(t, plan)
		everythingIsAccountedFor(t, p, plan)
		if plan.Bound > plan.Cost.Total || plan.Bound < 0 || plan.Gap != plan.Cost.Total-plan.Bound {
			t.Errorf("bound %v, gap %v of a plan of %v", plan.Bound, plan.Gap, plan.Cost.Total)
		}
		again, err := scheduler.Solve(t.Context(), p, o)
		if err != nil {
			t.Fatal(err)
		}
		plan.Elapsed, again.Elapsed = 0, 0
		if diff := cmp.Diff(plan, again); diff != "" {
			t.Errorf("the same seed and iterations gave another plan (-first +second):\n%s", diff)
		}
		if t.Failed() {
			t.Log("\n" + planText(plan))
		}
	})
}

// errorer is what rapid's and testing's T share.
type errorer interface {
	Helper()
	Errorf(format string, args ...any)
}

// addsUp holds that visits add up to their route, beside what belongs to the day, and routes to the plan, beside what
// belongs to no route.
func addsUp(t errorer, plan scheduler.Plan) {
	t.Helper()
	var sum scheduler.Cost
	for _, r := range plan.Routes {
		sum.Plus(r.Cost)
		partsAddUp(t, "route", r.Cost)
		rest := r.Cost
		for _, v := range r.Visits {
			partsAddUp(t, "visit", v.Cost)
			rest.Total -= v.Cost.Total
		}
		own := r.Cost.Parts[scheduler.CostPaid] + r.Cost.Parts[scheduler.CostOvertime]
		if rest.Total < own {
			t.Errorf("the visits of %s on %v cost more than their route", r.Technician, r.Day)
		}
	}
	for _, part := range []scheduler.CostPart{scheduler.CostUnplanned, scheduler.CostUneven, scheduler.CostChanges} {
		sum.Add(part, plan.Cost.Parts[part])
	}
	if diff := cmp.Diff(plan.Cost, sum); diff != "" {
		t.Errorf("the routes and the rest do not add up to the plan (-plan +sum):\n%s", diff)
	}
	partsAddUp(t, "plan", plan.Cost)
	unplanned := quantity.Money(0)
	for _, u := range plan.Unplanned {
		unplanned += u.Cost
	}
	if unplanned != plan.Cost.Parts[scheduler.CostUnplanned] {
		t.Errorf("what is unplanned costs %v, the plan says %v", unplanned, plan.Cost.Parts[scheduler.CostUnplanned])
	}
}

func partsAddUp(t errorer, what string, c scheduler.Cost) {
	t.Helper()
	sum := quantity.Money(0)
	for _, amount := range c.Parts {
		sum += amount
	}
	if sum != c.Total {
		t.Errorf("the parts of a %s add up to %v, its total is %v", what, sum, c.Total)
	}
}

// everythingIsAccountedFor holds that each follow-up is planned, or listed with a reason, or lies past the horizon.
func everythingIsAccountedFor(t errorer, p scheduler.Problem, plan scheduler.Plan) {
	t.Helper()
	planned, listed := map[scheduler.ItemID]bool{}, map[scheduler.ItemID]bool{}
	for _, r := range plan.Routes {
		for _, v := range r.Visits {
			for _, w := range v.Work {
				planned[w.Item] = true
			}
		}
	}
	for _, u := range plan.Unplanned {
		listed[u.Item] = true
		if len(u.Reasons) == 0 || u.Reasons[0].Text == "" {
			t.Errorf("%s is %s without a reason", u.Item, u.Status)
		}
		if planned[u.Item] {
			t.Errorf("%s is planned and %s", u.Item, u.Status)
		}
	}
	last := p.FirstDay.AddDays(p.Days - 1)
	for _, f := range p.FollowUps {
		if !planned[f.ID] && !listed[f.ID] && f.Due.After == "" && f.Due.EarliestOn <= last {
			t.Errorf("nothing is said of %s", f.ID)
		}
	}
}
