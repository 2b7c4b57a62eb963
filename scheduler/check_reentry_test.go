package scheduler_test

import (
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// The spray in the floor lasts 19:30 to 20:02 on Tuesday; 4 h 30 count, since the ventilation stops at 20:00.
func TestCheckReentry_PeopleAreOut(t *testing.T) {
	t.Parallel()
	people := func(area int, windows ...civil.Weekly) func(*story) {
		return func(s *story) { s.office().Areas[area].People.Weekly = windows }
	}
	atBase := func(s *story) { // for the store with the water is shut too
		s.shut("store")
		s.mix().RinseAtBase, s.mix().Rinse, s.route().Returns = true, during(3, "20:27", "20:32"), at(3, "20:32")
	}
	guard := weekly("wed", "00:00", "01:00")
	expectBreaches(t, scheduler.RuleReentry, []breachCase{
		{name: "until it begins", change: people(0, weekly("tue", "18:00", "19:30"))},
		{name: "a minute into it", change: people(0, weekly("tue", "18:00", "19:31")), want: "people are in floor Tue 3 Mar 19:30 to Tue 3 Mar 19:31"},
		{name: "after it", change: people(0, weekly("wed", "00:32", "02:00"))},
		{name: "a minute before its end", change: people(0, weekly("wed", "00:31", "02:00")), want: "people are in floor Wed 4 Mar 00:31 to Wed 4 Mar 00:32"},
		{name: "a window of the day before", change: people(0, weekly("tue", "23:00", "25:00")), want: "people are in floor Tue 3 Mar 23:00 to Wed 4 Mar 00:32"},
		{name: "always", change: func(s *story) { s.office().Areas[0].People = civil.Calendar{Always: true} }, want: "people are in floor Tue 3 Mar 19:30 to Wed 4 Mar 00:32"},
		{name: "the client agreed to shut it", change: func(s *story) {
			people(0, guard)(s)
			s.office().Agreement.ShutAreas = []site.ShutArea{{Area: "floor", From: at(4, "00:00"), To: at(4, "00:32")}}
		}},
		{name: "agreed for part of it", change: func(s *story) {
			people(0, guard)(s)
			s.office().Agreement.ShutAreas = []site.ShutArea{{Area: "floor", From: at(4, "00:00"), To: at(4, "00:30")}}
		}, want: "people are in floor Wed 4 Mar 00:30 to Wed 4 Mar 00:32"},
		{name: "in an area apart", change: people(1, guard)},
		{name: "in an area open to it", change: func(s *story) {
			people(1, guard)(s)
			s.office().Areas[0].OpenTo = []site.AreaID{"store"}
			atBase(s)
		}, want: "people are in store"},
		{name: "in an area that says it is open to it", change: func(s *story) {
			people(1, guard)(s)
			s.office().Areas[1].OpenTo = []site.AreaID{"floor"}
			atBase(s)
		}, want: "people are in store"},
		{name: "in an area reached only through it", change: func(s *story) {
			people(1, guard)(s)
			s.office().Areas[1].ReachedOnlyThrough = "floor"
			atBase(s)
		}, want: "people are in store"},
		{name: "in an area two doors behind it", change: func(s *story) {
			s.office().Areas[1].ReachedOnlyThrough = "floor"
			s.office().Areas = append(s.office().Areas, site.Area{ID: "safe", ReachedOnlyThrough: "store", People: civil.Calendar{Weekly: []civil.Weekly{guard}}})
			atBase(s)
			s.shut("safe")
		}, want: "people are in safe"},
		{name: "ventilated all night, 3 h count", change: func(s *story) {
			people(0, weekly("tue", "23:02", "24:00"))(s)
			s.office().Areas[0].Ventilation = civil.Calendar{Always: true}
		}},
		{name: "ventilation stops a minute before the end of 3 h", change: func(s *story) {
			people(0, weekly("tue", "23:02", "24:00"))(s)
			s.office().Areas[0].Ventilation.Weekly[0].Closes = civil.NewClock(23, 1)
		}, want: "people are in floor Tue 3 Mar 23:02"},
	})
}

// leastEntry has the law ask for a least interval before entry at a site.
func leastEntry(id site.ID, least time.Duration) func(*story) {
	return func(s *story) {
		s.Problem.Rules.LeastEntry = append(s.Problem.Rules.LeastEntry, scheduler.SiteEntry{Site: id, Least: least})
	}
}

// The label says 4 h, the law 7 h at this site, as at a school in Pennsylvania (Act 36 of 2002): from the end of the
// application at 20:02 the floor is shut until 03:02.
func TestCheckReentry_TheLawsLeastIntervalAtASite(t *testing.T) {
	t.Parallel()
	fourHours := func(s *story, until string, laws ...func(*story)) {
		s.label().Entry = catalogue.Entry{Kind: catalogue.EntryHours, Hours: 4 * time.Hour}
		for _, use := range []*scheduler.Use{s.spray().Use, s.wayPart().Use} {
			use.Entry, use.KeepOut, use.KeepOutUnventilated = catalogue.EntryHours, 4*time.Hour, 0
		}
		for _, law := range laws {
			law(s)
		}
		s.Plan.KeepOuts[0].During.To = at(4, until)
	}
	seven := leastEntry("office", 7*time.Hour)
	expectBreaches(t, scheduler.RuleReentry, []breachCase{
		{name: "the label alone", change: func(s *story) { fourHours(s, "00:02") }},
		{name: "the law is longer", change: func(s *story) { fourHours(s, "03:02", seven) }},
		{name: "shut for the label's time alone", change: func(s *story) { fourHours(s, "00:02", seven) }, want: "is shut Wed 4 Mar 00:02 to Wed 4 Mar 03:02"},
		{name: "people come between", change: func(s *story) {
			fourHours(s, "03:02", seven)
			s.office().Areas[0].People.Weekly = []civil.Weekly{weekly("wed", "03:00", "04:00")}
		}, want: "people are in floor Wed 4 Mar 03:00 to Wed 4 Mar 03:02"},
		{name: "the law is shorter", change: func(s *story) { fourHours(s, "00:02", leastEntry("office", time.Hour)) }},
		{name: "the law of another site", change: func(s *story) { fourHours(s, "00:02", leastEntry("lodge", 7*time.Hour)) }},
		{name: "until dry has an interval too", want: "is shut Wed 4 Mar 00:32 to Wed 4 Mar 03:02", change: seven},
		{name: "none needed has none", change: func(s *story) {
			seven(s)
			s.label().Entry = catalogue.Entry{Kind: catalogue.EntryNone, Reason: "by hand"}
			s.spray().Use.Entry, s.wayPart().Use.Entry = catalogue.EntryNone, catalogue.EntryNone
			s.Plan.KeepOuts = nil
		}},
	})
}

func TestCheckReentry_NobodyWorksInside(t *testing.T) {
	t.Parallel()
	// other is a second technician who looks at the ficus at a time of Tuesday; the first no longer does.
	other := func(from string) func(*story) {
		return func(s *story) {
			second := storyTechnician()
			second.ID, second.Name = "T2", "Technician 2"
			second.Shifts[0].During = during(3, "12:00", "22:30")
			s.Problem.Technicians = append(s.Problem.Technicians, second)
			begins := at(3, from)
			look := *s.look()
			look.Begins, look.Ends = begins, begins.Add(minutes(6))
			s.visit().Work = s.visit().Work[1:]
			s.Plan.Routes = append(s.Plan.Routes, scheduler.DayRoute{
				Technician: "T2", Day: march(3), Departs: begins.Add(-minutes(25)), Returns: begins.Add(minutes(26)),
				Visits: []scheduler.Visit{{
					State: scheduler.Planned, Technician: "T2", Site: "office", Arrives: begins.Add(-minutes(5)), Leaves: begins.Add(minutes(6)), SignIn: minutes(5),
					Work: []scheduler.WorkItem{look},
				}},
			})
		}
	}
	running := func(area site.AreaID, from, to string) func(*story) {
		return func(s *story) {
			s.Problem.KeepOuts = []scheduler.KeepOut{{Area: area, During: during(3, from, to), Product: "soap-a", By: "T1", Item: "earlier"}}
		}
	}
	expectBreaches(t, scheduler.RuleReentry, []breachCase{
		{name: "another technician before", change: other("19:24")},
		{name: "another technician while it is sprayed", change: other("19:25"), want: "T2 works on " + string(lookItem) + " in floor"},
		{name: "another technician while it dries", change: other("21:00"), want: "which is shut by " + string(sprayItem)},
		{name: "the same visit's other work after it", want: "other work of that visit there comes before", change: func(s *story) {
			s.look().Begins, s.look().Ends = at(3, "20:07"), at(3, "20:13")
			s.visit().Leaves, s.route().Returns = at(3, "20:13"), at(3, "20:33")
			s.Problem.Plants[1].Health = scheduler.ConfirmedInfested
		}},
		{name: "a keep-out that ran before, over by then", change: running("floor", "10:00", "19:14")},
		{name: "a keep-out that runs already", change: running("floor", "10:00", "19:15"), want: "which is shut by earlier in floor"},
		{name: "a keep-out where it is mixed", change: running("store", "10:00", "19:25"), want: "mixes soap-a in store"},
		{name: "a keep-out where it is rinsed", change: running("store", "20:03", "21:00"), want: "rinse at the base"},
	})
}

func TestCheckReentry_ThePlanSaysWhatIsShut(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleReentry, []breachCase{
		{name: "not at all", change: func(s *story) { s.Plan.KeepOuts = nil }, want: "the plan does not say that floor"},
		{name: "not of an area shut with it", want: "the plan does not say that back is shut", change: func(s *story) {
			s.office().Areas = append(s.office().Areas, site.Area{ID: "back", OpenTo: []site.AreaID{"floor"}})
		}},
		{name: "by somebody else", change: func(s *story) { s.Plan.KeepOuts[0].By = "T2" }, want: "the plan does not say that floor"},
		{name: "too short", change: func(s *story) { s.Plan.KeepOuts[0].During.To = at(4, "00:31") }, want: "is shut Wed 4 Mar 00:31 to Wed 4 Mar 00:32"},
		{name: "no confirmation asked", change: func(s *story) { s.Plan.KeepOuts[0].UntilDry = false }, want: "must be confirmed dry"},
		{name: "none needed shuts nothing", change: func(s *story) {
			s.label().Entry = catalogue.Entry{Kind: catalogue.EntryNone, Reason: "by hand"}
			s.spray().Use.Entry, s.wayPart().Use.Entry = catalogue.EntryNone, catalogue.EntryNone
			s.Plan.KeepOuts = nil
		}},
	})
}

