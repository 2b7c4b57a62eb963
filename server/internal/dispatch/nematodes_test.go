package dispatch_test

import (
	"math/big"
	"strings"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/load"
	"vernation/server/internal/store"
)

// nematodes is an invented product as a business file writes it: 10 000 for a litre of pot, in packs of a million.
const nematodes = `
products:
  - id: nematodes
    name: Nematodes of the demo
    material: steinernema-feltiae
    form: living
    label_version: demo-1
    placeholders: [label.max_portion, label.entry, packs]
    packs: [{name: pack of a million, organisms: 1000000, parts: 4}]
    label:
      places: [lodging]
      pests: [fungus-gnat]
      max_portion: {organisms: 10000, per_pot: 1 L}
      entry: {kind: none-needed, reason: living animals that are watered in}
      open_flowers: true
      dry_plants: true
`

// The pack of a million serves 4 pots of 4 L: 160 000 at the label's 10 000 a litre. 12 % of the pots, 1.92 L, and a tenth more are
// poured; in the can's 104 US fl oz = 3.0757 L a quarter of a pack is 81 283 a litre, 97.5 % of 160 000/1.92 = 83 333.
func TestDayRoute_ANematodeDrenchOfABusinessFileGetsAMixSheetWithOrganisms(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	file, err := load.Read("nematodes.yaml", []byte(nematodes))
	if err != nil {
		t.Fatal(err)
	}
	if err := file.Check(); err != nil {
		t.Fatal(err)
	}
	w.In(t, w.Office, file.Store)
	w.Find(t, firmtest.Gnats, "fungus-gnat", "lily-reading")
	w.Approve(t, firmtest.Gnats)
	application := firmtest.Next(t, w.Course(t, firmtest.Gnats), course.KindApplication)
	use := application.Ways[0].Parts[0].Use
	if use.Product != "nematodes" || len(use.Doses) != 1 || use.Doses[0].Organisms != 160_000 {
		t.Fatalf("the course applies %+v: want 160 000 nematodes", use)
	}
	book(t, w, "drench", application.ID, "2026-03-06 12:00")
	route, err := dayRoute(t, w, w.TechA, "2026-03-06 12:00")
	if err != nil {
		t.Fatal(err)
	}
	if len(route.Sheets) != 1 {
		t.Fatalf("%d mix sheets: want one", len(route.Sheets))
	}
	mix, sheet := route.Sheets[0].Mix, route.Sheets[0].Sheet
	gets := new(big.Rat).Mul(big.NewRat(mix.Organisms, 1), new(big.Rat).Quo(use.Doses[0].Amount.Millilitres(), mix.Volume.Millilitres()))
	if mix.Organisms != 250_000 || gets.Cmp(big.NewRat(160_000, 1)) > 0 || gets.Cmp(big.NewRat(144_000, 1)) < 0 {
		t.Errorf("%d organisms in %v give the lilies %s: want a quarter of a pack, and 144 000 to 160 000", mix.Organisms, mix.Volume, gets.FloatString(0))
	}
	says(t, "the sheet", strings.Join(strings.Fields(sheet.Text()), " "), "1/4 of a pack of Nematodes of the demo (pack of a million), 250 000 organisms",
		"the label's one rate is 10 000 organisms for 1 L of pot, taken as the greatest", "Agitate gently", "Placeholders")
	w.MoveClock(t, "2026-03-06 20:00")
	report := func(id string, organisms int64) []firm.Deviation {
		r := firm.Report{ID: id, Technician: "tech-a", Site: "hotel-quarry-square", Arrived: w.At(t, "2026-03-06 11:50"), Left: w.At(t, "2026-03-06 13:00"), Visit: "drench",
			Items: []firm.ReportItem{{Item: application.ID, Outcome: course.OutcomeDone, Began: w.At(t, "2026-03-06 12:00"), Ended: w.At(t, "2026-03-06 12:16"),
				Application: &firm.Applied{Product: "nematodes", Vessel: "can", Volume: mix.Volume, Applied: use.Doses[0].Amount, Organisms: organisms}}}}
		if id != "first" {
			r.Corrects = "first"
		}
		w.Report(t, r)
		var found []firm.Deviation
		w.In(t, w.Office, func(tx *store.Tx) (err error) { found, err = tx.DeviationsOf(id); return err })
		return found
	}
	for _, d := range report("first", mix.Organisms) {
		if d.Rule == scheduler.RuleLabel || d.Rule == scheduler.RuleMix {
			t.Errorf("as planned: %s", d.Text)
		}
	}
	w.In(t, w.Office, func(tx *store.Tx) error {
		records, err := tx.RecordsOf("first")
		whole := new(big.Int).Quo(gets.Num(), gets.Denom()).Int64()
		if len(records) != 1 || records[0].Organisms != whole || !strings.HasSuffix(records[0].RatePercent, " organisms/L") {
			t.Errorf("records %+v: want %d organisms on the plants", records, whole)
		}
		return err
	})
	said := ""
	for _, d := range report("twice", 2*mix.Organisms) {
		said += d.Text + "\n"
	}
	says(t, "twice as many", said, "times the label's greatest rate, 10 000 organisms for 1 L of pot")
}

// A label by weight is kept as one by number is: the product's own words reach the sheet.
func TestDayRoute_APowderOfABusinessFileIsWeighed(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	file, err := load.Read("powder.yaml", []byte(`
products:
  - id: powder
    name: Larva powder of the demo
    material: bti-drench
    registration: DEMO-0009
    form: solid
    jurisdictions: [US-PA]
    label_version: demo-1
    placeholders: [label.max_portion]
    label:
      places: [lodging]
      pests: [fungus-gnat]
      min_portion: {mass: 1 lb, per_mix: 100 US gal}
      max_portion: {mass: 2 lb, per_mix: 100 US gal}
      entry: {kind: hours, hours: 4h}
      least_days: 5
      categories: ["22"]
      equipment: [gloves, dust mask]
      open_flowers: true
      dry_plants: true
technicians:
  - id: tech-c
    name: Technician C
    base_latitude: 40.5990
    base_longitude: -77.5688
    shifts: {weekly: [{days: [mon, tue, wed, thu, fri], opens: "07:30", closes: "16:00"}]}
    licences: [{jurisdiction: US-PA, category: "22", number: DEMO-C1, from: 2025-01-01, to: 2027-12-31}]
    vessels: [{id: can, name: watering can, capacity: 256 US fl oz, dead: 0 US fl oz, marks: 8 US fl oz, methods: [drench]}]
    scales: [{name: pocket scale, capacity: 100 g, marks: 0.1 g}]
    paid_per_minute: 60
    speed_percent: 100
`))
	if err != nil {
		t.Fatal(err)
	}
	w.In(t, w.Office, file.Store)
	w.In(t, w.Office, func(tx *store.Tx) error {
		product, err := tx.Product("powder")
		if err != nil {
			return err
		}
		if max := product.Label.MaxPortion; max == nil || !max.Mass.Equal(quantity.NewMass(2, 1, quantity.Pound)) || max.Basis() != quantity.ForMix || !product.Diluted() {
			t.Errorf("stored %v of %s", product.Label.MaxPortion, catalogue.Solid)
		}
		crew, err := tx.Crew()
		for _, member := range crew {
			if member.ID == "tech-c" && len(member.Scales) != 1 {
				t.Errorf("scales %v", member.Scales)
			}
		}
		return err
	})
}
