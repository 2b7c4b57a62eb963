package schedule

import (
	"math"
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/tour"
)

// Sieve finds the places in which a leg could lie at all, each with a bound on what it adds, without walking any day: so
// that only the few that are cheap and in time are walked. It relaxes a walk (no mixing, rinses, keep-outs of the plan,
// breaks, links): what it drops is never lawful, what it leaves may still be refused. A place is judged in constant time
// from what the tour's span knows of the stops beside it.
type Sieve struct {
	hasty bool
	s     *State
	spans []span // by tour; of the version that it was made for
	ask   asked
}

// Hasty makes the sieve take a day that has a break to need one with more work too. That nearly always holds and saves a search
// many walks, but a walk that waits elsewhere may belie it, so that the sieve may then drop a lawful place.
func (v *Sieve) Hasty() *Sieve {
	v.hasty = true
	return v
}

// NewSieve returns a sieve over a state, which may change: spans are made anew for tours that did.
func NewSieve(s *State) *Sieve { return &Sieve{s: s, spans: make([]span, len(s.Tours))} }

// asked is what is the same for all places of a leg, and below all that is the same for those in a tour.
type asked struct {
	item     int32
	way, leg int16
	made     bool
	version  uint64 // of all tours
	site     *instance.Site
	blocks   []instance.Block
	plain    Seconds // what the leg takes with all plants
	groups   bool    // it takes less where plants of it are replaced
	mixed    bool    // it draws on mixes
	spoils   bool    // something of it is suspected or confirmed
	replaces bool    // services that are planned may be shorter with it
	outward  asksDays

	t               int32
	lowest, highest Seconds // of its beginning
	takes           Seconds
	mixing          Seconds // and rinsing, where nothing of its product is mixed that day
	opens           bool    // a mix is made for the piece of these two, at least
	mixBlock        int
	mixPiece        int
	looser          Seconds // by how much the day may be looser than its span says, for a mix may be made and rinsed elsewhere with it
	tired           bool    // the day with the leg asks for a break even where it joins a visit
	infests         bool
	base            Cost    // delay, and what is won where it was published
	spares          Seconds // by which services of the day are shorter with it, for it replaces some of their plants
	pay             Cost    // by the minute
	paid            Cost    // for the day without it
	busy            Seconds // of the day without it
	empty           bool    // the day has no visit
}

// asksDays are the days of an item, and between which instants it begins.
type asksDays struct {
	earliest, latest, stands Day
	known                    bool
	lowest, highest          Seconds
}

// Places lists the places of a leg in a tour that pass the sieve, in the order of their stops.
func (v *Sieve) Places(item int32, way, leg int16, t int32) []Place {
	return v.Append(nil, item, way, leg, t, math.MaxInt64)
}

// Append appends to places those of a leg in a tour that pass the sieve and add less than a limit at least.
func (v *Sieve) Append(places []Place, item int32, way, leg int16, t int32, limit Cost) []Place {
	first := len(places)
	places = v.Cheap(places, item, way, leg, []int32{t}, limit)
	kept := places[:first]
	for _, p := range places[first:] {
		if v.InTime(p) {
			kept = append(kept, p)
		}
	}
	return kept
}

// Cheap appends to places those of a leg in some tours that add less than a limit at least; InTime says of each whether it passes
// the sieve.
func (v *Sieve) Cheap(places []Place, item int32, way, leg int16, tours []int32, limit Cost) []Place {
	v.ask.made = false
	v.about(item, way, leg)
	on := v.s.In.Items[item].Ways[way].Legs[leg].On
	for _, t := range tours {
		if !on[t] || v.s.Tours[t].Frozen || !v.mayLie(t) {
			continue
		}
		if v.prepare(t); v.ask.base < limit {
			places = v.cheapIn(places, t, limit)
		}
	}
	return places
}

