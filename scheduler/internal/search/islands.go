package search

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
)

const (
	// epochs is how often islands look at one another.
	epochs = 16
	// reportEvery is the greatest number of rounds between two reports.
	reportEvery = 50
	// The temperatures at both ends of a search, in units of the price of a visit. A search of few rounds for each item
	// has no time to cool from the hottest.
	hottest, cold = 3, 0.05
	// heat is the temperature at the beginning for each round that an item has.
	heat = 0.1
)

// islands are searches side by side that look at one another at fixed counts of rounds, so that the answer depends on the
// seed, the rounds and their number alone.
type islands struct {
	limits *Limits
	all    []*search
	rounds int // done by each
	mutex  sync.Mutex
	best   Cost // that was reported
}

// Run searches. An answer is always lawful, even when it stops before everything was tried.
func Run(in *instance.Instance, limits Limits) Answer {
	if limits.Stop == nil {
		limits.Stop = func() bool { return false }
	}
	if limits.Hurry == nil {
		limits.Hurry = func() bool { return false }
	}
	s := &islands{limits: &limits, all: make([]*search, max(1, limits.Islands)), best: math.MaxInt64}
	if parts := partsOf(in, &limits); parts > 1 {
		return s.divided(in, parts)
	}
	near := nearSites(in)
	s.each(func(i int) { s.all[i] = newSearch(in, near, &limits, i) })
	for i := range s.all {
		s.report(s.all[i], 0, true)
	}
	for epoch := 0; epoch < epochs && s.rounds < limits.Iterations && !limits.Stop(); epoch++ {
		until := limits.Iterations * (epoch + 1) / epochs
		if limits.Spent != nil {
			until = limits.Iterations
		}
		done := make([]int, len(s.all))
		s.each(func(i int) { done[i] = s.run(s.all[i], s.rounds, until, float64(epoch+1)/epochs) })
		s.rounds = done[0]
		for _, rounds := range done {
			s.rounds = max(s.rounds, rounds)
		}
		s.exchange()
	}
	best := s.winner()
	best.state.Restore(best.best)
	return Answer{State: best.state, Iterations: s.rounds, Why: best.reasons(limits.Hurry)}
}

// divided is Run of a large problem: each island searches some of its parts, and after each epoch all go on from what all have found,
// with parts drawn anew.
func (s *islands) divided(in *instance.Instance, parts int) Answer {
	limits := s.limits
	near := nearSites(in)
	s.each(func(i int) { s.all[i] = emptySearch(in, near, limits, i) })
	first := s.all[0]
	random, groups := rand.New(rand.NewPCG(limits.Seed, uint64(len(in.Items)))), groupsOf(in)
	first.keepPublished(first.published())
	s.share([]schedule.Snapshot{first.state.Snapshot()}, func(int32) int { return 0 })
	s.inParts(divide(in, parts, first.state, groups, random), func(one *search, _, _ int) { one.fill() })
	first.leave()
	first.mood, first.bold = building, true
	first.recreate(slices.Clone(first.absent)) // what found no place in its part may find one in another
	s.share([]schedule.Snapshot{first.state.Snapshot()}, func(int32) int { return 0 })
	s.report(first, 0, true)
	for epoch := 0; epoch < epochs && s.rounds < limits.Iterations && !limits.Stop(); epoch++ {
		until, share, spent := limits.Iterations*(epoch+1)/epochs, float64(epoch+1)/epochs, 0.0
		if limits.Spent != nil {
			until, spent = limits.Iterations, limits.Spent()
		}
		rounds, done := s.rounds, make([]int, len(s.all))
		s.inParts(divide(in, parts, first.state, groups, random), func(one *search, part, parts int) {
			i := one.island
			from := max(rounds, done[i])
			to := rounds + (until-rounds)*(part+1)/parts
			done[i] = s.run(one, from, to, spent+(share-spent)*float64(part+1)/float64(parts))
		})
		s.rounds = slices.Max(done)
		s.report(first, s.rounds, true)
	}
	first.leave()
	return Answer{State: first.state, Iterations: s.rounds, Why: first.reasons(limits.Hurry)}
}

// inParts lets each island do something in its parts, of which it is told the number and how many there are for it. Then all go on
// from what came of all.
func (s *islands) inParts(d division, do func(one *search, part, parts int)) {
	snapshots := make([]schedule.Snapshot, len(s.all))
	s.each(func(i int) {
		one, parts := s.all[i], (d.parts-i+len(s.all)-1)/len(s.all)
		for part := range parts {
			one.enter(&d, int32(i+part*len(s.all)))
			one.keep()
			do(one, part, parts)
			if one.bestCost < one.cost {
				one.comeTo(one.best)
				one.priceAll()
			}
		}
		snapshots[i] = one.state.Snapshot()
	})
	in := s.all[0].in
	s.share(snapshots, func(t int32) int { return int(d.technician[in.Shifts[t].Technician]) % len(s.all) })
}

// share lets all islands go on from the tours of some snapshots.
func (s *islands) share(snapshots []schedule.Snapshot, from func(t int32) int) {
	merged := schedule.Merge(snapshots, from)
	s.each(func(i int) {
		s.all[i].leave()
		s.all[i].comeTo(merged)
		s.all[i].priceAll()
		s.all[i].keep()
	})
}

// each does something for every island, side by side.
func (s *islands) each(do func(i int)) {
	var all sync.WaitGroup
	for i := range s.all {
		all.Go(func() { do(i) })
	}
	all.Wait()
}

// run goes on with an island from a round on until it has done so many, or that share of the time is spent; it returns how many it
// has done.
func (s *islands) run(one *search, round, until int, share float64) int {
	for ; round < until && !s.limits.Stop(); round++ {
		spent := float64(round) / float64(s.limits.Iterations)
		rounds := float64(s.limits.Iterations)
		if s.limits.Spent != nil {
			if spent = s.limits.Spent(); spent >= share {
				break
			}
			rounds = float64(round) / max(spent, 1e-3)
		}
		one.try(one.temperature(spent, rounds))
		if one.parts > 1 {
			if (round+1)%reportEvery == 0 && one.cost < one.bestCost {
				one.keep() // what is kept is large
			}
			continue
		}
		if improved := one.cost < one.bestCost; improved || (round+1)%reportEvery == 0 {
			if improved {
				one.keep()
			}
			s.report(one, round+1, improved)
		}
	}
	return round
}

// temperature cools geometrically over the budget.
func (s *search) temperature(spent, rounds float64) float64 {
	hot := min(hottest, max(cold, heat*rounds/float64(max(1, len(s.in.Items)))))
	return float64(max(1, s.in.Rates.Visit)) * hot * math.Pow(cold/hot, spent)
}

// winner is the island with the best; the first of equals.
func (s *islands) winner() *search {
	best := s.all[0]
	for _, one := range s.all[1:] {
		if one.bestCost < best.bestCost {
			best = one
		}
	}
	return best
}

// exchange lets the island that stands worst go on from the best of all.
func (s *islands) exchange() {
	if len(s.all) == 1 {
		return
	}
	best, worst := s.winner(), s.all[0]
	for _, one := range s.all[1:] {
		if one.bestCost > worst.bestCost {
			worst = one
		}
	}
	if worst.bestCost > best.bestCost {
		worst.adopt(best)
	}
}

// report tells of an island's state where it is the best of all, and now and then.
func (s *islands) report(one *search, round int, improved bool) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	if better := one.bestCost < s.best; s.limits.Report != nil && (better || !improved) {
		s.best = min(s.best, one.bestCost)
		s.limits.Report(round, one.state, one.bestCost)
	}
}
