package schedule

import (
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/tour"
)

// Sieve finds the places in which a leg could lie at all, each with a bound on what it adds, without walking any day: so
// that only the few that are cheap and in time are walked. It relaxes a walk (no mixing, rinses, keep-outs of the plan,
// breaks, links): what it drops is never lawful, what it leaves may still be refused.
type Sieve struct {
	s     *State
	spans []*span // by tour; nil until asked for
}

// NewSieve returns a sieve over a state, which may change as long as no tour that was asked for does.
func NewSieve(s *State) *Sieve { return &Sieve{s: s, spans: make([]*span, len(s.Tours))} }

// span is between which instants a tour's pieces and stops may lie, each piece after those before it and before those after.
type span struct {
	begins [][]Seconds // by stop, and slot of it in order: the earliest beginning; one more: the earliest leaving
	by     [][]Seconds // by stop, and slot of it: the latest beginning of its first piece; one more: the latest leaving
	arrive []Seconds   // by stop: the latest arrival; one more: the latest return
	leave  []Seconds   // by stop, from one on: the earliest leaving; at 0 the earliest departure
	busy   Seconds     // travel, sign-ins and work of the day
}

// Places lists the places of a leg in a tour that pass the sieve, in the order of their stops.
func (v *Sieve) Places(item int32, way, leg int16, t int32) []Place {
	s := v.s
	if s.Tours[t].Frozen || !s.mayLie(item, way, leg, t) {
		return nil
	}
	if v.spans[t] == nil {
		v.spans[t] = s.spanOf(t)
	}
	var places []Place
	for _, p := range s.everyPlace(item, way, leg, t) {
		switch {
		case p.New && v.inTime(p):
			p.Added = v.addsNew(p)
		case !p.New && v.inTimeJoined(p):
			p.Added = v.addsJoined(p)
		default:
			continue
		}
		places = append(places, p)
	}
	return places
}

// everyPlace lists the places of a leg in a tour: each visit of its site that may move, and a new visit between any two
// that are not of it.
func (s *State) everyPlace(item int32, way, leg int16, t int32) []Place {
	var places []Place
	site, stops := s.In.Items[item].Site, s.Tours[t].Stops
	for at := 0; at <= len(stops); at++ {
		p := Place{Item: item, Way: way, Leg: leg, Tour: t, Stop: int32(at)}
		if at < len(stops) && stops[at].Site == site && stops[at].Fixed == instance.None {
			places = append(places, p)
		}
		beside := at < len(stops) && stops[at].Site == site || at > 0 && stops[at-1].Site == site ||
			at == 0 && s.In.Shifts[t].LastSite == site
		if !beside {
			p.New = true
			places = append(places, p)
		}
	}
	return places
}

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

// spanOf passes over a tour forwards and backwards.
func (s *State) spanOf(t int32) *span {
	shift, stops := &s.In.Shifts[t], s.Tours[t].Stops
	v := &span{
		begins: make([][]Seconds, len(stops)), by: make([][]Seconds, len(stops)),
		arrive: make([]Seconds, len(stops)+1), leave: make([]Seconds, len(stops)+1),
	}
	v.leave[0] = shift.Start
	at := shift.Start
	for k := range stops {
		before, here := s.placeAt(t, k)
		drive := s.travel(t, before, here)
		at += drive
		v.busy += drive
		at = s.passStop(t, k, at, v)
		v.leave[k+1] = at
	}
	before, base := s.placeAt(t, len(stops))
	v.busy += s.travel(t, before, base)
	v.arrive[len(stops)] = shift.End
	for k := len(stops) - 1; k >= 0; k-- {
		_, here := s.placeAt(t, k)
		_, next := s.placeAt(t, k+1)
		v.arrive[k] = s.passStopBack(t, k, v.arrive[k+1]-s.travel(t, here, next), v)
	}
	return v
}

// passStop returns the earliest leaving of a stop from an arrival on.
func (s *State) passStop(t int32, k int, at Seconds, v *span) Seconds {
	stop := &s.Tours[t].Stops[k]
	if stop.Fixed != instance.None {
		fixed := &s.In.Shifts[t].Fixed[stop.Fixed]
		v.busy += fixed.Leaves - fixed.Arrives
		v.begins[k] = []Seconds{fixed.Leaves}
		return fixed.Leaves
	}
	site := &s.In.Sites[stop.Site]
	at = opens(site.Access, at) + site.SignIn
	v.busy += site.SignIn
	begins := make([]Seconds, 0, len(stop.Refs)+1)
	for _, ref := range stop.Refs {
		begins = append(begins, at)
		for p := range s.pieces(ref) {
			piece := &s.pieces(ref)[p]
			takes := s.takes(t, ref, piece)
			if takes == 0 {
				continue
			}
			at = max(opens(piece.Windows, at), s.lowest(ref)) + takes
			v.busy += takes
		}
	}
	v.begins[k] = append(begins, at)
	return at
}

