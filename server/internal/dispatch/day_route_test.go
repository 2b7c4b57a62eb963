package dispatch_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/dilution"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/dispatch"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/planning"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// book pins a follow-up on tech-a at a wall-clock time, which must succeed.
func book(t *testing.T, w *firmtest.Works, visit scheduler.VisitID, item scheduler.ItemID, begins string) {
	t.Helper()
	wish := firm.Booking{Visit: visit, Item: item, Technician: "tech-a", Begins: w.At(t, begins)}
	if _, err := planning.Book(t.Context(), w.Store, w.Office, wish, nil); err != nil {
		t.Fatalf("%v: %v", err, fault.Of(err).Violations)
	}
}

// dayRoute pulls tech-a's day route of the day of a wall-clock time, as it is known now; a technician pulls it in the first
// minutes of that day.
func dayRoute(t *testing.T, w *firmtest.Works, caller firm.Caller, on string) (route firm.DayRoute, err error) {
	t.Helper()
	if caller.Role == firm.Technician {
		now := w.Clock.Now()
		w.MoveClock(t, strings.Fields(on)[0]+" 00:05")
		defer w.Clock.Set(now)
	}
	err = w.Store.Reading(t.Context(), caller, func(tx *store.Tx) (err error) {
		route, err = dispatch.DayRoute(tx, "tech-a", w.Business.Zone.DateOf(w.At(t, on)))
		return err
	})
	return route, err
}

func says(t *testing.T, what, text string, words ...string) {
	t.Helper()
	for _, word := range words {
		if !strings.Contains(text, word) {
			t.Errorf("%s does not say %q:\n%s", what, word, text)
		}
	}
}

func TestDayRoute_SaysAllThatTheWorkNeeds(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	book(t, w, "drench", "gnats/application/1/1", "2026-03-05 14:30")
	book(t, w, "spray", "mealybugs/application/1/1", "2026-03-05 19:45")
	route, err := dayRoute(t, w, w.TechA, "2026-03-05 12:00")
	if err != nil {
		t.Fatal(err)
	}
	if len(route.Visits) != 2 || route.Visits[0].Visit.ID != "drench" || route.Visits[1].Visit.ID != "spray" {
		t.Fatalf("visits %+v: want the drench, then the spray", route.Visits)
	}
	if route.Cost.Total != 0 || route.Visits[0].Visit.Cost.Total != 0 {
		t.Error("the technician is told what the day costs")
	}
	offices := route.Visits[1]
	says(t, "the access of the offices", offices.Site.AccessNotes, "Sign in at the porter's desk")
	says(t, "the water of the offices", offices.WaterText, "Cleaners' store with a tap", "hardness unknown: counts as hard")
	says(t, "the spray", offices.Work[0].Text, "application of Soap concentrate of the demo, whole plant spray in Open floor", "Pothos at the stairs (5)", "application 1 of 7")
	if !slices.Equal(offices.Work[0].Equipment, []string{"gloves", "goggles"}) {
		t.Errorf("equipment %v: want the label's", offices.Work[0].Equipment)
	}
	if len(route.Sheets) != 2 || route.Sheets[0].Mix.Product != "bti" || route.Sheets[1].Mix.Product != "soap" {
		t.Fatalf("%d mix sheets: want one of Bti, one of soap", len(route.Sheets))
	}
	for i, work := range []scheduler.WorkItem{route.Visits[0].Visit.Work[0], offices.Visit.Work[0]} {
		if work.MixIndex != i {
			t.Errorf("work %s draws on mix %d: want %d", work.Item, work.MixIndex, i)
		}
	}
	for _, sheet := range route.Sheets {
		label := map[string]string{"bti": "2.56 US fl oz", "soap": "2.5 US fl oz"}[string(sheet.Mix.Product)]
		// never above the label: concentrate / volume <= label / 128
		greatest := firmtest.Volume(t, label).Millilitres()
		made := sheet.Mix.Concentrate.Millilitres()
		made.Mul(made, firmtest.Volume(t, "128 US fl oz").Millilitres()).Quo(made, sheet.Mix.Volume.Millilitres())
		if made.Cmp(greatest) > 0 || sheet.Mix.Volume.Cmp(sheet.Mix.Need) < 0 {
			t.Errorf("%v of %s in %v for a need of %v: want the need, within the label", sheet.Mix.Concentrate, sheet.Mix.Product, sheet.Mix.Volume, sheet.Mix.Need)
		}
	}
	var shut []string
	for _, k := range route.KeepOuts {
		shut = append(shut, k.Text)
	}
	keepOuts := strings.Join(shut, "\n")
	// The drench takes until 14:46 and shuts 4 hours more; the spray begins at 19:45.
	says(t, "the keep-outs", keepOuts, "Hotel, 1 Quarry Square, Reading room: nobody in from Thu 5 Mar 14:30 to Thu 5 Mar 18:46",
		"Offices, 4 Alder Row, Open floor: nobody in from Thu 5 Mar 19:45 to", "until somebody has confirmed that it is dry")
	says(t, "the cautions", strings.Join(route.Cautions, "\n"), "The label in hand, local codes and the responsible applicator outrank this day route.",
		"Not above 32 °C", "Use the day it is mixed", "Poison line: set by the business")
}

