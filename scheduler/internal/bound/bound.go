// Package bound answers: how cheap could any plan of the instance be at best?
package bound

import "vernation/scheduler/internal/instance"

const secondsPerMinute = 60

// Of returns a cost that no lawful plan of the instance undercuts.
//
// Proof. Each item that is asked for is either planned or not. If not, it costs at least the smaller of what leaving it
// out and what deferring it costs: prices never fall with the days, and what is late only adds. If it is planned, its
// work items are stretches of its technicians' work time: no two work items of one technician overlap, and none lies
// in a break. So the work time of all day routes of a technician is at least the sum of the seconds of the items
// done on them; paid minutes are work time rounded up, raised to the least paid minutes, so each item accounts for at
// least its own seconds, at the pay of the cheapest technician whose shift may do it. Its delay costs at least the price
// of its earliest day. A group that some follow-up may take out of a service counts with no seconds. Ways differ:
// the cheapest counts. All other terms (travel, visits, other technicians, sanitation, changes, uneven days) are not negative
// when the rates are not, and are left out. The sum over the items of the smaller of both cases is below every plan. It is
// kept in sixtieths of a unit and rounded down at the end.
func Of(in *instance.Instance) instance.Cost {
	total := instance.Cost(0)
	for i := range in.Items {
		item := &in.Items[i]
		if item.Outside {
			continue
		}
		least := secondsPerMinute * min(max(0, item.LeftOut), max(0, item.Deferred)+item.PriceOf(0))
		for w := range item.Ways {
			if cost, possible := wayCost(in, &item.Ways[w]); possible {
				least = min(least, cost+secondsPerMinute*item.PriceOf(0))
			}
		}
		total += max(0, least)
	}
	return total / secondsPerMinute
}

// wayCost is the pay of a way's own seconds in sixtieths of a unit, each leg by the cheapest technician who may do it.
func wayCost(in *instance.Instance, way *instance.Way) (cost instance.Cost, possible bool) {
	for l := range way.Legs {
		leg := &way.Legs[l]
		pay, may := instance.Cost(0), false
		for t, on := range leg.On {
			if rate := in.Crew[in.Shifts[t].Technician].PaidPerMinute; on && (!may || rate < pay) {
				pay, may = rate, true
			}
		}
		if !may {
			return 0, false
		}
		for b := range leg.Blocks {
			for p := range leg.Blocks[b].Pieces {
				cost += pay * seconds(&leg.Blocks[b].Pieces[p])
			}
		}
	}
	return cost, true
}

// seconds is the least that a piece takes.
func seconds(piece *instance.Piece) instance.Cost {
	if piece.Groups == nil {
		return instance.Cost(piece.Takes)
	}
	total := instance.Cost(0)
	for _, group := range piece.Groups {
		if len(group.ReplacedBy) == 0 {
			total += instance.Cost(group.Takes)
		}
	}
	return total
}
