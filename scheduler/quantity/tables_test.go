package quantity_test

import (
	"math/big"
	"strings"
	"testing"

	"vernation/scheduler/quantity"
)

// printed holds a computed number to a cell of a published table: the printed number, which the computed one must round to;
// or, where the page rounds for a spoon or is wrong, the printed number and behind it what is right, to its own decimals.
func printed(t *testing.T, got *big.Rat, cell, of string) {
	t.Helper()
	page, right, differs := strings.Cut(cell, " ")
	if !differs {
		right = page
	}
	rounded := func(text string) string {
		_, decimals, _ := strings.Cut(text, ".")
		return got.FloatString(len(decimals))
	}
	if text := rounded(right); text != right {
		t.Errorf("%s: %s, want %s (printed %s)", of, text, right, page)
	}
	if differs && rounded(page) == page {
		t.Errorf("%s: %s is what the page prints, yet the test calls it another number", of, page)
	}
}

func percentOf(share *big.Rat) *big.Rat { return new(big.Rat).Mul(share, big.NewRat(100, 1)) }

// TestRatio_SuppliersChart: a cleaning supplier's chart of ratios, its ounces "to a gallon" and percents of the mix. Its two columns
// agree only when the ounces are added to a gallon of water: 1:32 is 4 fl oz to 128 and 1/33 of the mix.
func TestRatio_SuppliersChart(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		parts           int64
		ounces, percent string
	}{
		{1, "128", "50"},
		{2, "64", "33"},
		{4, "32", "20"},
		{6, "21.3", "14.3"},
		{8, "16", "11.1"},
		{10, "12.8", "9.1"},
		{12, "10.7", "7.7"},
		{16, "8", "5.8 5.9"}, // 100/17 = 5.88, cut
		{20, "6.4", "4.8"},
		{24, "5.3", "4.0"},
		{32, "4", "3.0"},
		{40, "3.2", "2.4"},
		{50, "2.5 2.56", "2.0"},
		{64, "2", "1.5"},
		{80, "1.6", "1.2"},
		{96, "1.3", "1.0"},
		{128, "1", "0.78"},
		{170, "0.75", "0.58"},
		{256, "0.5", "0.39"},
		{512, "0.25", "0.19"},
	} {
		ratio := quantity.NewRatio(c.parts, quantity.AddedTo)
		gallon := volume(t, "1 US gal")
		concentrate := gallon.Times(big.NewRat(1, c.parts)) // of water
		printed(t, concentrate.In(quantity.USFluidOunce), c.ounces, ratio.String()+" to a gallon of water")
		printed(t, percentOf(ratio.Share()), c.percent, ratio.String())
		if mix := gallon.Add(concentrate); !ratio.ConcentrateFor(mix).Equal(concentrate) || !ratio.WaterFor(mix).Equal(gallon) {
			t.Errorf("%v: %v in %v, want %v", ratio, ratio.ConcentrateFor(mix), mix, concentrate)
		}
		if made := quantity.NewRatio(c.parts, quantity.MadeUpTo); made.Cmp(ratio) <= 0 {
			t.Errorf("%v is not above %v", made, ratio)
		}
	}
}

// TestRatio_BottleChart: a coatings seller's dilution chart, fluid ounces of concentrate in a finished quart, gallon, five gallons and
// a bottle of 24 ounces. It is read as added to, one part in N + 1, and rounded for a measuring cup.
func TestRatio_BottleChart(t *testing.T) {
	t.Parallel()
	sizes := [4]string{"1 US qt", "1 US gal", "5 US gal", "24 US fl oz"}
	for _, c := range []struct {
		parts int64
		cells [4]string
	}{
		{10, [4]string{"3", "11.5 11.636", "59 58.182", "2.25 2.182"}},
		{12, [4]string{"2.5", "10", "50 49.231", "1.75 1.846"}},
		{15, [4]string{"2", "8", "40", "1.5"}},
		{20, [4]string{"1.5", "6", "31 30.476", "1"}},
		{32, [4]string{"1", "4", "20 19.394", "0.75 0.727"}},
		{40, [4]string{"0.8", "3", "16", "0.6"}},
		{50, [4]string{"0.6", "2.5", "13", "0.5"}},
		{64, [4]string{"0.5", "2", "10", "0.33 0.369"}},
		{128, [4]string{"0.25", "1", "5", "0.2"}},
		{256, [4]string{"0.12", "0.5", "3 2.490", "0.1"}},
		{512, [4]string{"0.065 0.062", "0.25", "1", "0.05"}},
	} {
		ratio := quantity.NewRatio(c.parts, quantity.AddedTo)
		for i, size := range sizes {
			printed(t, ratio.ConcentrateFor(volume(t, size)).In(quantity.USFluidOunce), c.cells[i], ratio.String()+" in "+size)
		}
	}
}

