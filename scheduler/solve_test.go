package scheduler_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// workOf lists the work items of an item with the technicians who do them, in the order of the plan.
func workOf(plan scheduler.Plan, id scheduler.ItemID) (work []scheduler.WorkItem, by []scheduler.TechnicianID) {
	for _, r := range plan.Routes {
		for _, v := range r.Visits {
			for _, w := range v.Work {
				if w.Item == id {
					work, by = append(work, w), append(by, v.Technician)
				}
			}
		}
	}
	return work, by
}

// onDay returns the civil date in New York on which an item begins, 0 when it is not planned.
func onDay(plan scheduler.Plan, id scheduler.ItemID) civil.Date {
	work, _ := workOf(plan, id)
	if len(work) == 0 {
		return 0
	}
	return newYork.DateOf(work[0].Begins)
}

func unplannedOf(t *testing.T, plan scheduler.Plan, id scheduler.ItemID) scheduler.Unplanned {
	t.Helper()
	for _, u := range plan.Unplanned {
		if u.Item == id {
			return u
		}
	}
	t.Fatalf("%s is not listed as unplanned:\n%s", id, planText(plan))
	return scheduler.Unplanned{}
}

func hasReason(u scheduler.Unplanned, rule scheduler.Rule, text string) bool {
	return slices.ContainsFunc(u.Reasons, func(r scheduler.Reason) bool { return r.Rule == rule && strings.Contains(r.Text, text) })
}

func TestSolve_AFollowUpWaitsADayForTheServiceVisit(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	// The look may be made from Monday on, but each day costs little, while the flat opens on Thursday only for its watering.
	p.Sites[2].Access = civil.Calendar{Weekly: []civil.Weekly{weekly(workdays, "09:00", "12:00")}}
	p.FollowUps = []scheduler.FollowUp{roundSuspect()}
	p.FollowUps[0].Due = scheduler.Due{EarliestOn: march(4), LatestOn: march(6)}
	p.Services = p.Services[2:]
	p.Services[0].Earliest, p.Services[0].Last = 7, march(-2) // not before Thursday 5 March
	plan := solved(t, p, 20)
	if look, water := onDay(plan, p.FollowUps[0].ID), onDay(plan, "water-flat#1"); look != water || look < march(5) {
		t.Errorf("the look is on %v, the watering on %v: want both on one day, for a second visit costs more than a day's delay", look, water)
	}
	// Dear enough, it waits no more: a visit costs under 10,000.
	p.FollowUps[0].PricePerDay = prices(10_000, 9)
	if look := onDay(solved(t, p, 20), p.FollowUps[0].ID); look != march(4) {
		t.Errorf("the look is on %v: a day's delay costs more than a visit, want Wednesday 4 March", look)
	}
}

func TestSolve_NoSavingOfTravelLetsAWateringPassItsLatestDay(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	p.FollowUps = nil
	plan := solved(t, p, 30)
	latest := map[scheduler.ItemID]civil.Date{waterLodge + "#1": march(6), waterOffice + "#1": march(11), "water-flat#1": march(7)}
	for id, day := range latest {
		if on := onDay(plan, id); on == 0 || on > day {
			t.Errorf("%s is on %v: its latest day is %v", id, on, day)
		}
	}
	if plan.Cost.Parts[scheduler.CostLateService] != 0 {
		t.Errorf("late services cost %v, want none", plan.Cost.Parts[scheduler.CostLateService])
	}
}

func TestSolve_WhereAlwaysPeopleAreItIsLeftOutWithTheReason(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	p.FollowUps[4].Ways = p.FollowUps[4].Ways[:1] // in place only
	p.FollowUps[4].Due.StandsUntilOn = march(10)
	plan := solved(t, p, 5)
	u := unplannedOf(t, plan, gnatsID(1))
	if u.Status != scheduler.LeftOut || !hasReason(u, scheduler.RuleReentry, "people are always in lobby") {
		t.Errorf("%+v: want it left out by re-entry", u)
	}
	// Once the client agrees to shut the lobby over an evening it is planned there and then.
	p.Sites[1].Agreement.ShutAreas = []site.ShutArea{{Area: "lobby", From: at(4, "10:00"), To: at(4, "16:00")}}
	p.Products[1].Label.Places = append(p.Products[1].Label.Places, catalogue.Lodging)
	if on := onDay(solved(t, p, 5), gnatsID(1)); on != march(4) {
		t.Errorf("planned on %v: the lobby is shut on Wednesday 4 March", on)
	}
}

