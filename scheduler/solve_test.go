package scheduler_test

import "testing"

func TestSolve_Smoke(t *testing.T) {
	t.Log("\n" + planText(solved(t, roundWeek(), 50)))
}
