package anneal

import "slices"

// fewer looks for a solution with one vehicle less until it has one, or the clock says that the time for it is over. The
// search must be over an instance of that many vehicles, and is left at the solution that it has found.
//
// Stops that find no place are counted each round: a round that leaves out stops which were seldom left out stays, so that the
// hard ones, whose counts grow, find their places at last (after Nagata and Bräysy 2009; Christiaens and Vanden Berghe 2020).
func (s *search) fewer(over func() bool, temperature float64) bool {
	missed := make([]int64, len(s.in.Stops))
	weigh := func(out []int32) int64 {
		sum := int64(0)
		for _, stop := range out {
			sum += 1 + missed[stop]
		}
		return sum
	}
	current := weigh(s.out)
	for len(s.out) > 0 {
		if over() {
			return false
		}
		s.change()
		now, cost := weigh(s.out), s.state.Cost()
		bar := s.cost + int64(temperature*s.random.ExpFloat64())
		if now < current || now == current && cost < bar || len(s.out) < len(s.before) {
			s.cost = cost
		} else {
			s.undo()
		}
		for _, stop := range s.out {
			missed[stop]++
		}
		current = weigh(s.out)
	}
	s.cost = s.price()
	s.keep()
	return true
}

// shrink takes over a solution less its route with the fewest stops, which are then out.
func (s *search) shrink(from *Solution) {
	var routes [][]int32
	for _, stops := range from.Routes {
		if len(stops) > 0 {
			routes = append(routes, stops)
		}
	}
	slices.SortStableFunc(routes, func(a, b []int32) int { return len(b) - len(a) })
	keep := min(len(routes)-1, len(s.in.Vehicles))
	less := Solution{Routes: make([][]int32, len(s.in.Vehicles)), Out: slices.Clone(from.Out)}
	copy(less.Routes, routes[:keep])
	for _, stops := range routes[keep:] {
		less.Out = append(less.Out, stops...)
	}
	s.load(&less)
	s.cost = s.state.Cost()
}
