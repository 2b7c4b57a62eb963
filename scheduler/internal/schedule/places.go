package schedule

import (
	"math"
	"slices"
	"sort"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/tour"
)

// Sieve finds the places in which a leg could lie at all, each with a bound on what it adds, without walking any day: so
// that only the few that are cheap and in time are walked. It relaxes a walk (no mixing, rinses, keep-outs of the plan,
// breaks, links): what it drops is never lawful, what it leaves may still be refused. A place is judged in constant time
// from what the tour's span knows of the stops beside it.
type Sieve struct {
	s     *State
	spans []span // by tour; of the version that it was made for
	ask   asked
}

// NewSieve returns a sieve over a state, which may change: spans are made anew for tours that did.
func NewSieve(s *State) *Sieve { return &Sieve{s: s, spans: make([]span, len(s.Tours))} }

// span is between which instants a tour's pieces and stops may lie, each piece after those before it and before those after.
// Of each instant there are two: without the break of the day, and with it taken before (earliest) or still to come (latest).
type span struct {
	made    bool
	version uint64
	first   []int32 // by stop: where its slots begin in the two lists below; it has one more than refs
	begins  []twice // by slot: the earliest beginning; behind the last of a stop: the earliest leaving
	by      []twice // by slot: the latest beginning of its first piece; behind the last of a stop: the latest leaving
	arrive  []twice // by stop: the latest arrival; one more: the latest return
	leave   []twice // by stop, from one on: the earliest leaving; at 0 the earliest departure
	ill     []bool  // by stop: something of it is suspected or confirmed
	busy    Seconds // travel, sign-ins and work of the day
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

// plus moves both.
func (at twice) plus(d Seconds) twice { return twice{at.plain + d, at.rest + d} }

// asked is what is the same for all places of a leg in a tour.
type asked struct {
	item, t         int32
	way, leg        int16
	site            *instance.Site
	lowest, highest Seconds // of its beginning
	takes           Seconds
	mixing          Seconds // and rinsing, where nothing of its product is mixed that day
	parts           int     // blocks of the leg
	tired           bool    // the day with the leg asks for a break even where it joins a visit
	infests         bool
	base            Cost // delay, and what is won where it was published
}

// Places lists the places of a leg in a tour that pass the sieve, in the order of their stops.
func (v *Sieve) Places(item int32, way, leg int16, t int32) []Place {
	return v.Append(nil, item, way, leg, t, math.MaxInt64)
}

// Append appends to places those of a leg in a tour that pass the sieve and add less than a limit at least.
func (v *Sieve) Append(places []Place, item int32, way, leg int16, t int32, limit Cost) []Place {
	s := v.s
	if s.Tours[t].Frozen || !s.mayLie(item, way, leg, t) {
		return places
	}
	v.prepare(item, way, leg, t)
	if v.ask.base >= limit {
		return places
	}
	site, stops := s.In.Items[item].Site, s.Tours[t].Stops
	for at := 0; at <= len(stops); at++ {
		p := Place{Item: item, Way: way, Leg: leg, Tour: t, Stop: int32(at)}
		if at < len(stops) && stops[at].Site == site && stops[at].Fixed == instance.None {
			if p.Added = v.addsJoined(p); p.Added < limit && v.inTimeJoined(p) {
				places = append(places, p)
			}
		}
		if !s.beside(t, at, site) {
			p.New = true
			if p.Added = v.addsNew(p); p.Added < limit && v.inTime(p) {
				places = append(places, p)
			}
		}
	}
	return places
}

// prepare makes the tour's span where it has changed, and what is the same for all places.
func (v *Sieve) prepare(item int32, way, leg int16, t int32) {
	s := v.s
	if span := &v.spans[t]; !span.made || span.version != s.Tours[t].Version {
		s.makeSpan(t, span)
	}
	a := &v.ask
	*a = asked{item: item, t: t, way: way, leg: leg, site: &s.In.Sites[s.In.Items[item].Site]}
	place := Place{Item: item, Way: way, Leg: leg, Tour: t}
	a.lowest, a.highest = s.between(place)
	blocks := s.In.Items[item].Ways[way].Legs[leg].Blocks
	for b := range blocks {
		for i := range blocks[b].Pieces {
			a.takes += blocks[b].Pieces[i].Takes
			a.mixing += s.mixingFor(t, blocks[b].Pieces[i].Product)
		}
		a.infests = a.infests || blocks[b].Rank >= instance.RankSuspected
	}
	a.parts, a.tired = len(blocks), v.needsRest(0)
	if leg == 0 {
		a.base += s.delay(place)
	}
	shift := &s.In.Shifts[t]
	for b := range shift.Before {
		if slices.Contains(shift.Before[b].Items, item) {
			a.base -= shift.Before[b].Moves
		}
	}
}

// mixingFor returns the time for a mix of a product where the day has none of it yet.
func (s *State) mixingFor(t, product int32) Seconds {
	if product == instance.None {
		return 0
	}
	for i := range s.Tours[t].Walk.Mixes {
		if s.Tours[t].Walk.Mixes[i].Product == product {
			return 0
		}
	}
	return s.In.Mixing + s.In.Rinsing
}

// beside says whether a new stop before a stop would lie next to one of its own site.
func (s *State) beside(t int32, at int, site int32) bool {
	stops := s.Tours[t].Stops
	return at < len(stops) && stops[at].Site == site || at > 0 && stops[at-1].Site == site || at == 0 && s.In.Shifts[t].LastSite == site
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
		if !s.beside(t, at, site) {
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

// makeSpan passes over a tour forwards and backwards.
func (s *State) makeSpan(t int32, v *span) {
	shift, stops := &s.In.Shifts[t], s.Tours[t].Stops
	v.made, v.version, v.busy = true, s.Tours[t].Version, 0
	v.first, v.begins, v.by, v.ill = v.first[:0], v.begins[:0], v.by[:0], v.ill[:0]
	at := twice{shift.Start, instance.Far}
	v.leave = append(v.leave[:0], at)
	for k := range stops {
		before, here := s.placeAt(t, k)
		drive := s.travel(t, before, here)
		v.busy += drive
		at = s.passStop(t, k, at.restsBefore(shift).plus(drive).restsBefore(shift), v)
		v.leave = append(v.leave, at)
	}
	before, base := s.placeAt(t, len(stops))
	v.busy += s.travel(t, before, base)
	v.busy += Seconds(len(s.Tours[t].Walk.Mixes)) * (s.In.Mixing + s.In.Rinsing)
	v.by = slices.Grow(v.by, len(v.begins))[:len(v.begins)]
	v.arrive = slices.Grow(v.arrive[:0], len(stops)+1)[:len(stops)+1]
	v.arrive[len(stops)] = twice{shift.End, -instance.Far}.restsAfter(shift)
	for k := len(stops) - 1; k >= 0; k-- {
		_, here := s.placeAt(t, k)
		_, next := s.placeAt(t, k+1)
		v.arrive[k] = s.passStopBack(t, k, v.arrive[k+1].restsAfter(shift).plus(-s.travel(t, here, next)).restsAfter(shift), v)
	}
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
		return leaves
	}
	site := &s.In.Sites[stop.Site]
	at = twice{opens(site.Access, at.plain), opens(site.Access, at.rest)}.plus(site.SignIn)
	v.busy += site.SignIn
	ill := false
	for r, ref := range stop.Refs {
		if r > 0 {
			at = at.restsBefore(shift)
		}
		v.begins = append(v.begins, at)
		block := &s.In.Items[ref.Item].Ways[ref.Way].Legs[ref.Leg].Blocks[ref.Block]
		ill = ill || block.Rank >= instance.RankSuspected
		lowest := s.lowest(ref)
		for p := range block.Pieces {
			piece := &block.Pieces[p]
			takes := s.takes(t, ref, piece)
			if takes == 0 {
				continue
			}
			at = twice{max(opens(piece.Windows, at.plain), lowest), max(opens(piece.Windows, at.rest), lowest)}.plus(takes)
			v.busy += takes
		}
	}
	v.begins, v.ill = append(v.begins, at), append(v.ill, ill)
	return at
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
	v.by[first+len(stop.Refs)] = by
	for r := len(stop.Refs) - 1; r >= 0; r-- {
		ref := stop.Refs[r]
		if r < len(stop.Refs)-1 {
			by = by.restsAfter(shift)
		}
		for p := len(s.pieces(ref)) - 1; p >= 0; p-- {
			piece := &s.pieces(ref)[p]
			takes := s.takes(t, ref, piece)
			if takes == 0 {
				continue
			}
			by = twice{closes(piece.Windows, by.plain-takes), closes(piece.Windows, by.rest-takes)}
			if ref.Leg == 0 {
				by = twice{min(by.plain, s.In.Items[ref.Item].Hi), min(by.rest, s.In.Items[ref.Item].Hi)}
			}
		}
		v.by[first+r] = by
	}
	return by.plus(-site.SignIn)
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

// between returns the earliest and latest beginning of a leg.
func (s *State) between(p Place) (lowest, highest Seconds) {
	if p.Leg == 1 {
		placed := &s.around.Placed[p.Item]
		way := &s.In.Items[p.Item].Ways[p.Way]
		return max(placed.OpenFrom, placed.Ends+way.Wait), placed.Begins + way.MostAway
	}
	return s.lowest(tour.Ref{Item: p.Item}), s.highest(p.Item)
}

// pass passes over the pieces of the leg from an instant on and returns when they have ended; Far when they cannot.
func (v *Sieve) pass(at Seconds) Seconds {
	a := &v.ask
	first := true
	blocks := v.s.In.Items[a.item].Ways[a.way].Legs[a.leg].Blocks
	for b := range blocks {
		for i := range blocks[b].Pieces {
			piece := &blocks[b].Pieces[i]
			at = opens(piece.Windows, max(at, a.lowest))
			if first && at > a.highest || at >= instance.Far {
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
	s, span, site, shift := v.s, &v.spans[p.Tour], v.ask.site, &v.s.In.Shifts[p.Tour]
	before, after := s.placeAt(p.Tour, int(p.Stop))
	there, on := s.travel(p.Tour, before, site.Place), s.travel(p.Tour, site.Place, after)
	at, by := span.leave[p.Stop], span.arrive[p.Stop].plus(-on)
	longer := there + on + site.SignIn
	if len(s.Tours[p.Tour].Stops) > 0 {
		longer -= s.travel(p.Tour, before, after)
	}
	if !v.needsRest(longer) || v.ask.parts > 1 && shift.BreakTakes > 0 {
		return v.newFits(at.plain+there, by.plain)
	}
	rested := at.restsBefore(shift).plus(there).restsBefore(shift).rest
	resting := span.arrive[p.Stop].restsAfter(shift).plus(-on).restsAfter(shift).rest
	return v.newFits(rested, by.plain) || v.newFits(at.plain+there, resting)
}

// needsRest says whether a day asks for its break when it gets that much longer beside the leg itself.
func (v *Sieve) needsRest(longer Seconds) bool {
	a, shift := &v.ask, &v.s.In.Shifts[v.ask.t]
	if shift.BreakTakes == 0 {
		return false
	}
	if walk := &v.s.Tours[a.t].Walk; walk.Break.From < walk.Break.To {
		return true // more work never takes less time
	}
	busy := v.spans[a.t].busy
	if len(v.s.Tours[a.t].Stops) == 0 {
		busy = 0
	}
	return busy+longer+a.takes+shift.Worked > v.s.In.BreakAfter
}

// newFits says whether a visit that arrives no earlier than at can leave by an instant.
func (v *Sieve) newFits(at, by Seconds) bool {
	site := v.ask.site
	if at+site.SignIn+v.ask.takes > by {
		return false
	}
	for i := firstOpen(site.Access, at); i < len(site.Access); i++ {
		run := site.Access[i]
		leaves := v.pass(max(at, run.From) + site.SignIn)
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
	s, span, shift := v.s, &v.spans[p.Tour], &v.s.In.Shifts[p.Tour]
	refs := s.Tours[p.Tour].Stops[p.Stop].Refs
	ours := tour.Ref{Item: p.Item, Way: p.Way, Leg: p.Leg}
	slot, _ := slices.BinarySearchFunc(refs, ours, func(a, b tour.Ref) int { return tour.Before(s.In, a, b) })
	i := int(span.first[p.Stop]) + slot
	at, by := span.begins[i], span.by[i]
	if !v.ask.tired || v.ask.parts > 1 {
		return v.pass(at.plain) <= by.plain
	}
	if slot > 0 {
		at = at.restsBefore(shift)
	}
	return v.pass(at.rest) <= by.plain || v.pass(at.plain) <= by.restsAfter(shift).rest
}

// addsNew bounds what a new visit adds from below.
func (v *Sieve) addsNew(p Place) Cost {
	s, rates, site := v.s, &v.s.In.Rates, v.ask.site
	before, after := s.placeAt(p.Tour, int(p.Stop))
	there, on := s.travel(p.Tour, before, site.Place), s.travel(p.Tour, site.Place, after)
	direct := s.travel(p.Tour, before, after)
	added := rates.Visit + (minutes(there)+minutes(on)-minutes(direct))*rates.VehicleMinute
	longer := there + on - direct
	if len(s.Tours[p.Tour].Stops) == 0 {
		longer = there + on // who has no work does not drive
	}
	return added + v.addsAnywhere(longer+site.SignIn, false)
}

// addsJoined bounds what joining a visit adds from below.
func (v *Sieve) addsJoined(p Place) Cost { return v.addsAnywhere(0, v.spans[p.Tour].ill[p.Stop]) }

// addsAnywhere bounds what the work itself adds: time paid beyond what waiting there is, sanitation, delay, and what is won
// where it was published.
func (v *Sieve) addsAnywhere(longer Seconds, infested bool) Cost {
	s, a := v.s, &v.ask
	rates := &s.In.Rates
	added := a.base
	if a.infests && !infested {
		added += minutes(s.In.Sanitation) * rates.SanitationMinute
	}
	pay := s.In.Crew[s.In.Shifts[a.t].Technician].PaidPerMinute
	busy := v.spans[a.t].busy
	if len(s.Tours[a.t].Stops) == 0 {
		busy = 0
	}
	return added + max(0, max(minutes(busy+longer+a.takes+a.mixing), rates.LeastPaidMinutes)*pay-s.Tours[a.t].Walk.Own[tour.Paid])
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
	if i := firstOpen(windows, at); i < len(windows) {
		return max(at, windows[i].From)
	}
	return instance.Far
}

// few is how many windows are looked through one by one.
const few = 8

// firstOpen returns the index of the first window that ends after an instant.
func firstOpen(windows []instance.Window, at Seconds) int {
	if len(windows) > few {
		return sort.Search(len(windows), func(i int) bool { return windows[i].To > at })
	}
	for i := range windows {
		if at < windows[i].To {
			return i
		}
	}
	return len(windows)
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
