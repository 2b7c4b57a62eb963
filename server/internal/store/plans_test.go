package store_test

import (
	"math"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

func planRun(id string) firm.PlanRun {
	return firm.PlanRun{ID: id, FirstDay: storetest.Epoch, Days: 14, Seed: math.MaxUint64, Iterations: 1000, Limit: 2 * time.Second}
}

func keptPlan(id, run string) firm.KeptPlan {
	return firm.KeptPlan{
		ID: id, Run: run, FirstDay: storetest.Epoch, Days: 14, MadeAt: at(7, 30),
		Plan: scheduler.Plan{
			Unplanned: []scheduler.Unplanned{{Item: "service-1#1", Status: scheduler.LeftOut, Reasons: []scheduler.Reason{{Rule: scheduler.RuleAccess, Text: "shut"}}, Cost: 500}},
			Cost:      scheduler.Cost{Total: 500, Parts: map[scheduler.CostPart]quantity.Money{scheduler.CostUnplanned: 500}},
			Seed:      math.MaxUint64,
		},
		Versions:  firm.Versions{Cases: map[course.CaseID]int64{"case-1": 3}, Sites: map[site.ID]int64{"site-1": 1}},
		FollowUps: []scheduler.FollowUp{{ID: "case-1/application/1/1", Case: "case-1", Reason: "a finding"}},
		Travel:    firm.TravelSource{Provider: "osrm driving", Attribution: "© somebody", AskedAt: at(7, 0), Ways: 12, Estimated: 3, NoRoad: 2, Failure: "away"},
	}
}

func TestPlanRun_ComesBackAsWritten(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	in(t, d, func(tx *store.Tx) error { return tx.InsertPlanRun(planRun("run-1")) })
	in(t, d, func(tx *store.Tx) error {
		run, err := tx.PlanRun("run-1")
		want := planRun("run-1")
		want.State, want.CreatedAt, want.CreatedBy = firm.RunPending, at(7, 0), "office-1"
		same(t, "plan run", run, want)
		return err
	})
	long := planRun("run-2")
	long.Days = scheduler.MaxHorizonDays + 1
	refused(t, d, fault.Invalid, "BROKEN_CONSTRAINT", func(tx *store.Tx) error { return tx.InsertPlanRun(long) })
}

func TestPlan_ComesBackAsWrittenWithItsPublishing(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	in(t, d, func(tx *store.Tx) error { return tx.InsertPlanRun(planRun("run-1")) })
	in(t, d, func(tx *store.Tx) error { return tx.InsertPlan(keptPlan("plan-1", "run-1")) })
	in(t, d, func(tx *store.Tx) error {
		return tx.SetHead(firm.Head{Version: 1, Plan: "plan-1", PublishedAt: at(8, 0)})
	})
	in(t, d, func(tx *store.Tx) error {
		kept, err := tx.Plan("plan-1")
		want := keptPlan("plan-1", "run-1")
		want.PublishedAt = at(8, 0)
		same(t, "plan", kept, want)
		return err
	})
	refused(t, d, fault.Exists, "EXISTS_ALREADY", func(tx *store.Tx) error { return tx.InsertPlan(keptPlan("plan-2", "run-1")) })
}

func TestSetHead_OfTwoPublishersOneIsStale(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	in(t, d, func(tx *store.Tx) error {
		if err := tx.InsertPlan(keptPlan("plan-1", "")); err != nil {
			return err
		}
		return tx.InsertPlan(keptPlan("plan-2", ""))
	})
	results := make(chan error, 2)
	for _, plan := range []string{"plan-1", "plan-2"} {
		go func() {
			results <- d.Store.In(t.Context(), d.Office, func(tx *store.Tx) error {
				if _, err := tx.LockHead(); err != nil {
					return err
				}
				return tx.SetHead(firm.Head{Version: 1, Plan: plan}) // both saw version 0
			})
		}()
	}
	first, second := <-results, <-results
	if first != nil {
		first, second = second, first
	}
	if first != nil {
		t.Fatalf("neither could publish: %v, %v", first, second)
	}
	wantFault(t, second, fault.Stale, "HEAD_MOVED")
}

func TestShareHead_ReportersDoNotWaitForEachOtherButForAPublisher(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	publisher := make(chan error, 1)
	in(t, d, func(tx *store.Tx) error {
		if _, err := tx.ShareHead(); err != nil {
			return err
		}
		in(t, d, func(other *store.Tx) error { _, err := other.ShareHead(); return err })
		go func() {
			publisher <- d.Store.In(t.Context(), d.Office, func(other *store.Tx) error { _, err := other.LockHead(); return err })
		}()
		select {
		case err := <-publisher:
			t.Fatalf("a publisher passed while a report was written (%v)", err)
		case <-time.After(200 * time.Millisecond):
		}
		return nil
	})
	if err := <-publisher; err != nil {
		t.Errorf("the publisher, afterwards: %v", err)
	}
}

func TestFinishRun_AnAttemptThatIsOverKeepsNothing(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	in(t, d, func(tx *store.Tx) error { return tx.InsertPlanRun(planRun("run-1")) })
	keep := func(attempt int) func(tx *store.Tx) error {
		return func(tx *store.Tx) error {
			if err := tx.InsertPlan(keptPlan("plan-1", "run-1")); err != nil {
				return err
			}
			return tx.FinishRun("run-1", attempt, firm.RunDone, "plan-1", "")
		}
	}
	refused(t, d, fault.Stale, "ATTEMPT_OVER", keep(7))
	refused(t, d, fault.NotFound, "NOT_FOUND", func(tx *store.Tx) error { _, err := tx.Plan("plan-1"); return err })
	in(t, d, keep(0))
	refused(t, d, fault.Stale, "ATTEMPT_OVER", func(tx *store.Tx) error {
		return tx.FinishRun("run-1", 0, firm.RunFailed, "", "too late")
	})
	refused(t, d, fault.Stale, "ATTEMPT_OVER", func(tx *store.Tx) error {
		_, err := tx.UpdateRunProgress("run-1", 0, store.RunProgress{IterationsDone: 5})
		return err
	})
}

func TestAskCancel_APendingRunEndsAtOnceAndAFinishedOneStays(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	in(t, d, func(tx *store.Tx) error {
		if err := tx.InsertPlanRun(planRun("run-1")); err != nil {
			return err
		}
		return tx.EnqueueRun("run-1")
	})
	for range 2 {
		in(t, d, func(tx *store.Tx) error { return tx.AskCancel("run-1") })
		in(t, d, func(tx *store.Tx) error {
			run, err := tx.PlanRun("run-1")
			if run.State != firm.RunCancelled {
				t.Errorf("the run is %s, want cancelled", run.State)
			}
			return err
		})
	}
	refused(t, d, fault.NotFound, "NOT_FOUND", func(tx *store.Tx) error { return tx.AskCancel("run-9") })
}
