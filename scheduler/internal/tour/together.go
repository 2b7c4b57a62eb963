package tour

import "vernation/scheduler/internal/instance"

// pullTogether moves every stretch as late as the end of the day lets it, so that no waiting is left
// behind the departure that could lie before it. A visit that keeps its published arrival stays.
func (w *Walker) pullTogether() {
	next := len(w.slots)
	limit := instance.Far
	for s := len(w.stops) - 1; s >= 0; s-- {
		first := next
		for first > 0 && w.slots[first-1].stop == int32(s) {
			first--
		}
		visit := &w.walk.Visits[s]
		if s == len(w.stops)-1 {
			limit = visit.Leaves
			if w.breakAt == len(w.slots) {
				limit = w.walk.Break.From // no need to wait for it
				if w.arrived {
					limit -= w.driveHome()
				}
			}
		}
		stays := w.stops[s].Fixed != instance.None || visit.Arrives == w.hold[s]
		if !stays {
			w.pullVisit(s, first, next, limit)
		}
		from := w.shift.From
		if s > 0 {
			from = w.in.Sites[w.stops[s-1].Site].Place
		}
		limit = visit.Arrives
		if w.breakAt == first && w.arrived {
			limit = w.pullBreak(limit)
		}
		limit -= w.travel(from, w.in.Sites[w.stops[s].Site].Place)
		if w.breakAt == first && !w.arrived {
			limit = w.pullBreak(limit)
		}
		next = first
	}
}

// pullVisit moves the blocks of one visit towards a limit, inside its access run.
func (w *Walker) pullVisit(stop, first, next int, limit Seconds) {
	visit := &w.walk.Visits[stop]
	site := &w.in.Sites[w.stops[stop].Site]
	for _, run := range site.Access {
		if run.From <= visit.Arrives && visit.Leaves <= run.To {
			limit = min(limit, run.To)
		}
	}
	at := limit
	for i := next - 1; i >= first; i-- {
		s := &w.slots[i]
		start := w.latestStart(i, at-s.rinse-s.length)
		for p := s.first; p < s.first+s.count; p++ {
			w.walk.Pieces[p].Begins += start - s.starts
			w.walk.Pieces[p].Ends += start - s.starts
		}
		s.starts = start
		at = start
		if w.breakAt == i && i != first {
			at = w.pullBreak(at)
		}
	}
	visit.Arrives = at - site.SignIn
	last := &w.slots[next-1]
	visit.Leaves = last.starts + last.length + last.rinse
}

// pullBreak moves the break to the end of its window, but before a limit, and returns its beginning.
func (w *Walker) pullBreak(limit Seconds) Seconds {
	w.walk.Break.To = min(limit, w.shift.BreakWindow.To)
	w.walk.Break.From = w.walk.Break.To - w.shift.BreakTakes
	return w.walk.Break.From
}

// latestStart returns the last start of a block up to a limit on the same day, at least the one it has.
func (w *Walker) latestStart(i int, limit Seconds) Seconds {
	s := &w.slots[i]
	pieces := w.walk.Pieces[s.first : s.first+s.count]
	site := &w.in.Sites[w.stops[s.stop].Site]
	lead := pieces[0].Begins - s.starts
	start := min(limit, s.latest-lead, site.Midnight(site.DayOf(pieces[0].Begins)+1)-1-lead)
	for moved := true; moved && start > s.starts; {
		moved = false
		for p := range pieces {
			begins := start + pieces[p].Begins - s.starts
			last, ok := w.lastBeginning(s, &pieces[p], begins)
			if !ok {
				return s.starts
			}
			if last < begins {
				start, moved = start-(begins-last), true
			}
		}
	}
	return max(start, s.starts)
}

