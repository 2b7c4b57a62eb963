package scheduler_test

import (
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/site"
)

func TestCheckTiming_DaysOfAFollowUp(t *testing.T) {
	t.Parallel()
	due := func(d scheduler.Due) func(*story) {
		return func(s *story) { s.Problem.FollowUps[0].Due = d }
	}
	after := func(id scheduler.ItemID, earliest, stands int) func(*story) {
		return due(scheduler.Due{After: id, EarliestLag: earliest, IdealLag: earliest, LatestLag: earliest, StandsUntilLag: stands})
	}
	done := func(day int, d func(*story)) func(*story) {
		return func(s *story) {
			d(s)
			s.Problem.Done = []scheduler.DoneFollowUp{{ID: "mealybug/application/1/0", Site: "office", Began: at(day, "23:30"), Ended: at(day, "23:50")}}
		}
	}
	expectBreaches(t, scheduler.RuleTiming, []breachCase{
		{name: "on its earliest day", change: due(scheduler.Due{EarliestOn: march(3)})},
		{name: "before its earliest day", change: due(scheduler.Due{EarliestOn: march(4)}), want: "its earliest day is 2026-03-04"},
		{name: "on its stands-until day", change: due(scheduler.Due{EarliestOn: march(2), StandsUntilOn: march(3)})},
		{name: "after its stands-until day", change: due(scheduler.Due{EarliestOn: march(1), StandsUntilOn: march(2)}), want: "it stands until 2026-03-02 only"},
		{name: "late is priced, not refused", change: due(scheduler.Due{EarliestOn: march(1), LatestOn: march(2)})},
		{name: "without the one before it", change: after("mealybug/application/1/0", 7, 10), want: "neither planned nor done"},
		// Began Tue 24 Feb 23:30 in New York (= 25 Feb 04:30 UTC): 7 civil days to Tue 3 March.
		{name: "7 days after a late evening", change: done(-4, after("mealybug/application/1/0", 7, 10))},
		{name: "a day too soon", change: done(-3, after("mealybug/application/1/0", 7, 10)), want: "its earliest day is 2026-03-04"},
		{name: "a day too late", change: done(-8, after("mealybug/application/1/0", 7, 10)), want: "it stands until 2026-03-02 only"},
		{name: "after one on the same visit", change: after(lookItem, 0, 0)},
		{name: "the one before it planned too late", change: after(lookItem, 1, 0), want: "its earliest day is 2026-03-04"},
	})
}

func TestCheckTiming_Links(t *testing.T) {
	t.Parallel()
	link := func(l scheduler.Link) func(*story) {
		return func(s *story) { s.Problem.Links = []scheduler.Link{l} }
	}
	water := scheduler.ItemID(waterLodge + "#1")
	expectBreaches(t, scheduler.RuleTiming, []breachCase{
		{name: "in order", change: link(scheduler.Link{Kind: scheduler.Order, From: lookItem, To: sprayItem})},
		{name: "out of order", change: link(scheduler.Link{Kind: scheduler.Order, From: sprayItem, To: lookItem}), want: "it comes after " + string(sprayItem)},
		{name: "needs what comes before", change: link(scheduler.Link{Kind: scheduler.Needs, From: lookItem, To: sprayItem})},
		{name: "needs what comes after", change: link(scheduler.Link{Kind: scheduler.Needs, From: sprayItem, To: lookItem}), want: "without " + string(sprayItem) + " before it"},
		{name: "needs what is not planned", change: link(scheduler.Link{Kind: scheduler.Needs, From: waterOffice + "#1", To: sprayItem}), want: "without water-office#1 before it"},
		{name: "one visit", change: link(scheduler.Link{Kind: scheduler.SameVisit, From: lookItem, To: sprayItem})},
		{name: "two visits", change: link(scheduler.Link{Kind: scheduler.SameVisit, From: sprayItem, To: water}), want: "are on two visits"},
		{name: "a day between", change: link(scheduler.Link{Kind: scheduler.LeastLag, From: sprayItem, To: water, Days: 1})},
		{name: "two days between", change: link(scheduler.Link{Kind: scheduler.LeastLag, From: sprayItem, To: water, Days: 2}), want: "not before 2026-03-05"},
		// From the end at Tue 20:02 to the beginning at Wed 08:45 lie 12 h 43.
		{name: "hours from end to beginning", change: link(scheduler.Link{Kind: scheduler.LeastLag, From: sprayItem, To: water, Hours: 12*time.Hour + minutes(43)})},
		{name: "a second more", change: link(scheduler.Link{Kind: scheduler.LeastLag, From: sprayItem, To: water, Hours: 12*time.Hour + minutes(43) + time.Second}), want: "at least 12h43m1s lie between"},
		{name: "a link to what is neither planned nor done holds nothing up", change: link(scheduler.Link{Kind: scheduler.Order, From: waterOffice + "#1", To: lookItem})},
		{name: "counted from what was done", want: "not before 2026-03-04", change: func(s *story) {
			link(scheduler.Link{Kind: scheduler.LeastLag, From: "patch", To: sprayItem, Days: 2})(s)
			s.Problem.Done = []scheduler.DoneFollowUp{{ID: "patch", Site: "office", Began: at(2, "08:00"), Ended: at(2, "08:05")}}
		}},
	})
}

