package tour

import "vernation/scheduler/internal/instance"

// The rule "shift": one place at a time, travel between places, work inside the shift, the break in its window,
// no more than the longest work time.

// shiftRule is the rule "shift" on a walk.
type shiftRule struct{ *Walker }

// extend lets the break lie at the earliest from an instant on.
func (r shiftRule) extend(at *Seconds) bool {
	begins := max(*at, r.shift.BreakWindow.From)
	if begins+r.shift.BreakTakes > r.shift.BreakWindow.To {
		return r.reason(NoBreak, instance.None, begins)
	}
	r.walk.Break = instance.Window{From: begins, To: begins + r.shift.BreakTakes}
	*at = r.walk.Break.To
	return true
}

// allows says whether the technician is back inside the shift.
func (r shiftRule) allows() bool {
	if r.walk.Returns > r.shift.End {
		return r.reason(ShiftTooShort, r.lastItem(), r.walk.Returns)
	}
	return true
}

// reason notes what the rule says against the walk and returns false.
func (r shiftRule) reason(text Text, item int32, at Seconds) bool {
	return r.refuse(RuleShift, text, item, at)
}

// travel returns the seconds of the shift's technician from one place to another.
func (w *Walker) travel(from, to int32) Seconds {
	return w.in.Travel[w.shift.Technician][from*w.in.Places+to]
}

// bestBreak walks the day without a break where none is due, else with the break where the day is cheapest.
// The break is tried before each slot, on arrival too where one begins a stop, and after the last.
func (w *Walker) bestBreak() (*Walk, bool) {
	if before, arrived := w.breakAsBefore(); before >= 0 && w.run(before, arrived) && w.workAllows() && !w.idles() && w.walk.Work+w.shift.Worked > w.in.BreakAfter {
		return &w.walk, true // no break elsewhere makes a day cheaper that waits nowhere
	}
	if !w.run(-1, false) {
		return nil, false
	}
	if w.walk.Work+w.shift.Worked <= w.in.BreakAfter || w.shift.BreakTakes == 0 {
		if !w.workAllows() {
			return nil, false
		}
		return &w.walk, true
	}
	w.reach()
	found := w.tryBreaks(true)
	if !found {
		found = w.tryBreaks(false)
	}
	if !found {
		w.rules.shift.reason(NoBreak, w.lastItem(), w.shift.BreakWindow.From)
		return nil, false
	}
	w.walk, w.best = w.best, w.walk
	return &w.walk, true
}

// tryBreaks tries the break in the places that are likely, or in all others until one is lawful, and keeps the cheapest as best.
// A day that waits nowhere is not made cheaper by another break.
func (w *Walker) tryBreaks(likely bool) (found bool) {
	for before := 0; before <= len(w.slots); before++ {
		for _, arrived := range [...]bool{false, true} {
			begins := before == 0 || before == len(w.slots) || w.slots[before].stop != w.slots[before-1].stop
			if arrived && !begins || w.breakLikely(before, arrived) != likely || !w.breakFits(before, arrived) {
				continue
			}
			if !w.run(before, arrived) || !w.workAllows() || !w.breakDue() {
				continue
			}
			idles := w.idles()
			if !found || w.walk.Cost < w.best.Cost {
				w.walk.into(&w.best)
				found = true
			}
			if !idles || !likely {
				return true
			}
		}
	}
	return found
}

// breakDue holds that a day asks for the break that it has: one that begins later than the day without it may be shorter.
func (w *Walker) breakDue() bool {
	if w.walk.Work+w.shift.BreakTakes+w.shift.Worked > w.in.BreakAfter {
		return true
	}
	return w.rules.shift.reason(NoBreak, w.lastItem(), w.walk.Break.From)
}

// breakAsBefore returns the slot before which the break lies where it lay when the tour was walked last, and whether that is on
// arrival; -1 where it had none.
func (w *Walker) breakAsBefore() (before int, arrived bool) {
	if w.shift.BreakTakes == 0 || w.around.Break == nil || w.around.Break[w.tour].From == 0 {
		return -1, false
	}
	for i := range w.slots {
		s := &w.slots[i]
		if s.block == nil || s.ref.Leg != 0 {
			continue
		}
		if at := &w.around.Placed[s.ref.Item]; at.Placed && at.Tour == w.tour && at.Begins >= w.around.Break[w.tour].From {
			begins := i == 0 || w.slots[i-1].stop != s.stop
			return i, begins && w.around.Break[w.tour].Arrived
		}
	}
	return len(w.slots), w.around.Break[w.tour].Arrived
}

// idles says whether some of the work time of the walk is waiting.
func (w *Walker) idles() bool {
	busy, place := Seconds(0), w.shift.From
	for s := range w.stops {
		site := &w.in.Sites[w.stops[s].Site]
		busy += w.travel(place, site.Place)
		if w.stops[s].Fixed == instance.None {
			busy += site.SignIn
		}
		place = site.Place
	}
	busy += w.travel(place, w.shift.Base) + w.rinsesAtBase()
	for i := range w.slots {
		busy += w.slots[i].length + w.slots[i].rinse
	}
	return w.walk.Work > busy
}

