package scheduler_test

import (
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/travel"
)

// drive is the time of the technician from one place to another.
func (s *spot) drive(from, to travel.PlaceID) time.Duration {
	return pricer{&s.m.p, nil}.drive(s.tech, from, to)
}

func (s *spot) place() travel.PlaceID { return travel.PlaceID(s.site.ID) }

// firstVisit and lastVisit say where a visit stands in its route.
func firstVisit(s *spot) bool { return s.visit == &s.route.Visits[0] }
func lastVisit(s *spot) bool  { return s.visit == &s.route.Visits[len(s.route.Visits)-1] }
func rests(s *spot) bool      { return !s.route.Break.Empty() }
func restless(s *spot) bool   { return s.route.Break.Empty() && s.shift != nil && s.shift.BreakTakes > 0 }

// unfixed says whether no visit of the plan is fixed.
func unfixed(s *spot) bool { return len(s.m.p.Fixed) == 0 }

// worksOn says whether another work item of the visit follows; next is that.
func worksOn(s *spot) bool { return s.next() != nil }
func (s *spot) next() *scheduler.WorkItem {
	for i := range s.visit.Work {
		if w := &s.visit.Work[i]; w.Begins >= s.work.Ends && w != s.work && w.Ends > w.Begins {
			return w
		}
	}
	return nil
}

func shiftMutations() []mutation {
	among := []scheduler.Rule{scheduler.RuleAccess, scheduler.RuleTiming, scheduler.RuleLabel, scheduler.RuleReentry, scheduler.RuleMix}
	return slices.Concat(shiftTimeMutations(among), shiftBreakMutations(among), shiftWorkMutations(among), shiftWordMutations(among))
}

