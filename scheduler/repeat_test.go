package scheduler_test

import (
	"runtime"
	"testing"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler"
)

// Not parallel: it sets how many cores the process may use.
func TestSolve_OneAndTwoCoresGiveTheSamePlan(t *testing.T) {
	p := severalRounds(4)
	o := scheduler.Options{Seed: 3, Iterations: 160, Islands: 2, Rates: roundRates()}
	var plans []scheduler.Plan
	for _, cores := range []int{1, 2, 2} {
		before := runtime.GOMAXPROCS(cores)
		plan, err := scheduler.Solve(t.Context(), p, o)
		runtime.GOMAXPROCS(before)
		if err != nil {
			t.Fatal(err)
		}
		plan.Elapsed = 0
		plans = append(plans, plan)
	}
	for _, plan := range plans[1:] {
		if diff := cmp.Diff(plans[0], plan); diff != "" {
			t.Errorf("the same seed, iterations and islands gave another plan (-on one core +on two):\n%s", diff)
		}
	}
	o.Islands = 1
	alone, err := scheduler.Solve(t.Context(), p, o)
	if err != nil {
		t.Fatal(err)
	}
	if alone.Elapsed = 0; cmp.Equal(alone, plans[0]) {
		t.Error("one island gives the plan of two: the second does nothing")
	}
}
