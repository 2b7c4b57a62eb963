package civil_test

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler/civil"
)

// reach is the number of instants [0, reach) on which the operations are tried one by one.
const reach = 40

func drawIntervals(t *rapid.T, name string) []civil.Interval {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) civil.Interval {
		return civil.Interval{
			From: civil.Instant(rapid.Int64Range(0, reach-1).Draw(t, "from")),
			To:   civil.Instant(rapid.Int64Range(0, reach-1).Draw(t, "to")), // empty or turned round as well
		}
	}), 0, 8).Draw(t, name)
}

// in says by looking at each interval whether an instant lies in one of them.
func in(intervals []civil.Interval, i civil.Instant) bool {
	return slices.ContainsFunc(intervals, func(v civil.Interval) bool { return v.From <= i && i < v.To })
}

func checkMerged(t *rapid.T, what string, list []civil.Interval, want func(civil.Instant) bool) {
	for i := civil.Instant(-1); i <= reach; i++ {
		if in(list, i) != want(i) {
			t.Fatalf("%s %v: instant %d in it is %v", what, list, i, in(list, i))
		}
	}
	for i, v := range list {
		if v.Empty() || i > 0 && list[i-1].To >= v.From {
			t.Fatalf("%s %v: not sorted, apart and without empty ones", what, list)
		}
	}
}

func TestMerge_HoldsTheSameInstants(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := drawIntervals(t, "a")
		before := slices.Clone(a)
		checkMerged(t, "merged", civil.Merge(a), func(i civil.Instant) bool { return in(a, i) })
		if !slices.Equal(a, before) {
			t.Fatalf("argument changed from %v to %v", before, a)
		}
	})
}

func TestIntersect_HoldsInstantsOfBoth(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a, b := civil.Merge(drawIntervals(t, "a")), civil.Merge(drawIntervals(t, "b"))
		checkMerged(t, "both", civil.Intersect(a, b), func(i civil.Instant) bool { return in(a, i) && in(b, i) })
	})
}

func TestSubtract_HoldsInstantsOfTheFirstOnly(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a, b := civil.Merge(drawIntervals(t, "a")), civil.Merge(drawIntervals(t, "b"))
		before := slices.Clone(a)
		checkMerged(t, "rest", civil.Subtract(a, b), func(i civil.Instant) bool { return in(a, i) && !in(b, i) })
		if !slices.Equal(a, before) {
			t.Fatalf("argument changed from %v to %v", before, a)
		}
	})
}

func TestInterval_OverlapsAndCoversByInstants(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) civil.Interval {
			return civil.Interval{
				From: civil.Instant(rapid.Int64Range(0, 9).Draw(t, name+" from")),
				To:   civil.Instant(rapid.Int64Range(0, 9).Draw(t, name+" to")),
			}
		}
		a, b := draw("a"), draw("b")
		overlaps, covers := false, true
		for i := civil.Instant(0); i < 10; i++ {
			inA, inB := in([]civil.Interval{a}, i), in([]civil.Interval{b}, i)
			overlaps = overlaps || inA && inB
			covers = covers && (inA || !inB)
		}
		if a.Overlaps(b) != overlaps || a.Covers(b) != covers {
			t.Fatalf("%v and %v: overlaps %v, covers %v, want %v, %v", a, b, a.Overlaps(b), a.Covers(b), overlaps, covers)
		}
	})
}

func TestInterval_TouchingIsNotOverlapping(t *testing.T) {
	t.Parallel()
	morning, noon := civil.Interval{From: 10, To: 20}, civil.Interval{From: 20, To: 30}
	if morning.Overlaps(noon) || noon.Overlaps(morning) {
		t.Error("[10, 20) and [20, 30) overlap")
	}
	if got := civil.Merge([]civil.Interval{noon, morning}); !slices.Equal(got, []civil.Interval{{From: 10, To: 30}}) {
		t.Errorf("merged to %v", got)
	}
}

func TestInstant_IsCutToWholeSeconds(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, time.March, 2, 17, 0, 0, 999_999_999, time.UTC)
	if got := civil.InstantOf(at); got.String() != "2026-03-02T17:00:00Z" {
		t.Errorf("cut to %v", got)
	}
	if got := mustInstant(t, "2026-03-02T12:00:00.5-05:00"); got != civil.InstantOf(at) {
		t.Errorf("read as %v", got)
	}
	later := civil.InstantOf(at).Add(90 * time.Minute)
	if later.Sub(civil.InstantOf(at)) != 90*time.Minute || later.String() != "2026-03-02T18:30:00Z" {
		t.Errorf("90 minutes later is %v", later)
	}
}
