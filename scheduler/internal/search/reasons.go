package search

import (
	"math"

	"vernation/scheduler/internal/tour"
)

// How many days are walked to say what speaks against all items that are not planned: as many, and as many once there is a hurry.
// Sieving so many places takes as long as walking one day.
// A walk of so many items counts as one more.
const walksForReasons, walksInHurry, placesAWalk, itemsAWalk = 20000, 300, 16, 64

// reasons asks, for each item that is not planned, what it would cost to put it in, and what spoke against each tour. Where
// much is not planned, it looks at fewer tours of each.
func (s *search) reasons(hurry func() bool) []Why {
	s.stop = func() bool { return false }
	why := make([]Why, len(s.in.Items))
	left, hurries := walksForReasons, false
	items := len(s.absent)
	dear := 1 + (len(s.in.Items)-items)/(itemsAWalk*max(1, len(s.in.Shifts)))
	for i, item := range s.absent {
		if !hurries && hurry() {
			left, hurries = min(left, walksInHurry), true
		}
		if hurries && left <= 0 {
			why[item].Unasked = true
			continue
		}
		left -= dear * s.reason(item, &why[item], max(1, left/(dear*(items-i))))
	}
	return why
}

// reason does so for one item and returns how many days it has walked, about as many as it may.
func (s *search) reason(item int32, why *Why, most int) (walked int) {
	found, ok := s.cheapest(item, math.MaxInt64/2, most)
	if walked = min(most, len(s.places)) + len(s.places)/placesAWalk; ok {
		why.Added, why.Possible = found.added, true
		return walked
	}
	for way := range s.in.Items[item].Ways {
		for t := range s.in.Shifts {
			if walked > most && len(why.Causes) > 0 {
				return walked
			}
			place, cause := s.state.Best(item, int16(way), 0, int32(t))
			if !place.OK && cause.Text != tour.NotOnThatDay {
				why.Causes = append(why.Causes, cause)
				walked += 1 + len(s.state.Tours[t].Stops)
			}
		}
	}
	return walked
}
