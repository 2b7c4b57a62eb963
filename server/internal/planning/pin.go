package planning

import (
	"vernation/scheduler"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Pin holds a published visit where it stands: no plan moves it. One that is pinned stays as it is.
//
// Fails with NotFound and Refused (VISIT_BEGUN).
func Pin(tx *store.Tx, id scheduler.VisitID) (firm.PublishedVisit, error) {
	return hold(tx, id, scheduler.Pinned)
}

// Unpin lets a pinned visit go: it is published where it stands, and the next plan may move it. One that is not pinned stays
// as it is.
//
// Fails with NotFound and Refused (VISIT_BEGUN).
func Unpin(tx *store.Tx, id scheduler.VisitID) (firm.PublishedVisit, error) {
	return hold(tx, id, scheduler.Published)
}

// hold moves a visit between published and pinned. It takes the plan head, so that a plan is published either before, and the
// visit is held where that puts it, or after, and that plan is judged again.
func hold(tx *store.Tx, id scheduler.VisitID, to scheduler.VisitState) (firm.PublishedVisit, error) {
	if _, err := tx.LockHead(); err != nil {
		return firm.PublishedVisit{}, err
	}
	visit, err := tx.PublishedVisit(id)
	if err != nil {
		return firm.PublishedVisit{}, err
	}
	if visit.State == scheduler.Begun || visit.State == scheduler.Done || visit.Arrives <= tx.Now() {
		f := fault.New(fault.Refused, "VISIT_BEGUN", "visit %s (%s) has begun or is over, and no plan moves it: pin and unpin what lies ahead", id, visit.State)
		f.Subject = string(id)
		return firm.PublishedVisit{}, f
	}
	if (visit.State == scheduler.Pinned) == (to == scheduler.Pinned) {
		return visit, nil // an announced one is no less published
	}
	visit.State = to
	return visit, tx.SetVisitState(id, to)
}
