package scheduler

import (
	"cmp"
	"slices"

	"vernation/scheduler/civil"
)

// The checker's own reading of intervals and calendars. It repeats on purpose what Solve computes elsewhere:
// a slip in one of the two shows as a disagreement.

// mostCalendarDays bounds how far a calendar is read, whatever the instants of a plan say.
const mostCalendarDays = 800

// none says whether no instant lies in the span.
func none(v span) bool { return v.From >= v.To }

// meet returns the instants that lie in both; none(meet(a, b)) when there are none.
func meet(a, b span) span { return span{From: max(a.From, b.From), To: min(a.To, b.To)} }

// overlap says whether some instant lies in both.
func overlap(a, b span) bool { return !none(a) && !none(b) && !none(meet(a, b)) }

// within says whether every instant of the inner lies in the outer.
func within(inner, outer span) bool { return inner.From >= outer.From && inner.To <= outer.To }

// joined returns the spans sorted, those that overlap or touch made one, empty ones left out.
func joined(spans []span) []span {
	sorted := slices.Clone(spans)
	slices.SortFunc(sorted, func(a, b span) int { return cmp.Compare(a.From, b.From) })
	var whole []span
	for _, v := range sorted {
		if none(v) {
			continue
		}
		if last := len(whole) - 1; last >= 0 && v.From <= whole[last].To {
			whole[last].To = max(whole[last].To, v.To)
		} else {
			whole = append(whole, v)
		}
	}
	return whole
}

// inOne says whether one of the runs holds the whole span.
func inOne(v span, runs []span) bool {
	return slices.ContainsFunc(runs, func(run span) bool { return within(v, run) })
}

// outside returns the parts of a span that lie in none of the runs; the runs must be joined.
func outside(v span, runs []span) []span {
	var rest []span
	from := v.From
	for _, run := range runs {
		if !overlap(v, run) {
			continue
		}
		if gap := (span{From: from, To: run.From}); !none(gap) {
			rest = append(rest, gap)
		}
		from = run.To
	}
	if gap := (span{From: from, To: v.To}); !none(gap) {
		rest = append(rest, gap)
	}
	return rest
}

// openRuns returns the unbroken runs of open instants of a calendar that may meet a span, whole, not cut to it;
// a calendar that is always open gives the span itself.
func openRuns(calendar civil.Calendar, zone civil.Zone, v span) []span {
	if calendar.Always {
		return []span{v}
	}
	// A window that opened two days before closes by 48:00 of its wall clock.
	first, last := zone.DateOf(v.From).AddDays(-2), zone.DateOf(v.To).AddDays(1)
	last = min(last, first.AddDays(mostCalendarDays))
	var runs []span
	for day := first; day <= last; day++ {
		for _, w := range opensOn(calendar, day) {
			runs = append(runs, zone.Runs(day, w)...)
		}
	}
	return joined(runs)
}

// opensOn returns the windows that open on a date: those of the date's exception where there is one, else the week's.
func opensOn(calendar civil.Calendar, day civil.Date) []civil.Window {
	for _, exception := range calendar.Exceptions {
		if exception.On == day {
			return exception.Windows
		}
	}
	var windows []civil.Window
	for _, weekly := range calendar.Weekly {
		if slices.Contains(weekly.Days, day.Weekday()) {
			windows = append(windows, weekly.Window)
		}
	}
	return windows
}

// daily returns the runs of windows that open on every day, near a span.
func daily(windows []civil.Window, zone civil.Zone, v span) []span {
	first, last := zone.DateOf(v.From).AddDays(-2), zone.DateOf(v.To).AddDays(1)
	last = min(last, first.AddDays(mostCalendarDays))
	var runs []span
	for day := first; day <= last; day++ {
		for _, w := range windows {
			runs = append(runs, zone.Runs(day, w)...)
		}
	}
	return joined(runs)
}
