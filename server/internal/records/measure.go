package records

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

func (f *facts) measures() firm.Measures {
	f.index()
	m := firm.Measures{Wish: f.wish}
	f.onTime(&m)
	f.riding(&m)
	f.driving(&m)
	f.materials(&m)
	f.cases(&m)
	f.minutes(&m)
	return m
}

// counts says whether work was done in the span by whom and where the wish says.
func (f *facts) counts(w work) bool {
	return f.ours[w.site] && (f.wish.Technician == "" || w.technician == f.wish.Technician) && w.at >= f.span.From && w.at < f.span.To
}

// window is a follow-up's earliest and latest day, resolved.
type window struct {
	site             site.ID
	earliest, latest civil.Date
}

// planWindow is the window of a follow-up in a plan, by the plan's place among those that were made.
type planWindow struct {
	firm.FollowUpWindow
	plan int
}

// index lists the windows of each follow-up, those of the earliest plan first.
func (f *facts) index() {
	f.windows = map[scheduler.ItemID][]planWindow{}
	for i, plan := range f.planned {
		for _, w := range plan.Windows {
			f.windows[w.ID] = append(f.windows[w.ID], planWindow{w, i})
		}
	}
}

// windowAt is the window of a follow-up as the newest plan that was made for it by an instant has it; lags count from the day
// on which the item before was done. known is false where no such plan named it, or the item before is not done.
func (f *facts) windowAt(item scheduler.ItemID, by civil.Instant, days map[scheduler.ItemID]civil.Date) (found window, known bool) {
	for _, w := range f.windows[item] {
		if f.planned[w.plan].MadeAt > by {
			break
		}
		found, known = window{w.Site, w.Due.EarliestOn, w.Due.LatestOn}, true
		if w.Due.After != "" {
			before, done := days[w.Due.After]
			known = done
			found.earliest, found.latest = before.AddDays(w.Due.EarliestLag), before.AddDays(w.Due.LatestLag)
		}
	}
	return found, known
}

// onTime counts the follow-ups whose latest day lies in the span by when they were done. One that is not done counts once its
// latest day is over, and only where the last plan made by then still asked for it: what a course no longer needs is no failure.
// By technician only what was done is counted, for what was not is nobody's.
func (f *facts) onTime(m *firm.Measures) {
	days, instants, by := map[scheduler.ItemID]civil.Date{}, map[scheduler.ItemID]civil.Instant{}, map[scheduler.ItemID]scheduler.TechnicianID{}
	for _, w := range f.done {
		if _, before := days[w.item]; !before && w.item != "" && !w.service {
			days[w.item], instants[w.item], by[w.item] = w.on, w.at, w.technician
		}
	}
	in := func(day civil.Date) bool { return day >= f.wish.First && day <= f.wish.Last }
	for item, day := range days {
		mine := f.wish.Technician == "" || by[item] == f.wish.Technician
		found, known := f.windowAt(item, instants[item], days)
		switch {
		case !mine:
		case !known:
			if w := f.first(item); f.counts(w) {
				m.NoWindow++
			}
		case !f.ours[found.site] || !in(found.latest):
		case day < found.earliest:
			m.Early++
		case day > found.latest:
			m.Late++
		default:
			m.OnTime++
		}
	}
	if f.wish.Technician == "" {
		m.NotDone = f.notDone(days, in)
	}
}

// first is the first time that an item was done.
func (f *facts) first(item scheduler.ItemID) work {
	return f.done[slices.IndexFunc(f.done, func(w work) bool { return w.item == item })]
}

func (f *facts) notDone(days map[scheduler.ItemID]civil.Date, in func(civil.Date) bool) (count int) {
	for item := range f.windows {
		if _, done := days[item]; done {
			continue
		}
		found, known := f.windowAt(item, f.now, days)
		zone := f.zones[found.site]
		if !known || !f.ours[found.site] || !in(found.latest) || found.latest >= zone.DateOf(f.now) {
			continue
		}
		if f.stillAsked(item, zone.At(found.latest.AddDays(1), 0)) {
			count++
		}
	}
	return count
}

// stillAsked says whether the last plan made before an instant was made for a follow-up.
func (f *facts) stillAsked(item scheduler.ItemID, before civil.Instant) bool {
	last := -1
	for i, plan := range f.planned {
		if plan.MadeAt < before {
			last = i
		}
	}
	return slices.ContainsFunc(f.windows[item], func(w planWindow) bool { return w.plan == last })
}

