package dilution_test

import (
	"errors"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
)

func mass(t testing.TB, text string) quantity.Mass {
	t.Helper()
	m, err := quantity.ParseMass(text)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func pocketScale(t testing.TB, marks string) dilution.Scale {
	t.Helper()
	return dilution.Scale{Name: "pocket scale", Capacity: mass(t, "50 g"), Marks: mass(t, marks)}
}

func powderLimits(t testing.TB) dilution.WeightLimits {
	t.Helper()
	return *dosingOf(t, powder(quantity.PortionRate{Mass: mass(t, "1 lb"), PerMix: volume(t, "100 US gal")})).Weight
}

func TestFillPowder_WorkedByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, need, marks      string
		wantVolume, wantPowder string
		wantWeighings          int64
		wantNote               bool
	}{
		// 1 lb in 100 gal (University of Kentucky: 0.16 oz a gallon): a gallon takes 4.5359237 g, at least 90 % of that, 4.08.
		{"a gallon by tenths of a gram", "126 US fl oz", "0.1 g", "128 US fl oz", "4.5 g", 1, false},
		// By halves of a gram: 4.5 again, as the page rounds it.
		{"a gallon by halves", "126 US fl oz", "0.5 g", "128 US fl oz", "4.5 g", 1, false},
		// 22 + 2 dead: the 24 mark takes 0.8504 g at most and 0.765 at least: no whole gram. 32: 1.134 and 1.02. 40: 1.417. 48: 1.70, 56: 1.98.
		// 64: 2.268 to 2.041. 72: 2.55; 80: 2.83; 88: 3.118 to 2.806: 3 g.
		{"by whole grams to a larger mark", "22 US fl oz", "1 g", "88 US fl oz", "3 g", 1, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f, err := dilution.FillPowder(volume(t, c.need), powderLimits(t), sprayer(t, "128 US fl oz"), []dilution.Scale{pocketScale(t, c.marks)})
			if err != nil {
				t.Fatal(err)
			}
			if !f.Volume.Equal(volume(t, c.wantVolume)) || !f.Powder.Equal(mass(t, c.wantPowder)) || f.Weighings != c.wantWeighings || (f.Note != "") != c.wantNote {
				t.Errorf("%v of powder in %v by %d weighings, %q; want %s in %s by %d", f.Powder, f.Volume, f.Weighings, f.Note, c.wantPowder, c.wantVolume, c.wantWeighings)
			}
		})
	}
	_, err := dilution.FillPowder(volume(t, "22 US fl oz"), powderLimits(t), sprayer(t, "128 US fl oz"), []dilution.Scale{pocketScale(t, "10 g")})
	if !errors.Is(err, dilution.ErrMarks) {
		t.Errorf("steps of 10 g: %v", err)
	}
	_, err = dilution.FillPowder(volume(t, "127 US fl oz"), powderLimits(t), sprayer(t, "128 US fl oz"), []dilution.Scale{pocketScale(t, "0.1 g")})
	if !errors.Is(err, dilution.ErrVessel) {
		t.Errorf("more than the vessel holds: %v", err)
	}
}

// TestFillPowder_NeverPassesTheLabel over needs and scales, with the label's own arithmetic.
func TestFillPowder_NeverPassesTheLabel(t *testing.T) {
	t.Parallel()
	limits, vessel := powderLimits(t), sprayer(t, "128 US fl oz")
	rapid.Check(t, func(t *rapid.T) {
		need := quantity.NewVolume(rapid.Int64Range(1, 126*4).Draw(t, "quarter ounces"), 4, quantity.USFluidOunce)
		scale := dilution.Scale{Name: "scale", Capacity: quantity.NewMass(50, 1, quantity.Gram), Marks: quantity.NewMass(rapid.Int64Range(1, 2000).Draw(t, "milligrams"), 1, quantity.Milligram)}
		f, err := dilution.FillPowder(need, limits, vessel, []dilution.Scale{scale})
		if err != nil {
			return
		}
		// 453592.37 mg in 12800 fl oz.
		greatest := new(big.Rat).Mul(big.NewRat(45359237, 100*12800), f.Volume.In(quantity.USFluidOunce))
		got := f.Powder.In(quantity.Milligram)
		if got.Cmp(greatest) > 0 || got.Cmp(new(big.Rat).Mul(greatest, big.NewRat(9, 10))) < 0 || f.GramsPerLitre().Cmp(limits.Max.GramsPerLitre()) > 0 {
			t.Fatalf("%v in %v: want %v mg at most and nine tenths of it at least", f.Powder, f.Volume, greatest)
		}
		if f.Volume.Cmp(need.Add(vessel.Dead)) < 0 || f.Volume.Cmp(vessel.Capacity) > 0 {
			t.Fatalf("%v for a need of %v", f.Volume, need)
		}
	})
}

