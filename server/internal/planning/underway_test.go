package planning_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/travel"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

// drive is the travel time of a technician between two sites, by the detour and the speeds of the demo's business.
func (o *office) drive(t *testing.T, id scheduler.TechnicianID, from, to scheduler.SiteID) time.Duration {
	t.Helper()
	var took time.Duration
	o.In(t, o.Office, func(tx *store.Tx) error {
		gathered, err := planning.Gather(tx, o.Business.Zone.DateOf(o.Clock.Now()), 1)
		if err != nil {
			return err
		}
		seconds, _, _ := gathered.Problem.Travel.Between(travel.PlaceID(from), travel.PlaceID(to))
		for _, technician := range gathered.Problem.Technicians {
			if technician.ID == id {
				took = time.Duration(int(seconds)*100/technician.SpeedPercent) * time.Second
			}
		}
		return nil
	})
	return took
}

// dayOf returns the day route of a plan that holds a visit.
func dayOf(t *testing.T, plan firm.KeptPlan, id scheduler.VisitID) scheduler.DayRoute {
	t.Helper()
	for _, route := range plan.Plan.Routes {
		if slices.ContainsFunc(route.Visits, func(v scheduler.Visit) bool { return v.ID == id }) {
			return route
		}
	}
	t.Fatalf("the plan does not know visit %s, in the middle of which it is made", id)
	return scheduler.DayRoute{}
}

// In working hours technicians are at visits: the plan goes on from where they are, and can be published.
func TestPublish_InTheMiddleOfAVisitGoesOnFromThere(t *testing.T) {
	t.Parallel()
	o := open(t)
	o.publish(t, o.plan(t, 7))
	tested, goesOn := 0, 0
	for range 4 {
		i := slices.IndexFunc(o.visits(t), func(v scheduler.Visit) bool { return v.Arrives > o.Clock.Now() })
		if i < 0 {
			break
		}
		during := o.visits(t)[i]
		o.Clock.Set(during.Arrives.Add(during.Leaves.Sub(during.Arrives) / 2))
		kept := o.plan(t, 7)
		o.publish(t, kept)
		tested++
		if is := o.visit(t, during.ID); is.State != scheduler.Published || is.Arrives != during.Arrives || is.Leaves != during.Leaves || len(is.Work) != len(during.Work) {
			t.Errorf("visit %+v is %+v after publishing in the middle of it: want it as it was", during, is)
		}
		day := dayOf(t, kept, during.ID)
		if day.Departs > during.Arrives {
			t.Errorf("%s departs at %v for a visit that arrived at %v", day.Technician, day.Departs, during.Arrives)
		}
		at := slices.IndexFunc(day.Visits, func(v scheduler.Visit) bool { return v.ID == during.ID })
		for _, next := range day.Visits[at+1:] {
			goesOn++
			if free := during.Leaves.Add(o.drive(t, day.Technician, during.Site, next.Site)); next.Arrives < free {
				t.Errorf("%s arrives at %s at %v: free at %s and on the way it is not before %v", day.Technician, next.Site, next.Arrives, during.Site, free)
			}
			break
		}
	}
	if tested == 0 || goesOn == 0 {
		t.Errorf("%d plans were made within visits, %d of them with a further visit that day: want some", tested, goesOn)
	}
}

func (o *office) visit(t *testing.T, id scheduler.VisitID) (visit scheduler.Visit) {
	t.Helper()
	o.In(t, o.Office, func(tx *store.Tx) (err error) {
		visit, err = tx.Visit(id)
		return err
	})
	return visit
}

