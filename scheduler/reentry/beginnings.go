package reentry

import (
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// Beginnings returns every instant of a span at which a treatment of an area may begin, as merged half-open
// intervals exact to the second: no hour with people in any area that it shuts overlaps its interval, unless
// the client agreed to shut that area then. How long the interval is depends on the beginning, since it
// is longer where any of the time after the end lies outside ventilation hours. A treatment that needs no interval may begin at any instant.
//
// It knows nothing of access, shifts or notices: intersect with Fitting for those.
func Beginnings(s site.Site, area site.AreaID, takes, keepOut, unventilated time.Duration, span civil.Interval) []civil.Interval {
	if span.Empty() {
		return nil
	}
	if keepOut <= 0 {
		return []civil.Interval{span}
	}
	takes = wholeSeconds(takes)
	short, long := takes+wholeSeconds(keepOut), takes+wholeSeconds(max(keepOut, unventilated))
	reach := civil.Interval{From: span.From, To: span.To.Add(long)}
	free := civil.Subtract([]civil.Interval{reach}, peopleIn(s, ShutWith(s, area), reach))
	// The time after the end, [t+takes, t+short), must lie in the air.
	aired := Fitting(areaOf(s, area).Ventilation.Open(s.Zone, reach), -takes, short)
	whole := []civil.Interval{span}
	inAir := civil.Intersect(Fitting(free, 0, short), civil.Intersect(aired, whole))
	rest := civil.Intersect(Fitting(free, 0, long), civil.Subtract(whole, aired))
	return civil.Merge(append(inAir, rest...))
}

// Fitting returns the instants t for which [t-before, t+after) lies wholly in one of the merged runs: with a site's
// access runs and what of the visit lies before and after the beginning, the beginnings that access allows. A
// negative before leaves out the first part after t. The stretch must not be empty.
func Fitting(runs []civil.Interval, before, after time.Duration) []civil.Interval {
	var beginnings []civil.Interval
	for _, run := range runs {
		// The last beginning itself fits, so the half-open interval ends a second later.
		fit := civil.Interval{From: run.From.Add(wholeSeconds(before)), To: run.To.Add(-wholeSeconds(after)) + 1}
		if !fit.Empty() {
			beginnings = append(beginnings, fit)
		}
	}
	return civil.Merge(beginnings)
}

// Occupied returns when people are in the areas that a treatment shuts while it shuts them, area by area as ShutWith lists
// them, without the hours for which the client agreed to shut that area: each is a reason why it may not begin then.
// It is empty exactly for the beginnings that Beginnings allows.
func Occupied(s site.Site, t Treatment) []KeepOut {
	var all []KeepOut
	during := Interval(s, t)
	if during.Empty() {
		return nil
	}
	for _, id := range ShutWith(s, t.Area) {
		for _, people := range peopleIn(s, []site.AreaID{id}, during) {
			all = append(all, KeepOut{id, people})
		}
	}
	return all
}

// peopleIn returns the hours with people in any of the areas, without those for which the client agreed to shut it.
func peopleIn(s site.Site, areas []site.AreaID, span civil.Interval) []civil.Interval {
	var hours []civil.Interval
	for _, id := range areas {
		var agreed []civil.Interval
		for _, shut := range s.Agreement.ShutAreas {
			if shut.Area == id {
				agreed = append(agreed, civil.Interval{From: shut.From, To: shut.To})
			}
		}
		people := areaOf(s, id).People.Open(s.Zone, span)
		hours = append(hours, civil.Subtract(people, civil.Merge(agreed))...)
	}
	return civil.Merge(hours)
}
