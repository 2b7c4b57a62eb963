package dilution_test

import (
	"errors"
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// powder is an invented wettable powder whose label states a greatest rate, and perhaps a least before it.
func powder(rates ...quantity.PortionRate) catalogue.Product {
	return portioned(catalogue.Solid, rates)
}

// nematodePack is an invented product of counted organisms.
func nematodePack(rates ...quantity.PortionRate) catalogue.Product {
	p := portioned(catalogue.Living, rates)
	p.Packs = []catalogue.Pack{{Name: "pack of 5 million", Organisms: 5_000_000, Parts: 8}}
	return p
}

func portioned(form catalogue.Form, rates []quantity.PortionRate) catalogue.Product {
	p := catalogue.Product{ID: "portioned", Name: "Portioned (placeholder)", Form: form}
	p.Label.MaxPortion = &rates[len(rates)-1]
	if len(rates) > 1 {
		p.Label.MinPortion = &rates[0]
	}
	return p
}

func dosingOf(t testing.TB, p catalogue.Product, on ...dilution.Poured) dilution.Dosing {
	t.Helper()
	dosing, err := dilution.LabelDosing(p, 90, on)
	if err != nil {
		t.Fatal(err)
	}
	return dosing
}

// onPots is a drench of so much mix on a group of so many pots of one size.
func onPots(t testing.TB, count int, pot, mix string) dilution.Poured {
	t.Helper()
	return dilution.PouredOn(site.Plant{ID: "plant-1", Count: count, PotVolume: volume(t, pot)}, volume(t, mix))
}

// A greenhouse trade article on Steinernema feltiae (Greenhouse Management, "Steinernema feltiae-") states 10 000 for a litre
// of medium, 10 million a cubic metre, and 50 million for 100 m2. What a can of them holds follows from how much is poured:
// on 24 pots of 5 L, 120 L of medium, are 1.2 million; poured as 14.4 L (120 mL a litre) they are 83 333 in a litre of mix.
func TestLabelDosing_TurnsARateForPotOrSoilIntoOneForTheMix(t *testing.T) {
	t.Parallel()
	perPot := quantity.PortionRate{Organisms: 10_000, PerPot: volume(t, "1 L")}
	perCubicMetre := quantity.PortionRate{Organisms: 10_000_000, PerPot: volume(t, "1000 L")}
	bed := dilution.PouredOn(site.Plant{ID: "bed", Count: 1, PotVolume: volume(t, "500 L"), SoilSurface: quantity.NewSurface(2, 1, quantity.SquareMetre)}, volume(t, "4 L"))
	for _, c := range []struct {
		name                  string
		rates                 []quantity.PortionRate
		on                    dilution.Poured
		wantLeast, wantLitres string // organisms in a litre of mix
	}{
		{"for a litre of pot", []quantity.PortionRate{perPot}, onPots(t, 24, "5 L", "14.4 L"), "75000", "250000/3"},
		{"for a cubic metre of medium", []quantity.PortionRate{perCubicMetre}, onPots(t, 24, "5 L", "14.4 L"), "75000", "250000/3"},
		// 50 million on 100 m2 are 500 000 on 1 m2, 1 000 000 on the bed's 2 m2, in 4 L: 250 000 a litre, 225 000 at least.
		{"for a surface", []quantity.PortionRate{{Organisms: 50_000_000, PerSurface: quantity.NewSurface(100, 1, quantity.SquareMetre)}}, bed, "225000", "250000"},
		// The article's range of an experiment, 12.5 to 50 a square centimetre (Jagdale et al. 2004): 125 000 to 500 000 a square metre.
		{"a range for a surface", []quantity.PortionRate{
			{Organisms: 125_000, PerSurface: quantity.NewSurface(1, 1, quantity.SquareMetre)}, {Organisms: 500_000, PerSurface: quantity.NewSurface(1, 1, quantity.SquareMetre)},
		}, bed, "62500", "250000"},
		{"for a litre of mix", []quantity.PortionRate{{Organisms: 500_000, PerMix: volume(t, "1 L")}, {Organisms: 1_000_000, PerMix: volume(t, "1 L")}}, dilution.Poured{}, "500000", "1000000"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			limits := dosingOf(t, nematodePack(c.rates...), c.on).Organisms
			if got := limits.Min.PerLitre(); got.Cmp(number(t, c.wantLeast)) != 0 {
				t.Errorf("least %v a litre, want %s", got.RatString(), c.wantLeast)
			}
			if got := limits.Max.PerLitre(); got.Cmp(number(t, c.wantLitres)) != 0 {
				t.Errorf("greatest %v a litre, want %s", got.RatString(), c.wantLitres)
			}
		})
	}
}

