package route

import "slices"

// None is the index of nothing.
const None = int32(-1)

// node is a stop in its route, or the route's beginning or end. Everything that a test reads lies side by side.
type node struct {
	stop   int32 // None at both ends
	place  int32
	depart int32 // the earliest at which it can be left
	latest int32 // the latest at which it may be begun
	arc    int32 // cost to the next node
}

// State is a set of routes, one for each vehicle. It is not safe for concurrent use.
type State struct {
	In     *Instance
	routes [][]node // by vehicle, both ends included
	load   []int32
	cost   []int64 // of arcs and of opening, by vehicle
	total  int64
	of     []int32 // by stop: its vehicle, or None
	at     []int32 // by stop: its index among the nodes of its route
	used   []int32 // vehicles with stops
	usedAt []int32 // by vehicle: its index in used, or None

	epoch  uint32
	marked []uint32 // by vehicle: epoch in which it was saved
	saved  []saved
	saves  int
	blink  Blink
	tried  []uint64 // by kind of vehicle: the question in which an empty one was tried
	asked  uint64
}

// saved is a route as it was.
type saved struct {
	vehicle int32
	nodes   []node
	load    int32
	cost    int64
}

// New returns a state in which no stop has a place.
func New(in *Instance) *State {
	vehicles := len(in.Vehicles)
	s := &State{
		In: in, routes: make([][]node, vehicles), load: make([]int32, vehicles), cost: make([]int64, vehicles),
		of: filled(len(in.Stops)), at: make([]int32, len(in.Stops)), usedAt: filled(vehicles),
		epoch: 1, marked: make([]uint32, vehicles),
	}
	kinds := int32(0)
	for v := range in.Vehicles {
		s.empty(int32(v))
		kinds = max(kinds, in.Kinds[v]+1)
	}
	s.tried = make([]uint64, kinds)
	return s
}

func filled(n int) []int32 {
	list := make([]int32, n)
	for i := range list {
		list[i] = None
	}
	return list
}

// empty leaves only the two ends of a route.
func (s *State) empty(v int32) {
	vehicle := &s.In.Vehicles[v]
	s.routes[v] = append(s.routes[v][:0],
		node{stop: None, place: vehicle.From, depart: vehicle.Start, latest: vehicle.End},
		node{stop: None, place: vehicle.Base, depart: vehicle.Start, latest: vehicle.End})
	s.cost[v], s.load[v] = 0, 0
}

// Cost is the sum of the costs of all routes.
func (s *State) Cost() int64 { return s.total }

// Of returns the vehicle of a stop, or None.
func (s *State) Of(stop int32) int32 { return s.of[stop] }

// At returns the position of a stop in its route, counted from 0.
func (s *State) At(stop int32) int32 { return s.at[stop] - 1 }

// Used lists the vehicles that have stops. The caller does not keep it.
func (s *State) Used() []int32 { return s.used }

// Len is the number of stops of a vehicle.
func (s *State) Len(v int32) int { return len(s.routes[v]) - 2 }

// StopAt returns the stop at a position of a route.
func (s *State) StopAt(v int32, position int) int32 { return s.routes[v][position+1].stop }

// Stops appends the stops of a vehicle in order.
func (s *State) Stops(list []int32, v int32) []int32 {
	for _, n := range s.routes[v][1 : len(s.routes[v])-1] {
		list = append(list, n.stop)
	}
	return list
}

// Begin starts a change that Undo can take back. What came before cannot be taken back any more.
func (s *State) Begin() {
	s.epoch++
	s.saves = 0
}

// save remembers a route before its first change since Begin.
func (s *State) save(v int32) {
	if s.marked[v] == s.epoch {
		return
	}
	s.marked[v] = s.epoch
	if s.saves == len(s.saved) {
		s.saved = append(s.saved, saved{})
	}
	keep := &s.saved[s.saves]
	s.saves++
	keep.vehicle, keep.load, keep.cost = v, s.load[v], s.cost[v]
	keep.nodes = append(keep.nodes[:0], s.routes[v]...)
}

// Clear takes every stop out. It cannot be taken back.
func (s *State) Clear() {
	s.Begin()
	for v := range s.routes {
		for _, n := range s.routes[v][1 : len(s.routes[v])-1] {
			s.of[n.stop] = None
		}
		s.total -= s.cost[v]
		s.empty(int32(v))
		s.noteUse(int32(v))
	}
}

