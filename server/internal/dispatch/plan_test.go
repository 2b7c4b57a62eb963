package dispatch_test

import (
	"fmt"
	"testing"

	"vernation/scheduler"
	"vernation/server/internal/dispatch"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/listing"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

// keep stores a plan as a worker does, without a search.
func keep(t *testing.T, w *firmtest.Works, id string) {
	t.Helper()
	w.In(t, w.Office, func(tx *store.Tx) error {
		first := w.Business.Zone.DateOf(tx.Now())
		gathered, err := planning.Gather(tx, first, 3)
		if err != nil {
			return err
		}
		plan, err := scheduler.Solve(t.Context(), gathered.Problem, scheduler.Options{Rates: gathered.Rates})
		if err != nil {
			return err
		}
		for r := range plan.Routes {
			for v := range plan.Routes[r].Visits {
				visit := &plan.Routes[r].Visits[v]
				visit.ID = scheduler.VisitID(fmt.Sprintf("%s-%d-%d", id, r, v))
			}
		}
		return tx.InsertPlan(firm.KeptPlan{ID: id, FirstDay: first, Days: 3, MadeAt: tx.Now(), Plan: plan, Versions: gathered.Versions, FollowUps: gathered.Problem.FollowUps})
	})
}

func TestPlan_IsADraftThenPublishedThenSuperseded(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	show := func(id string) (shown firm.ShownPlan, err error) {
		err = w.Store.Reading(t.Context(), w.Office, func(tx *store.Tx) (err error) {
			shown, err = dispatch.Plan(tx, id)
			return err
		})
		return shown, err
	}
	state := func(id string, want firm.PlanState) firm.ShownPlan {
		t.Helper()
		shown, err := show(id)
		if err != nil || shown.State != want {
			t.Fatalf("plan %s is %s, %v: want it %s", id, shown.State, err, want)
		}
		return shown
	}
	publish := func(id string, head int64) {
		t.Helper()
		if _, err := planning.Publish(t.Context(), w.Store, w.Office, planning.Publication{Plan: id, Head: head}); err != nil {
			t.Fatalf("%v: %v", err, fault.Of(err).Violations)
		}
	}
	keep(t, w, "first")
	draft := state("first", firm.PlanDraft)
	if draft.Currency != "USD" || draft.Head != 0 || len(draft.Cautions) == 0 {
		t.Errorf("draft in %s on head %d with %d cautions: want USD, 0 and some", draft.Currency, draft.Head, len(draft.Cautions))
	}
	for _, u := range draft.Kept.Plan.Unplanned {
		if draft.SiteOf[u.Item] == "" {
			t.Errorf("nothing says where %s, which is not planned, would be", u.Item)
		}
	}
	publish("first", 0)
	published := state("first", firm.PlanPublished)
	for _, route := range published.Kept.Plan.Routes {
		for _, visit := range route.Visits {
			if visit.State != scheduler.Published {
				t.Errorf("visit %s of the published plan is %s", visit.ID, visit.State)
			}
		}
	}
	keep(t, w, "second")
	publish("second", 1)
	state("first", firm.PlanSuperseded)
	state("second", firm.PlanPublished)
	_, err := show("none")
	firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
	w.In(t, w.Office, func(tx *store.Tx) error {
		kept, err := tx.KeptPlans(listing.Question{Order: []listing.Key{{Field: listing.NameField}}})
		if err != nil {
			return err
		}
		of := make([]firm.KeptPlan, len(kept))
		for i, row := range kept {
			of[i] = row.Value
		}
		plans, err := dispatch.Plans(tx, of)
		if len(plans) != 2 || plans[0].Kept.ID != "first" || plans[0].State != firm.PlanSuperseded {
			t.Errorf("%d plans are listed: want both", len(plans))
		}
		return err
	})
}
