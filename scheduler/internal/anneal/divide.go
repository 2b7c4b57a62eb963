package anneal

import (
	"cmp"
	"math"
	"slices"

	"vernation/scheduler/internal/route"
)

const (
	partStops = 200 // stops of a part, about
	regroup   = 60  // how often the parts are drawn anew
)

// divide anneals one large solution in parts: neighbouring routes are taken together until they have some two hundred stops, each
// part is annealed on its own for a while, the islands side by side, and then the parts are drawn anew. A round costs as much as
// there are stops among which it looks for places, so that parts of a thousand stops are searched several times as fast as all.
func divide(islands []*island, from float64) Solution {
	first := islands[0]
	current := first.best
	if len(current.Routes) == 0 {
		current = first.search().best
	}
	for epoch := range regroup {
		begin := from + (1-from)*float64(epoch)/regroup
		end := from + (1-from)*float64(epoch+1)/regroup
		parts := first.parts(&current)
		each(islands, func(i *island) {
			// Every island has a turn for each of its parts, of equal length.
			turns := (len(parts) + len(islands) - 1) / len(islands)
			for turn := range turns {
				if p := turn*len(islands) + slices.Index(islands, i); p < len(parts) {
					i.annealPart(parts[p], stretch{
						until: begin + (end-begin)*float64(turn+1)/float64(turns),
						hot:   heat(from, begin), cold: heat(from, end), last: epoch == regroup-1,
					})
				}
			}
		})
		current = joined(parts, len(first.in.Vehicles))
	}
	return current
}

// heat is the temperature, in units, at a share of the budget of which annealing begins at another.
func heat(from, share float64) float64 { return hot * math.Pow(cold/hot, (share-from)/(1-from)) }

// stretch is a stretch of the budget, as shares, in which one part is annealed until a share is spent, from one temperature down
// to another.
type stretch struct {
	until     float64
	hot, cold float64
	last      bool // the best counts, not the last
}

// part is a set of routes, as an instance of its own.
type part struct {
	ground
	stops    []int32 // by stop of the part: its number in the whole
	solution Solution
}

// annealPart anneals a part, and leaves it at the last solution: while it is hot the best is but a lucky moment.
func (i *island) annealPart(p *part, over stretch) {
	s := i.searchOn(p.ground)
	s.load(&p.solution)
	begin := i.spent()
	i.cool(s, over.hot, over.cold, func() float64 { return progress(begin, i.spent(), over.until) })
	if !over.last {
		s.keep()
	}
	p.solution = s.best
}

// parts divides a solution: routes around a random stop, then around another of the rest, the rest last. The empty vehicles are
// shared out; stops without a place belong to the first part.
func (i *island) parts(s *Solution) []*part {
	var open [][]int32
	empty := 0
	for _, stops := range s.Routes {
		if len(stops) > 0 {
			open = append(open, stops)
		} else {
			empty++
		}
	}
	count := max(1, (len(i.in.Stops)+partStops/2)/partStops)
	share := (len(i.in.Stops) + count - 1) / count
	var parts []*part
	for len(open) > 0 {
		seed := open[i.random.IntN(len(open))][0]
		i.byDistance(open, seed)
		size, taken := 0, 0
		for taken < len(open) && (size < share || len(parts) == count-1) {
			size += len(open[taken])
			taken++
		}
		parts = append(parts, i.part(open[:taken], empty/count, size))
		open = open[taken:]
	}
	if len(parts) == 0 {
		parts = append(parts, i.part(nil, empty, 0))
	}
	if len(s.Out) > 0 {
		parts[0].add(i, s.Out)
	}
	return parts
}

// byDistance sorts routes by the mean cost from a stop to theirs.
func (i *island) byDistance(routes [][]int32, seed int32) {
	row := i.in.Cost[0][i.in.Stops[seed].Place*i.in.Places:]
	far := map[int32]int64{}
	for _, stops := range routes {
		sum := int64(0)
		for _, stop := range stops {
			sum += int64(row[i.in.Stops[stop].Place])
		}
		far[stops[0]] = sum / int64(len(stops))
	}
	slices.SortStableFunc(routes, func(a, b []int32) int { return cmp.Compare(far[a[0]], far[b[0]]) })
}

// part makes an instance of routes, and of some vehicles more.
func (i *island) part(routes [][]int32, more, size int) *part {
	p := &part{ground: ground{in: limited(i.in, len(routes)+more), unit: i.unit}}
	p.in.Stops = make([]route.Stop, 0, size)
	p.solution.Routes = make([][]int32, len(routes)+more)
	for v, stops := range routes {
		p.solution.Routes[v] = p.number(i, stops)
	}
	p.link(i)
	return p
}

// number takes stops over and returns their numbers in the part.
func (p *part) number(i *island, stops []int32) []int32 {
	var list []int32
	for _, stop := range stops {
		list = append(list, int32(len(p.stops)))
		p.stops = append(p.stops, stop)
		p.in.Stops = append(p.in.Stops, i.in.Stops[stop])
	}
	return list
}

// add takes stops over that have no place.
func (p *part) add(i *island, stops []int32) {
	p.solution.Out = p.number(i, stops)
	p.link(i)
}

// link lists the near stops within the part.
func (p *part) link(i *island) {
	inside := map[int32]int32{}
	for k, stop := range p.stops {
		inside[stop] = int32(k)
	}
	p.near = make([][]int32, len(p.stops))
	for k, stop := range p.stops {
		for _, other := range i.near[stop] {
			if o, in := inside[other]; in {
				p.near[k] = append(p.near[k], o)
			}
		}
	}
}

// joined is the whole of the parts.
func joined(parts []*part, vehicles int) Solution {
	whole := Solution{}
	for _, p := range parts {
		for _, stops := range p.solution.Routes {
			if len(stops) > 0 {
				whole.Routes = append(whole.Routes, p.whole(stops))
			}
		}
		whole.Out = append(whole.Out, p.whole(p.solution.Out)...)
		whole.Cost += p.solution.Cost
	}
	for len(whole.Routes) < vehicles {
		whole.Routes = append(whole.Routes, nil)
	}
	return whole
}

// whole numbers stops of the part as the whole does.
func (p *part) whole(stops []int32) []int32 {
	var list []int32
	for _, stop := range stops {
		list = append(list, p.stops[stop])
	}
	return list
}
