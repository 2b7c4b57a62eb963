package anneal

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"vernation/scheduler/internal/route"
)

// Options steer a search.
type Options struct {
	Seed uint64
	// Islands are the populations side by side; 0 is one. The answer depends on their number, not on that of the cores.
	Islands int
	// Iterations are the rounds of each island; where Spent is given they do not count.
	Iterations int
	// Spent says how much of the budget is spent, from 0 to 1, where time bounds the search.
	Spent func() float64
	// Fewest asks for the fewest vehicles first, then for the least cost.
	Fewest bool
}

const (
	members   = 4    // of a population
	growth    = 0.25 // share of the budget that makes its first members
	childhood = 80   // rounds of a child by stop
	epochs    = 8    // how often islands look at one another
	often     = 32   // rounds between two looks at the clock
	large     = 300  // stops from which an instance is annealed in parts
	neighbour = 100  // longest list of near stops
)

// island is one population.
type island struct {
	options *Options
	ground
	random *rand.Rand
	seed   uint64     // of the next search
	rounds int        // tried so far
	all    []Solution // the members
	best   Solution   // of all that the island has seen
	worker *search    // anneals the children
	hunt   *hunt      // for one vehicle less, or nil
}

// Solve returns the best set of routes of an instance that it finds; its vehicles are of one kind. For a seed, a number of islands
// and of iterations the answer is always the same. An instance has a stop and a vehicle at least.
func Solve(in *route.Instance, options Options) Solution {
	near := nearStops(in, neighbour)
	g := ground{in: in, near: near, unit: unit(in, near)}
	islands := make([]*island, max(1, options.Islands))
	for i := range islands {
		seed := options.Seed*0x9e3779b97f4a7c15 + uint64(i)*0xd1b54a32d192ed03 + 1
		islands[i] = &island{options: &options, ground: g, seed: seed, random: rand.New(rand.NewPCG(seed, 77)), best: Solution{Cost: math.MaxInt64}}
	}
	from := 0.0
	if options.Fewest {
		from = fewest(islands)
	}
	if len(in.Stops) >= large {
		return divide(islands, from)
	}
	each(islands, func(i *island) { i.grow(from, from+growth*(1-from)) })
	from += growth * (1 - from)
	for epoch := range epochs {
		exchange(islands)
		until := from + (1-from)*float64(epoch+1)/epochs
		each(islands, func(i *island) { i.breed(until) })
	}
	return winner(islands).best
}

// each has every island do something, all at a time, and waits for them.
func each(islands []*island, do func(*island)) {
	var all sync.WaitGroup
	for _, i := range islands {
		all.Go(func() { do(i) })
	}
	all.Wait()
}

// winner is the island with the best; the first of equals.
func winner(islands []*island) *island {
	best := islands[0]
	for _, i := range islands[1:] {
		if i.best.Cost < best.best.Cost {
			best = i
		}
	}
	return best
}

// exchange gives the best of all to the other islands, in the place of their worst.
func exchange(islands []*island) {
	best := winner(islands)
	for _, i := range islands {
		if i != best && i.best.Cost > best.best.Cost && len(i.all) > 0 {
			i.all[i.worst()] = best.best.Clone()
			i.best = best.best.Clone()
		}
	}
}

// spent is the share of the budget that the island has spent.
func (i *island) spent() float64 {
	if i.options.Spent != nil {
		return i.options.Spent()
	}
	return float64(i.rounds) / float64(max(1, i.options.Iterations))
}

// search returns a new search with another seed, with a solution constructed.
func (i *island) search() *search {
	s := i.searchOn(i.ground)
	s.construct()
	return s
}

// searchOn returns a new search with another seed on a ground.
func (i *island) searchOn(g ground) *search {
	i.seed = i.seed*31 + 17
	return newSearch(g, i.seed)
}

// grow makes the first members, each by its share of the budget between two shares.
func (i *island) grow(from, until float64) {
	for member := range members {
		s := i.search()
		begin := from + (until-from)*float64(member)/members
		end := from + (until-from)*float64(member+1)/members
		if i.options.Fewest {
			i.complete(s, (begin+end)/2)
			begin = i.spent()
		}
		i.cool(s, hot, cold, func() float64 { return progress(begin, i.spent(), end) })
		i.all = append(i.all, s.best.Clone())
		i.note(&s.best)
		i.worker = s
	}
}

// cool tries rounds from a temperature down to another, both in units, as a share goes from 0 to 1.
func (i *island) cool(s *search, from, to float64, share func() float64) {
	for done := share(); done < 1; done = share() {
		temperature := s.unit * from * math.Pow(to/from, max(0, done))
		for range often {
			s.try(temperature)
		}
		i.rounds += often
	}
}

// note makes a solution the island's best when it is.
func (i *island) note(s *Solution) {
	if s.Cost < i.best.Cost {
		i.best = s.Clone()
	}
}

// breed makes children until a share of the budget is spent. A child takes the place of the worse parent when it is better and no twin.
func (i *island) breed(until float64) {
	for i.spent() < until {
		a, b := i.random.IntN(len(i.all)), i.random.IntN(len(i.all)-1)
		if b >= a {
			b++
		}
		s := i.worker
		s.load(&i.all[a])
		s.cross(&i.all[b])
		born := i.rounds
		i.cool(s, warm, cold, func() float64 {
			if i.spent() >= 1 {
				return 1
			}
			return float64(i.rounds-born) / float64(childhood*len(i.in.Stops))
		})
		i.note(&s.best)
		twin := slices.ContainsFunc(i.all, func(other Solution) bool { return other.Cost == s.best.Cost })
		if worse := i.worse(a, b); !twin && s.best.Cost < i.all[worse].Cost {
			i.all[worse] = s.best.Clone()
		}
	}
}

// progress is how far now lies from begin to end; 1 where end is past.
func progress(begin, now, end float64) float64 {
	if now >= end {
		return 1
	}
	return (now - begin) / (end - begin)
}

// worse is the worse of two members.
func (i *island) worse(a, b int) int {
	if i.all[b].Cost > i.all[a].Cost {
		return b
	}
	return a
}

// worst is the worst member.
func (i *island) worst() int {
	worst := 0
	for m := range i.all {
		worst = i.worse(worst, m)
	}
	return worst
}