// What a running visit applies is not planned again, its mix is in the vessel, and its areas are shut.
func TestPublish_WhileAnApplicationRunsKeepsItsMixAndKeepOut(t *testing.T) {
	t.Parallel()
	o := open(t)
	booked, err := o.book(t, "2026-03-04 12:00", nil)
	if err != nil {
		t.Fatal(err)
	}
	o.In(t, o.Office, func(tx *store.Tx) error { return tx.SetVisitState(booked.ID, scheduler.Published) })
	o.MoveClock(t, "2026-03-04 12:05")
	kept := o.plan(t, 7)
	day := dayOf(t, kept, booked.ID)
	i := slices.IndexFunc(day.Visits, func(v scheduler.Visit) bool { return v.ID == booked.ID })
	mix := day.Visits[i].Work[0].MixIndex
	if mix < 0 || mix >= len(day.Mixes) || day.Mixes[mix].Product != "bti" {
		t.Errorf("the drench draws on mix %d of %+v: want the one that is in the can", mix, day.Mixes)
	}
	if !slices.ContainsFunc(kept.Plan.KeepOuts, func(k scheduler.KeepOut) bool { return k.Area == "hotel-reading" && k.Item == firstDrench }) {
		t.Errorf("keep-outs %+v: want the reading room's", kept.Plan.KeepOuts)
	}
	o.publish(t, kept)
	if held := o.holding(t, firstDrench); held.ID != booked.ID {
		t.Errorf("visit %s holds the drench too", held.ID)
	}
	o.hasMix(t, o.visit(t, booked.ID))
}

// reportOf reports the drench of a booked visit as it was planned, half a minute before the visit was to end.
func (o *office) reportOf(t *testing.T, visit scheduler.Visit) {
	t.Helper()
	report := o.Drench(t, "drenched", 1, "2026-03-04 12:00")
	report.Visit, report.Arrived, report.Left, report.SentAt = visit.ID, visit.Arrives, o.Clock.Now(), o.Clock.Now()
	report.Items[0].Began, report.Items[0].Ended = visit.Work[0].Begins, o.Clock.Now()
	o.Report(t, report)
}

// A report that ends the visit between planning and publishing refuses nothing.
func TestPublish_AfterTheReportOfTheVisitThatRan(t *testing.T) {
	t.Parallel()
	o := open(t)
	booked, err := o.book(t, "2026-03-04 12:00", nil)
	if err != nil {
		t.Fatal(err)
	}
	o.Clock.Set(booked.Leaves.Add(-30 * time.Second))
	kept := o.plan(t, 3)
	o.reportOf(t, booked)
	o.publish(t, kept)
	if is := o.visit(t, booked.ID); is.State != scheduler.Done || len(is.Work) != len(booked.Work) {
		t.Errorf("the visit is %+v: want it done, with its work", is)
	}
}

// Where a visit was made and reported the day goes on from its site, and its mix is in the vessel.
func TestGather_ADayUnderWayGoesOnFromTheVisitThatWasReported(t *testing.T) {
	t.Parallel()
	o := open(t)
	booked, err := o.book(t, "2026-03-04 12:00", nil)
	if err != nil {
		t.Fatal(err)
	}
	o.Clock.Set(booked.Leaves.Add(-30 * time.Second))
	o.reportOf(t, booked)
	o.Clock.Set(booked.Leaves.Add(30 * time.Second))
	var p scheduler.Problem
	o.In(t, o.Office, func(tx *store.Tx) error {
		gathered, err := planning.Gather(tx, o.Business.Zone.DateOf(tx.Now()), 7)
		p = gathered.Problem
		return err
	})
	if len(p.Fixed) != 1 || p.Fixed[0].ID != booked.ID || len(p.Fixed[0].Work) != 0 {
		t.Errorf("fixed are %+v: want the visit that was made, without its work", p.Fixed)
	}
	if len(p.Mixes) != 1 || p.Mixes[0].Product != "bti" {
		t.Errorf("mixes %+v: want the one that the can is not rinsed of", p.Mixes)
	}
}

// Pennsylvania Act 36 of 2002: no application where students are expected to be present within 7 hours.
func TestGather_KnowsTheLeastEntryThatTheLawAsksFor(t *testing.T) {
	t.Parallel()
	p := gather(t, firmtest.Open(t), 7)
	want := []scheduler.SiteEntry{{Site: "school-brook-end", Least: 7 * time.Hour}}
	if !slices.Equal(p.Rules.LeastEntry, want) {
		t.Errorf("least intervals before entry %+v: want %+v", p.Rules.LeastEntry, want)
	}
}

