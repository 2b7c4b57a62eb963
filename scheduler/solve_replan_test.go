package scheduler_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/travel"
)

// later returns the Problem some time into a plan: visits that have begun are done, routes before a day are pinned, others
// were published, technicians are where the plan sends them, and mixes begun are open.
func later(p scheduler.Problem, plan scheduler.Plan, now civil.Instant, pinnedBefore civil.Date) scheduler.Problem {
	p.Now = now
	for _, r := range plan.Routes {
		begun := r.Visits[0].Arrives <= now
		pin := !begun && r.Day < pinnedBefore
		fixedUntil := civil.Instant(0)
		for i, v := range r.Visits {
			switch {
			case v.Arrives <= now:
				v.State = scheduler.Done
				p.Fixed = append(p.Fixed, v)
				fixedUntil = v.Leaves
			case pin:
				v.State = scheduler.Pinned
				p.Fixed = append(p.Fixed, v)
			default:
				v.State = []scheduler.VisitState{scheduler.Published, scheduler.Announced}[i%2]
				p.Before = append(p.Before, v)
			}
		}
		for _, m := range r.Mixes { // in the order in which they are begun, to which the work items refer
			if pin || m.Begins < fixedUntil {
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
		now := p.Now.Add(time.Duration(rapid.IntRange(0, 96).Draw(t, "hours later")) * time.Hour)
		p = later(p, first, now, newYork.DateOf(now).AddDays(rapid.IntRange(0, 4).Draw(t, "pinned days")))
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

func TestSolve_PlantsThatAreAwayComeBack(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	first := solved(t, p, 30)
	work, _ := workOf(first, gnatsID(1))
	if len(work) != 3 {
		t.Fatalf("want the plants carried out and back:\n%s", planText(first))
	}
	// An hour after the drench its visit is done; the carry back is still to come, and the plan is made anew.
	p = later(p, first, work[1].Ends.Add(time.Hour), 0)
	plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: 2, Iterations: 10, Rates: roundRates()})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range scheduler.Check(p, plan) {
		t.Errorf("the plan breaks a rule: %v", v)
	}
	again, _ := workOf(plan, gnatsID(1))
	if len(again) != 3 || again[2].Part != 3 || again[2].Begins < work[1].Ends.Add(4*time.Hour) {
		t.Errorf("want the plants back 4 h after the drench at the earliest:\n%s", planText(plan))
	}
}
