package planning_test

import (
	"context"
	"fmt"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

// office is the firm at work with a worker that makes its plans.
type office struct {
	*firmtest.Works
	runs atomic.Int64
}

func open(t *testing.T) *office {
	t.Helper()
	return openWith(t, planning.Roads{})
}

// openWith opens a firm whose worker asks for road times.
func openWith(t *testing.T, roads planning.Roads) *office {
	t.Helper()
	o := &office{Works: firmtest.Open(t)}
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	ended := make(chan error, 1)
	go func() {
		ended <- o.Store.Work(ctx, planning.Worker(o.Store, roads), store.WorkOptions{Name: "worker", Poll: 20 * time.Millisecond})
	}()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Errorf("the worker ended with %v", err)
		}
	})
	return o
}

// start stores a run of so many days and iterations from a day, which must be taken; the unset day is today.
func (o *office) start(t *testing.T, first civil.Date, days, iterations int) firm.PlanRun {
	t.Helper()
	run := firm.PlanRun{ID: fmt.Sprint("plan-", o.runs.Add(1)), FirstDay: first, Days: days, Iterations: iterations, Seed: 1}
	o.In(t, o.Office, func(tx *store.Tx) (err error) {
		run, err = planning.StartRun(tx, run)
		return err
	})
	return run
}

// until reads a run until it is in a state, and fails when it ends in another or takes a minute.
func (o *office) until(t *testing.T, id string, state firm.RunState) firm.PlanRun {
	t.Helper()
	for deadline := time.Now().Add(time.Minute); ; time.Sleep(10 * time.Millisecond) {
		var run firm.PlanRun
		o.In(t, o.Office, func(tx *store.Tx) (err error) {
			run, err = tx.PlanRun(id)
			return err
		})
		if run.State == state {
			return run
		}
		if time.Now().After(deadline) || (run.State != firm.RunPending && run.State != firm.RunRunning) {
			t.Fatalf("run %s is %s (%s): want it %s", id, run.State, run.Failure, state)
		}
	}
}

// plan makes a plan over so many days from today.
func (o *office) plan(t *testing.T, days int) firm.KeptPlan {
	t.Helper()
	return o.planFrom(t, 0, days)
}

func (o *office) planFrom(t *testing.T, first civil.Date, days int) (kept firm.KeptPlan) {
	t.Helper()
	run := o.until(t, o.start(t, first, days, 500).ID, firm.RunDone)
	o.In(t, o.Office, func(tx *store.Tx) (err error) {
		kept, err = tx.Plan(run.Plan)
		return err
	})
	return kept
}

func (o *office) head(t *testing.T) (head firm.Head) {
	t.Helper()
	o.In(t, o.Office, func(tx *store.Tx) (err error) {
		head, err = tx.Head()
		return err
	})
	return head
}

// try publishes a plan on the present head.
func (o *office) try(t *testing.T, plan firm.KeptPlan) error {
	t.Helper()
	_, err := planning.Publish(t.Context(), o.Store, o.Office, planning.Publication{Plan: plan.ID, Head: o.head(t).Version})
	return err
}

// tryWith publishes a plan on the present head; between is called after each check and before its swap.
func (o *office) tryWith(t *testing.T, plan firm.KeptPlan, between func(try int)) error {
	t.Helper()
	try := 0
	within := func(_ *store.Tx, swap func() (firm.Head, error)) error {
		try++
		between(try)
		_, err := swap()
		return err
	}
	_, err := planning.Publish(t.Context(), o.Store, o.Office, planning.Publication{Plan: plan.ID, Head: o.head(t).Version, Within: within})
	return err
}

// publish makes a plan's visits real, which must succeed.
func (o *office) publish(t *testing.T, plan firm.KeptPlan) {
	t.Helper()
	if err := o.try(t, plan); err != nil {
		t.Fatalf("%v: %+v", err, fault.Of(err).Violations)
	}
}

// visits are those published, in order of arrival.
func (o *office) visits(t *testing.T) (visits []scheduler.Visit) {
	t.Helper()
	o.In(t, o.Office, func(tx *store.Tx) (err error) {
		visits, err = tx.Visits(store.VisitFilter{From: o.At(t, "2026-01-01 00:00"), To: o.At(t, "2027-01-01 00:00")})
		return err
	})
	return visits
}

// holding returns the only published visit that holds an item.
func (o *office) holding(t *testing.T, item scheduler.ItemID) scheduler.Visit {
	t.Helper()
	found := slices.DeleteFunc(o.visits(t), func(v scheduler.Visit) bool { return !holds(v, item) })
	if len(found) != 1 {
		t.Fatalf("%d published visits hold %s: want one", len(found), item)
	}
	return found[0]
}

func holds(v scheduler.Visit, item scheduler.ItemID) bool {
	return slices.ContainsFunc(v.Work, func(w scheduler.WorkItem) bool { return w.Item == item })
}

// planned returns the visit of a plan that holds an item, or nil.
func planned(plan firm.KeptPlan, item scheduler.ItemID) *scheduler.Visit {
	for _, route := range plan.Plan.Routes {
		for i := range route.Visits {
			if holds(route.Visits[i], item) {
				return &route.Visits[i]
			}
		}
	}
	return nil
}
