package quantity_test

import (
	"encoding/json"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/quantity"
)

func rate(t testing.TB, concentrate, per string, convention quantity.Convention) quantity.Rate {
	t.Helper()
	return quantity.Rate{Concentrate: volume(t, concentrate), Per: volume(t, per), Convention: convention}
}

func TestRate_ShareOfTheFinishedMix(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name    string
		rate    quantity.Rate
		percent string
		source  string
	}{
		{"soap label", rate(t, "2.5 US fl oz", "1 US gal", quantity.MadeUpTo), "1.953125", "2.5/128; common practice for soap concentrate"},
		{"the same added to a gallon", rate(t, "2.5 US fl oz", "1 US gal", quantity.AddedTo), "1.915709", "2.5/130.5 = 0.01915708..."},
		{"1:4 in parts", quantity.NewRatio(4, quantity.AddedTo), "20", "one part in five: suppliers' dilution charts print 25 1/2 oz for a gallon, exactly 25.6"},
		{"0.5 %", rate(t, "1.28 US fl oz", "2 US gal", quantity.MadeUpTo), "0.5", "University of Illinois, Home, Yard and Garden Pest bulletin 2 June 2006: 256 x 0.005 = 1.28 fl oz"},
		{"2 pt in 100 gal", rate(t, "2 US pt", "100 US gal", quantity.MadeUpTo), "0.25", "pesticidesafety.org, calculations for mixing: 6.4 fl oz in 20 gal"},
		{"1 tbsp in a quart", rate(t, "1 US tbsp", "1 US qt", quantity.MadeUpTo), "1.5625", "1/64; a soap recipe prints 1.5 %"},
		{"1 tbsp added to a quart", rate(t, "1 US tbsp", "1 US qt", quantity.AddedTo), "1.538462", "1/65"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			if err := tc.rate.Validate(); err != nil {
				t.Fatal(err)
			}
			if got := quantity.Percent(tc.rate.Share(), 6); got != tc.percent {
				t.Errorf("%v is %s %%, want %s (%s)", tc.rate, got, tc.percent, tc.source)
			}
		})
	}
}

func TestRate_ConcentrateForAFilling(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name           string
		rate           quantity.Rate
		finished, want string
		source         string
	}{
		{"1:32 in parts, a gallon", quantity.NewRatio(32, quantity.AddedTo), "1 US gal", "3.879 US fl oz", "128/33; suppliers publish both readings"},
		{"1:32 of the mix, a gallon", quantity.NewRatio(32, quantity.MadeUpTo), "1 US gal", "4 US fl oz", "128/32"},
		{"0.5 % in a 2 gal sprayer", rate(t, "5 mL", "1 L", quantity.MadeUpTo), "2 US gal", "1.28 US fl oz", "University of Illinois bulletin, 2 June 2006"},
		{"2 pt in 100 gal, 300 gal", rate(t, "2 US pt", "100 US gal", quantity.MadeUpTo), "300 US gal", "96 US fl oz", "pesticidesafety.org: 6 pt"},
		{"2 pt in 100 gal, 20 gal", rate(t, "2 US pt", "100 US gal", quantity.MadeUpTo), "20 US gal", "6.4 US fl oz", "pesticidesafety.org: 6.4 fl oz"},
		{"pints in 100 gal are ounces in 6.25 gal", rate(t, "1 US pt", "100 US gal", quantity.MadeUpTo), "6.25 US gal", "1 US fl oz", "New England Vegetable Management Guide"},
		{"1 pt in 100 gal, 25 gal", rate(t, "1 US pt", "100 US gal", quantity.MadeUpTo), "25 US gal", "4 US fl oz", "New England Vegetable Management Guide"},
		{"soap in a 32 oz sprayer", rate(t, "2.5 US fl oz", "1 US gal", quantity.MadeUpTo), "32 US fl oz", "0.625 US fl oz", "2.5/128 x 32"},
		{"1:4, a quart", quantity.NewRatio(4, quantity.AddedTo), "1 US qt", "6.4 US fl oz", "dilution chart prints 6 1/2"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			got := tc.rate.ConcentrateFor(volume(t, tc.finished)).As(quantity.USFluidOunce)
			if got.String() != tc.want {
				t.Errorf("%v for %s is %v, want %s (%s)", tc.rate, tc.finished, got, tc.want, tc.source)
			}
		})
	}
}