// passStopBack returns the latest arrival at a stop that leaves by an instant.
func (s *State) passStopBack(t int32, k int, by Seconds, v *span) Seconds {
	stop := &s.Tours[t].Stops[k]
	if stop.Fixed != instance.None {
		fixed := &s.In.Shifts[t].Fixed[stop.Fixed]
		v.by[k] = []Seconds{fixed.Arrives}
		return fixed.Arrives
	}
	site := &s.In.Sites[stop.Site]
	latest := make([]Seconds, len(stop.Refs)+1)
	latest[len(stop.Refs)] = by
	for r := len(stop.Refs) - 1; r >= 0; r-- {
		ref := stop.Refs[r]
		for p := len(s.pieces(ref)) - 1; p >= 0; p-- {
			piece := &s.pieces(ref)[p]
			takes := s.takes(t, ref, piece)
			if takes == 0 {
				continue
			}
			by = closes(piece.Windows, by-takes)
			if ref.Leg == 0 {
				by = min(by, s.In.Items[ref.Item].Hi)
			}
		}
		latest[r] = by
	}
	v.by[k] = latest
	return by - site.SignIn
}

func (s *State) pieces(ref tour.Ref) []instance.Piece {
	return s.In.Items[ref.Item].Ways[ref.Way].Legs[ref.Leg].Blocks[ref.Block].Pieces
}

// takes returns how long a piece takes where its item stands.
func (s *State) takes(t int32, ref tour.Ref, piece *instance.Piece) Seconds {
	if piece.Groups == nil {
		return piece.Takes
	}
	return s.walker.Takes(piece, s.dayOf(ref.Item))
}

// lowest returns the earliest beginning of an item by its days.
func (s *State) lowest(ref tour.Ref) Seconds {
	item := &s.In.Items[ref.Item]
	if ref.Leg == 1 {
		return 0
	}
	lowest := item.Lo
	if earliest, _, _, known := s.walker.Days(ref.Item); known {
		if site := &s.In.Sites[item.Site]; earliest > site.FirstMidnight {
			lowest = max(lowest, site.Midnight(earliest))
		}
	}
	return lowest
}

// highest returns the latest beginning of an item that is not placed, by its days.
func (s *State) highest(item int32) Seconds {
	it := &s.In.Items[item]
	highest := it.Hi
	if _, _, stands, known := s.walker.Days(item); known && stands < instance.FarDay {
		highest = min(highest, s.In.Sites[it.Site].Midnight(stands+1)-1)
	}
	return highest
}

// carryOut returns the earliest and latest beginning of a leg.
func (s *State) between(p Place) (lowest, highest Seconds) {
	if p.Leg == 1 {
		placed := &s.around.Placed[p.Item]
		way := &s.In.Items[p.Item].Ways[p.Way]
		return max(placed.OpenFrom, placed.Ends+way.Wait), placed.Begins + way.MostAway
	}
	return s.lowest(tour.Ref{Item: p.Item}), s.highest(p.Item)
}

// leg passes over the pieces of a leg from an instant on and returns when they have ended; Far when they cannot.
func (s *State) leg(p Place, at Seconds) Seconds {
	lowest, highest := s.between(p)
	first := true
	for b := range s.In.Items[p.Item].Ways[p.Way].Legs[p.Leg].Blocks {
		for i := range s.In.Items[p.Item].Ways[p.Way].Legs[p.Leg].Blocks[b].Pieces {
			piece := &s.In.Items[p.Item].Ways[p.Way].Legs[p.Leg].Blocks[b].Pieces[i]
			at = opens(piece.Windows, max(at, lowest))
			if first && at > highest || at >= instance.Far {
				return instance.Far
			}
			first = false
			at += piece.Takes
		}
	}
	return at
}

// inTime says whether a new visit fits between the stops beside it.
func (v *Sieve) inTime(p Place) bool {
	s, span := v.s, v.spans[p.Tour]
	site := &s.In.Sites[s.In.Items[p.Item].Site]
	before, after := s.placeAt(p.Tour, int(p.Stop))
	at := span.leave[p.Stop] + s.travel(p.Tour, before, site.Place)
	by := span.arrive[p.Stop] - s.travel(p.Tour, site.Place, after)
	for _, run := range site.Access {
		if run.To <= at {
			continue
		}
		leaves := s.leg(p, max(at, run.From)+site.SignIn)
		if leaves > by {
			return false
		}
		if leaves <= run.To {
			return true
		}
	}
	return false
}