// cheapIn does so in one tour.
func (v *Sieve) cheapIn(places []Place, t int32, limit Cost) []Place {
	a, span, s := &v.ask, &v.spans[t], v.s
	site := s.In.Items[a.item].Site
	technician, here := s.In.Shifts[t].Technician, a.site.Place
	away := s.In.Travel[technician][here*s.In.Places : (here+1)*s.In.Places]
	towards := s.towards[technician][here*s.In.Places : (here+1)*s.In.Places]
	beside := s.In.Shifts[t].LastSite == site
	drive := s.In.Rates.VehicleMinute
	for at := range span.drive {
		next := at < len(span.sites) && span.sites[at] == site
		p := Place{Item: a.item, Way: a.way, Leg: a.leg, Tour: t, Stop: int32(at)}
		if next && !span.fixed[at] {
			if p.Added, p.Likely = v.adds(0, span.ill[at]); p.Added < limit {
				places = append(places, p)
			}
		}
		if !next && !beside {
			there, on, direct := towards[span.at[at]], away[span.at[at+1]], span.drive[at]
			longer := there + on - direct
			if a.empty {
				longer = there + on // who has no work does not drive
			}
			p.New = true
			p.Added, p.Likely = v.adds(longer+a.site.SignIn, false)
			more := s.In.Rates.Visit + (minutes(there)+minutes(on)-minutes(direct))*drive
			if p.Added, p.Likely = p.Added+more, p.Likely+more; p.Added < limit {
				places = append(places, p)
			}
		}
		beside = next
	}
	return places
}

// InTime says whether a place, one that Cheap has given of the state as it is, fits between the stops beside it.
func (v *Sieve) InTime(p Place) bool {
	v.about(p.Item, p.Way, p.Leg)
	v.prepare(p.Tour)
	switch {
	case v.ask.spares > 0:
		return true // the day is another with it
	case p.New:
		return v.inTime(p)
	}
	return v.inTimeJoined(p)
}

// about prepares what is the same for all places of a leg.
func (v *Sieve) about(item int32, way, leg int16) {
	s, a := v.s, &v.ask
	if a.made && a.item == item && a.way == way && a.leg == leg && a.version == s.changes {
		return
	}
	it := &s.In.Items[item]
	*a = asked{item: item, way: way, leg: leg, t: instance.None, made: true, version: s.changes, site: &s.In.Sites[it.Site], blocks: it.Ways[way].Legs[leg].Blocks}
	for b := range a.blocks {
		for i := range a.blocks[b].Pieces {
			piece := &a.blocks[b].Pieces[i]
			a.plain += piece.Takes
			a.mixed = a.mixed || piece.Product != instance.None
			a.spoils = a.spoils || piece.Takes > 0 && a.blocks[b].Rank >= instance.RankSuspected
		}
	}
	a.groups = s.walker.Varies(item)
	for i := range it.Bonds {
		a.replaces = a.replaces || it.Bonds[i].Kind == instance.Replaces && it.Bonds[i].From == item
	}
	days := &a.outward
	if days.earliest, days.latest, days.stands, days.known = s.walker.Days(item); leg == 0 {
		days.lowest, days.highest = s.lowest(tour.Ref{Item: item}), s.highest(item)
	}
}

// mayLie is State.mayLie of the leg asked about, its technician apart.
func (v *Sieve) mayLie(t int32) bool {
	s, a := v.s, &v.ask
	if a.leg == 1 {
		return s.mayLie(a.item, a.way, 1, t)
	}
	it, shift := &s.In.Items[a.item], &s.In.Shifts[t]
	days := s.days[int(it.Site)*len(s.Tours)+int(t)]
	return a.outward.known && days.last >= a.outward.earliest && days.first <= a.outward.stands && shift.Start <= it.Hi && shift.End > it.Lo
}