// riding counts the follow-ups done in the span, and those of them at a visit at which a service was done.
func (f *facts) riding(m *firm.Measures) {
	served := map[string]bool{}
	for _, w := range f.done {
		served[w.report] = served[w.report] || w.service
	}
	for _, w := range f.done {
		if w.service || !f.counts(w) {
			continue
		}
		m.DoneFollowUps++
		if served[w.report] {
			m.RodeOnServices++
		}
	}
}

// driving adds up the paid time of published day routes that are over, and what of it lies outside visits.
func (f *facts) driving(m *firm.Measures) {
	for _, route := range f.routes {
		day := civil.Interval{From: route.Departs, To: route.Returns}
		paid := day.To.Sub(day.From) - route.Break.To.Sub(route.Break.From)
		outside := paid
		for _, v := range f.visits {
			if v.Technician != route.Technician || v.Arrives < day.From || v.Leaves > day.To {
				continue
			}
			outside -= v.Leaves.Sub(v.Arrives)
			if route.Break.From >= v.Arrives && route.Break.To <= v.Leaves {
				outside += route.Break.To.Sub(route.Break.From) // a break inside a visit was taken off already
			}
		}
		m.Paid += paid
		m.OutsideVisits += max(outside, 0)
	}
}

// materials adds up what the standing records of the span say came onto plants, by product.
func (f *facts) materials(m *firm.Measures) {
	used := map[catalogue.ProductID]firm.MaterialUse{}
	for _, r := range f.records {
		if !f.ours[r.Site] || f.wish.Technician != "" && r.Technician != f.wish.Technician {
			continue
		}
		u := used[r.Product]
		u.Product, u.Name = r.Product, r.ProductName
		u.Applications++
		u.Concentrate, u.Applied = u.Concentrate.Add(r.Concentrate), u.Applied.Add(r.Applied)
		u.Mass, u.Organisms = u.Mass.Add(r.Mass), u.Organisms+r.Organisms
		used[r.Product] = u
	}
	for _, id := range slices.Sorted(maps.Keys(used)) {
		m.Materials = append(m.Materials, used[id])
	}
}

// cases counts the cases that ended in the span, how long the cleared ones took, and what all of them cost.
func (f *facts) cases(m *firm.Measures) {
	for _, c := range f.ended {
		m.EndedCases++
		if c.Ending == nil || c.Ending.Kind != course.Clear {
			continue
		}
		zone := f.zones[site.ID(c.Site)]
		days := zone.DateOf(c.EndedAt).DaysSince(zone.DateOf(c.OpenedAt))
		m.ClearedCases++
		m.DaysToClearance += days
		m.MostDaysToClearance = max(m.MostDaysToClearance, days)
	}
	ended := func(id course.CaseID) bool {
		return slices.ContainsFunc(f.ended, func(c firm.Case) bool { return c.ID == id })
	}
	cost := firm.CaseCost{Cases: len(f.ended)}
	for _, w := range f.lives {
		if w.ofCase == "" || !ended(w.ofCase) {
			continue
		}
		if w.took == 0 {
			cost.WithoutTimes++
		}
		pay := f.pay[w.technician]
		if pay == 0 {
			pay = int64(f.business.Policy.PaidPerMinute)
		}
		cost.Labour += quantity.Money((int64(w.took/time.Second)*pay + 30) / 60)
	}
	for _, r := range f.applied {
		if !ended(r.Case) {
			continue
		}
		cost.Visits += f.business.Policy.VisitCost * quantity.Money(f.business.Policy.ShareOfVisitPercent) / 100
		if r.Applied.IsZero() {
			cost.NotByVolume++
			continue
		}
		litres, _ := r.Applied.In(quantity.Litre).Float64()
		cost.Material += quantity.Money(litres*float64(f.business.Policy.MaterialPerLitre) + 0.5)
	}
	m.CaseCost = cost
}

// minutes sets what items took beside what was planned for the same items, by kind of work. What no published visit held, or
// of which no times were told, is left out.
func (f *facts) minutes(m *firm.Measures) {
	took := map[string][]work{}
	for _, w := range f.done {
		if f.counts(w) && w.took > 0 && w.planned > 0 {
			took[w.kind] = append(took[w.kind], w)
		}
	}
	for _, kind := range slices.Sorted(maps.Keys(took)) {
		list := took[kind]
		slices.SortFunc(list, func(a, b work) int { return cmp.Compare(a.took, b.took) })
		row := firm.WorkMinutes{Kind: kind, Items: len(list), Shortest: list[0].took, Middle: list[(len(list)-1)/2].took, Longest: list[len(list)-1].took}
		for _, w := range list {
			row.Taken += w.took
			row.Planned += w.planned
		}
		m.Minutes = append(m.Minutes, row)
	}
}
