package planning_test

import (
	"errors"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

func TestStartRun_RefusesWhatCannotBeAndStoresNothing(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	today := w.Business.Zone.DateOf(w.Clock.Now())
	for _, c := range []struct {
		name string
		run  firm.PlanRun
		path string
	}{
		{"no day", firm.PlanRun{Days: 0, Iterations: 1}, "days"},
		{"more days than may be", firm.PlanRun{Days: scheduler.MaxHorizonDays + 1, Iterations: 1}, "days"},
		{"from yesterday", firm.PlanRun{FirstDay: today - 1, Days: 7, Iterations: 1}, "first_on"},
		{"neither iterations nor time", firm.PlanRun{Days: 7}, "max_iterations"},
		{"too many iterations", firm.PlanRun{Days: 7, Iterations: planning.MaxIterations + 1}, "max_iterations"},
	} {
		c.run.ID = "run"
		err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
			_, err := planning.StartRun(tx, c.run)
			return err
		})
		t.Run(c.name, func(t *testing.T) {
			firmtest.Field(t, firmtest.Refused(t, err, fault.Invalid, "INVALID_FIELDS"), c.path, "OUT_OF_RANGE")
		})
	}
	w.In(t, w.Office, func(tx *store.Tx) error {
		_, err := tx.PlanRun("run")
		firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
		return nil
	})
}

func TestWorker_KeepsAPlanThatBreaksNoRule(t *testing.T) {
	t.Parallel()
	o := open(t)
	problem := gather(t, o.Works, 14)
	kept := o.plan(t, 14)
	if broken := scheduler.Check(problem, kept.Plan); len(broken) != 0 {
		t.Errorf("the plan that is kept breaks rules: %v", broken)
	}
	if kept.ID != "plan-1" || kept.MadeAt != o.Clock.Now() || kept.Days != 14 || len(kept.FollowUps) != len(problem.FollowUps) {
		t.Errorf("plan %s of %d days, made %v, for %d follow-ups: want plan-1 of 14 days, made now, for all %d",
			kept.ID, kept.Days, kept.MadeAt, len(kept.FollowUps), len(problem.FollowUps))
	}
	if planned(kept, "gnats/application/1/1") == nil || planned(kept, "mealybugs/application/1/1") == nil {
		t.Error("the first applications are not in the plan")
	}
	run := o.until(t, "plan-1", firm.RunDone)
	if run.Plan != kept.ID || run.IterationsDone != 500 || run.Best.Total != kept.Plan.Cost.Total || run.Bound > run.Best.Total {
		t.Errorf("run %+v: want all 500 iterations, the cost of its plan %v, and a bound below it", run, kept.Plan.Cost.Total)
	}
	again := o.plan(t, 14)
	if again.Plan.Cost.Total != kept.Plan.Cost.Total {
		t.Errorf("the same run costs %v, then %v", kept.Plan.Cost.Total, again.Plan.Cost.Total)
	}
}

func TestCancelRun_StopsAWorkingRunAndKeepsNoPlan(t *testing.T) {
	t.Parallel()
	o := open(t)
	run := o.start(t, 0, 14, planning.MaxIterations)
	o.until(t, run.ID, firm.RunRunning)
	asked := time.Now()
	o.In(t, o.Office, func(tx *store.Tx) error {
		_, err := planning.CancelRun(tx, run.ID)
		return err
	})
	o.until(t, run.ID, firm.RunCancelled)
	if took := time.Since(asked); took > 10*time.Second {
		t.Errorf("it took %v to stop", took)
	}
	o.In(t, o.Office, func(tx *store.Tx) error {
		_, err := tx.Plan(run.ID)
		firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
		ended, err := planning.CancelRun(tx, run.ID)
		if ended.State != firm.RunCancelled {
			t.Errorf("cancelled again it is %s", ended.State)
		}
		return err
	})
	err := o.Store.In(t.Context(), o.Office, func(tx *store.Tx) error {
		_, err := planning.CancelRun(tx, "none")
		return err
	})
	firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
}

// A worker whose attempt is no longer the run's keeps nothing.
func TestWorker_WithoutTheLeaseKeepsNothing(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.In(t, w.Office, func(tx *store.Tx) error {
		_, err := planning.StartRun(tx, firm.PlanRun{ID: "run", Days: 7, Iterations: 1})
		return err
	})
	err := planning.Worker(w.Store, planning.Roads{})(t.Context(), w.Business.ID, "run", 7)
	if err == nil || errors.Is(err, t.Context().Err()) {
		t.Errorf("a worker of attempt 7 of a run that nobody took up ended with %v", err)
	}
	w.In(t, w.Office, func(tx *store.Tx) error {
		_, err := tx.Plan("run")
		firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
		run, err := tx.PlanRun("run")
		if run.State != firm.RunPending {
			t.Errorf("the run is %s: want it left pending", run.State)
		}
		return err
	})
}
