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

// A minor unit is counted in grains, so fine that little is lost where they are rounded: a pay of one a minute is so many grains
// a second.
const (
	grainsPerPay = 16
	grain        = grainsPerPay * secondsPerMinute
	// mostLevel keeps a level times all the time that there is from overflowing.
	mostLevel = Cost(1) << 32
)

// Of returns a cost that no lawful plan of the instance undercuts, where no rate and no price is negative.
//
// Proof. The cost of a plan is that of its day routes, of what is not planned, of changes and of uneven days; the last two
// are left out. The pay of a day route is for its work time, raised to the least paid minutes and rounded up, so it is at
// least pay times work time. That time, without the break, holds one after another the sign-in of each visit, its work, the
// mixing and rinsing of each mix, and the drives. One part of each drive is counted for the halt that it leaves, one for the
// one that it comes to (drive.go). So all day routes cost at least the sum over their visits of: the price of a visit, its
// sign-in, its parts of the drives in and out, its work with its share of mixes, what its days cost, and sanitation, another
// technician, another weekday where they apply; and the parts of the drives that leave the base and come back to it. A day
// route spends no more time on its visits than its shift has, so each second of them bears at least its share of those parts:
// it is added to the pay.
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
	// may says by shift which sites somebody may have work at, by any leg of any way; shares part the drives, by shift.
	may    [][]bool
	shares []*shares
	sites  []*site
	time   []Seconds // by technician: what is there for visits
	pay    []Cost    // by technician: of a second in grains, with its part of the drives from and to the base
	// frozen says by shift that its fixed visits leave no lawful walk, visited by place that it is a site's.
	frozen, visited []bool
}

func prepare(in *instance.Instance) *bounding {
	b := &bounding{in: in, least: leastDrives(in), time: make([]Seconds, len(in.Crew)), frozen: frozen(in), visited: make([]bool, in.Places)}
	used := make([]bool, len(in.Shifts))
	for i := range in.Sites {
		b.visited[in.Sites[i].Place] = true
	}
	b.may = mayWork(in)
	b.shares = b.sharesOf()
	b.pay = b.pays()
	following := following(in)
	for i, items := range itemsOf(in, following) {
		s := b.site(int32(i), items, following)
		b.sites = append(b.sites, s)
		for _, come := range s.comings {
			used[come.shift] = true
		}
	}
	for t := range in.Shifts {
		if shift := &in.Shifts[t]; used[t] || slices.Contains(b.may[t], true) || len(shift.Fixed) > 0 {
			time, _ := b.day(int32(t))
			b.time[shift.Technician] += time
		}
	}
	return b
}

// mayWork says by shift and site whether some leg of some way may be done there, carries back too.
func mayWork(in *instance.Instance) [][]bool {
	may := make([][]bool, len(in.Shifts))
	for t := range may {
		may[t] = make([]bool, len(in.Sites))
	}
	for i := range in.Items {
		for w := range in.Items[i].Ways {
			for _, leg := range in.Items[i].Ways[w].Legs {
				for t, on := range leg.On {
					may[t][in.Items[i].Site] = may[t][in.Items[i].Site] || on
				}
			}
		}
	}
	return may
}

// pays returns by technician what a second costs at least: the pay, and the ends of a day route by the second of the shift
// that has the least of that.
func (b *bounding) pays() []Cost {
	pays := make([]Cost, len(b.in.Crew))
	for t := range pays {
		pays[t] = never
	}
	for t := range b.in.Shifts {
		technician := b.in.Shifts[t].Technician
		if time, ends := b.day(int32(t)); time > 0 {
			pays[technician] = min(pays[technician], grainsPerPay*b.in.Crew[technician].PaidPerMinute+ends/Cost(time))
		}
	}
	return pays
}

// day returns the longest time for visits of a shift, without the break where it is longer than what needs none and without
// the halves of the drives at its ends, and what those cost in grains.
func (b *bounding) day(t int32) (time Seconds, ends Cost) {
	shift := &b.in.Shifts[t]
	time = max(0, shift.End-shift.Start)
	if shift.BreakTakes > 0 {
		time = min(time, max(time-shift.BreakTakes, b.in.BreakAfter-shift.Worked))
	}
	if b.in.MostWork > 0 {
		time = min(time, b.in.MostWork-shift.Worked)
	}
	road, driven := Cost(0), Cost(0)
	if of := b.shares[t]; !b.visited[shift.From] { // else the first visit may be where the day begins
		road, driven = Cost(of.out[shift.From]), Cost(of.minutesOut[shift.From])
	}
	if of := b.shares[t]; !b.visited[shift.Base] {
		road, driven = road+Cost(of.in[shift.Base]), driven+Cost(of.minutesIn[shift.Base])
	}
	pay := b.in.Crew[shift.Technician].PaidPerMinute
	return max(0, time-Seconds(road/2)), road*grainsPerPay/2*pay + grain/2*b.in.Rates.VehicleMinute*driven
}

// at is the bound in grains where the pay of all is lifted to a level, in grains a second.
func (b *bounding) at(level Cost) Cost {
	total := b.facts(level)
	for _, s := range b.sites {
		total += s.least(b, level)
	}
	for t, pay := range b.pay {
		total -= Cost(b.time[t]) * max(0, level-pay)
	}
	return total
}

// mostLevels is how many levels are tried among the pays, and as many more above them and beside the best.
const mostLevels = 6

// best is the highest bound of the levels tried: none, the pays and then higher ones while they help, and some between those
// beside the best.
func (b *bounding) best() Cost {
	pays := slices.Compact(slices.Sorted(slices.Values(b.pay)))
	pays = slices.DeleteFunc(pays, func(pay Cost) bool { return pay >= never })
	best, from, at, to := b.at(0), Cost(0), Cost(0), Cost(0)
	try := func(level Cost) (better bool) {
		value := b.at(level)
		if better = value > best; better {
			best, from, at, to = value, at, level, level
		} else {
			to = level
		}
		return better
	}
	step := max(1, len(pays)/mostLevels)
	for i := step; i < len(pays) && try(pays[i]); i += step {
	}
	if len(pays) > 0 && at >= pays[max(0, len(pays)-step)] {
		for level := max(at, pays[len(pays)-1]) * 3 / 2; level < mostLevel && try(level); level = level * 3 / 2 {
		}
	}
	for range mostLevels {
		if middle := (from + at) / 2; middle > from && at-from >= to-at {
			if value := b.at(middle); value > best {
				best, at, to = value, middle, at
			} else {
				from = middle
			}
			continue
		}
		middle := (at + to) / 2
		if middle <= at {
			break
		}
		if value := b.at(middle); value > best {
			best, from, at = value, at, middle
		} else {
			to = middle
		}
	}
	return best
}
