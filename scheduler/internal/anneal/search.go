// Package anneal answers: what is the cheapest set of routes that a budget finds?
//
// It takes strings of neighbouring stops out of neighbouring routes and puts them back one by one at their cheapest places,
// passing some over (Christiaens and Vanden Berghe 2020, Transp. Sci. 54:417); what comes of it is kept by simulated annealing.
package anneal

import (
	"math"
	"math/rand/v2"

	"vernation/scheduler/internal/route"
)

// Search is one search over a state of its own.
type Search struct {
	in     *route.Instance
	state  *route.State
	random *rand.Rand
	near   [][]int32 // by stop: others, nearest first
	out    []int32   // stops without a place
	missed []int64   // by stop: how often it found no place
	cost   int64     // of the current state, with what stays out
	best   Solution
	hit    []uint32 // by vehicle: round in which it was ruined
	round  uint32
	keys   []int64
	config Config
}

// Config are the settings of a search.
type Config struct {
	Seed uint64
	// Hot and Cold are the temperatures at both ends, in units of the mean arc between near stops.
	Hot, Cold float64
	// Removed is the mean number of stops taken out in a round, String the longest string.
	Removed, String float64
	Blink           float64
	// Out is the price of a stop without a place.
	Out int64
}

// Solution is a set of routes by vehicle.
type Solution struct {
	Routes [][]int32
	Out    []int32
	Cost   int64
}

// New returns a search over an instance that is Ready, with near as the neighbour lists of its stops.
func New(in *route.Instance, near [][]int32, config Config) *Search {
	s := &Search{
		in: in, state: route.New(in), random: rand.New(rand.NewPCG(config.Seed, 0x9e3779b97f4a7c15)), near: near,
		missed: make([]int64, len(in.Stops)), hit: make([]uint32, len(in.Vehicles)), keys: make([]int64, len(in.Stops)), config: config,
	}
	s.state.Blinking(config.Blink, config.Seed*0x2545f4914f6cdd1d+1)
	for stop := range in.Stops {
		s.out = append(s.out, int32(stop))
	}
	s.order()
	s.recreate()
	s.cost = s.price()
	s.keep()
	return s
}

// price is the cost of the state with what stays out.
func (s *Search) price() int64 { return s.state.Cost() + int64(len(s.out))*s.config.Out }

// keep makes the state the best.
func (s *Search) keep() {
	s.best.Cost = s.cost
	s.best.Out = append(s.best.Out[:0], s.out...)
	if s.best.Routes == nil {
		s.best.Routes = make([][]int32, len(s.in.Vehicles))
	}
	for v := range s.best.Routes {
		s.best.Routes[v] = s.state.Stops(s.best.Routes[v][:0], int32(v))
	}
}

// Best is the best solution so far. The search goes on writing into it.
func (s *Search) Best() *Solution { return &s.best }

// Round ruins and recreates once at a temperature in units of cost.
func (s *Search) Round(temperature float64) {
	s.round++
	s.state.Begin()
	before := append([]int32(nil), s.out...)
	s.ruin()
	s.order()
	s.recreate()
	cost := s.price()
	if float64(cost) >= float64(s.cost)-temperature*math.Log(s.random.Float64()) {
		s.state.Undo()
		s.out = append(s.out[:0], before...)
		return
	}
	s.cost = cost
	if cost < s.best.Cost {
		s.keep()
	}
}

// recreate puts the stops that are out back in, in their order.
func (s *Search) recreate() {
	left := s.out[:0]
	for _, stop := range s.out {
		if place := s.state.Best(stop); place.Vehicle != route.None && place.Added < s.config.Out {
			s.state.Put(stop, place.Vehicle, place.Position)
		} else {
			left = append(left, stop)
			s.missed[stop]++
		}
	}
	s.out = left
}