func TestSolve_TheTreatmentPlaceIsUsedAndThePlantsComeBack(t *testing.T) {
	t.Parallel()
	plan := solved(t, roundWeek(), 30)
	work, by := workOf(plan, gnatsID(1))
	if len(work) != 3 || work[0].Way != "plant-room" || work[2].Part != 3 {
		t.Fatalf("want carry out, application and carry back:\n%s", planText(plan))
	}
	if by[0] != "T1" {
		t.Errorf("%s applies without a licence", by[0])
	}
	if wait := work[2].Begins.Sub(work[1].Ends); wait < 4*time.Hour {
		t.Errorf("the plants come back %v after the application: the label asks for 4 h", wait)
	}
}

// The night from Saturday 7 to Sunday 8 March: people leave at 20:00 on Saturday and come at 06:00 EDT (10:00Z) on Sunday.
// A treatment of 32 min with 3 h of keep-out begins by 10:00Z - 3 h 32 min = 06:28Z, 01:28 EST; by the wall clock alone
// one would get 02:28, an hour that this night does not have.
func TestSolve_TheNightInWhichClocksGoForwardIsAnHourShorter(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	p.FollowUps, p.Services, p.Rules.NoticeLead = p.FollowUps[:1], nil, nil
	use := p.FollowUps[0].Ways[0].Parts[0].Use
	use.KeepOutUnventilated = use.KeepOut
	p.FollowUps[0].Due = scheduler.Due{EarliestOn: march(8), StandsUntilOn: march(8)}
	p.Sites[0].Access = civil.Calendar{Weekly: []civil.Weekly{weekly("sat", "20:00", "32:00")}}
	p.Sites[0].Areas[0].People = civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, "06:00", "20:00")}}
	for _, night := range []struct {
		name    string
		signIn  time.Duration // from 23:20, when the technician arrives at the earliest
		planned bool
	}{
		// There at 23:20, signed in at 01:22, mixed by 01:28.
		{"just in time", 122 * time.Minute, true},
		{"a second too late", 122*time.Minute + time.Second, false},
		{"in time by the wall clock alone", 150 * time.Minute, false},
	} {
		q := p
		q.Sites = slices.Clone(p.Sites)
		q.Sites[0].SignIn = night.signIn
		q.Technicians = []scheduler.Technician{roundLicensed()}
		q.Technicians[0].Shifts = []scheduler.Shift{{Day: march(7), During: civil.Interval{From: at(7, "23:00"), To: at(8, "08:00")}}}
		plan := solved(t, q, 0)
		work, _ := workOf(plan, sprayID(1))
		if planned := len(work) == 1; planned != night.planned {
			t.Errorf("%s: planned %v, want %v", night.name, planned, night.planned)
		} else if planned && work[0].Begins.String() != "2026-03-08T06:28:00Z" {
			t.Errorf("%s: begins at %v, want 06:28Z", night.name, work[0].Begins)
		}
	}
}

func TestSolve_OneMixServesTwoApplicationsOfOneVisit(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	p.Services = nil
	p.Plants[1].Health = scheduler.ConfirmedInfested
	second := roundSpray(9, scheduler.Due{EarliestOn: march(3), LatestOn: march(5)})
	use := storyUse()
	use.Doses = []scheduler.Dose{{Plant: "ficus", Amount: volume("300 mL")}}
	second.Plants, second.Ways[0].Parts[0].Use = []site.PlantID{"ficus"}, use
	p.FollowUps = []scheduler.FollowUp{p.FollowUps[0], second}
	plan := solved(t, p, 20)
	if len(plan.Routes) != 1 || len(plan.Routes[0].Mixes) != 1 {
		t.Fatalf("want one route with one mix:\n%s", planText(plan))
	}
	// 900 mL + 10 % = 990 mL = 33.48 US fl oz, + 2 dead = 35.48: mark 40; 2.5/128 x 40 = 0.781: 6 marks of 1/8 = 0.75,
	// 96 % of the rate.
	mix := plan.Routes[0].Mixes[0]
	if !mix.Need.Equal(volume("990 mL")) || !mix.Volume.Equal(volume("40 US fl oz")) || !mix.Concentrate.Equal(volume("0.75 US fl oz")) {
		t.Errorf("need %v, %v in %v: want 990 mL, 0.75 in 40 US fl oz", mix.Need, mix.Concentrate, mix.Volume)
	}
	// Where the mix lives for less than both take (32 + 32 min), two are made.
	p.Products[0].Label.MixLife = 40 * time.Minute
	plan = solved(t, p, 20)
	mixes := 0
	for _, r := range plan.Routes {
		mixes += len(r.Mixes)
	}
	if _, by := workOf(plan, second.ID); len(by) == 0 || mixes != 2 {
		t.Errorf("want both applications, each from its own mix:\n%s", planText(plan))
	}
}

