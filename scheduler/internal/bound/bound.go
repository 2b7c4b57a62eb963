// Package bound answers: how cheap could any plan of the instance be at best?
//
// A plan is relaxed until what is left falls into sites, and each site into few choices that can all be looked through: on
// which days somebody comes at all, and on which of these days each item of each chain is done. What is relaxed is never
// dearer than the plan, so the least of it is a bound. Each step is proved where it is taken: time has a price (bound.go),
// what a visit at least costs (visit.go), when an item may be done at all and for what (option.go), the least of a site
// (site.go), the least of a chain (chain.go), what is fixed already (fact.go).
package bound

import (
	"slices"

	"vernation/scheduler/internal/instance"
)

// Short names of the kernel's units.
type (
	// Seconds is instance.Seconds.
	Seconds = instance.Seconds
	// Day is instance.Day.
	Day = instance.Day
	// Cost is instance.Cost.
	Cost = instance.Cost
)

const secondsPerMinute = 60

// grain is how many parts of a minor unit are counted, so that neither pay by the second nor half a drive is rounded.
const grain = 2 * secondsPerMinute

// Of returns a cost that no lawful plan of the instance undercuts, where no rate and no price is negative.
//
// Proof. The cost of a plan is that of its day routes, of what is not planned, of changes and of uneven days; the last two
// are left out. The pay of a day route is for its work time, raised to the least paid minutes and rounded up, so it is at
// least pay times work time. That time, without the break, holds one after another the sign-in of each visit, its work, the
// mixing and rinsing of each mix, and the drives. Half of each drive is counted for the halt that it leaves, half for the
// one that it comes to; halves of bases are left out. So all day routes cost at least the sum over their visits of: the
// price of a visit, its sign-in, half a drive in and half a drive out, its work with its share of mixes, what its days cost,
// and sanitation, another technician, another weekday where they apply.
//
// That sum, with what is not planned, falls into sites but for one thing: a technician has only so much time. Give each
// technician's second any price that is not negative, on top of the pay. What is used of the time costs at most what there
// is of it, so the least of all sites with these prices, less the price of all the time that there is, stays below every
// plan. The prices tried lift the pay of all to one level, as where the cheaper ones are busy and the next must do the rest,
// or where even the dearest have no time left and an item that is planned pushes out another.
func Of(in *instance.Instance) Cost {
	b := prepare(in)
	return max(0, b.best()) / grain
}

// bounding is an instance made ready.
type bounding struct {
	in    *instance.Instance
	least []drives // by technician
	sites []*site
	time  []Seconds // by technician: what is there for visits
	// frozen says by shift that its fixed visits leave no lawful walk.
	frozen []bool
}

func prepare(in *instance.Instance) *bounding {
	b := &bounding{in: in, least: leastDrives(in), time: make([]Seconds, len(in.Crew)), frozen: frozen(in)}
	used := make([]bool, len(in.Shifts))
	following := following(in)
	for i, items := range itemsOf(in, following) {
		s := b.site(int32(i), items, following)
		b.sites = append(b.sites, s)
		for _, come := range s.comings {
			used[come.shift] = true
		}
	}
	for t := range in.Shifts {
		if shift := &in.Shifts[t]; used[t] || len(shift.Fixed) > 0 {
			b.time[shift.Technician] += timeOf(in, shift)
		}
	}
	return b
}

// timeOf is the longest work time of a shift after its start: without the break where it is longer than what needs none.
func timeOf(in *instance.Instance, shift *instance.Shift) Seconds {
	time := max(0, shift.End-shift.Start)
	if shift.BreakTakes > 0 {
		time = min(time, max(time-shift.BreakTakes, in.BreakAfter-shift.Worked))
	}
	if in.MostWork > 0 {
		time = min(time, in.MostWork-shift.Worked)
	}
	return max(0, time)
}

// at is the bound in grains where the pay of all is lifted to a level.
func (b *bounding) at(level Cost) Cost {
	total := b.facts(level)
	for _, s := range b.sites {
		total += s.least(b, level)
	}
	for t := range b.in.Crew {
		total -= 2 * Cost(b.time[t]) * max(0, level-b.in.Crew[t].PaidPerMinute)
	}
	return total
}

// mostLevels is how many levels are tried among the pays, and as many more around the best.
const mostLevels = 8

// best is the highest bound of the levels tried: none, pays, higher ones while they help, and between those beside the best.
func (b *bounding) best() Cost {
	var pays []Cost
	for t := range b.in.Crew {
		pays = append(pays, b.in.Crew[t].PaidPerMinute)
	}
	slices.Sort(pays)
	pays = slices.Compact(pays)
	levels, values := []Cost{0}, []Cost{b.at(0)}
	try := func(level Cost) bool {
		levels, values = append(levels, level), append(values, b.at(level))
		return values[len(values)-1] > values[len(values)-2]
	}
	step := (len(pays) + mostLevels - 1) / mostLevels
	for i := step; i < len(pays) && try(pays[i]); i += step {
	}
	for n := 0; n < mostLevels && len(pays) > 0 && levels[len(levels)-1] >= pays[len(pays)-1]; n++ {
		if !try(levels[len(levels)-1] * 3 / 2) {
			break
		}
	}
	return slices.Max(values)
}
