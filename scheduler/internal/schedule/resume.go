package schedule

import (
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/tour"
)

// Given is one technician-day of a plan that was made before: its stops with the times that they were given. Of Walk the
// times, pieces and mixes are read; treatments and cost are derived anew.
type Given struct {
	Tour  int32
	Stops []tour.Stop
	Walk  tour.Walk
}

// Resume returns the state of a plan that was made before, without walking it: its times are taken as they are. Tours that
// are not given hold nothing but their fixed visits.
func Resume(in *instance.Instance, given []Given) *State {
	s := New(in)
	for i := range given {
		g := &given[i]
		if s.Tours[g.Tour].Frozen {
			continue
		}
		s.walker.Treat(g.Tour, g.Stops, &g.Walk)
		s.changes++
		s.clear(g.Tour)
		s.Tours[g.Tour] = Tour{Stops: g.Stops, Walk: g.Walk, Version: s.changes}
		s.publish(g.Tour)
	}
	s.cost = 0
	for t := range s.Tours { // after all are placed: prices count from one another
		if tour := &s.Tours[t]; !tour.Frozen {
			s.walker.Price(int32(t), tour.Stops, &tour.Walk)
		}
		s.cost += s.Tours[t].Walk.Cost
	}
	return s
}

// With returns the state over another instance, of the same items, tours and areas, that shares nothing that changes.
func (s *State) With(in *instance.Instance) *State {
	other := &State{
		In: in, Tours: slices.Clone(s.Tours), changes: s.changes, cost: s.cost, epoch: 1, kept: make([]uint32, len(s.Tours)), days: daysOf(in), towards: s.towards,
		around: tour.Around{
			Shut: make([][]tour.Stretch, len(s.around.Shut)), Present: make([][]tour.Stretch, len(s.around.Present)),
			Placed: slices.Clone(s.around.Placed), Breaks: make([][]tour.Stretch, len(s.around.Breaks)),
			Break: slices.Clone(s.around.Break),
		},
	}
	for site := range s.around.Breaks {
		other.around.Breaks[site] = slices.Clone(s.around.Breaks[site])
	}
	for area := range s.around.Shut {
		other.around.Shut[area], other.around.Present[area] = slices.Clone(s.around.Shut[area]), slices.Clone(s.around.Present[area])
	}
	other.walker = tour.NewWalker(in, &other.around)
	return other
}

// Lift takes one item out and leaves everything else where it is; what counts from it keeps its place and has no days until
// it is back. It reports false, and changes nothing, where a tour does not hold without it.
func (s *State) Lift(item int32) bool {
	placed := s.around.Placed[item]
	if !placed.Placed {
		return true
	}
	before := s.Snapshot()
	out := make([]bool, len(s.In.Items))
	out[item] = true
	tours := []int32{placed.Tour}
	if placed.Returned {
		tours = append(tours, placed.BackTour)
	}
	for _, bond := range s.In.Items[item].Bonds { // services from which it took plants last longer
		if other := &s.around.Placed[bond.To]; bond.Kind == instance.Replaces && bond.From == item && other.Placed {
			tours = append(tours, other.Tour)
		}
	}
	s.around.Placed[item] = tour.Times{} // services last as long as without it
	slices.Sort(tours)
	for _, t := range slices.Compact(tours) {
		stops := s.without(t, out)
		walk, ok := s.walker.Walk(t, stops)
		if !ok || s.besideFixed(t, stops) {
			s.Restore(before)
			return false
		}
		s.set(t, stops, walk)
	}
	return true
}

// Back puts a tour as it stood before back in, without walking it.
func (s *State) Back(t int32, was Tour) { s.set(t, was.Stops, &was.Walk) }

// Reprice prices a tour anew at the times that it has: items in it count from others that moved.
func (s *State) Reprice(t int32) {
	s.keep(t)
	s.changes++
	walk := s.Tours[t].Walk.Clone() // snapshots hold the one before
	s.walker.Price(t, s.Tours[t].Stops, &walk)
	s.cost += walk.Cost - s.Tours[t].Walk.Cost
	s.Tours[t].Walk, s.Tours[t].Version = walk, s.changes
}

// Days returns the earliest, latest and stands-until day of an item; known is false while the item that it counts from is
// not placed.
func (s *State) Days(item int32) (earliest, latest, stands Day, known bool) {
	return s.walker.Days(item)
}

// DayPrice returns what the day of a planned item costs: its price and what it is late.
func (s *State) DayPrice(item int32) Cost { return s.walker.DayPrice(item) }

// Allows says whether every rule between a placed item and others holds where all of them stand.
func (s *State) Allows(item int32) bool { return s.walker.Allows(item) }

// CostOf returns what a tour cost when the snapshot was taken.
func (s *Snapshot) CostOf(t int32) Cost { return s.tours[t].Walk.Cost }

// Causes puts a leg into every place of a tour and returns what spoke against each, once; empty where one is lawful, and
// where the leg cannot lie in the tour at all.
func (s *State) Causes(item int32, way, leg int16, t int32) []tour.Cause {
	if s.Tours[t].Frozen {
		return []tour.Cause{{Rule: tour.RulePinned, Item: instance.None, Area: instance.None, Text: tour.FixedVisitInTheWay}}
	}
	if !s.mayLie(item, way, leg, t) {
		return nil
	}
	var causes []tour.Cause
	for _, place := range s.everyPlace(item, way, leg, t) {
		if _, ok := s.Try(place); ok {
			return nil
		}
		if why := s.walker.Why(); !slices.Contains(causes, why) {
			causes = append(causes, why)
		}
	}
	return causes
}
