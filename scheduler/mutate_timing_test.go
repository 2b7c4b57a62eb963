package scheduler_test

import (
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
)

// dated and chained say by what the days of a follow-up count; only the first work item of it is asked.
func dated(s *spot) bool   { return follows(s) && s.follow.Due.After == "" }
func chained(s *spot) bool { return follows(s) && s.follow.Due.After != "" }

// parted says whether the work item is not the first of its way.
func parted(s *spot) bool { return follows(s) && s.work.Part > 0 }

func partOf(kind scheduler.PartKind) func(*spot) bool {
	return func(s *spot) bool { return follows(s) && s.part.Kind == kind }
}

// lag is how many days after what it follows a follow-up begins.
func (s *spot) lag() int {
	for _, o := range s.m.planned() {
		if o.work.Item == s.follow.Due.After {
			return s.site.Zone.DateOf(s.first()).DaysSince(o.day())
		}
	}
	return -1
}

func timingMutations() []mutation {
	return slices.Concat(timingDayMutations(), timingWayMutations(), timingLinkMutations(), timingServiceMutations())
}

func timingDayMutations() []mutation {
	rule := scheduler.RuleTiming
	firstDay := func(s *spot) civil.Date { return s.site.Zone.DateOf(s.first()) }
	return []mutation{
		{rule, "a day before its earliest", "its earliest day is", nil, func(_ *mutant, s *spot) { s.follow.Due.EarliestOn = firstDay(s) + 1 }, dated},
		{rule, "a day after it stands", "it stands until", nil, func(_ *mutant, s *spot) { s.follow.Due.StandsUntilOn = firstDay(s) - 1 }, dated},
		{rule, "a day before its earliest lag", "its earliest day is", nil, func(_ *mutant, s *spot) { s.follow.Due.EarliestLag = s.lag() + 1 }, chained},
		{rule, "a day after its last lag", "it stands until", nil, func(_ *mutant, s *spot) { s.follow.Due.StandsUntilLag = s.lag() - 1 }, both(chained, func(s *spot) bool { return s.lag() > 1 })},
		{rule, "without what it follows", "which it follows and which is neither planned nor done", nil, func(_ *mutant, s *spot) { s.follow.Due = scheduler.Due{After: "gone"} }, follows},
		{rule, "before what it follows", "which it follows (", nil, func(_ *mutant, s *spot) {
			s.follow.Due = scheduler.Due{After: s.another(true, always).work.Item}
		}, hasLater},
		{rule, "part begins a second before its window", "may begin from", nil, func(_ *mutant, s *spot) {
			w := window("00:00", "01:00")
			w.Opens, w.Closes = s.clock(s.work.Begins)+1, s.clock(s.work.Begins)+2
			s.part.Windows = []civil.Window{w}
		}, both(oneDay, both(follows, func(s *spot) bool { return s.clock(s.work.Begins) < 86000 }))},
		{rule, "part begins as its window closes", "may begin from", nil, func(_ *mutant, s *spot) {
			w := window("00:00", "01:00")
			w.Opens, w.Closes = 0, s.clock(s.work.Begins)
			s.part.Windows = []civil.Window{w}
		}, both(oneDay, both(follows, func(s *spot) bool { return s.clock(s.work.Begins) > 0 }))},
	}
}

