package scheduler_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/travel"
)

// later returns the Problem some time into a plan: visits that have begun are done, routes of later days are pinned or
// were published, technicians are where the plan sends them, and mixes begun are open.
func later(p scheduler.Problem, plan scheduler.Plan, now civil.Instant, pinned func() bool) scheduler.Problem {
	p.Now = now
	for _, r := range plan.Routes {
		begun := r.Visits[0].Arrives <= now
		pin := !begun && pinned()
		for i, v := range r.Visits {
			switch {
			case v.Arrives <= now:
				v.State = scheduler.Done
				p.Fixed = append(p.Fixed, v)
			case pin:
				v.State = scheduler.Pinned
				p.Fixed = append(p.Fixed, v)
			default:
				v.State = []scheduler.VisitState{scheduler.Published, scheduler.Announced}[i%2]
				p.Before = append(p.Before, v)
			}
		}
		for _, m := range r.Mixes { // in the order in which they are begun, to which the work items refer
			if pin || begun && m.Begins <= now {
				p.Mixes = append(p.Mixes, m)
			}
		}
		if begun {
			p.Progress = append(p.Progress, progressOn(r, now)...)
		}
	}
	return p
}

// progressOn is where the technician of a route is, while it runs.
func progressOn(r scheduler.DayRoute, now civil.Instant) []scheduler.Progress {
	if now < r.Departs || now >= r.Returns {
		return nil
	}
	last := r.Visits[0]
	for _, v := range r.Visits {
		if v.Arrives <= now {
			last = v
		}
	}
	free := max(now, last.Leaves)
	for _, m := range r.Mixes {
		if m.RinseAtBase && m.Rinse.From < now {
			free = max(now, m.Rinse.To)
			return []scheduler.Progress{{Technician: r.Technician, At: "base", FreeFrom: free, Worked: free.Sub(r.Departs)}}
		}
	}
	return []scheduler.Progress{{Technician: r.Technician, At: travel.PlaceID(last.Site), FreeFrom: free, Worked: free.Sub(r.Departs)}}
}

func TestSolve_KeepsEveryRuleInTheMiddleOfAPlan(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		o := scheduler.Options{Seed: 1, Iterations: 2, Rates: roundRates()}
		o.Rates.DeferredVisit.Amount = 60_000
		first, err := scheduler.Solve(t.Context(), p, o)
		if err != nil {
			t.Fatal(err)
		}
		pinnedBy := rapid.IntRange(1, 4).Draw(t, "pinned by")
		count := 0
		now := p.Now.Add(time.Duration(rapid.IntRange(0, 96).Draw(t, "hours later")) * time.Hour)
		p = later(p, first, now, func() bool { count++; return count%4 < pinnedBy-1 })
		if err := p.Validate(); err != nil {
			t.Fatalf("the later Problem is not valid: %v", err)
		}
		plan, err := scheduler.Solve(t.Context(), p, o)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range scheduler.Check(p, plan) {
			if !v.Standing {
				t.Errorf("the plan breaks a rule: %v", v)
			}
		}
		if t.Failed() {
			t.Log("first:\n" + planText(first) + "\nnow " + newYork.Format(p.Now) + ":\n" + planText(plan))
		}
	})
}
