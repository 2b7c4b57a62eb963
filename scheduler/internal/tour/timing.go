package tour

import "vernation/scheduler/internal/instance"

// The rule "timing": days and lags, links, health order. The order inside a visit is Before's.

// timingRule is the rule "timing" on a walk.
type timingRule struct{ *Walker }

// extend returns between which instants the first piece of a block may begin, by what is known so far.
func (r timingRule) extend(ref Ref) (lowest, latest Seconds, ok bool) {
	item := &r.in.Items[ref.Item]
	t := r.times(ref.Item)
	if ref.Leg == 1 {
		if !t.Placed {
			return 0, 0, r.reason(WaitsForItem, ref.Item, 0)
		}
		way := r.way(ref)
		return max(t.OpenFrom, t.Ends+way.Wait), t.Begins + way.MostAway, true
	}
	if t.Placed { // a later block of the same item on the same visit
		return 0, r.shift.End, true
	}
	earliest, _, stands, known := r.Days(ref.Item)
	if !known {
		return 0, 0, r.reason(WaitsForItem, ref.Item, 0)
	}
	site := &r.in.Sites[item.Site]
	lowest, latest = item.Lo, item.Hi
	if earliest > site.FirstMidnight {
		lowest = max(lowest, site.Midnight(earliest))
	}
	if stands < instance.FarDay {
		latest = min(latest, site.Midnight(stands+1)-1)
	}
	for _, bond := range item.Bonds {
		lowest, latest = r.bondSpan(ref, bond, lowest, latest)
	}
	if lowest > latest {
		return 0, 0, r.reason(PastItsDays, ref.Item, latest)
	}
	return lowest, latest, true
}

// allows says whether the days and links of a placed item hold by where all of them stand.
func (r timingRule) allows(item int32, day Day) bool {
	t, it := r.times(item), &r.in.Items[item]
	earliest, _, stands, known := r.Days(item)
	if !known {
		return r.reason(WaitsForItem, item, t.Begins)
	}
	if day < earliest || day > stands || t.Begins < it.Lo || t.Begins > it.Hi || t.End() > it.EndBy {
		return r.reason(PastItsDays, item, t.Begins)
	}
	for _, bond := range it.Bonds {
		if !r.bondHolds(item, bond) {
			return false
		}
	}
	return true
}

// cost returns what the day of an item costs: its price and what it is late.
func (r timingRule) cost(item int32) (price, late Cost) {
	it := &r.in.Items[item]
	earliest, latest, _, known := r.Days(item)
	if !known {
		return 0, 0
	}
	day := r.times(item).Day
	return it.PriceOf(day - earliest), it.LatePerDay * Cost(max(0, day-latest))
}

// reason notes what the rule says against the walk and returns false.
func (r timingRule) reason(text Text, item int32, at Seconds) bool {
	return r.refuse(RuleTiming, text, item, at)
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
	from := other.Day
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

// bondHolds says whether one bond of a placed item holds where both stand.
func (w *Walker) bondHolds(item int32, bond instance.Bond) bool {
	from, to := w.times(bond.From), w.times(bond.To)
	if !from.Placed || !to.Placed {
		return true
	}
	dayFrom, dayTo := from.Day, to.Day
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
		if bond.WayFrom == int32(from.Way) && bond.WayTo == int32(to.Way) && w.daysBetween(bond.From, bond.To) < bond.Days {
			return w.rules.label.reason(TooCloseTogether, item, to.Begins)
		}
	}
	if !holds {
		return w.rules.timing.reason(LinkBroken, item, to.Begins)
	}
	return true
}

// daysBetween is the least number of days that lie between the applications of two placed items. Plants carried out before
// midnight may be treated after it, so the earlier one counts from its last day and the later one on its first.
func (w *Walker) daysBetween(a, b int32) Day {
	earlier, later := w.times(a), w.times(b)
	if later.Begins < earlier.Begins {
		a, earlier, later = b, later, earlier
	}
	return later.Day - w.siteOf(a).DayOf(earlier.Ends-1)
}
