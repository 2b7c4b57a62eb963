package dilution_test

import (
	"math/big"
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
)

func volume(t testing.TB, text string) quantity.Volume {
	t.Helper()
	v, err := quantity.ParseVolume(text)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func rate(t testing.TB, concentrate string, convention quantity.Convention, per string) quantity.Rate {
	t.Helper()
	r := quantity.Rate{Concentrate: volume(t, concentrate), Per: volume(t, per), Convention: convention}
	if err := r.Validate(); err != nil {
		t.Fatal(err)
	}
	return r
}

const (
	madeUp = quantity.MadeUpTo
	added  = quantity.AddedTo
)

// TestRate_WorkedExamples holds published examples to the exact amount. Where the page rounds for a spoon, or
// is wrong, printed says what stands there; it is never what is computed.
func TestRate_WorkedExamples(t *testing.T) {
	t.Parallel()
	const (
		illinois   = "Univ. of Illinois IPM Bulletin, issue 10, article 5 (2 June 2006)"
		safety     = "pesticidesafety.org, Calculations for Mixing"
		vegetables = "New England Vegetable Management Guide, conversions for small amounts"
		equivalent = "Equivalents for spraying (second-hand table)"
		chart      = "Dilution chart (second-hand)"
		list       = "Dilution list for stocks"
		suppliers  = "Suppliers' charts for 1:32, which publish both"
	)
	for _, c := range []struct {
		name                   string
		concentrate, per, made string
		convention             quantity.Convention
		want                   string // exact
		printed                string // where it differs
		source                 string
	}{
		// 256 fl oz x 0.005.
		{"0.5 % in 2 gal", "0.5 mL", "100 mL", "2 US gal", madeUp, "1.28 US fl oz", "", illinois},
		{"2 pt per 100 gal, 300 gal", "2 US pt", "100 US gal", "300 US gal", madeUp, "6 US pt", "", safety},
		// 32 fl oz x 20/100.
		{"2 pt per 100 gal, 20 gal", "2 US pt", "100 US gal", "20 US gal", madeUp, "6.4 US fl oz", "", safety},
		{"1 pt per 100 gal, 25 gal", "1 US pt", "100 US gal", "25 US gal", madeUp, "4 US fl oz", "", vegetables},
		{"the same in spoons", "1 US pt", "100 US gal", "25 US gal", madeUp, "8 US tbsp", "", vegetables},
		// 96 tsp / 100.
		{"1 pt per 100 gal, 1 gal", "1 US pt", "100 US gal", "1 US gal", madeUp, "0.96 US tsp", "1 US tsp", vegetables},
		{"half a pint per 100 gal, 25 gal", "1/2 US pt", "100 US gal", "25 US gal", madeUp, "2 US fl oz", "", vegetables},
		{"half a pint per 100 gal, 1 gal", "1/2 US pt", "100 US gal", "1 US gal", madeUp, "0.48 US tsp", "0.5 US tsp", vegetables},
		{"1 gal per 100 gal, 25 gal", "1 US gal", "100 US gal", "25 US gal", madeUp, "1 US qt", "", vegetables},
		// 256 tbsp / 100.
		{"1 gal per 100 gal, 1 gal", "1 US gal", "100 US gal", "1 US gal", madeUp, "2.56 US tbsp", "2.5 US tbsp", vegetables},
		{"the same in ounces", "1 US gal", "100 US gal", "1 US gal", madeUp, "1.28 US fl oz", "", vegetables},
		// The rule "pints per 100 gal are fl oz in 6.25 gal": 16 x 6.25/100 = 1.
		{"3 pt per 100 gal, 6.25 gal", "3 US pt", "100 US gal", "6.25 US gal", madeUp, "3 US fl oz", "", vegetables},
		{"1 % of 1 gal", "1 mL", "100 mL", "1 US gal", madeUp, "1.28 US fl oz", "1.3 US fl oz", equivalent},
		{"2 % of 1 gal", "2 mL", "100 mL", "1 US gal", madeUp, "2.56 US fl oz", "2.6 US fl oz", equivalent},
		{"5 % of 1 gal", "5 mL", "100 mL", "1 US gal", madeUp, "6.4 US fl oz", "", equivalent},
		{"2 % of 5 gal", "2 mL", "100 mL", "5 US gal", madeUp, "12.8 US fl oz", "", equivalent},
		{"1 % of 10 gal", "1 mL", "100 mL", "10 US gal", madeUp, "12.8 US fl oz", "", equivalent},
		{"2 % of 100 gal", "2 mL", "100 mL", "100 US gal", madeUp, "2 US gal", "", equivalent},
		// A misprint: 256/100 = 2.56, and the page's own 1 gal and 10 gal agree with that.
		{"1 % of 2 gal, misprinted", "1 mL", "100 mL", "2 US gal", madeUp, "2.56 US fl oz", "2.8 US fl oz", equivalent},
		// 1:4 as one part in five.
		{"1:4, 1 qt", "1 mL", "4 mL", "1 US qt", added, "6.4 US fl oz", "6.5 US fl oz", chart},
		{"1:4, 1 gal", "1 mL", "4 mL", "1 US gal", added, "25.6 US fl oz", "25.5 US fl oz", chart},
		{"1:4, 5 gal", "1 mL", "4 mL", "5 US gal", added, "128 US fl oz", "", chart},
		// 128/33 and 128/32.
		{"1:32 added to, 1 gal", "1 mL", "32 mL", "1 US gal", added, "128/33 US fl oz", "3.879 US fl oz", suppliers},
		{"1:32 made up to, 1 gal", "1 mL", "32 mL", "1 US gal", madeUp, "4 US fl oz", "", suppliers},
		// 5 % stock to 100 mL: V1 = C2 V2 / C1 (Univ. of Missouri IPM, ID 226).
		{"5 % stock to 0.10 %", "0.10 mL", "5 mL", "100 mL", madeUp, "2 mL", "", list},
		{"5 % stock to 0.25 %", "0.25 mL", "5 mL", "100 mL", madeUp, "5 mL", "", list},
		{"5 % stock to 0.5 %", "0.5 mL", "5 mL", "100 mL", madeUp, "10 mL", "", list},
		{"5 % stock to 1.0 %", "1 mL", "5 mL", "100 mL", madeUp, "20 mL", "", list},
		{"5 % stock to 2.0 %", "2 mL", "5 mL", "100 mL", madeUp, "40 mL", "", list},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := rate(t, c.concentrate, c.convention, c.per).ConcentrateFor(volume(t, c.made))
			if want := volume(t, c.want); !got.Equal(want) {
				t.Errorf("%s in %s = %s, want %s (%s)", c.concentrate, c.made, got.As(want.Unit()).Exact(), c.want, c.source)
			}
			if c.printed != "" && got.Equal(volume(t, c.printed)) {
				t.Errorf("the printed %s came out, which is rounded or wrong (%s)", c.printed, c.source)
			}
		})
	}
}

