package scheduler_test

import (
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// From the base the flat is 10 min away and the lodge 10 min beyond it, but the way from the base to the lodge takes 100.
// Both waterings on one day: base, flat, lodge, flat's side again and home, 10 + 10 + 10 min; a look-up by the lodge first
// would take 100 min.
func TestSolve_ATriangleViolationIsDrivenAsItStands(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	p.FollowUps, p.Days = nil, 1
	p.Services = []scheduler.Service{p.Services[0], p.Services[2]}
	p.FirstDay, p.Now = march(5), at(5, "05:00")
	for i := range p.Services {
		p.Services[i].Last = 0
	}
	p.Sites[2].Access = civil.Calendar{Always: true}
	set := func(from, to int, minutes int32) { p.Travel.Seconds[from*4+to] = minutes * 60 }
	set(0, 3, 10) // base to flat
	set(3, 2, 10) // flat to lodge
	set(2, 0, 10) // lodge to base
	set(0, 2, 100)
	set(2, 3, 100)
	set(3, 0, 100)
	p.Technicians = p.Technicians[1:]
	plan := solved(t, p, 20)
	if len(plan.Routes) != 1 || len(plan.Routes[0].Visits) != 2 || plan.Routes[0].Visits[0].Site != "flat" {
		t.Fatalf("want the flat, then the lodge:\n%s", planText(plan))
	}
	// 30 min at 40 each.
	if travel := plan.Cost.Parts[scheduler.CostTravel]; travel != 1_200 {
		t.Errorf("travel costs %v, want 12.00:\n%s", travel, planText(plan))
	}
}

func TestSolve_AFixedVisitThatBreaksARuleStandsAndIsKept(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	fixed := storyPinned() // at the lodge, now shut on that date
	p.Fixed = []scheduler.Visit{fixed}
	p.Sites[1].Access.Exceptions = []civil.Exception{{On: march(4)}}
	plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: 1, Iterations: 20, Rates: roundRates()})
	if err != nil {
		t.Fatal(err)
	}
	standing := 0
	for _, v := range scheduler.Check(p, plan) {
		if !v.Standing {
			t.Errorf("a decision of the plan breaks a rule: %v", v)
		}
		standing++
	}
	kept := false
	for _, r := range plan.Routes {
		for _, v := range r.Visits {
			kept = kept || v.ID == fixed.ID && v.Arrives == fixed.Arrives && v.Technician == fixed.Technician
		}
	}
	if standing == 0 || !kept || len(plan.Routes) < 2 {
		t.Errorf("%d standing breaches, kept %v: want the visit to stand as it is, its breach told, and the rest planned:\n%s", standing, kept, planText(plan))
	}
}

func TestSolve_OneItemAndNothingButImpossibleOnes(t *testing.T) {
	t.Parallel()
	one := roundWeek()
	one.FollowUps, one.Services = one.FollowUps[5:], nil
	if plan := solved(t, one, 5); len(plan.Routes) != 1 || len(plan.Unplanned) != 0 {
		t.Errorf("one look and a shift for it:\n%s", planText(plan))
	}
	none := roundWeek()
	for i := range none.Sites {
		none.Sites[i].Keys = []site.KeyID{"lost"}
	}
	plan := solved(t, none, 5)
	if len(plan.Routes) != 0 {
		t.Errorf("nobody holds the keys, yet somebody goes:\n%s", planText(plan))
	}
	for _, u := range plan.Unplanned {
		if len(u.Reasons) == 0 || u.Reasons[0].Rule == "" {
			t.Errorf("%s is %s without a rule as reason: %v", u.Item, u.Status, u.Reasons)
		}
	}
	idle := roundWeek()
	idle.Technicians[0].Shifts = nil // one technician without days beside one with
	solved(t, idle, 5)
}
