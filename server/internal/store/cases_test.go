package store_test

import (
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

func openCase(t *testing.T, d *storetest.Database, id course.CaseID, plants ...string) {
	t.Helper()
	in(t, d, func(tx *store.Tx) error {
		return tx.InsertCase(firm.Case{ID: id, Site: "site-1", Pest: "mealybug", Plants: plants, OpenedAt: tx.Now()})
	})
}

func finding(id string, when civil.Instant) course.Event {
	return course.Event{ID: id, At: when, Finding: &course.Finding{
		Pest: catalogue.PestID("mealybug"), Certainty: course.Confirmed, Life: course.Living, Severity: 2, Plants: []site.PlantID{"plant-1"}, By: "tech-1",
	}}
}

func TestAppendEvents_AnEventCountsOnceAndLateOnesFallIntoPlace(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	openCase(t, d, "case-1", "plant-1")
	tell := func(want int, events ...course.Event) {
		in(t, d, func(tx *store.Tx) error {
			got, err := tx.AppendEvents("case-1", events)
			if got != want {
				t.Errorf("%d events were new, want %d", got, want)
			}
			return err
		})
	}
	tell(2, finding("e2", at(9, 0)), finding("e3", at(10, 0)))
	tell(0, finding("e2", at(9, 0)))
	tell(1, finding("e1", at(8, 0)), finding("e3", at(10, 0)))
	in(t, d, func(tx *store.Tx) error {
		histories, err := tx.Histories([]course.CaseID{"case-1", "case-9"})
		if err != nil {
			return err
		}
		same(t, "histories", histories, []course.History{{
			Case: "case-1", Site: "site-1", Pest: "mealybug", Plants: []site.PlantID{"plant-1"},
			Events: []course.Event{finding("e1", at(8, 0)), finding("e2", at(9, 0)), finding("e3", at(10, 0))},
		}})
		c, err := tx.Case("case-1")
		if c.Version != 3 { // one for the plant, one for each telling with something new
			t.Errorf("the version is %d, want 3", c.Version)
		}
		return err
	})
}

func TestCases_AreFoundByPlantSiteAndState(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	openCase(t, d, "case-1", "plant-1", "plant-2")
	openCase(t, d, "case-2", "plant-2")
	in(t, d, func(tx *store.Tx) error {
		return tx.EndCase("case-1", course.Ending{Kind: course.Clear, Chance: 0.97}, at(8, 0))
	})
	in(t, d, func(tx *store.Tx) error {
		yes := true
		open, errOpen := tx.Cases(store.CaseFilter{Open: &yes, Site: "site-1"}, store.Page{})
		all, errAll := tx.Cases(store.CaseFilter{}, store.Page{})
		none, errNone := tx.Cases(store.CaseFilter{Site: "site-2"}, store.Page{})
		shared, errShared := tx.CasesOfPlants([]site.PlantID{"plant-2"})
		for _, err := range []error{errOpen, errAll, errNone, errShared} {
			if err != nil {
				return err
			}
		}
		if len(open) != 1 || open[0].ID != "case-2" || len(all) != 2 || len(none) != 0 || len(shared) != 2 {
			t.Errorf("open %v, all %d, of site-2 %d, of plant-2 %d; want case-2, 2, 0, 2", open, len(all), len(none), len(shared))
		}
		ended, err := tx.Case("case-1")
		if ended.Ending == nil || ended.Ending.Kind != course.Clear || ended.EndedAt != at(8, 0) {
			t.Errorf("the ended case comes back as %+v", ended)
		}
		return err
	})
}

func TestCourse_IsKeptUnderItsKey(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	openCase(t, d, "case-1", "plant-1")
	in(t, d, func(tx *store.Tx) error {
		if _, found, err := tx.Course("case-1"); found || err != nil {
			t.Errorf("before any is kept: found %v, %v", found, err)
		}
		for _, key := range []string{"k1", "k2"} {
			if err := tx.SaveCourse("case-1", key, course.Course{Case: "case-1", Key: key, Run: 1}); err != nil {
				return err
			}
		}
		kept, found, err := tx.Course("case-1")
		if !found || kept.Key != "k2" {
			t.Errorf("found %v with key %q, want k2", found, kept.Key)
		}
		return err
	})
}
