package planning_test

import (
	"slices"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// spill tells of an incident with the soap at the offices.
func (o *office) spill(t *testing.T) {
	t.Helper()
	o.In(t, o.TechA, func(tx *store.Tx) error {
		_, err := casework.TellIncident(tx, firm.Incident{ID: "spill", Kind: firm.Spill, Site: "offices-alder-row", Product: "soap", Text: "on the carpet"})
		return err
	})
}

// uses says whether a plan puts a product on plants of a site in a visit that it may move.
func uses(plan firm.KeptPlan, at scheduler.SiteID, product catalogue.ProductID) bool {
	for _, route := range plan.Plan.Routes {
		for _, v := range route.Visits {
			if v.Site == at && v.State != scheduler.Pinned && slices.ContainsFunc(v.Work, func(w scheduler.WorkItem) bool { return w.Use != nil && w.Use.Product == product }) {
				return true
			}
		}
	}
	return false
}

// A plan made before an incident is refused after it, and the next one leaves the product out there, until it is released.
func TestPublish_AProductBarredSinceThePlanWasMadeIsRefused(t *testing.T) {
	t.Parallel()
	o := open(t)
	before := o.plan(t, 7)
	if !uses(before, "offices-alder-row", "soap") {
		t.Fatal("the plan has no spray of soap at the offices")
	}
	o.spill(t)
	if err := o.try(t, before); !fault.Is(err, fault.Refused) {
		t.Errorf("the plan of before the incident: %v: want it refused", err)
	}
	after := o.plan(t, 7)
	if uses(after, "offices-alder-row", "soap") {
		t.Error("the plan of after the incident uses the soap there")
	}
	o.publish(t, after)
	o.In(t, o.TechA, func(tx *store.Tx) error {
		_, err := casework.ReleaseIncident(tx, "spill", "dried and cleaned")
		return err
	})
	if again := o.plan(t, 7); !uses(again, "offices-alder-row", "soap") {
		t.Error("released, the plan does not use the soap there")
	}
}

// A spray that is pinned when the incident happens is a fact: it blocks nothing else.
func TestPublish_APinnedSprayOfABarredProductBlocksNothing(t *testing.T) {
	t.Parallel()
	o := open(t)
	wish := firm.Booking{Visit: "spray", Item: firstSpray, Technician: "tech-a", Begins: o.At(t, "2026-03-05 19:45")}
	if _, err := planning.Book(t.Context(), o.Store, o.Office, wish, nil); err != nil {
		t.Fatalf("%v: %v", err, fault.Of(err).Violations)
	}
	o.spill(t)
	plan := o.plan(t, 7)
	if uses(plan, "offices-alder-row", "soap") {
		t.Error("the plan uses the soap there beside what is pinned")
	}
	o.publish(t, plan)
	if held := o.holding(t, firstSpray); held.State != scheduler.Pinned {
		t.Errorf("the pinned spray is %s", held.State)
	}
}

// A consent that is withdrawn under a plan refuses the plan, and the next leaves the way out.
func TestPublish_AConsentWithdrawnSinceThePlanWasMadeRefusesIt(t *testing.T) {
	t.Parallel()
	o := open(t)
	o.In(t, o.Office, func(tx *store.Tx) error {
		asked := firm.ClientConsent{ID: "spray", Site: "offices-alder-row", Material: "insecticidal-soap", AskedOf: "the desk"}
		if _, err := casework.AskClient(tx, asked); err != nil {
			return err
		}
		_, err := casework.AnswerConsent(tx, "spray", firm.ConsentAnswer{Kind: firm.ConsentGiven, By: "the desk"})
		return err
	})
	storetest.Change(t, o.Database, "site", "offices-alder-row", func(s *site.Site) { s.Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray} })
	before := o.plan(t, 7)
	if !uses(before, "offices-alder-row", "soap") {
		t.Fatal("with consent, the plan has no spray of soap at the offices")
	}
	o.In(t, o.Office, func(tx *store.Tx) error {
		_, err := casework.AnswerConsent(tx, "spray", firm.ConsentAnswer{Kind: firm.ConsentWithdrawn, By: "the desk"})
		return err
	})
	if err := o.try(t, before); !fault.Is(err, fault.Refused) {
		t.Errorf("the plan of before the withdrawal: %v: want it refused", err)
	}
	if uses(o.plan(t, 7), "offices-alder-row", "soap") {
		t.Error("without consent, the plan uses the soap there")
	}
}
