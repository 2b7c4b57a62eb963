package course

import (
	"math"

	"vernation/scheduler/civil"
)

// lagAfter is the ideal lag to the next application after one on a day: the one chosen for the course, or what full reach and
// practice leave of it there.
func (t *timing) lagAfter(day civil.Date) int {
	if t.beyond || t.holds || len(t.over) == 1 {
		return t.lag
	}
	return max(t.least, min(t.lag, t.most(day)))
}

// most is the greatest lag after an application on a day at which full reach and practice's near end still hold, or the label's.
func (t *timing) most(day civil.Date) int {
	most := t.near
	if greatest := fullDays(t.greatest(day)); greatest > 0 && (most == 0 || greatest < most) {
		most = greatest
	}
	return max(most, t.least)
}

// latestAfter is the greatest lag after an application on a day at which the next is on time.
func (t *timing) latestAfter(day civil.Date) int {
	lag := t.lagAfter(day)
	if t.holds {
		return max(lag, t.far)
	}
	greatest := fullDays(t.greatest(day))
	switch {
	case greatest <= lag:
		return lag
	case t.far > 0:
		return max(lag, min(greatest, t.far))
	}
	return greatest
}

// untilClear goes on at the usual lags from a day until every brood is empty and returns the number of applications, those
// made before included, and the day of the last; ok is false where they pass the bound or a day on which no figure holds.
func (t *timing) untilClear(broods []*brood, day civil.Date, before int) (applications int, last civil.Date, ok bool) {
	last = day
	for n := before; n <= mostApplications; n++ {
		if allEmpty(broods) {
			return n, last, true
		}
		if !t.until.IsZero() && day >= t.until {
			return n, last, false
		}
		for _, b := range broods {
			b.apply(float64(day))
		}
		last, day = day, day.AddDays(t.lagAfter(day))
	}
	return mostApplications, last, false
}

// fresh counts the applications from a first one on all ages on a day, the first gap being given; ok as untilClear.
func (t *timing) fresh(day civil.Date, firstGap int) (applications int, ok bool) {
	broods := make([]*brood, len(t.models))
	for i, model := range t.models {
		broods[i] = newBrood(model, []float64{float64(day)})
	}
	applications, _, ok = t.untilClear(broods, day.AddDays(firstGap), 1)
	return applications, ok
}

func allEmpty(broods []*brood) bool {
	for _, b := range broods {
		if !b.empty() {
			return false
		}
	}
	return true
}

// days are those of so many applications at the usual lags, in days since the first.
func (t *timing) days(applications int) []int {
	days, on := make([]int, applications), t.from
	for i := range days {
		days[i] = on.DaysSince(t.from)
		on = on.AddDays(t.lagAfter(on))
	}
	return days
}

// outlasting is how many applications at the usual lags it takes until one lies on or after the day by which all eggs of the
// first have hatched: the last living find may be on that day.
func (t *timing) outlasting() int {
	hatched, ok := t.hatchedOn(t.from)
	if !ok {
		return mostApplications + 1
	}
	n := 1
	for on := t.from; on < hatched && n <= mostApplications; n++ {
		on = on.AddDays(t.lagAfter(on))
	}
	return n
}

// chooseLag takes the lag with the fewest applications among those that label, stages and practice allow; of equal
// ones the one that leaves the least by the model. Where none of them clears, a longer one of practice that does;
// where none at all does, the material holds down.
func (t *timing) chooseLag(usual func() cohort) {
	most := t.most(t.from)
	for _, s := range t.over {
		if s.from > t.from {
			most = max(most, t.most(s.from))
		}
	}
	fewest, equal := mostApplications+1, []int(nil)
	for lag := t.least; lag <= max(most, t.far); lag++ {
		t.lag, t.beyond = lag, lag > most
		if t.beyond && t.clears {
			break
		}
		n, ok := t.fresh(t.from, t.lagAfter(t.from))
		n = max(n, t.outlasting())
		switch {
		case !ok || n > fewest:
		case n < fewest:
			t.clears, fewest, equal = true, n, []int{lag}
		default:
			equal = append(equal, lag)
		}
	}
	least, best := math.Inf(1), t.least
	var model cohort
	for i, lag := range equal {
		t.lag, t.beyond = lag, lag > most
		survivors := 0.0
		if len(equal) > 1 {
			if i == 0 {
				model = usual()
			}
			survivors = model.run(1, t.days(fewest), 0).covered
		}
		if survivors <= least {
			best, least = lag, survivors
		}
	}
	t.lag, t.beyond = best, best > most
	if t.clears {
		t.ends = t.from.AddDays(last(t.days(fewest)))
	}
}

func last[T any](all []T) T { return all[len(all)-1] }

// holdDown repeats at the least lag; practice's far end is still on time.
func (t *timing) holdDown() { t.holds, t.lag, t.beyond = true, t.least, false }

// stands is the greatest lag after an application on a day that stands: up to practice's far end, where the proof still finds a
// completion at the usual lags. The broods are those after what was really done; nil is a first application on all ages. What
// holds down stands a whole brood of eggs longer than practice's far end: when they have hatched unmet, it begins anew.
func (t *timing) stands(day civil.Date, after []*brood) int {
	latest := t.latestAfter(day)
	if t.holds {
		egg := t.longestEgg(day)
		if t.slow == nil || egg > lastTime {
			egg = float64(t.lag)
		}
		return latest + fullDays(egg)
	}
	for lag := max(latest, t.far); lag > latest; lag-- {
		if after == nil {
			if _, ok := t.fresh(day, lag); ok {
				return lag
			}
			continue
		}
		if _, _, ok := t.untilClear(clones(after), day.AddDays(lag), 0); ok {
			return lag
		}
	}
	return latest
}

// standsAfter is the greatest lag that stands after an application on a day that is still to come.
func (t *timing) standsAfter(day civil.Date) int {
	key := day
	if len(t.over) == 1 {
		key = 0
	}
	lag, ok := t.standing[key]
	if !ok {
		lag = t.stands(day, nil)
		t.standing[key] = lag
	}
	return lag
}