// The strength of a mix is the share times the strength of the stock: C1 V1 = C2 V2 (University of Missouri, IPM).
func TestRate_DilutesAStock(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		parts         int64
		stock, result string
		source        string
	}{
		{1, "70", "35", "garden page on alcohol: 1:1 is 35 %"},
		{3, "70", "17.5", "garden page on alcohol: 1:3 is 17.5 %"},
		{9, "70", "7", "garden page on alcohol: 1:9 is 7 %"},
		{4, "3", "0.6", "garden page on peroxide: 1:4 is 0.6 %"},
		{11, "35", "2.917", "35/12; the page prints 3 %"},
	} {
		strength := new(big.Rat).Mul(quantity.NewRatio(tc.parts, quantity.AddedTo).Share(), number(t, tc.stock))
		if got := quantity.Decimal(strength, 3); got != tc.result {
			t.Errorf("1:%d of %s %% is %s %%, want %s (%s)", tc.parts, tc.stock, got, tc.result, tc.source)
		}
	}
}

// 5 % stock to 100 mL of 0.10, 0.25, 0.5, 1.0 and 2.0 %: 2, 5, 10, 20 and 40 mL (a laboratory's dilution list).
func TestRate_StockForAGivenStrength(t *testing.T) {
	t.Parallel()
	stock := number(t, "5")
	for wanted, want := range map[string]string{"0.10": "2 mL", "0.25": "5 mL", "0.5": "10 mL", "1.0": "20 mL", "2.0": "40 mL"} {
		share := new(big.Rat).Quo(number(t, wanted), stock)
		if got := volume(t, "100 mL").Times(share); got.String() != want {
			t.Errorf("100 mL of %s %% takes %v, want %s", wanted, got, want)
		}
	}
}

func TestRate_ConventionsDifferByOnePart(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(1, 100_000).Draw(t, "n")
		if quantity.NewRatio(n, quantity.AddedTo).Cmp(quantity.NewRatio(n+1, quantity.MadeUpTo)) != 0 {
			t.Fatalf("1:%d added to is not 1:%d made up to", n, n+1)
		}
		if quantity.NewRatio(n, quantity.AddedTo).Cmp(quantity.NewRatio(n, quantity.MadeUpTo)) >= 0 {
			t.Fatalf("1:%d added to is not weaker than made up to", n)
		}
	})
}

func TestRate_RoundTripsThroughJSON(t *testing.T) {
	t.Parallel()
	in := rate(t, "5/8 US fl oz", "1 US qt", quantity.MadeUpTo)
	text, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	if want := `{"concentrate":"0.625 US fl oz","per":"1 US qt","convention":"made up to"}`; string(text) != want {
		t.Errorf("written %s, want %s", text, want)
	}
	var out quantity.Rate
	if err := json.Unmarshal(text, &out); err != nil || out.Cmp(in) != 0 || out.String() != in.String() {
		t.Errorf("read as %v, %v, want %v", out, err, in)
	}
}

func TestRate_RefusesWhatIsNoRate(t *testing.T) {
	t.Parallel()
	for name, r := range map[string]quantity.Rate{
		"no convention":             rate(t, "1 mL", "4 mL", ""),
		"unknown convention":        rate(t, "1 mL", "4 mL", "parts"),
		"nothing":                   rate(t, "0 mL", "4 mL", quantity.AddedTo),
		"negative":                  rate(t, "-1 mL", "4 mL", quantity.AddedTo),
		"in nothing":                rate(t, "1 mL", "0 mL", quantity.AddedTo),
		"more concentrate than mix": rate(t, "2 US gal", "1 US gal", quantity.MadeUpTo),
		"two systems":               rate(t, "2.5 US fl oz", "1 imp gal", quantity.MadeUpTo),
		"US and metric":             rate(t, "2.5 US fl oz", "1 L", quantity.MadeUpTo),
		"zero value":                {},
	} {
		if err := r.Validate(); err == nil {
			t.Errorf("%s: %v was accepted", name, r)
		}
		if name == "zero value" && r.Share().Sign() != 0 {
			t.Errorf("share of the zero rate is %v", r.Share())
		}
	}
}
