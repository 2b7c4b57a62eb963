package scheduler_test

import (
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
)

func TestCheckShift_NamesWhatBreaksTheShift(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleShift, []breachCase{
		// base to office 20 min: from 18:50 not before 19:10, the visit arrives 19:09.
		{name: "too little travel", change: func(s *story) { s.route().Departs = at(3, "18:50") }, want: "travel takes 20m0s, so not before Tue 3 Mar 19:10"},
		{name: "exactly the travel", change: func(s *story) { s.route().Departs = at(3, "18:49") }},
		// ceil(1200 * 100 / 110) = ceil(1090.91) = 1091 s = 18 min 11 s.
		{name: "a faster technician", change: func(s *story) {
			s.crew().SpeedPercent = 110
			s.route().Departs = at(3, "19:09").Add(-1091 * time.Second)
		}},
		{name: "a second too late for a faster technician", want: "travel takes 18m11s", change: func(s *story) {
			s.crew().SpeedPercent = 110
			s.route().Departs = at(3, "19:09").Add(-1090 * time.Second)
		}},
		{name: "back too soon", change: func(s *story) { s.route().Returns = at(3, "20:26") }, want: "travel takes 20m0s"},
		{name: "no shift", change: func(s *story) { s.crew().Shifts = s.crew().Shifts[1:] }, want: "no shift on 2026-03-03"},
		{name: "outside the shift", change: func(s *story) { s.crew().Shifts[0].During.From = at(3, "18:49") }, want: "outside the shift"},
		{name: "too long a day", change: func(s *story) { s.Problem.Rules.MostWork = minutes(98) }, want: "works 1h39m0s"},
		{name: "exactly the longest day", change: func(s *story) { s.Problem.Rules.MostWork = minutes(99) }},
		{name: "outside the horizon", change: func(s *story) { s.Problem.FirstDay = march(4) }, want: "outside the horizon"},
		{name: "unknown technician", change: func(s *story) {
			s.route().Technician = "T9"
			s.visit().Technician, s.Plan.KeepOuts[0].By = "T9", "T9"
		}, want: `technician "T9"`},
		{name: "somebody else's visit", change: func(s *story) { s.visit().Technician, s.Plan.KeepOuts[0].By = "T2", "T2" }, want: `is "T2"'s but stands in the route of "T1"`},
		{name: "other sign-in", change: func(s *story) { s.visit().SignIn = minutes(4) }, want: "take 5m0s"},
		{name: "work during sign-in", change: func(s *story) {
			s.look().Begins, s.look().Ends = at(3, "19:13"), at(3, "19:19")
		}, want: "two things at once: sign-in at office"},
		{name: "two works at once", change: func(s *story) {
			s.look().Begins, s.look().Ends = at(3, "19:20"), at(3, "19:26")
		}, want: "does two things at once"},
		{name: "work outside its visit", want: "outside its visit", change: func(s *story) {
			s.visit().Leaves, s.mix().RinseAtBase = at(3, "20:01"), true
			s.mix().Rinse, s.route().Returns = during(3, "20:27", "20:32"), at(3, "20:32")
		}},
		{name: "work too short", change: func(s *story) { s.look().Ends = at(3, "19:18") }, want: "lasts 4m0s"},
		{name: "unknown item", change: func(s *story) { s.look().Item = "nothing/of/that/kind" }, want: "is not in the Problem"},
		{name: "unknown way", change: func(s *story) { s.look().Way = "through-the-roof" }, want: `way "through-the-roof"`},
		{name: "unknown part", change: func(s *story) { s.look().Part = 1 }, want: "part 1"},
		{name: "negative part", change: func(s *story) { s.look().Part = -1 }, want: "part -1"},
		{name: "other plants", change: func(s *story) { s.look().Plants = nil }, want: "it is for ficus"},
		{name: "other doses", change: func(s *story) { s.spray().Use.Doses[0].Amount = volume("100 mL") }, want: "does not use what part 0"},
		{name: "two persons", change: func(s *story) { s.Problem.FollowUps[1].Ways[0].Parts[0].Persons = 2 }, want: "needs 2 persons"},
		{name: "before now", change: func(s *story) { s.Problem.Now, s.Problem.Notices = at(3, "18:49"), sent(at(3, "19:30")) }, want: "before now"},
		{name: "the same item twice", want: "is planned twice", change: func(s *story) {
			again := *s.look()
			again.Begins, again.Ends = at(3, "19:24"), at(3, "19:30")
			s.later(minutes(6))
			s.look().Begins, s.look().Ends = at(3, "19:15"), at(3, "19:21")
			s.visit().Arrives, s.route().Departs = at(3, "19:09"), at(3, "18:48")
			s.visit().Work = append([]scheduler.WorkItem{again}, s.visit().Work...)
		}},
		{name: "done already", want: "was done at", change: func(s *story) {
			s.Problem.Done = []scheduler.DoneFollowUp{{ID: lookItem, Site: "office", Began: at(2, "09:00"), Ended: at(2, "09:10")}}
		}},
	})
}

