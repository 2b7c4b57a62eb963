package civil

import (
	"slices"
	"time"
)

// Interval is the half-open stretch of instants [From, To).
type Interval struct {
	From Instant `json:"from"`
	To   Instant `json:"to"`
}

// Length returns the time from From to To; negative when turned round.
func (v Interval) Length() time.Duration { return v.To.Sub(v.From) }

// Empty says whether no instant lies in the interval.
func (v Interval) Empty() bool { return v.From >= v.To }

// Overlaps says whether some instant lies in both.
func (v Interval) Overlaps(other Interval) bool {
	return v.From < other.To && other.From < v.To && !v.Empty() && !other.Empty()
}

// Covers says whether every instant of the other lies in this one.
func (v Interval) Covers(other Interval) bool {
	return other.Empty() || v.From <= other.From && other.To <= v.To
}

// Merge sorts intervals, drops empty ones and joins those that overlap or touch.
// The argument is left as it is.
func Merge(intervals []Interval) []Interval {
	sorted := slices.DeleteFunc(slices.Clone(intervals), Interval.Empty)
	slices.SortFunc(sorted, func(a, b Interval) int { return int(a.From - b.From) })
	merged := sorted[:0]
	for _, v := range sorted {
		if n := len(merged); n > 0 && v.From <= merged[n-1].To {
			merged[n-1].To = max(merged[n-1].To, v.To)
			continue
		}
		merged = append(merged, v)
	}
	return merged
}

// Intersect returns the instants that lie in both lists; both must be merged.
func Intersect(a, b []Interval) []Interval {
	var both []Interval
	for i, j := 0, 0; i < len(a) && j < len(b); {
		v := Interval{max(a[i].From, b[j].From), min(a[i].To, b[j].To)}
		if !v.Empty() {
			both = append(both, v)
		}
		if a[i].To < b[j].To {
			i++
		} else {
			j++
		}
	}
	return both
}

// Subtract returns the instants of a that do not lie in b; both must be merged.
func Subtract(a, b []Interval) []Interval {
	var rest []Interval
	for _, v := range a {
		for _, cut := range b {
			if cut.To <= v.From || cut.From >= v.To {
				continue
			}
			if cut.From > v.From {
				rest = append(rest, Interval{v.From, cut.From})
			}
			v.From = max(v.From, cut.To)
		}
		if !v.Empty() {
			rest = append(rest, v)
		}
	}
	return rest
}
