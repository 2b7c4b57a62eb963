package scheduler_test

import (
	"flag"
	"strconv"
	"testing"
)

// full says whether the properties are run in full, as one step of CI does.
func full() bool {
	checks, err := strconv.Atoi(flag.Lookup("rapid.checks").Value.String())
	return err == nil && checks >= 1000
}

// leastOptimalPercent is how many of a hundred small Problems Solve must plan at the least cost there is.
const leastOptimalPercent = 99

// TestSolve_IsOptimalOnSmallProblems compares Solve with the oracle: no plan of Solve costs less than the oracle's, no bound
// is above it, and all but a few plans cost as little.
func TestSolve_IsOptimalOnSmallProblems(t *testing.T) {
	t.Parallel()
	problems, items := uint64(150), 5
	if full() {
		problems, items = 1000, 7
	}
	judged, missed, gaveUp := 0, 0, 0
	for seed := range problems {
		c := compare(t, seed, items, 1000)
		switch {
		case t.Failed():
			return
		case c.gaveUp:
			gaveUp++
		case !c.frozen:
			judged++
			if c.least < c.solved {
				missed++
				t.Logf("seed %d: Solve's plan costs %v, another one %v:\n%s\nthe cheaper one:\n%s", seed, c.solved, c.least, planText(c.plan), planText(c.best))
			}
		}
	}
	t.Logf("%d Problems judged, %d too large to exhaust: %d plans cost more than the least", judged, gaveUp, missed)
	if missed*100 > judged*(100-leastOptimalPercent) || judged*10 < int(problems)*8 {
		t.Errorf("%d of %d plans cost more than the least, %d Problems of %d were not judged: want at most %d %% of them dearer, and most judged",
			missed, judged, gaveUp, problems, 100-leastOptimalPercent)
	}
}