func sent(begins civil.Instant) []scheduler.NoticeSent {
	return []scheduler.NoticeSent{{Item: sprayItem, Begins: begins, SentAt: at(2, "12:00")}}
}

func TestCheckShift_TellsTheTimeThatWouldBeRight(t *testing.T) {
	t.Parallel()
	s := newStory()
	s.route().Departs = at(3, "18:55")
	got := s.check()
	want := "shift: Technician 1 leaves base at Tue 3 Mar 18:55 and is at office at Tue 3 Mar 19:09: travel takes 20m0s, so not before Tue 3 Mar 19:15"
	if len(got) != 1 || got[0].String() != want {
		t.Errorf("got %v, want %s", got, want)
	}
}

// A long Tuesday: depart 13:30, return 20:27 is 6 h 57; above 6 h a break of 30 min is due in 16:00-19:00.
func TestCheckShift_AsksForABreak(t *testing.T) {
	t.Parallel()
	long := func(from, to string) func(*story) {
		return func(s *story) {
			s.route().Departs = at(3, "13:30")
			if from != "" {
				s.route().Break = during(3, from, to)
			}
		}
	}
	expectBreaches(t, scheduler.RuleShift, []breachCase{
		{name: "none", change: long("", ""), want: "without a break: above 6h0m0s a break of 30m0s is due"},
		{name: "in its window", change: long("18:00", "18:30")},
		{name: "too short", change: long("18:00", "18:29"), want: "lasts 29m0s: it takes 30m0s"},
		// A break of 5 min brings work time to 6 h 52 - still due; short breaks do not make the need for one go away.
		{name: "outside its window", change: long("15:00", "15:30"), want: "outside its window"},
		// 18:40-19:10 leaves 18:49..19:09 no room for travel and runs into the sign-in at 19:09.
		{name: "none due on a short day", change: func(s *story) {}},
		{name: "none asked where the shift has none", change: func(s *story) {
			s.route().Departs = at(3, "13:30")
			s.crew().Shifts[0].BreakTakes = 0
		}},
	})
}

func TestCheckShift_BreakOverlapsNothing(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleShift, []breachCase{
		{name: "in the sign-in", want: "sign-in at office", change: func(s *story) {
			s.Problem.Rules.BreakAfter = time.Hour
			s.crew().Shifts[0].BreakWindow = during(3, "18:00", "21:00")
			s.route().Departs = at(3, "18:00")
			s.route().Break = during(3, "19:10", "19:40")
			s.visit().Work = nil
			s.route().Mixes, s.Plan.KeepOuts = nil, nil
		}},
		// From 18:40 to 19:09 lie 29 min: the break of 10 min leaves 19 of the 20 min of travel.
		{name: "in the travel", want: "travel takes 20m0s and the break there 10m0s", change: func(s *story) {
			s.Problem.Rules.BreakAfter, s.crew().Shifts[0].BreakTakes = time.Hour, minutes(10)
			s.route().Departs = at(3, "18:40")
			s.route().Break = during(3, "18:45", "18:55")
		}},
		{name: "in a site all of which is shut", want: "while every area there is shut", change: func(s *story) {
			s.Problem.Rules.BreakAfter = time.Hour
			s.crew().Shifts[0].BreakWindow = during(3, "18:00", "21:30")
			s.office().Areas[1].ReachedOnlyThrough = "floor"
			s.shut("store")
			s.mix().RinseAtBase = true
			s.mix().Rinse = during(3, "21:22", "21:27")
			s.visit().Leaves = at(3, "21:02")
			s.route().Returns = at(3, "21:27")
			s.route().Break = during(3, "20:10", "20:40")
		}},
	})
}