// prepare makes the tour's span where it has changed, and what is the same for all places of the leg in it.
func (v *Sieve) prepare(t int32) {
	s, a := v.s, &v.ask
	span := &v.spans[t]
	if !span.made || span.version != s.Tours[t].Version {
		s.makeSpan(t, span, v.hasty)
	} else if a.t == t {
		return
	}
	a.t, a.takes, a.infests, a.base, a.spares = t, a.plain, a.spoils, -span.mayWin, 0
	a.lowest, a.highest = a.outward.lowest, a.outward.highest
	if a.leg == 1 {
		a.lowest, a.highest = s.between(Place{Item: a.item, Way: a.way, Leg: a.leg, Tour: t})
	}
	if a.groups {
		v.prepareGroups()
	}
	if a.opens, a.mixing, a.looser = false, 0, 0; a.mixed {
		v.prepareMixes()
	}
	if a.replaces {
		var services Cost
		a.spares, services = s.spares(a.item, t)
		a.base -= services * minutes(s.In.Sanitation) * s.In.Rates.SanitationMinute // where only plants that it replaces are infested
	}
	a.empty, a.busy = len(s.Tours[t].Stops) == 0, span.busy
	if a.empty {
		a.busy = 0
	}
	shift := &s.In.Shifts[t]
	a.pay, a.paid = s.In.Crew[shift.Technician].PaidPerMinute, s.Tours[t].Walk.Own[tour.Paid]
	a.tired = v.needsRest(0)
	if a.leg == 0 {
		a.base += v.delay(t)
	}
	for b := range shift.Before {
		if slices.Contains(shift.Before[b].Items, a.item) && !s.hasSomeOf(t, &shift.Before[b]) {
			a.base -= shift.Before[b].Moves
		}
	}
}

// prepareGroups takes out what follow-ups of the tour's days replace.
func (v *Sieve) prepareGroups() {
	a := &v.ask
	a.takes, a.infests = 0, false
	for b := range a.blocks {
		for i := range a.blocks[b].Pieces {
			takes := v.s.leastTakes(a.item, a.t, &a.blocks[b].Pieces[i])
			a.takes += takes
			a.infests = a.infests || takes > 0 && a.blocks[b].Rank >= instance.RankSuspected
		}
	}
}

// prepareMixes finds which mixes the leg needs that the tour does not have.
func (v *Sieve) prepareMixes() {
	s, a := v.s, &v.ask
	mixed := instance.None
	for b := range a.blocks {
		for i := range a.blocks[b].Pieces {
			product := a.blocks[b].Pieces[i].Product
			if product == mixed {
				continue // one mix may do for both
			}
			mixed = product
			switch mixing := s.mixingFor(a.t, product); {
			case mixing > 0 && !a.opens:
				a.mixing, a.opens, a.mixBlock, a.mixPiece = mixing, true, b, i
			case mixing > 0:
				a.mixing += mixing
			case product != instance.None && v.hasty:
				a.looser = s.In.Mixing + s.In.Rinsing
			}
		}
	}
}

// hasSomeOf says whether a stop of a tour has something of a published visit.
func (s *State) hasSomeOf(t int32, before *instance.BeforeVisit) bool {
	for k := range s.Tours[t].Stops {
		if s.isOf(&s.Tours[t].Stops[k], before) {
			return true
		}
	}
	return false
}

// isOf says whether a stop has something of a published visit.
func (s *State) isOf(stop *tour.Stop, before *instance.BeforeVisit) bool {
	return stop.Site == before.Site && slices.ContainsFunc(stop.Refs, func(ref tour.Ref) bool { return slices.Contains(before.Items, ref.Item) })
}

// mayWin is what the visits of a tour may win where more work gives them other times: those of a shift past midnight what depends on
// their day, and published visits that the tour does not keep though it has something of them.
func (s *State) mayWin(t int32) (cost Cost) {
	stops, walk := s.Tours[t].Stops, &s.Tours[t].Walk
	for k := range stops {
		site := &s.In.Sites[stops[k].Site]
		days := s.days[int(stops[k].Site)*len(s.Tours)+int(t)]
		if days.first == days.last {
			continue
		}
		parts := &walk.Visits[k].Parts
		cost += parts[tour.Delay] + parts[tour.LateService]
		if site.UsualDay >= 0 {
			cost += min(parts[tour.OtherTechnician], s.In.Rates.OtherWeekday)
		}
	}
	before := s.In.Shifts[t].Before
	for b := range before {
		some, kept := false, false
		for k := range stops {
			if s.isOf(&stops[k], &before[b]) {
				some = true
				kept = kept || walk.Visits[k].Arrives == before[b].Arrives
			}
		}
		if some && !kept {
			cost += before[b].Moves
		}
	}
	return cost
}

