package scheduler_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler"
)

// planAtSomeTime plans a Problem, or what is left of it some hours later, with some days pinned.
func planAtSomeTime(t *rapid.T, p scheduler.Problem, o scheduler.Options) (scheduler.Problem, scheduler.Plan) {
	plan, err := scheduler.Solve(t.Context(), p, o)
	if err != nil {
		t.Fatal(err)
	}
	if rapid.Bool().Draw(t, "under way") {
		now := p.Now.Add(time.Duration(rapid.IntRange(0, 96).Draw(t, "hours later")) * time.Hour)
		p = later(p, plan, now, newYork.DateOf(now).AddDays(rapid.IntRange(0, 4).Draw(t, "pinned days")))
		if plan, err = scheduler.Solve(t.Context(), p, o); err != nil {
			t.Fatal(err)
		}
	}
	if plan.Gap < 0 || plan.Bound < 0 {
		t.Errorf("bound %v of a plan of %v", plan.Bound, plan.Cost.Total)
	}
	return p, plan
}

// drawQuestion draws a Problem, perhaps in the middle of a plan, the plan of it, and one of its follow-ups.
func drawQuestion(t *rapid.T) (*scheduler.Prepared, scheduler.Plan, scheduler.ItemID) {
	p := drawProblem(t)
	o := scheduler.Options{Seed: 1, Iterations: 1, Rates: roundRates()}
	o.Rates.UnevenMinute.Amount = 3
	if rapid.Bool().Draw(t, "dear to defer") {
		o.Rates.DeferredVisit.Amount = 60_000
	}
	p, plan := planAtSomeTime(t, p, o)
	ready, err := scheduler.Prepare(p, o.Rates)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.FollowUps) == 0 {
		t.Skip("no follow-up was drawn")
	}
	return ready, plan, rapid.SampledFrom(p.FollowUps).Draw(t, "follow-up").ID
}

// decisions are the violations that a plan's own decisions make.
func decisions(p scheduler.Problem, plan scheduler.Plan) []scheduler.Violation {
	return slices.DeleteFunc(scheduler.Check(p, plan), func(v scheduler.Violation) bool { return v.Standing })
}

// isLawful books an opening and holds that every rule is kept, that it costs what was said, and that only what was said moves.
func isLawful(t errorer, ready *scheduler.Prepared, plan scheduler.Plan, id scheduler.ItemID, o scheduler.Opening) {
	t.Helper()
	booked, err := ready.Book(plan, o)
	if err != nil {
		t.Errorf("the opening at %s cannot be booked: %v", newYork.Format(o.Begins), err)
		return
	}
	if len(decisions(ready.Problem(), booked)) > 0 {
		t.Errorf("booked:\n%s", planText(booked))
	}
	for _, v := range decisions(ready.Problem(), booked) {
		t.Errorf("booked at %s by %s the plan breaks a rule: %v", newYork.Format(o.Begins), o.Technician, v)
	}
	work, by := workOf(booked, id)
	there := false
	for i, w := range work {
		there = there || w.Begins == o.Begins && w.Way == o.Way && by[i] == o.Technician
	}
	if !there {
		t.Errorf("booked it is %+v: want it at %s by %s, %s", work, newYork.Format(o.Begins), o.Technician, o.Way)
	}
	before, err := ready.ResumedForTest(plan) // what the plan costs in this Problem
	if err != nil {
		t.Errorf("%v", err)
	}
	var want scheduler.Cost
	for _, part := range scheduler.CostParts {
		want.Add(part, booked.Cost.Parts[part]-before.Cost.Parts[part])
	}
	if diff := cmp.Diff(want, o.Added); diff != "" {
		t.Errorf("booked it adds otherwise than was said (-booked +said):\n%s", diff)
	}
	if len(ready.Problem().Fixed) == 0 { // fixed visits carry what they cost in the plan before
		addsUp(t, booked)
	}
	for _, r := range plan.Routes {
		for _, v := range r.Visits {
			moves := slices.ContainsFunc(o.Moves, func(m scheduler.Move) bool {
				return m.Technician == v.Technician && m.Site == v.Site && m.From == v.Arrives
			})
			if stays := arrivesThen(booked, v, id); moves == stays && !onlyFor(v, id) {
				t.Errorf("the visit of %s by %s at %s: said to move %v, stays %v", v.Site, v.Technician, newYork.Format(v.Arrives), moves, stays)
			}
		}
	}
}

