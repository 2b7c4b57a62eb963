package casework_test

import (
	"fmt"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"

	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/store"
)

// Four plants that are no neighbours by case: sixteen findings at one moment, four on each, open four cases.
func TestRecordFinding_FindingsAtTheSameMomentOpenOneCaseForEachPlant(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	plants := []site.PlantID{"pothos-stairs", "pothos-printer", "fig-window", "offices-meeting-01"}
	const each = 4
	begin := make(chan struct{})
	var found errgroup.Group
	for i := range each * len(plants) {
		found.Go(func() error {
			<-begin
			return w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
				finding := casework.NewFinding{ID: fmt.Sprint("found-", i), Finding: firmtest.Finding("citrus-mealybug", plants[i%len(plants)])}
				if i/len(plants)%2 == 1 { // by way of a report, too
					at := w.At(t, "2026-03-02 10:00")
					report := firm.Report{ID: finding.ID, Technician: "tech-b", Site: "offices-alder-row", Arrived: at, Left: at.Add(time.Hour)}
					report.Findings = []course.Finding{finding.Finding}
					_, err := casework.AppendReport(tx, report)
					return err
				}
				_, _, err := casework.RecordFinding(tx, finding)
				return err
			})
		})
	}
	close(begin)
	if err := found.Wait(); err != nil {
		t.Fatal(err)
	}
	w.In(t, w.Office, func(tx *store.Tx) error {
		cases, err := tx.Cases(store.CaseFilter{}, store.Page{})
		if err != nil {
			return err
		}
		if len(cases) != len(plants) {
			t.Errorf("%d findings on %d plants opened %d cases: want one for each plant", each*len(plants), len(plants), len(cases))
		}
		for _, c := range cases {
			histories, err := casework.Histories(tx, []course.CaseID{c.ID})
			if err != nil {
				return err
			}
			if len(c.Plants) != 1 || len(histories[0].Events) != each {
				t.Errorf("case %s has plants %v and %d events: want one plant and its %d findings", c.ID, c.Plants, len(histories[0].Events), each)
			}
		}
		return nil
	})
}