// 8 g made up to 1 US gal are 8/3.785 411 784 g/L whatever is poured (NIST Handbook 44, Appendix C).
func TestLabelDosing_WeighsAPowderForTheMix(t *testing.T) {
	t.Parallel()
	mix := dosingOf(t, powder(quantity.PortionRate{Mass: mass(t, "8 g"), PerMix: volume(t, "1 US gal")})).Weight
	if got, want := mix.Max.GramsPerLitre(), number(t, "8000/3785.411784"); got.Cmp(want) != 0 {
		t.Errorf("%v g/L, want %v", got, want)
	}
	if got, want := mix.Min.GramsPerLitre(), number(t, "7200/3785.411784"); got.Cmp(want) != 0 || !mix.LeastIsOurs {
		t.Errorf("least %v g/L, want nine tenths, %v", got, want)
	}
}

func TestLabelDosing_OneMixIsRightForEveryPlantOrRefused(t *testing.T) {
	t.Parallel()
	perPot := nematodePack(quantity.PortionRate{Organisms: 10_000, PerPot: volume(t, "1 L")})
	for name, on := range map[string][]dilution.Poured{
		"no plant":          nil,
		"no pot":            {onPots(t, 1, "0 L", "100 mL")},
		"nothing is poured": {onPots(t, 1, "2 L", "0 mL")},
		// 120 and 100 mL a litre of pot: at the greatest rate of the first the second gets 5/6, less than 90 percent.
		"two shares": {onPots(t, 1, "2 L", "240 mL"), onPots(t, 1, "2 L", "200 mL")},
	} {
		if _, err := dilution.LabelDosing(perPot, 90, on); !errors.Is(err, dilution.ErrGround) {
			t.Errorf("%s: %v", name, err)
		}
	}
	// 120 and 110 mL: 11/12 is within.
	limits := dosingOf(t, perPot, onPots(t, 1, "2 L", "240 mL"), onPots(t, 1, "2 L", "220 mL")).Organisms
	if limits.Max.PerLitre().Cmp(number(t, "250000/3")) != 0 || limits.Min.PerLitre().Cmp(number(t, "900000/11")) != 0 {
		t.Errorf("%v to %v", limits.Min.PerLitre(), limits.Max.PerLitre())
	}
	perSoil := nematodePack(quantity.PortionRate{Organisms: 500_000, PerSurface: quantity.NewSurface(1, 1, quantity.SquareMetre)})
	if _, err := dilution.LabelDosing(perSoil, 90, []dilution.Poured{onPots(t, 1, "2 L", "240 mL")}); !errors.Is(err, dilution.ErrGround) {
		t.Errorf("soil that is not known: %v", err)
	}
}