func shiftTimeMutations(among []scheduler.Rule) []mutation {
	rule := scheduler.RuleShift
	return []mutation{
		{rule, "two works overlap by a second", "does two things at once", among, func(_ *mutant, s *spot) {
			n := s.next()
			length := n.Ends - n.Begins
			n.Begins = s.work.Ends - 1
			n.Ends = n.Begins + length
		}, worksOn},
		{rule, "work begins in the sign-in", "does two things at once", among, func(_ *mutant, s *spot) {
			s.work.Begins = s.visit.Arrives
		}, func(s *spot) bool { return s.visit.SignIn > 0 && s.work == &s.visit.Work[0] }},
		{rule, "a second too little for the way there", "travel takes", among, func(_ *mutant, s *spot) {
			s.route.Departs = s.visit.Arrives.Add(-s.drive(s.tech.Base, s.place())) + 1
		}, func(s *spot) bool {
			return firstVisit(s) && (s.route.Break.Empty() || s.route.Break.From > s.visit.Arrives) && s.route.Departs < s.visit.Arrives
		}},
		{rule, "a second too little for the way home", "travel takes", among, func(_ *mutant, s *spot) {
			s.route.Returns = s.visit.Leaves.Add(s.drive(s.place(), s.tech.Base)) - 1
		}, func(s *spot) bool {
			return lastVisit(s) && !slices.ContainsFunc(s.route.Mixes, func(m scheduler.Mix) bool { return m.RinseAtBase })
		}},
		{rule, "the way between two sites is longer", "travel takes", among, func(m *mutant, s *spot) {
			k := slices.IndexFunc(s.route.Visits, func(v scheduler.Visit) bool { return v.Arrives == s.visit.Arrives })
			before := &s.route.Visits[k-1]
			at := m.p.Travel.Index(travel.PlaceID(before.Site))*len(m.p.Travel.Places) + m.p.Travel.Index(s.place())
			m.p.Travel.Seconds[at] = int32(s.visit.Arrives-before.Leaves)*int32(s.tech.SpeedPercent)/100 + 2
		}, func(s *spot) bool { return !firstVisit(s) }},
		{rule, "the base is elsewhere", "travel takes", among, func(m *mutant, s *spot) {
			m.p.Travel.Places = append(m.p.Travel.Places, "far")
			n := len(m.p.Travel.Places)
			far := make([]int32, n*n)
			for i := range n {
				for k := range n {
					switch {
					case i < n-1 && k < n-1:
						far[i*n+k] = m.p.Travel.Seconds[i*(n-1)+k]
					case i != k:
						far[i*n+k] = 7200 + int32(s.visit.Arrives-s.route.Departs)*int32(s.tech.SpeedPercent)/100
					}
				}
			}
			m.p.Travel.Seconds, s.tech.Base = far, "far"
		}, firstVisit},
		{rule, "departs a second before the shift", "outside the shift", among, func(_ *mutant, s *spot) { s.route.Departs = s.shift.During.From - 1 },
			func(s *spot) bool { return s.shift != nil && s.shift.During.From > s.m.p.Now }},
		{rule, "returns a second after the shift", "outside the shift", among, func(_ *mutant, s *spot) { s.route.Returns = s.shift.During.To + 1 },
			func(s *spot) bool { return s.shift != nil }},
		{rule, "the shift ends a second earlier", "outside the shift", among, func(_ *mutant, s *spot) { s.shift.During.To = s.route.Returns - 1 },
			func(s *spot) bool { return s.shift != nil }},
		{rule, "no shift on that day", "has no shift", among, func(_ *mutant, s *spot) {
			s.tech.Shifts = slices.DeleteFunc(s.tech.Shifts, func(x scheduler.Shift) bool { return x.Day == s.route.Day })
		}, nil},
		{rule, "behind the horizon", "outside the horizon", among, func(m *mutant, s *spot) { m.p.Days = max(0, s.route.Day.DaysSince(m.p.FirstDay)) }, nil},
		{rule, "longer than the longest work time", "the longest work time", nil, func(m *mutant, s *spot) { m.p.Rules.MostWork = worked(s.route) - time.Second }, nil},
		{rule, "departs before now", "before now", among, func(m *mutant, s *spot) { m.p.Now = s.route.Departs + 1 }, both(unfixed, func(s *spot) bool {
			return s.route == &s.m.plan.Routes[0] && firstVisit(s) && s.visit.Arrives > s.route.Departs+1
		})},
		{rule, "under way elsewhere still", "is under way", among, func(m *mutant, s *spot) {
			m.p.Now = s.route.Departs
			m.p.Progress = []scheduler.Progress{{Technician: s.tech.ID, At: s.tech.Base, FreeFrom: s.visit.Arrives.Add(-s.drive(s.tech.Base, s.place())) + 1}}
		}, both(unfixed, func(s *spot) bool { return s.shift != nil && s.route == &s.m.plan.Routes[0] && firstVisit(s) })},
		{rule, "two routes at once", "is on two routes at once", among, func(m *mutant, s *spot) {
			for i := range m.plan.Routes {
				if r := &m.plan.Routes[i]; r.Technician == s.route.Technician && r.Departs > s.route.Returns {
					r.Departs = s.route.Returns - 1
				}
			}
		}, func(s *spot) bool {
			return slices.ContainsFunc(s.m.plan.Routes, func(r scheduler.DayRoute) bool {
				return r.Technician == s.route.Technician && r.Departs > s.route.Returns && len(r.Visits) > 0
			})
		}},
	}
}

