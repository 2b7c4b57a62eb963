package casework_test

import (
	"slices"
	"strings"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/store"
)

func TestAppendReport_WhatBrokeARuleIsStoredUnderItsRule(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		report func(t *testing.T, w *firmtest.Works) firm.Report
		rule   scheduler.Rule
		word   string
	}{
		{"people in the room", func(t *testing.T, w *firmtest.Works) firm.Report {
			r := w.Spray(t, "r", 1, "2026-03-03 20:00")
			r.Items[0].Application.PeoplePresent = true
			return r
		}, scheduler.RuleReentry, "people were in Open floor"},
		{"within people's hours", func(t *testing.T, w *firmtest.Works) firm.Report { return w.Spray(t, "r", 1, "2026-03-03 14:00") },
			scheduler.RuleReentry, "people are there from"},
		{"without the licence", func(t *testing.T, w *firmtest.Works) firm.Report {
			r := w.Spray(t, "r", 1, "2026-03-03 20:00")
			r.Technician = "tech-b" // category 06; the label asks for 22
			return r
		}, scheduler.RuleLicence, "Technician B held none"},
		{"before its day", func(t *testing.T, w *firmtest.Works) firm.Report {
			w.Report(t, w.Spray(t, "before", 1, "2026-03-03 20:00"))
			return w.Spray(t, "r", 2, "2026-03-06 20:00")
		}, scheduler.RuleTiming, "before its earliest day"},
		{"sooner than the label's least days", func(t *testing.T, w *firmtest.Works) firm.Report {
			w.Report(t, w.Spray(t, "before", 1, "2026-03-03 20:00"))
			return w.Spray(t, "r", 2, "2026-03-06 20:00") // 3 days; the label: 7
		}, scheduler.RuleLabel, "3 days after"},
		{"the rest into a drain", func(t *testing.T, w *firmtest.Works) firm.Report {
			r := w.Spray(t, "r", 1, "2026-03-03 20:00")
			left := firmtest.Volume(t, "4 US fl oz")
			r.Items[0].Application.Left, r.Items[0].Application.LeftWent = &left, firm.IntoDrain
			return r
		}, scheduler.RuleLabel, "never into a drain"},
		{"a species that the label excludes", func(t *testing.T, w *firmtest.Works) firm.Report {
			w.Find(t, "fern", "citrus-mealybug", "hotel-gallery-01")
			r := w.Spray(t, "r", 1, "2026-03-03 12:00")
			r.Site, r.Items[0].Item, r.Items[0].Case, r.Items[0].Plants = "hotel-quarry-square", "", "fern", []site.PlantID{"hotel-gallery-01"}
			return r
		}, scheduler.RuleLabel, "excludes adiantum-raddianum"},
		{"outside the access windows", func(t *testing.T, w *firmtest.Works) firm.Report { return w.Spray(t, "r", 1, "2026-03-03 23:30") },
			scheduler.RuleAccess, "outside its access windows"},
		{"at a site whose kind of place the label does not list", func(t *testing.T, w *firmtest.Works) firm.Report {
			w.Find(t, "bistro", "citrus-mealybug", "bistro-dining-01")
			r := w.Spray(t, "r", 1, "2026-03-03 08:00")
			r.Site, r.Items[0].Item, r.Items[0].Case, r.Items[0].Plants = "bistro-canal-steps", "", "bistro", []site.PlantID{"bistro-dining-01"}
			return r
		}, scheduler.RuleLabel, "does not list food-service"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			w := firmtest.Open(t)
			w.MoveClock(t, "2026-03-07 09:00")
			told := w.Report(t, c.report(t, w))
			found := slices.ContainsFunc(told.Deviations, func(d firm.Deviation) bool { return d.Rule == c.rule && strings.Contains(d.Text, c.word) })
			if !found || len(told.Records) != 1 {
				t.Errorf("deviations %+v, %d records: want one of %s with %q, and the record", told.Deviations, len(told.Records), c.rule, c.word)
			}
			w.In(t, w.Office, func(tx *store.Tx) error {
				kept, err := casework.Report(tx, "r")
				if len(kept.Deviations) != len(told.Deviations) || len(kept.Records) != 1 {
					t.Errorf("kept are %d deviations and %d records of %d and 1", len(kept.Deviations), len(kept.Records), len(told.Deviations))
				}
				return err
			})
		})
	}
}

func TestAppendReport_NothingIsFlaggedWhereNoRuleWasBroken(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-12 09:00")
	for _, report := range []firm.Report{
		w.Spray(t, "spray-1", 1, "2026-03-03 20:00"), w.Spray(t, "spray-2", 2, "2026-03-10 20:00"),
		w.Drench(t, "drench-1", 1, "2026-03-03 11:00"), w.Drench(t, "drench-2", 2, "2026-03-09 11:00"),
	} {
		if told := w.Report(t, report); len(told.Deviations) != 0 || !told.Report.OffPlan {
			t.Errorf("%s: deviations %+v, off plan %v: want none, and off plan", report.ID, told.Deviations, told.Report.OffPlan)
		}
	}
}

// The plants are dry on 11 March, nine days after their last watering; watered on the same visit before the spray they
// are not, and watered after it they were.
func TestAppendReport_AWateringBeforeTheSprayEndsTheDrought(t *testing.T) {
	t.Parallel()
	for at, flagged := range map[string]bool{"2026-03-11 19:30": false, "2026-03-11 20:30": true} {
		w := firmtest.Open(t)
		soapLabel(t, w, func(l *catalogue.Label) {
			l.Entry = catalogue.Entry{Kind: catalogue.EntryNone, Reason: "only to look at the watering"}
		})
		w.MoveClock(t, "2026-03-12 09:00")
		r := w.Spray(t, "r", 1, "2026-03-11 20:00")
		r.Arrived, r.Left = w.At(t, "2026-03-11 19:00"), w.At(t, "2026-03-11 21:30")
		watered := w.Look(t, "watering", 1, at).Items[0]
		watered.Item, watered.Inspection = scheduler.OccurrenceID("water-offices-alder-row", 1), nil
		r.Items = append(r.Items, watered)
		told := w.Report(t, r)
		if got := broke(told, scheduler.RuleLabel, "dry on Wed"); got != flagged || !flagged && len(told.Deviations) != 0 {
			t.Errorf("watered at %s: deviations %+v, want the dry plants flagged: %v", at, told.Deviations, flagged)
		}
	}
}

// One spray against the pests of two cases is told for both, and is one application: no label asks for days between.
func TestAppendReport_OneApplicationToldForTwoCasesIsOne(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.Find(t, "gnats-too", "fungus-gnat", "pothos-stairs")
	w.MoveClock(t, "2026-03-07 09:00")
	r := w.Spray(t, "r", 1, "2026-03-03 20:00")
	other := w.Spray(t, "r", 1, "2026-03-03 20:00").Items[0]
	other.Item, other.Case, other.Plants = "", "gnats-too", []site.PlantID{"pothos-stairs"}
	r.Items = append(r.Items, other)
	if told := w.Report(t, r); broke(told, scheduler.RuleLabel, "0 days") {
		t.Errorf("deviations %q: want none of days between", of(told, scheduler.RuleLabel))
	}
}