// watered adds a watering of the office on Monday 9 March, 09:20 to 09:30.
func watered(s *story) {
	s.crew().Shifts = append(s.crew().Shifts, scheduler.Shift{Day: march(9), During: during(9, "07:30", "16:00")})
	item := func(plant site.PlantID, from, to string) scheduler.WorkItem {
		return scheduler.WorkItem{Item: waterOffice + "#1", Service: site.WateringService, Area: "floor", Plants: []site.PlantID{plant}, Begins: at(9, from), Ends: at(9, to), MixIndex: -1}
	}
	s.Plan.Routes = append(s.Plan.Routes, scheduler.DayRoute{
		Technician: "T1", Day: march(9), Departs: at(9, "08:55"), Returns: at(9, "09:50"),
		Visits: []scheduler.Visit{{
			State: scheduler.Planned, Technician: "T1", Site: "office", Arrives: at(9, "09:15"), Leaves: at(9, "09:30"), SignIn: minutes(5),
			Work: []scheduler.WorkItem{item("ficus", "09:20", "09:24"), item("pothos", "09:24", "09:30")},
		}},
	})
}

func TestCheckTiming_Services(t *testing.T) {
	t.Parallel()
	visit := func(s *story) *scheduler.Visit { return &s.Plan.Routes[2].Visits[0] }
	expectBreaches(t, scheduler.RuleTiming, []breachCase{
		{name: "seven days after the last", change: watered},
		{name: "before its earliest lag", want: "not before 8 days after, on 2026-03-10", change: func(s *story) {
			watered(s)
			s.Problem.Services[1].Earliest, s.Problem.Services[1].Ideal = 8, 8
		}},
		{name: "late is never refused", change: func(s *story) {
			watered(s)
			s.Problem.Services[1].Last = march(-20)
		}},
		{name: "a plant left out", want: "leaves out plant pothos", change: func(s *story) {
			watered(s)
			visit(s).Work = visit(s).Work[:1]
		}},
		{name: "infested before neighbour", want: "work on the cleaner plants comes first", change: func(s *story) {
			watered(s)
			visit(s).Work[0].Begins, visit(s).Work[0].Ends = at(9, "09:26"), at(9, "09:30")
			visit(s).Work[1].Begins, visit(s).Work[1].Ends = at(9, "09:20"), at(9, "09:26")
		}},
		{name: "two healths in one work item", want: "not cut by health and area", change: func(s *story) {
			watered(s)
			visit(s).Work = visit(s).Work[:1]
			visit(s).Work[0].Plants = []site.PlantID{"ficus", "pothos"}
			visit(s).Work[0].Ends = at(9, "09:30")
		}},
		{name: "instead of another day's", change: func(s *story) {
			watered(s)
			s.Problem.Links = []scheduler.Link{{Kind: scheduler.InsteadOf, From: sprayItem, To: waterOffice}}
		}},
		{name: "instead of that day's", want: "holds plant pothos", change: func(s *story) {
			watered(s)
			s.Problem.Links = []scheduler.Link{{Kind: scheduler.InsteadOf, From: "drench", To: waterOffice}}
			s.Problem.FollowUps = append(s.Problem.FollowUps, scheduler.FollowUp{ID: "drench", Plants: []site.PlantID{"pothos"}, Due: scheduler.Due{EarliestOn: march(9)}})
			s.Problem.Done = []scheduler.DoneFollowUp{{ID: "drench", Site: "office", Began: at(9, "07:00"), Ended: at(9, "07:10")}}
		}},
		{name: "taken out by instead of", change: func(s *story) {
			watered(s)
			s.Problem.Links = []scheduler.Link{{Kind: scheduler.InsteadOf, From: "drench", To: waterOffice}}
			s.Problem.FollowUps = append(s.Problem.FollowUps, scheduler.FollowUp{ID: "drench", Plants: []site.PlantID{"pothos"}, Due: scheduler.Due{EarliestOn: march(9)}})
			s.Problem.Done = []scheduler.DoneFollowUp{{ID: "drench", Site: "office", Began: at(9, "07:00"), Ended: at(9, "07:10")}}
			visit(s).Work = visit(s).Work[:1]
		}},
		{name: "no leaching: not marked", want: "let nothing run through", change: func(s *story) {
			watered(s)
			s.Problem.Links = []scheduler.Link{{Kind: scheduler.Not, From: sprayItem, To: waterOffice, Days: 10}}
		}},
		{name: "no leaching: marked", change: func(s *story) {
			watered(s)
			s.Problem.Links = []scheduler.Link{{Kind: scheduler.Not, From: sprayItem, To: waterOffice, Days: 10}}
			visit(s).Work[1].Marked = true
		}},
		{name: "no leaching: over by then", change: func(s *story) {
			watered(s)
			s.Problem.Links = []scheduler.Link{{Kind: scheduler.Not, From: sprayItem, To: waterOffice, Days: 6}}
		}},
	})
}

