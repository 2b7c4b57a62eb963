package tour

import "vernation/scheduler/internal/instance"

// Treat derives the treatments of a walk whose times are known, and tells its items when people may enter again.
func (w *Walker) Treat(tour int32, stops []Stop, walk *Walk) {
	w.tour, w.shift, w.stops = tour, &w.in.Shifts[tour], stops
	w.prepare()
	defer func() { w.epoch++ }()
	w.walk = Walk{Pieces: walk.Pieces}
	for i := range walk.Pieces {
		piece := &walk.Pieces[i]
		p := &w.block(piece.Ref).Pieces[piece.Piece]
		if !p.Application || p.KeepOut <= 0 {
			continue
		}
		tr := w.treatment(piece.Stop, p.Area)
		if tr == nil {
			w.walk.Treatments = append(w.walk.Treatments, Treatment{Area: p.Area, Stop: piece.Stop, Item: piece.Item, Begins: piece.Begins})
			tr = &w.walk.Treatments[len(w.walk.Treatments)-1]
		}
		tr.Begins, tr.Ends = min(tr.Begins, piece.Begins), max(tr.Ends, piece.Ends)
		tr.Keep, tr.Unaired = max(tr.Keep, p.KeepOut), max(tr.Unaired, p.Unaired)
		tr.OpenFrom = w.openFrom(tr.Area, tr.Ends, tr.Keep, tr.Unaired)
	}
	walk.Treatments = w.walk.Treatments
}

// Price prices a walk whose times are known: its visits, its own cost and the published visits that it does not keep. The
// items must be placed in what is around.
func (w *Walker) Price(tour int32, stops []Stop, walk *Walk) {
	w.tour, w.shift, w.stops = tour, &w.in.Shifts[tour], stops
	w.epoch++ // no item is of a tour being walked: all stand where they are placed
	w.walk = *walk
	w.price()
	*walk = w.walk
	w.walk = Walk{}
}

// Takes returns how long a piece of a service takes on a day, without the groups that a follow-up of that day replaces.
func (w *Walker) Takes(piece *instance.Piece, day Day) Seconds {
	if piece.Groups == nil {
		return piece.Takes
	}
	total := Seconds(0)
	for g := range piece.Groups {
		if !w.Replaced(&piece.Groups[g], day) {
			total += piece.Groups[g].Takes
		}
	}
	return total
}
