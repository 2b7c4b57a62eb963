package planning_test

import (
	"bytes"
	"testing"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler"
	"vernation/scheduler/exchange"
	"vernation/server/internal/fault"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

func TestWriteProblem_TheRunCanBeReplayedAndJudgedFromItsFiles(t *testing.T) {
	t.Parallel()
	o := open(t)
	var problemFile, planFile bytes.Buffer
	kept := o.plan(t, 14)
	o.MoveClock(t, "2026-03-04 12:00") // the business moves on, the run's Problem does not
	o.In(t, o.Office, func(tx *store.Tx) error {
		if err := planning.WriteProblem(tx, kept.Run, &problemFile); err != nil {
			return err
		}
		return planning.WritePlan(tx, kept.Run, &planFile)
	})
	problem, options, err := exchange.ReadProblem(&problemFile)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := exchange.ReadPlan(&planFile)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(kept.Plan, plan); diff != "" {
		t.Errorf("the plan in the file is another (-kept +file):\n%s", diff)
	}
	if broken := scheduler.Check(problem, plan); len(broken) > 0 {
		t.Errorf("the plan breaks rules of the Problem in the file: %v", broken)
	}
	if options.Islands != 2 || options.Seed != 1 || options.Iterations != 500 {
		t.Errorf("the file searches %d islands from seed %d for %d iterations: want 2, 1, 500 as the run did", options.Islands, options.Seed, options.Iterations)
	}
	again, err := scheduler.Solve(t.Context(), problem, options)
	if err != nil || again.Cost.Total != plan.Cost.Total || again.Bound != plan.Bound {
		t.Errorf("replayed, the run makes a plan of %v, bound %v (%v): want %v, %v", again.Cost.Total, again.Bound, err, plan.Cost.Total, plan.Bound)
	}
}

func TestWriteProblem_OfARunThatNobodyTookUpIsNotFound(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	w.In(t, w.Office, func(tx *store.Tx) error {
		var none bytes.Buffer
		firmtest.Refused(t, planning.WriteProblem(tx, "run", &none), fault.NotFound, "NOT_FOUND")
		firmtest.Refused(t, planning.WritePlan(tx, "run", &none), fault.NotFound, "NOT_FOUND")
		return nil
	})
}
