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
)

// soap is a placeholder with one rate, 2.5 US fl oz made up to a US gallon.
func soap(t testing.TB) catalogue.Product {
	t.Helper()
	greatest := rate(t, "2.5 US fl oz", madeUp, "1 US gal")
	return catalogue.Product{
		ID: "soap", Name: "Soap concentrate (placeholder)", Form: catalogue.Concentrate, Material: "insecticidal-soap",
		Placeholders: []string{"label.max_rate", "label.entry"},
		Label: catalogue.Label{
			MaxRate: &greatest, Entry: catalogue.Entry{Kind: catalogue.EntryUntilDry},
			Equipment: []string{"waterproof gloves", "goggles"}, SignalWord: "CAUTION",
		},
	}
}

// bti is a placeholder with the range of 2 to 8 US qt per 100 US gal (from memory), 0.64 to 2.56 US fl oz a gallon.
func bti(t testing.TB) catalogue.Product {
	t.Helper()
	least, greatest := rate(t, "2 US qt", madeUp, "100 US gal"), rate(t, "8 US qt", madeUp, "100 US gal")
	return catalogue.Product{
		ID: "bti", Name: "Bti drench (placeholder)", Form: catalogue.Concentrate, Material: "bti", Registration: "0000-0 (placeholder)",
		Placeholders: []string{"registration", "label.min_rate", "label.max_rate", "label.entry"},
		Label: catalogue.Label{
			MinRate: &least, MaxRate: &greatest, Entry: catalogue.Entry{Kind: catalogue.EntryHours, Hours: 4 * 3600e9},
			Equipment: []string{"long sleeves", "waterproof gloves"},
		},
	}
}

func limitsOf(t testing.TB, p catalogue.Product) dilution.Limits {
	t.Helper()
	limits, err := dilution.LabelLimits(p, 90)
	if err != nil {
		t.Fatal(err)
	}
	return limits
}

func sprayer(t testing.TB, capacity string) dilution.Vessel {
	t.Helper()
	return dilution.Vessel{ID: "sprayer", Name: "the pump sprayer", Capacity: volume(t, capacity), Dead: volume(t, "2 US fl oz"), Marks: volume(t, "8 US fl oz")}
}

func cup(t testing.TB, marks string) dilution.Measure {
	t.Helper()
	return dilution.Measure{Name: "cup", Capacity: volume(t, "1 US fl oz"), Marks: volume(t, marks)}
}

