package vrptw

import (
	"slices"
	"time"

	"vernation/scheduler/internal/anneal"
)

// Options steer a search.
type Options struct {
	Convention Convention
	Seed       uint64
	Islands    int
	// Iterations are the rounds of each island, and the answer is then always the same; 0 is as many as Time allows.
	Iterations int
	Time       time.Duration
	// Fewest asks for the fewest vehicles first, then the least distance; else the distance alone counts.
	Fewest bool
}

// Solve returns the best answer that it finds, in the order of its routes' first customers. What does not fit into the fleet stays
// out, and Judge says so.
func Solve(in *Instance, o Options) Answer {
	began := time.Now()
	options := anneal.Options{Seed: o.Seed, Islands: o.Islands, Iterations: o.Iterations, Fewest: o.Fewest}
	if o.Iterations == 0 {
		options.Spent = func() float64 { return float64(time.Since(began)) / float64(max(1, o.Time)) }
	}
	found := anneal.Solve(in.Compile(o.Convention, 0), options)
	answer := Answer{}
	for _, stops := range found.Routes {
		if len(stops) == 0 {
			continue
		}
		route := make([]int, len(stops))
		for i, stop := range stops {
			route[i] = int(stop) + 1
		}
		answer.Routes = append(answer.Routes, route)
	}
	slices.SortFunc(answer.Routes, func(a, b []int) int { return a[0] - b[0] })
	answer.Cost, _ = in.Judge(o.Convention, answer.Routes)
	return answer
}
