package quantity_test

import (
	"math/big"
	"testing"

	"vernation/scheduler/quantity"
)

// TestWeightRate_PublishedConversions is the table "pounds of actual pesticide wanted per 100 gallons" of the New England
// Vegetable Management Guide: how much of a liquid with so many pounds in a gallon, or of a powder or dust of such a
// strength, holds half a pound, one, three and five pounds.
func TestWeightRate_PublishedConversions(t *testing.T) {
	t.Parallel()
	pounds := []string{"1/2 lb", "1 lb", "3 lb", "5 lb"}
	for _, c := range []struct {
		inGallon string
		want     [4]string
		// printed is what the guide says where it is wrong: its 6 EC row repeats the row below from three pounds on.
		printed [4]string
	}{
		{"3/2 lb", [4]string{"4/3 US qt", "8/3 US qt", "2 US gal", "10/3 US gal"}, [4]string{}},
		{"2 lb", [4]string{"1 US qt", "2 US qt", "3/2 US gal", "5/2 US gal"}, [4]string{}},
		{"4 lb", [4]string{"1 US pt", "1 US qt", "3 US qt", "5 US qt"}, [4]string{}},
		// 3/6 gal = 2 qt and 5/6 gal = 3 1/3 qt.
		{"6 lb", [4]string{"2/3 US pt", "4/3 US pt", "2 US qt", "10/3 US qt"}, [4]string{2: "3/2 US qt", 3: "5/2 US qt"}},
		{"8 lb", [4]string{"1/2 US pt", "1 US pt", "3/2 US qt", "5/2 US qt"}, [4]string{}},
	} {
		liquid := quantity.WeightRate{Mass: mass(t, c.inGallon), Per: volume(t, "1 US gal")}
		for i, wanted := range pounds {
			got := liquid.VolumeFor(mass(t, wanted))
			if !got.Equal(volume(t, c.want[i])) || c.printed[i] != "" && got.Equal(volume(t, c.printed[i])) {
				t.Errorf("%s in a gallon: %s are in %s, want %s (printed wrong: %q)", c.inGallon, wanted, got.Exact(), c.want[i], c.printed[i])
			}
		}
	}
	for _, c := range []struct {
		strength string
		want     [4]string // the guide rounds thirds to 33, 67 and 333
	}{
		{"15 %", [4]string{"10/3 lb", "20/3 lb", "20 lb", "100/3 lb"}},
		{"25 %", [4]string{"2 lb", "4 lb", "12 lb", "20 lb"}},
		{"40 %", [4]string{"5/4 lb", "5/2 lb", "15/2 lb", "25/2 lb"}},
		{"1 %", [4]string{"50 lb", "100 lb", "300 lb", "500 lb"}},
		{"1.5 %", [4]string{"100/3 lb", "200/3 lb", "200 lb", "1000/3 lb"}},
		{"2.5 %", [4]string{"20 lb", "40 lb", "120 lb", "200 lb"}},
		{"5 %", [4]string{"10 lb", "20 lb", "60 lb", "100 lb"}},
	} {
		for i, wanted := range pounds {
			if got := quantity.WholeFor(mass(t, wanted), strength(t, c.strength)); !got.Equal(mass(t, c.want[i])) {
				t.Errorf("%s of it are in %s of a powder of %s, want %s", wanted, got.Exact(), c.strength, c.want[i])
			}
		}
	}
}

// TestWeightRate_PublishedSmallAmounts: the same guide's powders for 25 gallons and for one; it rounds the gallon for a kitchen scale.
func TestWeightRate_PublishedSmallAmounts(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ per100, for25, for1, printed1 string }{
		{"1 lb", "4 av oz", "0.16 av oz", "1/6 av oz"},
		{"2 lb", "1/2 lb", "0.32 av oz", "1/3 av oz"},
		{"3 lb", "3/4 lb", "0.48 av oz", "1/2 av oz"},
		{"4 lb", "1 lb", "0.64 av oz", "2/3 av oz"},
	} {
		rate := quantity.WeightRate{Mass: mass(t, c.per100), Per: volume(t, "100 US gal")}
		small := rate.MassFor(volume(t, "1 US gal"))
		if !rate.MassFor(volume(t, "25 US gal")).Equal(mass(t, c.for25)) || !small.Equal(mass(t, c.for1)) {
			t.Errorf("%v: %v for 25 gal and %v for one, want %s and %s", rate, rate.MassFor(volume(t, "25 US gal")), small, c.for25, c.for1)
		}
		// The kitchen figure is always above: held to a label it would pass it by 4 %.
		if small.Cmp(mass(t, c.printed1)) >= 0 {
			t.Errorf("%v: the printed %s is no longer above %v", rate, c.printed1, small)
		}
	}
}