// TestRatio_PublishedStrengths: what is left of a stock's strength, and how many parts of water make a strength.
func TestRatio_PublishedStrengths(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		stock      string
		parts      int64
		convention quantity.Convention
		ppm        string
		source     string
	}{
		{"4.5 %", 64, quantity.AddedTo, "692", "cleaning supplier's chart: 45 000 / 65"},
		{"4.5 %", 256, quantity.MadeUpTo, "176", "cleaning distributor's page: 45 000 / 256"},
		{"4.5 %", 128, quantity.MadeUpTo, "352", "the same; its costs divide by 257, which is the other reading"},
		{"5.25 %", 128, quantity.MadeUpTo, "410", "Kansas health department: 1 fl oz of 5.25 % chlorine in a gallon is 410 mg in a litre"},
	} {
		share := quantity.NewRatio(c.parts, c.convention).Share()
		printed(t, share.Mul(share, strength(t, c.stock)).Mul(share, big.NewRat(1_000_000, 1)), c.ppm, c.source)
	}
	for _, c := range []struct{ stock, wanted, water, source string }{
		{"3.5 %", "0.5 %", "6", "chlorine solution formula: 3.5 / 0.5 - 1 parts of water"},
		{"5 %", "0.1 %", "49", "the same: 5 / 0.1 - 1"},
		{"10 %", "1 %", "9", "C1 V1 = C2 V2"},
	} {
		r, err := quantity.Dilute(strength(t, c.stock), strength(t, c.wanted))
		if err != nil {
			t.Fatal(err)
		}
		litre := volume(t, "1 L")
		printed(t, new(big.Rat).Quo(r.WaterFor(litre).Millilitres(), r.ConcentrateFor(litre).Millilitres()), c.water, c.source)
	}
	// 1 fl oz at 1:64 made up to makes 64 fl oz, added to 65: a janitorial distributor's page prints the second.
	ounce := volume(t, "1 US fl oz")
	printed(t, quantity.NewRatio(64, quantity.AddedTo).FinishedFrom(ounce).In(quantity.USFluidOunce), "65", "an ounce at 1:64")
	printed(t, quantity.NewRatio(64, quantity.MadeUpTo).FinishedFrom(ounce).In(quantity.USFluidOunce), "64", "an ounce in 64")
}

// TestChlorine_PublishedTreatments is Kansas' health department on large water: 5.25 % by volume.
func TestChlorine_PublishedTreatments(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		ppm, water, want string
		unit             quantity.Unit
	}{
		{"50 ppm", "1000 US gal", "122", quantity.USFluidOunce},
		{"50 ppm", "1000 US gal", "3.8", quantity.USQuart},
		{"410.15625 ppm", "10000 US gal", "10000", quantity.USFluidOunce}, // 52 500 / 128, printed 410
		{"410.15625 ppm", "10000 US gal", "78", quantity.USGallon},        // 78.125
	} {
		r, err := quantity.Dilute(strength(t, "5.25 %"), strength(t, c.ppm))
		if err != nil {
			t.Fatal(err)
		}
		printed(t, r.ConcentrateFor(volume(t, c.water)).In(c.unit), c.want, c.ppm+" in "+c.water)
	}
	// A powder of 35 % for 0.5 %: 5 g in a litre / 0.35 = 14.286 g; one copy of the page prints 14.2.
	powder := quantity.WholeFor(quantity.InWater(strength(t, "0.5 %")).MassFor(volume(t, "1 L")), strength(t, "35 %"))
	printed(t, powder.In(quantity.Gram), "14.3", "chlorine solution formula, powder")
	printed(t, powder.In(quantity.Gram), "14.2 14.3", "the same page's copy, cut")
}

