package tour

import "vernation/scheduler/internal/instance"

// forward gives every stretch of the day its earliest time.
func (w *Walker) forward() bool {
	w.resetWalk()
	at, place := w.shift.Start, w.shift.From
	next := 0
	for s := range w.stops {
		first := next
		for next < len(w.slots) && w.slots[next].stop == int32(s) {
			next++
		}
		if w.breakAt == first && !w.arrived && !w.rules.shift.extend(&at) {
			return false
		}
		at += w.travel(place, w.in.Sites[w.stops[s].Site].Place)
		if w.breakAt == first && w.arrived && !w.rules.shift.extend(&at) {
			return false
		}
		if w.stops[s].Fixed != instance.None {
			if !w.rules.pinned.extend(first, &at) {
				return false
			}
		} else if !w.visit(s, first, next, &at) {
			return false
		}
		place = w.in.Sites[w.stops[s].Site].Place
	}
	if w.breakAt == len(w.slots) && !w.arrived && !w.rules.shift.extend(&at) {
		return false
	}
	at += w.travel(place, w.shift.Base)
	if w.breakAt == len(w.slots) && w.arrived && !w.rules.shift.extend(&at) {
		return false
	}
	w.waits = w.waiting()
	w.walk.Returns = at + w.rinsesAtBase()
	return w.rules.shift.allows()
}

// waiting returns how long the day waits behind its first arrival, and before it where it pauses before; a fixed visit waits too.
func (w *Walker) waiting() (waits Seconds) {
	pauses := w.walk.Break.From < w.walk.Break.To
	if pauses && w.breakAt == 0 {
		return 1 // what lies before the first arrival is as early as it can be
	}
	for s, next := 0, 0; s < len(w.stops); s++ {
		visit := &w.walk.Visits[s]
		if w.stops[s].Fixed != instance.None {
			return 1
		}
		at := visit.Arrives + w.in.Sites[w.stops[s].Site].SignIn
		for first := next; next < len(w.slots) && w.slots[next].stop == int32(s); next++ {
			if pauses && w.breakAt == next && next != first {
				waits += w.walk.Break.From - at
				at = w.walk.Break.To
			}
			waits += w.slots[next].starts - at
			at = w.slots[next].starts + w.slots[next].length + w.slots[next].rinse
		}
		if s+1 < len(w.stops) {
			on := at + w.travel(w.in.Sites[w.stops[s].Site].Place, w.in.Sites[w.stops[s+1].Site].Place)
			if pauses && w.breakAt == next {
				on += w.shift.BreakTakes
			}
			waits += w.walk.Visits[s+1].Arrives - on
		} else if pauses && w.breakAt == next {
			waits += w.walk.Break.From - at
			if w.arrived {
				waits -= w.driveHome()
			}
		}
	}
	return waits
}

func (w *Walker) resetWalk() {
	w.walk.Visits = append(w.walk.Visits[:0], make([]Visit, len(w.stops))...)
	w.walk.Pieces, w.walk.Mixes, w.walk.Treatments = w.walk.Pieces[:0], w.walk.Mixes[:0], w.walk.Treatments[:0]
	w.walk.Break = instance.Window{}
	w.walk.Own, w.walk.Changes, w.walk.Cost, w.walk.Work = Parts{}, 0, 0, 0
	w.vessel = append(w.vessel[:0], make([]bool, w.in.Crew[w.shift.Technician].Vessels)...)
	copy(w.vessel, w.shift.Busy)
	for _, ref := range w.slots {
		if ref.block != nil {
			w.own[ref.ref.Item] = w.elsewhere(ref.ref.Item)
		}
	}
}

// visit finds the first access run that holds the whole visit, no earlier than at.
func (w *Walker) visit(stop, first, next int, at *Seconds) bool {
	site := &w.in.Sites[w.stops[stop].Site]
	from := *at
	if hold := w.hold[stop]; hold != instance.Far {
		from = max(from, hold)
	}
	saved := w.save()
	for _, run := range site.Access {
		if run.To <= from {
			continue
		}
		arrives := max(from, run.From)
		if arrives >= w.shift.End {
			break
		}
		leaves := arrives + site.SignIn
		if !w.workAt(stop, first, next, &leaves) {
			return false // later runs only make it later: what speaks against it is not the access
		}
		if leaves <= run.To {
			w.walk.Visits[stop] = Visit{Arrives: arrives, Leaves: leaves}
			*at = leaves
			return true
		}
		w.restore(saved)
	}
	return w.rules.access.reason(AccessShut, w.slots[first].ref.Item, from)
}

// workAt does the slots of one visit one after another.
func (w *Walker) workAt(stop, first, next int, at *Seconds) bool {
	for i := first; i < next; i++ {
		if w.breakAt == i && i != first && !w.rules.shift.extend(at) {
			return false
		}
		if !w.do(i, *at) {
			return false
		}
		s := &w.slots[i]
		*at = s.starts + s.length + s.rinse
		if *at > w.shift.End {
			return w.rules.shift.reason(ShiftTooShort, s.ref.Item, *at)
		}
	}
	return true
}