// The night in which clocks go forward: sprayed Saturday 7 March 23:30 to 00:02 EST, 3 h end at 03:02 EST = 04:02 EDT.
// The change of clocks: United States, second Sunday of March (15 U.S.C. 260a).
func TestCheckReentry_IntervalIsAbsoluteTime(t *testing.T) {
	t.Parallel()
	night := func(peopleFrom string) []scheduler.Violation {
		s := newStory()
		s.Problem.FollowUps[0].Due, s.Problem.Fixed = scheduler.Due{EarliestOn: march(3)}, nil
		s.office().Access.Weekly = []civil.Weekly{weekly("sat", "20:00", "32:00")}
		s.office().Areas[0].Ventilation = civil.Calendar{Always: true}
		s.office().Areas[0].People.Weekly = []civil.Weekly{weekly("sun", peopleFrom, "10:00")}
		s.Plan.Routes = s.Plan.Routes[:1]
		s.crew().Shifts[0] = scheduler.Shift{Day: march(7), During: civil.Interval{From: at(7, "20:00"), To: at(8, "04:00")}}
		s.route().Day = march(7)
		s.later(at(7, "23:30").Sub(at(3, "19:30")))
		s.mix().UseBy = at(8, "04:00")
		return s.check()
	}
	if got := night("04:02"); len(got) != 0 {
		t.Errorf("people from 04:02 EDT on: %v, want no breach", got)
	}
	if got := night("04:01"); len(got) != 1 || got[0].Rule != scheduler.RuleReentry || got[0].During.Length() != time.Minute {
		t.Errorf("people from 04:01 EDT on: %v, want one breach of reentry of one minute", got)
	}
}

