package store_test

import (
	"fmt"
	"testing"

	"vernation/scheduler/course"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// byPages reads a list one row at a time and returns the ids in their order.
func byPages[T any](t *testing.T, read func(page store.Page) ([]T, error), key func(T) (id, after string)) []string {
	t.Helper()
	var ids []string
	for page := (store.Page{Size: 1}); len(ids) < 10; {
		rows, err := read(page)
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) == 0 {
			return ids
		}
		id, after := key(rows[0])
		ids, page.After = append(ids, id), after
	}
	t.Fatalf("the pages do not end: %v", ids)
	return nil
}

func TestNewest_PagesGoFromTheNewestToTheOldestWithoutGaps(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	// Ids do not follow time, and two happen at the same instant.
	hours := map[string]int{"a": 9, "b": 11, "c": 9, "d": 10}
	in(t, d, func(tx *store.Tx) error {
		for id, hour := range hours {
			plan := keptPlan(id, "")
			plan.MadeAt = at(hour, 0)
			opened := firm.Case{ID: course.CaseID(id), Site: "site-1", Pest: "mealybug", OpenedAt: at(hour, 0)}
			for _, err := range []error{tx.InsertPlan(plan), tx.InsertCase(opened)} {
				if err != nil {
					return err
				}
			}
		}
		return nil
	})
	in(t, d, func(tx *store.Tx) error {
		want := fmt.Sprint([]string{"b", "d", "c", "a"})
		kept, err := tx.KeptPlans(listing.Question{Order: []listing.Key{{Field: "create_time", Descending: true}, {Field: listing.NameField, Descending: true}}})
		if err != nil {
			return err
		}
		var plans []string
		for _, row := range kept {
			plans = append(plans, row.Value.ID)
		}
		cases := byPages(t, func(page store.Page) ([]firm.Case, error) { return tx.Cases(store.CaseFilter{}, page) },
			func(c firm.Case) (string, string) { return string(c.ID), string(c.ID) })
		for what, got := range map[string][]string{"plans": plans, "cases": cases} {
			if fmt.Sprint(got) != want {
				t.Errorf("%s come as %v, want %s", what, got, want)
			}
		}
		return nil
	})
	refused(t, d, fault.Invalid, "INVALID_FIELDS", func(tx *store.Tx) error {
		_, err := tx.Movements("none", store.Page{After: "yesterday"})
		return err
	})
}