func TestFill_WorkedByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name              string
		need              string
		product           catalogue.Product
		measure           string // distance of its marks
		wantVolume        string
		wantConcentrate   string
		wantWater         string
		wantPercent       string
		wantOfTheGreatest string // percent
		wantNote          string
	}{
		// 8 x 75 mL x 1.1 = 660 mL = 22.317 fl oz, + 2 dead = 24.317: the 32 mark. 2.5/128 x 32 = 0.625 = 5 marks of 1/8, exactly the greatest.
		{"soap", "660 mL", soap(t), "1/8 US fl oz", "32 US fl oz", "0.625 US fl oz", "31.375 US fl oz", "1.953125", "100", ""},
		// 6 x 500 mL x 1.1 = 3300 mL = 111.586 fl oz, + 2 = 113.586: the 120 mark. 2.56/128 x 120 = 2.4, down to 19 marks of 1/8.
		{"Bti", "3300 mL", bti(t), "1/8 US fl oz", "120 US fl oz", "2.375 US fl oz", "117.625 US fl oz", "1.97917", "98.95833", ""},
		// Without reserve: 101.442 + 2: the 104 mark; 2.08 down to 2.
		{"Bti without reserve", "3000 mL", bti(t), "1/8 US fl oz", "104 US fl oz", "2 US fl oz", "102 US fl oz", "1.92308", "96.15385", ""},
		// Marks of 1/4: at 32 the 0.5 is 80 % of the rate, below the least; 40 and 0.75 is 96 %.
		{"cup too coarse for the least mark", "660 mL", soap(t), "1/4 US fl oz", "40 US fl oz", "0.75 US fl oz", "39.25 US fl oz", "1.875", "96", "Made to 40 US fl oz although 32 US fl oz would be enough: there no mark of a measure lies within the label."},
		// Without reserve 22.288: the 24 mark; 0.469 down to 3/8 is 80 %. The next, 32, reads exactly.
		{"soap without reserve", "600 mL", soap(t), "1/8 US fl oz", "32 US fl oz", "0.625 US fl oz", "31.375 US fl oz", "1.953125", "100", "Made to 32 US fl oz although 24 US fl oz would be enough: there no mark of a measure lies within the label."},
		{"with finer marks it stays", "600 mL", soap(t), "1/16 US fl oz", "24 US fl oz", "7/16 US fl oz", "377/16 US fl oz", "1.82292", "93.33333", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			limits := limitsOf(t, c.product)
			got, err := dilution.Fill(volume(t, c.need), limits, sprayer(t, "128 US fl oz"), []dilution.Measure{cup(t, c.measure)})
			if err != nil {
				t.Fatal(err)
			}
			if !got.Volume.Equal(volume(t, c.wantVolume)) || !got.Concentrate.Equal(volume(t, c.wantConcentrate)) || !got.Water.Equal(volume(t, c.wantWater)) {
				t.Errorf("Fill = %v with %v and %v of water; want %s, %s, %s", got.Volume, got.Concentrate.Exact(), got.Water, c.wantVolume, c.wantConcentrate, c.wantWater)
			}
			times, above := dilution.AboveLabel(got.Share, limits)
			if quantity.Percent(got.Share, 6) != c.wantPercent && quantity.Percent(got.Share, 5) != c.wantPercent || quantity.Percent(times, 5) != c.wantOfTheGreatest || above {
				t.Errorf("share %s %%, %s %% of the greatest; want %s, %s", quantity.Percent(got.Share, 6), quantity.Percent(times, 5), c.wantPercent, c.wantOfTheGreatest)
			}
			if got.Note != c.wantNote {
				t.Errorf("note %q, want %q", got.Note, c.wantNote)
			}
		})
	}
}

func TestFill_SaysWhatWouldFit(t *testing.T) {
	t.Parallel()
	limits := limitsOf(t, soap(t))
	for _, c := range []struct {
		name    string
		need    string
		vessel  dilution.Vessel
		measure []dilution.Measure
		want    error
		text    string
	}{
		// A vessel that ends at 24: 3/8 is 80 % of the rate, 7/16 is 93.3 %: 7/16/24 = 1.823 %.
		{"finer marks", "600 mL", sprayer(t, "24 US fl oz"), []dilution.Measure{cup(t, "1/8 US fl oz")}, dilution.ErrMarks, "marks every 1/16 US fl oz would: 7/16 US fl oz in 24 US fl oz is 1.823 %"},
		{"too much", "4000 mL", sprayer(t, "128 US fl oz"), []dilution.Measure{cup(t, "1/8 US fl oz")}, dilution.ErrVessel, "135.256 US fl oz needed and 2 US fl oz dead are more than the last mark"},
		{"no measure", "600 mL", sprayer(t, "128 US fl oz"), nil, dilution.ErrMarks, "want one to dose with"},
		{"nothing is near", "1 mL", dilution.Vessel{Name: "thimble", Capacity: volume(t, "8 mL"), Marks: volume(t, "8 mL")}, []dilution.Measure{{Name: "bucket", Capacity: volume(t, "10 L"), Marks: volume(t, "1 L")}}, dilution.ErrMarks, "want a larger vessel or a finer measure"},
		{"more measures than anybody counts", "3000 mL", sprayer(t, "128 US fl oz"), []dilution.Measure{{Name: "spoon", Capacity: volume(t, "1/8 US fl oz"), Marks: volume(t, "1/8 US fl oz")}}, dilution.ErrMarks, "want a larger vessel or a finer measure"},
		{"nothing needed", "0 mL", sprayer(t, "128 US fl oz"), []dilution.Measure{cup(t, "1/8 US fl oz")}, nil, "want more than nothing"},
		{"imperial measure, US vessel", "600 mL", sprayer(t, "128 US fl oz"), []dilution.Measure{{Name: "cup", Capacity: volume(t, "1 imp fl oz"), Marks: volume(t, "1/8 imp fl oz")}}, dilution.ErrSystems, "is US and no measure is"},
		{"US label, imperial vessel and measure", "600 mL", dilution.Vessel{Name: "can", Capacity: volume(t, "1 imp gal"), Marks: volume(t, "8 imp fl oz")}, []dilution.Measure{{Name: "cup", Capacity: volume(t, "1 imp fl oz"), Marks: volume(t, "1/8 imp fl oz")}}, dilution.ErrSystems, "whose ounces and gallons differ"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := dilution.Fill(volume(t, c.need), limits, c.vessel, c.measure)
			if err == nil || c.want != nil && !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.text) {
				t.Errorf("Fill: %v; want %v saying %q", err, c.want, c.text)
			}
		})
	}
}