func TestStrength_WorkedExamples(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name                string
		concentrate, volume string
		want                string // percent, three decimals
		source              string
	}{
		// 1 / 64: the page says 1.5 %.
		{"1 tbsp made up to 1 qt", "1 US tbsp", "1 US qt", "1.563", "soap recipe page (second-hand), rounded there to 1.5 %"},
		// 1 / 65.
		{"1 tbsp added to 1 qt", "1 US tbsp", "65 US tbsp", "1.538", "the same, read as added to"},
		// 2.5 / 128 and 2.5 / 130.5.
		// 2 / 64 and 2 / 66: the page says 3.0 %.
		{"2 tbsp made up to 1 qt", "2 US tbsp", "1 US qt", "3.125", "soap recipe page (second-hand), rounded there to 3.0 %"},
		{"2 tbsp added to 1 qt", "2 US tbsp", "66 US tbsp", "3.03", "the same, read as added to"},
		// 12 / 44 of a 70 % stock is 19.09 %.
		{"1.5 cups added to 1 qt", "12 US fl oz", "44 US fl oz", "27.273", "recipe with 70 % alcohol (inputs); our arithmetic: 27.273 x 0.7 = 19.09 %"},
		{"2.5 fl oz made up to 1 gal", "2.5 US fl oz", "1 US gal", "1.953", "arithmetic on NIST Handbook 44, Appendix C"},
		{"2.5 fl oz added to 1 gal", "2.5 US fl oz", "130.5 US fl oz", "1.916", "arithmetic on NIST Handbook 44, Appendix C"},
		{"nothing in nothing", "0 mL", "0 mL", "0", "definition"},
	} {
		if got := quantity.Percent(dilution.Strength(volume(t, c.concentrate), volume(t, c.volume)), 3); got != c.want {
			t.Errorf("%s: %s %%, want %s (%s)", c.name, got, c.want, c.source)
		}
	}
}