func TestCheckReentry_CarryBackWaitsForTheRoom(t *testing.T) {
	t.Parallel()
	back := func(begins string) func(*story) {
		return func(s *story) {
			carried(4)(s)
			s.Problem.FollowUps[2].Ways[0].Parts[2].Takes = 0 // the keep-out alone speaks
			s.back(begins)
		}
	}
	expectBreaches(t, scheduler.RuleReentry, []breachCase{
		{name: "as the room opens", change: back("12:47")},
		{name: "a minute before", change: back("12:46"), want: "in plant-room at Fri 6 Mar 12:46"},
	})
}

// twoSprays adds a spray of the ficus right after that of the pothos, 20:02 to 20:12, from the same mix: need 660 + 110 =
// 770 mL = 26.04 US fl oz, + 2 dead, in 32. The two are one treatment: shut from 19:30 until 4 h 30 after 20:12.
func twoSprays(until string) func(*story) {
	return func(s *story) {
		s.Problem.Plants[1].Health = scheduler.ConfirmedInfested
		use := storyUse()
		use.Doses = []scheduler.Dose{{Plant: "ficus", Amount: volume("100 mL")}}
		second := storySpray()
		second.ID, second.Plants = "mealybug/application/1/2", []site.PlantID{"ficus"}
		second.Ways[0].Parts[0].Use, second.Ways[0].Parts[0].Takes = use, minutes(10)
		s.Problem.FollowUps = append(s.Problem.FollowUps, second)
		work := *s.spray()
		work.Item, work.Plants, work.Use, work.Begins, work.Ends = second.ID, second.Plants, use, at(3, "20:02"), at(3, "20:12")
		s.visit().Work = append(s.visit().Work, work)
		s.visit().Leaves, s.route().Returns = at(3, "20:17"), at(3, "20:37")
		s.mix().Need, s.mix().LastUse, s.mix().Rinse = volume("770 mL"), at(3, "20:12"), during(3, "20:12", "20:17")
		s.Plan.KeepOuts[0].During.To = at(4, until)
	}
}

