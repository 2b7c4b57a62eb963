package scheduler_test

import (
	"math"
	"slices"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// net is a simple temporal network: instants of which some lie at least so many seconds after others. It keeps the closure
// of its edges (all longest paths), so that the least distance of two instants, and a way to attain it, can be read off.
// Node 0 is the origin of time. (R. Dechter, I. Meiri, J. Pearl, Temporal constraint networks, Artificial Intelligence 49,
// 1991: such a network has a solution when no cycle is longer than 0, and every least distance is attained by one.)
type net struct {
	nodes int
	least []int64 // least[i*nodes+j]: node j comes at least that long after node i
}

// unbound is the distance of two instants that nothing joins.
const unbound = math.MinInt64 / 4

// edge says that one instant comes at least so many seconds after another.
type edge struct {
	from, to int
	least    int64
}

func newNet(nodes int) *net {
	n := &net{nodes: nodes, least: make([]int64, nodes*nodes)}
	for i := range n.least {
		n.least[i] = unbound
	}
	for i := range nodes {
		n.least[i*nodes+i] = 0
	}
	return n
}

func (n *net) clone() *net { return &net{n.nodes, slices.Clone(n.least)} }

// between is the least distance from one node to another.
func (n *net) between(from, to int) int64 { return n.least[from*n.nodes+to] }

// add adds an edge and closes the net again; false when no solution is left.
func (n *net) add(e edge) bool {
	back := n.between(e.to, e.from)
	if back > unbound && back+e.least > 0 {
		return false
	}
	if e.least <= n.between(e.from, e.to) {
		return true
	}
	for a := range n.nodes {
		reach := n.between(a, e.from)
		if reach == unbound {
			continue
		}
		row, tail := n.least[a*n.nodes:(a+1)*n.nodes], n.least[e.to*n.nodes:(e.to+1)*n.nodes]
		for b, rest := range tail {
			if rest > unbound && reach+e.least+rest > row[b] {
				row[b] = reach + e.least + rest
			}
		}
	}
	return true
}

// choice is one of several ways to resolve what a schedule breaks: an edge, or an area that counts as unaired.
type choice struct {
	edge
	unaired int // of the treatments; -1 for an edge
}

// atLeast and atMost bound a node by an instant.
func atLeast(node int, at civil.Instant) edge { return edge{0, node, int64(at)} }
func atMost(node int, at civil.Instant) edge  { return edge{node, 0, -int64(at)} }

// mostNets bounds how many nets the search of one Problem may look at.
const mostNets = 50_000

// timing looks for the least paid time of a timetable: the least that the closed net allows for each route, then whatever
// a schedule that attains it breaks is resolved in each of the ways in which it can be, as edges of further nets.
// Every solution keeps one of the choices, so nothing is lost; each net's least cost bounds those below it.
type timing struct {
	table   *timetable
	best    quantity.Money
	at      []int64 // of the best
	unaired []bool
}

// cheapest returns the cheapest schedule that costs less than a bound; ok is false when there is none.
func (t *timetable) cheapest(bound quantity.Money) (cost quantity.Money, at []int64, ok bool) {
	t.o.nets++
	if t.o.gaveUp = t.o.gaveUp || t.o.nets > mostNets; t.o.gaveUp {
		return 0, nil, false
	}
	n := newNet(t.nodes)
	for _, e := range t.edges {
		if !n.add(e) {
			return 0, nil, false
		}
	}
	s := &timing{table: t, best: bound, unaired: make([]bool, len(t.treatments))}
	s.search(n)
	return s.best, s.at, s.at != nil
}

// length is the greatest length of a route from departure to return that is paid like the least the net allows.
func (s *timing) length(n *net, r int) (minutes, length int64) {
	route := &s.table.timed[r]
	least := max(0, n.between(route.departs, route.returns)-route.rest)
	minutes = max((least+59)/60, route.leastMinutes)
	return minutes, minutes*60 + route.rest
}

func (s *timing) search(n *net) {
	o := s.table.o
	o.nets++
	if o.gaveUp = o.gaveUp || o.nets > mostNets; o.gaveUp {
		return
	}
	cost := quantity.Money(0)
	for r := range s.table.timed {
		minutes, _ := s.length(n, r)
		cost += quantity.Money(minutes) * s.table.timed[r].pay
	}
	if cost >= s.best {
		return
	}
	tight := n.clone()
	for r := range s.table.timed {
		_, length := s.length(n, r)
		route := &s.table.timed[r]
		if !tight.add(edge{route.returns, route.departs, -length}) {
			// The routes cannot all be as short: either this one is, or it is paid longer.
			s.try(n, choice{edge{route.returns, route.departs, -length}, -1})
			s.try(n, choice{edge{route.departs, route.returns, length + 1}, -1})
			return
		}
	}
	at := tight.least[:tight.nodes]
	choices, broken := s.table.broken(at, s.unaired)
	if !broken {
		s.best, s.at = cost, slices.Clone(at)
		return
	}
	for _, c := range choices {
		s.try(n, c)
	}
}

func (s *timing) try(n *net, c choice) {
	next := n.clone()
	if c.unaired >= 0 {
		s.unaired[c.unaired] = true
		s.search(next)
		s.unaired[c.unaired] = false
		return
	}
	if next.add(c.edge) {
		s.search(next)
	}
}
