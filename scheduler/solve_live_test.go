package scheduler_test

import (
	"slices"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// The week goes wrong in these tests: the round was planned and published, it is some hour of Wednesday 4 March, and
// something has happened. A visit that moves costs 300.00, more than any trip: so nothing moves but what must.

// publishedRound is the round at an instant with its plan published: what has begun is done, what lies ahead may move.
func publishedRound(t *testing.T, now civil.Instant) (scheduler.Problem, scheduler.Plan) {
	t.Helper()
	p := roundWeek()
	plan := solved(t, p, 40)
	return later(p, plan, now, 0), plan
}

// replanned plans again and holds that no decision breaks a rule and that what is fixed is where it was.
func replanned(t *testing.T, p scheduler.Problem) scheduler.Plan {
	t.Helper()
	o := scheduler.Options{Seed: 1, Iterations: 40, Rates: roundRates()}
	o.Rates.MovedPublished.Amount, o.Rates.MovedAnnounced.Amount = 30_000, 30_000
	plan, err := scheduler.Solve(t.Context(), p, o)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range decisions(p, plan) {
		t.Errorf("the new plan breaks a rule: %v", v)
	}
	for _, fixed := range p.Fixed {
		stays := slices.ContainsFunc(plan.Routes, func(r scheduler.DayRoute) bool {
			return slices.ContainsFunc(r.Visits, func(v scheduler.Visit) bool {
				return v.ID == fixed.ID && v.Technician == fixed.Technician && v.Site == fixed.Site && v.Arrives == fixed.Arrives && v.Leaves == fixed.Leaves
			})
		})
		if !stays {
			t.Errorf("the fixed visit of %s by %s at %s is not in the plan as it was", fixed.Site, fixed.Technician, newYork.Format(fixed.Arrives))
		}
	}
	return plan
}

// moved lists the published visits that no visit of the new plan keeps, but those that had to go.
func moved(p scheduler.Problem, plan scheduler.Plan, hadTo func(scheduler.Visit) bool) []scheduler.Visit {
	return slices.DeleteFunc(slices.Clone(p.Before), func(v scheduler.Visit) bool {
		return hadTo(v) || arrivesThen(plan, v, "")
	})
}

func nothingMoves(t *testing.T, p scheduler.Problem, plan scheduler.Plan, hadTo func(scheduler.Visit) bool) {
	t.Helper()
	for _, v := range moved(p, plan, hadTo) {
		t.Errorf("the visit of %s by %s at %s moves without need", v.Site, v.Technician, newYork.Format(v.Arrives))
	}
	if t.Failed() {
		t.Log("\n" + planText(plan))
	}
}

func none(scheduler.Visit) bool { return false }

func TestReplan_NothingHappenedAndNothingMoves(t *testing.T) {
	t.Parallel()
	p, _ := publishedRound(t, at(4, "07:00"))
	nothingMoves(t, p, replanned(t, p), none)
}

func TestReplan_ATechnicianIsSickAtSeven(t *testing.T) {
	t.Parallel()
	p, _ := publishedRound(t, at(4, "07:00"))
	for i := range p.Technicians {
		p.Technicians[i].Shifts = slices.DeleteFunc(slices.Clone(p.Technicians[i].Shifts), func(s scheduler.Shift) bool {
			return p.Technicians[i].ID == "T1" && s.Day == march(4)
		})
	}
	plan := replanned(t, p)
	for _, r := range plan.Routes {
		if r.Technician == "T1" && r.Day == march(4) && len(r.Visits) > 0 {
			t.Errorf("who is sick has %d visits", len(r.Visits))
		}
	}
	// The plants that they were to carry out cannot be carried back by the other one either.
	nothingMoves(t, p, plan, func(v scheduler.Visit) bool { return newYork.DateOf(v.Arrives) == march(4) })
}

func TestReplan_AnUrgentCaseComesIn(t *testing.T) {
	t.Parallel()
	p, _ := publishedRound(t, at(4, "07:00"))
	urgent := roundLook(9, scheduler.Due{EarliestOn: march(4), LatestOn: march(4), StandsUntilOn: march(5)})
	urgent.LeftOutPrice, urgent.PricePerDay = 100_000, prices(4_000, 3)
	p.FollowUps = append(p.FollowUps, urgent)
	plan := replanned(t, p)
	if on := onDay(plan, urgent.ID); on != march(4) {
		t.Errorf("the urgent look is planned on %v: want it today", on)
	}
	// It goes in beside what is published: at most the visits of the day on which it is done arrive otherwise.
	nothingMoves(t, p, plan, func(v scheduler.Visit) bool { return newYork.DateOf(v.Arrives) == march(4) })
}

// The helper was to leave at 08:35 on Thursday for the flat, which is open until noon, and is held up until 09:30.
func TestReplan_TheMorningOverran(t *testing.T) {
	t.Parallel()
	p, _ := publishedRound(t, at(5, "08:30"))
	p.Progress = []scheduler.Progress{{Technician: "T2", At: "base", FreeFrom: at(5, "09:30"), Worked: 0}}
	plan := replanned(t, p)
	late := false
	for _, r := range plan.Routes {
		for _, v := range r.Visits {
			if r.Day == march(5) && v.Site == "flat" {
				late = r.Technician == "T2" && v.Arrives >= at(5, "09:55") // 25 minutes of way
			}
		}
	}
	if !late {
		t.Error("want the flat visited today, as soon as can be")
	}
	nothingMoves(t, p, plan, func(v scheduler.Visit) bool { return v.Site == "flat" && newYork.DateOf(v.Arrives) == march(5) })
}

// That the lodge was shut on the morning on which somebody was there is a fact: it is told as standing, and refuses nothing.
func TestReplan_FactsThatBreakARuleAreStanding(t *testing.T) {
	t.Parallel()
	p, _ := publishedRound(t, at(4, "10:00"))
	p.Sites = slices.Clone(p.Sites)
	for i := range p.Sites {
		if p.Sites[i].ID == "lodge" {
			p.Sites[i].Access.Exceptions = []civil.Exception{{On: march(4), Windows: []civil.Window{window("12:00", "18:00")}}}
		}
	}
	plan := replanned(t, p)
	standing := slices.ContainsFunc(scheduler.Check(p, plan), func(v scheduler.Violation) bool {
		return v.Standing && v.Rule == scheduler.RuleAccess && v.Site == "lodge"
	})
	if !standing {
		t.Errorf("the morning's visit of the lodge is not told:\n%s", planText(plan))
	}
	nothingMoves(t, p, plan, none)
}

func TestReplan_ASiteIsShut(t *testing.T) {
	t.Parallel()
	p, _ := publishedRound(t, at(4, "07:00"))
	p.Sites = slices.Clone(p.Sites)
	for i := range p.Sites {
		if p.Sites[i].ID == "lodge" {
			for d := 4; d <= 6; d++ {
				p.Sites[i].Access.Exceptions = append(slices.Clone(p.Sites[i].Access.Exceptions), civil.Exception{On: march(d)})
			}
		}
	}
	plan := replanned(t, p)
	shut := func(s site.ID, at civil.Instant) bool {
		on := newYork.DateOf(at)
		return s == "lodge" && on >= march(4) && on <= march(6)
	}
	for _, r := range plan.Routes {
		for _, v := range r.Visits {
			if shut(v.Site, v.Arrives) && v.State == scheduler.Planned {
				t.Errorf("a visit of the lodge at %s, which is shut", newYork.Format(v.Arrives))
			}
		}
	}
	nothingMoves(t, p, plan, func(v scheduler.Visit) bool { return v.Site == "lodge" })
}

// A report said that the mealybugs are gone: their follow-ups are asked for no more.
func TestReplan_AReportEndsAFollowUp(t *testing.T) {
	t.Parallel()
	p, _ := publishedRound(t, at(4, "07:00"))
	p.FollowUps = slices.DeleteFunc(slices.Clone(p.FollowUps), func(f scheduler.FollowUp) bool { return f.Case == "mealybug" })
	p.Links = nil
	plan := replanned(t, p)
	for _, id := range []scheduler.ItemID{sprayID(2), lookID(2)} {
		if work, _ := workOf(plan, id); len(work) > 0 {
			t.Errorf("what a report ended is still planned: %+v", work)
		}
	}
	ended := func(v scheduler.Visit) bool {
		return !slices.ContainsFunc(v.Work, func(w scheduler.WorkItem) bool {
			return slices.ContainsFunc(p.FollowUps, func(f scheduler.FollowUp) bool { return f.ID == w.Item }) || w.Service != ""
		})
	}
	nothingMoves(t, p, plan, ended)
}
