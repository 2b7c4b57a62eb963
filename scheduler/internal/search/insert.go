package search

import (
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/internal/tour"
)

// Cost is instance.Cost.
type Cost = instance.Cost

// entry is the remembered best place of one way of an item in one tour.
type entry struct {
	tourVersion, siteVersion uint32
	known                    bool
	place                    schedule.Place
	why                      tour.Cause
}

// inserter puts items into a state.
type inserter struct {
	state *schedule.State
	in    *instance.Instance
	cache [][]entry // by item: way*len(tours)+tour
	stop  func() bool
	// bold puts an item in before those that only come before it when both are planned: a look that took its own cheapest
	// place first may leave none for the application after it.
	bold bool
}

func newInserter(state *schedule.State, stop func() bool) *inserter {
	in := state.In
	ins := &inserter{state: state, in: in, cache: make([][]entry, len(in.Items)), stop: stop}
	for item := range in.Items {
		ins.cache[item] = make([]entry, len(in.Items[item].Ways)*len(in.Shifts))
	}
	return ins
}

// at returns the best place of the first leg of a way in a tour, remembered while neither tour nor site changes.
func (ins *inserter) at(item int32, way int16, t int32) *entry {
	e := &ins.cache[item][int(way)*len(ins.in.Shifts)+int(t)]
	site := ins.in.Items[item].Site
	tourVersion, siteVersion := ins.state.Tours[t].Version, ins.state.SiteVersion[site]
	if !e.known || e.tourVersion != tourVersion || e.siteVersion != siteVersion {
		place, why := ins.state.Best(item, way, 0, t)
		*e = entry{tourVersion, siteVersion, true, place, why}
	}
	return e
}

// options lists the places of an item, cheapest first; ties by way and tour.
func (ins *inserter) options(item int32) []schedule.Place {
	var places []schedule.Place
	for way := range ins.in.Items[item].Ways {
		for t := range ins.in.Shifts {
			if e := ins.at(item, int16(way), int32(t)); e.place.OK {
				places = append(places, e.place)
			}
		}
	}
	slices.SortStableFunc(places, func(a, b schedule.Place) int {
		switch {
		case a.Added < b.Added:
			return -1
		case a.Added > b.Added:
			return 1
		}
		return 0
	})
	return places
}

// waits says whether an item must not be tried yet: something before it is still to be tried, or was given up and is needed.
func (ins *inserter) waits(item int32, given []bool) (waits, never bool) {
	for _, before := range ins.in.Items[item].Before {
		switch {
		case ins.state.Placed(before.Item).Placed:
		case before.Hard && given[before.Item]:
			never = true
		case !given[before.Item] && (before.Hard || !ins.bold):
			waits = true
		}
	}
	return waits, never
}

// fill puts in every item that is worth it. Items that found no place are tried again after others went in, since a
// watering may be what a spray waits for.
func (ins *inserter) fill() {
	given := make([]bool, len(ins.in.Items))
	for again := true; again; {
		placedAny := ins.round(given)
		again = false
		for item := range given {
			if given[item] && placedAny && !ins.stop() && ins.mayGain(int32(item)) {
				given[item], again = false, true
			}
		}
	}
}

// mayGain says whether an item that was given up could be put in by what went in since.
func (ins *inserter) mayGain(item int32) bool {
	if len(ins.in.Items[item].Ways) == 0 || ins.in.Items[item].Outside {
		return false
	}
	for _, before := range ins.in.Items[item].Before {
		if before.Hard && !ins.state.Placed(before.Item).Placed {
			return false
		}
	}
	places := ins.options(item)
	return len(places) > 0 && places[0].Added < ins.saving(item)
}

// round puts in items by regret until none is left to try; given marks those without a place.
func (ins *inserter) round(given []bool) (placedAny bool) {
	impatient := false // nothing else is left: what only prefers to wait goes ahead
	for !ins.stop() {
		next, found, waiting := instance.None, false, false
		var bestRegret, bestAdded Cost
		for item := range ins.in.Items {
			i := int32(item)
			if given[i] || ins.state.Placed(i).Placed {
				continue
			}
			if ins.stop() {
				return placedAny
			}
			waits, never := ins.waits(i, given)
			if never || len(ins.in.Items[i].Ways) == 0 || ins.in.Items[i].Outside {
				given[i] = true
				found = true // others may have waited for this verdict
				continue
			}
			if waits && !impatient {
				waiting = true
				continue
			}
			regret, added, ok := ins.regret(i)
			if !ok {
				given[i] = true
				found = true
				continue
			}
			if next == instance.None || regret > bestRegret || regret == bestRegret && added < bestAdded {
				next, bestRegret, bestAdded = i, regret, added
			}
		}
		if next == instance.None {
			if !found && !waiting {
				return placedAny
			}
			impatient = !found && waiting
			continue
		}
		impatient = false
		if ins.put(next) {
			placedAny = true
		} else {
			given[next] = true
		}
	}
	return placedAny
}

// regret is what an item loses when it misses its best technician-day: the second best, or leaving it out.
func (ins *inserter) regret(item int32) (regret, added Cost, ok bool) {
	places := ins.options(item)
	saving := ins.saving(item)
	if len(places) == 0 || places[0].Added >= saving {
		return 0, 0, false
	}
	second := saving
	for _, place := range places[1:] {
		if place.Tour != places[0].Tour {
			second = min(second, place.Added)
			break
		}
	}
	return second - places[0].Added, places[0].Added, true
}

// saving is what putting an item in may save at most: its own price of being unplanned and that of all that waits for it.
func (ins *inserter) saving(item int32) Cost {
	saving, _ := ins.state.Unplanned(item)
	for _, bond := range ins.in.Items[item].Bonds {
		if bond.From == item && bond.Kind == instance.DueAfter {
			saving += ins.saving(bond.To)
		}
	}
	return saving
}

// triedReturns bounds how many places of a carry out are tried with every carry back.
const triedReturns = 8

// put puts an item into its cheapest place; a way with a carry back is planned with it or not at all.
func (ins *inserter) put(item int32) bool {
	best, _, found := ins.cheapest(item, ins.saving(item))
	if !found {
		return false
	}
	before := ins.state.Snapshot()
	if !ins.state.Put(best[0]) || best[1].OK && !ins.state.Put(best[1]) {
		ins.state.Restore(before)
		return false
	}
	return true
}

// cheapest finds the cheapest places of an item, one for each leg of its way, that add less than a limit.
func (ins *inserter) cheapest(item int32, limit Cost) (best [2]schedule.Place, cost Cost, found bool) {
	before := ins.state.Snapshot()
	tried := 0
	for _, place := range ins.options(item) {
		if place.Added >= limit {
			break
		}
		if len(ins.in.Items[item].Ways[place.Way].Legs) == 1 {
			return [2]schedule.Place{place}, place.Added, true
		}
		if tried++; tried > triedReturns || !ins.state.Put(place) {
			continue
		}
		back := ins.back(item, place.Way)
		ins.state.Restore(before)
		if added := place.Added + back.Added; back.OK && added < limit {
			best, cost, found = [2]schedule.Place{place, back}, added, true
			limit = added
		}
	}
	return best, cost, found
}

// back returns the cheapest place of the second leg of a way whose first is in.
func (ins *inserter) back(item int32, way int16) (best schedule.Place) {
	for t := range ins.in.Shifts {
		if place, _ := ins.state.Best(item, way, 1, int32(t)); place.OK && (!best.OK || place.Added < best.Added) {
			best = place
		}
	}
	return best
}
