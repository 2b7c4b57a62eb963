package scheduler

// What the property tests of the checker's own interval arithmetic look at.
var (
	OpenRunsForTest = openRuns
	JoinedForTest   = joined
	OutsideForTest  = outside
)
