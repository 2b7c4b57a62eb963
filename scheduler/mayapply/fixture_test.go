package mayapply_test

import (
	"flag"
	"os"
	"strings"
	"testing"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/quantity"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestMain runs every property 200 times; -rapid.checks says otherwise.
func TestMain(m *testing.M) {
	if err := flag.Set("rapid.checks", "200"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

// must panics on a slip in the fixture.
func must[T any](value T, err error) T {
	if err != nil {
		panic(err)
	}
	return value
}

var newYork = must(civil.LoadZone("America/New_York"))

// at is an instant of March 2026 on the wall clock of New York: at(3, "19:30").
func at(day int, clock string) civil.Instant {
	return newYork.At(march(day), must(civil.ParseClock(clock)))
}

func march(day int) civil.Date { return civil.NewDate(2026, time.March, day) }

func volume(text string) quantity.Volume { return must(quantity.ParseVolume(text)) }

func weekly(days, opens, closes string) civil.Weekly {
	w := civil.Weekly{Window: window(opens, closes)}
	for _, name := range strings.Fields(days) {
		var d civil.Weekday
		if err := d.UnmarshalText([]byte(name)); err != nil {
			panic(err)
		}
		w.Days = append(w.Days, d)
	}
	return w
}

func window(opens, closes string) civil.Window {
	return civil.Window{Opens: must(civil.ParseClock(opens)), Closes: must(civil.ParseClock(closes))}
}

const (
	workdays = "mon tue wed thu fri"
	everyDay = "sun mon tue wed thu fri sat"
)

// invented is a catalogue of our own invention: no figure in it is anybody's.
func invented() *catalogue.Catalogue {
	range1 := func(near, far float64) catalogue.Range {
		return catalogue.Range{Near: near, Far: far, Unit: "millilitres", Standing: catalogue.Assumption}
	}
	figure := func(value float64) *catalogue.Figure {
		return &catalogue.Figure{Value: value, Standing: catalogue.Assumption}
	}
	return &catalogue.Catalogue{
		Pests: map[catalogue.PestID]catalogue.Pest{"mealybug": {ID: "mealybug", Name: "mealybug"}, "mite": {ID: "mite", Name: "mite"}},
		Materials: map[catalogue.MaterialID]catalogue.Material{
			"soap": {
				ID: "soap", Name: "soap", Method: catalogue.WholePlantSpray, Law: catalogue.RegisteredProduct, MaxCelsius: figure(32),
				AmountBySize: []catalogue.AmountBySize{{UpToHeightCM: 50, Millilitres: range1(50, 100)}, {UpToHeightCM: 100, Millilitres: range1(200, 300)}},
				Cautions:     []string{"Makes floors slippery: cover, cordon, wipe."},
				Incompatible: []catalogue.Conflict{{Material: "sulphur", Order: catalogue.Either, Days: catalogue.Figure{Value: 1, Unit: "days", Standing: catalogue.Assumption}, Why: "soap curdles with sulphur"}},
			},
			"larvicide": {ID: "larvicide", Name: "larvicide", Method: catalogue.Drench, Law: catalogue.RegisteredProduct, DrenchShare: figure(0.12)},
			"alcohol": {
				ID: "alcohol", Name: "alcohol", Method: catalogue.SpotSpray, Law: catalogue.HouseholdRemedy,
				Dilution: &catalogue.Dilution{Parts: 1, Convention: "added to", StockPercent: 70, Standing: catalogue.Assumption},
			},
			"sulphur":          {ID: "sulphur", Name: "sulphur", Method: catalogue.WholePlantSpray, Law: catalogue.RegisteredProduct},
			"predators":        {ID: "predators", Name: "predators", Method: catalogue.Release, Law: catalogue.DeviceOrOrganism, Living: &catalogue.LivingGoods{PerPlant: &catalogue.Range{Near: 2, Far: 5}}},
			"nematodes-poured": {ID: "nematodes-poured", Name: "nematodes", Method: catalogue.Drench, Law: catalogue.DeviceOrOrganism, DrenchShare: figure(0.12), Living: &catalogue.LivingGoods{PerLitre: figure(10_000)}},
			"nematodes":        {ID: "nematodes", Name: "nematodes", Method: catalogue.Drench, Law: catalogue.DeviceOrOrganism, Living: &catalogue.LivingGoods{PerLitre: figure(500_000)}},
			"cards":            {ID: "cards", Name: "sticky cards", Method: catalogue.Trap, Law: catalogue.DeviceOrOrganism},
			"hands":            {ID: "hands", Name: "removal by hand", Method: catalogue.ByHand, Law: catalogue.PhysicalWork},
		},
		Species: map[catalogue.SpeciesID]catalogue.Species{
			"pothos": {ID: "pothos", Botanical: "Epipremnum aureum", Tolerance: []catalogue.Tolerance{{Material: "soap", Verdict: catalogue.Stands, Standing: catalogue.Assumption}, {Material: "larvicide", Verdict: catalogue.Stands, Standing: catalogue.Assumption}}},
			"fern":   {ID: "fern", Botanical: "Adiantum raddianum", Tolerance: []catalogue.Tolerance{{Material: "soap", Verdict: catalogue.MustNot, Standing: catalogue.Assumption}}},
			"palm":   {ID: "palm", Botanical: "Chamaedorea elegans"},
		},
		Jurisdictions: map[catalogue.JurisdictionCode]catalogue.Jurisdiction{"ZZ": {
			Code: "ZZ", Name: "an invented jurisdiction", Supervision: "a licence holder is on the premises",
			Categories: []catalogue.LicenceCategory{{ID: "interior", Name: "plants indoors", Covers: []catalogue.PlaceKind{catalogue.Office, catalogue.School, catalogue.PlantRoom}}},
			Notices:    []catalogue.NoticeRule{{Places: []catalogue.PlaceKind{catalogue.School}, LeadHours: catalogue.Figure{Value: 72, Unit: catalogue.UnitHours}, Text: "Parents are told 72 hours before."}},
			Postings:   []catalogue.Posting{{Places: []catalogue.PlaceKind{catalogue.School}, Text: "A sign at the door stays two days."}},
			Entries:    []catalogue.EntryRule{{Places: []catalogue.PlaceKind{catalogue.School}, LeastHours: catalogue.Figure{Value: 7, Unit: catalogue.UnitHours}, Text: "No pupils within 7 hours."}},
		}},
	}
}

// office has a floor with people by day, a gallery open to it, a study reached only through it, and a plant room of its own.
func office() site.Site {
	return site.Site{
		ID: "office", Name: "the office", Zone: newYork, Jurisdiction: "ZZ", Kind: catalogue.Office,
		Access: civil.Calendar{Weekly: []civil.Weekly{weekly(workdays, "06:00", "23:00")}},
		Water:  site.Water{Area: "plant-room"},
		Areas: []site.Area{
			{
				ID: "floor", Name: "the floor", People: civil.Calendar{Weekly: []civil.Weekly{weekly(workdays, "08:00", "19:30")}}, Climate: site.Climate{{Coldest: 18, Usual: 21, Warmest: 24}},
				Ventilation: civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, "06:00", "20:00")}},
			},
			{ID: "gallery", Name: "the gallery", OpenTo: []site.AreaID{"floor"}, Climate: site.Climate{{Coldest: 18, Usual: 21, Warmest: 24}}},
			{ID: "study", Name: "the study", ReachedOnlyThrough: "floor", Climate: site.Climate{{Coldest: 18, Usual: 21, Warmest: 24}}},
			{ID: "plant-room", Name: "the plant room", Kind: catalogue.PlantRoom, Climate: site.Climate{{Coldest: 16, Usual: 18, Warmest: 20}}, Ventilation: civil.Calendar{Always: true}},
		},
	}
}

