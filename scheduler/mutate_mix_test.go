package scheduler_test

import (
	"math/big"
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// drop is less than any mark.
var drop = quantity.NewVolume(1, 1000, quantity.Millilitre)

// firstUse says whether a work item is the first to draw on its mix.
func firstUse(s *spot) bool {
	return mixed(s) && !slices.ContainsFunc(s.m.spots(), func(o *spot) bool { return o.mix == s.mix && o.work.Begins < s.work.Begins })
}

// secondMix is a later mix of the route, of another product; nil when there is none.
func (s *spot) secondMix() *scheduler.Mix {
	for i := range s.route.Mixes {
		if m := &s.route.Mixes[i]; m.Begins >= s.mix.LastUse && m.Product != s.mix.Product {
			return m
		}
	}
	return nil
}

func mixMutations() []mutation {
	return slices.Concat(mixVolumeMutations(), mixTimeMutations(), mixVesselMutations())
}

func mixVolumeMutations() []mutation {
	rule := scheduler.RuleMix
	share := func(s *spot, percent int64) *quantity.Rate {
		r := quantity.Rate{
			Concentrate: s.mix.Concentrate.Times(big.NewRat(percent, 100)), Per: s.mix.Volume, Convention: quantity.MadeUpTo,
		}
		return &r
	}
	return []mutation{
		{rule, "no mix", "without a mix", nil, func(_ *mutant, s *spot) { s.work.MixIndex = -1 }, mixed},
		{rule, "a mix that is not there", "without a mix", nil, func(_ *mutant, s *spot) { s.work.MixIndex = len(s.route.Mixes) }, mixed},
		{rule, "a mix of another product", "draws on", []scheduler.Rule{scheduler.RuleLabel}, func(m *mutant, s *spot) {
			for i := range m.p.Products {
				if m.p.Products[i].ID != s.mix.Product && m.p.Products[i].Diluted() {
					s.mix.Product = m.p.Products[i].ID
					return
				}
			}
		}, mixed},
		{rule, "a mix of a product of nobody", "which is not in the Problem", nil, func(_ *mutant, s *spot) { s.mix.Product = "other" }, mixed},
		{rule, "more than the vessel holds", "it holds", nil, func(_ *mutant, s *spot) { s.vessel.Capacity = s.mix.Volume.Sub(drop) }, mixed},
		{rule, "a volume between two marks", "its marks lie every", nil, func(_ *mutant, s *spot) { s.vessel.Marks = s.mix.Volume.Times(big.NewRat(2, 3)) }, mixed},
		{rule, "concentrate between two marks", "has marks every", nil, func(m *mutant, s *spot) {
			k := slices.IndexFunc(s.tech.Measures, func(x scheduler.Measure) bool { return x.Name == s.mix.Measure })
			s.tech.Measures = slices.Clone(s.tech.Measures)
			s.tech.Measures[k].Marks = s.mix.Concentrate.Times(big.NewRat(2, 3))
		}, mixed},
		{rule, "more than ten measures", "times at most", nil, func(_ *mutant, s *spot) {
			k := slices.IndexFunc(s.tech.Measures, func(x scheduler.Measure) bool { return x.Name == s.mix.Measure })
			s.tech.Measures = slices.Clone(s.tech.Measures)
			s.tech.Measures[k].Capacity = s.mix.Concentrate.Times(big.NewRat(1, 11))
		}, mixed},
		{rule, "a measure of nobody", "with measure", nil, func(_ *mutant, s *spot) { s.mix.Measure = "thimble" }, mixed},
		{rule, "a vessel of nobody", "is made in vessel", nil, func(_ *mutant, s *spot) { s.mix.Vessel = "bucket" }, mixed},
		{rule, "a vessel for other methods", "which is for", nil, func(_ *mutant, s *spot) { s.vessel.Methods = []catalogue.Method{catalogue.Wipe} }, mixed},
		{rule, "stronger than the label", "the label allows", nil, func(_ *mutant, s *spot) { s.product.Label.MaxRate, s.product.Label.MinRate = share(s, 99), nil }, mixed},
		{rule, "weaker than the label", "the label allows", nil, func(_ *mutant, s *spot) {
			s.product.Label.MaxRate, s.product.Label.MinRate = share(s, 300), share(s, 101)
		}, mixed},
		{rule, "weaker than policy lets a label with one rate be", "the label allows", nil, func(m *mutant, s *spot) {
			s.product.Label.MaxRate, s.product.Label.MinRate = share(s, 200), nil
		}, mixed},
		{rule, "a rate that nothing states", "no rate to be judged by", nil, func(_ *mutant, s *spot) { s.product.Label.MaxRate = nil }, mixed},
		{rule, "ready to use and diluted", "never diluted", nil, func(_ *mutant, s *spot) { s.product.Form = catalogue.ReadyToUse }, mixed},
		{rule, "a need understated", "states a need of", nil, func(_ *mutant, s *spot) { s.mix.Need = s.mix.Need.Sub(drop) }, mixed},
		{rule, "the reserve is larger", "states a need of", nil, func(_ *mutant, s *spot) {
			s.part.Use.ReservePercent++
			s.work.Use.ReservePercent++
		}, mixed},
		{rule, "more stays in the vessel", "stays in", nil, func(_ *mutant, s *spot) { s.vessel.Dead = s.mix.Volume.Sub(s.mix.Need).Add(drop) }, mixed},
		{rule, "a mix for nothing", "is used for nothing", []scheduler.Rule{scheduler.RuleReentry, scheduler.RuleShift}, func(_ *mutant, s *spot) {
			s.route.Mixes = append(s.route.Mixes, *s.mix)
		}, mixed},
		{rule, "another technician's mix", "stands in the route of", nil, func(_ *mutant, s *spot) { s.mix.Technician = "T9" }, mixed},
	}
}

func mixTimeMutations() []mutation {
	rule := scheduler.RuleMix
	among := []scheduler.Rule{scheduler.RuleShift, scheduler.RuleReentry, scheduler.RuleTiming}
	return []mutation{
		{rule, "a second older than it lives", "it may be used until", nil, func(_ *mutant, s *spot) {
			s.product.Label.MixLife = s.mix.LastUse.Sub(s.mix.Begins) - time.Second
		}, mixed},
		{rule, "said to last a second longer than it does", "says use by", nil, func(_ *mutant, s *spot) { s.mix.UseBy++ }, mixed},
		{rule, "said to be used up before its last use", "says use by", nil, func(_ *mutant, s *spot) { s.mix.UseBy = s.mix.LastUse - 1 }, mixed},
		{rule, "mixed a second too fast", "mixing takes", among, func(_ *mutant, s *spot) { s.mix.Begins++ }, mixed},
		{rule, "mixed slower than thought", "mixing takes", nil, func(m *mutant, s *spot) { m.p.Rules.Mixing = s.mix.Ready.Sub(s.mix.Begins) + time.Second }, mixed},
		{rule, "drawn on before it is ready", "before it is ready", among, func(_ *mutant, s *spot) { s.mix.Ready = s.work.Begins + 1 }, mixed},
		{rule, "mixed before the visit", "it is made at the visit of first use", among, func(_ *mutant, s *spot) {
			length := s.mix.Ready - s.mix.Begins
			s.mix.Begins, s.mix.Ready = s.visit.Arrives-1, s.visit.Arrives-1+length
		}, firstUse},
		{rule, "mixed at another site", "it is made at the visit of first use", append(among, scheduler.RuleLabel), func(_ *mutant, s *spot) { s.mix.Site = "moon" }, mixed},
		{rule, "mixed in no area of the site", "say where", nil, func(_ *mutant, s *spot) { s.mix.Area = "" }, func(s *spot) bool { return mixed(s) && s.mix.Area != "" }},
		{rule, "mixed in an area of nowhere", "which", nil, func(_ *mutant, s *spot) { s.mix.Area = "attic" }, mixed},
		{rule, "the last use told wrong", "says that its last use ends", nil, func(_ *mutant, s *spot) { s.mix.LastUse-- }, mixed},
	}
}

func mixVesselMutations() []mutation {
	rule := scheduler.RuleMix
	among := []scheduler.Rule{scheduler.RuleShift, scheduler.RuleReentry, scheduler.RuleAccess}
	final := func(s *spot) bool {
		return mixed(s) && s.mix.Rinse.Length() > 0 && !slices.ContainsFunc(s.route.Mixes, func(m scheduler.Mix) bool { return m.Vessel == s.mix.Vessel && m.Begins > s.mix.Begins })
	}
	return []mutation{
		{rule, "not rinsed", "is not rinsed after", nil, func(_ *mutant, s *spot) { s.mix.Rinse = civil.Interval{} }, final},
		{rule, "rinsed a second too briefly", "a rinse takes", nil, func(_ *mutant, s *spot) { s.mix.Rinse.To-- }, final},
		{rule, "rinsed before the last use", "before the last use of", among, func(_ *mutant, s *spot) { s.mix.Rinse.From = s.mix.LastUse - 1 }, final},
		{rule, "rinsed after the route", "after the route ends", among, func(_ *mutant, s *spot) {
			length := s.mix.Rinse.To - s.mix.Rinse.From
			s.mix.Rinse = civil.Interval{From: s.route.Returns - length + 1, To: s.route.Returns + 1}
			s.mix.RinseAtBase = true
		}, final},
		{rule, "rinsed at a site without water", "where no visit is at a site with water", nil, func(m *mutant, s *spot) {
			for _, v := range s.route.Visits {
				if v.Arrives <= s.mix.Rinse.From && s.mix.Rinse.To <= v.Leaves {
					pricer{&m.p, nil}.site(v.Site).Water.Area = ""
				}
			}
		}, func(s *spot) bool { return final(s) && !s.mix.RinseAtBase }},
		{rule, "rinsed on the way", "where no visit is at a site with water", among, func(_ *mutant, s *spot) { s.mix.RinseAtBase = false }, func(s *spot) bool { return final(s) && s.mix.RinseAtBase }},
		{rule, "another product in the vessel without a rinse", "is not rinsed between", nil, func(_ *mutant, s *spot) {
			s.vessel.Methods = append(s.vessel.Methods, catalogue.Drench, catalogue.WholePlantSpray)
			s.vessel.Capacity = s.vessel.Capacity.Times(big.NewRat(3, 1))
			s.secondMix().Vessel = s.mix.Vessel
			s.mix.Rinse = civil.Interval{}
		}, func(s *spot) bool { return mixed(s) && s.secondMix() != nil && s.secondMix().Vessel != s.mix.Vessel }},
		{rule, "another product in the vessel before the rinse", "is used and rinsed", among, func(_ *mutant, s *spot) {
			s.vessel.Methods = append(s.vessel.Methods, catalogue.Drench, catalogue.WholePlantSpray)
			s.vessel.Capacity = s.vessel.Capacity.Times(big.NewRat(3, 1))
			s.secondMix().Vessel = s.mix.Vessel
			s.mix.Rinse, s.mix.RinseAtBase = civil.Interval{From: s.route.Returns.Add(-s.m.p.Rules.Rinsing), To: s.route.Returns}, true
		}, func(s *spot) bool { return mixed(s) && s.secondMix() != nil && s.secondMix().Vessel != s.mix.Vessel }},
		{rule, "an open mix of another product in the vessel", "was not rinsed out", nil, func(m *mutant, s *spot) {
			m.p.Mixes = []scheduler.Mix{{Technician: s.tech.ID, Product: "other", Vessel: s.mix.Vessel, Volume: s.mix.Volume, Begins: s.shift.During.From, Ready: s.shift.During.From + 60}}
		}, func(s *spot) bool {
			return firstUse(s) && s.shift != nil && s.shift.During.From < s.mix.Begins && !slices.ContainsFunc(s.route.Mixes, func(m scheduler.Mix) bool { return m.Vessel == s.mix.Vessel && m.Begins < s.mix.Begins })
		}},
	}
}