// TestInjector_PublishedFertiliser: ounces of a fertiliser of such a percentage of nitrogen in a gallon of concentrate for so many parts
// per million behind an injector that makes one part into so many (University of Massachusetts: 1:100 means that a gallon of concentrate
// delivers 100 gallons). Two steps, counted back: the strength in the tank is the wanted one times the injector's ratio.
func TestInjector_PublishedFertiliser(t *testing.T) {
	t.Parallel()
	const (
		growers  = "trade magazine, June 2018, injector arithmetic by the trade's factor of 75"
		supplier = "grower's supplier, table of ounces for 15 %"
	)
	for _, c := range []struct {
		percent, ppm string
		injector     int64
		made, want   string // ounces, av
		source       string
	}{
		{"20 %", "200 ppm", 100, "1 US gal", "13.5 13.35", growers},
		{"20 %", "200 ppm", 100, "12 US gal", "162 160", growers}, // 12 x its rounded 13.5
		{"15 %", "200 ppm", 100, "1 US gal", "18", growers},
		{"15 %", "50 ppm", 15, "1 US gal", "0.68 0.67", supplier},
		{"15 %", "50 ppm", 100, "1 US gal", "4.5", supplier},
		{"15 %", "50 ppm", 200, "1 US gal", "9", supplier},
		{"15 %", "100 ppm", 15, "1 US gal", "1.35 1.34", supplier},
		{"15 %", "100 ppm", 100, "1 US gal", "9", supplier},
		{"15 %", "100 ppm", 200, "1 US gal", "18", supplier},
		{"15 %", "200 ppm", 15, "1 US gal", "2.7", supplier},
		{"15 %", "200 ppm", 100, "1 US gal", "18", supplier},
		{"15 %", "200 ppm", 200, "1 US gal", "36", supplier},
		{"15 %", "200 ppm", 100, "5 US gal", "90 89", supplier},       // 5 x its rounded 18: 5 lb 10 oz
		{"15 %", "225 ppm", 100, "1 US gal", "20.25 20.03", supplier}, // 18 x 225/200
	} {
		injector := quantity.NewRatio(c.injector, quantity.MadeUpTo)
		tank := quantity.InWater(strength(t, c.ppm)).Times(new(big.Rat).Inv(injector.Share()))
		whole := quantity.WholeFor(tank.MassFor(volume(t, c.made)), strength(t, c.percent))
		printed(t, whole.In(quantity.AvoirdupoisOunce), c.want, c.ppm+" of "+c.percent+" at "+injector.String()+" in "+c.made+": "+c.source)
		// And forward again: what the tank holds, through the injector, is what was wanted.
		active := quantity.WeightRate{Mass: whole.Times(strength(t, c.percent)), Per: volume(t, c.made)}
		if back := active.Times(quantity.InSteps(injector)); back.Cmp(quantity.InWater(strength(t, c.ppm))) != 0 {
			t.Errorf("%s at %v come back as %s ppm", c.ppm, injector, back.PartsPerMillion().RatString())
		}
	}
	// An injector's dial (New England greenhouse update): 1 % is 1:100, 2 % 1:50, half a percent 1:200, all made up to.
	for percent, parts := range map[string]int64{"1 %": 100, "2 %": 50, "0.5 %": 200} {
		r, err := quantity.PercentByVolume(percentOf(strength(t, percent)))
		if err != nil || r.Cmp(quantity.NewRatio(parts, quantity.MadeUpTo)) != 0 {
			t.Errorf("a dial at %s is %v, %v; want 1:%d", percent, r, err, parts)
		}
	}
}

