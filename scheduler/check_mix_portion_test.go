package scheduler_test

import (
	"strings"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
)

// counted turns the story's product into living goods of one rate, and its mix into one of so many organisms. The sheet's
// arithmetic: 600 mL go on 4 pots of 4 L, 16 L in all, out of 32 US fl oz = 946.352 946 mL (NIST Handbook 44, Appendix C).
func counted(rate quantity.PortionRate, organisms int64) func(*story) {
	return func(s *story) {
		product := &s.Problem.Products[0]
		product.Form, product.Packs = catalogue.Living, []catalogue.Pack{{Name: "pack of a million", Organisms: 1_000_000, Parts: 4}}
		product.Label.MaxRate, product.Label.MaxPortion = nil, &rate
		s.mix().Concentrate, s.mix().Measure, s.mix().Organisms = quantity.Volume{}, "pack of a million", organisms
	}
}

// weighed does the same with a powder and a scale of the technician that shows whole grams.
func weighed(rate quantity.PortionRate, grams int64) func(*story) {
	return func(s *story) {
		product := &s.Problem.Products[0]
		product.Form, product.Label.MaxRate, product.Label.MaxPortion = catalogue.Solid, nil, &rate
		s.crew().Scales = []scheduler.Scale{{Name: "pocket scale", Capacity: quantity.NewMass(100, 1, quantity.Gram), Marks: quantity.NewMass(1, 1, quantity.Gram)}}
		s.mix().Concentrate, s.mix().Measure, s.mix().Mass = quantity.Volume{}, "pocket scale", quantity.NewMass(grams, 1, quantity.Gram)
	}
}

func also(changes ...func(*story)) func(*story) {
	return func(s *story) {
		for _, change := range changes {
			change(s)
		}
	}
}

func TestCheckMix_CountedAndWeighedWithinTheLabel(t *testing.T) {
	t.Parallel()
	perPot := quantity.PortionRate{Organisms: 10_000, PerPot: volume("1 L")}
	perMix := quantity.PortionRate{Organisms: 1_000_000, PerMix: volume("1 US gal")}
	perSoil := quantity.PortionRate{Organisms: 500_000, PerSurface: quantity.NewSurface(1, 1, quantity.SquareMetre)}
	soil := func(s *story) { s.pothos().Plant.SoilSurface = quantity.NewSurface(8, 100, quantity.SquareMetre) }
	powder := quantity.PortionRate{Mass: quantity.NewMass(40, 1, quantity.Gram), PerMix: volume("1 US gal")}
	expectBreaches(t, scheduler.RuleMix, []breachCase{
		// 16 L at 10 000 are 160 000. 250 000 x 600/946.352946 = 158 503, 99 % of it; half a million 317 006.
		{name: "for the pot", change: counted(perPot, 250_000)},
		{name: "too many for the pot", change: counted(perPot, 500_000), want: "gives the pots of pothos 317006.463 organisms: the label allows 144000 to 160000 organisms"},
		{name: "the label's own least", change: also(counted(perPot, 250_000), func(s *story) {
			s.label().MinPortion = &quantity.PortionRate{Organisms: 9_950, PerPot: volume("1 L")}
		}), want: "the label allows 159200 to 160000"},
		// 1 million a gallon are 250 000 in a quarter of one; half of it would be below nine tenths.
		{name: "for the mix", change: counted(perMix, 250_000)},
		{name: "too many for the mix", change: counted(perMix, 500_000), want: "gives its 32 US fl oz of mix 500000 organisms: the label allows 225000 to 250000"},
		// 4 pots of 0.08 m2 at 500 000 are 160 000.
		{name: "for the soil", change: also(soil, counted(perSoil, 250_000))},
		{name: "too many for the soil", change: also(soil, counted(perSoil, 500_000)), want: "gives the soil of pothos"},
		{name: "no whole part of a pack", change: counted(perPot, 249_999), want: "holds 1000000, parted by sight into 4"},
		{name: "a pack in which it does not come", change: also(counted(perPot, 250_000), func(s *story) { s.mix().Measure = "cup" }), want: `from pack "cup"`},
		{name: "poured and counted", change: also(counted(perPot, 250_000), func(s *story) { s.mix().Concentrate = volume("0.125 US fl oz") }), want: "it is counted, and neither poured nor weighed"},
		// 40 g a gallon are 10 g in a quarter of one, nine of them at least.
		{name: "weighed", change: weighed(powder, 10)},
		{name: "weighed too little", change: weighed(powder, 8), want: "gives its 32 US fl oz of mix 8 g: the label allows 9 to 10 g"},
		{name: "weighed too much", change: weighed(powder, 11), want: "11 g"},
		{name: "a scale that nobody has", change: also(weighed(powder, 10), func(s *story) { s.crew().Scales = nil }), want: `weighed with "pocket scale"`},
		{name: "between two steps of the scale", change: also(weighed(powder, 10), func(s *story) { s.mix().Mass = quantity.NewMass(19, 2, quantity.Gram) }), want: "shows steps of 1 g"},
		{name: "weighed and counted", change: also(weighed(powder, 10), func(s *story) { s.mix().Organisms = 5 }), want: "it is weighed, and neither poured nor counted"},
		{name: "a concentrate that is weighed", change: func(s *story) { s.mix().Mass = quantity.NewMass(1, 1, quantity.Gram) }, want: "its product is poured"},
		{name: "strewn granules are never mixed", change: func(s *story) {
			weighed(quantity.PortionRate{Mass: quantity.NewMass(2, 1, quantity.Gram), PerPot: volume("1 L")}, 10)(s)
		}, want: "never diluted"},
	})
}

