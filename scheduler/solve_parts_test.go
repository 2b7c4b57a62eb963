package scheduler_test

import (
	"runtime"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler"
)

func TestSolve_PartsOfALargeProblemBreakNoRuleTogether(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		ready, err := scheduler.Prepare(p, roundRates())
		if err != nil {
			t.Fatal(err)
		}
		plan := ready.SolveInPartsForTest(scheduler.Options{Seed: rapid.Uint64().Draw(t, "seed"), Iterations: 40, Islands: 2}, 1)
		for _, v := range scheduler.Check(p, plan) {
			if !v.Standing { // a visit that does not move may break a rule
				t.Errorf("the plan of parts breaks a rule: %s", v)
			}
		}
	})
}

// Not parallel: it sets how many cores the process may use.
func TestSolve_PartsGiveTheSamePlanOnOneAndTwoCores(t *testing.T) {
	p := severalRounds(6)
	ready, err := scheduler.Prepare(p, roundRates())
	if err != nil {
		t.Fatal(err)
	}
	o := scheduler.Options{Seed: 3, Iterations: 160, Islands: 2}
	var plans []scheduler.Plan
	for _, cores := range []int{1, 2} {
		before := runtime.GOMAXPROCS(cores)
		plans = append(plans, ready.SolveInPartsForTest(o, 20))
		runtime.GOMAXPROCS(before)
	}
	if diff := cmp.Diff(plans[0], plans[1]); diff != "" {
		t.Errorf("the same seed, iterations and islands gave another plan of parts (-on one core +on two):\n%s", diff)
	}
	whole := ready.SolveInPartsForTest(o, len(p.FollowUps)+9*len(p.Services))
	if cmp.Equal(whole, plans[0]) {
		t.Error("the plan of parts is that of the whole: nothing was divided")
	}
	for _, plan := range []scheduler.Plan{plans[0], whole} {
		for _, v := range scheduler.Check(p, plan) {
			t.Errorf("the plan breaks a rule: %s", v)
		}
	}
}