// leastTakes returns the least that a piece of an item takes in a tour: follow-ups of its days may replace some of its plants.
func (s *State) leastTakes(item, t int32, piece *instance.Piece) Seconds {
	takes := piece.Takes
	days := s.days[int(s.In.Items[item].Site)*len(s.Tours)+int(t)]
	for g := range piece.Groups {
		if slices.ContainsFunc(piece.Groups[g].ReplacedBy, func(by int32) bool {
			return s.around.Placed[by].Placed && s.dayOf(by) >= days.first && s.dayOf(by) <= days.last
		}) {
			takes -= piece.Groups[g].Takes
		}
	}
	return takes
}

// spares returns by how much at most services of a tour are shorter with an item, which replaces some of their plants, and how many
// they are.
func (s *State) spares(item, t int32) (spares Seconds, services Cost) {
	for _, bond := range s.In.Items[item].Bonds {
		service := &s.around.Placed[bond.To]
		if bond.Kind != instance.Replaces || bond.From != item || !service.Placed || service.Tour != t {
			continue
		}
		services++
		blocks := s.In.Items[bond.To].Ways[service.Way].Legs[0].Blocks
		for b := range blocks {
			for _, group := range blocks[b].Pieces[0].Groups {
				if slices.Contains(group.ReplacedBy, item) {
					spares += group.Takes
				}
			}
		}
	}
	return spares, services
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
		if placed.Tour == p.Tour {
			return 0, instance.Far // the day may begin it at another time
		}
		way := &s.In.Items[p.Item].Ways[p.Way]
		return max(placed.OpenFrom, placed.Ends+way.Wait), placed.Begins + way.MostAway
	}
	return s.lowest(tour.Ref{Item: p.Item}), s.highest(p.Item)
}

// pass passes over the blocks of the leg from one on, up to another, and returns when they have ended; Far when they cannot.
func (v *Sieve) pass(at twice, from, to int) twice {
	s, a := v.s, &v.ask
	blocks := a.blocks
	for b := from; b < to; b++ {
		if b > from {
			at = at.restsBefore(&s.In.Shifts[a.t])
		}
		for i := range blocks[b].Pieces {
			piece := &blocks[b].Pieces[i]
			if a.opens && b == a.mixBlock && i == a.mixPiece {
				at = at.plus(s.In.Mixing)
			}
			at.plain = instance.FirstIn(piece.Windows, max(at.plain, a.lowest))
			if at.rest < instance.Far {
				at.rest = instance.FirstIn(piece.Windows, max(at.rest, a.lowest))
			}
			if b == 0 && i == 0 {
				at = at.upTo(a.highest)
			}
			if at.plain >= instance.Far {
				return twice{instance.Far, instance.Far}
			}
			if a.groups {
				at = at.plus(s.leastTakes(a.item, a.t, piece))
			} else {
				at = at.plus(piece.Takes)
			}
		}
	}
	return at
}

// inTime says whether a new visit fits between the stops beside it.
func (v *Sieve) inTime(p Place) bool {
	s, span, site, shift := v.s, &v.spans[p.Tour], v.ask.site, &v.s.In.Shifts[p.Tour]
	there, on, direct := v.around(p)
	longer := there + on + site.SignIn
	if len(s.Tours[p.Tour].Stops) > 0 {
		longer -= direct
	}
	at := span.leave[p.Stop].restsBefore(shift).plus(there).restsBefore(shift)
	by := span.arrive[p.Stop].restsAfter(shift).plus(-on).restsAfter(shift).plus(v.ask.looser)
	return v.newFits(at, by, v.needsRest(longer))
}

// ends says whether what has ended at one of two instants leaves time for what must begin by another: where the day needs its break,
// it lies before or after.
func ends(at, by twice, tired bool) bool {
	if tired {
		return at.rest <= by.plain || at.plain <= by.rest
	}
	return at.plain <= by.plain
}

