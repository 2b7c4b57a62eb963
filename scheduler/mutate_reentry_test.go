package scheduler_test

import (
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// during is the time of the work.
func (s *spot) during() civil.Interval { return civil.Interval{From: s.work.Begins, To: s.work.Ends} }

// shutUntil is when a keep-out that the application makes ends.
func (s *spot) shutUntil() civil.Instant {
	for _, k := range s.m.plan.KeepOuts {
		if k.Area == s.work.Area && k.During.Covers(s.during()) {
			return k.During.To
		}
	}
	return s.work.Ends
}

// keepOuts changes the plan's keep-outs of the area of an application that meet it.
func (s *spot) keepOuts(change func(k *scheduler.KeepOut)) {
	for i := range s.m.plan.KeepOuts {
		if k := &s.m.plan.KeepOuts[i]; k.Area == s.work.Area && k.During.Overlaps(s.during()) {
			change(k)
		}
	}
}

// peopled lets people into an area of a site for a stretch of one day, whatever else is said of it.
func (s *spot) peopled(area *scheduler.Area, from, to civil.Instant) {
	zone := s.site.Zone
	day := zone.DateOf(from)
	w := window("00:00", "01:00")
	w.Opens, w.Closes = zone.ClockOf(from), zone.ClockOf(from)+civil.Clock(to-from)
	area.People = civil.Calendar{Exceptions: []civil.Exception{{On: day, Windows: []civil.Window{w}}}}
	s.site.Agreement.ShutAreas = nil
}

// plainClock says whether no clock is changed from one instant to another.
func (s *spot) plainClock(from, to civil.Instant) bool {
	_, a := from.Time().In(s.site.Zone.Location()).Zone()
	_, b := to.Time().In(s.site.Zone.Location()).Zone()
	return a == b
}

// loneShut says whether an application is the only one in its area, and no clock is changed while it shuts it.
func loneShut(s *spot) bool {
	return shuts(s) && s.area != nil && s.plainClock(s.work.Begins-7200, s.shutUntil()+7200) && s.keepOutMadeAlone()
}

func (s *spot) keepOutMadeAlone() bool {
	return !slices.ContainsFunc(s.m.spots(), func(o *spot) bool {
		return o.work.Item != s.work.Item && applies(o) && o.work.Area == s.work.Area
	})
}

// other is another area of the site.
func (s *spot) other() *scheduler.Area {
	for i := range s.site.Areas {
		if s.area != nil && s.site.Areas[i].ID != s.area.ID {
			return &s.site.Areas[i]
		}
	}
	return nil
}

func reentryMutations() []mutation {
	return slices.Concat(reentryWorkMutations(), reentryPeopleMutations(), reentrySaidMutations())
}

func reentryWorkMutations() []mutation {
	rule := scheduler.RuleReentry
	working := func(s *spot) bool { return s.work.Ends > s.work.Begins && s.work.Area != "" }
	shut := func(name, want string, where func(*spot) bool, during func(m *mutant, s *spot) (site.AreaID, civil.Interval)) mutation {
		// The break is not to lie where every area is shut: that is a breach of shift.
		return mutation{rule, name, want, []scheduler.Rule{scheduler.RuleShift}, func(m *mutant, s *spot) {
			area, span := during(m, s)
			m.p.KeepOuts = append(m.p.KeepOuts, scheduler.KeepOut{Area: area, During: span, Product: "soap-a", By: "T1", Item: "other"})
		}, where}
	}
	return []mutation{
		shut("work in the last second of a keep-out", "works on", working, func(_ *mutant, s *spot) (site.AreaID, civil.Interval) {
			return s.work.Area, civil.Interval{From: s.work.Begins - 3600, To: s.work.Begins + 1}
		}),
		shut("work in the first second of a keep-out", "works on", working, func(_ *mutant, s *spot) (site.AreaID, civil.Interval) {
			return s.work.Area, civil.Interval{From: s.work.Ends - 1, To: s.work.Ends + 3600}
		}),
		shut("work where a keep-out of another day still holds", "works on", working, func(_ *mutant, s *spot) (site.AreaID, civil.Interval) {
			return s.work.Area, civil.Interval{From: s.work.Begins - 30*3600, To: s.work.Begins + 1}
		}),
		shut("work in an area open to the shut one", "works on", both(working, func(s *spot) bool { return s.other() != nil }), func(_ *mutant, s *spot) (site.AreaID, civil.Interval) {
			s.area.OpenTo = append(s.area.OpenTo, s.other().ID)
			return s.other().ID, civil.Interval{From: s.work.Begins, To: s.work.Ends}
		}),
		shut("work in an area that the shut one is open to", "works on", both(working, func(s *spot) bool { return s.other() != nil }), func(_ *mutant, s *spot) (site.AreaID, civil.Interval) {
			s.other().OpenTo = append(s.other().OpenTo, s.area.ID)
			return s.other().ID, civil.Interval{From: s.work.Begins, To: s.work.Ends}
		}),
		shut("work in an area reached only through the shut one", "works on", both(working, func(s *spot) bool { return s.other() != nil }), func(_ *mutant, s *spot) (site.AreaID, civil.Interval) {
			s.area.ReachedOnlyThrough = s.other().ID
			return s.other().ID, civil.Interval{From: s.work.Begins, To: s.work.Ends}
		}),
		shut("mixing in a shut area", "mixes", both(mixed, func(s *spot) bool { return s.mix.Area != "" }), func(_ *mutant, s *spot) (site.AreaID, civil.Interval) {
			return s.mix.Area, civil.Interval{From: s.mix.Ready - 1, To: s.mix.Ready}
		}),
		shut("rinsing in a shut area", "rinses", func(s *spot) bool { return mixed(s) && !s.mix.RinseAtBase && s.mix.Rinse.Length() > 0 }, func(m *mutant, s *spot) (site.AreaID, civil.Interval) {
			return s.rinsedIn(), civil.Interval{From: s.mix.Rinse.From, To: s.mix.Rinse.From + 1}
		}),
		{rule, "other work after an application of its visit", "works on", []scheduler.Rule{scheduler.RuleShift, scheduler.RuleAccess, scheduler.RuleTiming, scheduler.RuleMix, scheduler.RuleLabel}, func(_ *mutant, s *spot) {
			for i := range s.visit.Work {
				if w := &s.visit.Work[i]; w.Use == nil && w.Area == s.work.Area && w.Ends <= s.work.Begins && w.Ends > w.Begins {
					length := w.Ends - w.Begins
					w.Begins, w.Ends = s.work.Ends, s.work.Ends+length
					return
				}
			}
		}, func(s *spot) bool {
			return shuts(s) && slices.ContainsFunc(s.visit.Work, func(w scheduler.WorkItem) bool {
				return w.Use == nil && w.Area == s.work.Area && w.Ends <= s.work.Begins && w.Ends > w.Begins
			})
		}},
	}
}

// rinsedIn is the area of the water where the vessel is rinsed.
func (s *spot) rinsedIn() site.AreaID {
	for _, v := range s.route.Visits {
		if v.Arrives <= s.mix.Rinse.From && s.mix.Rinse.To <= v.Leaves {
			return pricer{&s.m.p, nil}.site(v.Site).Water.Area
		}
	}
	return ""
}

func reentryPeopleMutations() []mutation {
	rule := scheduler.RuleReentry
	return []mutation{
		{rule, "people come a second before it is open", "people are in", nil, func(_ *mutant, s *spot) {
			s.peopled(s.area, s.shutUntil()-1, s.shutUntil()+600)
		}, loneShut},
		{rule, "people come a second before it is open, by a clock that was changed meanwhile", "people are in", nil, func(_ *mutant, s *spot) {
			s.peopled(s.area, s.shutUntil()-1, s.shutUntil()+600)
		}, func(s *spot) bool {
			return shuts(s) && s.area != nil && !s.plainClock(s.work.Ends, s.shutUntil()-1) && s.plainClock(s.shutUntil()-1, s.shutUntil()+600) && s.keepOutMadeAlone()
		}},
		{rule, "people leave a second after it begins", "people are in", nil, func(_ *mutant, s *spot) {
			s.peopled(s.area, s.work.Begins-600, s.work.Begins+1)
		}, loneShut},
		{rule, "people are always there", "people are in", nil, func(_ *mutant, s *spot) {
			s.area.People, s.site.Agreement.ShutAreas = civil.Calendar{Always: true}, nil
		}, loneShut},
		{rule, "the client shuts the area a second too briefly", "people are in", nil, func(_ *mutant, s *spot) {
			s.area.People = civil.Calendar{Always: true}
			s.site.Agreement.ShutAreas = []site.ShutArea{{Area: s.area.ID, From: s.work.Begins, To: s.shutUntil() - 1}}
		}, loneShut},
		{rule, "the client shuts another area", "people are in", nil, func(_ *mutant, s *spot) {
			s.area.People = civil.Calendar{Always: true}
			s.site.Agreement.ShutAreas = []site.ShutArea{{Area: s.other().ID, From: s.work.Begins, To: s.shutUntil()}}
		}, both(loneShut, func(s *spot) bool { return s.other() != nil })},
		{rule, "people in an area open to it", "people are in", []scheduler.Rule{scheduler.RuleLabel}, func(_ *mutant, s *spot) {
			o := s.other()
			o.OpenTo = append(o.OpenTo, s.area.ID)
			s.peopled(o, s.shutUntil()-1, s.shutUntil()+600)
		}, both(loneShut, func(s *spot) bool { return s.other() != nil })},
		{rule, "people in an area reached only through it", "people are in", nil, func(_ *mutant, s *spot) {
			o := s.other()
			o.ReachedOnlyThrough = s.area.ID
			s.peopled(o, s.shutUntil()-1, s.shutUntil()+600)
		}, both(loneShut, func(s *spot) bool { return s.other() != nil && s.area.ReachedOnlyThrough == "" })},
		{rule, "no ventilation when it is counted on", "the plan does not say", []scheduler.Rule{scheduler.RuleShift}, func(_ *mutant, s *spot) {
			s.area.Ventilation = civil.Calendar{}
			s.part.Use.KeepOutUnventilated = s.shutUntil().Sub(s.work.Ends) + time.Second
			s.work.Use.KeepOutUnventilated = s.part.Use.KeepOutUnventilated
		}, loneShut},
	}
}

func reentrySaidMutations() []mutation {
	rule := scheduler.RuleReentry
	said := func(name, want string, change func(k *scheduler.KeepOut)) mutation {
		return mutation{rule, name, want, nil, func(_ *mutant, s *spot) { s.keepOuts(change) }, loneShut}
	}
	return []mutation{
		said("said to end a second early", "the plan does not say", func(k *scheduler.KeepOut) { k.During.To-- }),
		said("said to begin a second late", "the plan does not say", func(k *scheduler.KeepOut) { k.During.From++ }),
		said("said of another area", "the plan does not say", func(k *scheduler.KeepOut) { k.Area = "attic" }),
		said("said of another technician", "the plan does not say", func(k *scheduler.KeepOut) { k.By = "T9" }),
		said("said of another item", "the plan does not say", func(k *scheduler.KeepOut) { k.Item = "other" }),
		said("said of another product", "the plan does not say", func(k *scheduler.KeepOut) { k.Product = "other" }),
		{rule, "not said", "the plan does not say", nil, func(m *mutant, _ *spot) { m.plan.KeepOuts = nil }, loneShut},
		{rule, "not said to be confirmed dry", "must be confirmed dry", nil, func(_ *mutant, s *spot) {
			s.keepOuts(func(k *scheduler.KeepOut) { k.UntilDry = false })
		}, both(loneShut, func(s *spot) bool { return s.work.Use.Entry == "until-dry" })},
		{rule, "the law asks for a second more", "the plan does not say", []scheduler.Rule{scheduler.RuleShift}, func(m *mutant, s *spot) {
			m.p.Rules.LeastEntry = append(m.p.Rules.LeastEntry, scheduler.SiteEntry{Site: s.site.ID, Least: s.shutUntil().Sub(s.work.Ends) + time.Second})
		}, loneShut},
		{rule, "an application ends later", "the plan does not say", []scheduler.Rule{scheduler.RuleShift, scheduler.RuleTiming}, func(m *mutant, s *spot) {
			s.follow.Ways[slices.IndexFunc(s.follow.Ways, func(w scheduler.Way) bool { return w.ID == s.work.Way })].Parts[s.work.Part].Takes += time.Second
			s.work.Ends++
		}, both(loneShut, func(s *spot) bool { return s.mix == nil })},
	}
}