func shiftBreakMutations(among []scheduler.Rule) []mutation {
	rule := scheduler.RuleShift
	return []mutation{
		{rule, "no break", "without a break", among, func(_ *mutant, s *spot) { s.route.Break = civil.Interval{} }, rests},
		{rule, "a break would be due sooner", "without a break", nil, func(m *mutant, s *spot) { m.p.Rules.BreakAfter = worked(s.route) - time.Second },
			both(restless, func(s *spot) bool { return worked(s.route) > time.Second })},
		{rule, "a break too short", "it takes", among, func(_ *mutant, s *spot) { s.route.Break.To-- }, rests},
		{rule, "a break too long", "it takes", among, func(_ *mutant, s *spot) {
			s.shift.BreakTakes -= time.Second
		}, both(rests, func(s *spot) bool { return s.shift != nil })},
		{rule, "a break that is not due", "no break is due", among, func(m *mutant, s *spot) {
			m.p.Rules.BreakAfter = s.route.Returns.Sub(s.route.Departs)
		}, rests},
		{rule, "the break a second before its window", "outside its window", nil, func(_ *mutant, s *spot) { s.shift.BreakWindow.From = s.route.Break.From + 1 }, both(rests, func(s *spot) bool { return s.shift != nil })},
		{rule, "the break a second after its window", "outside its window", nil, func(_ *mutant, s *spot) { s.shift.BreakWindow.To = s.route.Break.To - 1 }, both(rests, func(s *spot) bool { return s.shift != nil })},
		{rule, "the break on the way", "travel takes", among, func(_ *mutant, s *spot) {
			length := s.route.Break.To - s.route.Break.From
			s.route.Break = civil.Interval{From: s.visit.Arrives - length, To: s.visit.Arrives}
			s.route.Departs = s.visit.Arrives.Add(-s.drive(s.tech.Base, s.place()))
		}, both(rests, firstVisit)},
		{rule, "the break in work", "does two things at once", among, func(_ *mutant, s *spot) {
			length := s.route.Break.To - s.route.Break.From
			s.route.Break = civil.Interval{From: s.work.Begins, To: s.work.Begins + length}
		}, rests},
		{rule, "the break where every area is shut", "while every area there is shut", among, func(m *mutant, s *spot) {
			for i := range s.site.Areas {
				m.p.KeepOuts = append(m.p.KeepOuts, scheduler.KeepOut{Area: s.site.Areas[i].ID, During: s.route.Break, Product: "soap-a", By: "T1", Item: "other"})
			}
		}, func(s *spot) bool {
			return rests(s) && s.route.Break.From >= s.visit.Arrives && s.route.Break.To <= s.visit.Leaves
		}},
	}
}

func shiftWorkMutations(among []scheduler.Rule) []mutation {
	rule := scheduler.RuleShift
	longWork := func(s *spot) bool { return s.work.Ends > s.work.Begins+1 }
	return []mutation{
		{rule, "work longer than it takes by the Problem", "lasts", among, func(_ *mutant, s *spot) { s.work.Ends-- }, longWork},
		{rule, "work for other plants", "is done on plants", among, func(_ *mutant, s *spot) { s.work.Plants = nil }, func(s *spot) bool { return follows(s) && len(s.work.Plants) > 0 }},
		{rule, "work on a plant of nobody", "is done on plant", among, func(m *mutant, s *spot) { s.work.Plants = append(s.work.Plants, "weed") }, serves},
		{rule, "work in another area", "is done in area", append(among, scheduler.RuleLicence), func(_ *mutant, s *spot) {
			s.work.Area = s.other().ID
		}, func(s *spot) bool { return follows(s) && s.other() != nil }},
		{rule, "a way that it does not have", "which it does not have", among, func(_ *mutant, s *spot) { s.work.Way = "none" }, follows},
		{rule, "a part that it does not have", "names part", among, func(_ *mutant, s *spot) { s.work.Part = 9 }, follows},
		{rule, "a wait as work", "names part", among, func(_ *mutant, s *spot) {
			s.work.Part = slices.IndexFunc(s.way.Parts, func(p scheduler.Part) bool { return p.Kind == scheduler.WaitPart })
		}, func(s *spot) bool { return follows(s) && len(s.way.Parts) > 2 }},
		{rule, "another kind of follow-up", "is called", nil, func(_ *mutant, s *spot) { s.work.Kind = scheduler.KindReplacement }, follows},
		{rule, "another kind of service", "is called", among, func(_ *mutant, s *spot) { s.work.Service = "grooming" }, serves},
		{rule, "a service that applies", "a service applies nothing", append(among, scheduler.RuleLicence), func(_ *mutant, s *spot) { s.work.Use = storyUse() }, serves},
		{rule, "less kept out than the way says", "does not use what", append(among, scheduler.RuleLicence), func(_ *mutant, s *spot) { s.work.Use.KeepOut -= time.Second }, shuts},
		{rule, "less poured than the way says", "does not use what", among, func(_ *mutant, s *spot) { s.work.Use.Doses = nil }, mixed},
		{rule, "another method than the way says", "does not use what", among, func(_ *mutant, s *spot) { s.work.Use.Method = "wipe" }, applies},
		{rule, "applied is not what is applied", "does not use what", append(among, scheduler.RuleLicence), func(_ *mutant, s *spot) { s.work.Use = nil }, applies},
		{rule, "twice", "is planned twice", among, func(_ *mutant, s *spot) { s.visit.Work = append(s.visit.Work, *s.work) }, nil},
		{rule, "an item of no Problem", "is not in the Problem", among, func(_ *mutant, s *spot) { s.work.Item = "stranger" }, nil},
		{rule, "done already", "is planned though it was done", among, func(m *mutant, s *spot) {
			m.p.Done = append(m.p.Done, scheduler.DoneFollowUp{ID: s.work.Item, Site: s.site.ID, Began: m.p.Now - 7200, Ended: m.p.Now - 3600})
		}, nil},
		{rule, "for two persons", "needs 2 persons", nil, func(_ *mutant, s *spot) { s.part.Persons = 2 }, follows},
	}
}

