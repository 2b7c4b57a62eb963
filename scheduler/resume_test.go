package scheduler_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"vernation/scheduler"
)

// A plan taken into the kernel and back is the plan: its visits, mixes, keep-outs and costs, in the middle of its days too.
func TestResume_APlanComesBackAsItWas(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		o := scheduler.Options{Seed: 1, Iterations: 2, Rates: roundRates()}
		o.Rates.DeferredVisit.Amount = 60_000
		p, plan := planAtSomeTime(t, p, o)
		ready, err := scheduler.Prepare(p, o.Rates)
		if err != nil {
			t.Fatal(err)
		}
		again, err := ready.ResumedForTest(plan)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(plan, again, cmpopts.IgnoreFields(scheduler.Plan{}, "Unplanned", "Bound", "Gap", "Iterations", "Seed", "Elapsed"), cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("the plan comes back as another (-plan +again):\n%s", diff)
		}
	})
}
