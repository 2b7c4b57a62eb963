package tour

import "vernation/scheduler/internal/instance"

// The rule "reentry" inside a day, and against the keep-outs and people of other tours: the applications of one
// visit in one area are one treatment; from its beginning until people may enter, nobody is in what it shuts.

// reentryRule is the rule "reentry" on a walk.
type reentryRule struct{ *Walker }

// extend adds an application to the treatment of its area on this visit.
func (r reentryRule) extend(s *slot, piece *Piece) bool {
	p := &s.block.Pieces[piece.Piece]
	if !p.Application || p.KeepOut <= 0 {
		return true
	}
	tr := r.treatment(s.stop, p.Area)
	if tr == nil {
		r.walk.Treatments = append(r.walk.Treatments, Treatment{
			Area: p.Area, Stop: s.stop, Item: piece.Item, Begins: piece.Begins, Ends: piece.Ends,
			Keep: p.KeepOut, Unaired: p.Unaired,
		})
		tr = &r.walk.Treatments[len(r.walk.Treatments)-1]
	} else {
		if p.KeepOut > tr.Keep {
			tr.Item = piece.Item
		}
		tr.Begins, tr.Ends = min(tr.Begins, piece.Begins), max(tr.Ends, piece.Ends)
		tr.Keep, tr.Unaired = max(tr.Keep, p.KeepOut), max(tr.Unaired, p.Unaired)
	}
	tr.OpenFrom = r.openFrom(tr.Area, tr.Ends, tr.Keep, tr.Unaired)
	r.noteOpening(tr)
	return r.allows(tr)
}

// allows says whether nobody is in what a treatment shuts, people and other tours.
func (r reentryRule) allows(tr *Treatment) bool {
	during := instance.Window{From: tr.Begins, To: tr.OpenFrom}
	for _, people := range r.in.Areas[tr.Area].People {
		if people.Overlaps(during) {
			return r.reason(PeopleThere, tr.Item, people.From)
		}
	}
	for _, area := range r.in.Areas[tr.Area].Shuts {
		for _, present := range r.around.Present[area] {
			if present.Tour != r.tour && present.Overlaps(during) {
				return r.reason(AreaShutByOther, tr.Item, present.From)
			}
		}
	}
	return true
}

// reason notes what the rule says against the walk and returns false.
func (r reentryRule) reason(text Text, item int32, at Seconds) bool {
	return r.refuse(RuleReentry, text, item, at)
}

// treatment returns the treatment of an area on a visit, or nil.
func (w *Walker) treatment(stop, area int32) *Treatment {
	for i := range w.walk.Treatments {
		if tr := &w.walk.Treatments[i]; tr.Stop == stop && tr.Area == area {
			return tr
		}
	}
	return nil
}

// noteOpenings tells each item of an application when its treatment lets people in again.
func (w *Walker) noteOpenings() {
	for i := range w.walk.Treatments {
		w.noteOpening(&w.walk.Treatments[i])
	}
}

// noteOpening does so for the items of one treatment.
func (w *Walker) noteOpening(tr *Treatment) {
	for i := len(w.walk.Pieces) - 1; i >= 0 && w.walk.Pieces[i].Stop >= tr.Stop; i-- {
		piece := &w.walk.Pieces[i]
		if piece.Stop > tr.Stop {
			continue
		}
		if p := &w.block(piece.Ref).Pieces[piece.Piece]; p.Application && p.Area == tr.Area {
			w.own[piece.Item].OpenFrom = max(w.own[piece.Item].OpenFrom, tr.OpenFrom)
		}
	}
}

// openFrom returns when people may enter: the longer interval counts when any of the time after the end lies outside
// ventilation hours.
func (w *Walker) openFrom(area int32, ends, keep, unaired Seconds) Seconds {
	after := instance.Window{From: ends, To: ends + keep}
	for _, run := range w.in.Areas[area].Aired {
		if run.Covers(after) {
			return after.To
		}
	}
	return ends + unaired
}

// nextBeginning returns the first instant from one on at which a piece may begin, by its windows and by who is where.
func (w *Walker) nextBeginning(s *slot, piece *Piece, at Seconds) (Seconds, bool) {
	p := &s.block.Pieces[piece.Piece]
	takes := piece.Ends - piece.Begins
	for {
		next := instance.FirstIn(p.Windows, at)
		if next >= instance.Far {
			return 0, w.rules.reentry.reason(NoBeginning, piece.Item, at)
		}
		free, ok := w.freeFrom(s.stop, p, next, takes)
		if !ok {
			return 0, w.rules.reentry.reason(WorkAfterApplication, piece.Item, next)
		}
		if free == next {
			return next, true
		}
		at = free
	}
}

