package quantity_test

import (
	"encoding/json"
	"math"
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/quantity"
)

var units = []quantity.Unit{
	quantity.Millilitre, quantity.Litre, quantity.USTeaspoon, quantity.USTablespoon, quantity.USFluidOunce, quantity.USPint,
	quantity.USQuart, quantity.USGallon, quantity.ImperialFluidOunce, quantity.ImperialPint, quantity.ImperialGallon,
}

// NIST Handbook 44, Appendix C, General Tables of Units of Measurement: the US gallon is 231 cubic inches and the
// inch 2.54 cm. Imperial: Weights and Measures Act 1985 (UK), schedule 1: gallon 4.546 09 L, 8 pints, 160 fluid ounces.
func TestUnits_AreExact(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ one, millilitres, source string }{
		{"1 US gal", "3785.411784", "HB 44 App. C: 231 x 2.54^3 = 231 x 16.387064"},
		{"1 US qt", "946.352946", "HB 44 App. C: 1/4 gallon"},
		{"1 US pt", "473.176473", "HB 44 App. C: 1/8 gallon"},
		{"1 US fl oz", "29.5735295625", "HB 44 App. C: 1/128 gallon"},
		{"1 US tbsp", "14.78676478125", "HB 44 App. C: 1/2 fluid ounce"},
		{"1 US tsp", "4.92892159375", "HB 44 App. C: 1/6 fluid ounce"},
		{"1 imp gal", "4546.09", "Weights and Measures Act 1985"},
		{"1 imp pt", "568.26125", "Weights and Measures Act 1985: 1/8 gallon"},
		{"1 imp fl oz", "28.4130625", "Weights and Measures Act 1985: 1/160 gallon"},
		{"1 L", "1000", "SI brochure"},
	} {
		if got, want := volume(t, tc.one).Millilitres(), number(t, tc.millilitres); got.Cmp(want) != 0 {
			t.Errorf("%s = %s mL, want %s (%s)", tc.one, got.RatString(), tc.millilitres, tc.source)
		}
	}
}

func TestSystems_NeverMeetSilently(t *testing.T) {
	t.Parallel()
	if volume(t, "1 imp gal").Equal(volume(t, "1 US gal")) {
		t.Error("an imperial gallon equals a US one")
	}
	for unit, want := range map[quantity.Unit]quantity.System{
		quantity.Litre: quantity.Metric, quantity.USTeaspoon: quantity.US, quantity.ImperialPint: quantity.Imperial, "cup": "",
	} {
		if got := unit.System(); got != want {
			t.Errorf("system of %q is %q, want %q", unit, got, want)
		}
	}
}

func TestParseVolume_RefusesWhatIsNoVolume(t *testing.T) {
	t.Parallel()
	for _, text := range []string{
		"", "2.5", "2.5 fl oz", "1 gal", "1 cup", "US fl oz", "two US fl oz", "1/0 mL", "1e3 mL", "0x10 mL", "010/0b1 mL", "1.5/2 mL",
		"1/2.5 mL", "1_000 mL", "NaN mL", "Inf mL", "+1 mL", "--1 mL", ". mL", "1/-2 mL", "1  mL", strings.Repeat("9", 300) + " mL",
	} {
		if v, err := quantity.ParseVolume(text); err == nil {
			t.Errorf("%q was read as %v", text, v.Exact())
		}
	}
}

func TestParseVolume_ReadsDecimalDigitsOnly(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"010/8 mL": "5/4", "010 mL": "10", "-2.5 mL": "-5/2", ".5 mL": "1/2", "5. mL": "5", " 600 mL ": "600",
	} {
		if got := volume(t, text).Millilitres(); got.Cmp(number(t, want)) != 0 {
			t.Errorf("%q is %s mL, want %s", text, got.RatString(), want)
		}
	}
}

func drawVolume(t *rapid.T, name string) quantity.Volume {
	return quantity.NewVolume(rapid.Int64Range(-1_000_000, 1_000_000).Draw(t, name+" parts"),
		rapid.Int64Range(1, 10_000).Draw(t, name+" of"), rapid.SampledFrom(units).Draw(t, name+" unit"))
}