// TestRate_RoundingForTheKitchenPassesTheLabel: University of Kentucky, slides on small amounts: one gallon in 100 is printed as
// half a pint in five gallons. Exactly it is 6.4 fl oz: the printed figure is a quarter more than the label says.
func TestRate_RoundingForTheKitchenPassesTheLabel(t *testing.T) {
	t.Parallel()
	label := rate(t, "1 US gal", "100 US gal", quantity.MadeUpTo)
	exact := label.ConcentrateFor(volume(t, "5 US gal"))
	if !exact.Equal(volume(t, "6.4 US fl oz")) {
		t.Errorf("a gallon in 100 is %v in 5 gal, want 6.4 US fl oz", exact)
	}
	printed := rate(t, "1/2 US pt", "5 US gal", quantity.MadeUpTo)
	if over := new(big.Rat).Quo(printed.Share(), label.Share()); over.Cmp(big.NewRat(5, 4)) != 0 {
		t.Errorf("the printed half pint is %v of the label's rate, want 5/4", over)
	}
}

// TestDilute_ByWeightOfWater is University of Missouri Extension, guide G7510: gallons of a product with so many pounds in a gallon
// to 100 gallons of a finished spray of such a percentage. The guide takes a gallon of water as 8 lb and calls its figures approximate;
// by 8.34 lb they are 4 % more.
func TestDilute_ByWeightOfWater(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ inGallon, percent, want string }{
		{"1 lb", "1 %", "8 US gal"}, {"1 lb", "0.5 %", "4 US gal"}, {"1 lb", "0.03125 %", "2 US pt"},
		{"3/2 lb", "1 %", "16/3 US gal"},                                 // printed 6
		{"2 lb", "0.25 %", "1 US gal"}, {"3 lb", "0.125 %", "8/3 US pt"}, // printed 3
		{"4 lb", "1 %", "2 US gal"}, {"4 lb", "0.03125 %", "1/2 US pt"},
	} {
		for _, gallon := range []struct {
			pounds string
			more   *big.Rat
		}{{"8 lb", big.NewRat(1, 1)}, {"8.34 lb", big.NewRat(834, 800)}} {
			water := quantity.WeightRate{Mass: mass(t, gallon.pounds), Per: volume(t, "1 US gal")}
			active := water.Times(strength(t, c.percent)).MassFor(volume(t, "100 US gal"))
			got := quantity.WeightRate{Mass: mass(t, c.inGallon), Per: volume(t, "1 US gal")}.VolumeFor(active)
			if want := volume(t, c.want).Times(gallon.more); !got.Equal(want) {
				t.Errorf("%s to 100 gal of a product with %s in a gallon, water of %s: %s, want %s", c.percent, c.inGallon, gallon.pounds, got.Exact(), want.Exact())
			}
		}
	}
}

// TestPartsPerMillion_WorkedExamples by weight in water.
func TestPartsPerMillion_WorkedExamples(t *testing.T) {
	t.Parallel()
	const texas = "Texas A&M, horticultural IPM, nutrient calculations: ounces in 100 gal"
	for _, c := range []struct {
		name            string
		strength, ppm   string
		made, want, was string // grams or ounces with two decimals; was what is printed
		unit            quantity.MassUnit
		source          string
	}{
		// 250 mg x 378.5411784 L / 0.15 / 28.349523125 g; the page's factor of 75 gives 22.2 and it prints 22.
		{"250 ppm of a 15 % salt", "15 %", "250 ppm", "100 US gal", "22.25", "22", quantity.AvoirdupoisOunce, texas},
		{"150 ppm of a 15 % salt", "15 %", "150 ppm", "100 US gal", "13.35", "13", quantity.AvoirdupoisOunce, texas},
		// The page misprints 0.33 x 75 as 29.75 (24.75) and so 150 ppm as 5 oz.
		{"150 ppm of a 33 % salt", "33 %", "150 ppm", "100 US gal", "6.07", "5", quantity.AvoirdupoisOunce, texas + ", misprint"},
		{"200 ppm of a 33 % salt", "33 %", "200 ppm", "100 US gal", "8.09", "7", quantity.AvoirdupoisOunce, texas + ", misprint"},
		{"200 ppm of a 10 % fertiliser", "10 %", "200 ppm", "1 L", "2", "", quantity.Gram, "household page: 200 / 0.10 / 1000 = 2 g in a litre"},
	} {
		rate := quantity.InWater(strength(t, c.ppm))
		got := quantity.WholeFor(rate.MassFor(volume(t, c.made)), strength(t, c.strength))
		if text := quantity.Decimal(got.In(c.unit), 2); text != c.want || text == c.was {
			t.Errorf("%s in %s: %s %s, want %s and not %q (%s)", c.name, c.made, text, c.unit, c.want, c.was, c.source)
		}
	}
	// An ounce in 100 gal is 74.89 ppm; the trade's 75.
	ounce := quantity.WeightRate{Mass: mass(t, "1 av oz"), Per: volume(t, "100 US gal")}
	if text := quantity.Decimal(ounce.PartsPerMillion(), 2); text != "74.89" {
		t.Errorf("an ounce in 100 gal is %s ppm, want 74.89", text)
	}
	if back := quantity.InWater(strength(t, "200 ppm")).PartsPerMillion(); back.Cmp(big.NewRat(200, 1)) != 0 {
		t.Errorf("200 ppm come back as %v", back)
	}
}
