package tour

import "vernation/scheduler/internal/instance"

// The rule "timing": days and lags, links, health order. The order inside a visit is Before's.

// span returns between which instants the first piece of a block may begin, by what is known so far (extend).
func (w *Walker) span(ref Ref) (lowest, latest Seconds, ok bool) {
	item := &w.in.Items[ref.Item]
	t := w.times(ref.Item)
	if ref.Leg == 1 {
		if !t.Placed {
			return 0, 0, w.refuse(RuleTiming, WaitsForItem, ref.Item, 0)
		}
		way := w.way(ref)
		return max(t.OpenFrom, t.Ends+way.Wait), t.Begins + way.MostAway, true
	}
	if t.Placed { // a later block of the same item on the same visit
		return 0, w.shift.End, true
	}
	earliest, _, stands, known := w.Days(ref.Item)
	if !known {
		return 0, 0, w.refuse(RuleTiming, WaitsForItem, ref.Item, 0)
	}
	site := &w.in.Sites[item.Site]
	lowest, latest = item.Lo, item.Hi
	if earliest > site.FirstMidnight {
		lowest = max(lowest, site.Midnight(earliest))
	}
	if stands < instance.FarDay {
		latest = min(latest, site.Midnight(stands+1)-1)
	}
	for _, bond := range item.Bonds {
		lowest, latest = w.bondSpan(ref, bond, lowest, latest)
	}
	if lowest > latest {
		return 0, 0, w.refuse(RuleTiming, PastItsDays, ref.Item, latest)
	}
	return lowest, latest, true
}

// bondSpan narrows a span by one bond.
func (w *Walker) bondSpan(ref Ref, bond instance.Bond, lowest, latest Seconds) (Seconds, Seconds) {
	site := &w.in.Sites[w.in.Items[ref.Item].Site]
	if bond.Loose {
		return lowest, latest
	}
	switch bond.Kind {
	case instance.DueAfter, instance.BeginsAfter:
		if other := w.times(bond.From); bond.To == ref.Item && other.Placed {
			lowest = max(lowest, other.Begins+1)
		}
		if other := w.times(bond.To); bond.From == ref.Item && other.Placed {
			latest = min(latest, other.Begins-1)
		}
	case instance.DaysApart:
		if other := w.times(bond.From); bond.To == ref.Item && other.Placed {
			lowest = max(lowest, site.Midnight(site.DayOf(other.Begins)+bond.Days))
		}
		if other := w.times(bond.To); bond.From == ref.Item && other.Placed {
			latest = min(latest, site.Midnight(site.DayOf(other.Begins)-bond.Days+1)-1)
		}
	case instance.EndToBegin:
		if other := w.times(bond.From); bond.To == ref.Item && other.Placed {
			lowest = max(lowest, other.End()+bond.Seconds)
		}
		if other := w.times(bond.To); bond.From == ref.Item && other.Placed {
			latest = min(latest, other.Begins-bond.Seconds-1)
		}
	}
	return lowest, latest
}

// Days returns the earliest, latest and stands-until day of an item; known is false while the item that it counts from is not placed.
func (w *Walker) Days(item int32) (earliest, latest, stands Day, known bool) {
	due := &w.in.Items[item].Due
	if due.After == instance.None {
		return due.Earliest, due.Latest, due.Stands, true
	}
	other := w.times(due.After)
	if !other.Placed {
		return 0, 0, 0, false
	}
	from := w.in.Sites[w.in.Items[due.After].Site].DayOf(other.Begins)
	stands = due.Stands
	if stands < instance.FarDay {
		stands += from
	}
	latest = due.Latest
	if latest < instance.FarDay {
		latest += from
	}
	return from + due.Earliest, latest, stands, true
}

// Allows says whether every rule between this item and others holds, by where all of them stand (allows).
// It is asked of each item of a walked tour, and by the schedule outside of any walk.
func (w *Walker) Allows(item int32) bool {
	t := w.times(item)
	if !t.Placed {
		return true
	}
	it := &w.in.Items[item]
	site := &w.in.Sites[it.Site]
	day := site.DayOf(t.Begins)
	earliest, _, stands, known := w.Days(item)
	if !known {
		return w.refuse(RuleTiming, WaitsForItem, item, t.Begins)
	}
	if day < earliest || day > stands || t.Begins < it.Lo || t.Begins > it.Hi || t.End() > it.EndBy {
		return w.refuse(RuleTiming, PastItsDays, item, t.Begins)
	}
	for _, bond := range it.Bonds {
		if !w.bondHolds(item, bond) {
			return false
		}
	}
	return w.placeAllows(item) && w.labelAllows(item, day)
}

// bondHolds says whether one bond of a placed item holds where both stand.
func (w *Walker) bondHolds(item int32, bond instance.Bond) bool {
	from, to := w.times(bond.From), w.times(bond.To)
	if !from.Placed || !to.Placed {
		return true
	}
	dayFrom := w.in.Sites[w.in.Items[bond.From].Site].DayOf(from.Begins)
	dayTo := w.in.Sites[w.in.Items[bond.To].Site].DayOf(to.Begins)
	if bond.Loose && to.Begins < from.Begins {
		return true
	}
	holds := true
	switch bond.Kind {
	case instance.BeginsAfter:
		holds = to.Begins > from.Begins
	case instance.DaysApart:
		holds = dayTo-dayFrom >= bond.Days
	case instance.EndToBegin:
		holds = to.Begins >= from.End()+bond.Seconds
	case instance.OneVisit:
		holds = from.Tour == to.Tour && from.Stop == to.Stop
	case instance.DueAfter:
		due := w.in.Items[bond.To].Due
		holds = to.Begins > from.Begins && dayTo-dayFrom >= due.Earliest && (due.Stands == instance.FarDay || dayTo-dayFrom <= due.Stands)
	case instance.NeverClose:
		if bond.WayFrom == int32(from.Way) && bond.WayTo == int32(to.Way) && abs(dayTo-dayFrom) < bond.Days {
			return w.refuse(RuleLabel, TooCloseTogether, item, to.Begins)
		}
	}
	if !holds {
		return w.refuse(RuleTiming, LinkBroken, item, to.Begins)
	}
	return true
}

// delay returns what the day of an item costs: its price and what it is late (cost).
func (w *Walker) delay(item int32) (price, late Cost) {
	it := &w.in.Items[item]
	earliest, latest, _, known := w.Days(item)
	if !known {
		return 0, 0
	}
	day := w.in.Sites[it.Site].DayOf(w.times(item).Begins)
	return it.PriceOf(day - earliest), it.LatePerDay * Cost(max(0, day-latest))
}

func abs(d Day) Day {
	if d < 0 {
		return -d
	}
	return d
}