func TestSolve_LagsOfAChainAreKept(t *testing.T) {
	t.Parallel()
	plan := solved(t, roundWeek(), 20)
	first, second := onDay(plan, sprayID(1)), onDay(plan, sprayID(2))
	if lag := second.DaysSince(first); first == 0 || lag < 7 || lag > 10 {
		t.Errorf("the sprays are on %v and %v: want 7 to 10 days between", first, second)
	}
}

func TestSolve_WhatFollowsAnUnplannedItemWaitsForIt(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	p.Technicians[0].Licences = nil
	plan := solved(t, p, 5)
	if u := unplannedOf(t, plan, sprayID(1)); !hasReason(u, scheduler.RuleLicence, "holds no licence for soap A") {
		t.Errorf("%+v: want the licence as reason", u)
	}
	if u := unplannedOf(t, plan, sprayID(2)); !hasReason(u, scheduler.RuleTiming, "waits for "+string(sprayID(1))) {
		t.Errorf("%+v: want that it waits for the first", u)
	}
}

func TestSolve_AKeepOutHoldsForTheOtherTechnicianToo(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	// Both are on shift all day and the floor is empty; the look must be made on the day of the spray, by the other technician.
	p.Sites[0].Areas[0].People = civil.Calendar{}
	p.Sites[0].Areas[0].Ventilation = civil.Calendar{Always: true}
	p.FollowUps, p.Services, p.Rules.NoticeLead = p.FollowUps[:1], nil, nil
	look := roundLook(7, scheduler.Due{EarliestOn: march(3), StandsUntilOn: march(3)})
	look.Ways[0].Parts[0].Skills = []string{"ladder"}
	look.Plants = []site.PlantID{"ficus"}
	p.Technicians[1].Skills = []string{"ladder"}
	p.Technicians[0].Shifts = []scheduler.Shift{{Day: march(3), During: during(3, "06:00", "09:00")}}
	p.Technicians[1].Shifts = []scheduler.Shift{{Day: march(3), During: during(3, "06:30", "13:00")}}
	p.FollowUps[0].Due = scheduler.Due{EarliestOn: march(3), StandsUntilOn: march(3)}
	p.FollowUps = append(p.FollowUps, look)
	plan := solved(t, p, 20)
	spray, _ := workOf(plan, sprayID(1))
	looked, by := workOf(plan, look.ID)
	if len(spray) != 1 || len(looked) != 1 || by[0] != "T2" {
		t.Fatalf("want both:\n%s", planText(plan))
	}
	if looked[0].Ends > spray[0].Begins && looked[0].Begins < spray[0].Ends.Add(3*time.Hour) {
		t.Errorf("the look lies in the keep-out:\n%s", planText(plan))
	}
}

func TestSolve_ABreakIsTakenWhenItIsDue(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	p.FollowUps = nil
	p.Days = 5
	p.Services = p.Services[:2]
	for i := range p.Services {
		p.Services[i].Last = 0
		for g := range p.Services[i].Groups {
			p.Services[i].Groups[g].Minutes = 100 // 400 minutes at two sites
		}
	}
	p.Sites[0].Areas[0].People = civil.Calendar{}
	p.Technicians = p.Technicians[1:]
	p.Technicians[0].Shifts = p.Technicians[0].Shifts[:1]
	p.Now = at(2, "05:00")
	plan := solved(t, p, 5)
	if len(plan.Routes) != 1 || len(plan.Routes[0].Visits) != 2 || plan.Routes[0].Break.Length() != 30*time.Minute {
		t.Errorf("want one route of over six hours with a break of 30 min:\n%s", planText(plan))
	}
}

func TestSolve_EmptyAndImpossibleProblemsAreAnswers(t *testing.T) {
	t.Parallel()
	empty := scheduler.Problem{Now: at(2, "12:00"), Zone: newYork, FirstDay: march(2), Days: 14, Travel: travel.Matrix{}}
	if plan := solved(t, empty, 5); len(plan.Routes) != 0 || len(plan.Unplanned) != 0 || plan.Cost.Total != 0 {
		t.Errorf("an empty Problem gave %+v", plan)
	}
	p := roundWeek()
	for i := range p.Technicians {
		p.Technicians[i].Shifts = nil
	}
	plan := solved(t, p, 5)
	if len(plan.Routes) != 0 || len(plan.Unplanned) < len(p.FollowUps) {
		t.Errorf("without a shift everything is unplanned:\n%s", planText(plan))
	}
	for _, u := range plan.Unplanned {
		if len(u.Reasons) == 0 {
			t.Errorf("%s has no reason", u.Item)
		}
	}
}

