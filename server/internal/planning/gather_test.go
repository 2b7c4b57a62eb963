package planning_test

import (
	"slices"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/planning"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

func gather(t *testing.T, w *firmtest.Works, days int) scheduler.Problem {
	t.Helper()
	var gathered planning.Gathered
	err := w.Store.Reading(t.Context(), w.Office, func(tx *store.Tx) (err error) {
		gathered, err = planning.Gather(tx, w.Business.Zone.DateOf(tx.Now()), days)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(gathered.Versions.Sites) != 8 || len(gathered.Versions.Technicians) != 2 || len(gathered.Versions.Cases) == 0 {
		t.Errorf("versions %+v: want those of everything that was read", gathered.Versions)
	}
	if err := gathered.Problem.Validate(); err != nil {
		t.Errorf("what was gathered is no Problem: %v", err)
	}
	return gathered.Problem
}

func TestGather_PutsEverythingIntoAProblemThatHolds(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	p := gather(t, w, 14)
	if len(p.Sites) != 8 || len(p.Plants) != 150 || len(p.Technicians) != 2 || len(p.Products) != 6 || len(p.Services) != 8 {
		t.Errorf("sites %d, plants %d, technicians %d, products %d, services %d: want 8, 150, 2, 6, 8",
			len(p.Sites), len(p.Plants), len(p.Technicians), len(p.Products), len(p.Services))
	}
	// Two weeks of Technician A (mon, wed, fri and tue, thu) and Technician B (mon to fri) hold ten shifts each.
	for _, technician := range p.Technicians {
		if len(technician.Shifts) != 10 {
			t.Errorf("%s has %d shifts: want 10", technician.ID, len(technician.Shifts))
		}
	}
	carried := map[scheduler.ItemID]bool{}
	for _, f := range p.FollowUps {
		if f.Due.After != "" && !carried[f.Due.After] {
			t.Errorf("%s is carried without %s before it", f.ID, f.Due.After)
		}
		carried[f.ID] = true
	}
	// Soap every 7 days and Bti every 5 at the least: days 0, 7 and days 0, 5, 10 lie within 14 days.
	for item, want := range map[scheduler.ItemID]bool{
		"mealybugs/application/1/1": true, "mealybugs/application/1/2": true, "mealybugs/application/1/3": false,
		"gnats/application/1/1": true, "gnats/application/1/3": true, "gnats/application/1/4": false,
	} {
		if carried[item] != want {
			t.Errorf("%s is carried: %v, want %v", item, carried[item], want)
		}
	}
	health := map[site.PlantID]scheduler.Health{}
	for _, plant := range p.Plants {
		health[plant.Plant.ID] = plant.Health
	}
	if health["pothos-stairs"] != scheduler.ConfirmedInfested || health["fig-window"] != scheduler.Neighbour || health["offices-meeting-01"] != scheduler.Clean {
		t.Errorf("health %q, %q, %q: want confirmed, neighbour of the same area, clean", health["pothos-stairs"], health["fig-window"], health["offices-meeting-01"])
	}
}

func TestGather_KnowsWhatWasReallyApplied(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-02 13:00")
	w.Report(t, w.Drench(t, "wrong", 1, "2026-03-02 11:00"))
	right := w.Drench(t, "right", 1, "2026-03-02 11:30")
	right.Corrects = "wrong"
	w.Report(t, right)
	p := gather(t, w, 14)
	i := slices.IndexFunc(p.Plants, func(s scheduler.PlantState) bool { return s.Plant.ID == "lily-reading" })
	if applied := p.Plants[i].Applied; len(applied) != 1 || applied[0].Product != "bti" || applied[0].Began != w.At(t, "2026-03-02 11:30") {
		t.Errorf("applied %+v: want the drench as corrected, once", applied)
	}
	// The label's 4 hours after 12:00 have not passed at 13:00.
	want := civil.Interval{From: w.At(t, "2026-03-02 11:30"), To: w.At(t, "2026-03-02 16:00")}
	if !slices.ContainsFunc(p.KeepOuts, func(k scheduler.KeepOut) bool { return k.Area == "hotel-reading" && k.During == want }) {
		t.Errorf("keep-outs %+v: want the reading room's that runs, %v", p.KeepOuts, want)
	}
	if slices.ContainsFunc(p.FollowUps, func(f scheduler.FollowUp) bool { return f.ID == "gnats/application/1/1" }) {
		t.Error("the first drench is still carried after it was done")
	}
}

func TestGather_RefusesAHorizonThatCannotBe(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	for _, days := range []int{-1, 0, scheduler.MaxHorizonDays + 1, 400} {
		err := w.Store.Reading(t.Context(), w.Office, func(tx *store.Tx) error {
			_, err := planning.Gather(tx, w.Business.Zone.DateOf(tx.Now()), days)
			return err
		})
		firmtest.Field(t, firmtest.Refused(t, err, fault.Invalid, "INVALID_FIELDS"), "days", "OUT_OF_RANGE")
	}
}

// What was applied belongs to the plant: it counts for a case that is opened after the one that it was made for has ended.
func TestGather_KnowsWhatWasAppliedForACaseThatHasEnded(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-04 09:00")
	w.Report(t, w.Spray(t, "spray", 1, "2026-03-03 20:00"))
	w.In(t, w.Office, func(tx *store.Tx) error {
		return tx.EndCase(firmtest.Mealybugs, course.Ending{Kind: course.Declined, Reason: "the client declined"}, tx.Now())
	})
	w.Find(t, "again", "citrus-mealybug", "pothos-stairs")
	p := gather(t, w, 14)
	i := slices.IndexFunc(p.Plants, func(s scheduler.PlantState) bool { return s.Plant.ID == "pothos-stairs" })
	if applied := p.Plants[i].Applied; len(applied) != 1 || applied[0].Product != "soap" {
		t.Errorf("applied %+v: want the spray of the case that has ended", applied)
	}
	// The label's 7 days after Tuesday 3 March.
	for _, f := range p.FollowUps {
		if f.Case == "again" && f.Kind == course.KindApplication && f.Due.After == "" && f.Due.EarliestOn < civil.NewDate(2026, 3, 10) {
			t.Errorf("%s may begin on %v: want not before 2026-03-10", f.ID, f.Due.EarliestOn)
		}
	}
}

// systemic stores a soil granule's record: after it no water may run through the pots for three waterings or ten days,
// whichever is longer (the catalogue's figure, read off a published label). The container is invented.
func systemic(t *testing.T, w *firmtest.Works) {
	t.Helper()
	product := catalogue.Product{
		ID: "systemic", Name: "Soil systemic of the demo", Material: "imidacloprid-soil", Registration: "DEMO-0009", Form: catalogue.Solid,
		Jurisdictions: []catalogue.JurisdictionCode{"US-PA"}, LabelVersion: "demo-1",
		Label: catalogue.Label{
			Places: []catalogue.PlaceKind{catalogue.Office}, Pests: []catalogue.PestID{"citrus-mealybug"},
			Entry: catalogue.Entry{Kind: catalogue.EntryHours, Hours: 12 * time.Hour}, OpenFlowers: true,
			MaxPortion: &quantity.PortionRate{Mass: quantity.NewMass(2, 1, quantity.Gram), PerPot: firmtest.Volume(t, "1 L")},
		},
	}
	w.In(t, w.Office, func(tx *store.Tx) error { return premises.AddProducts(tx, []catalogue.Product{product}) })
}

func TestGather_NothingRunsThroughThePotsAfterWhatWasReallyApplied(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	systemic(t, w)
	w.MoveClock(t, "2026-03-04 07:00")
	report := w.Spray(t, "granules", 1, "2026-03-03 20:00")
	report.Items[0].Application = &firm.Applied{Product: "systemic", Applied: firmtest.Volume(t, "1 mL"), LeftWent: firm.NoneLeft}
	report.Items[0].Plants = []site.PlantID{"pothos-stairs"}
	w.Report(t, report)
	p := gather(t, w, 14)
	const applied = "mealybugs/application/1/1"
	link := slices.IndexFunc(p.Links, func(l scheduler.Link) bool { return l.Kind == course.Not && l.From == applied })
	done := slices.IndexFunc(p.Done, func(d scheduler.DoneFollowUp) bool { return d.ID == applied })
	if link < 0 || done < 0 || !slices.Equal(p.Done[done].Plants, []site.PlantID{"pothos-stairs"}) || p.Done[done].Began != w.At(t, "2026-03-03 20:00") {
		t.Fatalf("links %+v, done %+v: want the application and that no water runs through after it", p.Links, p.Done)
	}
	// Three waterings of seven days: 21 days from 3 March, so that the next watering, due on 9 March, is marked.
	plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Rates: w.Business.Rates, Iterations: 5, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	waterings := 0
	for _, route := range plan.Routes {
		for _, visit := range route.Visits {
			for _, work := range visit.Work {
				if work.Service == site.WateringService && visit.Site == "offices-alder-row" {
					waterings++
					if treated := slices.Contains(work.Plants, "pothos-stairs"); treated != work.Marked {
						t.Errorf("%s on %v is marked: %v", work.Item, work.Plants, work.Marked)
					}
				}
			}
		}
	}
	if violations := scheduler.Check(p, plan); waterings == 0 || len(violations) > 0 {
		t.Errorf("%d waterings; the checker says %v", waterings, violations)
	}
}

func TestGather_LooksOfACaseThatIsKeptLowArePlanned(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-02 13:00")
	w.In(t, w.Office, func(tx *store.Tx) error {
		ending := course.Ending{Kind: course.KeptLow, Reason: "a few are tolerated in this corner"}
		if _, err := tx.AppendEvents(firmtest.Mealybugs, []course.Event{{ID: "decision/low", At: tx.Now(), Ending: &ending}}); err != nil {
			return err
		}
		return tx.EndCase(firmtest.Mealybugs, ending, tx.Now())
	})
	p := gather(t, w, 14)
	if !slices.ContainsFunc(p.FollowUps, func(f scheduler.FollowUp) bool {
		return f.Case == firmtest.Mealybugs && f.Kind == course.KindInspectInfested
	}) {
		t.Errorf("no look at the mealybugs among %d follow-ups", len(p.FollowUps))
	}
	if slices.ContainsFunc(p.FollowUps, func(f scheduler.FollowUp) bool {
		return f.Case == firmtest.Mealybugs && f.Kind == course.KindApplication
	}) {
		t.Error("an application is planned for a case that is kept low")
	}
	i := slices.IndexFunc(p.Plants, func(s scheduler.PlantState) bool { return s.Plant.ID == "pothos-stairs" })
	if p.Plants[i].Health != scheduler.ConfirmedInfested {
		t.Errorf("its plants count as %s: want infested, so that what they touch is cleaned", p.Plants[i].Health)
	}
}

// A patch test that was made is enough once the policy's days have passed, also where nobody told what it showed: the
// application that the course then asks for can be planned.
func TestGather_APatchTestThatWasMadeLetsTheApplicationBePlanned(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	storetest.Change(t, w.Database, "plant", "fig-window", func(p *site.Plant) {
		p.Tolerance = []catalogue.Tolerance{{Material: "insecticidal-soap", Verdict: catalogue.PatchTest, Standing: catalogue.OwnRecords}}
	})
	_, present := w.Find(t, firmtest.Mealybugs, "citrus-mealybug", "fig-window")
	test := firmtest.Next(t, present, course.KindPatchTest)
	w.Approve(t, firmtest.Mealybugs)
	w.MoveClock(t, "2026-03-07 09:00")
	w.Report(t, firm.Report{
		ID: "test", Technician: "tech-a", Site: "offices-alder-row", Arrived: w.At(t, "2026-03-03 19:00"), Left: w.At(t, "2026-03-03 20:00"),
		Items: []firm.ReportItem{{Item: test.ID, Outcome: course.OutcomeDone, Began: w.At(t, "2026-03-03 19:30"), Ended: w.At(t, "2026-03-03 19:40")}},
	})
	p := gather(t, w, 14)
	first := slices.IndexFunc(p.FollowUps, func(f scheduler.FollowUp) bool {
		return f.Case == firmtest.Mealybugs && f.Kind == course.KindApplication
	})
	if first < 0 {
		t.Fatal("the course asks for no application after the test")
	}
	plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Rates: w.Business.Rates, Iterations: 5, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	planned := false
	for _, route := range plan.Routes {
		for _, visit := range route.Visits {
			planned = planned || slices.ContainsFunc(visit.Work, func(item scheduler.WorkItem) bool { return item.Item == p.FollowUps[first].ID })
		}
	}
	if violations := scheduler.Check(p, plan); !planned || len(violations) > 0 {
		t.Errorf("%s is planned: %v; unplanned %+v; the checker says %v", p.FollowUps[first].ID, planned, plan.Unplanned, violations)
	}
}
