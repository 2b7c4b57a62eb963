package schedule

import (
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/tour"
)

// Place is one place for one leg of an item with what it adds to the cost.
type Place struct {
	Item     int32
	Way, Leg int16
	Tour     int32
	Stop     int32
	New      bool // a new stop before Stop; else Stop is joined
	Added    Cost
	Likely   Cost // of the sieve: what it adds where a day that waits gets no shorter
	OK       bool
}

// Best returns the cheapest place for a leg in a tour; OK is false when there is none, and why then says what spoke
// against the last one tried.
func (s *State) Best(item int32, way, leg int16, t int32) (best Place, why tour.Cause) {
	why = tour.Cause{Rule: tour.RuleTiming, Item: item, Area: instance.None, Text: tour.NotOnThatDay}
	if s.Tours[t].Frozen || !s.mayLie(item, way, leg, t) {
		return Place{}, why
	}
	for _, place := range s.everyPlace(item, way, leg, t) {
		why = s.try(place, &best, why)
	}
	return best, why
}

// mayLie says at once whether a leg could lie in a tour at all, by its technician and its days.
func (s *State) mayLie(item int32, way, leg int16, t int32) bool {
	it := &s.In.Items[item]
	w := &it.Ways[way]
	shift := &s.In.Shifts[t]
	if !w.Legs[leg].On[t] {
		return false
	}
	if leg == 1 {
		placed := &s.around.Placed[item]
		if placed.Tour == t {
			return true // the day may begin it at another time
		}
		return shift.End > max(placed.OpenFrom, placed.Ends) && shift.Start <= placed.Begins+w.MostAway
	}
	earliest, _, stands, known := s.walker.Days(item)
	if !known {
		return false
	}
	days := s.days[int(it.Site)*len(s.Tours)+int(t)]
	return days.last >= earliest && days.first <= stands && shift.Start <= it.Hi && shift.End > it.Lo
}

// try walks the tour with a place and keeps it when it is the cheapest so far.
func (s *State) try(place Place, best *Place, why tour.Cause) tour.Cause {
	if place.Added, place.OK = s.Try(place); !place.OK {
		return s.walker.Why()
	}
	if !best.OK || place.Added < best.Added {
		*best = place
	}
	return why
}

// Try walks the tour with a place and returns what it adds; ok is false where a rule speaks against it. Take then puts the
// place in without walking the tour again.
func (s *State) Try(place Place) (added Cost, ok bool) {
	s.scratch = s.with(s.scratch[:0], place)
	s.tried = nil
	walk, ok := s.walker.Walk(place.Tour, s.scratch)
	if !ok {
		return 0, false
	}
	s.tried = walk
	return walk.Cost - s.Tours[place.Tour].Walk.Cost, true
}

// Take puts the place in that Try has just found lawful.
func (s *State) Take(place Place) {
	s.set(place.Tour, slices.Clone(s.scratch), s.tried)
}

// with appends to stops those of a tour with a place put in. Only the changed stop gets new refs.
func (s *State) with(stops []tour.Stop, place Place) []tour.Stop {
	old := s.Tours[place.Tour].Stops
	stops = append(stops, old[:place.Stop]...)
	changed := tour.Stop{Site: s.In.Items[place.Item].Site, Fixed: instance.None}
	rest := old[place.Stop:]
	if !place.New {
		changed.Refs = slices.Clone(rest[0].Refs)
		rest = rest[1:]
	}
	for b := range s.In.Items[place.Item].Ways[place.Way].Legs[place.Leg].Blocks {
		changed.Refs = append(changed.Refs, tour.Ref{Item: place.Item, Way: place.Way, Leg: place.Leg, Block: int16(b)})
	}
	slices.SortStableFunc(changed.Refs, func(a, b tour.Ref) int { return tour.Before(s.In, a, b) })
	stops = append(stops, changed)
	return append(stops, rest...)
}

// Put puts a leg into its place. It reports false, and changes nothing, when the place is not lawful any more.
func (s *State) Put(place Place) bool {
	stops := s.with(nil, place)
	walk, ok := s.walker.Walk(place.Tour, stops)
	if !ok {
		return false
	}
	s.set(place.Tour, stops, walk)
	return true
}