// Undo takes back everything since Begin.
func (s *State) Undo() {
	for _, keep := range s.saved[:s.saves] {
		for _, n := range s.routes[keep.vehicle][1 : len(s.routes[keep.vehicle])-1] {
			s.of[n.stop] = None
		}
	}
	for i := range s.saved[:s.saves] {
		keep := &s.saved[i]
		v := keep.vehicle
		s.routes[v], keep.nodes = keep.nodes, s.routes[v]
		s.load[v] = keep.load
		s.total += keep.cost - s.cost[v]
		s.cost[v] = keep.cost
		s.number(v, 1)
		s.noteUse(v)
	}
	s.Begin()
}

// number writes down where the stops of a route stand, from a node on.
func (s *State) number(v int32, from int) {
	nodes := s.routes[v]
	for i := from; i < len(nodes)-1; i++ {
		s.of[nodes[i].stop], s.at[nodes[i].stop] = v, int32(i)
	}
}

// noteUse keeps the list of vehicles with stops.
func (s *State) noteUse(v int32) {
	in, is := s.usedAt[v] != None, len(s.routes[v]) > 2
	switch {
	case is && !in:
		s.usedAt[v] = int32(len(s.used))
		s.used = append(s.used, v)
	case !is && in:
		last := s.used[len(s.used)-1]
		s.used[s.usedAt[v]] = last
		s.usedAt[last] = s.usedAt[v]
		s.used = s.used[:len(s.used)-1]
		s.usedAt[v] = None
	}
}

// Put puts a stop into a route before the stop at a position. The place must be one that Best or Fits has found.
func (s *State) Put(stop, v int32, position int) {
	s.save(v)
	i := position + 1
	s.routes[v] = slices.Insert(s.routes[v], i, node{stop: stop, place: s.In.Stops[stop].Place})
	s.load[v] += s.In.Stops[stop].Load
	s.rebuild(v, i, i)
	s.number(v, i)
}

// Cut takes the stops of a route in [from, to) out and appends them to a list.
func (s *State) Cut(list []int32, v int32, from, to int) []int32 {
	s.save(v)
	nodes := s.routes[v]
	for i := from + 1; i < to+1; i++ {
		stop := nodes[i].stop
		list = append(list, stop)
		s.of[stop] = None
		s.load[v] -= s.In.Stops[stop].Load
	}
	s.routes[v] = slices.Delete(nodes, from+1, to+1)
	s.rebuild(v, from+1, from)
	s.number(v, from+1)
	return list
}

// rebuild sets the times and the cost of a route of which the nodes before first and after last are as they were.
func (s *State) rebuild(v int32, first, last int) {
	in := s.In
	nodes := s.routes[v]
	vehicle := &in.Vehicles[v]
	n := in.Places
	time, cost := in.Time[vehicle.Profile], in.Cost[vehicle.Profile]
	end := len(nodes) - 1
	for i := first; i < end; i++ {
		at := nodes[i-1].depart + time[nodes[i-1].place*n+nodes[i].place]
		stop := &in.Stops[nodes[i].stop]
		depart := begin(stop.Windows, at) + stop.Takes
		if i > last && depart == nodes[i].depart {
			break
		}
		nodes[i].depart = depart
	}
	for i := last; i > 0; i-- {
		stop := &in.Stops[nodes[i].stop]
		by := nodes[i+1].latest - time[nodes[i].place*n+nodes[i+1].place] - stop.Takes
		latest := lastBegin(stop.Windows, by)
		if i < first && latest == nodes[i].latest {
			break
		}
		nodes[i].latest = latest
	}
	// The arcs that changed join nodes first-1 to last+1.
	total := int64(0)
	if end == 1 {
		nodes[0].arc = 0 // an empty route costs nothing
	} else {
		total = vehicle.Opens
		for i := max(0, first-1); i <= min(last, end-1); i++ {
			nodes[i].arc = cost[nodes[i].place*n+nodes[i+1].place]
		}
		for i := range end {
			total += int64(nodes[i].arc)
		}
	}
	s.total += total - s.cost[v]
	s.cost[v] = total
	s.noteUse(v)
}

// begin is the first beginning no earlier than at, past every window where there is none.
func begin(windows []Window, at int32) int32 {
	for i := range windows {
		if at <= windows[i].To {
			return max(at, windows[i].From)
		}
	}
	return never
}

// never is later than every instant; twice of it does not overflow.
const never = int32(1) << 29

// lastBegin is the last beginning no later than by, before every instant where there is none.
func lastBegin(windows []Window, by int32) int32 {
	for i := len(windows) - 1; i >= 0; i-- {
		if windows[i].From <= by {
			return min(windows[i].To, by)
		}
	}
	return -never
}