func TestLabelDosing_NamesTheFieldThatIsWrong(t *testing.T) {
	t.Parallel()
	good := quantity.PortionRate{Organisms: 10_000, PerMix: volume(t, "1 L")}
	for _, c := range []struct {
		name   string
		rates  []quantity.PortionRate
		policy int
		want   string
	}{
		{"nothing", []quantity.PortionRate{{PerMix: volume(t, "1 L")}}, 90, "label.max_portion: want a mass or a number"},
		{"both amounts", []quantity.PortionRate{{Mass: mass(t, "1 g"), Organisms: 2, PerMix: volume(t, "1 L")}}, 90, "one of them"},
		{"two bases", []quantity.PortionRate{{Organisms: 2, PerMix: volume(t, "1 L"), PerPot: volume(t, "1 L")}}, 90, "one of them"},
		{"a least that is not valid", []quantity.PortionRate{{Organisms: 2}, good}, 90, "label.min_portion"},
		{"a least of another kind", []quantity.PortionRate{{Organisms: 2, PerPot: volume(t, "1 L")}, good}, 90, "want one kind"},
		{"turned round", []quantity.PortionRate{{Organisms: 20_000, PerMix: volume(t, "1 L")}, good}, 90, "not above the greatest"},
		{"a policy of nothing", []quantity.PortionRate{good}, 0, "want 1 to 100"},
	} {
		if _, err := dilution.LabelDosing(nematodePack(c.rates...), c.policy, nil); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if _, err := dilution.LabelDosing(soap(t), 90, nil); err != nil {
		t.Errorf("a concentrate: %v", err)
	}
	dry := powder(quantity.PortionRate{Mass: mass(t, "1 g"), PerPot: volume(t, "1 L")})
	if _, err := dilution.LabelDosing(dry, 90, nil); err == nil || !strings.Contains(err.Error(), "never diluted") {
		t.Errorf("granules that are strewn: %v", err)
	}
}

// A US label is never taken for an imperial vessel; a metric one is converted exactly, and that is said.
func TestDosingFill_NeverMixesSystemsSilently(t *testing.T) {
	t.Parallel()
	imperial := dilution.Vessel{Name: "imperial can", Capacity: volume(t, "2 imp gal"), Marks: volume(t, "1 imp pt")}
	kit := dilution.Kit{Scales: []dilution.Scale{pocketScale(t, "0.1 g")}, Packs: []dilution.Pack{{Name: "pack", Organisms: 1_000_000, Parts: 8}}}
	pounds := dosingOf(t, powder(quantity.PortionRate{Mass: mass(t, "1 lb"), PerMix: volume(t, "100 US gal")}))
	if _, err := pounds.Fill(volume(t, "1 imp gal"), imperial, kit); !errors.Is(err, dilution.ErrSystems) {
		t.Errorf("a US label in an imperial can: %v", err)
	}
	grams := dosingOf(t, powder(quantity.PortionRate{Mass: mass(t, "1 g"), PerMix: volume(t, "1 L")}))
	batch, err := grams.Fill(volume(t, "1 imp gal"), imperial, kit)
	if err != nil || !strings.Contains(batch.Note, "converted exactly") || batch.Mass.String() != "4.5 g" || batch.Measure != "pocket scale" {
		t.Errorf("%+v, %v", batch, err) // 4.546 09 L at 1 g/L: 4.5 g and not 4.6
	}
	count := dosingOf(t, nematodePack(quantity.PortionRate{Organisms: 100_000, PerMix: volume(t, "1 US qt")}))
	if _, err := count.Fill(volume(t, "1 imp gal"), imperial, kit); !errors.Is(err, dilution.ErrSystems) {
		t.Errorf("organisms of a US label in an imperial can: %v", err)
	}
}

// TestDosingFill_NoPlantGetsMoreThanTheLabel over pots, shares and vessels, by the arithmetic of what each plant gets.
func TestDosingFill_NoPlantGetsMoreThanTheLabel(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		rate := quantity.PortionRate{Organisms: rapid.Int64Range(1_000, 50_000).Draw(rt, "organisms"), PerPot: volume(t, "1 L")}
		share := big.NewRat(rapid.Int64Range(5, 25).Draw(rt, "percent"), 100)
		var on []dilution.Poured
		need := quantity.Volume{}
		for range rapid.IntRange(1, 5).Draw(rt, "groups") {
			pot := quantity.NewVolume(rapid.Int64Range(1, 40).Draw(rt, "pot"), 2, quantity.Litre)
			p := dilution.PouredOn(site.Plant{Count: rapid.IntRange(1, 6).Draw(rt, "count"), PotVolume: pot}, quantity.Volume{})
			p.Mix = p.Pot.Times(share)
			on, need = append(on, p), need.Add(p.Mix)
		}
		kit := dilution.Kit{Packs: []dilution.Pack{{Name: "pack", Organisms: 240_000, Parts: rapid.Int64Range(1, 8).Filter(func(n int64) bool { return 240_000%n == 0 }).Draw(rt, "parts")}}}
		batch, err := dosingOf(t, nematodePack(rate), on...).Fill(need, can(t), kit)
		if err != nil {
			rt.Skip(err)
		}
		for _, p := range on {
			gets := new(big.Rat).Quo(p.Mix.Millilitres(), batch.Volume.Millilitres())
			gets.Mul(gets, big.NewRat(batch.Organisms, 1))
			most := p.Portion(rate)
			if gets.Cmp(most) > 0 || gets.Cmp(new(big.Rat).Mul(most, big.NewRat(90, 100))) < 0 {
				rt.Fatalf("a group of %v gets %v of %v organisms", p.Pot, gets.FloatString(1), most.FloatString(1))
			}
		}
	})
}

// number reads "250000/3" or "8000/3785.411784" exactly.
func number(t testing.TB, text string) *big.Rat {
	t.Helper()
	above, below, _ := strings.Cut(text+"/1", "/")
	n, ok := new(big.Rat).SetString(above)
	d, fine := new(big.Rat).SetString(strings.TrimSuffix(below, "/1"))
	if !ok || !fine {
		t.Fatalf("%q is no number", text)
	}
	return n.Quo(n, d)
}
