package bound

import (
	"math"

	"vernation/scheduler/internal/instance"
)

// never is the cost of what cannot be.
const never = Cost(math.MaxInt64 / 4)

// following lists by item those whose days count from it.
func following(in *instance.Instance) [][]int32 {
	following := make([][]int32, len(in.Items))
	for i := range in.Items {
		if after := in.Items[i].Due.After; after != instance.None {
			following[after] = append(following[after], int32(i))
		}
	}
	return following
}

// member is an item of a chain.
type member struct {
	item    *instance.Item
	after   int32 // member that it counts from, or None
	free    bool  // it counts from an item of another site: on whichever day
	options []option
	// least[d] is the least cost of all that counts from it where it is on day d of the site; leftOut and deferred where it is
	// not planned and its window ends in the horizon, or not.
	least             []Cost
	leftOut, deferred Cost
	done              []Cost // by day: what doing it costs on the days on which somebody comes
}

// chain is items that count from one another, each after the one that it counts from.
type chain []member

// least is the least cost in grains of a chain where somebody comes in these groups of shifts only, at a level of pay.
//
// Proof. Once it is known on which day an item is done, or that it is not planned and how, what counts from it costs what it
// costs whatever else is done: so the least of an item is the least over its days, and over not being planned, of its own
// cost and of the least of each that counts from it. It is found from the ends of the chain on.
func (c chain) least(s *site, groups uint32, level Cost) Cost {
	for m := range c {
		clear(c[m].least)
		c[m].leftOut, c[m].deferred = 0, 0
	}
	total := Cost(0)
	for m := len(c) - 1; m >= 0; m-- {
		at := &c[m]
		at.doneIn(groups, level)
		behindOut, behindDeferred := at.behind(true), at.behind(false)
		switch {
		case at.after != instance.None:
			before := &c[at.after]
			for d, day := range s.days {
				before.least[d] += at.from(s, day)
			}
			before.leftOut += behindOut
			before.deferred += behindDeferred
		case at.free:
			cost := min(behindOut, behindDeferred)
			for day := Day(-2); day <= s.lastDay+2; day++ {
				cost = min(cost, at.from(s, day))
			}
			total += cost
		default:
			total += at.from(s, 0)
		}
	}
	return total
}

// doneIn notes what doing a member costs by day.
func (m *member) doneIn(groups uint32, level Cost) {
	for d := range m.done {
		m.done[d] = never
	}
	for i := range m.options {
		if o := &m.options[i]; groups>>o.group&1 == 1 {
			m.done[o.day] = min(m.done[o.day], Cost(o.takes)*max(o.pay, level)+Cost(o.backTakes)*max(o.backPay, level))
		}
	}
}

// from is the least of a member and of what counts from it where its days count from a day.
func (m *member) from(s *site, day Day) Cost {
	if m.item.Outside {
		return m.deferred
	}
	due := &m.item.Due
	earliest, latest, stands := due.Earliest, due.Latest, due.Stands
	if due.After != instance.None {
		earliest += day
		if latest < instance.FarDay {
			latest += day
		}
		if stands < instance.FarDay {
			stands += day
		}
	}
	cost, leftOut := m.item.NotPlanned(earliest, latest, stands, s.lastDay)
	least := grain*cost + m.deferred
	if leftOut {
		least = grain*cost + m.leftOut
	}
	for d, on := range s.days {
		if m.done[d] < never && on >= earliest && on <= stands {
			price := m.item.PriceOf(on-earliest) + m.item.LatePerDay*Cost(max(0, on-latest))
			least = min(least, m.done[d]+grain*price+m.least[d])
		}
	}
	return least
}

// behind is the least of a member and of what counts from it where the one before it is not planned.
func (m *member) behind(leftOut bool) Cost {
	switch {
	case m.item.Outside:
		return m.deferred
	case leftOut:
		return grain*m.item.NotPlannedBehind(true) + m.leftOut
	}
	return grain*m.item.NotPlannedBehind(false) + m.deferred
}