func timingWayMutations() []mutation {
	rule := scheduler.RuleTiming
	among := []scheduler.Rule{scheduler.RuleShift, scheduler.RuleAccess, scheduler.RuleReentry, scheduler.RuleMix}
	drop := func(_ *mutant, s *spot) {
		k := slices.IndexFunc(s.visit.Work, func(w scheduler.WorkItem) bool { return w.Item == s.work.Item && w.Part == s.work.Part })
		s.visit.Work = slices.Delete(s.visit.Work, k, k+1)
	}
	return []mutation{
		{rule, "plants carried out and not back", "is planned without part", among, drop, partOf(scheduler.CarryBackPart)},
		{rule, "plants not carried out", "is planned without part", among, drop, partOf(scheduler.CarryOutPart)},
		{rule, "the application in the middle left out", "is planned without part", among, drop, both(parted, applies)},
		{rule, "back a second before the wait is over", "goes on at", nil, func(_ *mutant, s *spot) {
			out := slices.IndexFunc(s.way.Parts, func(p scheduler.Part) bool { return p.Kind == scheduler.WaitPart })
			for _, o := range s.m.spots() {
				if o.work.Item == s.work.Item && o.work.Part == out-1 {
					s.way.Parts[out].Takes = s.work.Begins.Sub(o.work.Ends) + time.Second
				}
			}
		}, partOf(scheduler.CarryBackPart)},
		{rule, "back a second later than agreed", "brings its plants back", nil, func(_ *mutant, s *spot) {
			for _, o := range s.m.spots() {
				if o.work.Item == s.work.Item && o.part.Kind == scheduler.CarryOutPart {
					s.way.MostAway = s.work.Begins.Sub(o.work.Ends) - time.Second
				}
			}
		}, partOf(scheduler.CarryBackPart)},
		{rule, "a second between two parts", "only mixing may lie between", among, func(_ *mutant, s *spot) {
			for i := range s.visit.Work {
				if w := &s.visit.Work[i]; w.Item == s.work.Item && w.Part == s.work.Part-1 {
					w.Begins, w.Ends = w.Begins-1, w.Ends-1
				}
			}
		}, both(parted, applies)},
		{rule, "parts on two visits", "without a wait between them they are on one", append(among, scheduler.RuleTiming), func(_ *mutant, s *spot) {
			k := slices.IndexFunc(s.route.Visits, func(v scheduler.Visit) bool { return v.Arrives == s.visit.Arrives })
			second := *s.visit
			i := slices.IndexFunc(s.visit.Work, func(w scheduler.WorkItem) bool { return w.Begins == s.work.Begins })
			second.Work, second.Arrives = slices.Clone(s.visit.Work[i:]), s.work.Begins
			s.visit.Work, s.visit.Leaves = s.visit.Work[:i], s.work.Begins
			s.route.Visits = slices.Insert(s.route.Visits, k+1, second)
		}, both(parted, applies)},
		{rule, "infested before clean", "work on the cleaner plants comes first", nil, func(m *mutant, s *spot) {
			s.plant.Health = scheduler.ConfirmedInfested
			for _, id := range s.next().Plants {
				m.plant(id).Health = scheduler.Clean
			}
		}, func(s *spot) bool {
			n := s.next()
			return follows(s) && s.plant != nil && n != nil && len(n.Plants) > 0 && n.Service == "" && !slices.Contains(n.Plants, s.plant.Plant.ID)
		}},
	}
}

func timingLinkMutations() []mutation {
	rule := scheduler.RuleTiming
	daysTo := func(s, o *spot) int {
		return o.site.Zone.DateOf(o.work.Begins).DaysSince(s.site.Zone.DateOf(s.first()))
	}
	linked := func(name, want string, kind scheduler.LinkKind, change func(s, o *spot, l *scheduler.Link)) mutation {
		return mutation{rule, name, want, nil, func(m *mutant, s *spot) {
			o := s.another(true, always)
			l := scheduler.Link{Kind: kind, From: s.work.Item, To: o.work.Item}
			change(s, o, &l)
			m.link(l)
		}, hasLater}
	}
	turned := func(_, _ *spot, l *scheduler.Link) { l.From, l.To = l.To, l.From }
	return []mutation{
		linked("a day less than the least lag", "days lie between them", scheduler.LeastLag, func(s, o *spot, l *scheduler.Link) { l.Days = daysTo(s, o) + 1 }),
		linked("a second less than the least lag", "lie between the end of", scheduler.LeastLag, func(s, o *spot, l *scheduler.Link) {
			l.Hours = o.work.Begins.Sub(s.m.endOf(s.work.Item)) + time.Second
		}),
		linked("the wrong way round", "it comes after", scheduler.Order, turned),
		linked("before what it needs", "before it, planned or done", scheduler.Needs, turned),
		linked("without what it needs", "before it, planned or done", scheduler.Needs, func(_, _ *spot, l *scheduler.Link) { l.From = "gone" }),
		{rule, "on two visits", "they are linked to one", nil, func(m *mutant, s *spot) {
			m.link(scheduler.Link{Kind: scheduler.SameVisit, From: s.work.Item, To: s.another(true, func(o *spot) bool { return o.visit != s.visit }).work.Item})
		}, func(s *spot) bool {
			return follows(s) && s.another(true, func(o *spot) bool {
				return o.visit.Arrives != s.visit.Arrives || o.visit.Technician != s.visit.Technician
			}) != nil
		}},
		{rule, "watered though it replaces the watering", "replaces: take it out", nil, func(m *mutant, s *spot) {
			m.link(scheduler.Link{Kind: scheduler.InsteadOf, From: s.followOf(s.work.Plants, true).work.Item, To: scheduler.ItemID(s.service.ID)})
		}, func(s *spot) bool { return serves(s) && s.followOf(s.work.Plants, true) != nil }},
		{rule, "not watered though nothing replaces it", "leaves out plant", []scheduler.Rule{scheduler.RuleLabel}, func(m *mutant, s *spot) {
			m.p.Links = slices.DeleteFunc(m.p.Links, func(l scheduler.Link) bool { return l.Kind == scheduler.InsteadOf && string(l.To) == s.service.ID })
		}, func(s *spot) bool { return serves(s) && s.leavesOut() }},
		{rule, "not marked", "is not marked", nil, func(m *mutant, s *spot) {
			m.link(scheduler.Link{Kind: scheduler.Not, From: s.followOf(s.work.Plants, false).work.Item, To: scheduler.ItemID(s.service.ID)})
			s.work.Marked = false
		}, func(s *spot) bool { return serves(s) && s.followOf(s.work.Plants, false) != nil }},
		{rule, "not marked to the end of its hours", "is not marked", nil, func(m *mutant, s *spot) {
			f := s.followOf(s.work.Plants, false)
			m.link(scheduler.Link{Kind: scheduler.Not, From: f.work.Item, To: scheduler.ItemID(s.service.ID), Hours: s.work.Begins.Sub(m.endOf(f.work.Item)) + 24*time.Hour})
			s.work.Marked = false
		}, func(s *spot) bool { return serves(s) && s.followOf(s.work.Plants, false) != nil }},
	}
}