func TestFill_ConvertsAMetricLabelAndSaysSo(t *testing.T) {
	t.Parallel()
	greatest := rate(t, "20 mL", madeUp, "1 L")
	p := soap(t)
	p.Label.MaxRate = &greatest
	// 2 % of 32 = 0.64, down to 5/8: 97.7 % of the rate.
	got, err := dilution.Fill(volume(t, "660 mL"), limitsOf(t, p), sprayer(t, "128 US fl oz"), []dilution.Measure{cup(t, "1/8 US fl oz")})
	if err != nil || !got.Concentrate.Equal(volume(t, "5/8 US fl oz")) {
		t.Fatalf("Fill = %v, %v", got.Concentrate, err)
	}
	if want := "The label's rate of 20 mL made up to 1 L is metric; vessel and measure are US: converted exactly."; got.Note != want {
		t.Errorf("note %q, want %q", got.Note, want)
	}
}

func TestFill_CountsMeasures(t *testing.T) {
	t.Parallel()
	fine, jug := cup(t, "1/8 US fl oz"), dilution.Measure{Name: "jug", Capacity: volume(t, "4 US fl oz"), Marks: volume(t, "1/2 US fl oz")}
	// 2.375 is 19 marks of a cup of 8: twice to the last mark and once to the third.
	got, err := dilution.Fill(volume(t, "3300 mL"), limitsOf(t, bti(t)), sprayer(t, "128 US fl oz"), []dilution.Measure{fine})
	if err != nil || got.FullMeasures != 2 || !got.LastMeasure.Equal(volume(t, "3/8 US fl oz")) {
		t.Errorf("cup: %d and %v, %v; want 2 and 3/8", got.FullMeasures, got.LastMeasure, err)
	}
	// The jug reads 2 at once, which is weaker: the strongest lawful dose comes first.
	both := []dilution.Measure{fine, jug}
	got, err = dilution.Fill(volume(t, "3300 mL"), limitsOf(t, bti(t)), sprayer(t, "128 US fl oz"), both)
	if err != nil || got.Measure != "cup" {
		t.Errorf("%s of %s, %v; want 2 3/8 US fl oz of cup", got.Concentrate, got.Measure, err)
	}
	// At the 104 mark both read 2, the jug at once and the cup in two: fewer measures.
	got, err = dilution.Fill(volume(t, "3000 mL"), limitsOf(t, bti(t)), sprayer(t, "128 US fl oz"), both)
	if err != nil || got.Measure != "jug" || !got.Concentrate.Equal(volume(t, "2 US fl oz")) || got.FullMeasures != 0 {
		t.Errorf("%s of %s, %v; want 2 US fl oz of jug", got.Concentrate, got.Measure, err)
	}
}