// A report from elsewhere, whenever it comes, never refuses a publication.
func TestPublish_ReportsFromElsewhereDoNotRefuseIt(t *testing.T) {
	t.Parallel()
	o := open(t)
	kept := o.plan(t, 2)
	for _, route := range kept.Plan.Routes {
		if slices.ContainsFunc(route.Visits, func(v scheduler.Visit) bool { return v.Site == "school-brook-end" }) {
			t.Fatal("the plan visits the school: want something that has nothing to do with it")
		}
	}
	o.Find(t, "elsewhere", "citrus-mealybug", "school-staff-01")
	look := firmtest.Next(t, o.Course(t, "elsewhere"), course.KindInspectInfested)
	tries := 0
	err := o.tryWith(t, kept, func(try int) {
		tries = try
		was := o.Case(t, "elsewhere").Version
		report := o.Look(t, fmt.Sprint("elsewhere-", try), 1, "2026-03-02 11:00")
		report.Site, report.Items = look.Site, []firm.ReportItem{{Item: look.ID, Outcome: course.RanOutOfTime}}
		o.Report(t, report)
		if o.Case(t, "elsewhere").Version == was {
			t.Error("the report changes nothing of the case")
		}
	})
	if err != nil || tries != 1 {
		t.Errorf("published at try %d: %v; want it at the first", tries, err)
	}
}

// A visit that was made before its time holds nobody at that time: its technician and its areas are free then, and a plan that
// is made after it can be published.
func TestGather_AVisitMadeEarlyHoldsNobodyAtItsTime(t *testing.T) {
	t.Parallel()
	o := open(t)
	booked, err := o.book(t, "2026-03-04 12:00", nil)
	if err != nil {
		t.Fatal(err)
	}
	report := o.Drench(t, "early", 1, "2026-03-02 11:20")
	report.Visit, report.Left, report.SentAt = booked.ID, o.Clock.Now(), o.Clock.Now()
	o.Report(t, report)
	o.In(t, o.Office, func(tx *store.Tx) error {
		gathered, err := planning.Gather(tx, o.Business.Zone.DateOf(o.Clock.Now()), 7)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(gathered.Problem.Fixed, func(v scheduler.Visit) bool { return v.ID == booked.ID }) || len(gathered.Problem.Mixes) > 0 {
			t.Errorf("visit %s was made early and still holds its technician; mixes %v", booked.ID, gathered.Problem.Mixes)
		}
		return nil
	})
	o.publish(t, o.plan(t, 7))
	o.In(t, o.Office, func(tx *store.Tx) error {
		there := o.visit(t, booked.ID)
		there.ID, there.State, there.Technician = "in-its-place", scheduler.Pinned, "tech-b"
		for i := range there.Work { // work in the room that the drench would have shut
			there.Work[i].Use, there.Work[i].MixIndex = nil, -1
		}
		return tx.ReplaceVisits(nil, []scheduler.Visit{there}, nil, nil, "")
	})
}

// A break that was taken is known: no other one is due that day, and what is planned in the afternoon can be published.
func TestGather_KnowsABreakThatWasTaken(t *testing.T) {
	t.Parallel()
	o := open(t)
	o.publish(t, o.plan(t, 7))
	var route firm.Route
	o.In(t, o.Office, func(tx *store.Tx) error {
		routes, err := tx.Routes(store.RouteFilter{})
		if err != nil || len(routes) == 0 {
			t.Fatal(routes, err)
		}
		route = routes[0]
		if route.Break.Empty() { // a short day: it is told to have had one all the same
			route.Break = civil.Interval{From: route.Departs, To: route.Departs.Add(5 * time.Minute)}
		}
		return tx.ReplaceVisits(nil, nil, []firm.Route{route}, nil, "")
	})
	for _, c := range []struct {
		at    civil.Instant
		taken bool
	}{{route.Break.To.Add(-time.Minute), false}, {route.Break.To.Add(time.Minute), true}} {
		o.Clock.Set(c.at)
		o.In(t, o.Office, func(tx *store.Tx) error {
			gathered, err := planning.Gather(tx, route.Day, 3)
			for _, technician := range gathered.Problem.Technicians {
				for _, shift := range technician.Shifts {
					if none := shift.BreakTakes == 0; technician.ID == route.Technician && none != (c.taken && shift.Day == route.Day) {
						t.Errorf("at %v the shift of %v asks for a break of %v", c.at, shift.Day, shift.BreakTakes)
					}
				}
			}
			return err
		})
	}
	o.publish(t, o.plan(t, 3))
}
