package catalogue_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
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

func madeUpTo(t testing.TB, concentrate, per string) *quantity.Rate {
	t.Helper()
	return &quantity.Rate{Concentrate: volume(t, concentrate), Per: volume(t, per), Convention: quantity.MadeUpTo}
}

// soap is a sound record of an invented product.
func soap(t testing.TB) catalogue.Product {
	t.Helper()
	cold, hot := 5.0, 32.0
	return catalogue.Product{
		ID: "soap-a", Name: "Soap A (placeholder)", Material: "insecticidal-soap", Registration: "00000-0", Form: catalogue.Concentrate,
		Jurisdictions: []catalogue.JurisdictionCode{"US-PA"},
		Label: catalogue.Label{
			Places: []catalogue.PlaceKind{catalogue.Office}, Pests: []catalogue.PestID{"citrus-mealybug"},
			MinRate: madeUpTo(t, "2 US fl oz", "1 US gal"), MaxRate: madeUpTo(t, "2.5 US fl oz", "1 US gal"),
			Entry: catalogue.Entry{Kind: catalogue.EntryUntilDry}, LeastDays: 7, MostInRow: 8, MostAYear: 20,
			MinCelsius: &cold, MaxCelsius: &hot, Hours: []civil.Window{{Opens: civil.NewClock(18, 0), Closes: civil.NewClock(30, 0)}},
			MustNot: []catalogue.SpeciesID{"adiantum-raddianum"}, KeepAway: []catalogue.KeepAway{{Thing: catalogue.FishTank}},
			Incompatible: []catalogue.Incompatible{{Material: "hydrogen-peroxide", Days: 1}}, Categories: []string{"22"},
			LeftoverOn: []catalogue.SpeciesID{"ficus-lyrata"},
		},
		Placeholders: []string{"registration"},
	}
}

func TestProduct_SoundOnesPass(t *testing.T) {
	t.Parallel()
	for name, p := range map[string]catalogue.Product{
		"concentrate": soap(t),
		"card": {ID: "card", Name: "Card", Material: "sticky-cards", Form: catalogue.Device,
			Label: catalogue.Label{Entry: catalogue.Entry{Kind: catalogue.EntryNone, Reason: "a trap"}}},
		"hands": {ID: "hands", Name: "By hand", Material: "removal-by-hand", Form: catalogue.NoSupply,
			Label: catalogue.Label{Entry: catalogue.Entry{Kind: catalogue.EntryNone, Reason: "physical work"}}},
		"remedy": {ID: "alcohol", Name: "Alcohol 70 %", Material: "isopropyl-alcohol", Form: catalogue.Concentrate,
			LawfulBecause: map[catalogue.JurisdictionCode]string{"GB": "recorded reason"},
			Label:         catalogue.Label{MaxRate: &quantity.Rate{Concentrate: volume(t, "1 mL"), Per: volume(t, "1 mL"), Convention: quantity.AddedTo}, Entry: catalogue.Entry{Kind: catalogue.EntryUnknown}}},
		"hours": {ID: "h", Name: "Bti", Material: "bti-drench", Registration: "00000-1", Form: catalogue.ReadyToUse, Jurisdictions: []catalogue.JurisdictionCode{"GB"},
			Label: catalogue.Label{Entry: catalogue.Entry{Kind: catalogue.EntryHours, Hours: 4 * time.Hour}}},
	} {
		if wrong := p.Validate(catalogue.Shipped()); len(wrong) != 0 {
			t.Errorf("%s: %v", name, wrong)
		}
	}
}

// nematodes is a sound record of an invented product of counted organisms, 10 000 for a litre of pot.
func nematodes(t testing.TB) catalogue.Product {
	t.Helper()
	return catalogue.Product{
		ID: "nematodes-a", Name: "Nematodes A (placeholder)", Material: "steinernema-feltiae", Form: catalogue.Living,
		Packs: []catalogue.Pack{{Name: "pack of 5 million", Organisms: 5_000_000, Parts: 4}},
		Label: catalogue.Label{
			MaxPortion: &quantity.PortionRate{Organisms: 10_000, PerPot: volume(t, "1 L")},
			Entry:      catalogue.Entry{Kind: catalogue.EntryNone, Reason: "living animals"},
		},
	}
}