func TestSolve_InvalidProblemIsAnError(t *testing.T) {
	t.Parallel()
	_, err := scheduler.Solve(t.Context(), scheduler.Problem{}, scheduler.Options{})
	var invalid *scheduler.InvalidProblem
	if !errors.As(err, &invalid) || len(invalid.Fields) == 0 {
		t.Errorf("%v: want *InvalidProblem with its fields", err)
	}
}

func TestSolve_StopsAtItsLimit(t *testing.T) {
	t.Parallel()
	began := time.Now()
	o := scheduler.Options{Iterations: 10_000_000, Limit: 150 * time.Millisecond, Rates: roundRates()}
	plan, err := scheduler.Solve(t.Context(), roundWeek(), o)
	if err != nil || len(plan.Routes) == 0 {
		t.Fatalf("%v: want the plan so far", err)
	}
	// Without the limit it would go on for hours; how soon it stops is a benchmark's matter.
	if took := time.Since(began); took > 20*o.Limit {
		t.Errorf("took %v under a limit of %v", took, o.Limit)
	}
	done, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := scheduler.Solve(done, roundWeek(), o); !errors.Is(err, context.Canceled) {
		t.Errorf("%v: want that of a context that is done", err)
	}
}

// The overrun past a limit of time, in milliseconds: 50 are promised.
func BenchmarkSolve_Overrun(b *testing.B) {
	o := scheduler.Options{Iterations: 10_000_000, Limit: 100 * time.Millisecond, Rates: roundRates()}
	var worst time.Duration
	for b.Loop() {
		began := time.Now()
		if _, err := scheduler.Solve(b.Context(), roundWeek(), o); err != nil {
			b.Fatal(err)
		}
		worst = max(worst, time.Since(began)-o.Limit)
	}
	b.ReportMetric(float64(worst.Microseconds())/1000, "overrun-ms")
}

func TestSolve_ReportsNeverGrowDearer(t *testing.T) {
	t.Parallel()
	var reports []scheduler.Progressed
	o := scheduler.Options{Iterations: 120, Rates: roundRates(), Report: func(r scheduler.Progressed) { reports = append(reports, r) }}
	plan, err := scheduler.Solve(t.Context(), roundWeek(), o)
	if err != nil {
		t.Fatal(err)
	}
	if len(reports) < 3 {
		t.Fatalf("%d reports: want one at first, at each improvement, and now and then", len(reports))
	}
	for i, r := range reports {
		if i > 0 && (r.Best.Total > reports[i-1].Best.Total || r.Iteration < reports[i-1].Iteration) {
			t.Errorf("report %d: %v after %v", i, r.Best.Total, reports[i-1].Best.Total)
		}
		if r.Bound != plan.Bound {
			t.Errorf("report %d: bound %v, the plan's is %v", i, r.Bound, plan.Bound)
		}
	}
	if last := reports[len(reports)-1]; last.Best.Total != plan.Cost.Total {
		t.Errorf("the last report says %v, the plan costs %v", last.Best.Total, plan.Cost.Total)
	}
}

func TestSolve_AnUnchangedWeekMovesNoPublishedVisit(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	plan := solved(t, p, 60)
	for _, r := range plan.Routes {
		for i, v := range r.Visits {
			v.ID, v.State = scheduler.VisitID(r.Technician)+scheduler.VisitID(r.Day.String())+scheduler.VisitID(rune('a'+i)), scheduler.Published
			p.Before = append(p.Before, v)
		}
	}
	again := solved(t, p, 60)
	if again.Cost.Parts[scheduler.CostChanges] != 0 || again.Cost.Total > plan.Cost.Total {
		t.Errorf("changes cost %v, the whole %v after %v:\n%s", again.Cost.Parts[scheduler.CostChanges], again.Cost.Total, plan.Cost.Total, planText(again))
	}
	for _, r := range again.Routes {
		for _, v := range r.Visits {
			if v.ID == "" {
				t.Errorf("the visit at %s, %s lost its id", v.Site, newYork.Format(v.Arrives))
			}
		}
	}
}
