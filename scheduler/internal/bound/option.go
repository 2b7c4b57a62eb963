package bound

import (
	"slices"
	"sort"

	"vernation/scheduler/internal/instance"
)

// option is one way to do an item on one day of a site, in the shifts of one group: the least pay of a second among those who
// may, and the least time that it takes them.
type option struct {
	group, day int32 // of the site's
	pay        Cost
	takes      Seconds
	backPay    Cost // of the carry back, on whichever visit
	backTakes  Seconds
}

// options lists the options of an item; none where nobody can begin it at any time.
//
// Kept are days on which some technician who may do it is on shift, between the first arrival and the last leaving that
// drives and access allow, at an instant that its own windows and bounds allow. Mixing and rinsing are shared by what a mix
// is for: a technician who applies so much of a product needs at least so many times the largest filling, each mixed and
// rinsed once, so an application bears the part of both that its need is of that filling.
func (s *site) options(b *bounding, item *instance.Item) []option {
	var options []option
	for w := range item.Ways {
		way := &item.Ways[w]
		if len(way.Legs) == 0 {
			continue
		}
		backPay, backTakes, may := s.back(b, way)
		if !may {
			continue
		}
		first, length := len(options), length(&way.Legs[0])
		for c := range s.comings {
			coming := &s.comings[c]
			if !way.Legs[0].On[coming.shift] {
				continue
			}
			technician := b.in.Shifts[coming.shift].Technician
			o := option{group: coming.group, pay: b.pay[technician], takes: length + b.mixing(coming.shift, &way.Legs[0]), backPay: backPay, backTakes: backTakes}
			for _, day := range s.beginnings(b, coming, item, &way.Legs[0], length) {
				o.day = day
				options = appendOption(options, first, o)
			}
		}
	}
	return options
}

// appendOption joins an option with that of the same way, day and group.
func appendOption(options []option, first int, o option) []option {
	for i := first; i < len(options); i++ {
		if at := &options[i]; at.group == o.group && at.day == o.day {
			at.pay, at.takes = min(at.pay, o.pay), min(at.takes, o.takes)
			return options
		}
	}
	return append(options, o)
}

// back is the least pay and time of a way's second leg; may is false where nobody may do it.
func (s *site) back(b *bounding, way *instance.Way) (pay Cost, takes Seconds, may bool) {
	if len(way.Legs) == 1 {
		return 0, 0, true
	}
	for t, on := range way.Legs[1].On {
		if !on {
			continue
		}
		paid, takesThere := b.pay[b.in.Shifts[t].Technician], length(&way.Legs[1])+b.mixing(int32(t), &way.Legs[1])
		if !may {
			pay, takes, may = paid, takesThere, true
		}
		pay, takes = min(pay, paid), min(takes, takesThere)
	}
	return pay, takes, may
}

// length is the least that the work of a leg takes: a group of a service that some follow-up may take out counts with nothing.
func length(leg *instance.Leg) Seconds {
	total := Seconds(0)
	for n := range leg.Blocks {
		for p := range leg.Blocks[n].Pieces {
			total += least(&leg.Blocks[n].Pieces[p])
		}
	}
	return total
}

// mixing is a leg's part of the mixing and rinsing in a shift.
func (b *bounding) mixing(t int32, leg *instance.Leg) Seconds {
	shift := &b.in.Shifts[t]
	total := Seconds(0)
	for n := range leg.Blocks {
		for p := range leg.Blocks[n].Pieces {
			piece := &leg.Blocks[n].Pieces[p]
			if piece.Product == instance.None || slices.Contains(shift.Busy, true) {
				continue // a mix that is open already may hold enough
			}
			if largest := slices.Max(append([]int64{0}, b.in.Crew[shift.Technician].Holds[piece.Product]...)); largest > 0 {
				total += Seconds(float64(b.in.Mixing+b.in.Rinsing) * min(1, float64(piece.Need)/float64(largest)))
			}
		}
	}
	return total
}

// least is the least that a piece takes.
func least(piece *instance.Piece) Seconds {
	if piece.Groups == nil {
		return piece.Takes
	}
	total := Seconds(0)
	for g := range piece.Groups {
		if len(piece.Groups[g].ReplacedBy) == 0 {
			total += piece.Groups[g].Takes
		}
	}
	return total
}

// beginnings lists the site's days on which a leg of such a length may begin in a shift, beside what its item counts from. The
// list is the site's own until the next call.
func (s *site) beginnings(b *bounding, c *coming, item *instance.Item, leg *instance.Leg, length Seconds) []int32 {
	where := &b.in.Sites[s.number]
	days := s.scratch[:0]
	for _, run := range c.runs {
		from, to := max(run.From+where.SignIn, item.Lo), min(run.To-length, item.EndBy-length, item.Hi)+1
		if from >= to || !allPiecesBegin(leg, run) {
			continue
		}
		for i, day := range s.days {
			begins := instance.Window{From: max(from, where.Midnight(day)), To: min(to, where.Midnight(day+1))}
			if begins.From < begins.To && opensIn(windows(leg), begins) && !slices.Contains(days, int32(i)) {
				days = append(days, int32(i))
			}
		}
	}
	s.scratch = days
	return days
}

// windows are those of the beginning of a leg: any (nil) for a service of several blocks, for the first of them may be replaced.
func windows(leg *instance.Leg) []instance.Window {
	if len(leg.Blocks) != 1 || len(leg.Blocks[0].Pieces) == 0 {
		return nil
	}
	return leg.Blocks[0].Pieces[0].Windows
}

// allPiecesBegin says whether each piece of the only block of a leg has some beginning in a stretch.
func allPiecesBegin(leg *instance.Leg, run instance.Window) bool {
	if len(leg.Blocks) != 1 {
		return true
	}
	for p := range leg.Blocks[0].Pieces {
		if !opensIn(leg.Blocks[0].Pieces[p].Windows, run) {
			return false
		}
	}
	return true
}

// opensIn says whether some instant of a stretch lies in a window; nil is any.
func opensIn(windows []instance.Window, during instance.Window) bool {
	if windows == nil {
		return true
	}
	i := sort.Search(len(windows), func(i int) bool { return windows[i].To > during.From })
	return i < len(windows) && windows[i].From < during.To
}