// TestFill_LeastMarkWithinTheLabel tries every pair of marks: Fill takes the least vessel mark for which one pair is lawful, and a lawful pair.
func TestFill_LeastMarkWithinTheLabel(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		tenths := func(label string, least, most int64) quantity.Volume {
			return quantity.NewVolume(rapid.Int64Range(least, most).Draw(t, label), 10, quantity.Millilitre)
		}
		share := rapid.Int64Range(1, 400).Draw(t, "greatest per mille")
		greatest := quantity.Rate{Concentrate: quantity.NewVolume(share, 1, quantity.Millilitre), Per: quantity.NewVolume(1, 1, quantity.Litre), Convention: madeUp}
		p := catalogue.Product{Form: catalogue.Concentrate, Label: catalogue.Label{MaxRate: &greatest}}
		limits, err := dilution.LabelLimits(p, rapid.IntRange(60, 100).Draw(t, "least percent"))
		if err != nil {
			t.Fatal(err)
		}
		vessel := dilution.Vessel{Name: "v", Capacity: tenths("capacity", 500, 9000), Marks: tenths("vessel marks", 100, 500), Dead: tenths("dead", 0, 400)}
		measure := dilution.Measure{Name: "m", Capacity: tenths("measure capacity", 50, 500), Marks: tenths("measure marks", 1, 50)}
		need := tenths("need", 1, 9000)
		got, err := dilution.Fill(need, limits, vessel, []dilution.Measure{measure})

		var want quantity.Volume
		for mark := vessel.Marks; mark.Cmp(vessel.Capacity) <= 0 && want.IsZero(); mark = mark.Add(vessel.Marks) {
			if mark.Cmp(need.Add(vessel.Dead)) >= 0 && lawfulDose(mark, limits, measure) {
				want = mark
			}
		}
		if want.IsZero() {
			if err == nil {
				t.Fatalf("Fill = %v of %v, where no pair of marks is lawful", got.Concentrate, got.Volume)
			}
			return
		}
		if err != nil || !got.Volume.Equal(want) || !limits.Allow(got.Share) {
			t.Fatalf("Fill = %v at %v (%v), want the mark %v", got.Concentrate, got.Volume, err, want)
		}
		if above := got.Share.Cmp(greatest.Share()) > 0; above || !new(big.Rat).Quo(got.Concentrate.Millilitres(), measure.Marks.Millilitres()).IsInt() {
			t.Fatalf("%v is above the label or no mark of %v", got.Concentrate, measure.Marks)
		}
		if !got.Water.Add(got.Concentrate).Equal(got.Volume) {
			t.Fatalf("%v of water and %v make no %v", got.Water, got.Concentrate, got.Volume)
		}
	})
}

// lawfulDose pours mark after mark into a volume, as many as the measure allows. A brim between two marks is no mark.
func lawfulDose(volume quantity.Volume, limits dilution.Limits, measure dilution.Measure) bool {
	perMeasure := 0
	for brim := measure.Marks; brim.Cmp(measure.Capacity) <= 0; brim = brim.Add(measure.Marks) {
		perMeasure++
	}
	var dose quantity.Volume
	for range perMeasure * dilution.MaxMeasures {
		dose = dose.Add(measure.Marks)
		if limits.Allow(dilution.Strength(dose, volume)) {
			return true
		}
	}
	return false
}