func nematodes(t testing.TB) dilution.OrganismLimits {
	t.Helper()
	return dilution.OrganismLimits{Min: quantity.OrganismRate{Organisms: 500_000, Per: volume(t, "1 L")}, Max: quantity.OrganismRate{Organisms: 1_000_000, Per: volume(t, "1 L")}}
}

func can(t testing.TB) dilution.Vessel {
	t.Helper()
	return dilution.Vessel{ID: "can", Name: "the watering can", Capacity: volume(t, "10 L"), Marks: volume(t, "1 L"), Methods: []catalogue.Method{catalogue.Drench}}
}

func TestFillOrganisms_WorkedByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, need          string
		parts               int64
		wantVolume, wantGot string
		wantOrganisms       int64
	}{
		// 7 L of 0.5 to 1 million a litre: 3.5 to 7 million: one pack of 5 million.
		{"whole packs", "6.5 L", 1, "7 L", "1 pack", 5_000_000},
		// 3 L take 1.5 to 3 million: half a pack of 5 in quarters is 2.5.
		{"quarters", "2.5 L", 4, "3 L", "1/2 of a pack", 2_500_000},
		// 4 L take 2 to 4 million: no whole pack; 5 L take 2.5 to 5.
		{"a larger mark for a whole pack", "3.5 L", 1, "5 L", "1 pack", 5_000_000},
		// 10 L take 5 to 10 million: the strongest are two packs.
		{"two packs", "10 L", 1, "10 L", "2 packs", 10_000_000},
		// 7 L take up to 7 million: in quarters of 1.25 that is 5 of them, 6.25 million.
		{"one and a quarter", "7 L", 4, "7 L", "1 1/4 packs", 6_250_000},
	} {
		f, err := dilution.FillOrganisms(volume(t, c.need), nematodes(t), can(t), []dilution.Pack{{Name: "pack of 5 million", Organisms: 5_000_000, Parts: c.parts}})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if !f.Volume.Equal(volume(t, c.wantVolume)) || f.Packs() != c.wantGot || f.Organisms != c.wantOrganisms {
			t.Errorf("%s: %s, %d organisms in %v; want %s, %d in %s", c.name, f.Packs(), f.Organisms, f.Volume, c.wantGot, c.wantOrganisms, c.wantVolume)
		}
	}
	for name, packs := range map[string][]dilution.Pack{
		"no pack": nil, "an empty pack": {{Name: "empty", Parts: 1}}, "sixty-four parts": {{Name: "fine", Organisms: 1, Parts: 64}},
	} {
		if f, err := dilution.FillOrganisms(volume(t, "3 L"), nematodes(t), can(t), packs); err == nil {
			t.Errorf("%s: %+v", name, f)
		}
	}
}

