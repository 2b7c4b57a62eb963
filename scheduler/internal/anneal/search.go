package anneal

import (
	"math"
	"math/rand/v2"

	"vernation/scheduler/internal/route"
)

// The settings of a search. Temperatures are in units of the mean arc from a stop to its ten nearest.
const (
	hot, warm, cold = 3.0, 0.6, 0.03
	removed         = 10.0 // mean number of stops taken out in a round
	longest         = 10.0 // stops of a string
	blink           = 0.01 // share of places that are passed over
	stay            = 1e12 // the price of a stop without a place, above every cost
)

// ground is what a search is over.
type ground struct {
	in   *route.Instance
	near [][]int32 // by stop: others, nearest first
	unit float64   // of temperature
}

// search is one search over a state of its own.
type search struct {
	ground
	state   *route.State
	random  *rand.Rand
	out     []int32 // stops without a place
	before  []int32 // out, as it was
	cost    int64   // of the current state, with what stays out
	missing int64   // the price of a stop without a place as the search goes by it
	best    Solution
	hit     []uint32 // by vehicle: round in which it was ruined
	round   uint32
	keys    []int64
}

// Solution is a set of routes by vehicle, each its stops in order.
type Solution struct {
	Routes [][]int32
	Out    []int32 // stops that fit nowhere
	Cost   int64
}

// Clone returns a copy that shares nothing.
func (s *Solution) Clone() Solution {
	c := Solution{Cost: s.Cost, Out: append([]int32(nil), s.Out...), Routes: make([][]int32, len(s.Routes))}
	for v := range s.Routes {
		c.Routes[v] = append([]int32(nil), s.Routes[v]...)
	}
	return c
}

// Vehicles counts the routes with stops.
func (s *Solution) Vehicles() int {
	count := 0
	for _, stops := range s.Routes {
		if len(stops) > 0 {
			count++
		}
	}
	return count
}

// newSearch returns a search whose stops are all out.
func newSearch(g ground, seed uint64) *search {
	s := &search{
		ground: g, state: route.New(g.in), random: rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15)),
		missing: stay,
		hit:     make([]uint32, len(g.in.Vehicles)), keys: make([]int64, len(g.in.Stops)),
	}
	s.state.Blinking(blink, seed*0x2545f4914f6cdd1d+1)
	for stop := range g.in.Stops {
		s.out = append(s.out, int32(stop))
	}
	return s
}

// construct puts the stops in one by one.
func (s *search) construct() {
	s.order()
	s.recreate()
	s.cost = s.held()
	s.keep()
}

// unit is the mean arc from a stop to its ten nearest.
func unit(in *route.Instance, near [][]int32) float64 {
	sum, count := 0.0, 0.0
	for u := range near {
		for _, v := range near[u][:min(10, len(near[u]))] {
			sum += float64(in.Cost[0][in.Stops[u].Place*in.Places+in.Stops[v].Place])
			count++
		}
	}
	return max(1, sum/max(1, count))
}

// price is the cost of the state with what stays out.
func (s *search) price() int64 { return s.state.Cost() + int64(len(s.out))*stay }

// held is the cost of the state as the search goes by it.
func (s *search) held() int64 { return s.state.Cost() + int64(len(s.out))*s.missing }

// keep makes the state the best.
func (s *search) keep() {
	s.best.Cost = s.price()
	s.best.Out = append(s.best.Out[:0], s.out...)
	if s.best.Routes == nil {
		s.best.Routes = make([][]int32, len(s.in.Vehicles))
	}
	for v := range s.best.Routes {
		s.best.Routes[v] = s.state.Stops(s.best.Routes[v][:0], int32(v))
	}
}

// load makes a solution the state.
func (s *search) load(from *Solution) {
	s.state.Clear()
	for v, stops := range from.Routes {
		for i, stop := range stops {
			s.state.Put(stop, int32(v), i)
		}
	}
	s.out = append(s.out[:0], from.Out...)
	s.cost = s.held()
	s.keep()
}

// try ruins and recreates once at a temperature in units of cost.
func (s *search) try(temperature float64) {
	s.change()
	cost := s.held()
	if float64(cost) >= float64(s.cost)-temperature*math.Log(s.random.Float64()) {
		s.undo()
		return
	}
	s.cost = cost
	if price := s.price(); price < s.best.Cost {
		s.keep()
	}
}

// change ruins and recreates.
func (s *search) change() {
	s.round++
	s.state.Begin()
	s.before = append(s.before[:0], s.out...)
	s.ruin()
	s.order()
	s.recreate()
}

// undo takes the last change back.
func (s *search) undo() {
	s.state.Undo()
	s.out = append(s.out[:0], s.before...)
}

// recreate puts the stops that are out back in, in their order.
func (s *search) recreate() {
	left := s.out[:0]
	for _, stop := range s.out {
		if place := s.state.Best(stop); place.Vehicle != route.None {
			s.state.Put(stop, place.Vehicle, place.Position)
		} else {
			left = append(left, stop)
		}
	}
	s.out = left
}