func TestLabelLimits(t *testing.T) {
	t.Parallel()
	one := limitsOf(t, soap(t))
	// 90 % of 2.5/128.
	if want := big.NewRat(225, 12800); one.Min.Share().Cmp(want) != 0 || !one.LeastIsOurs {
		t.Errorf("one rate: least %v, want %v, said to be ours", one.Min.Share(), want)
	}
	addedTo := soap(t)
	ratio := quantity.NewRatio(49, added)
	addedTo.Label.MaxRate = &ratio
	// 1 in 50 is 2 %; 90 % of it is 1.8 % of the mix, whatever the convention.
	if got := limitsOf(t, addedTo).Min.Share(); got.Cmp(big.NewRat(18, 1000)) != 0 {
		t.Errorf("added to: least %v, want 18/1000", got)
	}
	two := limitsOf(t, bti(t))
	if two.LeastIsOurs || quantity.Percent(two.Min.Share(), 2) != "0.5" || quantity.Percent(two.Max.Share(), 2) != "2" {
		t.Errorf("range: %v to %v, want 0.5 to 2 %%", two.Min, two.Max)
	}
	for _, c := range []struct {
		name    string
		spoil   func(*catalogue.Product)
		percent int
		want    string
	}{
		{"ready to use", func(p *catalogue.Product) { p.Form = catalogue.ReadyToUse }, 90, "never diluted"},
		{"no rate", func(p *catalogue.Product) { p.Label.MaxRate = nil }, 90, "label.max_rate is missing"},
		{"no convention", func(p *catalogue.Product) { p.Label.MaxRate.Convention = "" }, 90, "label.max_rate: convention"},
		{"two systems", func(p *catalogue.Product) { p.Label.MaxRate.Per = volume(t, "1 imp gal") }, 90, "two systems"},
		{"turned round", func(p *catalogue.Product) { r := rate(t, "3 US fl oz", madeUp, "1 US gal"); p.Label.MinRate = &r }, 90, "the other way round"},
		{"least is no rate", func(p *catalogue.Product) { p.Label.MinRate = &quantity.Rate{Convention: madeUp} }, 90, "label.min_rate: concentrate"},
		{"no policy", func(*catalogue.Product) {}, 0, "want 1 to 100"},
		{"policy above the label", func(*catalogue.Product) {}, 101, "want 1 to 100"},
	} {
		p := soap(t)
		c.spoil(&p)
		if _, err := dilution.LabelLimits(p, c.percent); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestVesselAndMeasure_Validate(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name                  string
		capacity, marks, dead string
		want                  string // "" is valid
	}{
		{"sprayer", "128 US fl oz", "8 US fl oz", "2 US fl oz", ""},
		{"gallon with ounces", "1 US gal", "8 US fl oz", "2 US fl oz", ""},
		{"empty", "0 mL", "8 mL", "0 mL", "capacity"},
		{"without marks", "1 L", "0 mL", "0 mL", "marks every 0 mL"},
		{"marks above it", "1 L", "2 L", "0 mL", "at least one mark"},
		{"two systems", "1 L", "8 US fl oz", "0 mL", "two systems"},
		{"dead in another", "1 L", "100 mL", "1 US fl oz", "two systems"},
		{"all dead", "1 L", "100 mL", "1 L", "dead volume"},
		{"less than nothing dead", "1 L", "100 mL", "-1 mL", "dead volume"},
		{"hair-fine", "1 L", "0.5 mL", "0 mL", "1000 marks at most"},
	} {
		vessel := dilution.Vessel{Name: c.name, Capacity: volume(t, c.capacity), Marks: volume(t, c.marks), Dead: volume(t, c.dead)}
		if err := vessel.Validate(); (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if err := (dilution.Measure{Capacity: volume(t, "1 mL"), Marks: volume(t, "1 mL")}).Validate(); err == nil {
		t.Error("a measure without a name is allowed")
	}
	if err := cup(t, "1/8 US fl oz").Validate(); err != nil {
		t.Error(err)
	}
}

func TestFraction_ReadsLikeAMeasure(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"0.625 US fl oz": "5/8 US fl oz", "2.375 US fl oz": "2 3/8 US fl oz", "2 US fl oz": "2 US fl oz",
		"12.5 mL": "12.5 mL", "1/3 imp fl oz": "1/3 imp fl oz", "0.01 US fl oz": "0.01 US fl oz", "0 US fl oz": "0 US fl oz",
	} {
		if got := dilution.Fraction(volume(t, in)); got != want {
			t.Errorf("Fraction(%s) = %q, want %q", in, got, want)
		}
	}
}