// onlyFor says whether a visit holds nothing but one item.
func onlyFor(v scheduler.Visit, id scheduler.ItemID) bool {
	return !slices.ContainsFunc(v.Work, func(w scheduler.WorkItem) bool { return w.Item != id })
}

// arrivesThen says whether a plan has a visit of the same technician, site and arrival, for some of the same work.
func arrivesThen(plan scheduler.Plan, v scheduler.Visit, but scheduler.ItemID) bool {
	return slices.ContainsFunc(plan.Routes, func(r scheduler.DayRoute) bool {
		return slices.ContainsFunc(r.Visits, func(other scheduler.Visit) bool {
			return other.Technician == v.Technician && other.Site == v.Site && other.Arrives == v.Arrives &&
				slices.ContainsFunc(other.Work, func(w scheduler.WorkItem) bool {
					return w.Item != but && slices.ContainsFunc(v.Work, func(old scheduler.WorkItem) bool { return old.Item == w.Item })
				})
		})
	})
}

func TestOpenings_BookedGiveAPlanThatKeepsEveryRuleAtTheCostSaid(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		ready, plan, id := drawQuestion(t)
		ranked, err := scheduler.Openings(t.Context(), ready, plan, id, scheduler.Asked{Most: 6, Still: rapid.Bool().Draw(t, "nothing moves")})
		if err != nil {
			t.Fatal(err)
		}
		if len(ranked.Openings) == 0 && len(ranked.None) == 0 {
			t.Errorf("no opening of %s, and nothing says why", id)
		}
		var slots []scheduler.Slot
		for i, o := range ranked.Openings {
			isLawful(t, ready, plan, id, o)
			if i > 0 && o.Added.Total < ranked.Openings[i-1].Added.Total {
				t.Errorf("opening %d adds %v, the one before it %v", i, o.Added.Total, ranked.Openings[i-1].Added.Total)
			}
			slots = append(slots, scheduler.Slot{Technician: o.Technician, Begins: o.Begins, Way: o.Way})
		}
		again, err := scheduler.Openings(t.Context(), ready, plan, id, scheduler.Asked{Most: 1, Slots: slots})
		if err != nil {
			t.Fatal(err)
		}
		for i, answer := range again.Asked {
			if answer.Opening == nil {
				t.Errorf("%s is an opening, and when it is asked for forbidden: %v", newYork.Format(slots[i].Begins), answer.Forbids)
				continue
			}
			isLawful(t, ready, plan, id, *answer.Opening)
			if answer.Opening.Begins != slots[i].Begins {
				t.Errorf("asked for %s the opening is at %s", newYork.Format(slots[i].Begins), newYork.Format(answer.Opening.Begins))
			}
		}
		if t.Failed() {
			t.Log("\nnow " + newYork.Format(ready.Problem().Now) + "\n" + planText(plan))
		}
	})
}

// Any instant that is asked for is either an opening that keeps every rule, or forbidden by a reason.
func TestOpenings_EverySlotThatIsAskedForIsJudged(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		ready, plan, id := drawQuestion(t)
		p := ready.Problem()
		var slots []scheduler.Slot
		for range 4 {
			slots = append(slots, scheduler.Slot{
				Technician: rapid.SampledFrom(p.Technicians).Draw(t, "technician").ID,
				Begins:     p.Zone.At(p.FirstDay, 0).Add(time.Duration(rapid.IntRange(0, p.Days*96).Draw(t, "quarter")) * 15 * time.Minute),
			})
		}
		ranked, err := scheduler.Openings(t.Context(), ready, plan, id, scheduler.Asked{Most: 1, Slots: slots})
		if err != nil {
			t.Fatal(err)
		}
		for i, answer := range ranked.Asked {
			switch {
			case answer.Opening != nil && len(answer.Forbids) > 0, answer.Opening == nil && len(answer.Forbids) == 0:
				t.Errorf("%+v is open %v and forbidden by %v", slots[i], answer.Opening != nil, answer.Forbids)
			case answer.Opening != nil:
				isLawful(t, ready, plan, id, *answer.Opening)
			}
			for _, reason := range answer.Forbids {
				if reason.Rule == "" || reason.Text == "" {
					t.Errorf("%+v is forbidden by %+v", slots[i], reason)
				}
			}
		}
	})
}