func TestDayRoute_TellsTheConditionsThatTheReportMustTick(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	w.In(t, w.Office, func(tx *store.Tx) error {
		return premises.AddPlants(tx, []site.Plant{{
			ID: "by-the-kettle", Name: "Pothos by the kettle", Site: "offices-alder-row", Area: "offices-kitchenette", Species: "epipremnum-aureum", Count: 1,
			PotVolume: firmtest.Volume(t, "1.2 L"), HeightCM: 30, Planter: "drained", Owner: "client",
			Tolerance: []catalogue.Tolerance{{Material: "insecticidal-soap", Verdict: "stands", Standing: catalogue.OwnRecords}},
		}})
	})
	w.Find(t, firmtest.Mealybugs, "citrus-mealybug", "by-the-kettle")
	w.Approve(t, firmtest.Mealybugs)
	item := firmtest.Next(t, w.Course(t, firmtest.Mealybugs), course.KindApplication).ID
	book(t, w, "spray", item, "2026-03-05 19:45")
	route, err := dayRoute(t, w, w.TechA, "2026-03-05 12:00")
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{"open-food: take food and crockery out of the room and wipe the surfaces"}; !slices.Equal(route.Visits[0].Work[0].Conditions, want) {
		t.Errorf("conditions %q: want the label's beside food in the open, %q", route.Visits[0].Work[0].Conditions, want)
	}
}

func TestDayRoute_IsItsTechniciansAlone(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	book(t, w, "drench", "gnats/application/1/1", "2026-03-05 14:30")
	_, err := dayRoute(t, w, w.TechB, "2026-03-05 12:00")
	firmtest.Refused(t, err, fault.Forbidden, "NOT_YOUR_DAY_ROUTE")
	_, err = dayRoute(t, w, w.TechA, "2026-03-06 12:00")
	firmtest.Refused(t, err, fault.NotFound, "NO_DAY_ROUTE")
	if _, err = dayRoute(t, w, w.Office, "2026-03-05 12:00"); err != nil {
		t.Errorf("the office: %v", err)
	}
}

// Work that moved away takes its mix sheet with it: nobody makes a mix that nothing needs.
func TestDayRoute_HasNoMixSheetForWorkThatMovedAway(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	book(t, w, "drench", "gnats/application/1/1", "2026-03-05 14:30")
	book(t, w, "spray", "mealybugs/application/1/1", "2026-03-05 19:45")
	book(t, w, "moved", "gnats/application/1/1", "2026-03-06 12:00")
	route, err := dayRoute(t, w, w.TechA, "2026-03-05 12:00")
	if err != nil {
		t.Fatal(err)
	}
	if len(route.Visits) != 1 || len(route.Sheets) != 1 || route.Sheets[0].Mix.Product != "soap" || route.Visits[0].Visit.Work[0].MixIndex != 0 {
		t.Errorf("%d visits, sheets %+v: want the spray with its mix alone", len(route.Visits), route.Sheets)
	}
	if len(route.KeepOuts) != 1 || route.KeepOuts[0].KeepOut.Area != "offices-floor" {
		t.Errorf("keep-outs %+v: want the open floor's alone", route.KeepOuts)
	}
	if route, err = dayRoute(t, w, w.TechA, "2026-03-06 12:00"); err != nil || len(route.Sheets) != 1 || route.Sheets[0].Mix.Product != "bti" {
		t.Errorf("the day it moved to: sheets %+v, %v", route.Sheets, err)
	}
}

// An area that was shut until dry is the next visit's first step until somebody has looked.
func TestDayRoute_AsksWhetherItIsDryUntilSomebodyLooked(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-03 22:00")
	w.Report(t, w.Spray(t, "spray", 1, "2026-03-03 20:00"))
	book(t, w, "next", "mealybugs/application/1/2", "2026-03-10 19:45")
	asked := func() []firm.KeepOutFact {
		route, err := dayRoute(t, w, w.TechA, "2026-03-10 12:00")
		if err != nil {
			t.Fatal(err)
		}
		return route.Visits[0].DryAsked
	}
	if open := asked(); len(open) != 1 || open[0].Area != "offices-floor" {
		t.Errorf("asked for %+v: want the open floor that was sprayed the week before", open)
	}
	w.MoveClock(t, "2026-03-05 10:00")
	w.Report(t, firm.Report{ID: "dry", Technician: "tech-b", Site: "offices-alder-row", Arrived: w.At(t, "2026-03-05 09:00"), Left: w.At(t, "2026-03-05 09:30"),
		DryConfirmed: []firm.DryConfirmation{{Area: "offices-floor", Dry: true, At: w.At(t, "2026-03-05 09:00").Add(5 * time.Minute)}}})
	if open := asked(); len(open) != 0 {
		t.Errorf("asked again for %+v after it was found dry", open)
	}
}