// TestSmallAmounts_PublishedSpoons: an extension's spoons for ten gallons and for one of a label that speaks of 100 gallons, and its
// ounces of a percentage by volume. The spoons are rounded down by up to a sixth.
func TestSmallAmounts_PublishedSpoons(t *testing.T) {
	t.Parallel()
	const missouri = "University of Missouri Extension G7510"
	for _, c := range []struct {
		per100, made, want string
		unit               quantity.Unit
		source             string
	}{
		{"4 US fl oz", "10 US gal", "2", quantity.USTeaspoon, "pest control page"},
		{"4 US fl oz", "1 US gal", "0.25 0.24", quantity.USTeaspoon, "pest control page"},
		{"8 US fl oz", "10 US gal", "4 4.8", quantity.USTeaspoon, "pest control page"},
		{"8 US fl oz", "1 US gal", "0.5", quantity.USTeaspoon, "pest control page"},
		{"1 US pt", "10 US gal", "8 9.6", quantity.USTeaspoon, "pest control page"},
		{"1 US pt", "1 US gal", "1", quantity.USTeaspoon, "pest control page"},
		{"1 US qt", "10 US gal", "16 19.2", quantity.USTeaspoon, "pest control page"},
		{"1 US qt", "1 US gal", "2", quantity.USTeaspoon, "pest control page"},
		{"0.5 US gal", "1 US gal", "0.65 0.64", quantity.USFluidOunce, "the same page's 0.5 %"},
		{"0.5 US gal", "2 US gal", "1.3", quantity.USFluidOunce, "the same page's 0.5 %"},
		{"0.5 US gal", "5 US gal", "3.2", quantity.USFluidOunce, "the same page's 0.5 %"},
		{"0.5 US gal", "10 US gal", "6.4", quantity.USFluidOunce, "the same page's 0.5 %"},
		{"0.5 US gal", "25 US gal", "16", quantity.USFluidOunce, "the same page's 0.5 %"},
		{"0.5 US gal", "50 US gal", "32", quantity.USFluidOunce, "the same page's 0.5 %"},
		{"0.5 US gal", "100 US gal", "64", quantity.USFluidOunce, "the same page's 0.5 %"},
		{"2 US pt", "1 US gal", "2", quantity.USTeaspoon, missouri},
		{"4 US pt", "1 US gal", "4", quantity.USTeaspoon, missouri},
		{"1 US gal", "1 US gal", "8", quantity.USTeaspoon, missouri},
		{"2 US gal", "1 US gal", "16 15", quantity.USTeaspoon, missouri},
		{"4 US gal", "1 US gal", "10", quantity.USTablespoon, missouri},
		{"8 US gal", "1 US gal", "0.67 0.64", quantity.USPint, missouri},
	} {
		label := rate(t, c.per100, "100 US gal", quantity.MadeUpTo)
		printed(t, label.ConcentrateFor(volume(t, c.made)).In(c.unit), c.want, c.per100+" in 100 gal for "+c.made+" ("+c.source+")")
	}
	// Fluid ounces as teaspoons (conversion table for labels).
	for ounces, spoons := range map[string]string{"1/8": "0.75", "1/4": "1.5", "1/3": "2", "1/2": "3", "2/3": "4", "3/4": "4.5", "1": "6"} {
		printed(t, volume(t, ounces+" US fl oz").In(quantity.USTeaspoon), spoons, ounces+" fl oz")
	}
}

// TestSystems_PublishedAcrossThem: pages that speak in two systems at once are computed exactly and refused as a label's rate.
func TestSystems_PublishedAcrossThem(t *testing.T) {
	t.Parallel()
	// Growth regulator guide (trade magazine): 38 mL in a gallon, 50 gallons; and 4.5 mL for each ppm, 3.5 ppm, 100 gallons.
	for _, c := range []struct{ concentrate, made, want string }{{"38 mL", "50 US gal", "1900"}, {"15.75 mL", "100 US gal", "1575"}} {
		mixed := quantity.Rate{Concentrate: volume(t, c.concentrate), Per: volume(t, "1 US gal"), Convention: quantity.MadeUpTo}
		if mixed.Validate() == nil {
			t.Errorf("%v: two systems were accepted as one rate", mixed)
		}
		printed(t, mixed.ConcentrateFor(volume(t, c.made)).In(quantity.Millilitre), c.want, mixed.String())
	}
	// An ounce in a gallon is 1/160 in Britain and 1/128 in America: 6.25 and 7.8125 mL in a litre.
	litre := volume(t, "1 L")
	imperial := rate(t, "1 imp fl oz", "1 imp gal", quantity.MadeUpTo)
	american := rate(t, "1 US fl oz", "1 US gal", quantity.MadeUpTo)
	printed(t, imperial.ConcentrateFor(litre).In(quantity.Millilitre), "6.25", "an imperial ounce in an imperial gallon")
	printed(t, american.ConcentrateFor(litre).In(quantity.Millilitre), "7.8125", "a US ounce in a US gallon")
	if american.Cmp(imperial) <= 0 {
		t.Error("an ounce in a gallon is no stronger in America")
	}
	// A British label's 40 mL in 4.5 L, which gardeners call a gallon: an imperial gallon would take 1 % more.
	label := rate(t, "40 mL", "4.5 L", quantity.MadeUpTo)
	printed(t, label.ConcentrateFor(volume(t, "1 imp gal")).In(quantity.Millilitre), "40.41", "40 mL in 4.5 L for an imperial gallon")
	// An old book of formulas: grains in an imperial pint of 20 fl oz of 437.5 grains of water; a grain is 1/7000 lb.
	water := quantity.WeightRate{Mass: mass(t, "10 lb"), Per: volume(t, "1 imp gal")}
	for percent, grains := range map[string]string{"10 %": "875", "5 %": "437.5", "1 %": "87.5"} {
		pounds := water.Times(strength(t, percent)).MassFor(volume(t, "1 imp pt")).In(quantity.Pound)
		printed(t, pounds.Mul(pounds, big.NewRat(7000, 1)), grains, percent+" in an imperial pint")
	}
}

