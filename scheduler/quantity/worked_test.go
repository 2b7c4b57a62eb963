package quantity_test

import (
	"math/big"
	"testing"

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

func surface(t testing.TB, text string) quantity.Surface {
	t.Helper()
	s, err := quantity.ParseSurface(text)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func strength(t testing.TB, text string) *big.Rat {
	t.Helper()
	s, err := quantity.ParseShare(text)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestWeightRate_WorkedExamples holds published examples of powders to the exact amount. printed is what the page
// says where it rounds.
func TestWeightRate_WorkedExamples(t *testing.T) {
	t.Parallel()
	const (
		safety   = "pesticidesafety.org, Calculations for Mixing"
		texas    = "Texas A&M, horticultural IPM, dilution formulas; the answer is our arithmetic"
		kentucky = "University of Kentucky Research and Education Center, slides on small-volume mixing"
	)
	for _, c := range []struct {
		name                           string
		mass, per, made, want, printed string
		source                         string
	}{
		// 2 x 300/100.
		{"2 lb per 100 gal, 300 gal", "2 lb", "100 US gal", "300 US gal", "6 lb", "", safety},
		// 32 oz x 20/100.
		{"2 lb per 100 gal, 20 gal", "2 lb", "100 US gal", "20 US gal", "6.4 av oz", "", safety},
		{"2 lb per 100 gal, 10 gal", "2 lb", "100 US gal", "10 US gal", "3.2 av oz", "", safety},
		{"2 lb per 100 gal, 500 gal", "2 lb", "100 US gal", "500 US gal", "10 lb", "", texas},
		{"1 lb per 100 gal, 10 gal", "1 lb", "100 US gal", "10 US gal", "1.6 av oz", "", kentucky},
		{"1 lb per 100 gal, 1 gal", "1 lb", "100 US gal", "1 US gal", "0.16 av oz", "", kentucky},
		// 453.59237 / 100: the page rounds the pound to 454 g and the answer to 4.5.
		{"1 lb per 100 gal, 1 gal in grams", "1 lb", "100 US gal", "1 US gal", "4.5359237 g", "4.5 g", kentucky},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			rate := quantity.WeightRate{Mass: mass(t, c.mass), Per: volume(t, c.per)}
			if err := rate.Validate(); err != nil {
				t.Fatal(err)
			}
			got, want := rate.MassFor(volume(t, c.made)), mass(t, c.want)
			if !got.Equal(want) {
				t.Errorf("%v for %s is %s, want %s (%s)", rate, c.made, got.As(want.Unit()).Exact(), c.want, c.source)
			}
			if back := rate.VolumeFor(got); !back.Equal(volume(t, c.made)) {
				t.Errorf("%v of it are for %v, want %s", got, back, c.made)
			}
			if c.printed != "" && got.Equal(mass(t, c.printed)) {
				t.Errorf("the printed %s came out, which is rounded (%s)", c.printed, c.source)
			}
		})
	}
}

// TestDilute_WorkedExamples: C1 V1 = C2 V2 (University of Missouri, Integrated Pest Management, ID 226).
func TestDilute_WorkedExamples(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name                string
		stock, wanted, made string
		want                string
		source              string
	}{
		// 2 ppm of 10 000 mL are 0.02 mL of the active ingredient; /0.02. 1 % is 10 000 ppm on the page.
		{"2 % product, 10 L at 2 ppm", "2 %", "2 ppm", "10 L", "1 mL", "University of Missouri IPM, ID 226 (inputs); answer our arithmetic"},
		// 55 x 1/48 = 1.1458333...
		{"48 % concentrate, 55 gal of 1 %", "48 %", "1 %", "55 US gal", "55/48 US gal", "US Army subcourse MD0173, problem 1 (inputs): 1.1458 gal by its formula Q = A S D / C"},
		{"5 % stock, 100 mL of 0.10 %", "5 %", "0.10 %", "100 mL", "2 mL", "dilution list for stocks"},
		{"5 % stock, 100 mL of 0.25 %", "5 %", "0.25 %", "100 mL", "5 mL", "dilution list for stocks"},
		{"5 % stock, 100 mL of 0.5 %", "5 %", "0.5 %", "100 mL", "10 mL", "dilution list for stocks"},
		{"5 % stock, 100 mL of 1 %", "5 %", "1.0 %", "100 mL", "20 mL", "dilution list for stocks"},
		{"5 % stock, 100 mL of 2 %", "5 %", "2.0 %", "100 mL", "40 mL", "dilution list for stocks"},
		{"0.5 % in a 2 gal hand sprayer", "100 %", "0.5 %", "2 US gal", "1.28 US fl oz", "University of Illinois bulletin, issue 10, article 5 (2 June 2006): 256 x 0.005"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			rate, err := quantity.Dilute(strength(t, c.stock), strength(t, c.wanted))
			if err != nil {
				t.Fatal(err)
			}
			made, want := volume(t, c.made), volume(t, c.want)
			got := rate.ConcentrateFor(made)
			if !got.Equal(want) {
				t.Errorf("%s, want %s (%s)", got.As(want.Unit()).Exact(), c.want, c.source)
			}
			if back := rate.FinishedFrom(got); !back.Equal(made) || !rate.WaterFor(made).Add(got).Equal(made) {
				t.Errorf("%v of concentrate make %v with %v of water, want %s", got, back, rate.WaterFor(made), c.made)
			}
		})
	}
}