func shiftWordMutations(among []scheduler.Rule) []mutation {
	rule := scheduler.RuleShift
	all := append(among, scheduler.RuleLicence)
	return []mutation{
		{rule, "a technician of nobody", "is not in the Problem", all, func(m *mutant, s *spot) { s.route.Technician = "T9" }, nil},
		{rule, "another technician's visit", "stands in the route of", []scheduler.Rule{scheduler.RuleReentry}, func(_ *mutant, s *spot) { s.visit.Technician = "T9" }, nil},
		{rule, "a site of nobody", "is not in the Problem", all, func(_ *mutant, s *spot) { s.visit.Site = "moon" }, nil},
		{rule, "at another site than its plants", "", all, func(m *mutant, s *spot) {
			for i := range m.p.Sites {
				if m.p.Sites[i].ID != s.site.ID {
					s.visit.Site = m.p.Sites[i].ID
				}
			}
		}, func(s *spot) bool { return len(s.m.p.Sites) > 1 }},
		{rule, "sign-in forgotten", "signs in for", nil, func(_ *mutant, s *spot) { s.visit.SignIn = 0 }, func(s *spot) bool { return s.visit.SignIn > 0 }},
		{rule, "leaves before its work ends", "outside its visit", all, func(_ *mutant, s *spot) { s.visit.Leaves = s.work.Ends - 1 }, func(s *spot) bool { return s.work.Ends > s.work.Begins }},
		{rule, "arrives after its work begins", "outside its visit", all, func(_ *mutant, s *spot) { s.visit.Arrives = s.work.Begins + 1 }, func(s *spot) bool { return s.work.Ends > s.work.Begins }},
		{rule, "one visit told as two", "two visits at", all, func(_ *mutant, s *spot) {
			k := slices.IndexFunc(s.route.Visits, func(v scheduler.Visit) bool { return v.Arrives == s.visit.Arrives })
			second := *s.visit
			n := s.next()
			i := slices.IndexFunc(s.visit.Work, func(w scheduler.WorkItem) bool { return w.Begins == n.Begins })
			second.Work, second.Arrives = slices.Clone(s.visit.Work[i:]), n.Begins
			s.visit.Work, s.visit.Leaves = s.visit.Work[:i], n.Begins
			s.route.Visits = slices.Insert(s.route.Visits, k+1, second)
		}, worksOn},
		{rule, "a place that the matrix does not hold", "the matrix does not hold both", all, func(m *mutant, s *spot) {
			m.p.Travel.Places[m.p.Travel.Index(s.place())] = "elsewhere"
		}, nil},
	}
}
