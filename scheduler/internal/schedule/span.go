package schedule

import (
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/tour"
)

// span is between which instants a tour's pieces and stops may lie, each piece after those before it and before those after.
// Of each instant there are two: without the break of the day, and with it taken before (earliest) or still to come (latest).
type span struct {
	made    bool
	version uint64
	first   []int32   // by stop: where its slots begin in the two lists below; it has one more than refs
	begins  []twice   // by slot: the earliest beginning; behind the last of a stop: the earliest leaving
	by      []twice   // by slot: the latest beginning of its first piece; behind the last of a stop: the latest leaving
	arrive  []twice   // by stop: the latest arrival; one more: the latest return
	leave   []twice   // by stop, from one on: the earliest leaving; at 0 the earliest departure
	ill     []bool    // by stop: something of it is suspected or confirmed
	sites   []int32   // by stop
	fixed   []bool    // by stop
	at      []int32   // by stop, from one on: its place; at 0 where the day begins, behind the last its base
	drive   []Seconds // by stop: from the place before it; behind the last: to the base
	before  []Seconds // by slot, of a hasty sieve: for mixes made in it
	after   []Seconds // by slot, of a hasty sieve: for rinses behind it
	piece   int       // of the walk: the next to pass over
	busy    Seconds   // travel, sign-ins and work of the day
	mayWin  Cost      // what its visits may win at other times
}

// twice is an instant without the break and with it.
type twice struct{ plain, rest Seconds }

// restsBefore notes that the break may be taken here, before what comes.
func (at twice) restsBefore(shift *instance.Shift) twice {
	if begins := max(at.plain, shift.BreakWindow.From); begins+shift.BreakTakes <= shift.BreakWindow.To {
		at.rest = min(at.rest, begins+shift.BreakTakes)
	}
	return at
}

// restsAfter notes that the break may be taken here, after what went before.
func (at twice) restsAfter(shift *instance.Shift) twice {
	if begins := min(at.plain, shift.BreakWindow.To) - shift.BreakTakes; begins >= shift.BreakWindow.From {
		at.rest = max(at.rest, begins)
	}
	return at
}

// upTo takes out what lies past an instant.
func (at twice) upTo(latest Seconds) twice {
	if at.plain > latest {
		at.plain = instance.Far
	}
	if at.rest > latest {
		at.rest = instance.Far
	}
	return at
}

// plus moves both.
func (at twice) plus(d Seconds) twice { return twice{at.plain + d, at.rest + d} }

// travel returns the seconds of a tour's technician from one place to another.
func (s *State) travel(t, from, to int32) Seconds {
	return s.In.Travel[s.In.Shifts[t].Technician][from*s.In.Places+to]
}

// placeAt returns the place before which a stop lies, and that of the stop itself or of the base behind the last.
func (s *State) placeAt(t int32, stop int) (before, at int32) {
	shift, stops := &s.In.Shifts[t], s.Tours[t].Stops
	before, at = shift.From, shift.Base
	if stop > 0 {
		before = s.In.Sites[stops[stop-1].Site].Place
	}
	if stop < len(stops) {
		at = s.In.Sites[stops[stop].Site].Place
	}
	return before, at
}

