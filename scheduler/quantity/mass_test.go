package quantity_test

import (
	"encoding/json"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/quantity"
)

var massUnits = []quantity.MassUnit{quantity.Milligram, quantity.Gram, quantity.Kilogram, quantity.AvoirdupoisOunce, quantity.Pound}

// NIST Handbook 44, Appendix C: 1 lb = 0.453 592 37 kg, 16 oz; 1 ft = 0.3048 m, 1 acre = 43 560 ft2.
func TestMassAndSurfaceUnits_AreExact(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ one, grams string }{
		{"1 lb", "453.59237"}, {"1 av oz", "28.349523125"}, {"1 kg", "1000"}, {"1 mg", "1/1000"}, {"16 av oz", "453.59237"},
	} {
		if got := mass(t, tc.one).Grams(); got.Cmp(number(t, tc.grams)) != 0 {
			t.Errorf("%s = %s g, want %s", tc.one, got.RatString(), tc.grams)
		}
	}
	for _, tc := range []struct{ one, squareMetres string }{
		{"1 ft2", "0.09290304"}, {"1 acre", "4046.8564224"}, {"2 m2", "2"},
	} {
		if got := surface(t, tc.one).SquareMetres(); got.Cmp(number(t, tc.squareMetres)) != 0 {
			t.Errorf("%s = %s m2, want %s", tc.one, got.RatString(), tc.squareMetres)
		}
	}
	if got := surface(t, "1 acre").In(quantity.SquareFoot); got.Cmp(number(t, "43560")) != 0 {
		t.Errorf("an acre is %v ft2", got)
	}
}

func TestParse_RefusesWhatIsNoMassSurfaceOrStrength(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"", "2", "2 oz", "2 fl oz", "2 US fl oz", "two lb", "1/0 g", "1e3 g", "1  g"} {
		if m, err := quantity.ParseMass(text); err == nil {
			t.Errorf("%q was read as the mass %v", text, m)
		}
	}
	for _, text := range []string{"", "2", "2 m", "2 sq ft", "two m2"} {
		if s, err := quantity.ParseSurface(text); err == nil {
			t.Errorf("%q was read as the surface %v", text, s)
		}
	}
	for _, text := range []string{"", "%", "2 pct", "-1 %", "101 %", "1000001 ppm", "2"} {
		if s, err := quantity.ParseShare(text); err == nil {
			t.Errorf("%q was read as the strength %v", text, s)
		}
	}
	if _, err := quantity.PercentByVolume(number(t, "0")); err == nil {
		t.Error("0 % is a rate")
	}
	if _, err := quantity.PercentByVolume(number(t, "101")); err == nil {
		t.Error("101 % is a rate")
	}
	if r, err := quantity.PercentByVolume(number(t, "0.5")); err != nil || r.Share().Cmp(number(t, "1/200")) != 0 {
		t.Errorf("0.5 %% is %v, %v", r, err)
	}
	for name, wanted := range map[string]string{"nothing": "0 %", "stronger than the stock": "6 %"} {
		if r, err := quantity.Dilute(strength(t, "5 %"), strength(t, wanted)); err == nil {
			t.Errorf("%s from a stock of 5 %% is %v", name, r)
		}
	}
}

func TestMass_RoundTripsAndAddsExactly(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) quantity.Mass {
			return quantity.NewMass(rapid.Int64Range(-1_000_000, 1_000_000).Draw(t, name), rapid.Int64Range(1, 10_007).Draw(t, name+" of"),
				rapid.SampledFrom(massUnits).Draw(t, name+" unit"))
		}
		a, b := draw("a"), draw("b")
		before := a.Exact()
		if !a.Add(b).Sub(b).Equal(a) || !a.Add(b).Equal(b.Add(a)) || a.Cmp(b) != a.Sub(b).Sign() || a.Exact() != before {
			t.Fatalf("%s and %s do not add up", a.Exact(), b.Exact())
		}
		in := a.Add(b).As(rapid.SampledFrom(massUnits).Draw(t, "shown in"))
		text, err := json.Marshal(in)
		if err != nil {
			t.Fatal(err)
		}
		var out quantity.Mass
		if err := json.Unmarshal(text, &out); err != nil || !out.Equal(in) || out.Unit() != in.Unit() {
			t.Fatalf("%s was read as %s, %v", in.Exact(), out.Exact(), err)
		}
	})
	if got := (quantity.Mass{}).Add(mass(t, "1 lb")); got.Exact() != "1 lb" {
		t.Errorf("nothing and a pound is %s", got.Exact())
	}
}