func TestCheckShift_OneTechnicianOnOneRoute(t *testing.T) {
	t.Parallel()
	s := newStory()
	twice := s.Plan.Routes[1]
	s.Plan.Routes = append(s.Plan.Routes, twice)
	found := false
	for _, v := range s.check() {
		found = found || v.Rule == scheduler.RuleShift && v.Standing
		if v.Rule != scheduler.RuleShift && v.Rule != scheduler.RuleTiming {
			t.Errorf("unexpected %v", v)
		}
	}
	if !found {
		t.Error("two routes of one technician at once: no standing breach of shift found, though both are pinned")
	}
}

// A technician under way is free at the lodge from 19:00: the office is 10 min away, so 19:10 is the soonest.
func TestCheckShift_ProgressDecidesWhereTheDayGoesOn(t *testing.T) {
	t.Parallel()
	under := func(free string) func(*story) {
		return func(s *story) {
			s.Problem.Now, s.Problem.Notices = at(3, "18:40"), sent(at(3, "19:30"))
			s.Problem.Progress = []scheduler.Progress{{Technician: "T1", At: "lodge", FreeFrom: at(3, free), Worked: 2 * time.Hour}}
		}
	}
	expectBreaches(t, scheduler.RuleShift, []breachCase{
		{name: "in time", change: under("18:59")},
		{name: "too soon", change: under("19:00"), want: "no earlier arrival at office than Tue 3 Mar 19:10"},
		// 99 min of route + 120 worked = 3 h 39.
		{name: "work before counts", want: "works 3h39m0s", change: func(s *story) {
			under("18:59")(s)
			s.Problem.Rules.MostWork = minutes(218)
		}},
	})
}

// On Wednesday the pinned visit at the lodge makes T1 depart at 8:25, and the look at the office comes after it: that the shift
// begins later is the pinned visit's doing; to depart sooner than it asks, or to come back too late, is the plan's.
func TestCheckShift_ADepartureForAFactIsAFact(t *testing.T) {
	t.Parallel()
	wednesday := func(shiftFrom, shiftTo, departs string) func(*story) {
		return func(s *story) {
			r := &s.Plan.Routes[1]
			look := *s.look()
			look.Begins, look.Ends = at(4, "09:03"), at(4, "09:09")
			s.visit().Work = s.visit().Work[1:]
			r.Visits = append(r.Visits, scheduler.Visit{
				State: scheduler.Planned, Technician: "T1", Site: "office", Arrives: at(4, "08:58"), Leaves: at(4, "09:09"), SignIn: minutes(5),
				Work: []scheduler.WorkItem{look},
			})
			r.Departs, r.Returns = at(4, departs), at(4, "09:29")
			s.crew().Shifts[1].During = during(4, shiftFrom, shiftTo)
		}
	}
	expectBreaches(t, scheduler.RuleShift, []breachCase{
		{name: "inside the shift", change: wednesday("07:30", "16:00", "08:25")},
		{name: "as late as the fact allows", want: "outside the shift", standing: true, change: wednesday("08:30", "16:00", "08:25")},
		{name: "sooner than the fact asks", want: "outside the shift", change: wednesday("08:30", "16:00", "08:24")},
		{name: "back too late", want: "outside the shift", change: wednesday("08:30", "09:28", "08:25")},
	})
}
