package search

import (
	"math"
	"sync"

	"vernation/scheduler/internal/instance"
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
	s.each(func(i int) { s.all[i] = newSearch(in, &limits, i) })
	for i := range s.all {
		s.report(s.all[i], 0, true)
	}
	for epoch := 0; epoch < epochs && s.rounds < limits.Iterations && !limits.Stop(); epoch++ {
		until := limits.Iterations * (epoch + 1) / epochs
		if limits.Spent != nil {
			until = limits.Iterations
		}
		done := make([]int, len(s.all))
		s.each(func(i int) { done[i] = s.run(s.all[i], until, float64(epoch+1)/epochs) })
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

// each does something for every island, side by side.
func (s *islands) each(do func(i int)) {
	var all sync.WaitGroup
	for i := range s.all {
		all.Go(func() { do(i) })
	}
	all.Wait()
}

// run goes on with an island until it has done so many rounds, or that share of the time is spent; it returns how many it has done.
func (s *islands) run(one *search, until int, share float64) int {
	round := s.rounds
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