// TestInSteps_WorkedExamples: each step is a rate applied to the mix before it.
func TestInSteps_WorkedExamples(t *testing.T) {
	t.Parallel()
	parts := func(n int64) quantity.Rate { return quantity.NewRatio(n, quantity.AddedTo) }
	for _, c := range []struct {
		name          string
		stock         string
		steps         []quantity.Rate
		want, printed string // percent with three decimals; what the page says where it rounds
		source        string
	}{
		// 35/12.
		{"35 % peroxide, 1 + 11", "35 %", []quantity.Rate{parts(11)}, "2.917", "3", "household blog (second-hand)"},
		// 35/12/5: the page starts the second step from its rounded 3 %.
		{"then 1 + 4", "35 %", []quantity.Rate{parts(11), parts(4)}, "0.583", "0.6", "household blog (second-hand)"},
		{"70 % alcohol, 1 : 3", "70 %", []quantity.Rate{parts(3)}, "17.5", "", "gardening page (second-hand)"},
		{"70 % alcohol, 1 : 1", "70 %", []quantity.Rate{parts(1)}, "35", "", "gardening page (second-hand)"},
		{"70 % alcohol, 1 : 9", "70 %", []quantity.Rate{parts(9)}, "7", "", "gardening page (second-hand)"},
		// One and a half cups are 12 fl oz, a quart 32: 70 x 12/44.
		{"1.5 cups of 70 % in a quart of water", "70 %", []quantity.Rate{rate(t, "12 US fl oz", "1 US qt", quantity.AddedTo)}, "19.091", "", "recipe (inputs); our arithmetic"},
		{"no step", "70 %", nil, "70", "", "definition"},
	} {
		got := new(big.Rat).Mul(strength(t, c.stock), quantity.InSteps(c.steps...))
		if text := quantity.Percent(got, 3); text != c.want || text == c.printed {
			t.Errorf("%s: %s %%, want %s and not the printed %q (%s)", c.name, text, c.want, c.printed, c.source)
		}
	}
}