// A fixed visit that comes too early after the last watering is a fact: said, but standing.
func TestCheckTiming_FactsAreStanding(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleTiming, []breachCase{
		{name: "pinned visit", standing: true, want: "comes not before 5 days after", change: func(s *story) { s.Problem.Services[0].Last = march(1) }},
	})
}

// Out 09:05-09:17, spray 09:23-09:47, wait 3 h until 12:47, back from 13:05: away 09:17 to 13:05 = 3 h 48.
func TestCheckTiming_PartsOfAWay(t *testing.T) {
	t.Parallel()
	with := func(change func(*story)) func(*story) {
		return func(s *story) {
			carried(4)(s)
			change(s)
		}
	}
	way := func(s *story) *scheduler.Way { return &s.Problem.FollowUps[2].Ways[0] }
	expectBreaches(t, scheduler.RuleTiming, []breachCase{
		{name: "carried, treated, brought back", change: carried(4)},
		{name: "never brought back", want: "without part 3 (carry-back)", change: with(func(s *story) { s.Plan.Routes = s.Plan.Routes[:3] })},
		{name: "away too long", want: "3h48m0s after they were carried out: at most 3h47m0s", change: with(func(s *story) { way(s).MostAway = 3*time.Hour + minutes(47) })},
		{name: "a wait cut short", want: "it waits 3h19m0s after", change: with(func(s *story) { way(s).Parts[2].Takes = 3*time.Hour + minutes(19) })},
		{name: "a gap that is no mixing", want: "only mixing may lie between", change: with(func(s *story) {
			w := &s.carryOut().Work[0]
			w.Begins, w.Ends = w.Begins.Add(-time.Minute), w.Ends.Add(-time.Minute)
			s.carryOut().Arrives = s.carryOut().Arrives.Add(-time.Minute)
			s.Plan.Routes[2].Departs = s.Plan.Routes[2].Departs.Add(-time.Minute)
		})},
		{name: "begins in its window", change: func(s *story) { s.wayPart().Windows = append(s.wayPart().Windows, window("19:30", "21:00")) }},
		{name: "begins before its window", change: func(s *story) { s.wayPart().Windows = append(s.wayPart().Windows, window("19:31", "21:00")) }, want: "may begin from 19:31 to 21:00"},
	})
}