// TestPortionRate_PublishedNematodes: a supplier's table of a billion nematodes on an acre. Its columns in feet are right; those in
// metres carry the feet's numbers on (229.6 thousand stands at 10 000 ft2 too) and are 7 to 8 % too little.
func TestPortionRate_PublishedNematodes(t *testing.T) {
	t.Parallel()
	on := func(organisms int64, on string) quantity.PortionRate {
		return quantity.PortionRate{Organisms: organisms, PerSurface: surface(t, on)}
	}
	billion := on(1_000_000_000, "1 acre")
	for _, c := range []struct{ on, thousands string }{
		{"1 ft2", "22.9 22.957"}, // cut
		{"2500 ft2", "57392"},    // printed 57.4 million, as the next 114.8 and 229.6
		{"5000 ft2", "114784"},
		{"10000 ft2", "229568"},
		{"1 m2", "229.6 247.1"},        // misprint
		{"1076 ft2", "22600 24702"},    // misprint; the page calls it 100 m2
		{"100 m2", "22600 24711"},      // the same
		{"4046.8564224 m2", "1000000"}, // an acre
	} {
		area := surface(t, c.on)
		of := new(big.Rat).Mul(billion.Each(), area.SquareMetres())
		printed(t, of.Quo(of, big.NewRat(1000, 1)), c.thousands, "a billion on an acre, "+c.on)
	}
	// 50 million on 100 m2, which another page calls 1,100 ft2: exactly 1076.4, 2 % less.
	printed(t, surface(t, "100 m2").In(quantity.SquareFoot), "1100 1076.4", "100 m2")
	if on(50_000_000, "1100 ft2").Cmp(on(50_000_000, "100 m2")) >= 0 {
		t.Error("the same on 1100 ft2 is not weaker")
	}
	// A producer's half a million on a square metre, or 5,000 in a litre of peat: as much where the peat is 100 L/m2 deep, 10 cm.
	half, litre := on(500_000, "1 m2"), quantity.PortionRate{Organisms: 5000, PerPot: volume(t, "1 L")}
	if half.Cmp(on(50_000_000, "100 m2")) != 0 || half.Like(litre) || half.Each().Cmp(new(big.Rat).Mul(litre.Each(), big.NewRat(100, 1))) != 0 {
		t.Errorf("%v is not 50 million on 100 m2, or is like %v", half, litre)
	}
	// The same 50 million in 20 to 50 L of water: 2.5 to 1 million in a litre; 10 000 in a litre of compost.
	for _, c := range []struct{ in, millions string }{{"20 L", "2.5"}, {"50 L", "1"}} {
		each := quantity.PortionRate{Organisms: 50_000_000, PerMix: volume(t, c.in)}.Each()
		printed(t, new(big.Rat).Quo(each, big.NewRat(1_000_000, 1)), c.millions, "50 million in "+c.in)
	}
}
