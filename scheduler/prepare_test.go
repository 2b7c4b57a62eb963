package scheduler_test

import (
	"errors"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler"
)

// prepared makes a Problem ready, priced as an invented policy does.
func prepared(t testing.TB, p scheduler.Problem) *scheduler.Prepared {
	t.Helper()
	ready, err := scheduler.Prepare(p, roundRates())
	if err != nil {
		t.Fatal(err)
	}
	return ready
}

func TestPrepare_RefusesWhatIsNotValid(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	p.Days = 0
	_, err := scheduler.Prepare(p, roundRates())
	var invalid *scheduler.InvalidProblem
	if !errors.As(err, &invalid) || len(invalid.Fields) != 1 || invalid.Fields[0].Path != "days" {
		t.Errorf("%v: want days named", err)
	}
}

// The race detector looks on: several questions are asked of one prepared value at once.
func TestPrepare_IsSharedByManyAtOnce(t *testing.T) {
	t.Parallel()
	p := roundWeek()
	ready, want := prepared(t, p), solved(t, p, 5)
	want.Elapsed = 0
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			plan, err := ready.Solve(t.Context(), scheduler.Options{Seed: 1, Iterations: 5})
			plan.Elapsed = 0
			if diff := cmp.Diff(want, plan); err != nil || diff != "" {
				t.Errorf("%v: another plan than Solve's (-want +got):\n%s", err, diff)
			}
		})
	}
	all.Wait()
}
