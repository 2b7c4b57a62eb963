package week_test

import (
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/quantity"
	"vernation/scheduler/week"
)

// kindOf sorts the items of a week: applications, other follow-ups, services.
func kindOf(p scheduler.Problem) func(scheduler.ItemID) string {
	kinds := map[scheduler.ItemID]string{}
	for _, f := range p.FollowUps {
		kinds[f.ID] = "looks and traps"
		if f.Kind == scheduler.KindApplication {
			kinds[f.ID] = "applications"
		}
	}
	return func(id scheduler.ItemID) string {
		if kind, known := kinds[id]; known {
			return kind
		}
		return "services"
	}
}

// In a week too short for everything each item that is left has a reason in words and a price, the prices are what the plan says
// that it leaves. By the default rates this gives way first: what may still be done after the week, looks, traps and services
// before applications; then looks and traps whose days end in it; then services of which a whole turn falls out; and applications
// by what their course expects of the loss, which is the dearest as a rule.
func TestSolve_OfAWeekTooShortSaysWhatItLeavesAndWhatItCosts(t *testing.T) {
	t.Parallel()
	for seed := range uint64(2) {
		p := drawn(t, week.TooShort, seed+1)
		plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: seed, Iterations: 60, Rates: rates})
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range scheduler.Check(p, plan) {
			t.Errorf("the plan breaks a rule: %v", v)
		}
		type sum struct{ items, cost quantity.Money }
		sums := map[scheduler.UnplannedStatus]map[string]sum{scheduler.LeftOut: {}, scheduler.Deferred: {}}
		total, kind := quantity.Money(0), kindOf(p)
		for _, u := range plan.Unplanned {
			if u.Cost < rates.DeferredVisit.Amount || len(u.Reasons) == 0 || u.Reasons[0].Text == "" {
				t.Errorf("%+v: want a reason in words, and the usual cost of a visit at least", u)
			}
			s := sums[u.Status][kind(u.Item)]
			sums[u.Status][kind(u.Item)] = sum{s.items + 1, s.cost + u.Cost}
			total += u.Cost
		}
		if total != plan.Cost.Parts[scheduler.CostUnplanned] || len(plan.Unplanned) == 0 {
			t.Errorf("%d items are left for %v, and the plan says %v", len(plan.Unplanned), total, plan.Cost.Parts[scheduler.CostUnplanned])
		}
		mean := func(status scheduler.UnplannedStatus, kind string) float64 {
			s := sums[status][kind]
			return float64(s.cost) / float64(max(1, s.items))
		}
		t.Logf("seed %d: %v of %v; left %v", seed, plan.Cost.Total, plan.Bound, sums)
		for _, c := range []struct{ first, then float64 }{
			{mean(scheduler.Deferred, "looks and traps"), mean(scheduler.LeftOut, "looks and traps")},
			{mean(scheduler.Deferred, "services"), mean(scheduler.LeftOut, "services")},
			{mean(scheduler.Deferred, "applications"), mean(scheduler.LeftOut, "applications")},
			{mean(scheduler.Deferred, "services"), mean(scheduler.Deferred, "applications")},
			{mean(scheduler.LeftOut, "looks and traps"), mean(scheduler.LeftOut, "services")},
			{mean(scheduler.LeftOut, "looks and traps"), mean(scheduler.LeftOut, "applications")},
		} {
			if c.first >= c.then {
				t.Errorf("seed %d leaves %v: a mean of %.0f minor units was to lie below one of %.0f", seed, sums, c.first, c.then)
			}
		}
	}
}