// inTimeJoined says whether a leg fits into a visit.
func (v *Sieve) inTimeJoined(p Place) bool {
	s, span := v.s, v.spans[p.Tour]
	refs := s.Tours[p.Tour].Stops[p.Stop].Refs
	ours := tour.Ref{Item: p.Item, Way: p.Way, Leg: p.Leg}
	slot, _ := slices.BinarySearchFunc(refs, ours, func(a, b tour.Ref) int { return tour.Before(s.In, a, b) })
	return s.leg(p, span.begins[p.Stop][slot]) <= span.by[p.Stop][slot]
}

// addsNew bounds what a new visit adds from below.
func (v *Sieve) addsNew(p Place) Cost {
	s, rates := v.s, &v.s.In.Rates
	site := &s.In.Sites[s.In.Items[p.Item].Site]
	before, after := s.placeAt(p.Tour, int(p.Stop))
	there, on := s.travel(p.Tour, before, site.Place), s.travel(p.Tour, site.Place, after)
	direct := s.travel(p.Tour, before, after)
	added := rates.Visit + (minutes(there)+minutes(on)-minutes(direct))*rates.VehicleMinute
	longer := there + on - direct
	if len(s.Tours[p.Tour].Stops) == 0 {
		longer = there + on // who has no work does not drive
	}
	return added + v.addsAnywhere(p, longer+site.SignIn, false)
}

// addsJoined bounds what joining a visit adds from below.
func (v *Sieve) addsJoined(p Place) Cost {
	infested := false
	for _, ref := range v.s.Tours[p.Tour].Stops[p.Stop].Refs {
		infested = infested || v.s.In.Items[ref.Item].Ways[ref.Way].Legs[ref.Leg].Blocks[ref.Block].Rank >= instance.RankSuspected
	}
	return v.addsAnywhere(p, 0, infested)
}

// addsAnywhere bounds what the work itself adds: time paid beyond what waiting there is, sanitation, delay, and what is won
// where it was published.
func (v *Sieve) addsAnywhere(p Place, longer Seconds, infested bool) Cost {
	s, shift := v.s, &v.s.In.Shifts[p.Tour]
	rates := &s.In.Rates
	leg := &s.In.Items[p.Item].Ways[p.Way].Legs[p.Leg]
	added := Cost(0)
	for b := range leg.Blocks {
		for i := range leg.Blocks[b].Pieces {
			longer += leg.Blocks[b].Pieces[i].Takes
		}
		if leg.Blocks[b].Rank >= instance.RankSuspected && !infested {
			infested = true
			added += minutes(s.In.Sanitation) * rates.SanitationMinute
		}
	}
	walk := &s.Tours[p.Tour].Walk
	pay := s.In.Crew[shift.Technician].PaidPerMinute
	busy := v.spans[p.Tour].busy
	if len(s.Tours[p.Tour].Stops) == 0 {
		busy = 0
	}
	added += max(0, max(minutes(busy+longer), rates.LeastPaidMinutes)*pay-walk.Own[tour.Paid])
	if p.Leg == 0 {
		added += s.delay(p)
	}
	for b := range shift.Before {
		if slices.Contains(shift.Before[b].Items, p.Item) {
			added -= shift.Before[b].Moves
		}
	}
	return added
}

// delay is the least that the day of a place costs its case.
func (s *State) delay(p Place) Cost {
	it := &s.In.Items[p.Item]
	earliest, latest, _, known := s.walker.Days(p.Item)
	if !known {
		return 0
	}
	day := max(earliest, s.In.Sites[it.Site].DayOf(s.In.Shifts[p.Tour].Start))
	return it.PriceOf(day-earliest) + it.LatePerDay*Cost(max(0, day-latest))
}

func minutes(s Seconds) Cost { return Cost((s + secondsPerMinute - 1) / secondsPerMinute) }

// opens returns the first instant from one on that lies in a window; Far when there is none, at itself where nil is any.
func opens(windows []instance.Window, at Seconds) Seconds {
	if windows == nil {
		return at
	}
	for _, window := range windows {
		if at < window.To {
			return max(at, window.From)
		}
	}
	return instance.Far
}

// closes returns the last instant up to one that lies in a window; before every instant when there is none.
func closes(windows []instance.Window, at Seconds) Seconds {
	if windows == nil {
		return at
	}
	for i := len(windows) - 1; i >= 0; i-- {
		if windows[i].From <= at {
			return min(at, windows[i].To-1)
		}
	}
	return -instance.Far
}