func TestLimits_RefuseWhatIsTurnedRound(t *testing.T) {
	t.Parallel()
	weak, strong := quantity.WeightRate{Mass: mass(t, "1 g"), Per: volume(t, "1 L")}, quantity.WeightRate{Mass: mass(t, "2 g"), Per: volume(t, "1 L")}
	for name, err := range map[string]error{
		"turned round":       dilution.WeightLimits{Min: strong, Max: weak}.Validate(),
		"no least":           dilution.WeightLimits{Max: weak}.Validate(),
		"no greatest":        dilution.WeightLimits{Min: weak}.Validate(),
		"fewer at most":      dilution.OrganismLimits{Min: nematodes(t).Max, Max: nematodes(t).Min}.Validate(),
		"no organisms":       dilution.OrganismLimits{}.Validate(),
		"no most organisms":  dilution.OrganismLimits{Min: nematodes(t).Min}.Validate(),
		"a scale of nothing": dilution.Scale{Name: "scale"}.Validate(),
		"a scale unnamed":    dilution.Scale{Capacity: mass(t, "1 g"), Marks: mass(t, "1 g")}.Validate(),
		"steps past the end": dilution.Scale{Name: "scale", Capacity: mass(t, "1 g"), Marks: mass(t, "2 g")}.Validate(),
	} {
		if err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

// TestFillInTwo_ReachesWhatOneStepCannot: 2 ppm of a 2 % product is 1 : 10 000 (University of Missouri IPM, ID 226, row of
// 1 mL in 10 L): a syringe of whole millilitres shows it in 10 L and not in 1 L.
func TestFillInTwo_ReachesWhatOneStepCannot(t *testing.T) {
	t.Parallel()
	greatest := rate(t, "1 mL", madeUp, "10 L")
	least := rate(t, "9 mL", madeUp, "100 L")
	limits := dilution.Limits{Min: &least, Max: &greatest}
	syringe := []dilution.Measure{{Name: "syringe", Capacity: volume(t, "10 mL"), Marks: volume(t, "1 mL")}}
	bottle := dilution.Vessel{ID: "bottle", Name: "the bottle", Capacity: volume(t, "1 L"), Marks: volume(t, "100 mL")}
	jug := dilution.Vessel{ID: "jug", Name: "the jug", Capacity: volume(t, "500 mL"), Marks: volume(t, "50 mL")}
	if _, err := dilution.Fill(volume(t, "1 L"), limits, bottle, syringe); !errors.Is(err, dilution.ErrMarks) {
		t.Fatalf("one step: %v, want no mark", err)
	}
	two, err := dilution.FillInTwo(volume(t, "1 L"), limits, bottle, jug, syringe)
	if err != nil {
		t.Fatal(err)
	}
	// 1 L holds 0.1 mL at most: 1 mL in 50 mL of stock is 2 %, and 5 mL of that hold 0.1 mL.
	if !two.Stock.Concentrate.Equal(volume(t, "1 mL")) || !two.Stock.Volume.Equal(volume(t, "50 mL")) || !two.Filling.Concentrate.Equal(volume(t, "5 mL")) {
		t.Errorf("stock of %v in %v, of which %v; want 1 mL in 50 mL, of which 5 mL", two.Stock.Concentrate, two.Stock.Volume, two.Filling.Concentrate)
	}
	if two.Share.Cmp(big.NewRat(1, 10_000)) != 0 {
		t.Errorf("share %v, want 1/10000", two.Share)
	}
	imperial := dilution.Vessel{ID: "jug", Name: "jug", Capacity: volume(t, "1 imp pt"), Marks: volume(t, "1 imp fl oz")}
	if _, err := dilution.FillInTwo(volume(t, "1 L"), limits, bottle, imperial, syringe); !errors.Is(err, dilution.ErrSystems) {
		t.Errorf("an imperial jug and a metric bottle: %v", err)
	}
	if _, err := dilution.FillInTwo(volume(t, "2 L"), limits, bottle, jug, syringe); !errors.Is(err, dilution.ErrVessel) {
		t.Errorf("more than the bottle holds: %v", err)
	}
}

func TestFillInTwo_NeverPassesTheLabel(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(200, 40_000).Draw(t, "one part in")
		greatest := quantity.NewRatio(n, quantity.MadeUpTo)
		least := quantity.Rate{Concentrate: quantity.NewVolume(9, 10, quantity.Millilitre), Per: quantity.NewVolume(n, 1, quantity.Millilitre), Convention: quantity.MadeUpTo}
		limits := dilution.Limits{Min: &least, Max: &greatest}
		measures := []dilution.Measure{{Name: "cup", Capacity: quantity.NewVolume(30, 1, quantity.Millilitre), Marks: quantity.NewVolume(rapid.Int64Range(1, 10).Draw(t, "marks"), 1, quantity.Millilitre)}}
		vessel := dilution.Vessel{Name: "bottle", Capacity: quantity.NewVolume(2, 1, quantity.Litre), Marks: quantity.NewVolume(250, 1, quantity.Millilitre)}
		jug := dilution.Vessel{Name: "jug", Capacity: quantity.NewVolume(1, 1, quantity.Litre), Marks: quantity.NewVolume(100, 1, quantity.Millilitre)}
		need := quantity.NewVolume(rapid.Int64Range(1, 2000).Draw(t, "need"), 1, quantity.Millilitre)
		two, err := dilution.FillInTwo(need, limits, vessel, jug, measures)
		if err != nil {
			return
		}
		concentrate := two.Filling.Concentrate.Times(dilution.Strength(two.Stock.Concentrate, two.Stock.Volume))
		share := dilution.Strength(concentrate, two.Filling.Volume)
		if share.Cmp(two.Share) != 0 || !limits.Allow(share) {
			t.Fatalf("share %v (said %v), want %v to %v", share, two.Share, least.Share(), greatest.Share())
		}
		if two.Filling.Concentrate.Cmp(two.Stock.Volume) > 0 {
			t.Fatalf("%v drawn from a stock of %v", two.Filling.Concentrate, two.Stock.Volume)
		}
	})
}

