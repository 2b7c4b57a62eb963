package anneal

import (
	"math"
	"math/rand/v2"
	"slices"

	"vernation/scheduler/internal/route"
)

// Crossed builds a solution from the routes of one parent and some neighbouring routes of another.
func (s *Search) Load(from *Solution) {
	for _, v := range slices.Clone(s.state.Used()) {
		s.state.Cut(nil, v, 0, s.state.Len(v))
	}
	for v, stops := range from.Routes {
		for i, stop := range stops {
			s.state.Put(stop, int32(v), i)
		}
	}
	s.out = append(s.out[:0], from.Out...)
	s.cost = s.price()
}

// Cross replaces routes around a seed by those of another solution, and puts back what then has no place.
func (s *Search) Cross(other *Solution) {
	seed := int32(s.random.IntN(len(s.in.Stops)))
	of := make([]int32, len(s.in.Stops))
	for i := range of {
		of[i] = -1
	}
	routes := 0
	for v, stops := range other.Routes {
		if len(stops) > 0 {
			routes++
		}
		for _, stop := range stops {
			of[stop] = int32(v)
		}
	}
	want := 1 + s.random.IntN(max(1, routes/2))
	var chosen []int32
	for _, stop := range append([]int32{seed}, s.near[seed]...) {
		if v := of[stop]; v >= 0 && !slices.Contains(chosen, v) {
			chosen = append(chosen, v)
			if len(chosen) == want {
				break
			}
		}
	}
	s.state.Begin()
	in := map[int32]bool{}
	overlap := make([]int, len(s.in.Vehicles))
	for _, v := range chosen {
		for _, stop := range other.Routes[v] {
			in[stop] = true
			if o := s.state.Of(stop); o >= 0 {
				overlap[o]++
			}
		}
	}
	used := slices.Clone(s.state.Used())
	slices.Sort(used)
	slices.SortStableFunc(used, func(a, b int32) int { return overlap[b] - overlap[a] })
	for i, v := range used {
		if i < len(chosen) {
			s.out = s.state.Cut(s.out, v, 0, s.state.Len(v))
			continue
		}
		if overlap[v] == 0 {
			continue
		}
		for p := s.state.Len(v) - 1; p >= 0; p-- {
			if in[s.state.StopAt(v, p)] {
				s.state.Cut(nil, v, p, p+1)
			}
		}
	}
	s.out = slices.DeleteFunc(s.out, func(stop int32) bool { return in[stop] })
	for i, v := range chosen {
		_ = v
		to := used[min(i, len(used)-1)]
		if s.state.Len(to) > 0 {
			// more routes in the other than here: the next empty vehicle
			for e := range s.in.Vehicles {
				if s.state.Len(int32(e)) == 0 {
					to = int32(e)
					break
				}
			}
		}
		for p, stop := range other.Routes[v] {
			s.state.Put(stop, to, p)
		}
	}
	s.order()
	s.recreate()
	s.cost = s.price()
}

// Clone copies a solution.
func (s *Solution) Clone() Solution {
	c := Solution{Cost: s.Cost, Out: slices.Clone(s.Out)}
	for _, r := range s.Routes {
		c.Routes = append(c.Routes, slices.Clone(r))
	}
	return c
}

// Cool runs rounds from hot to cold.
func (s *Search) Cool(rounds int, hot, cold float64) {
	for i := range rounds {
		s.Round(hot * math.Pow(cold/hot, float64(i)/float64(rounds)))
	}
}

// Breed searches by a population.
func Breed(in *route.Instance, near [][]int32, config Config, pop, first, each int, warm float64, total int) *Solution {
	random := rand.New(rand.NewPCG(config.Seed, 77))
	var all []Solution
	var best Solution
	best.Cost = math.MaxInt64
	done := 0
	s := New(in, near, config)
	for range pop {
		config.Seed = config.Seed*31 + 17
		s = New(in, near, config)
		s.Cool(first, config.Hot, config.Cold)
		done += first
		all = append(all, s.best.Clone())
		if s.best.Cost < best.Cost {
			best = s.best.Clone()
		}
	}
	for done < total {
		a := random.IntN(len(all))
		b := random.IntN(len(all) - 1)
		if b >= a {
			b++
		}
		s.Load(&all[a])
		s.Cross(&all[b])
		s.keep()
		s.Cool(each, warm, config.Cold)
		done += each
		child := s.best.Clone()
		if child.Cost < best.Cost {
			best = child.Clone()
		}
		same := slices.ContainsFunc(all, func(x Solution) bool { return x.Cost == child.Cost })
		if same {
			continue
		}
		// replaces the worse parent, when better than it
		worse := a
		if all[b].Cost > all[a].Cost {
			worse = b
		}
		if child.Cost < all[worse].Cost {
			all[worse] = child
		}
	}
	return &best
}