// What was published before an incident barred its product is shown with a warning, until the product is allowed again.
func TestDayRoute_WarnsOfAProductThatAnIncidentBars(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	book(t, w, "spray", "mealybugs/application/1/1", "2026-03-05 19:45")
	spray := func() string {
		t.Helper()
		route, err := dayRoute(t, w, w.TechA, "2026-03-05 12:00")
		if err != nil || len(route.Visits) != 1 {
			t.Fatalf("%v, %v", route.Visits, err)
		}
		for i, work := range route.Visits[0].Visit.Work {
			if work.Use != nil {
				return route.Visits[0].Work[i].Text
			}
		}
		return ""
	}
	if text := spray(); strings.Contains(text, "barred") {
		t.Errorf("before: %s", text)
	}
	w.In(t, w.TechA, func(tx *store.Tx) error {
		_, err := casework.TellIncident(tx, firm.Incident{ID: "spill-1", Kind: firm.Spill, Site: "offices-alder-row", Product: "soap", Text: "on the carpet"})
		return err
	})
	says(t, "the line", spray(), "DO NOT APPLY", "barred since incident spill-1")
	w.In(t, w.TechA, func(tx *store.Tx) error {
		_, err := casework.ReleaseIncident(tx, "spill-1", "dried and cleaned")
		return err
	})
	if text := spray(); strings.Contains(text, "barred") {
		t.Errorf("released: %s", text)
	}
}

// What comes along in the morning is what the day's mixes take, the water that the site's will not do for, keys, cards.
func TestDayRoute_SaysWhatToLoad(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	hardness := 60.0
	storetest.Change(t, w.Database, "site", "hotel-quarry-square", func(s *site.Site) {
		s.Keys, s.Water.HardnessMgL = []site.KeyID{"badge-clinic"}, &hardness
	})
	book(t, w, "drench", "gnats/application/1/1", "2026-03-05 14:30")
	book(t, w, "cards", "gnats/trap-change/1/1", "2026-03-05 14:15")
	book(t, w, "spray", "mealybugs/application/1/1", "2026-03-05 19:45")
	route, err := dayRoute(t, w, w.TechA, "2026-03-05 12:00")
	if err != nil {
		t.Fatal(err)
	}
	load := route.Load
	if len(load.Products) != 2 || load.Products[0].Product != "bti" || load.Products[1].Product != "soap" {
		t.Fatalf("products %+v: want Bti, then soap", load.Products)
	}
	for i, sheet := range route.Sheets {
		if !load.Products[i].Volume.Equal(sheet.Mix.Concentrate) {
			t.Errorf("of %s %v are loaded: want the %v of its mix", sheet.Mix.Product, load.Products[i].Volume, sheet.Mix.Concentrate)
		}
	}
	// The hardness of the offices' water is not known, that of the hotel's is: the soap's water comes along.
	soap := route.Sheets[1].Mix
	if want := soap.Volume.Sub(soap.Concentrate); !load.Water.Equal(want) {
		t.Errorf("water %v: want %v for the soap", load.Water, want)
	}
	if !slices.Equal(load.Keys, []site.KeyID{"badge-clinic"}) || !slices.Equal(load.Vessels, []string{"watering can for drenches", "pump sprayer"}) {
		t.Errorf("keys %v, vessels %q", load.Keys, load.Vessels)
	}
	if len(load.Others) != 1 || !strings.HasPrefix(load.Others[0], "cards to hang or change: Hotel, 1 Quarry Square, ") {
		t.Errorf("besides %q: want the cards of the hotel", load.Others)
	}
	says(t, "the list", load.Text(), "TO LOAD", "Larva drench of the demo", "goggles", "Label and safety data sheet")
	if len(load.Missing) != 0 {
		t.Errorf("missing %q, though nobody recorded containers", load.Missing)
		// Once a bottle of soap is on the list, the day's soap is drawn from it; of the Bti still nobody told.
		lot := firm.Lot{ID: "bottle", Product: "soap", Pack: dilution.Amount{Volume: firmtest.Volume(t, "1/2 US fl oz")}, Packs: 1, ReceivedOn: w.Business.Zone.DateOf(w.At(t, "2026-01-05 12:00"))}
		lot.ExpiresOn = lot.ReceivedOn.AddDays(700)
		w.In(t, w.Office, func(tx *store.Tx) error {
			_, err := premises.AddLot(tx, firm.Kept[firm.Lot]{Value: lot})
			return err
		})
		if route, err = dayRoute(t, w, w.TechA, "2026-03-05 12:00"); err != nil {
			t.Fatal(err)
		}
		if missing := route.Load.Missing; len(missing) != 1 || !strings.HasPrefix(missing[0], "Soap concentrate of the demo: ") {
			t.Errorf("missing %q: want the soap, of which half an ounce is there", missing)
		}
	}
}