// freeFrom returns at when a piece may lie there, else the first instant after the stretch in its way. ok is false when
// it stands behind an application of its own visit in its area.
func (w *Walker) freeFrom(stop int32, p *instance.Piece, at, takes Seconds) (Seconds, bool) {
	if takes == 0 {
		return at, true
	}
	during := instance.Window{From: at, To: at + takes}
	for _, shut := range w.around.Shut[p.Area] {
		if shut.Tour != w.tour && shut.Overlaps(during) {
			return shut.To, true
		}
	}
	for i := range w.walk.Treatments {
		tr := &w.walk.Treatments[i]
		if !w.shuts(tr.Area, p.Area) {
			continue
		}
		if tr.Stop == stop {
			if p.Application && tr.Area == p.Area {
				continue
			}
			return 0, false
		}
		if during.Overlaps(instance.Window{From: tr.Begins, To: tr.OpenFrom}) {
			return tr.OpenFrom, true
		}
	}
	if !p.Application || p.KeepOut <= 0 {
		return at, true
	}
	during.To = w.openFrom(p.Area, at+takes, p.KeepOut, p.Unaired)
	for _, area := range w.in.Areas[p.Area].Shuts {
		for _, present := range w.around.Present[area] {
			if present.Tour != w.tour && present.Overlaps(during) {
				return present.To, true
			}
		}
	}
	return at, true
}

// lastBeginning returns the last instant up to one at which a piece may begin, by its windows and other tours; ok is
// false when there is none. Own treatments are looked at afterwards, by settle.
func (w *Walker) lastBeginning(s *slot, piece *Piece, at Seconds) (Seconds, bool) {
	p := &s.block.Pieces[piece.Piece]
	takes := piece.Ends - piece.Begins
	for {
		last := instance.LastIn(p.Windows, at)
		if last == -instance.Far {
			return 0, false
		}
		during := instance.Window{From: last, To: last + takes}
		moved := last
		for _, shut := range w.around.Shut[p.Area] {
			if shut.Tour != w.tour && shut.Overlaps(during) {
				moved = min(moved, shut.From-takes)
			}
		}
		if p.Application && p.KeepOut > 0 {
			during.To = w.openFrom(p.Area, last+takes, p.KeepOut, p.Unaired)
			for _, area := range w.in.Areas[p.Area].Shuts {
				for _, present := range w.around.Present[area] {
					if present.Tour != w.tour && present.Overlaps(during) {
						moved = min(moved, last-(during.To-present.From))
					}
				}
			}
		}
		if moved == last {
			return last, true
		}
		at = moved
	}
}

// stretchAllows says whether a mixing or rinse may lie in an area.
func (w *Walker) stretchAllows(area int32, during instance.Window) bool {
	if area == instance.None || during.From >= during.To {
		return true
	}
	for _, shut := range w.around.Shut[area] {
		if shut.Tour != w.tour && shut.Overlaps(during) {
			return false
		}
	}
	for i := range w.walk.Treatments {
		tr := &w.walk.Treatments[i]
		if w.shuts(tr.Area, area) && during.Overlaps(instance.Window{From: tr.Begins, To: tr.OpenFrom}) {
			return false
		}
	}
	return true
}

// ownAllow looks once more at the tour's own treatments against its own pieces, mixings and rinses, at their final times.
func (w *Walker) ownAllow() bool {
	for t := range w.walk.Treatments {
		tr := &w.walk.Treatments[t]
		if !w.rules.reentry.allows(tr) {
			return false
		}
		during := instance.Window{From: tr.Begins, To: tr.OpenFrom}
		for i := range w.walk.Pieces {
			piece := &w.walk.Pieces[i]
			if !during.Overlaps(instance.Window{From: piece.Begins, To: piece.Ends}) {
				continue
			}
			p := &w.block(piece.Ref).Pieces[piece.Piece]
			same := p.Application && p.Area == tr.Area && piece.Stop == tr.Stop
			if !same && w.shuts(tr.Area, p.Area) {
				return w.rules.reentry.reason(WorkAfterApplication, piece.Item, piece.Begins)
			}
		}
	}
	for i := range w.walk.Mixes {
		mix := &w.walk.Mixes[i]
		if !w.stretchAllows(mix.Area, instance.Window{From: mix.Begins, To: mix.Ready}) ||
			!mix.AtBase && !w.stretchAllows(mix.RinseArea, instance.Window{From: mix.RinseFrom, To: mix.RinseTo}) {
			return w.rules.reentry.reason(NowhereToMix, instance.None, mix.Begins)
		}
	}
	return true
}

func (w *Walker) shuts(treated, area int32) bool {
	for _, shut := range w.in.Areas[treated].Shuts {
		if shut == area {
			return true
		}
	}
	return false
}