func TestProduct_RatesByWeightAndNumber(t *testing.T) {
	t.Parallel()
	grams := func(g int64) quantity.Mass { return quantity.NewMass(g, 1, quantity.Gram) }
	granules := func(p *catalogue.Product) {
		*p = catalogue.Product{ID: "granules", Name: "Granules (placeholder)", Material: "imidacloprid-soil", Registration: "00000-2", Form: catalogue.Solid,
			Jurisdictions: []catalogue.JurisdictionCode{"US-PA"}, Label: catalogue.Label{
				MaxPortion: &quantity.PortionRate{Mass: grams(2), PerPot: volume(t, "1 L")}, Entry: catalogue.Entry{Kind: catalogue.EntryUnknown},
			}}
	}
	for _, tc := range []struct {
		name, path, reason string // "" is sound
		diluted            bool
		change             func(*catalogue.Product)
	}{
		{"counted for the pot", "", "", true, func(*catalogue.Product) {}},
		{"strewn for the pot", "", "", false, granules},
		{"weighed into the mix", "", "", true, func(p *catalogue.Product) {
			granules(p)
			p.Label.MinPortion = &quantity.PortionRate{Mass: grams(1), PerMix: volume(t, "1 L")}
			p.Label.MaxPortion = &quantity.PortionRate{Mass: grams(2), PerMix: volume(t, "1 L")}
		}},
		{"no rate", "label.max_portion", "MAX_PORTION_MISSING", false, func(p *catalogue.Product) { p.Label.MaxPortion = nil }},
		{"a rate of nothing", "label.max_portion", "PORTION_INVALID", true, func(p *catalogue.Product) { p.Label.MaxPortion.Organisms = 0 }},
		{"living goods that are weighed", "label.max_portion", "CONTRADICTION", true, func(p *catalogue.Product) {
			p.Label.MaxPortion = &quantity.PortionRate{Mass: grams(2), PerPot: volume(t, "1 L")}
		}},
		{"granules that are counted", "label.max_portion", "CONTRADICTION", false, func(p *catalogue.Product) {
			granules(p)
			p.Label.MaxPortion = &quantity.PortionRate{Organisms: 2, PerPot: volume(t, "1 L")}
		}},
		{"a concentrate that is weighed", "label.max_portion", "CONTRADICTION", true, func(p *catalogue.Product) {
			*p = soap(t)
			p.Label.MaxPortion = &quantity.PortionRate{Mass: grams(2), PerMix: volume(t, "1 L")}
		}},
		{"a spray for the pot", "label.max_portion", "CONTRADICTION", false, func(p *catalogue.Product) {
			granules(p)
			p.Material = "sulphur-spray"
		}},
		{"a least of another kind", "label.min_portion", "CONTRADICTION", true, func(p *catalogue.Product) {
			p.Label.MinPortion = &quantity.PortionRate{Organisms: 5_000, PerMix: volume(t, "1 L")}
		}},
		{"a least that is nothing", "label.min_portion", "PORTION_INVALID", true, func(p *catalogue.Product) { p.Label.MinPortion = &quantity.PortionRate{} }},
		{"a least above the greatest", "label.min_portion", "MIN_ABOVE_MAX", true, func(p *catalogue.Product) {
			p.Label.MinPortion = &quantity.PortionRate{Organisms: 10_001, PerPot: volume(t, "1 L")}
		}},
		{"no pack", "packs", "MISSING", true, func(p *catalogue.Product) { p.Packs = nil }},
		{"a pack without a name", "packs[0]", "PACK_INVALID", true, func(p *catalogue.Product) { p.Packs[0].Name = "" }},
		{"an empty pack", "packs[0]", "PACK_INVALID", true, func(p *catalogue.Product) { p.Packs[0].Organisms = 0 }},
		{"parts that are no whole numbers", "packs[0]", "PACK_INVALID", true, func(p *catalogue.Product) { p.Packs[0].Parts = 3 }},
		{"packs of soap", "packs", "CONTRADICTION", true, func(p *catalogue.Product) { packs := p.Packs; *p = soap(t); p.Packs = packs }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			p := nematodes(t)
			tc.change(&p)
			if p.Diluted() != tc.diluted {
				t.Errorf("diluted is %v", p.Diluted())
			}
			wrong := p.Validate(catalogue.Shipped())
			if tc.path == "" && len(wrong) > 0 || tc.path != "" && (len(wrong) != 1 || wrong[0].Path != tc.path || wrong[0].Reason != tc.reason) {
				t.Errorf("%v, want %s at %q", wrong, tc.reason, tc.path)
			}
		})
	}
}

