package course

import (
	"math"
	"slices"

	"vernation/scheduler/catalogue"
)

// AgeStage is one life stage in the propagation of ages.
type AgeStage struct {
	Days  float64 // that every insect spends in it; finite and not negative
	Reach catalogue.Reach
	// UpToDays narrows the reach to the first so many days of the stage; 0 is the whole stage.
	UpToDays float64
}

// Ages are the stages of an insect in order, egg first; the last one lays from its first day to its last.
//
// The propagation over them is exact for what it assumes: every insect spends the fixed time in every
// stage, an application kills every insect of the ages that it reaches and no other. A partly reached
// stage counts as reached, except that an adult already laying who is only partly reached lays out her
// time: what partly reached stages really survive is the cohort model's matter and never the proof's.
type Ages []AgeStage

// Clears says whether nothing is left right after the last of the applications, when all ages are
// present at the first. Days count from any day, in rising order; no application clears nothing.
func (a Ages) Clears(days ...float64) bool {
	brood := newBrood(a.steady(), days)
	return brood != nil && brood.empty()
}

// AgeSpan is a stretch of ages in days since the egg was laid, [From, To).
type AgeSpan struct{ From, To float64 }

// Left returns the ages alive right after the last of the applications, youngest first.
func (a Ages) Left(days ...float64) []AgeSpan {
	brood := newBrood(a.steady(), days)
	if brood == nil {
		return []AgeSpan{{0, a.steady().total()}}
	}
	left := make([]AgeSpan, 0, len(brood.born))
	for _, span := range slices.Backward(brood.born) {
		left = append(left, AgeSpan{brood.at - span.to, brood.at - span.from})
	}
	return left
}

// brood is the set of living insects of one propagation, by the time at which their egg was laid.
type brood struct {
	life *life
	met  []AgeStage // the stages as the next application reaches them; none are met by nothing
	at   float64
	born []birth // disjoint, rising
}

// birth is a stretch of times of laying, [from, to].
type birth struct{ from, to float64 }

// shortestBirth is the rounding of the arithmetic in days: a shorter stretch of births is none.
const shortestBirth = 1e-9

// newBrood runs the applications, the first of which meets all ages; nil without one.
func newBrood(l *life, days []float64) *brood {
	if len(days) == 0 || len(l.stages) == 0 {
		return nil
	}
	b := ofAllAges(l, days[0])
	for _, day := range days {
		b.apply(day)
	}
	return b
}

// ofAllAges is a brood in which insects of every age live at a time.
func ofAllAges(l *life, time float64) *brood {
	return &brood{life: l, met: l.stages, at: time, born: []birth{{l.laid(len(l.stages), time), time}}}
}

func (b *brood) empty() bool { return len(b.born) == 0 }

// clone returns a brood of its own in the same state.
func (b *brood) clone() *brood {
	other := *b
	other.born = slices.Clone(b.born)
	return &other
}

// clones returns broods of their own in the same state.
func clones(all []*brood) []*brood {
	others := make([]*brood, len(all))
	for i, b := range all {
		others[i] = b.clone()
	}
	return others
}

// apply lets time pass until the day and then kills what the application meets.
func (b *brood) apply(day float64) {
	b.pass(day)
	if b.empty() {
		return
	}
	for _, met := range b.life.met(b.met, day) {
		b.born = cut(b.born, met)
	}
}

// pass lets adults lay and old ones die until the day. The young of the same gap may lay as well,
// which is why it repeats until nothing is added.
func (b *brood) pass(day float64) {
	lays, dies := b.life.lays(), len(b.life.stages)
	newest := b.at
	for parents := b.born; len(parents) > 0; {
		var young []birth
		for _, p := range parents {
			laid := birth{max(b.life.begins(lays, p.from), newest), min(b.life.begins(dies, p.to), day)}
			if laid.to-laid.from > shortestBirth {
				young = append(young, laid)
			}
		}
		b.born = joined(append(b.born, young...))
		// Only what was born in this gap can still add to it, and only after having matured in it.
		matured := b.life.begins(lays, newest)
		if matured-newest <= shortestBirth {
			break
		}
		newest, parents = matured, young
	}
	b.at = day
	b.born = cut(b.born, birth{math.Inf(-1), b.life.laid(dies, day)})
}

// joined sorts stretches and joins those that overlap or touch.
func joined(all []birth) []birth {
	slices.SortFunc(all, func(x, y birth) int {
		switch {
		case x.from < y.from:
			return -1
		case x.from > y.from:
			return 1
		}
		return 0
	})
	out := all[:0]
	for _, x := range all {
		if n := len(out); n > 0 && x.from <= out[n-1].to+shortestBirth {
			out[n-1].to = max(out[n-1].to, x.to)
			continue
		}
		out = append(out, x)
	}
	return out
}

// cut takes a stretch out of all others and drops what is shorter than the rounding.
func cut(all []birth, gone birth) []birth {
	if len(all) == 0 || all[0].from >= gone.to || all[len(all)-1].to <= gone.from {
		return all
	}
	rest := make([]birth, 0, len(all)+1)
	for _, x := range all {
		for _, part := range [2]birth{{x.from, min(x.to, gone.from)}, {max(x.from, gone.to), x.to}} {
			if part.to-part.from > shortestBirth {
				rest = append(rest, part)
			}
		}
	}
	return rest
}