// settle derives everything from the final times of the blocks and asks every rule once more.
func (w *Walker) settle() bool {
	for i := range w.slots {
		if s := &w.slots[i]; s.block != nil {
			w.own[s.ref.Item] = w.elsewhere(s.ref.Item)
		}
	}
	w.walk.Treatments = w.walk.Treatments[:0]
	for i := range w.slots {
		s := &w.slots[i]
		if s.block == nil {
			continue
		}
		pieces := w.walk.Pieces[s.first : s.first+s.count]
		w.note(s.ref, s.stop, pieces[0].Begins, pieces[len(pieces)-1].Ends)
		for p := range pieces {
			if !w.rules.reentry.extend(s, &pieces[p]) {
				return false
			}
		}
	}
	return w.allow()
}

// allow asks every rule of a day whose times, treatments and items are known.
func (w *Walker) allow() bool {
	if !w.rules.mix.allows() || !w.ownAllow() || !w.breakAllows() || !w.othersBreak() || !w.returnsAllow() {
		return false
	}
	for i := range w.slots {
		s := &w.slots[i]
		if s.block != nil && s.ref.Block == 0 && (!w.Allows(s.ref.Item) || !w.watchersStay(s.ref.Item)) {
			return false
		}
	}
	return w.servicesAllow()
}

// returnsAllow holds that plants come back after people may enter, and within the way's greatest time away.
func (w *Walker) returnsAllow() bool {
	for i := range w.slots {
		s := &w.slots[i]
		if s.block == nil {
			continue
		}
		t := w.times(s.ref.Item)
		if !t.Placed || !t.Returned {
			continue
		}
		if t.BackBegin < max(t.OpenFrom, t.Ends+w.way(s.ref).Wait) || t.BackBegin > t.Begins+w.way(s.ref).MostAway {
			return w.rules.timing.reason(LinkBroken, s.ref.Item, t.BackBegin)
		}
	}
	return true
}

// servicesAllow holds that the groups taken out of a service are those of the day on which it begins, and that some are left.
func (w *Walker) servicesAllow() bool {
	for i := range w.walk.Pieces {
		piece := &w.walk.Pieces[i]
		if !w.varies[piece.Item] {
			continue
		}
		p := &w.block(piece.Ref).Pieces[piece.Piece]
		if p.Groups == nil {
			continue
		}
		if !w.own[piece.Item].Placed || w.takes(piece.Item, p, piece.Begins) != piece.Ends-piece.Begins {
			return w.rules.timing.reason(LinkBroken, piece.Item, piece.Begins)
		}
	}
	return true
}

// watchersStay holds that an item which others count from, placed before, keeps its day: their prices and days hang on it.
// Nor may a follow-up that replaces groups of a service planned elsewhere come to its day or leave it.
func (w *Walker) watchersStay(item int32) bool {
	t := w.times(item)
	before := w.around.Placed[item]
	moved := before.Placed && t.Placed && before.Day != t.Day
	bonds := w.in.Items[item].Bonds
	for b := range bonds {
		bond := &bonds[b]
		other := bond.From + bond.To - item
		if !w.around.Placed[other].Placed || w.seen[other] == w.epoch && bond.Kind != instance.DueAfter {
			continue
		}
		if moved && bond.From == item && bond.Kind == instance.DueAfter {
			return w.rules.timing.reason(LinkBroken, item, t.Begins)
		}
		if bond.Kind == instance.Replaces && bond.From == item {
			day := w.around.Placed[other].Day
			replaced := before.Placed && before.Day == day
			if replaced != (t.Day == day) {
				return w.rules.timing.reason(LinkBroken, item, t.Begins)
			}
		}
		if bond.Kind == instance.WetsFor && bond.From == item && !w.Allows(other) {
			return false
		}
	}
	return true
}

// Allows says whether every rule between this item and others holds, by where all of them stand.
// It is asked of each item of a walked tour, and by the schedule outside of any walk.
func (w *Walker) Allows(item int32) bool {
	t := w.times(item)
	if !t.Placed {
		return true
	}
	return w.rules.timing.allows(item, t.Day) && w.rules.access.allows(item) && w.rules.label.allows(item, t.Day)
}