// makeSpan passes over a tour forwards and backwards. A hasty span takes mixes to be made and rinsed where the walk does.
func (s *State) makeSpan(t int32, v *span, hasty bool) {
	shift, stops := &s.In.Shifts[t], s.Tours[t].Stops
	v.made, v.version, v.busy, v.mayWin = true, s.Tours[t].Version, 0, s.mayWin(t)
	v.first, v.begins, v.by, v.ill = v.first[:0], v.begins[:0], v.by[:0], v.ill[:0]
	v.before, v.after, v.piece = v.before[:0], v.after[:0], len(s.Tours[t].Walk.Pieces)
	back := shift.End
	if hasty {
		v.piece, back = 0, back-s.rinsesAtBase(t)
	}
	at := twice{shift.Start, instance.Far}
	v.leave = append(v.leave[:0], at)
	v.at, v.drive = append(v.at[:0], shift.From), v.drive[:0]
	v.sites, v.fixed = v.sites[:0], v.fixed[:0]
	for k := range stops {
		v.sites, v.fixed = append(v.sites, stops[k].Site), append(v.fixed, stops[k].Fixed != instance.None)
		before, here := s.placeAt(t, k)
		drive := s.travel(t, before, here)
		v.at, v.drive = append(v.at, here), append(v.drive, drive)
		v.busy += drive
		at = s.passStop(t, k, at.restsBefore(shift).plus(drive).restsBefore(shift), v)
		v.leave = append(v.leave, at)
	}
	before, base := s.placeAt(t, len(stops))
	home := s.travel(t, before, base)
	v.at, v.drive = append(v.at, base), append(v.drive, home)
	v.busy += home
	v.busy += Seconds(len(s.Tours[t].Walk.Mixes)) * (s.In.Mixing + s.In.Rinsing)
	v.by = slices.Grow(v.by, len(v.begins))[:len(v.begins)]
	v.arrive = slices.Grow(v.arrive[:0], len(stops)+1)[:len(stops)+1]
	v.arrive[len(stops)] = twice{back, -instance.Far}.restsAfter(shift)
	for k := len(stops) - 1; k >= 0; k-- {
		v.arrive[k] = s.passStopBack(t, k, v.arrive[k+1].restsAfter(shift).plus(-v.drive[k+1]).restsAfter(shift), v)
	}
}

// rinsesAtBase is how long a walk rinses when it is back.
func (s *State) rinsesAtBase(t int32) (takes Seconds) {
	for i := range s.Tours[t].Walk.Mixes {
		if s.Tours[t].Walk.Mixes[i].AtBase {
			takes += s.In.Rinsing
		}
	}
	return takes
}

// mixes returns how long the walk makes mixes in the block that it comes to next, and rinses behind it.
func (s *State) mixes(t int32, ref tour.Ref, v *span) (before, after Seconds) {
	walk := &s.Tours[t].Walk
	for ; v.piece < len(walk.Pieces) && walk.Pieces[v.piece].Ref == ref; v.piece++ {
		piece := &walk.Pieces[v.piece]
		if piece.Mix == instance.None {
			continue
		}
		mix := &walk.Mixes[piece.Mix]
		if mix.Ready == piece.Begins {
			before += s.In.Mixing
		}
		if mix.LastUse == piece.Ends && !mix.AtBase {
			after += s.In.Rinsing
		}
	}
	return before, after
}

// passStop returns the earliest leaving of a stop from an arrival on.
func (s *State) passStop(t int32, k int, at twice, v *span) twice {
	stop, shift := &s.Tours[t].Stops[k], &s.In.Shifts[t]
	v.first = append(v.first, int32(len(v.begins)))
	if stop.Fixed != instance.None {
		fixed := &shift.Fixed[stop.Fixed]
		v.busy += fixed.Leaves - fixed.Arrives
		leaves := twice{fixed.Leaves, instance.Far}
		if at.rest <= fixed.Arrives {
			leaves.rest = fixed.Leaves
		}
		v.begins, v.ill = append(v.begins, leaves), append(v.ill, false)
		v.before, v.after = append(v.before, 0), append(v.after, 0)
		return leaves
	}
	site := &s.In.Sites[stop.Site]
	at = twice{instance.FirstIn(site.Access, at.plain), instance.FirstIn(site.Access, at.rest)}.plus(site.SignIn)
	v.busy += site.SignIn
	ill := false
	for r, ref := range stop.Refs {
		if r > 0 {
			at = at.restsBefore(shift)
		}
		v.begins = append(v.begins, at)
		ill = ill || s.In.Items[ref.Item].Ways[ref.Way].Legs[ref.Leg].Blocks[ref.Block].Rank >= instance.RankSuspected
		before, after := s.mixes(t, ref, v)
		v.before, v.after = append(v.before, before), append(v.after, after)
		var takes Seconds
		at, takes = s.passRef(t, ref, at.plus(before))
		at = at.plus(after)
		v.busy += takes
	}
	v.begins, v.ill = append(v.begins, at), append(v.ill, ill)
	v.before, v.after = append(v.before, 0), append(v.after, 0)
	return at
}