// needsRest says whether a day asks for its break when it gets that much longer beside the leg itself.
func (v *Sieve) needsRest(longer Seconds) bool {
	a, shift := &v.ask, &v.s.In.Shifts[v.ask.t]
	if shift.BreakTakes == 0 {
		return false
	}
	if walk := &v.s.Tours[a.t].Walk; v.hasty && walk.Break.From < walk.Break.To && longer+a.takes >= 0 {
		return true // a day that gets no shorter still asks for it
	}
	return a.busy+longer+a.takes+shift.Worked > v.s.In.BreakAfter
}

// newFits says whether a visit that arrives no earlier than at can leave by an instant.
func (v *Sieve) newFits(at, by twice, tired bool) bool {
	site := v.ask.site
	if at.plain+site.SignIn+v.ask.takes > by.plain {
		return false
	}
	if !tired {
		at.rest = instance.Far
	}
	for i := instance.NextWindow(site.Access, at.plain); i < len(site.Access); i++ {
		run := site.Access[i]
		leaves := v.pass(twice{max(at.plain, run.From), max(at.rest, run.From)}.plus(site.SignIn), 0, len(v.ask.blocks))
		if leaves.plain > by.plain {
			return false
		}
		if ends(leaves, twice{min(by.plain, run.To), min(by.rest, run.To)}, tired) {
			return true
		}
	}
	return false
}

// inTimeJoined says whether a leg fits into a visit. Where it has several blocks others may come between them.
func (v *Sieve) inTimeJoined(p Place) bool {
	s, a, span, shift := v.s, &v.ask, &v.spans[p.Tour], &v.s.In.Shifts[p.Tour]
	refs := s.Tours[p.Tour].Stops[p.Stop].Refs
	at, i := twice{}, 0
	for b := range a.blocks {
		ours := tour.Ref{Item: p.Item, Way: p.Way, Leg: p.Leg, Block: int16(b)}
		slot, _ := slices.BinarySearchFunc(refs, ours, func(a, b tour.Ref) int { return tour.Before(s.In, a, b) })
		if b == 0 {
			at = span.begins[int(span.first[p.Stop])+slot]
		} else {
			for ; i < slot; i++ {
				at, _ = s.passRef(p.Tour, refs[i], at.restsBefore(shift))
			}
		}
		if i = slot; slot > 0 || b > 0 {
			at = at.restsBefore(shift)
		}
		at = v.pass(at, b, b+1)
	}
	by := span.by[int(span.first[p.Stop])+i].plus(a.looser)
	if i < len(refs) {
		by = by.restsAfter(shift)
	}
	return ends(at, by, a.tired)
}

// around is the travel to a new visit and on from it, and that without it.
func (v *Sieve) around(p Place) (there, on, direct Seconds) {
	s, span := v.s, &v.spans[p.Tour]
	travel, here := s.In.Travel[s.In.Shifts[p.Tour].Technician], v.ask.site.Place
	return travel[span.at[p.Stop]*s.In.Places+here], travel[here*s.In.Places+span.at[p.Stop+1]], span.drive[p.Stop]
}

// adds bounds what the work itself adds from below: time paid beyond what waiting there is, sanitation, delay, and what is won
// where it was published. A day that waits may get shorter, by as much as it waits.
func (v *Sieve) adds(longer Seconds, infested bool) (least, likely Cost) {
	a, in := &v.ask, v.s.In
	added := a.base
	if a.infests && !infested {
		added += minutes(in.Sanitation) * in.Rates.SanitationMinute
	}
	longer += a.takes + a.mixing - a.spares
	paid := max(minutes(a.busy+longer), in.Rates.LeastPaidMinutes)*a.pay - a.paid
	return added + paid, added + max(0, paid)
}

// delay is the least that the day of a place in a tour costs its case.
func (v *Sieve) delay(t int32) Cost {
	a, it := &v.ask, &v.s.In.Items[v.ask.item]
	if !a.outward.known {
		return 0
	}
	day := max(a.outward.earliest, v.s.days[int(it.Site)*len(v.s.Tours)+int(t)].first)
	return it.PriceOf(day-a.outward.earliest) + it.LatePerDay*Cost(max(0, day-a.outward.latest))
}

func minutes(s Seconds) Cost { return Cost((s + secondsPerMinute - 1) / secondsPerMinute) }