func TestDrawFrom_EmptiesWhatExpiresFirst(t *testing.T) {
	t.Parallel()
	on := civil.NewDate(2026, 3, 3)
	containers := []dilution.Container{
		{ID: "late", Product: "soap-rtu", Left: volume(t, "1 L"), ExpiresOn: on.AddDays(-1)},
		{ID: "new", Product: "soap-rtu", Left: volume(t, "1 L"), ExpiresOn: on.AddDays(300)},
		// Opened 60 days ago and kept for 90: 30 days are left.
		{ID: "open", Product: "soap-rtu", Left: volume(t, "300 mL"), ExpiresOn: on.AddDays(400), OpenedOn: on.AddDays(-60), KeepsOpenDays: 90},
		{ID: "unknown", Product: "soap-rtu", Left: volume(t, "1 L")},
		{ID: "other", Product: "oil-rtu", Left: volume(t, "1 L"), ExpiresOn: on},
	}
	draws, left, err := dilution.DrawFrom([]quantity.Volume{volume(t, "200 mL"), volume(t, "400 mL")}, "soap-rtu", on, containers)
	if err != nil {
		t.Fatal(err)
	}
	if len(draws) != 2 || len(draws[0]) != 1 || draws[0][0].Container != "open" || len(draws[1]) != 2 ||
		!draws[1][0].Amount.Equal(volume(t, "100 mL")) || draws[1][1].Container != "new" || !draws[1][1].Amount.Equal(volume(t, "300 mL")) {
		t.Errorf("draws %v", draws)
	}
	if len(left) != 4 || !left[0].Left.IsZero() || !left[1].Left.Equal(volume(t, "700 mL")) {
		t.Errorf("left %v", left)
	}
	if !containers[2].Left.Equal(volume(t, "300 mL")) {
		t.Error("the argument was changed")
	}
	_, _, err = dilution.DrawFrom([]quantity.Volume{volume(t, "2 L")}, "soap-rtu", on, containers)
	want := "the containers do not hold enough: 0.7 L of soap-rtu is missing on 2026-03-03; not used: late was to be used until 2026-03-02, unknown has no expiry recorded: read it off the container"
	if !errors.Is(err, dilution.ErrContainers) || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	// The printed day itself still counts.
	if _, _, err := dilution.DrawFrom([]quantity.Volume{volume(t, "1 L")}, "oil-rtu", on, containers); err != nil {
		t.Errorf("on its last day: %v", err)
	}
	if _, _, err := dilution.DrawFrom([]quantity.Volume{{}}, "oil-rtu", on, containers); err == nil {
		t.Error("nothing was drawn")
	}
}

func TestAccount_ClosesTheBalance(t *testing.T) {
	t.Parallel()
	full := dilution.Account{Concentrate: volume(t, "0.625 US fl oz"), Made: volume(t, "32 US fl oz"), Applied: volume(t, "22.5 US fl oz"), Home: volume(t, "4 US fl oz")}
	vessel := sprayer(t, "128 US fl oz")
	// 32 - 22.5 - 4 = 5.5, within the marks of 8; 22.5 x 0.625/32 = 0.439453125 of concentrate; 4 x 0.625/32 = 0.078125.
	b, err := full.Balance(vessel)
	if err != nil || !b.Unaccounted.Equal(volume(t, "5.5 US fl oz")) || !b.Closed || !b.ConcentrateApplied.Equal(volume(t, "0.439453125 US fl oz")) ||
		!b.ConcentrateHome.Equal(volume(t, "0.078125 US fl oz")) || len(b.Next) != 1 {
		t.Errorf("balance %+v, %v", b, err)
	}
	for name, c := range map[string]struct {
		change func(*dilution.Account)
		closed bool
		next   int
	}{
		"not told of":        {func(a *dilution.Account) { a.Home, a.Applied = quantity.Volume{}, volume(t, "10 US fl oz") }, false, 1},
		"more than was made": {func(a *dilution.Account) { a.Home, a.Applied = quantity.Volume{}, volume(t, "64 US fl oz") }, false, 1},
		"to the last drop":   {func(a *dilution.Account) { a.Home, a.Elsewhere = quantity.Volume{}, volume(t, "9.5 US fl oz") }, true, 0},
		"spilt and home":     {func(a *dilution.Account) { a.Spilt = volume(t, "5 US fl oz") }, true, 2},
	} {
		a := full
		c.change(&a)
		if b, err := a.Balance(vessel); err != nil || b.Closed != c.closed || len(b.Next) != c.next {
			t.Errorf("%s: %+v, %v", name, b, err)
		}
	}
	for name, change := range map[string]func(*dilution.Account){
		"nothing made":              func(a *dilution.Account) { a.Made = quantity.Volume{} },
		"less than nothing":         func(a *dilution.Account) { a.Spilt = volume(t, "-1 mL") },
		"more concentrate than mix": func(a *dilution.Account) { a.Concentrate = volume(t, "1 US gal") },
	} {
		a := full
		change(&a)
		if b, err := a.Balance(vessel); err == nil {
			t.Errorf("%s: %+v", name, b)
		}
	}
}
