package anneal

import (
	"slices"

	"vernation/scheduler/internal/route"
)

// cross replaces routes around a seed by the routes of another solution that lie there, and puts back what then has no place.
func (s *search) cross(other *Solution) {
	of := vehicles(other, len(s.in.Stops))
	chosen := s.around(other, of)
	theirs := make([]bool, len(s.in.Stops))
	overlap := make([]int, len(s.in.Vehicles))
	for _, v := range chosen {
		for _, stop := range other.Routes[v] {
			theirs[stop] = true
			if ours := s.state.Of(stop); ours != route.None {
				overlap[ours]++
			}
		}
	}
	used := slices.Clone(s.state.Used())
	slices.Sort(used)
	slices.SortStableFunc(used, func(a, b int32) int { return overlap[b] - overlap[a] })
	free := used[:min(len(chosen), len(used))] // the routes that make room: those with most of their stops
	for _, v := range free {
		s.out = s.state.Cut(s.out, v, 0, s.state.Len(v))
	}
	for _, v := range used[len(free):] {
		for p := s.state.Len(v) - 1; p >= 0 && overlap[v] > 0; p-- {
			if theirs[s.state.StopAt(v, p)] {
				s.state.Cut(nil, v, p, p+1)
			}
		}
	}
	s.out = slices.DeleteFunc(s.out, func(stop int32) bool { return theirs[stop] })
	for i, v := range chosen {
		s.take(other.Routes[v], free, i)
	}
	s.order()
	s.recreate()
	s.cost = s.held()
	s.keep()
}

// take makes a list of stops the route of the i-th free vehicle, or of any other without stops.
func (s *search) take(stops []int32, free []int32, i int) {
	to := route.None
	if i < len(free) {
		to = free[i]
	}
	for v := 0; to == route.None && v < len(s.in.Vehicles); v++ {
		if s.state.Len(int32(v)) == 0 {
			to = int32(v)
		}
	}
	if to == route.None {
		s.out = append(s.out, stops...)
		return
	}
	for p, stop := range stops {
		s.state.Put(stop, to, p)
	}
}

// around draws how many routes of a solution are taken over, and which: those nearest to a seed.
func (s *search) around(other *Solution, of []int32) []int32 {
	want := 1 + s.random.IntN(max(1, other.Vehicles()/2))
	seed := int32(s.random.IntN(len(s.in.Stops)))
	var chosen []int32
	add := func(stop int32) {
		if v := of[stop]; v != route.None && len(chosen) < want && !slices.Contains(chosen, v) {
			chosen = append(chosen, v)
		}
	}
	add(seed)
	for _, stop := range s.near[seed] {
		add(stop)
	}
	return chosen
}

// vehicles lists by stop the vehicle that does it.
func vehicles(s *Solution, stops int) []int32 {
	of := make([]int32, stops)
	for i := range of {
		of[i] = route.None
	}
	for v := range s.Routes {
		for _, stop := range s.Routes[v] {
			of[stop] = int32(v)
		}
	}
	return of
}