func TestVolume_RoundTripsThroughJSONExactly(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		// A share of a share in another unit: as long a fraction as a mix sheet makes.
		a, b := drawVolume(t, "a"), drawVolume(t, "b")
		in := a.Add(b).Times(big.NewRat(rapid.Int64Range(1, 9999).Draw(t, "share"), 10_007)).As(rapid.SampledFrom(units).Draw(t, "unit"))
		text, err := json.Marshal(in)
		if err != nil {
			t.Fatal(err)
		}
		var out quantity.Volume
		if err := json.Unmarshal(text, &out); err != nil {
			t.Fatal(err)
		}
		if !out.Equal(in) || out.Unit() != in.Unit() {
			t.Fatalf("%s was read as %s", in.Exact(), out.Exact())
		}
	})
}

func TestVolume_AddsAndTakesAwayExactly(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawVolume(t, "a"), drawVolume(t, "b")
		beforeA, beforeB := a.Exact(), b.Exact()
		if !a.Add(b).Sub(b).Equal(a) || !a.Add(b).Equal(b.Add(a)) || !a.Sub(a).IsZero() {
			t.Fatalf("%v and %v do not add up", a.Exact(), b.Exact())
		}
		if a.Cmp(b) != -b.Cmp(a) || a.Cmp(b) != a.Sub(b).Sign() {
			t.Fatalf("%v and %v compare as %d and %d", a.Exact(), b.Exact(), a.Cmp(b), b.Cmp(a))
		}
		if a.Exact() != beforeA || b.Exact() != beforeB {
			t.Fatalf("arithmetic changed %s to %s", beforeA, a.Exact())
		}
	})
}

func TestVolume_ForPeople(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ volume, exact, short string }{
		{"5/8 US fl oz", "0.625 US fl oz", "0.625 US fl oz"},
		{"1/3 US gal", "1/3 US gal", "0.333 US gal"},
		{"600 mL", "600 mL", "600 mL"},
		{"-0.0001 L", "-0.0001 L", "0 L"},
	} {
		if v := volume(t, tc.volume); v.Exact() != tc.exact || v.String() != tc.short {
			t.Errorf("%s is written %q and %q, want %q and %q", tc.volume, v.Exact(), v, tc.exact, tc.short)
		}
	}
	// 8 plants of 75 mL: 600 / 29.5735295625 = 20.288...
	if got := volume(t, "600 mL").As(quantity.USFluidOunce).String(); got != "20.288 US fl oz" {
		t.Errorf("600 mL is %s, want 20.288 US fl oz", got)
	}
	if got := (quantity.Volume{}).Add(volume(t, "1 US pt")); got.Exact() != "1 US pt" {
		t.Errorf("nothing and a pint is %s", got.Exact())
	}
}

func TestVolumeML_ReadsADatabaseNumber(t *testing.T) {
	t.Parallel()
	v, err := quantity.VolumeML("946.352946")
	if err != nil || !v.Equal(volume(t, "1 US qt")) {
		t.Errorf("946.352946 mL is %v, %v, want 1 US qt", v, err)
	}
	if v, err := quantity.VolumeML("1 US qt of"); err == nil {
		t.Errorf("read as %v", v)
	}
}

func TestNewVolume_PanicsOnAProgrammersError(t *testing.T) {
	t.Parallel()
	for name, make := range map[string]func(){
		"unknown unit":        func() { quantity.NewVolume(1, 1, "cup") },
		"parts of nothing":    func() { quantity.NewVolume(1, 0, quantity.Litre) },
		"shown in no unit":    func() { volume(t, "1 L").As("cup") },
		"shown in empty unit": func() { volume(t, "1 L").As("") },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			defer func() {
				if recover() == nil {
					t.Error("no panic")
				}
			}()
			make()
		})
	}
}

func TestMoney_HasTwoDecimals(t *testing.T) {
	t.Parallel()
	for money, want := range map[quantity.Money]string{
		0: "0.00", 5: "0.05", -5: "-0.05", 123450: "1234.50", -123450: "-1234.50",
		math.MaxInt64: "92233720368547758.07", math.MinInt64: "-92233720368547758.08",
	} {
		if got := money.String(); got != want {
			t.Errorf("%d is written %q, want %q", int64(money), got, want)
		}
	}
}