// TestRates_AreTheirOwnReverse: concentrate from the finished volume and the finished volume from the concentrate.
func TestRates_AreTheirOwnReverse(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(1, 10_000).Draw(t, "parts")
		v := quantity.NewVolume(rapid.Int64Range(1, 1_000_000).Draw(t, "volume"), 7, rapid.SampledFrom(units).Draw(t, "unit"))
		for _, convention := range []quantity.Convention{quantity.MadeUpTo, quantity.AddedTo} {
			rate := quantity.NewRatio(n, convention)
			if back := rate.FinishedFrom(rate.ConcentrateFor(v)); !back.Equal(v) {
				t.Fatalf("%v: %s comes back as %s", rate, v.Exact(), back.Exact())
			}
		}
		weight := quantity.WeightRate{Mass: quantity.NewMass(n, 3, quantity.AvoirdupoisOunce), Per: quantity.NewVolume(100, 1, quantity.USGallon)}
		if back := weight.VolumeFor(weight.MassFor(v)); !back.Equal(v) {
			t.Fatalf("%v: %s comes back as %s", weight, v.Exact(), back.Exact())
		}
		living := quantity.OrganismRate{Organisms: n, Per: quantity.NewVolume(1, 1, quantity.Litre)}
		if back := living.For(living.VolumeFor(n)); back.Num().Int64() != n || !back.IsInt() {
			t.Fatalf("%v: %d come back as %v", living, n, back)
		}
	})
}

func TestRates_RoundTripThroughJSON(t *testing.T) {
	t.Parallel()
	in := quantity.SurfaceRate{Amount: volume(t, "3/2 US gal"), Per: surface(t, "1000 ft2")}
	text, err := json.Marshal(in)
	if want := `{"amount":"1.5 US gal","per":"1000 ft2"}`; err != nil || string(text) != want {
		t.Errorf("written %s, %v, want %s", text, err, want)
	}
	var out quantity.SurfaceRate
	if err := json.Unmarshal(text, &out); err != nil || out.String() != in.String() || out.String() != "1.5 US gal on 1000 ft2" {
		t.Errorf("read as %v, %v, want %v", out, err, in)
	}
	weight := quantity.WeightRate{Mass: mass(t, "2 lb"), Per: volume(t, "100 US gal")}
	text, err = json.Marshal(weight)
	if want := `{"mass":"2 lb","per":"100 US gal"}`; err != nil || string(text) != want || weight.String() != "2 lb in 100 US gal" {
		t.Errorf("written %s, %v, want %s", text, err, want)
	}
}

func TestRates_ForPeople(t *testing.T) {
	t.Parallel()
	for want, got := range map[string]string{
		"120 mL for 1 L of pot":    quantity.PotRate{Amount: volume(t, "120 mL"), PerPot: volume(t, "1 L")}.String(),
		"500 000 organisms in 1 L": quantity.OrganismRate{Organisms: 500_000, Per: volume(t, "1 L")}.String(),
		"1.333 av oz in 10 US gal": quantity.WeightRate{Mass: mass(t, "4/3 av oz"), Per: volume(t, "10 US gal")}.String(),
		"0.333 acre":               surface(t, "1/3 acre").String(),
		"1/3 acre":                 surface(t, "1/3 acre").Exact(),
		"2.5 US fl oz on 1000 ft2": quantity.SurfaceRate{Amount: volume(t, "2.5 US fl oz"), Per: surface(t, "1000 ft2")}.String(),
	} {
		if got != want {
			t.Errorf("written %q, want %q", got, want)
		}
	}
	weak, strong := quantity.WeightRate{Mass: mass(t, "1 g"), Per: volume(t, "1 L")}, quantity.WeightRate{Mass: mass(t, "1 lb"), Per: volume(t, "100 US gal")}
	// 453.59237/378.5411784 = 1.198 g/L.
	if weak.Cmp(strong) != -1 || strong.Cmp(weak) != 1 || weak.Cmp(weak) != 0 {
		t.Error("1 g in a litre is not weaker than 1 lb in 100 gal")
	}
}

func TestMass_ReadsYAMLAsText(t *testing.T) {
	t.Parallel()
	var m quantity.Mass
	read := func(text string) func(any) error {
		return func(to any) error { *to.(*string) = text; return nil }
	}
	if err := m.UnmarshalYAML(read("2 lb")); err != nil || !m.Equal(mass(t, "2 lb")) {
		t.Errorf("2 lb was read as %v, %v", m, err)
	}
	if err := m.UnmarshalYAML(read("2 oz")); err == nil || !m.Equal(mass(t, "2 lb")) {
		t.Errorf("2 oz was read as %v, %v", m, err)
	}
}

func TestNewMassAndSurface_PanicOnAProgrammersError(t *testing.T) {
	t.Parallel()
	for name, make := range map[string]func(){
		"unknown mass":        func() { quantity.NewMass(1, 1, "oz") },
		"parts of no mass":    func() { quantity.NewMass(1, 0, quantity.Gram) },
		"shown in no unit":    func() { mass(t, "1 g").As("stone") },
		"unknown surface":     func() { quantity.NewSurface(1, 1, "rood") },
		"parts of no surface": func() { quantity.NewSurface(1, 0, quantity.Acre) },
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
