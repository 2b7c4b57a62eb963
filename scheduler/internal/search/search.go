package search

import (
	"math"
	"math/rand/v2"
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/internal/tour"
)

// Limits bound a search.
type Limits struct {
	Seed       uint64
	Iterations int
	// Stop is asked often; true ends the search with what there is. nil never stops.
	Stop func() bool
	// Report is told of each improvement, and now and then; nil is nobody.
	Report func(iteration int, best *schedule.State, cost Cost)
}

// Answer is the best state found.
type Answer struct {
	State      *schedule.State
	Iterations int
	Why        []Why // by item; empty for those that are planned
}

// Why says why an item is not in an answer.
type Why struct {
	// Causes are what spoke against each technician-day that lies in its days.
	Causes []tour.Cause
	// Possible says that it could be put in lawfully, for Added.
	Possible bool
	Added    Cost
}

// reportEvery is the greatest number of rounds between two reports.
const reportEvery = 50

// Run searches. An answer is always lawful, even when it stops before everything was tried.
func Run(in *instance.Instance, limits Limits) Answer {
	stop := limits.Stop
	if stop == nil {
		stop = func() bool { return false }
	}
	state := schedule.New(in)
	ins := newInserter(state, stop)
	construct(state, ins)
	current := state.Total()
	best, bestCost := state.Snapshot(), current
	report := func(iteration int) {
		if limits.Report != nil {
			limits.Report(iteration, state, bestCost)
		}
	}
	report(0)
	random := rand.New(rand.NewPCG(limits.Seed, uint64(len(in.Items))))
	iteration := 0
	for ; iteration < limits.Iterations && !stop(); iteration++ {
		before := state.Snapshot()
		state.Remove(ruin(state, random))
		ins.bold = random.IntN(2) == 0
		ins.fill()
		cost := state.Total()
		if cost > current {
			state.Restore(before)
		} else {
			current = cost
		}
		if current < bestCost {
			best, bestCost = state.Snapshot(), current
			report(iteration + 1)
		} else if (iteration+1)%reportEvery == 0 {
			report(iteration + 1)
		}
	}
	state.Restore(best)
	return Answer{State: state, Iterations: iteration, Why: ins.reasons()}
}

// construct fills an empty state in both orders and keeps the cheaper: the patient one first, then the bold one.
func construct(state *schedule.State, ins *inserter) {
	ins.fill()
	patient, cost := state.Snapshot(), state.Total()
	state.Remove(placedIn(state))
	ins.bold = true
	ins.fill()
	if state.Total() >= cost {
		state.Restore(patient)
	}
}

// placedIn lists the items that are planned.
func placedIn(state *schedule.State) []int32 {
	var placed []int32
	for item := range state.In.Items {
		if state.Placed(int32(item)).Placed {
			placed = append(placed, int32(item))
		}
	}
	return placed
}

// nearSeconds is how far from the seed a site is emptied.
const nearSeconds = 4 * 24 * 60 * 60

// ruin chooses what to take out: an item with its chain, all of a technician-day, or all of a site over some days.
func ruin(state *schedule.State, random *rand.Rand) []int32 {
	placed := placedIn(state)
	if len(placed) == 0 {
		return nil
	}
	seed := placed[random.IntN(len(placed))]
	at := state.Placed(seed)
	site := state.In.Items[seed].Site
	switch random.IntN(3) {
	case 0:
		others := random.IntN(min(3, len(placed)))
		out := []int32{seed}
		for range others {
			out = append(out, placed[random.IntN(len(placed))])
		}
		return out
	case 1:
		return slices.DeleteFunc(placed, func(item int32) bool { return state.Placed(item).Tour != at.Tour })
	}
	return slices.DeleteFunc(placed, func(item int32) bool {
		apart := state.Placed(item).Begins - at.Begins
		return state.In.Items[item].Site != site || apart > nearSeconds || apart < -nearSeconds
	})
}

// reasons asks, for each item that is not planned, what it would cost to put it in, and what spoke against each tour.
func (ins *inserter) reasons() []Why {
	why := make([]Why, len(ins.in.Items))
	for item := range ins.in.Items {
		i := int32(item)
		if ins.state.Placed(i).Placed || ins.in.Items[i].Outside {
			continue
		}
		_, why[i].Added, why[i].Possible = ins.cheapest(i, math.MaxInt64)
		for way := range ins.in.Items[i].Ways {
			for t := range ins.in.Shifts {
				e := ins.at(i, int16(way), int32(t))
				if !e.place.OK && e.why.Text != tour.NotOnThatDay {
					why[i].Causes = append(why[i].Causes, e.why)
				}
			}
		}
	}
	return why
}