// TestWholeFor_WorkedExamples are of US Army subcourse MD0173: a dust by weight, and an emulsion by the weight of a
// gallon of water, 8.34 lb.
func TestWholeFor_WorkedExamples(t *testing.T) {
	t.Parallel()
	// 10 lb of toxicant in a 5 % dust: 10/0.05.
	if got := quantity.WholeFor(mass(t, "10 lb"), strength(t, "5 %")); !got.Equal(mass(t, "200 lb")) {
		t.Errorf("a 5 %% dust with 10 lb of toxicant weighs %v, want 200 lb (MD0173)", got)
	}
	// 0.3 lb in a 6 % emulsion: 0.3/(0.06 x 8.34) = 0.59952...; the page rounds to 0.6 gal.
	water := quantity.WeightRate{Mass: mass(t, "8.34 lb"), Per: volume(t, "1 US gal")}
	got := water.Times(strength(t, "6 %")).VolumeFor(mass(t, "0.3 lb"))
	if text := quantity.Decimal(got.In(quantity.USGallon), 4); text != "0.5995" {
		t.Errorf("a 6 %% emulsion with 0.3 lb takes %s gal, want 0.5995 (MD0173, printed 0.6)", text)
	}
	// 8.34 lb in a US gallon are 999.35 g/L: water near 15 °C.
	if text := quantity.Decimal(water.GramsPerLitre(), 2); text != "999.35" {
		t.Errorf("8.34 lb in a gallon are %s g/L, want 999.35", text)
	}
	if got := quantity.WholeFor(mass(t, "10 lb"), new(big.Rat)); !got.IsZero() {
		t.Errorf("a product without active ingredient: %v", got)
	}
}

// TestSurfaceRate_Calibration: how much a sprayer puts out on a surface.
func TestSurfaceRate_Calibration(t *testing.T) {
	t.Parallel()
	acre := quantity.NewSurface(1, 1, quantity.Acre)
	for _, c := range []struct {
		name            string
		caught, surface string
		want            string // US gal on an acre, three decimals
		source          string
	}{
		// 25/128 gal on 1/128 acre: fluid ounces caught are gallons an acre.
		{"1/128 acre, exactly", "25 US fl oz", "1/128 acre", "25", "UF/IFAS Extension Alachua County, 4 February 2022: fl oz caught are gallons an acre"},
		// 18.5 x 18.5 = 342.25 ft2 against 43 560/128 = 340.3125: 25 x 340.3125/342.25.
		{"18.5 ft x 18.5 ft", "25 US fl oz", "342.25 ft2", "24.858", "the same page's square, rounded up by 0.6 %"},
		// The page misprints the square as 8.5 ft x 18.5 ft = 157.25 ft2, which would more than double the answer.
		{"8.5 ft x 18.5 ft, misprinted", "25 US fl oz", "157.25 ft2", "54.104", "the same page, misprint: not 25"},
		// 5 mph are 440 ft/min; x 222/12 ft = 8140 ft2 in a minute; 480 fl oz x 43 560/8140/128. The page rounds to 20.
		{"480 oz a minute, 5 mph, 222 in", "480 US fl oz", "8140 ft2", "20.068", "Albany County (Wyoming) Weed and Pest: 20 GPA, by 5940 x gal/min / (mph x inches) 20.07"},
		// 1.5 x 43.56; the page rounds down to 65.
		{"1.5 gal on 1000 ft2", "1.5 US gal", "1000 ft2", "65.34", "extension text in a list archive (second-hand): 65 GPA"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			rate := quantity.SurfaceRate{Amount: volume(t, c.caught), Per: surface(t, c.surface)}
			if err := rate.Validate(); err != nil {
				t.Fatal(err)
			}
			if got := quantity.Decimal(rate.For(acre).In(quantity.USGallon), 3); got != c.want {
				t.Errorf("%v is %s gal an acre, want %s (%s)", rate, got, c.want, c.source)
			}
		})
	}
	// 32 fl oz an acre at 20 gal an acre: 32 fl oz in 20 gal (Albany County).
	tank := quantity.Rate{Concentrate: volume(t, "32 US fl oz"), Per: volume(t, "20 US gal"), Convention: quantity.MadeUpTo}
	if got := tank.ConcentrateFor(volume(t, "20 US gal")); !got.Equal(volume(t, "32 US fl oz")) {
		t.Errorf("32 fl oz an acre in 20 gal: %v", got)
	}
	// 3 pt an acre at the page's 65 gal an acre: 48/65 = 0.738 fl oz = 1.477 tbsp a gallon; printed 0.74 and 1.5.
	lawn := quantity.Rate{Concentrate: volume(t, "3 US pt"), Per: volume(t, "65 US gal"), Convention: quantity.MadeUpTo}
	inGallon := lawn.ConcentrateFor(volume(t, "1 US gal"))
	if ounces, spoons := quantity.Decimal(inGallon.In(quantity.USFluidOunce), 3), quantity.Decimal(inGallon.In(quantity.USTablespoon), 3); ounces != "0.738" || spoons != "1.477" {
		t.Errorf("3 pt in 65 gal is %s fl oz or %s tbsp a gallon, want 0.738 and 1.477 (printed 0.74 and 1.5)", ounces, spoons)
	}
}

