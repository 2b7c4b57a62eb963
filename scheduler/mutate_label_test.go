package scheduler_test

import (
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// treats says whether a work item applies something to plants, or into their soil.
func treats(s *spot) bool {
	return applies(s) && s.plant != nil && s.product.Form != catalogue.Device
}

func sprays(s *spot) bool { return applies(s) && s.work.Use.Method.Sprays() }

func labelMutations() []mutation {
	return slices.Concat(labelWordMutations(), labelPlaceMutations(), labelPlantMutations(), labelSeriesMutations())
}

func labelWordMutations() []mutation {
	rule := scheduler.RuleLabel
	law := func(m *mutant, s *spot) *scheduler.MaterialFacts {
		return &m.p.Materials[slices.IndexFunc(m.p.Materials, func(f scheduler.MaterialFacts) bool { return f.ID == s.product.Material })]
	}
	return []mutation{
		{rule, "a product of no Problem", "nothing is known of its label", []scheduler.Rule{scheduler.RuleMix}, func(m *mutant, s *spot) {
			id := s.product.ID
			m.p.Products = slices.DeleteFunc(m.p.Products, func(p scheduler.Product) bool { return p.ID == id })
		}, applies},
		{rule, "a material of unknown standing", "the standing in law of", nil, func(m *mutant, s *spot) { law(m, s).ID = "other" }, applies},
		{rule, "a household remedy", "a household remedy", nil, func(m *mutant, s *spot) { law(m, s).Law = catalogue.HouseholdRemedy }, applies},
		{rule, "a household remedy that is lawful elsewhere", "a household remedy", nil, func(m *mutant, s *spot) {
			law(m, s).Law = catalogue.HouseholdRemedy
			s.product.LawfulBecause = map[scheduler.JurisdictionCode]string{"GB": "recorded"}
		}, applies},
		{rule, "not registered", "registered there only", nil, func(m *mutant, s *spot) {
			law(m, s).Law, s.product.Registration = catalogue.RegisteredProduct, ""
		}, applies},
		{rule, "registered in the jurisdiction around it alone", "registered there only", nil, func(m *mutant, s *spot) {
			law(m, s).Law, s.product.Registration, s.product.Jurisdictions = catalogue.RegisteredProduct, "1", []scheduler.JurisdictionCode{"US"}
		}, applies},
		{rule, "a product that an incident bars", "it is barred there since incident", nil, func(_ *mutant, s *spot) {
			s.site.Barred = []site.BarredProduct{{Product: "other", Incident: "i-1"}, {Product: s.product.ID, Incident: "i-2"}}
		}, applies},
		{rule, "an interval that is not known", "is not known, and no number is assumed", nil, func(_ *mutant, s *spot) {
			s.product.Label.Entry = catalogue.Entry{Kind: catalogue.EntryUnknown}
		}, applies},
		{rule, "another kind of interval", "its label says", nil, func(_ *mutant, s *spot) {
			s.product.Label.Entry.Kind = catalogue.EntryHours
			if s.work.Use.Entry == catalogue.EntryHours {
				s.product.Label.Entry.Kind = catalogue.EntryUntilDry
			}
		}, applies},
		{rule, "a second less than the interval", "its label says", nil, func(_ *mutant, s *spot) { s.product.Label.Entry.Hours = s.work.Use.KeepOut + time.Second },
			func(s *spot) bool { return applies(s) && s.work.Use.Entry == catalogue.EntryHours }},
		{rule, "a pest that the label does not list", "against", nil, func(_ *mutant, s *spot) { s.product.Label.Pests = []catalogue.PestID{"other"} }, applies},
		{rule, "a place that the label does not list", "a place of the kind", nil, func(_ *mutant, s *spot) {
			s.product.Label.Places = slices.DeleteFunc(slices.Clone(s.product.Label.Places), func(k catalogue.PlaceKind) bool { return k == s.site.Kind })
		}, applies},
		{rule, "an area of a kind that the label does not list", "a place of the kind", []scheduler.Rule{scheduler.RuleLicence}, func(_ *mutant, s *spot) { s.area.Kind = catalogue.School }, both(applies, func(s *spot) bool { return s.area != nil })},
	}
}

func labelPlaceMutations() []mutation {
	rule := scheduler.RuleLabel
	inside := both(applies, func(s *spot) bool { return s.area != nil })
	near := func(_ *mutant, s *spot) {
		s.product.Label.KeepAway = []catalogue.KeepAway{{Thing: catalogue.Cats}, {Thing: catalogue.Dogs, Condition: "cover"}}
	}
	neighbour := func(s *spot) *scheduler.Area {
		for i := range s.site.Areas {
			if s.site.Areas[i].ID != s.area.ID && slices.Contains(s.site.Areas[i].OpenTo, s.area.ID) {
				return &s.site.Areas[i]
			}
		}
		return nil
	}
	return []mutation{
		{rule, "what the label keeps away from", "its label keeps away from", nil, func(m *mutant, s *spot) {
			near(m, s)
			s.area.Sensitive = append(s.area.Sensitive, catalogue.Cats)
		}, inside},
		{rule, "what the label keeps away from, next door", "its label keeps away from", nil, func(m *mutant, s *spot) {
			near(m, s)
			n := neighbour(s)
			n.Sensitive = append(n.Sensitive, catalogue.Cats)
		}, both(inside, func(s *spot) bool { return neighbour(s) != nil })},
		{rule, "water of unknown hardness", "is not known and counts as hard", nil, func(m *mutant, s *spot) {
			s.product.Label.MaxHardness = figure(120)
			pricer{&m.p, nil}.site(s.mix.Site).Water.HardnessMgL = nil
		}, both(mixed, func(s *spot) bool { return pricer{&s.m.p, nil}.site(s.mix.Site).Water.Area != "" })},
		{rule, "water that is too hard", "mg/L at most", nil, func(m *mutant, s *spot) {
			s.product.Label.MaxHardness = figure(120)
			pricer{&m.p, nil}.site(s.mix.Site).Water.HardnessMgL = figure(120.5)
		}, both(mixed, func(s *spot) bool { return pricer{&s.m.p, nil}.site(s.mix.Site).Water.Area != "" })},
		{rule, "half a degree too cold", "at least", nil, func(_ *mutant, s *spot) {
			s.product.Label.MinCelsius = figure(s.area.Climate[0].Coldest + 0.5)
		}, inside},
		{rule, "half a degree too warm", "at most", nil, func(_ *mutant, s *spot) {
			s.product.Label.MinCelsius, s.product.Label.MaxCelsius = nil, figure(s.area.Climate[0].Warmest-0.5)
		}, inside},
		{rule, "a season of which nothing is known", "is not known: its label states a limit", nil, func(_ *mutant, s *spot) {
			s.product.Label.MaxCelsius, s.area.Climate = figure(40), site.Climate{{Months: []time.Month{time.July}}}
		}, inside},
		{rule, "a second before the hours of the label", "its label allows", nil, func(_ *mutant, s *spot) {
			w := window("00:00", "24:00")
			w.Opens = s.clock(s.work.Begins) + 1
			s.product.Label.Hours = []civil.Window{w}
		}, both(applies, both(oneDay, func(s *spot) bool { return s.clock(s.work.Begins) < 86000 }))},
		{rule, "a second past the hours of the label", "its label allows", nil, func(_ *mutant, s *spot) {
			w := window("00:00", "24:00")
			w.Closes = s.clock(s.work.Ends) - 1
			s.product.Label.Hours = []civil.Window{w}
		}, both(applies, both(oneDay, func(s *spot) bool { return s.clock(s.work.Ends) > 1 }))},
	}
}

func labelPlantMutations() []mutation {
	rule := scheduler.RuleLabel
	verdict := func(s *spot, v catalogue.Verdict) {
		s.plant.PatchTested = nil
		for i := range s.plant.Tolerance {
			if s.plant.Tolerance[i].Material == s.product.Material {
				s.plant.Tolerance[i].Verdict = v
			}
		}
	}
	return []mutation{
		{rule, "a plant that it harms", "the plant must not get", nil, func(_ *mutant, s *spot) { verdict(s, catalogue.MustNot) }, both(applies, func(s *spot) bool { return s.plant != nil })},
		{rule, "a species that the label excludes", "the label excludes", nil, func(_ *mutant, s *spot) {
			s.product.Label.MustNot = []catalogue.SpeciesID{s.plant.Plant.Species}
		}, treats},
		{rule, "an open flower", "it is in flower", nil, func(_ *mutant, s *spot) { s.plant.Plant.InFlower = true }, treats},
		{rule, "an edible plant", "it is edible", nil, func(_ *mutant, s *spot) { s.plant.Plant.Edible = true }, treats},
		{rule, "no patch test", "comes first", nil, func(_ *mutant, s *spot) { verdict(s, catalogue.PatchTest) }, treats},
		{rule, "a plant of which nothing is known", "comes first", nil, func(_ *mutant, s *spot) { s.plant.Tolerance, s.plant.PatchTested = nil, nil }, treats},
		{rule, "a patch test of another material", "comes first", nil, func(_ *mutant, s *spot) {
			verdict(s, catalogue.PatchTest)
			s.plant.PatchTested = []catalogue.MaterialID{"other"}
		}, treats},
		{rule, "a dry plant", "sprays plants that are dry", nil, func(m *mutant, s *spot) {
			m.p.Services, s.product.Label.DryPlants = nil, false
			for i := range m.plan.Routes {
				for k := range m.plan.Routes[i].Visits {
					v := &m.plan.Routes[i].Visits[k]
					v.Work = slices.DeleteFunc(v.Work, func(w scheduler.WorkItem) bool { return w.Service != "" })
				}
			}
			s.plant.Plant.Watering.Latest, s.plant.Plant.Watering.Last = 9, s.day()-9
		}, func(s *spot) bool { return sprays(s) && !s.drenched() }},
		{rule, "a plant never watered", "sprays plants that are dry", nil, func(m *mutant, s *spot) {
			s.plant.Plant.Watering.Last = 0
		}, func(s *spot) bool {
			return sprays(s) && s.plant.Plant.Watering.Latest > 0 && !s.drenched() && !slices.ContainsFunc(s.m.p.Services, func(v scheduler.Service) bool {
				return slices.ContainsFunc(v.Groups, func(g scheduler.ServiceGroup) bool { return g.Plant == s.plant.Plant.ID })
			})
		}},
	}
}

// drenched says whether a drench waters the plant before.
func (s *spot) drenched() bool {
	return s.others(func(o *spot) bool { return applies(o) && o.work.Use.Method == catalogue.Drench })
}

// others says whether another application of some kind goes on the same plant.
func (s *spot) others(ok func(o *spot) bool) bool {
	return s.plant != nil && slices.ContainsFunc(s.m.spots(), func(o *spot) bool {
		return o.work.Item != s.work.Item && ok(o) && slices.Contains(o.work.Plants, s.plant.Plant.ID)
	})
}

func labelSeriesMutations() []mutation {
	rule := scheduler.RuleLabel
	before := func(s *spot, material catalogue.MaterialID, days int, group string) {
		began := s.site.Zone.At(s.day().AddDays(-days), 8*3600)
		s.plant.Applied = append(s.plant.Applied, scheduler.Applied{Product: "earlier", Material: material, Group: group, Began: began, Ended: began + 60})
	}
	lone := both(treats, func(s *spot) bool { return !s.others(applies) && len(s.plant.Applied) == 0 })
	return []mutation{
		{rule, "a day too soon after the last", "the label asks for", nil, func(_ *mutant, s *spot) {
			s.product.Label.LeastDays = 5
			before(s, s.product.Material, 4, "")
		}, lone},
		{rule, "a day too soon after an incompatible one", "are incompatible within", nil, func(_ *mutant, s *spot) {
			s.product.Label.Incompatible = []catalogue.Incompatible{{Material: "sulphur", Days: 14}}
			before(s, "sulphur", 13, "")
		}, lone},
		{rule, "one too many in a row", "in a row of", nil, func(_ *mutant, s *spot) {
			s.product.Label.MostInRow, s.product.Label.LeastDays = 1, 0
			before(s, s.product.Material, 30, "")
		}, lone},
		{rule, "one too many of a group in a row", "groups rotate", nil, func(_ *mutant, s *spot) {
			s.product.Label.MostInRow, s.product.Label.ModeOfAction = 2, "4A"
			before(s, "other", 40, "4A")
			before(s, "another", 30, "4A")
		}, lone},
		{rule, "one too many a year", "a year", nil, func(_ *mutant, s *spot) {
			s.product.Label.MostAYear, s.product.Label.MostInRow, s.product.Label.LeastDays = 1, 0, 0
			before(s, s.product.Material, 364, "")
		}, lone},
		{rule, "a day too soon after another of the plan", "the label asks for", nil, func(_ *mutant, s *spot) {
			s.product.Label.LeastDays = 30
		}, both(treats, func(s *spot) bool {
			return s.others(func(o *spot) bool { return applies(o) && o.product.ID == s.product.ID })
		})},
	}
}