// passRef returns when a block of a tour has ended that begins no earlier than an instant, and how long its pieces take.
func (s *State) passRef(t int32, ref tour.Ref, at twice) (ends twice, busy Seconds) {
	pieces, lowest := s.pieces(ref), s.lowest(ref)
	for p := range pieces {
		takes := s.takes(t, ref, &pieces[p])
		if takes == 0 {
			continue
		}
		windows := pieces[p].Windows
		at = twice{max(instance.FirstIn(windows, at.plain), lowest), max(instance.FirstIn(windows, at.rest), lowest)}.plus(takes)
		busy += takes
	}
	return at, busy
}

// leaveBy returns the last instant up to one at which a visit may leave a site.
func leaveBy(access []instance.Window, by Seconds) Seconds {
	return min(by, instance.LastIn(access, by)+1)
}

// passStopBack returns the latest arrival at a stop that leaves by an instant.
func (s *State) passStopBack(t int32, k int, by twice, v *span) twice {
	stop, shift := &s.Tours[t].Stops[k], &s.In.Shifts[t]
	first := int(v.first[k])
	if stop.Fixed != instance.None {
		fixed := &shift.Fixed[stop.Fixed]
		arrives := twice{fixed.Arrives, -instance.Far}
		if by.rest >= fixed.Leaves {
			arrives.rest = fixed.Arrives
		}
		v.by[first] = arrives
		return arrives
	}
	site := &s.In.Sites[stop.Site]
	by = twice{leaveBy(site.Access, by.plain), leaveBy(site.Access, by.rest)}
	v.by[first+len(stop.Refs)] = by
	for r := len(stop.Refs) - 1; r >= 0; r-- {
		ref := stop.Refs[r]
		if r < len(stop.Refs)-1 {
			by = by.restsAfter(shift)
		}
		by = s.passRefBack(t, ref, by.plus(-v.after[first+r])).plus(-v.before[first+r])
		v.by[first+r] = by
	}
	by = by.plus(-site.SignIn)
	return twice{instance.LastIn(site.Access, by.plain), instance.LastIn(site.Access, by.rest)}
}

// passRefBack returns the latest beginning of a block of a tour that has ended by an instant.
func (s *State) passRefBack(t int32, ref tour.Ref, by twice) twice {
	pieces := s.pieces(ref)
	for p := len(pieces) - 1; p >= 0; p-- {
		takes := s.takes(t, ref, &pieces[p])
		if takes == 0 {
			continue
		}
		by = twice{instance.LastIn(pieces[p].Windows, by.plain-takes), instance.LastIn(pieces[p].Windows, by.rest-takes)}
		if ref.Leg == 0 {
			by = twice{min(by.plain, s.In.Items[ref.Item].Hi), min(by.rest, s.In.Items[ref.Item].Hi)}
		}
	}
	return by
}

func (s *State) pieces(ref tour.Ref) []instance.Piece {
	return s.In.Items[ref.Item].Ways[ref.Way].Legs[ref.Leg].Blocks[ref.Block].Pieces
}

// takes returns how long a piece takes where its item stands.
func (s *State) takes(t int32, ref tour.Ref, piece *instance.Piece) Seconds {
	if piece.Groups == nil || !s.walker.Varies(ref.Item) {
		return piece.Takes
	}
	return s.walker.Takes(piece, s.dayOf(ref.Item))
}
