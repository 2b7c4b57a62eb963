package rpc_test

import (
	"fmt"
	"testing"
	"time"

	"google.golang.org/grpc/codes"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/store"
)

// listedVisits lists visits, two a page.
func (w *works) listedVisits(t *testing.T, change func(*vernationv1.ListVisitsRequest)) (visits []*vernationv1.Visit) {
	t.Helper()
	asked := &vernationv1.ListVisitsRequest{Parent: w.name(""), PageSize: 2}
	if change != nil {
		change(asked)
	}
	for {
		page, err := w.visits().ListVisits(w.integration, asked)
		if err != nil {
			t.Fatal(err)
		}
		visits = append(visits, page.GetVisits()...)
		if asked.PageToken = page.GetNextPageToken(); asked.PageToken == "" {
			return visits
		}
	}
}

func TestListVisits_ByArrivalAndNarrowed(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	published := w.publish(t, w.makePlan(t, 14))
	all := w.listedVisits(t, nil)
	planned := 0
	for _, route := range published.GetRoutes() {
		planned += len(route.GetVisits())
	}
	if len(all) != planned || planned < 4 {
		t.Fatalf("%d visits, and the plan has %d: want all of them, four at least", len(all), planned)
	}
	at := func(v *vernationv1.Visit) string { return v.GetArrives().AsTime().Format(time.RFC3339) }
	narrow := map[string]string{
		"technician": fmt.Sprintf("technician = %q", all[0].GetTechnician()),
		"site":       fmt.Sprintf("site = %q", all[0].GetSite()),
		"from":       fmt.Sprintf("leaves > %q", at(all[2])),
		"until":      fmt.Sprintf("arrives < %q", at(all[2])),
		"state":      "state = VISIT_STATE_PINNED OR off_plan = true",
	}
	for i, v := range all {
		switch {
		case i > 0 && v.GetArrives().AsTime().Before(all[i-1].GetArrives().AsTime()):
			t.Errorf("visit %d arrives before the one before it", i)
		case len(v.GetWorkItems()) == 0 || v.GetName() == "" || v.GetOffPlan():
			t.Errorf("visit %v: want its name and its work", v)
		case v.GetCost() != nil:
			t.Errorf("an integration is told what visit %s costs", v.GetName())
		}
	}
	for what, filter := range narrow {
		if got := w.listedVisits(t, func(r *vernationv1.ListVisitsRequest) { r.Filter = filter }); len(got) >= len(all) || what != "state" && len(got) == 0 {
			t.Errorf("by %s: %d of %d visits, want fewer and some", what, len(got), len(all))
		}
	}
	last := w.listedVisits(t, func(r *vernationv1.ListVisitsRequest) { r.OrderBy = "arrives desc" })
	if len(last) != len(all) || last[0].GetName() != all[len(all)-1].GetName() {
		t.Errorf("the last first: %v first, want %s", last[0].GetName(), all[len(all)-1].GetName())
	}
	one, err := w.visits().GetVisit(w.office, &vernationv1.GetVisitRequest{Name: all[0].GetName()})
	if err != nil || one.GetCost() == nil || one.GetArrives().AsTime() != all[0].GetArrives().AsTime() {
		t.Errorf("GetVisit = %v, %v: want it with its cost for the office", one, err)
	}
	_, err = w.visits().GetVisit(w.techA, &vernationv1.GetVisitRequest{Name: all[0].GetName()})
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}

func TestGetVisit_SaysThatItWasReportedOffPlan(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	plan := w.publish(t, w.makePlan(t, 14))
	visit, _ := visitOf(t, plan, "gnats/application/1/1")
	w.Clock.Set(w.at(t, "2026-03-04 13:05"))
	report := w.drenched(t, "2026-03-04 12:15") // on another day than it stands
	report.Visit = convert.ID[scheduler.VisitID](visit.GetName())
	err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
		_, err := casework.AppendReport(tx, report)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	told, err := w.visits().GetVisit(w.integration, &vernationv1.GetVisitRequest{Name: visit.GetName()})
	if err != nil || !told.GetOffPlan() || told.GetState() != vernationv1.VisitState_VISIT_STATE_DONE {
		t.Errorf("%v, %v: want it done, off plan", told, err)
	}
}

func TestPinVisit_NoPlanMovesItUntilItIsUnpinned(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	visit, _ := visitOf(t, w.publish(t, w.makePlan(t, 14)), "gnats/application/1/1")
	stale := w.makePlan(t, 14)
	pinned, err := w.visits().PinVisit(w.office, &vernationv1.PinVisitRequest{Name: visit.GetName(), RequestId: request()})
	if err != nil || pinned.GetState() != vernationv1.VisitState_VISIT_STATE_PINNED {
		t.Fatalf("%v, %v: want it pinned", pinned.GetState(), err)
	}
	if again, err := w.visits().PinVisit(w.office, &vernationv1.PinVisitRequest{Name: visit.GetName(), RequestId: request()}); err != nil || again.GetState() != pinned.GetState() {
		t.Errorf("pinned again: %v, %v", again, err)
	}
	expectRule(t, w.publishing(stale), "PLAN_BREAKS_RULES", "RULE_PINNED")
	kept, _ := visitOf(t, w.publish(t, w.makePlan(t, 14)), "gnats/application/1/1")
	if kept.GetState() != vernationv1.VisitState_VISIT_STATE_PINNED || !kept.GetArrives().AsTime().Equal(visit.GetArrives().AsTime()) || kept.GetName() != visit.GetName() {
		t.Errorf("a new plan has it as %v: want it pinned where it stood", kept)
	}
	free, err := w.visits().UnpinVisit(w.office, &vernationv1.UnpinVisitRequest{Name: visit.GetName(), RequestId: request()})
	if err != nil || free.GetState() != vernationv1.VisitState_VISIT_STATE_PUBLISHED {
		t.Fatalf("%v, %v: want it published", free.GetState(), err)
	}
	moved, _ := visitOf(t, w.publish(t, w.makePlan(t, 14)), "gnats/application/1/1")
	if moved.GetState() != vernationv1.VisitState_VISIT_STATE_PUBLISHED {
		t.Errorf("after a plan it is %v: want it published", moved.GetState())
	}
	w.Clock.Set(w.at(t, "2026-03-13 12:00"))
	_, err = w.visits().PinVisit(w.office, &vernationv1.PinVisitRequest{Name: visit.GetName(), RequestId: request()})
	expect(t, err, codes.FailedPrecondition, "VISIT_BEGUN")
}
