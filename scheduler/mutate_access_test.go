package scheduler_test

import (
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// treatedElsewhere says whether a work item is done at a treatment place.
func treatedElsewhere(s *spot) bool {
	return follows(s) && s.way.Kind == scheduler.AtTreatmentPlace && s.area != nil && s.area.Treatment != nil
}

// licensedProduct says whether a work item applies what asks for a licence.
func licensedProduct(s *spot) bool { return applies(s) && len(s.product.Label.Categories) > 0 }

// holdsOwn says whether the technician applies by a licence of their own.
func holdsOwn(s *spot) bool {
	return licensedProduct(s) && slices.ContainsFunc(s.tech.Licences, func(l scheduler.Licence) bool { return l.Under == "" })
}

func keyed(s *spot) bool { return len(s.site.Keys) > 0 }

func accessMutations() []mutation {
	rule := scheduler.RuleAccess
	midDay := both(oneDay, func(s *spot) bool { return s.visit.Leaves > s.visit.Arrives+2 && s.clock(s.visit.Arrives) > 1 })
	return []mutation{
		{rule, "open from a second after the arrival", "the visit at", nil, func(_ *mutant, s *spot) { s.site.Access = daily(s.clock(s.visit.Arrives)+1, 24*3600) }, midDay},
		{rule, "open until a second before the leaving", "the visit at", nil, func(_ *mutant, s *spot) { s.site.Access = daily(0, s.clock(s.visit.Leaves)-1) }, midDay},
		{rule, "shut for a second in between", "the visit at", nil, func(_ *mutant, s *spot) {
			middle := s.clock(s.visit.Arrives) + 1
			s.site.Access = daily(0, middle)
			s.site.Access.Weekly = append(s.site.Access.Weekly, daily(middle+1, 24*3600).Weekly...)
		}, midDay},
		{rule, "shut on that date", "it is not open then", nil, func(_ *mutant, s *spot) {
			s.site.Access = daily(0, 24*3600)
			s.site.Access.Exceptions = []civil.Exception{{On: s.site.Zone.DateOf(s.visit.Arrives)}}
		}, midDay},
		{rule, "one key more", "does not hold key", nil, func(_ *mutant, s *spot) { s.site.Keys = append(s.site.Keys, "other") }, nil},
		{rule, "no keys", "does not hold key", nil, func(_ *mutant, s *spot) { s.tech.Keys = nil }, keyed},
		{rule, "the key given back the day before", "does not hold key", nil, func(_ *mutant, s *spot) {
			s.tech.Keys[0].To = s.site.Zone.DateOf(s.visit.Leaves) - 1
		}, keyed},
		{rule, "the key handed over the day after", "does not hold key", nil, func(_ *mutant, s *spot) {
			s.tech.Keys[0].From = s.site.Zone.DateOf(s.visit.Arrives) + 1
		}, keyed},
		{rule, "the material refused", "refused", nil, func(_ *mutant, s *spot) {
			s.site.Agreement.RefusedMaterials = []catalogue.MaterialID{s.product.Material}
		}, applies},
		{rule, "the method refused", "refused that method", nil, func(_ *mutant, s *spot) {
			s.site.Agreement.RefusedMethods = []catalogue.Method{s.work.Use.Method}
		}, applies},
		{rule, "no consent", "asks for consent", nil, func(_ *mutant, s *spot) {
			s.site.Agreement.ConsentNeeded, s.site.Agreement.Consents = []catalogue.Method{s.work.Use.Method}, nil
		}, applies},
		{rule, "consent until the day before", "asks for consent", nil, func(_ *mutant, s *spot) {
			s.site.Agreement.ConsentNeeded = []catalogue.Method{s.work.Use.Method}
			s.site.Agreement.Consents = []site.Consent{{Method: s.work.Use.Method, From: 1, To: s.day() - 1}, {Method: s.work.Use.Method, From: s.day() + 1}, {Method: "release", From: 1}, {Method: s.work.Use.Method, Material: "other", From: 1}}
		}, applies},
		{rule, "a second too little notice", "of notice", nil, func(m *mutant, s *spot) {
			m.p.Notices = nil
			m.p.Rules.NoticeLead = []scheduler.SiteNotice{{Site: s.site.ID, Lead: s.work.Begins.Sub(m.p.Now) - m.p.Rules.PublishingDelay + time.Second}}
		}, func(s *spot) bool { return applies(s) && s.work.Begins > s.m.p.Now.Add(s.m.p.Rules.PublishingDelay) }},
		{rule, "a notice of another time", "of notice", nil, func(m *mutant, s *spot) {
			m.p.Rules.NoticeLead = []scheduler.SiteNotice{{Site: s.site.ID, Lead: 20 * 24 * time.Hour}}
			tolerance := m.p.Rules.NoticeTolerance
			m.p.Notices = []scheduler.NoticeSent{
				{Item: s.work.Item, Begins: s.work.Begins.Add(tolerance) + 1}, {Item: s.work.Item, Begins: s.work.Begins.Add(-tolerance) - 1},
				{Item: "other", Begins: s.work.Begins}, {Item: s.work.Item, Begins: s.work.Begins, Used: true},
			}
		}, applies},
		{rule, "a plant not in our care", "not in our care", nil, func(_ *mutant, s *spot) { s.plant.Plant.NotInCare = true }, both(applies, func(s *spot) bool { return s.plant != nil })},
		{rule, "another technician is agreed", "is agreed to be visited by", nil, func(_ *mutant, s *spot) {
			s.site.Agreement.TechnicianFixed, s.site.Agreement.UsualTechnician = true, "T9"
		}, nil},
		{rule, "another weekday is agreed", "is agreed to be visited on", nil, func(_ *mutant, s *spot) {
			day := civil.Weekday((int(s.site.Zone.DateOf(s.visit.Arrives).Weekday()) + 1) % 7)
			s.site.Agreement.DayFixed, s.site.Agreement.UsualDay = true, &day
		}, nil},
		{rule, "the treatment place shuts a second earlier", "the treatment place is not open", nil, func(_ *mutant, s *spot) {
			s.area.Treatment.Hours = daily(0, s.clock(s.work.Ends)-1)
		}, both(treatedElsewhere, both(oneDay, func(s *spot) bool { return s.clock(s.work.Ends) > 1 }))},
		{rule, "the treatment place is full", "the treatment place holds", nil, func(_ *mutant, s *spot) {
			s.area.Treatment.Capacity = s.plant.Plant.Count - 1
		}, both(treatedElsewhere, applies)},
	}
}

func licenceMutations() []mutation {
	rule := scheduler.RuleLicence
	const want = "without a licence valid on that day"
	own := func(s *spot) []scheduler.Licence { return s.tech.Licences }
	return []mutation{
		{rule, "no licence", want, nil, func(_ *mutant, s *spot) { s.tech.Licences = nil }, licensedProduct},
		{rule, "of another category", want, nil, func(m *mutant, s *spot) {
			for i := range own(s) {
				own(s)[i].Category = "forestry"
			}
		}, licensedProduct},
		{rule, "of another jurisdiction", want, nil, func(_ *mutant, s *spot) {
			for i := range own(s) {
				own(s)[i].Jurisdiction = "US-NY"
			}
		}, licensedProduct},
		{rule, "lapsed the day before", want, nil, func(_ *mutant, s *spot) {
			for i := range own(s) {
				own(s)[i].From, own(s)[i].To = 1, s.day()-1
			}
		}, licensedProduct},
		{rule, "valid from the day after", want, nil, func(_ *mutant, s *spot) {
			for i := range own(s) {
				own(s)[i].From, own(s)[i].To = s.day()+1, 0
			}
		}, licensedProduct},
		{rule, "under nobody known", want, nil, func(m *mutant, s *spot) {
			m.p.Rules.Supervision = []catalogue.JurisdictionCode{s.site.Jurisdiction}
			own(s)[0].Under = "T9"
		}, holdsOwn},
		{rule, "under themselves", want, nil, func(m *mutant, s *spot) {
			m.p.Rules.Supervision = []catalogue.JurisdictionCode{s.site.Jurisdiction}
			own(s)[0].Under = s.tech.ID
		}, holdsOwn},
		{rule, "under one who works under another", want, nil, func(m *mutant, s *spot) {
			m.p.Rules.Supervision = []catalogue.JurisdictionCode{s.site.Jurisdiction}
			boss := cloned(*s.tech)
			boss.ID, boss.Licences[0].Under = "T8", s.tech.ID
			m.p.Technicians = append(slices.Clone(m.p.Technicians), boss)
			own(s)[0].Under = "T8"
		}, holdsOwn},
		{rule, "under one whose licence lapsed", want, nil, func(m *mutant, s *spot) {
			m.p.Rules.Supervision = []catalogue.JurisdictionCode{s.site.Jurisdiction}
			boss := cloned(*s.tech)
			boss.ID, boss.Licences[0].From, boss.Licences[0].To = "T8", 1, s.day()-1
			m.p.Technicians = append(slices.Clone(m.p.Technicians), boss)
			own(s)[0].Under = "T8"
		}, holdsOwn},
		{rule, "under somebody where that is not allowed", want, nil, func(m *mutant, s *spot) {
			m.p.Rules.Supervision = nil
			boss := cloned(*s.tech)
			boss.ID = "T8"
			m.p.Technicians = append(slices.Clone(m.p.Technicians), boss)
			own(s)[0].Under = "T8"
		}, holdsOwn},
		{rule, "a place that the category does not cover", "is known to cover places", nil, func(m *mutant, _ *spot) {
			m.p.Rules.Categories[0].Covers = []catalogue.PlaceKind{catalogue.Home}
		}, licensedProduct},
		{rule, "a category of which nothing is known there", "is known to cover places", nil, func(m *mutant, _ *spot) { m.p.Rules.Categories[0].Jurisdiction = "GB" }, licensedProduct},
		{rule, "published without approval", "has not approved it", nil, func(_ *mutant, s *spot) {
			s.visit.State, s.follow.Approved = scheduler.Published, false
		}, applies},
		{rule, "announced without approval", "has not approved it", nil, func(_ *mutant, s *spot) {
			s.visit.State, s.follow.Approved = scheduler.Announced, false
		}, applies},
		{rule, "a skill that the technician does not have", "asks for the skill", nil, func(_ *mutant, s *spot) { s.part.Skills = append(s.part.Skills, "lift") }, follows},
		{rule, "a skill lost", "asks for the skill", nil, func(_ *mutant, s *spot) { s.tech.Skills = nil }, func(s *spot) bool { return follows(s) && len(s.part.Skills) > 0 }},
	}
}

func fixedVisit(s *spot) bool { return len(s.m.p.Fixed) > 0 }

// fixed is the visit of a plan that does not move.
func (m *mutant) fixed() (r *scheduler.DayRoute, v *scheduler.Visit) {
	for i := range m.plan.Routes {
		for k := range m.plan.Routes[i].Visits {
			if m.plan.Routes[i].Visits[k].ID == "pinned" {
				return &m.plan.Routes[i], &m.plan.Routes[i].Visits[k]
			}
		}
	}
	panic("no fixed visit")
}

func pinnedMutations() []mutation {
	rule := scheduler.RulePinned
	among := []scheduler.Rule{scheduler.RuleShift, scheduler.RuleAccess, scheduler.RuleReentry, scheduler.RuleTiming}
	moved := func(name string, change func(v *scheduler.Visit)) mutation {
		return mutation{rule, name, "was changed", among, func(m *mutant, _ *spot) {
			_, v := m.fixed()
			change(v)
		}, fixedVisit}
	}
	return []mutation{
		moved("a second earlier", func(v *scheduler.Visit) {
			v.Arrives, v.Leaves, v.Work[0].Begins, v.Work[0].Ends = v.Arrives-1, v.Leaves-1, v.Work[0].Begins-1, v.Work[0].Ends-1
		}),
		moved("a day later", func(v *scheduler.Visit) { v.Arrives, v.Leaves = v.Arrives+86400, v.Leaves+86400 }),
		moved("left later", func(v *scheduler.Visit) { v.Leaves++ }),
		moved("given away", func(v *scheduler.Visit) { v.Technician = "T9" }),
		moved("to another site", func(v *scheduler.Visit) { v.Site = "moon" }),
		moved("other work", func(v *scheduler.Visit) { v.Work[0].Item = "other" }),
		moved("no work", func(v *scheduler.Visit) { v.Work = nil }),
		moved("more work", func(v *scheduler.Visit) { v.Work = append(slices.Clone(v.Work), v.Work[0]) }),
		moved("work later", func(v *scheduler.Visit) { v.Work[0].Ends-- }),
		moved("work elsewhere", func(v *scheduler.Visit) { v.Work[0].Area = "attic" }),
		moved("work on other plants", func(v *scheduler.Visit) { v.Work[0].Plants = []site.PlantID{"oak"} }),
		moved("by another way", func(v *scheduler.Visit) { v.Work[0].Way = "other" }),
		moved("another part", func(v *scheduler.Visit) { v.Work[0].Part = 3 }),
		{rule, "dropped", "is not in the plan", among, func(m *mutant, _ *spot) {
			r, v := m.fixed()
			k := slices.IndexFunc(r.Visits, func(x scheduler.Visit) bool { return x.ID == v.ID })
			r.Visits = slices.Delete(r.Visits, k, k+1)
		}, fixedVisit},
	}
}
