package tour

import (
	"slices"

	"vernation/scheduler/internal/instance"
)

// The rule "mix": every application of a diluted product draws on a filling of a vessel of the technician, within its
// capacity and life; a rinse ends it. Fillings are shared in the order of the applications, from the front, as long
// as some vessel holds them; one that would grow too old is split where it does.

// mixRule is the rule "mix" on a walk.
type mixRule struct{ *Walker }

// extend groups the mixed pieces of the tour into fillings.
func (r mixRule) extend() bool {
	r.need = r.need[:0]
	r.splits = r.splits[:0]
	return r.groupFillings()
}

// allows gives mixes and rinses their final times and holds their lives.
func (r mixRule) allows() bool {
	if len(r.walk.Mixes) == 0 {
		return true
	}
	for i := range r.walk.Mixes {
		r.walk.Mixes[i].Ready = 0
	}
	for p := range r.walk.Pieces {
		piece := &r.walk.Pieces[p]
		if piece.Mix == instance.None {
			continue
		}
		mix := &r.walk.Mixes[piece.Mix]
		if mix.Ready == 0 {
			mix.Begins, mix.Ready = piece.Begins-r.in.Mixing, piece.Begins
		}
		mix.LastUse, mix.UseBy = piece.Ends, r.useBy(mix)
		if mix.LastUse > mix.UseBy {
			return r.reason(MixTooOld, piece.Item, mix.UseBy)
		}
	}
	base := r.walk.Returns - r.rinsesAtBase() + r.shift.RinseAtBase // those of fixed visits come first
	r.rinsed = slices.Grow(r.rinsed[:0], len(r.slots))[:len(r.slots)]
	clear(r.rinsed)
	for i := range r.walk.Mixes {
		mix := &r.walk.Mixes[i]
		if mix.AtBase {
			mix.RinseFrom, mix.RinseTo = base, base+r.in.Rinsing
			base = mix.RinseTo
			continue
		}
		s := &r.slots[mix.rinseSlot]
		mix.RinseFrom = s.starts + s.length + r.rinsed[mix.rinseSlot]
		mix.RinseTo = mix.RinseFrom + r.in.Rinsing
		r.rinsed[mix.rinseSlot] += r.in.Rinsing
	}
	return true
}

// reason notes what the rule says against the walk and returns false.
func (r mixRule) reason(text Text, item int32, at Seconds) bool {
	return r.refuse(RuleMix, text, item, at)
}

// fill is a planned filling.
type fill struct {
	product     int32
	need        int64
	first, last int   // of the mixed pieces of the tour in order
	mix         int32 // index into walk.Mixes once it is opened
}

// groupFillings plans the fillings with the splits known so far.
func (w *Walker) groupFillings() bool {
	w.need, w.drawn = w.need[:0], w.drawn[:0]
	for i := range w.slots {
		s := &w.slots[i]
		s.fill = len(w.drawn)
		if s.block == nil {
			continue
		}
		for p := range s.block.Pieces {
			piece := &s.block.Pieces[p]
			if piece.Product == instance.None {
				continue
			}
			if w.largest(piece.Product) < piece.Need {
				return w.rules.mix.reason(NoVesselFree, s.ref.Item, 0)
			}
			w.join(piece)
		}
	}
	return true
}

// join puts a mixed piece into the last filling of its product, or into a new one.
func (w *Walker) join(piece *instance.Piece) {
	index := len(w.drawn)
	for f := len(w.need) - 1; f >= 0; f-- {
		open := &w.need[f]
		if open.product != piece.Product {
			continue
		}
		if open.need+piece.Need > w.largest(piece.Product) || w.splitsAt(index) {
			break
		}
		open.need += piece.Need
		open.last = index
		w.drawn = append(w.drawn, f)
		return
	}
	w.need = append(w.need, fill{product: piece.Product, need: piece.Need, first: index, last: index, mix: instance.None})
	w.drawn = append(w.drawn, len(w.need)-1)
}

func (w *Walker) splitsAt(index int) bool {
	for _, split := range w.splits {
		if split == index {
			return true
		}
	}
	return false
}

// largest returns the greatest need that one filling of the technician covers.
func (w *Walker) largest(product int32) int64 {
	largest := int64(0)
	for _, holds := range w.in.Crew[w.shift.Technician].Holds[product] {
		largest = max(largest, holds)
	}
	return largest
}