// reach notes when each slot could begin at the earliest, as the walk without a break has found, and by when it must begin at the
// latest for what comes after it.
func (w *Walker) reach() {
	w.reached = append(w.reached[:0], w.shift.Start)
	for i := range w.slots {
		w.reached = append(w.reached, w.starts[i]+w.slots[i].length+w.slots[i].rinse)
	}
	w.by = append(w.by[:0], w.reached...)
	by := w.shift.End - w.rinsesAtBase() - w.driveHome()
	w.by[len(w.slots)] = by
	for i := len(w.slots) - 1; i >= 0; i-- {
		s := &w.slots[i]
		if s.block == nil {
			by = w.starts[i]
		} else {
			by = w.slotBy(s, by-s.rinse-s.length)
		}
		w.by[i] = by
		if i == 0 || w.slots[i-1].stop != s.stop {
			by = w.arrivalBy(s.stop, by)
			if s.stop > 0 {
				by -= w.travel(w.in.Sites[w.stops[s.stop-1].Site].Place, w.in.Sites[w.stops[s.stop].Site].Place)
			}
		}
	}
}

// slotBy returns the latest start of a block up to one, by the windows of its pieces and its days.
func (w *Walker) slotBy(s *slot, by Seconds) Seconds {
	pieces := w.walk.Pieces[s.first : s.first+s.count]
	for p := range pieces {
		offset := pieces[p].Begins - s.starts
		if p == 0 {
			by = min(by, s.latest-offset)
		}
		last := instance.LastIn(s.block.Pieces[pieces[p].Piece].Windows, by+offset)
		if last == -instance.Far {
			return -instance.Far
		}
		by = min(by, last-offset)
	}
	return by
}

// arrivalBy returns the latest arrival at a stop whose first slot begins by an instant.
func (w *Walker) arrivalBy(stop int32, by Seconds) Seconds {
	if w.stops[stop].Fixed != instance.None {
		return by
	}
	return by - w.in.Sites[w.stops[stop].Site].SignIn
}

// breakFits says whether what comes after a break before a slot can still be done in time, mixes and keep-outs apart.
func (w *Walker) breakFits(before int, arrived bool) bool {
	at := w.breakReached(before, arrived)
	ends := max(at, w.shift.BreakWindow.From) + w.shift.BreakTakes
	if before == len(w.slots) {
		if arrived {
			ends -= w.driveHome()
		}
		return ends <= w.by[before]
	}
	by := w.by[before]
	if stop := w.slots[before].stop; before == 0 || w.slots[before-1].stop != stop {
		by = w.arrivalBy(stop, by)
		if !arrived {
			by -= w.drive(stop)
		}
	}
	return ends <= by
}

// drive is the travel to a stop from where the day comes from.
func (w *Walker) drive(stop int32) Seconds {
	from := w.shift.From
	if stop > 0 {
		from = w.in.Sites[w.stops[stop-1].Site].Place
	}
	return w.travel(from, w.in.Sites[w.stops[stop].Site].Place)
}

// breakReached is the earliest time at which a break before a slot could begin but for its window.
func (w *Walker) breakReached(before int, arrived bool) Seconds {
	switch {
	case !arrived:
		return w.reached[before]
	case before == len(w.slots):
		return w.reached[before] + w.driveHome()
	}
	return w.reached[before] + w.drive(w.slots[before].stop)
}

// driveHome is the travel from the last stop to the base.
func (w *Walker) driveHome() Seconds {
	last := w.shift.From
	if len(w.stops) > 0 {
		last = w.in.Sites[w.stops[len(w.stops)-1].Site].Place
	}
	return w.travel(last, w.shift.Base)
}

// breakLikely says whether a break before a slot can begin in its window, and would not only wait for it where one later in
// the day could be taken as early.
func (w *Walker) breakLikely(before int, arrived bool) bool {
	window := w.shift.BreakWindow
	waits := before > 0 && before < len(w.slots) && w.reached[before+1] <= window.From
	return !waits && w.breakReached(before, arrived) <= window.To-w.shift.BreakTakes
}

// workAllows holds the longest work time.
func (w *Walker) workAllows() bool {
	if w.in.MostWork > 0 && w.walk.Work+w.shift.Worked > w.in.MostWork {
		return w.rules.shift.reason(TooMuchWork, w.lastItem(), w.walk.Returns)
	}
	return true
}

// lastItem names an item of the tour for a reason.
func (w *Walker) lastItem() int32 {
	for i := len(w.slots) - 1; i >= 0; i-- {
		if w.slots[i].block != nil {
			return w.slots[i].ref.Item
		}
	}
	return instance.None
}

// breakAllows says whether the break, where it lies in a visit, finds an area of the site that is not shut.
func (w *Walker) breakAllows() bool {
	if w.walk.Break.From == w.walk.Break.To {
		return true
	}
	for s := range w.stops {
		visit := instance.Window{From: w.walk.Visits[s].Arrives, To: w.walk.Visits[s].Leaves}
		if !visit.Overlaps(w.walk.Break) {
			continue
		}
		if !w.anyAreaOpen(w.stops[s].Site, w.walk.Break) {
			return w.rules.shift.reason(NoBreak, w.lastItem(), w.walk.Break.From)
		}
	}
	return true
}

// anyAreaOpen says whether some area of a site is shut neither by other tours nor by this one.
func (w *Walker) anyAreaOpen(site int32, during instance.Window) bool {
	for _, area := range w.areas[site] {
		if w.stretchAllows(area, during) {
			return true
		}
	}
	return false
}

// othersBreak says whether those of other tours who take their break at a site that this one treats find an area that is
// not shut, by their own applications neither.
func (w *Walker) othersBreak() bool {
	for i := range w.walk.Treatments {
		site := w.in.Areas[w.walk.Treatments[i].Area].Site
		for _, pause := range w.around.Breaks[site] {
			if pause.Tour != w.tour && !w.anyAreaOpen(site, pause.Window) {
				return w.rules.shift.reason(NoBreak, w.walk.Treatments[i].Item, pause.From)
			}
		}
	}
	return true
}