// TestSolve_MixesWhatIsWeighedOrCounted: the solver's mix keeps the label by the checker's arithmetic, and says why where no
// mix does.
func TestSolve_MixesWhatIsWeighedOrCounted(t *testing.T) {
	t.Parallel()
	drench := func(change func(*scheduler.Problem)) scheduler.Problem {
		p := roundWeek()
		p.FollowUps = []scheduler.FollowUp{roundGnats(1, scheduler.Due{EarliestOn: march(3), IdealOn: march(4), LatestOn: march(6)})}
		change(&p)
		return p
	}
	nematodes := func(p *scheduler.Problem) {
		product := productIn(p, "drench-b")
		product.Form, product.Packs = catalogue.Living, []catalogue.Pack{{Name: "pack of a million", Organisms: 1_000_000, Parts: 8}}
		product.Label.MinRate, product.Label.MaxRate = nil, nil
		product.Label.MaxPortion = &quantity.PortionRate{Organisms: 10_000, PerPot: volume("1 L")}
	}
	plan := solved(t, drench(nematodes), 20)
	mix := mixOf(t, plan)
	if mix.Organisms <= 0 || mix.Organisms%125_000 != 0 || mix.Measure != "pack of a million" || !mix.Concentrate.IsZero() {
		t.Errorf("%+v: want whole eighths of a pack of a million", mix)
	}
	powder := func(p *scheduler.Problem) {
		product := productIn(p, "drench-b")
		product.Form, product.Label.MinRate, product.Label.MaxRate = catalogue.Solid, nil, nil
		product.Label.MaxPortion = &quantity.PortionRate{Mass: quantity.NewMass(1, 1, quantity.Pound), PerMix: volume("100 US gal")}
		for i := range p.Technicians {
			p.Technicians[i].Scales = []scheduler.Scale{{Name: "pocket scale", Capacity: quantity.NewMass(100, 1, quantity.Gram), Marks: quantity.NewMass(1, 10, quantity.Gram)}}
		}
	}
	if mix := mixOf(t, solved(t, drench(powder), 20)); mix.Mass.Sign() <= 0 || mix.Measure != "pocket scale" {
		t.Errorf("%+v: want a mass read off the pocket scale", mix)
	}
	without := drench(func(p *scheduler.Problem) { powder(p); p.Technicians[0].Scales = nil })
	item := without.FollowUps[0].ID
	if u := unplannedOf(t, solved(t, without, 20), item); !hasReason(u, scheduler.RuleMix, "no vessel and measure") {
		t.Errorf("without a scale: %v", u.Reasons)
	}
	soil := drench(func(p *scheduler.Problem) {
		nematodes(p)
		productIn(p, "drench-b").Label.MaxPortion = &quantity.PortionRate{Organisms: 500_000, PerSurface: quantity.NewSurface(1, 1, quantity.SquareMetre)}
	})
	if u := unplannedOf(t, solved(t, soil, 20), item); !hasReason(u, scheduler.RuleMix, "want both known") {
		t.Errorf("without a known soil: %v", u.Reasons)
	}
}

func productIn(p *scheduler.Problem, id catalogue.ProductID) *catalogue.Product {
	for i := range p.Products {
		if p.Products[i].ID == id {
			return &p.Products[i]
		}
	}
	panic("no product " + id)
}

// mixOf returns the first mix of a plan.
func mixOf(t *testing.T, plan scheduler.Plan) scheduler.Mix {
	t.Helper()
	for _, r := range plan.Routes {
		for _, m := range r.Mixes {
			return m
		}
	}
	t.Fatalf("no mix:\n%s", strings.TrimSpace(planText(plan)))
	return scheduler.Mix{}
}
