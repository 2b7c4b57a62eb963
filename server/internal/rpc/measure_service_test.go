package rpc_test

import (
	"testing"
	"time"

	"google.golang.org/grpc/codes"

	vernationv1 "vernation/proto/vernation/v1"
)

// measuring asks for the measures of a span, with a change.
func (w *works) measuring(first, last string, change func(*vernationv1.GetMeasuresRequest)) (*vernationv1.Measures, error) {
	ask := &vernationv1.GetMeasuresRequest{Name: w.name("measures"), FirstOn: first, LastOn: last}
	if change != nil {
		change(ask)
	}
	return w.measures().GetMeasures(w.office, ask)
}

func TestMeasures_CountWhatWasReportedOfWhatWasPlanned(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.makePlan(t, 14) // a plan tells the windows, published or not
	visit := w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	w.Clock.Set(w.at(t, "2026-03-02 18:00"))
	if _, err := w.reports().CreateReport(w.techA, w.drench(t, "r", visit)); err != nil {
		t.Fatal(err)
	}
	w.Clock.Set(w.at(t, "2026-03-09 18:00"))
	m, err := w.measuring("2026-03-02", "2026-03-08", nil)
	if err != nil {
		t.Fatal(err)
	}
	done := m.GetFollowUpsOnTime() + m.GetFollowUpsEarly() + m.GetFollowUpsLate()
	if m.GetFollowUpsDone() != 1 || done > 1 || m.GetFollowUpsWithoutWindow() != 0 || m.GetFollowUpsRode() != 0 || m.GetFollowUpsNotDone() == 0 {
		t.Errorf("measures %v: want the drench done, without a service, and what else was due not done", m)
	}
	if used := m.GetMaterials(); len(used) != 1 || used[0].GetProduct() != w.name("products/bti") || used[0].GetApplied() != "1.92 L" || used[0].GetApplications() != 1 {
		t.Errorf("materials %v: want the drench's", used)
	}
	if own := m.GetWorkMinutes(); len(own) != 1 || own[0].GetKind() != "application" || own[0].GetTaken().AsDuration() != 20*time.Minute || own[0].GetPlanned().AsDuration() <= 0 {
		t.Errorf("minutes %v: want the drench's twenty beside the planned ones", own)
	}
	if m.GetPaidTime().AsDuration() <= m.GetOutsideVisits().AsDuration() || m.GetOutsideVisits().AsDuration() <= 0 {
		t.Errorf("paid %v, outside visits %v: want a part of it", m.GetPaidTime().AsDuration(), m.GetOutsideVisits().AsDuration())
	}
	elsewhere, err := w.measuring("2026-03-02", "2026-03-08", func(r *vernationv1.GetMeasuresRequest) { r.Site = w.name("sites/offices-alder-row") })
	if err != nil || elsewhere.GetFollowUpsDone() != 0 || len(elsewhere.GetMaterials()) != 0 || elsewhere.GetPaidTime() != nil || elsewhere.GetFollowUpsNotDone() == 0 {
		t.Errorf("at the other site: %v, %v; want only what was not done there", elsewhere, err)
	}
	theirs, err := w.measuring("2026-03-02", "2026-03-08", func(r *vernationv1.GetMeasuresRequest) { r.Technician = w.name("technicians/tech-b") })
	if err != nil || theirs.GetFollowUpsDone() != 0 || len(theirs.GetMaterials()) != 0 {
		t.Errorf("of the other technician: %v, %v", theirs, err)
	}
	_, err = w.measures().GetMeasures(w.integration, &vernationv1.GetMeasuresRequest{Name: w.name("measures"), FirstOn: "2026-03-02", LastOn: "2026-03-02"})
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}

var measureRefusals = []workRefusal{
	{"GetMeasures", "INVALID_ARGUMENT OUT_OF_RANGE", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.measuring("2026-03-02", "2026-03-01", nil)
		return err
	}},
	{"GetMeasures", "INVALID_ARGUMENT OUT_OF_RANGE", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.measuring("2026-03-02", "2026-06-02", nil)
		return err
	}},
	{"GetMeasures", "INVALID_ARGUMENT DATE_FORM", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.measuring("2026-02-30", "2026-03-02", nil)
		return err
	}},
	{"GetMeasures", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.measuring("2026-03-02", "2026-03-02", func(r *vernationv1.GetMeasuresRequest) { r.Client = w.name("clients/none") })
		return err
	}},
	{"GetMeasures", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.measuring("2026-03-02", "2026-03-02", func(r *vernationv1.GetMeasuresRequest) { r.Site = w.name("sites/none") })
		return err
	}},
	{"GetMeasures", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.measuring("2026-03-02", "2026-03-02", func(r *vernationv1.GetMeasuresRequest) { r.Technician = w.name("technicians/none") })
		return err
	}},
}