// TestPotAndOrganismRates: arithmetic on rates such as labels state; 12 % of the pot is common practice, no source.
func TestPotAndOrganismRates(t *testing.T) {
	t.Parallel()
	pot := quantity.PotRate{Amount: volume(t, "120 mL"), PerPot: volume(t, "1 L")}
	if got := pot.For(volume(t, "25 L")); !got.Equal(volume(t, "3 L")) || pot.Validate() != nil {
		t.Errorf("%v for 25 L is %v, want 3 L", pot, got)
	}
	nematodes := quantity.OrganismRate{Organisms: 500_000, Per: volume(t, "1 L")}
	if got := nematodes.For(volume(t, "250 mL")); got.Cmp(big.NewRat(125_000, 1)) != 0 || nematodes.Validate() != nil {
		t.Errorf("%v: 250 mL take %v, want 125000", nematodes, got)
	}
	// 5 000 000 / 500 000 = 10.
	if got := nematodes.VolumeFor(5_000_000); !got.Equal(volume(t, "10 L")) {
		t.Errorf("5 million are for %v, want 10 L", got)
	}
	for name, err := range map[string]error{
		"more mix than pot":    quantity.PotRate{Amount: volume(t, "2 L"), PerPot: volume(t, "1 L")}.Validate(),
		"no pot":               quantity.PotRate{Amount: volume(t, "2 L")}.Validate(),
		"no mix":               quantity.PotRate{PerPot: volume(t, "2 L")}.Validate(),
		"pot of two systems":   quantity.PotRate{Amount: volume(t, "2 US fl oz"), PerPot: volume(t, "1 L")}.Validate(),
		"no organisms":         quantity.OrganismRate{Per: volume(t, "1 L")}.Validate(),
		"organisms in nothing": quantity.OrganismRate{Organisms: 1}.Validate(),
		"too many organisms":   quantity.OrganismRate{Organisms: quantity.MaxOrganisms + 1, Per: volume(t, "1 L")}.Validate(),
		"no mass":              quantity.WeightRate{Per: volume(t, "1 L")}.Validate(),
		"mass in nothing":      quantity.WeightRate{Mass: mass(t, "1 g")}.Validate(),
		"nothing on a surface": quantity.SurfaceRate{Per: surface(t, "1 m2")}.Validate(),
		"mix on nothing":       quantity.SurfaceRate{Amount: volume(t, "1 L")}.Validate(),
	} {
		if err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
	if !(quantity.PotRate{}).For(volume(t, "1 L")).IsZero() || (quantity.OrganismRate{}).For(volume(t, "1 L")).Sign() != 0 ||
		!(quantity.OrganismRate{}).VolumeFor(5).IsZero() || !(quantity.WeightRate{}).VolumeFor(mass(t, "1 g")).IsZero() ||
		!(quantity.SurfaceRate{}).For(surface(t, "1 m2")).IsZero() || !(quantity.Rate{}).FinishedFrom(volume(t, "1 L")).IsZero() {
		t.Error("a rate of nothing gives something")
	}
}
