package course_test

import (
	"maps"
	"math"
	"slices"
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
)

// Factors within which the shipped pests lie of published life tables: their rate of increase; their generation, which even
// laying makes longer, since most females begin with the most eggs; and their net reproduction, which the plant decides more
// than anything else.
const (
	rateTolerance         = 1.5
	generationTolerance   = 1.75
	reproductionTolerance = 3
)

// compared is a published life table beside what the model says of the shipped pest at its temperature.
type compared struct {
	pest  catalogue.PestID
	table catalogue.LifeTable
	got   course.Growth
	// fitted says that a figure of the pest comes from the same work: the comparison shows that the figures fit together
	// and is no evidence for the model. Nothing of an independent work is in the pest.
	fitted bool
}

// tables are the life tables of the shipped catalogue.
func tables(t *testing.T) []compared {
	t.Helper()
	c := catalogue.Shipped()
	var all []compared
	for _, id := range slices.Sorted(maps.Keys(c.Pests)) {
		pest := c.Pests[id]
		for _, table := range pest.LifeTables {
			got, err := course.GrowthOf(pest, table.Celsius)
			if err != nil {
				t.Errorf("%s at %v °C: %v", id, table.Celsius, err)
				continue
			}
			all = append(all, compared{id, table, got, pest.FittedTo(table.Source)})
		}
	}
	return all
}

func (x compared) hold(t *testing.T) {
	t.Helper()
	within := func(what string, got, published, tolerance float64) bool {
		if published == 0 {
			return true
		}
		factor := got / published
		t.Logf("%s at %v °C, %s: model %.4g, published %.4g, %.2f-fold (%s) %s", x.pest, x.table.Celsius, what, got, published, factor, x.table.Source, x.table.Off)
		return factor <= tolerance && factor >= 1/tolerance
	}
	met := within("r", x.got.PerDay, x.table.IntrinsicRate, rateTolerance)
	met = within("T", x.got.GenerationDays, x.table.GenerationDays, generationTolerance) && met
	met = within("R0", x.got.Net, x.table.NetReproduction, reproductionTolerance) && met
	switch {
	case !met && x.table.Off == "":
		t.Errorf("%s at %v °C lies further from %s than by the tolerance: r %.3f, T %.1f, R0 %.1f", x.pest, x.table.Celsius, x.table.Source, x.got.PerDay, x.got.GenerationDays, x.got.Net)
	case met && x.table.Off != "":
		t.Errorf("%s at %v °C agrees with %s, though it is said to miss it: %s", x.pest, x.table.Celsius, x.table.Source, x.table.Off)
	}
}

func TestGrowth_OfShippedPestsAgreesWithIndependentLifeTables(t *testing.T) {
	t.Parallel()
	agreed := map[catalogue.PestID]int{}
	for _, x := range tables(t) {
		if x.fitted {
			continue
		}
		if x.hold(t); x.table.Off == "" {
			agreed[x.pest]++
		}
	}
	if len(agreed) < 4 {
		t.Errorf("only %v are held against a work of which nothing is in their figures", agreed)
	}
}

// A check of consistency alone: each of these works gave durations, eggs, laying days, a share of females or survival, too.
func TestGrowth_OfShippedPestsFitsTheLifeTablesOfTheirOwnSources(t *testing.T) {
	t.Parallel()
	for _, x := range tables(t) {
		if x.fitted {
			x.hold(t)
		}
	}
}

func TestGrowth_OfShippedPestsRisesAsIndependentTablesOfOnePestDo(t *testing.T) {
	t.Parallel()
	// Bounfour and Tanigoshi 2001: mite r 0.08 at 15 °C, 0.321 at 30. Herbert (1981): 0.069 at 15 °C, 0.156 at 18. Goldasteh et al.
	// 2009: the citrus mealybug's r and R0 are greatest at 25 °C, which no straight rate shows above it: up to there it rises.
	for _, row := range []struct {
		pest catalogue.PestID
		at   []float64
	}{{"two-spotted-mite", []float64{15, 18, 30}}, {"citrus-mealybug", []float64{15, 18, 23, 25}}} {
		before := 0.0
		for _, celsius := range row.at {
			got, err := course.GrowthOf(catalogue.Shipped().Pests[row.pest], celsius)
			if err != nil || got.PerDay <= before {
				t.Errorf("%s at %v °C: r %.3f after %.3f in the cooler (%v)", row.pest, celsius, got.PerDay, before, err)
			}
			before = got.PerDay
		}
	}
}

func TestGrowth_OfShippedPestsIsInTheOrderOfTheTrade(t *testing.T) {
	t.Parallel()
	// Aphids, then mites, thrips and gnats, then mealybugs, then armoured scale, at 25 °C: the order of the published rates 0.3,
	// 0.2 to 0.3, 0.2, 0.1 to 0.15 and 0.04.
	before, name := math.Inf(1), catalogue.PestID("")
	for _, id := range []catalogue.PestID{"green-peach-aphid", "two-spotted-mite", "fungus-gnat", "citrus-mealybug", "oleander-scale"} {
		got, err := course.GrowthOf(catalogue.Shipped().Pests[id], 25)
		if err != nil {
			t.Fatalf("%s: %v", id, err)
		}
		if got.PerDay >= before {
			t.Errorf("%s grows by %.3f a day, %s by %.3f", id, got.PerDay, name, before)
		}
		before, name = got.PerDay, id
	}
}

func TestModel_LaysByTheTemperatureOfTheDay(t *testing.T) {
	t.Parallel()
	// A pest that lays 10 eggs at 16 °C and 100 at 24 grows slower in the cool for two reasons, and over a line in which the plants
	// go from the one to the other it grows as in the first until that day, and as in the second after it.
	pest := brood("laying", 50, 10, 0.5, 0.8, developing("egg", 8, 60), developing("nymph", 8, 150))
	pest.Laying = []catalogue.Laying{{Celsius: 16, Eggs: 10, Days: 12}, {Celsius: 24, Eggs: 100, Days: 6}}
	for celsius, want := range map[float64]struct{ net, development float64 }{16: {10 * 0.5 * 0.8, 210.0 / 8}, 24: {100 * 0.5 * 0.8, 210.0 / 16}} {
		got, err := course.GrowthOf(pest, celsius)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "R0", got.Net, want.net, 1e-6)
		near(t, "development", got.DevelopmentDays, want.development, 1e-9)
	}
	c := knowing(pest, contact(pest, 0.9, 0, every(pest, catalogue.Reached)...))
	from := date("2026-03-02")
	on := func(spells ...course.Spell) float64 {
		return course.ModelOver(c, pest, catalogue.Material{}, from, spells...).InsectDays(40)
	}
	cool, warm := on(course.Spell{Season: steady(16)}), on(course.Spell{Season: steady(24)})
	carried := on(course.Spell{Season: steady(16)}, course.Spell{From: from.AddDays(20), Season: steady(24)})
	late := on(course.Spell{Season: steady(16)}, course.Spell{From: from.AddDays(41), Season: steady(24)})
	if !(cool < carried && carried < warm) {
		t.Errorf("insect-days %v in the cool, %v carried to the warm, %v in the warm", cool, carried, warm)
	}
	near(t, "before the change", late, cool, 0.15*cool) // other sub-stages, the same means
}