// followOf finds a planned follow-up of any of some plants on the day of a service (or before it begins).
func (s *spot) followOf(plants []scheduler.PlantID, sameDay bool) *spot {
	for _, o := range s.m.planned() {
		if o.follow == nil || !slices.ContainsFunc(o.follow.Plants, func(id scheduler.PlantID) bool { return slices.Contains(plants, id) }) {
			continue
		}
		if sameDay && o.day() == s.site.Zone.DateOf(s.first()) || !sameDay && o.work.Begins <= s.first() {
			return o
		}
	}
	return nil
}

// leavesOut says whether an occurrence leaves out plants of its service.
func (s *spot) leavesOut() bool {
	count := 0
	for _, o := range s.m.spots() {
		if o.work.Item == s.work.Item {
			count += len(o.work.Plants)
		}
	}
	return count < len(s.service.Groups)
}

func timingServiceMutations() []mutation {
	rule := scheduler.RuleTiming
	among := []scheduler.Rule{scheduler.RuleShift, scheduler.RuleLabel}
	several := func(s *spot) bool { return serves(s) && len(s.work.Plants) > 1 }
	return []mutation{
		{rule, "a day before its earliest lag", "comes not before", nil, func(_ *mutant, s *spot) {
			s.service.Last = s.site.Zone.DateOf(s.first()).AddDays(1 - s.service.Earliest)
		}, serves},
		{rule, "a plant left out", "leaves out plant", among, func(m *mutant, s *spot) { s.work.Plants = s.work.Plants[1:] }, several},
		{rule, "plants of two healths in one work item", "is not cut by health and area", nil, func(m *mutant, s *spot) {
			first, second := m.plant(s.work.Plants[0]), m.plant(s.work.Plants[1])
			second.Health = scheduler.Clean
			if first.Health == scheduler.Clean {
				second.Health = scheduler.ConfirmedInfested
			}
		}, several},
		{rule, "plants of one area in two work items", "is not cut by health and area", among, func(m *mutant, s *spot) {
			second := *s.work
			half := time.Duration(0)
			for _, g := range s.service.Groups {
				if g.Plant == s.work.Plants[0] {
					half = time.Duration(g.Minutes) * time.Minute
				}
			}
			second.Plants, s.work.Plants = slices.Clone(s.work.Plants[1:]), slices.Clone(s.work.Plants[:1])
			second.Begins = s.work.Begins.Add(half)
			s.work.Ends = second.Begins
			s.visit.Work = append(s.visit.Work, second)
		}, several},
		{rule, "an occurrence on two visits", "an occurrence of a service is on one", append(among, scheduler.RuleReentry), func(m *mutant, s *spot) {
			for i := range m.plan.Routes {
				for k := range m.plan.Routes[i].Visits {
					v := &m.plan.Routes[i].Visits[k]
					if v.Site == s.visit.Site && v.Arrives != s.visit.Arrives && v.ID != "pinned" && len(v.Work) > 0 {
						second := *s.work
						second.Plants = s.work.Plants[1:]
						s.work.Plants = s.work.Plants[:1]
						v.Work = append(v.Work, second)
						return
					}
				}
			}
		}, both(several, func(s *spot) bool {
			return slices.ContainsFunc(s.m.spots(), func(o *spot) bool { return o.site == s.site && o.visit.Arrives != s.visit.Arrives })
		})},
	}
}