// drawsOn returns the mix of a piece; opens says that it is made for this piece.
func (w *Walker) drawsOn(i, p int) (mix int32, opens, ok bool) {
	s := &w.slots[i]
	if s.block.Pieces[p].Product == instance.None {
		return instance.None, false, true
	}
	index := s.fill
	for _, earlier := range s.block.Pieces[:p] {
		if earlier.Product != instance.None {
			index++
		}
	}
	f := &w.need[w.drawn[index]]
	if f.first != index {
		return f.mix, false, true
	}
	for v, holds := range w.in.Crew[w.shift.Technician].Holds[f.product] {
		if holds >= f.need && !w.vessel[v] {
			w.vessel[v] = true
			f.mix = int32(len(w.walk.Mixes))
			w.walk.Mixes = append(w.walk.Mixes, Mix{Product: f.product, Vessel: int32(v), Need: f.need, Stop: s.stop, lastPiece: f.last})
			return f.mix, true, true
		}
	}
	return 0, false, w.rules.mix.reason(NoVesselFree, s.ref.Item, 0)
}

// openMix gives a mix its times at its first piece and holds its life at each.
func (w *Walker) openMix(i int, piece *Piece) bool {
	if piece.Mix == instance.None {
		return true
	}
	mix := &w.walk.Mixes[piece.Mix]
	if mix.Ready == 0 {
		mix.Begins, mix.Ready = piece.Begins-w.in.Mixing, piece.Begins
		site := &w.in.Sites[w.stops[piece.Stop].Site]
		during := instance.Window{From: mix.Begins, To: mix.Ready}
		mix.Area = site.WaterArea // None: with carried water, in no area of the site
		if !w.stretchAllows(mix.Area, during) {
			mix.Area = w.slots[i].block.Pieces[piece.Piece].Area
		}
		if !w.stretchAllows(mix.Area, during) {
			return w.rules.reentry.reason(NowhereToMix, piece.Item, mix.Begins)
		}
	}
	mix.LastUse = piece.Ends
	mix.UseBy = w.useBy(mix)
	if mix.LastUse <= mix.UseBy {
		return true
	}
	index := w.mixedBefore(piece)
	if mix.Ready != piece.Begins && !w.splitsAt(index) {
		w.splits = append(w.splits, index)
	}
	return w.rules.mix.reason(MixTooOld, piece.Item, mix.UseBy)
}

// useBy returns the end of a mix's life: inside the shift.
func (w *Walker) useBy(mix *Mix) Seconds {
	if life := w.in.MixLife[mix.Product]; life > 0 {
		return min(mix.Begins+life, w.shift.End)
	}
	return w.shift.End
}

// mixedBefore counts the mixed pieces before a piece.
func (w *Walker) mixedBefore(piece *Piece) int {
	count := 0
	for i := range w.walk.Pieces {
		if &w.walk.Pieces[i] == piece {
			break
		}
		if w.walk.Pieces[i].Mix != instance.None {
			count++
		}
	}
	return count
}

// rinseAfter ends the mixes that were used last in a block: at the site's water where nobody is shut out, else at the base.
func (w *Walker) rinseAfter(i int) Seconds {
	s := &w.slots[i]
	total := Seconds(0)
	ends := s.starts + s.length
	for p := s.first; p < s.first+s.count; p++ {
		piece := &w.walk.Pieces[p]
		if piece.Mix == instance.None || w.walk.Mixes[piece.Mix].lastPiece != w.mixedBefore(piece) {
			continue
		}
		mix := &w.walk.Mixes[piece.Mix]
		mix.RinseFrom, mix.RinseTo = ends+total, ends+total+w.in.Rinsing
		mix.RinseStop, mix.RinseArea, mix.rinseSlot = s.stop, w.in.Sites[w.stops[s.stop].Site].WaterArea, i
		if mix.RinseArea == instance.None || !w.stretchAllows(mix.RinseArea, instance.Window{From: mix.RinseFrom, To: mix.RinseTo}) {
			mix.AtBase = true
			continue
		}
		w.vessel[mix.Vessel] = false
		total += w.in.Rinsing
	}
	return total
}

// rinsesAtBase returns how long the rinses at the base take.
func (w *Walker) rinsesAtBase() Seconds {
	total := w.shift.RinseAtBase
	for i := range w.walk.Mixes {
		if w.walk.Mixes[i].AtBase {
			total += w.in.Rinsing
		}
	}
	return total
}
