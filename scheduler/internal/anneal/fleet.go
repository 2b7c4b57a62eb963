package anneal

import (
	"cmp"
	"slices"

	"vernation/scheduler/internal/route"
)

const (
	fleetTime = 0.3  // share of the budget in which fewer vehicles are looked for at most
	ejected   = 3    // stops that make room for one at most
	scattered = 40   // rounds of ruin and recreate between two ejections
	restless  = 1.0  // their temperature
	ties      = 1024 // equal counts are told apart by a part in so many, drawn anew each time
	absent    = 15.0 // the price of a stop without a place while few vehicles are annealed, in units of temperature
)

// fewest looks for fewer vehicles on every island. The islands race: in each of the epochs all look for one vehicle less than
// the fewest that any of them has found so far. All of them are left with the best. It returns the share of the budget that is spent.
func fewest(islands []*island) float64 {
	best := islands[0]
	for epoch := range epochs {
		until := fleetTime * float64(epoch+1) / epochs
		each(islands, func(i *island) { i.shrink(until) })
		for _, i := range islands {
			if leaner(&i.best, &best.best) < 0 {
				best = i
			}
		}
		for _, i := range islands {
			if fleet := i.best.Vehicles(); fleet > best.best.Vehicles() || len(i.best.Out) > len(best.best.Out) {
				i.best, i.hunt = best.best.Clone(), nil
			}
		}
	}
	found, spent := best.best.Clone(), 0.0
	if len(found.Out) == 0 {
		found.Routes = compact(found.Routes)
	}
	for _, i := range islands {
		spent = max(spent, i.spent())
		i.ground.in = limited(i.ground.in, len(found.Routes))
		i.best, i.hunt = found.Clone(), nil
	}
	return spent
}

// leaner compares two solutions: what leaves out fewer stops, takes fewer vehicles, costs less comes first.
func leaner(a, b *Solution) int {
	return cmp.Or(len(a.Out)-len(b.Out), a.Vehicles()-b.Vehicles(), cmp.Compare(a.Cost, b.Cost))
}

// shrink takes vehicles away one by one while a solution with one less is found before a share of the budget is spent. A hunt
// that has found none goes on where it was the next time.
func (i *island) shrink(until float64) {
	if len(i.best.Routes) == 0 {
		i.best = i.search().best.Clone()
	}
	for (len(i.best.Out) > 0 || i.best.Vehicles() > i.least()) && i.spent() < until {
		if i.hunt == nil {
			i.hunt = i.hunter()
		}
		if !i.fewer(i.hunt, until) {
			return
		}
		i.best, i.hunt = i.hunt.best.Clone(), nil
	}
}

// hunt looks for a solution with one vehicle less than a solution has.
type hunt struct {
	*search
	missed []int64 // by stop: how often it found no place
	prices []int64
}

// hunter takes the island's best less its route with the fewest stops, which are then out; while some stops are out anyway, it takes
// all routes.
func (i *island) hunter() *hunt {
	g, less := i.ground, i.best
	if len(less.Out) == 0 {
		routes := compact(less.Routes)
		slices.SortStableFunc(routes, func(a, b []int32) int { return len(b) - len(a) })
		last := len(routes) - 1
		g.in = limited(g.in, last)
		less = Solution{Routes: routes[:last], Out: routes[last]}
	}
	h := newHunt(i.searchOn(g))
	h.load(&less)
	return h
}

// newHunt returns a hunt in which no stop was missed yet.
func newHunt(s *search) *hunt {
	return &hunt{search: s, missed: make([]int64, len(s.in.Stops)), prices: make([]int64, len(s.in.Stops))}
}

// complete gives every stop of a search its place, so that the members of a population begin apart; where a hunt has not come to that
// when a share of the budget is spent, the search begins with the island's best.
func (i *island) complete(s *search, until float64) {
	if h := newHunt(s); !i.fewer(h, until) {
		s.load(&i.best)
	}
	s.missing = int64(absent * s.unit)
}

// fewer goes on with a hunt until every stop has its place or a share of the budget is spent. A stop that finds no place is
// counted, and takes the place of those of a route whose counts are least in sum, so that the hard ones come in first and the easy
// ones find another place (Nagata and Bräysy 2009). Between two such ejections the routes are scattered by ruin and recreate.
func (i *island) fewer(h *hunt, until float64) bool {
	for len(h.out) > 0 {
		if i.spent() >= until {
			return false
		}
		i.rounds += scattered
		if !h.scatter() {
			h.eject()
		}
	}
	h.cost = h.held()
	h.keep()
	return true
}

// scatter changes the routes at random, and never leaves out what weighs more. It says whether every stop found a place.
func (h *hunt) scatter() bool {
	current, cost := h.weight(), h.state.Cost()
	for range scattered {
		h.change()
		now, bar := h.weight(), cost+int64(restless*h.unit*h.random.ExpFloat64())
		if now > current || now == current && h.state.Cost() >= bar {
			h.undo()
			continue
		}
		current, cost = now, h.state.Cost()
		if len(h.out) == 0 {
			return true
		}
	}
	return false
}

// weight is the sum of the counts of the stops that are out.
func (h *hunt) weight() int64 {
	sum := int64(0)
	for _, stop := range h.out {
		sum += 1 + h.missed[stop]
	}
	return sum
}

// eject puts in one of the stops that are out, and takes out for it what was missed least.
func (h *hunt) eject() {
	at := h.random.IntN(len(h.out))
	stop := h.out[at]
	h.missed[stop]++
	for u := range h.prices {
		h.prices[u] = (1+h.missed[u])*ties + h.random.Int64N(ties)
	}
	e := h.state.Eject(stop, h.prices, ejected)
	if e.Vehicle == route.None {
		return
	}
	h.out = slices.Delete(h.out, at, at+1)
	h.out = h.state.Apply(h.out, stop, e)
}

// limited is an instance with its first vehicles only.
func limited(in *route.Instance, vehicles int) *route.Instance {
	less := *in
	less.Vehicles, less.Kinds = in.Vehicles[:vehicles], in.Kinds[:vehicles]
	return &less
}

// compact leaves out the empty routes: vehicles of one kind are alike.
func compact(routes [][]int32) [][]int32 {
	return slices.DeleteFunc(slices.Clone(routes), func(stops []int32) bool { return len(stops) == 0 })
}

// least is the number of vehicles that the loads ask for.
func (i *island) least() int {
	load := 0
	for s := range i.in.Stops {
		load += int(i.in.Stops[s].Load)
	}
	capacity := max(1, int(i.in.Vehicles[0].Capacity))
	return max(1, (load+capacity-1)/capacity)
}