// do places one block at its earliest time.
func (w *Walker) do(i int, at Seconds) bool {
	s := &w.slots[i]
	lowest, latest, ok := w.rules.timing.extend(s.ref)
	if !ok {
		return false
	}
	s.latest = latest
	s.first, s.count = len(w.walk.Pieces), len(s.block.Pieces)
	offset := Seconds(0)
	for p := range s.block.Pieces {
		piece := &s.block.Pieces[p]
		mix, opens, ok := w.drawsOn(i, p)
		if !ok {
			return false
		}
		if opens {
			offset += w.in.Mixing
		}
		takes := w.takes(s.ref.Item, piece, at)
		w.walk.Pieces = append(w.walk.Pieces, Piece{s.ref, int16(p), s.stop, mix, offset, offset + takes})
		offset += takes
	}
	s.length = offset
	if !w.earliest(i, at, lowest) {
		return false
	}
	return w.placed(i)
}

// earliest moves the block's pieces, still counted from its start, to the first time at which all rules let them begin.
func (w *Walker) earliest(i int, at, lowest Seconds) bool {
	s := &w.slots[i]
	pieces := w.walk.Pieces[s.first : s.first+s.count]
	start := max(at, lowest-pieces[0].Begins)
	for moved := true; moved; {
		moved = false
		for p := range pieces {
			begins := start + pieces[p].Begins
			next, ok := w.nextBeginning(s, &pieces[p], begins)
			if !ok {
				return false
			}
			if next > begins {
				start, moved = start+next-begins, true
			}
		}
		if start > w.shift.End {
			return w.rules.shift.reason(NoBeginning, s.ref.Item, start)
		}
	}
	if start+pieces[0].Begins > s.latest {
		return w.rules.timing.reason(PastItsDays, s.ref.Item, s.latest)
	}
	s.starts = start
	for p := range pieces {
		pieces[p].Begins += start
		pieces[p].Ends += start
	}
	return true
}

// placed notes what the block brings about: times, treatment, mixes opened and rinsed.
func (w *Walker) placed(i int) bool {
	s := &w.slots[i]
	pieces := w.walk.Pieces[s.first : s.first+s.count]
	w.note(s.ref, s.stop, pieces[0].Begins, pieces[len(pieces)-1].Ends)
	for p := range pieces {
		if !w.openMix(i, &pieces[p]) || !w.rules.reentry.extend(s, &pieces[p]) {
			return false
		}
	}
	s.rinse = w.rinseAfter(i)
	return true
}

// note writes the times of a block into those of its item. A block of a service whose plants are all replaced that day takes
// no time and is no work.
func (w *Walker) note(ref Ref, stop int32, begins, ends Seconds) {
	if begins == ends {
		return
	}
	t := &w.own[ref.Item]
	if ref.Leg == 1 {
		if !t.Returned {
			t.Returned, t.BackTour, t.BackBegin = true, w.tour, begins
		}
		t.BackEnd = ends
		return
	}
	if !t.Placed {
		t.Placed, t.Way, t.Tour, t.Stop, t.Begins, t.Day = true, ref.Way, w.tour, stop, begins, w.siteOf(ref.Item).DayOf(begins)
	}
	t.Ends = ends
}

// takes returns how long a piece takes when its item begins about then; groups that a follow-up of that day replaces are left out.
func (w *Walker) takes(item int32, piece *instance.Piece, at Seconds) Seconds {
	if piece.Groups == nil || !w.varies[item] {
		return piece.Takes
	}
	day := w.dayOf(item, at)
	total := Seconds(0)
	for g := range piece.Groups {
		if !w.Replaced(&piece.Groups[g], day) {
			total += piece.Groups[g].Takes
		}
	}
	return total
}

// dayOf returns the day of an item of the tour: that of its beginning when it has begun, else that of an instant.
func (w *Walker) dayOf(item int32, at Seconds) Day {
	if t := &w.own[item]; t.Placed {
		return t.Day
	}
	return w.siteOf(item).DayOf(at)
}

// siteOf returns the site of an item.
func (w *Walker) siteOf(item int32) *instance.Site { return &w.in.Sites[w.in.Items[item].Site] }

// saved is how far a walk had come.
type saved struct {
	pieces, mixes, treatments int
	lastBreak                 instance.Window
}

// save remembers the state before a visit, so that it can be tried in a later access run.
func (w *Walker) save() saved {
	w.kept = append(w.kept[:0], w.vessel...)
	return saved{pieces: len(w.walk.Pieces), mixes: len(w.walk.Mixes), treatments: len(w.walk.Treatments), lastBreak: w.walk.Break}
}

// restore goes back to a saved state.
func (w *Walker) restore(s saved) {
	for _, piece := range w.walk.Pieces[s.pieces:] {
		w.own[piece.Item] = w.elsewhere(piece.Item)
	}
	// An item that also stands in an earlier visit (its first leg) keeps what it had there.
	w.walk.Pieces, w.walk.Mixes, w.walk.Treatments = w.walk.Pieces[:s.pieces], w.walk.Mixes[:s.mixes], w.walk.Treatments[:s.treatments]
	for _, piece := range w.walk.Pieces {
		w.note(piece.Ref, piece.Stop, piece.Begins, piece.Ends)
	}
	copy(w.vessel, w.kept)
	w.noteOpenings()
	w.walk.Break = s.lastBreak
}
