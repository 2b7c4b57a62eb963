package planning

import (
	"cmp"
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// readDays reads what is published from today on as the day routes of a plan.
func (b *booking) readDays(tx *store.Tx) (err error) {
	if b.head, err = tx.Head(); err != nil {
		return err
	}
	if b.present, err = readPublished(tx, b.problem.Zone, b.gathered.horizon()); err != nil {
		return err
	}
	b.takeNames()
	routes, err := tx.Routes(store.RouteFilter{From: b.problem.FirstDay - 1, To: b.problem.FirstDay.AddDays(b.problem.Days)})
	if err != nil {
		return err
	}
	for _, r := range routes {
		b.days = append(b.days, scheduler.DayRoute{Technician: r.Technician, Day: r.Day, Departs: r.Departs, Returns: r.Returns, Break: r.Break, Mixes: r.Mixes})
	}
	for _, v := range b.present.visits {
		_, fact := b.present.fact(v)
		switch {
		case !fact && (v.State == scheduler.Done || v.Arrives < b.problem.Now):
			continue
		case v.State == scheduler.Done:
			v.Work = nil // its report tells what was done
		}
		b.putIntoDay(v)
	}
	b.days = slices.DeleteFunc(b.days, func(d scheduler.DayRoute) bool { return len(d.Visits) == 0 })
	b.shut, err = tx.KeepOuts(civil.Interval{From: b.problem.Now})
	return err
}

// takeNames calls the services of published visits as the Problem does.
func (b *booking) takeNames() {
	for _, named := range slices.Concat(b.problem.Fixed, b.problem.Before) {
		for i := range b.present.visits {
			if v := &b.present.visits[i]; v.ID == named.ID && len(v.Work) == len(named.Work) {
				v.Work = slices.Clone(v.Work)
				for w := range v.Work {
					v.Work[w].Item = named.Work[w].Item
				}
			}
		}
	}
}

// putIntoDay puts a visit into the day route that covers it, or into one of its own.
func (b *booking) putIntoDay(v scheduler.Visit) {
	i := slices.IndexFunc(b.days, func(d scheduler.DayRoute) bool {
		return d.Technician == v.Technician && d.Departs <= v.Arrives && v.Arrives <= d.Returns
	})
	if i < 0 {
		i = len(b.days)
		b.days = append(b.days, scheduler.DayRoute{Technician: v.Technician, Day: b.problem.Zone.DateOf(v.Arrives), Departs: v.Arrives, Returns: v.Leaves})
	}
	b.days[i].Visits = append(b.days[i].Visits, v)
}

// makeRoom takes the follow-up out of the visits that may move. The visit that an earlier booking pinned for it
// moves whole, and lends its id; what has begun stays beside, and the checker says so.
func (b *booking) makeRoom() {
	for d := range b.days {
		var stay []scheduler.Visit
		for _, v := range b.days[d].Visits {
			kept := slices.DeleteFunc(slices.Clone(v.Work), func(w scheduler.WorkItem) bool { return w.Item == b.wish.Item })
			movable := v.State == scheduler.Published || v.State == scheduler.Announced || v.State == scheduler.Pinned
			switch {
			case len(kept) == len(v.Work), !movable, b.present.hasBegun(v):
				stay = append(stay, v)
			case len(kept) > 0:
				v.Work = kept
				b.upsert = append(b.upsert, v)
				stay = append(stay, v)
			case v.State == scheduler.Pinned:
				b.wish.Visit = v.ID
			default:
				b.remove = append(b.remove, v.ID)
			}
		}
		b.days[d].Visits = stay
	}
	gone := slices.Concat(b.remove, []scheduler.VisitID{b.wish.Visit})
	b.shut = slices.DeleteFunc(b.shut, func(k firm.KeepOutFact) bool {
		return slices.Contains(gone, k.Visit) || k.Item == b.wish.Item && slices.ContainsFunc(b.upsert, func(v scheduler.Visit) bool { return v.ID == k.Visit })
	})
}

// dayOfShift is the published day route of the technician's shift, or an empty one.
func (b *booking) dayOfShift() scheduler.DayRoute {
	for _, d := range b.days {
		if d.Technician == b.technician.ID && d.Day == b.shift.Day && len(d.Visits) > 0 {
			d.Visits, d.Mixes = slices.Clone(d.Visits), slices.Clone(d.Mixes)
			return d
		}
	}
	return scheduler.DayRoute{Technician: b.technician.ID, Day: b.shift.Day}
}

// vessels are the technician's, those first that nothing of the day is mixed in.
func (b *booking) vessels() []dilution.Vessel {
	used := func(v dilution.Vessel) int {
		if slices.ContainsFunc(drawn(b.dayOfShift()).Mixes, func(m scheduler.Mix) bool { return m.Vessel == v.ID }) {
			return 1
		}
		return 0
	}
	vessels := slices.Clone(b.technician.Vessels)
	slices.SortStableFunc(vessels, func(x, y dilution.Vessel) int { return cmp.Compare(used(x), used(y)) })
	return vessels
}

// joinDay puts the visit into its day: the way out and back, the rinses on return, and the break where it fits.
func (b *booking) joinDay(mixes []scheduler.Mix) {
	d := &b.day
	departed := d.Departs
	rinsedLast := func(m scheduler.Mix) bool {
		return m.RinseAtBase && !slices.ContainsFunc(d.Visits, func(v scheduler.Visit) bool { return v.Arrives > m.Rinse.From })
	}
	var last []int
	for i, m := range d.Mixes {
		if rinsedLast(m) {
			last = append(last, i)
		}
	}
	slices.SortStableFunc(last, func(x, y int) int { return cmp.Compare(d.Mixes[x].Rinse.From, d.Mixes[y].Rinse.From) })
	for i := range mixes {
		last = append(last, len(d.Mixes)+i)
		mixes[i].Rinse.To = mixes[i].Rinse.From.Add(b.problem.Rules.Rinsing)
	}
	d.Mixes = append(d.Mixes, mixes...)
	at := 0
	for at < len(d.Visits) && d.Visits[at].Arrives <= b.visit.Arrives {
		at++
	}
	d.Visits = slices.Insert(d.Visits, at, b.visit)
	if d.Break.To > b.problem.Now && !b.pausesIn(*d) {
		d.Break = civil.Interval{}
	}
	first, end := d.Visits[0], d.Visits[len(d.Visits)-1]
	d.Departs = first.Arrives.Add(-b.drive(b.technician.Base, placeOf(first.Site)))
	if d.Break.To <= first.Arrives {
		d.Departs = d.Departs.Add(-d.Break.Length())
	}
	if departed != 0 && departed < b.problem.Now {
		d.Departs = min(d.Departs, departed)
	}
	d.Returns = end.Leaves.Add(b.drive(placeOf(end.Site), b.technician.Base))
	if d.Break.From >= end.Leaves {
		d.Returns = d.Returns.Add(d.Break.Length())
	}
	for _, i := range last {
		takes := d.Mixes[i].Rinse.Length()
		d.Mixes[i].Rinse = civil.Interval{From: d.Returns, To: d.Returns.Add(takes)}
		d.Returns = d.Mixes[i].Rinse.To
	}
	b.pause()
}

// pausesIn says whether the break of a day lies clear of the new visit and of the travel around it.
func (b *booking) pausesIn(d scheduler.DayRoute) bool {
	if d.Break.Overlaps(civil.Interval{From: b.visit.Arrives, To: b.visit.Leaves}) {
		return false
	}
	for i := 1; i < len(d.Visits); i++ {
		before, after := d.Visits[i-1], d.Visits[i]
		gap := civil.Interval{From: before.Leaves, To: after.Arrives}
		if gap.Overlaps(d.Break) && gap.Length() < b.drive(placeOf(before.Site), placeOf(after.Site))+d.Break.Length() {
			return false
		}
	}
	return true
}

// pause puts the break that has become due, or that had to give way, between two visits where there is time for it.
func (b *booking) pause() {
	d, shift := &b.day, b.shift
	if shift.BreakTakes == 0 || !d.Break.Empty() || d.Returns.Sub(d.Departs) <= b.problem.Rules.BreakAfter {
		return
	}
	for i := 1; i < len(d.Visits); i++ {
		before, after := d.Visits[i-1], d.Visits[i]
		from := max(before.Leaves, shift.BreakWindow.From)
		pause := civil.Interval{From: from, To: from.Add(shift.BreakTakes)}
		travels := b.drive(placeOf(before.Site), placeOf(after.Site))
		if pause.To <= min(after.Arrives, shift.BreakWindow.To) && after.Arrives.Sub(before.Leaves) >= travels+shift.BreakTakes {
			d.Break = pause
			return
		}
	}
}

func placeOf(id site.ID) travel.PlaceID { return travel.PlaceID(id) }

// drive is the technician's travel time between two places, rounded up to whole seconds.
func (b *booking) drive(from, to travel.PlaceID) time.Duration {
	seconds, _, _ := b.problem.Travel.Between(from, to)
	percent := int64(b.technician.SpeedPercent)
	return time.Duration((int64(seconds)*100+percent-1)/percent) * time.Second
}

// drawn returns a day without the mixes that no work of it draws on: nobody makes them.
func drawn(d scheduler.DayRoute) scheduler.DayRoute {
	at := make([]int, len(d.Mixes))
	uses := make([]bool, len(d.Mixes))
	visits := slices.Clone(d.Visits)
	for _, v := range visits {
		for _, w := range v.Work {
			if w.MixIndex >= 0 && w.MixIndex < len(uses) {
				uses[w.MixIndex] = true
			}
		}
	}
	mixes := d.Mixes
	d.Mixes = nil
	for i, mix := range mixes {
		if at[i] = len(d.Mixes); uses[i] {
			d.Mixes = append(d.Mixes, mix)
		}
	}
	for v := range visits {
		visits[v].Work = slices.Clone(visits[v].Work)
		for w := range visits[v].Work {
			if m := visits[v].Work[w].MixIndex; m >= 0 && m < len(at) {
				visits[v].Work[w].MixIndex = at[m]
			}
		}
	}
	d.Visits = visits
	return d
}