func TestCheckReentry_ApplicationsOfAVisitInAnAreaAreOneTreatment(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleReentry, []breachCase{
		{name: "the second extends it", change: twoSprays("00:42")},
		{name: "counted from the end of the first", change: twoSprays("00:32"), want: "is shut Wed 4 Mar 00:32 to Wed 4 Mar 00:42"},
		// 1 h by the label of the second does not shorten the 4 h 30 of the first, which count from 20:12 all the same.
		{name: "a shorter interval never shortens", want: "is shut Wed 4 Mar 00:32 to Wed 4 Mar 00:42", change: func(s *story) {
			twoSprays("00:32")(s)
			for _, use := range []*scheduler.Use{s.visit().Work[2].Use, s.Problem.FollowUps[2].Ways[0].Parts[0].Use} {
				use.KeepOut, use.KeepOutUnventilated = time.Hour, time.Hour
			}
		}},
	})
}

// The second of two sprays of one visit is in another room, 20:02 to 20:12; where the two share their air, the first shuts
// it from 19:30 to 00:32, and it is no part of that treatment.
func TestCheckReentry_ApplicationsElsewhereAreOutOfATreatment(t *testing.T) {
	t.Parallel()
	elsewhere := func(openTo ...site.AreaID) func(*story) {
		return func(s *story) {
			twoSprays("00:32")(s)
			s.office().Areas = append(s.office().Areas, site.Area{ID: "back", Name: "back room", OpenTo: openTo, Climate: s.office().Areas[0].Climate})
			s.visit().Work[2].Area, s.Problem.FollowUps[2].Ways[0].Parts[0].Area = "back", "back"
			second := s.Plan.KeepOuts[0]
			second.Area, second.During, second.Item = "back", civil.Interval{From: at(3, "20:02"), To: at(4, "00:42")}, s.visit().Work[2].Item
			s.Plan.KeepOuts = append(s.Plan.KeepOuts, second)
		}
	}
	shared := func(s *story) { // each shuts the other's room too
		elsewhere("floor")(s)
		first, second := s.Plan.KeepOuts[0], s.Plan.KeepOuts[1]
		first.Area, second.Area = "back", "floor"
		s.Plan.KeepOuts = append(s.Plan.KeepOuts, first, second)
	}
	expectBreaches(t, scheduler.RuleReentry, []breachCase{
		{name: "in a room apart", change: elsewhere()},
		{name: "in a room that the first shuts", change: shared, want: "works on mealybug/application/1/2 in back at Tue 3 Mar 20:02, which is shut by " + string(sprayItem) + " in floor"},
		{name: "in the room itself", change: twoSprays("00:42")},
	})
}

// A fixed visit and its keep-outs stand in the Problem as they do in the plan: each area that is shut is judged once, by
// what the plan makes of it, and the applications of the treatment are not taken for others' work inside it.
func TestCheckReentry_KeepOutsOfFixedVisitsAreJudgedOnce(t *testing.T) {
	t.Parallel()
	s := newStory()
	twoSprays("00:42")(s)
	s.office().Areas = append(s.office().Areas, site.Area{ID: "back", OpenTo: []site.AreaID{"floor"}})
	s.shut("back")
	s.visit().State = scheduler.Pinned
	s.Problem.Fixed = append(s.Problem.Fixed, *s.visit())
	s.Problem.KeepOuts = s.Plan.KeepOuts
	for _, v := range s.check() {
		t.Error(v)
	}
}