func TestProduct_SaysWhichFieldIsWrong(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, path, reason string
		change             func(*testing.T, *catalogue.Product)
	}{
		{"no id", "id", "MISSING", func(_ *testing.T, p *catalogue.Product) { p.ID = "" }},
		{"no name", "name", "MISSING", func(_ *testing.T, p *catalogue.Product) { p.Name = "" }},
		{"unknown material", "material", "UNKNOWN_MATERIAL", func(_ *testing.T, p *catalogue.Product) { p.Material = "soap" }},
		{"unknown form", "form", "UNKNOWN_FORM", func(_ *testing.T, p *catalogue.Product) { p.Form = "powder" }},
		{"no registration number", "registration", "REGISTRATION_MISSING", func(_ *testing.T, p *catalogue.Product) { p.Registration = "" }},
		{"registered nowhere", "jurisdictions", "MISSING", func(_ *testing.T, p *catalogue.Product) { p.Jurisdictions, p.Label.Categories = nil, nil }},
		{"unknown jurisdiction", "jurisdictions[1]", "UNKNOWN_JURISDICTION", func(_ *testing.T, p *catalogue.Product) { p.Jurisdictions = append(p.Jurisdictions, "US-XX") }},
		{"lawful in an unknown place", "lawful_because.US-XX", "UNKNOWN_JURISDICTION", func(_ *testing.T, p *catalogue.Product) {
			p.LawfulBecause = map[catalogue.JurisdictionCode]string{"US-XX": "so"}
		}},
		{"lawful without a reason", "lawful_because.GB", "MISSING", func(_ *testing.T, p *catalogue.Product) {
			p.LawfulBecause = map[catalogue.JurisdictionCode]string{"GB": ""}
		}},
		{"concentrate without a rate", "label.max_rate", "MAX_RATE_MISSING", func(_ *testing.T, p *catalogue.Product) { p.Label.MaxRate = nil }},
		{"rate of nothing", "label.max_rate", "RATE_INVALID", func(t *testing.T, p *catalogue.Product) { p.Label.MaxRate = madeUpTo(t, "0 mL", "1 L") }},
		{"rate in two systems", "label.min_rate", "RATE_INVALID", func(t *testing.T, p *catalogue.Product) { p.Label.MinRate = madeUpTo(t, "1 mL", "1 US gal") }},
		{"least above the greatest", "label.min_rate", "MIN_ABOVE_MAX", func(t *testing.T, p *catalogue.Product) {
			p.Label.MinRate = madeUpTo(t, "2.6 US fl oz", "1 US gal")
		}},
		{"rate of what is not diluted", "label.max_rate", "CONTRADICTION", func(_ *testing.T, p *catalogue.Product) { p.Form = catalogue.ReadyToUse }},
		{"physical work in a bottle", "form", "CONTRADICTION", func(_ *testing.T, p *catalogue.Product) { p.Material = "removal-by-hand" }},
		{"diluted card", "form", "CONTRADICTION", func(_ *testing.T, p *catalogue.Product) { p.Material = "sticky-cards" }},
		{"no entry", "label.entry.kind", "UNKNOWN_ENTRY", func(_ *testing.T, p *catalogue.Product) { p.Label.Entry = catalogue.Entry{} }},
		{"hours without hours", "label.entry.hours", "ENTRY_HOURS_MISSING", func(_ *testing.T, p *catalogue.Product) {
			p.Label.Entry = catalogue.Entry{Kind: catalogue.EntryHours}
		}},
		{"negative hours", "label.entry.hours", "OUT_OF_RANGE", func(_ *testing.T, p *catalogue.Product) {
			p.Label.Entry = catalogue.Entry{Kind: catalogue.EntryHours, Hours: -time.Hour}
		}},
		{"dry and hours", "label.entry.hours", "CONTRADICTION", func(_ *testing.T, p *catalogue.Product) { p.Label.Entry.Hours = time.Hour }},
		{"none needed without a reason", "label.entry.reason", "ENTRY_REASON_MISSING", func(_ *testing.T, p *catalogue.Product) {
			p.Label.Entry = catalogue.Entry{Kind: catalogue.EntryNone}
		}},
		{"unknown place", "label.places[1]", "UNKNOWN_PLACE", func(_ *testing.T, p *catalogue.Product) {
			p.Label.Places = append(p.Label.Places, "moon")
		}},
		{"unknown pest", "label.pests[0]", "UNKNOWN_PEST", func(_ *testing.T, p *catalogue.Product) { p.Label.Pests = []catalogue.PestID{"aphid"} }},
		{"unknown species", "label.must_not[0]", "UNKNOWN_SPECIES", func(_ *testing.T, p *catalogue.Product) { p.Label.MustNot = []catalogue.SpeciesID{"fern"} }},
		{"unknown species for what is left", "label.leftover_on[0]", "UNKNOWN_SPECIES", func(_ *testing.T, p *catalogue.Product) { p.Label.LeftoverOn = []catalogue.SpeciesID{"fern"} }},
		{"unknown sensitive thing", "label.keep_away[0].thing", "UNKNOWN_SENSITIVE_THING", func(_ *testing.T, p *catalogue.Product) {
			p.Label.KeepAway = []catalogue.KeepAway{{Thing: "dragon"}}
		}},
		{"unknown other material", "label.incompatible[0].material", "UNKNOWN_MATERIAL", func(_ *testing.T, p *catalogue.Product) {
			p.Label.Incompatible = []catalogue.Incompatible{{Material: "sulfur"}}
		}},
		{"negative days apart", "label.incompatible[0].days", "OUT_OF_RANGE", func(_ *testing.T, p *catalogue.Product) { p.Label.Incompatible[0].Days = -1 }},
		{"unknown category", "label.categories[0]", "UNKNOWN_CATEGORY", func(_ *testing.T, p *catalogue.Product) { p.Label.Categories = []string{"99"} }},
		{"negative least days", "label.least_days", "OUT_OF_RANGE", func(_ *testing.T, p *catalogue.Product) { p.Label.LeastDays = -7 }},
		{"negative most in a row", "label.most_in_row", "OUT_OF_RANGE", func(_ *testing.T, p *catalogue.Product) { p.Label.MostInRow = -1 }},
		{"negative most a year", "label.most_a_year", "OUT_OF_RANGE", func(_ *testing.T, p *catalogue.Product) { p.Label.MostAYear = -1 }},
		{"negative mix life", "label.mix_life", "OUT_OF_RANGE", func(_ *testing.T, p *catalogue.Product) { p.Label.MixLife = -1 }},
		{"hot below cold", "label.min_celsius", "MIN_ABOVE_MAX", func(_ *testing.T, p *catalogue.Product) { *p.Label.MaxCelsius = 1 }},
		{"temperature that is no number", "label.max_celsius", "OUT_OF_RANGE", func(_ *testing.T, p *catalogue.Product) { *p.Label.MaxCelsius = math.NaN() }},
		{"humidity above what air holds", "label.max_humidity", "OUT_OF_RANGE", func(_ *testing.T, p *catalogue.Product) { h := 101.0; p.Label.MaxHumidity = &h }},
		{"negative hardness", "label.max_hardness", "OUT_OF_RANGE", func(_ *testing.T, p *catalogue.Product) { h := -1.0; p.Label.MaxHardness = &h }},
		{"hours that end as they begin", "label.hours[0]", "WINDOW_INVALID", func(_ *testing.T, p *catalogue.Product) { p.Label.Hours[0].Closes = p.Label.Hours[0].Opens }},
		{"placeholder without a name", "placeholders[0]", "MISSING", func(_ *testing.T, p *catalogue.Product) { p.Placeholders[0] = "" }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			p := soap(t)
			tc.change(t, &p)
			wrong := p.Validate(catalogue.Shipped())
			if len(wrong) == 0 || len(wrong) > 3 {
				t.Fatalf("%d fields are wrong: %v", len(wrong), wrong)
			}
			for _, field := range wrong {
				if field.Path == tc.path && field.Reason == tc.reason {
					if field.Text == "" || !strings.Contains(field.Error(), field.Path) {
						t.Errorf("%+v says too little", field)
					}
					return
				}
			}
			t.Errorf("%v, want %s at %s", wrong, tc.reason, tc.path)
		})
	}
}
