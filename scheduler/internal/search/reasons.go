package search

import (
	"math"

	"vernation/scheduler/internal/tour"
)

// reasons asks, for each item that is not planned, what it would cost to put it in, and what spoke against each tour.
func (s *search) reasons() []Why {
	why := make([]Why, len(s.in.Items))
	for _, item := range s.absent {
		if s.state.Placed(item).Placed {
			continue
		}
		found, ok := s.cheapest(item, math.MaxInt64/2, math.MaxInt)
		if ok {
			why[item].Added, why[item].Possible = found.added, true
			continue
		}
		for way := range s.in.Items[item].Ways {
			for t := range s.in.Shifts {
				if place, cause := s.state.Best(item, int16(way), 0, int32(t)); !place.OK && cause.Text != tour.NotOnThatDay {
					why[item].Causes = append(why[item].Causes, cause)
				}
			}
		}
	}
	return why
}