func plant(id site.PlantID, area site.AreaID) mayapply.Plant {
	return mayapply.Plant{Plant: site.Plant{
		ID: id, Site: "office", Area: area, Species: "pothos", Count: 2, PotVolume: volume("4 L"), HeightCM: 40, Planter: site.Drained,
		Watering: site.Watering{Earliest: 5, Ideal: 7, Latest: 9, Last: march(2)},
	}}
}

// soap is 2.5 US fl oz made up to a US gallon, until dry.
func soap() catalogue.Product {
	most := quantity.Rate{Concentrate: volume("2.5 US fl oz"), Per: volume("1 US gal"), Convention: quantity.MadeUpTo}
	return catalogue.Product{
		ID: "soap-a", Name: "soap A", Material: "soap", Registration: "000-0", Form: catalogue.Concentrate, Jurisdictions: []catalogue.JurisdictionCode{"ZZ"},
		Label: catalogue.Label{
			Places: []catalogue.PlaceKind{catalogue.Office, catalogue.PlantRoom, catalogue.School}, Pests: []catalogue.PestID{"mealybug"},
			MaxRate: &most, Entry: catalogue.Entry{Kind: catalogue.EntryUntilDry}, LeastDays: 7, Categories: []string{"interior"},
		},
	}
}

// question is one that every rule lets pass: soap on two groups on the floor, on a Tuesday evening once the cleaners are gone.
func question() mayapply.Question {
	sent := at(1, "19:45")
	return mayapply.Question{
		Catalogue: invented(), Site: office(), Plants: []mayapply.Plant{plant("pothos-1", "floor"), plant("pothos-2", "floor")},
		Product: soap(), Products: []catalogue.Product{soap()}, Pest: "mealybug", Begins: at(3, "19:45"), Takes: 32 * time.Minute,
		By:         mayapply.Person{Name: "technician 1", Licences: []mayapply.Licence{{Jurisdiction: "ZZ", Category: "interior", From: march(1), To: march(31)}}},
		Approval:   &mayapply.Approval{By: "applicator 1"},
		NoticeSent: &sent, CarriesWater: true, CarriedHardnessMgL: ptr(0.0),
		Vessels: []dilution.Vessel{{
			ID: "sprayer", Name: "the pump sprayer", Capacity: volume("128 US fl oz"), Dead: volume("2 US fl oz"), Marks: volume("8 US fl oz"),
			Methods: []catalogue.Method{catalogue.WholePlantSpray, catalogue.SpotSpray, catalogue.Drench},
		}},
		Measures: []dilution.Measure{{Name: "cup", Capacity: volume("4 US fl oz"), Marks: volume("1/8 US fl oz")}},
		Policy: mayapply.Policy{
			Policy: reentry.Policy{
				UntilDry:                  map[catalogue.Method]time.Duration{catalogue.WholePlantSpray: 3 * time.Hour, catalogue.SpotSpray: 2 * time.Hour},
				UnventilatedFactorPercent: 150,
			},
			LeastRatePercent: 90, ReservePercent: 10, NoticeLead: 24 * time.Hour, LinerDrenchPercent: 10,
		},
	}
}

func ptr[T any](v T) *T { return &v }

func ask(t testing.TB, q mayapply.Question) mayapply.Answer {
	t.Helper()
	a, err := mayapply.MayApply(q)
	if err != nil {
		t.Fatal(err)
	}
	return a
}