func TestHousehold_SaysWhatTheRatioCounts(t *testing.T) {
	t.Parallel()
	const gardening = "gardening page (second-hand): 70 % alcohol 1:3, 1:1, 1:9 printed as 17.5, 35, 7 %"
	for _, c := range []struct {
		name     string
		in       catalogue.Dilution
		want     *big.Rat
		wantText string
		source   string
	}{
		// 70 / (1 + N).
		{"alcohol 1:3", catalogue.Dilution{Parts: 3, Convention: "added to", StockPercent: 70}, big.NewRat(35, 2), "1:3 of 70 % (1 part added to 3 of water): 17.5 %", gardening},
		{"alcohol 1:1", catalogue.Dilution{Parts: 1, Convention: "added to", StockPercent: 70}, big.NewRat(35, 1), "1:1 of 70 % (1 part added to 1 of water): 35 %", gardening},
		{"alcohol 1:9", catalogue.Dilution{Parts: 9, Convention: "added to", StockPercent: 70}, big.NewRat(7, 1), "1:9 of 70 % (1 part added to 9 of water): 7 %", gardening},
		// 3 / 5.
		{"peroxide 1:4", catalogue.Dilution{Parts: 4, Convention: "added to", StockPercent: 3}, big.NewRat(3, 5), "1:4 of 3 % (1 part added to 4 of water): 0.6 %", "common practice of the trade, no source"},
		{"peroxide 1:4, the other reading", catalogue.Dilution{Parts: 4, Convention: "made up to", StockPercent: 3}, big.NewRat(3, 4), "1:4 of 3 % (1 part made up to 4): 0.75 %", "arithmetic"},
		// 35 / 12 = 2.917, which the page calls 3 %; then 35 / 60 = 0.583, which it calls 0.6 %.
		{"35 % peroxide 1+11", catalogue.Dilution{Parts: 11, Convention: "added to", StockPercent: 35}, big.NewRat(35, 12), "1:11 of 35 % (1 part added to 11 of water): 2.917 %", "blog (second-hand), rounded there to 3 %"},
		{"35 % peroxide 1+11, then 1+4", catalogue.Dilution{Parts: 59, Convention: "added to", StockPercent: 35}, big.NewRat(35, 60), "1:59 of 35 % (1 part added to 59 of water): 0.583 %", "the same: 12 x 5 = 60 parts, printed 0.6 %"},
		{"a stock with decimals is read as written", catalogue.Dilution{Parts: 1, Convention: "added to", StockPercent: 0.1}, big.NewRat(1, 20), "1:1 of 0.1 % (1 part added to 1 of water): 0.05 %", "arithmetic"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			percent, text := dilution.Household(c.in)
			if percent.Cmp(c.want) != 0 || text != c.wantText {
				t.Errorf("Household = %v, %q; want %v, %q (%s)", percent, text, c.want, c.wantText, c.source)
			}
		})
	}
}

func TestHousehold_PanicsWithoutAConvention(t *testing.T) {
	t.Parallel()
	for _, d := range []catalogue.Dilution{
		{Parts: 1, StockPercent: 70},
		{Parts: 0, Convention: "added to", StockPercent: 70},
		{Parts: 1, Convention: "added to", StockPercent: 0},
		{Parts: 1, Convention: "added to", StockPercent: 101},
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("Household(%+v) answers", d)
				}
			}()
			dilution.Household(d)
		}()
	}
}

// TestAboveLabel_DoubleRate: 1.25 fl oz in 32 instead of 0.625: 3.90625 %, exactly twice the label's 2.5 per gallon.
func TestAboveLabel_DoubleRate(t *testing.T) {
	t.Parallel()
	limits, err := dilution.LabelLimits(soap(t), 90)
	if err != nil {
		t.Fatal(err)
	}
	made, applied := volume(t, "32 US fl oz"), volume(t, "22.5 US fl oz")
	double := dilution.Strength(volume(t, "1.25 US fl oz"), made)
	if got := quantity.Percent(double, 5); got != "3.90625" {
		t.Errorf("strength %s %%, want 3.90625", got)
	}
	if times, above := dilution.AboveLabel(double, limits); !above || times.Cmp(big.NewRat(2, 1)) != 0 {
		t.Errorf("AboveLabel = %v, %v; want 2, true", times, above)
	}
	if times, above := dilution.AboveLabel(dilution.Strength(volume(t, "0.625 US fl oz"), made), limits); above || times.Cmp(big.NewRat(1, 1)) != 0 {
		t.Errorf("the label's own rate: AboveLabel = %v, %v; want 1, false", times, above)
	}
	// 32 - 22.5 = 9.5 left; 22.5 x 1.25 / 32 = 0.87890625 of concentrate went out.
	if left := dilution.Balance(made, applied); !left.Equal(volume(t, "9.5 US fl oz")) {
		t.Errorf("left %v, want 9.5", left)
	}
	if out := applied.Times(double); !out.Equal(volume(t, "0.87890625 US fl oz")) {
		t.Errorf("concentrate applied %s", out.Exact())
	}
	if left := dilution.Balance(applied, made); left.Sign() >= 0 {
		t.Errorf("more applied than made leaves %v, want less than nothing", left)
	}
}
