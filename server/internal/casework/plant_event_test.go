package casework_test

import (
	"slices"
	"testing"

	"golang.org/x/sync/errgroup"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/store"
)

// tellPlants stores an event of plants, which must be taken.
func tellPlants(t *testing.T, w *firmtest.Works, id, at string, change func(*firm.PlantEvent)) (kept firm.PlantEvent) {
	t.Helper()
	event := firm.PlantEvent{ID: id, At: w.At(t, at), By: "somebody on the round"}
	change(&event)
	w.In(t, w.Office, func(tx *store.Tx) (err error) {
		kept, err = casework.TellPlantEvent(tx, event)
		return err
	})
	return kept
}

func splitOff(part site.PlantID, count int) func(*firm.PlantEvent) {
	return func(e *firm.PlantEvent) {
		e.Split = &firm.GroupSplit{From: "pothos-stairs", Parts: []firm.GroupPart{{Plant: part, Count: count}}}
	}
}

// Sixteen tellings of one event at one moment take the part out of its group once.
func TestTellPlantEvent_TwinsAtTheSameMomentCountOnce(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	event := firm.PlantEvent{ID: "split", At: w.At(t, "2026-03-02 11:00")}
	splitOff("part", 2)(&event)
	begin := make(chan struct{})
	var tellers errgroup.Group
	for range 16 {
		tellers.Go(func() error {
			<-begin
			return w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
				_, err := casework.TellPlantEvent(tx, event)
				return err
			})
		})
	}
	close(begin)
	if err := tellers.Wait(); err != nil {
		t.Fatal(err)
	}
	w.In(t, w.Office, func(tx *store.Tx) error {
		group, err := tx.Plant("pothos-stairs")
		if group.Count != 3 {
			t.Errorf("%d are left of 5: want 3", group.Count)
		}
		return err
	})
}

// A finding that is told late, of before the group split, is of everything that the group has become.
func TestTellPlantEvent_ALateFindingIsOfWhatTheGroupHasBecome(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	tellPlants(t, w, "split", "2026-03-02 11:00", splitOff("part", 2))
	w.In(t, w.Office, func(tx *store.Tx) error {
		_, _, err := casework.RecordFinding(tx, casework.NewFinding{ID: "late", At: w.At(t, "2026-03-01 09:00"), Finding: firmtest.Finding("citrus-mealybug", "pothos-stairs")})
		return err
	})
	if plants := w.Case(t, "late").Plants; !slices.Equal(plants, []string{"part", "pothos-stairs"}) {
		t.Errorf("the case is of %v: want both parts", plants)
	}
	// One of after the split is of the group alone.
	w.MoveClock(t, "2026-03-03 12:00")
	tellPlants(t, w, "split-again", "2026-03-03 09:00", func(e *firm.PlantEvent) {
		e.Split = &firm.GroupSplit{From: "pothos-printer", Parts: []firm.GroupPart{{Plant: "printer-part", Count: 1}}}
	})
	w.Find(t, "after", "fungus-gnat", "pothos-printer")
	if plants := w.Case(t, "after").Plants; !slices.Equal(plants, []string{"pothos-printer"}) {
		t.Errorf("the case is of %v: want the group alone", plants)
	}
}

// The label's seven days follow the plants through a split, in whatever order report and event are told.
func TestTellPlantEvent_WhatWasAppliedToTheWholeCountsForThePart(t *testing.T) {
	t.Parallel()
	for _, first := range []string{"the report", "the event"} {
		w := firmtest.Open(t)
		w.MoveClock(t, "2026-03-07 09:00")
		whole := func() {
			r := w.Spray(t, "whole", 1, "2026-03-03 20:00")
			r.Items[0].Plants = []site.PlantID{"pothos-stairs"}
			w.Report(t, r)
		}
		if first == "the report" {
			whole()
		}
		tellPlants(t, w, "split", "2026-03-04 11:00", splitOff("part", 2))
		if first == "the event" {
			whole()
		}
		r := w.Spray(t, "part-only", 2, "2026-03-06 20:00")
		r.Items[0].Plants = []site.PlantID{"part"}
		if told := w.Report(t, r); !broke(told, scheduler.RuleLabel, "3 days after the application of") {
			t.Errorf("%s is told first: deviations %+v: want the spray of the part three days after that of the whole flagged", first, told.Deviations)
		}
	}
}

// An application is judged by what a patch test had shown by then, and not by what was seen later.
func TestAppendReport_APatchTestCountsFromWhenItWasRead(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		recorded catalogue.Verdict
		harmed   bool
		read     string
		word     string // "" is in order
	}{
		"harm was seen before":       {catalogue.Stands, true, "2026-03-03 09:00", "which must not get it"},
		"harm was seen afterwards":   {catalogue.Stands, true, "2026-03-05 09:00", ""},
		"no harm was seen before":    {catalogue.PatchTest, false, "2026-03-03 09:00", ""},
		"no harm was seen, too late": {catalogue.PatchTest, false, "2026-03-05 09:00", "without a patch test before"},
	} {
		w := firmtest.Open(t)
		stands(t, w, "pothos-stairs", c.recorded)
		w.MoveClock(t, "2026-03-07 09:00")
		tellPlants(t, w, "patch", c.read, func(e *firm.PlantEvent) {
			e.Patch = &course.PatchResult{Material: "insecticidal-soap", Plants: []site.PlantID{"pothos-stairs"}, Harmed: c.harmed}
		})
		r := w.Spray(t, "r", 1, "2026-03-03 20:00")
		r.Items[0].Plants = []site.PlantID{"pothos-stairs"}
		told := w.Report(t, r)
		harm, untested := broke(told, scheduler.RuleLabel, "which must not get it"), broke(told, scheduler.RuleLabel, "without a patch test before")
		if harm != (c.word == "which must not get it") || untested != (c.word == "without a patch test before") {
			t.Errorf("%s: deviations %+v, want %q", name, told.Deviations, c.word)
		}
	}
}

func TestTellPlantEvent_SuccessorsStandApartAndAreLookedAt(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-04 09:00")
	tellPlants(t, w, "swap", "2026-03-04 08:00", func(e *firm.PlantEvent) {
		e.Gone = &course.Gone{Plants: []site.PlantID{"pothos-printer"}, Kind: course.Swapped, Successors: []site.PlantID{"fig-window"}}
	})
	looks := firmtest.Next(t, w.Course(t, firmtest.Mealybugs), course.KindInspectNeighbours)
	if slices.Contains(looks.Plants, "pothos-printer") || !slices.Contains(looks.Plants, "fig-window") {
		t.Errorf("neighbours are %v: want the successor, and not what is gone", looks.Plants)
	}
}
