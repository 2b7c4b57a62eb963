package route

import "math"

// Ejection is a place for a stop that is made by taking others out of the route.
type Ejection struct {
	Vehicle int32
	// Position is where the stop goes once the others are out: before the stop that then stands there.
	Position int
	// Out are the positions of the stops taken out, as they are numbered before, in ascending order.
	Out []int
	// Price is the sum of the prices of the stops taken out.
	Price int64
}

// Eject returns the least-priced set of at most so many stops of one route in use whose leaving makes room for a stop; Vehicle
// is None when there is none. The price of a stop is greater than 0; prices are by stop. This is the ejection of Nagata and
// Bräysy (2009, Operations Research Letters 37:333): sets are walked in lexicographic order, and one that is as dear as the best
// is not walked further.
func (s *State) Eject(stop int32, prices []int64, most int) Ejection {
	e := ejector{state: s, stop: stop, prices: prices, most: most, best: Ejection{Vehicle: None, Price: math.MaxInt64}}
	for _, v := range s.used {
		e.vehicle = v
		for gap := 1; gap < len(s.routes[v]); gap++ {
			e.gap = gap
			e.walk(1, step{depart: s.routes[v][0].depart, place: s.routes[v][0].place, load: s.load[v] + s.In.Stops[stop].Load})
		}
	}
	return e.best
}

// Apply does what Eject has found: it appends the stops taken out to a list.
func (s *State) Apply(list []int32, stop int32, e Ejection) []int32 {
	for i := len(e.Out) - 1; i >= 0; i-- {
		list = s.Cut(list, e.Vehicle, e.Out[i], e.Out[i]+1)
	}
	s.Put(stop, e.Vehicle, e.Position)
	return list
}

// ejector walks the sets of stops that may leave one route so that a stop may stand before the node at gap.
type ejector struct {
	state   *State
	stop    int32
	prices  []int64
	most    int
	vehicle int32
	gap     int
	out     []int // indices of nodes
	best    Ejection
}

// step is the route as far as it is walked.
type step struct {
	depart, place int32 // of the last that stays
	load          int32 // of the whole route, less what is out
	price         int64
	placed        bool // whether the stop stands
}

// walk goes on from the node at index j.
func (e *ejector) walk(j int, at step) {
	s := e.state
	nodes, vehicle := s.routes[e.vehicle], &s.In.Vehicles[e.vehicle]
	time := s.In.Time[vehicle.Profile]
	for ; ; j++ {
		if j == e.gap && !at.placed {
			if !at.visit(s.In, time, e.stop) {
				return
			}
			at.placed = true
		}
		next := &nodes[j]
		if at.placed && at.load <= vehicle.Capacity && at.depart+time[at.place*s.In.Places+next.place] <= next.latest {
			e.note(at.price)
			return
		}
		if j == len(nodes)-1 {
			return
		}
		if price := at.price + e.prices[next.stop]; len(e.out) < e.most && price < e.best.Price {
			without := at
			without.price, without.load = price, at.load-s.In.Stops[next.stop].Load
			e.out = append(e.out, j)
			e.walk(j+1, without)
			e.out = e.out[:len(e.out)-1]
		}
		if !at.visit(s.In, time, next.stop) {
			return
		}
	}
}

// visit goes on to a stop; it says whether the stop is begun in time.
func (at *step) visit(in *Instance, time []int32, stop int32) bool {
	next := &in.Stops[stop]
	begins := begin(next.Windows, at.depart+time[at.place*in.Places+next.Place])
	at.depart, at.place = begins+next.Takes, next.Place
	return begins < never
}

// note keeps the set that is walked when it is cheaper than the best.
func (e *ejector) note(price int64) {
	if price >= e.best.Price {
		return
	}
	position := e.gap - 1
	out := e.best.Out[:0]
	for _, j := range e.out {
		out = append(out, j-1)
		if j < e.gap {
			position--
		}
	}
	e.best = Ejection{Vehicle: e.vehicle, Position: position, Out: out, Price: price}
}
