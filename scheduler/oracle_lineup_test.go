package scheduler_test

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// lineup is one technician-day with everything settled but the times.
type lineup struct {
	shift  int
	visits []lineVisit
	mixes  []lineMix
	rest   int            // 2k: a break on the way to visit k (the last: to the base), 2k+1: in visit k, -1: none
	static quantity.Money // what does not hang on the times
	alone  quantity.Money // the whole at its cheapest, whatever other technician-days do
}

// lineVisit is one visit: blocks in order, or one that does not move.
type lineVisit struct {
	site   *scheduler.Site
	fixed  *scheduler.Visit
	blocks []*block
}

// lineMix is one filling: what draws on it in order, and where the vessel is rinsed.
type lineMix struct {
	product *scheduler.Product
	uses    []useAt
	vessel  *scheduler.Vessel
	inside  bool // made between the pieces of its first block
	rinse   int  // visit, or one of the two below
}

// useAt is a piece of a block of a visit.
type useAt struct{ visit, block, piece int }

const (
	rinsedAtBase = -1
	notRinsed    = -2 // the same product comes into the vessel next
)

// priced is what is known of the lineups of some blocks: those that cost less than a bound, cheapest first.
type priced struct {
	bound   quantity.Money
	lineups []*lineup
}

// lineups lists what a technician-day with some blocks may look like for less than a bound.
func (o *oracle) lineups(shift int, blocks []*block, bound quantity.Money) []*lineup {
	key := keyOf(shift, blocks)
	known := o.memo[key]
	if known != nil && known.bound >= bound {
		return known.lineups
	}
	if known != nil { // asked once more for dearer ones: all that there may ever be use for
		bound = o.best
	}
	list := &priced{bound: bound}
	visits := make([]lineVisit, 0, len(blocks)+len(o.shifts[shift].fixed))
	o.visits(shift, visits, blocks, o.shifts[shift].fixed, bound, func(visits []lineVisit) {
		if o.gaveUp || o.shortest(&lineup{shift: shift, visits: visits}) >= bound {
			return
		}
		o.mixes(&lineup{shift: shift, visits: visits, rest: -1}, func(l *lineup) {
			if o.gaveUp || o.shortest(l) >= bound {
				return
			}
			o.rests(l, func(l *lineup) {
				paid, _, ok := o.table([]*lineup{l}, true).cheapest(bound - l.static)
				if ok {
					kept := *l
					kept.mixes = slices.Clone(l.mixes)
					kept.alone = l.static + paid
					list.lineups = append(list.lineups, &kept)
				}
			})
		})
	})
	slices.SortStableFunc(list.lineups, func(a, b *lineup) int { return cmp.Compare(a.alone, b.alone) })
	o.memo[key] = list
	return list.lineups
}

// visits lists the orders of blocks and fixed visits: what is done at one site without another in between is one visit, in
// which work on the cleaner plants comes first; an occurrence of a service is on one visit.
func (o *oracle) visits(shift int, sofar []lineVisit, left []*block, fixed []*scheduler.Visit, bound quantity.Money, yield func([]lineVisit)) {
	if len(left) == 0 && len(fixed) == 0 {
		if o.sameVisits(sofar) {
			yield(cloneVisits(sofar))
		}
		return
	}
	last := lineVisit{}
	if len(sofar) > 0 {
		last = sofar[len(sofar)-1]
		if o.gaveUp || o.soFar(shift, sofar) >= bound {
			return
		}
	}
	waiting := func(b *block) bool { return b.service != nil && b.item == last.service() }
	open := slices.ContainsFunc(left, waiting) // of the occurrence that the visit has begun
	if len(fixed) > 0 && fixed[0].Site != last.id() && !open {
		o.visits(shift, append(slices.Clip(sofar), lineVisit{site: o.site(fixed[0].Site), fixed: fixed[0]}), left, fixed[1:], bound, yield)
	}
	for i, b := range left {
		if b.leg == 1 && slices.ContainsFunc(left, func(other *block) bool { return other.item == b.item && other.leg == 0 }) {
			continue
		}
		rest := slices.Delete(slices.Clone(left), i, i+1)
		if b.site.ID != last.id() {
			if !open && !begun(sofar, b) {
				o.visits(shift, append(slices.Clip(sofar), lineVisit{site: b.site, blocks: []*block{b}}), rest, fixed, bound, yield)
			}
			continue
		}
		if last.fixed != nil || b.rank < last.blocks[len(last.blocks)-1].rank {
			continue
		}
		longer := slices.Clone(sofar)
		longer[len(longer)-1].blocks = append(slices.Clip(last.blocks), b)
		o.visits(shift, longer, rest, fixed, bound, yield)
	}
}

func (v lineVisit) id() site.ID {
	if v.site == nil {
		return ""
	}
	return v.site.ID
}

// service names the occurrence that a visit has begun last, of which more blocks may be left.
func (v lineVisit) service() scheduler.ItemID {
	for i := len(v.blocks) - 1; i >= 0; i-- {
		if v.blocks[i].service != nil {
			return v.blocks[i].item
		}
	}
	return ""
}

// begun says whether another block of the same occurrence stands in a visit already.
func begun(visits []lineVisit, b *block) bool {
	return b.service != nil && slices.ContainsFunc(visits, func(v lineVisit) bool {
		return slices.ContainsFunc(v.blocks, func(other *block) bool { return other.item == b.item })
	})
}

// sameVisits says whether every occurrence is on one visit.
func (o *oracle) sameVisits(visits []lineVisit) bool {
	where := map[scheduler.ItemID]int{}
	for i, v := range visits {
		for _, b := range v.blocks {
			if at, seen := where[b.item]; b.service != nil && seen && at != i {
				return false
			}
			where[b.item] = i
		}
	}
	return true
}

func cloneVisits(visits []lineVisit) []lineVisit {
	cloned := slices.Clone(visits)
	for i := range cloned {
		cloned[i].blocks = slices.Clone(cloned[i].blocks)
	}
	return cloned
}

// mixes lists how the applications of diluted products share mixes, in which vessels, and where these are rinsed.
func (o *oracle) mixes(l *lineup, yield func(*lineup)) {
	var uses []useAt
	for v := range l.visits {
		for b, block := range l.visits[v].blocks {
			for p := range block.pieces {
				if use := block.pieces[p].use; use != nil && o.product(use.Product).Diluted() {
					uses = append(uses, useAt{v, b, p})
				}
			}
		}
	}
	o.share(l, uses, func(l *lineup) { o.vessels(l, 0, yield) })
}

func (l *lineup) piece(u useAt) *piece { return &l.visits[u.visit].blocks[u.block].pieces[u.piece] }

// share puts each use into a mix of its product or into a new one.
func (o *oracle) share(l *lineup, uses []useAt, yield func(*lineup)) {
	if len(uses) == 0 || o.gaveUp {
		yield(l)
		return
	}
	product := o.product(l.piece(uses[0]).use.Product)
	mixes := l.mixes
	for i := range mixes {
		if mixes[i].product != product {
			continue
		}
		l.mixes = slices.Clone(mixes)
		l.mixes[i].uses = append(slices.Clip(mixes[i].uses), uses[0])
		if o.holdsSomewhere(l, &l.mixes[i]) {
			o.share(l, uses[1:], yield)
		}
	}
	l.mixes = append(slices.Clone(mixes), lineMix{product: product, uses: []useAt{uses[0]}})
	if o.holdsSomewhere(l, &l.mixes[len(mixes)]) {
		o.share(l, uses[1:], yield)
	}
	l.mixes = mixes
}

func (o *oracle) holdsSomewhere(l *lineup, m *lineMix) bool {
	t := o.shifts[l.shift].tech
	return slices.ContainsFunc(t.Vessels, func(v scheduler.Vessel) bool { return o.holds(l, m, &v) })
}

// need is the volume that a mix must give, with reserve.
func (l *lineup) need(m *lineMix) quantity.Volume {
	need := quantity.Volume{}
	for _, u := range m.uses {
		need = need.Add(needOf(l.piece(u).use))
	}
	return need
}

func needOf(use *scheduler.Use) quantity.Volume {
	need := quantity.Volume{}
	for _, dose := range use.Doses {
		need = need.Add(dose.Amount.Times(big.NewRat(int64(100+use.ReservePercent), 100)))
	}
	return need
}

// holds says whether a vessel takes a mix by its methods and size.
func (o *oracle) holds(l *lineup, m *lineMix, v *scheduler.Vessel) bool {
	tech := o.shifts[l.shift].tech
	key := fmt.Sprint(tech.ID, v.ID, m.product.ID)
	for _, u := range m.uses {
		if !slices.Contains(v.Methods, l.piece(u).use.Method) {
			return false
		}
		key += " " + l.visits[u.visit].blocks[u.block].key
	}
	ok, known := o.held[key]
	if !known {
		_, _, _, ok = o.fill(m.product, l.need(m), v, tech.Measures)
		o.held[key] = ok
	}
	return ok
}

// fill tries every mark of a vessel with every mark of a measure, filled ten times at most.
func (o *oracle) fill(product *scheduler.Product, need quantity.Volume, v *scheduler.Vessel, measures []scheduler.Measure) (volume, concentrate quantity.Volume, measure string, ok bool) {
	greatest := product.Label.MaxRate.Share()
	least := new(big.Rat).Mul(greatest, big.NewRat(int64(o.p.Rules.LeastRatePercent), 100))
	if product.Label.MinRate != nil {
		least = product.Label.MinRate.Share()
	}
	for mark := v.Marks; mark.Cmp(v.Capacity) <= 0; mark = mark.Add(v.Marks) {
		if mark.Cmp(need.Add(v.Dead)) < 0 {
			continue
		}
		for _, m := range measures {
			most := new(big.Rat).Quo(new(big.Rat).Mul(greatest, mark.Millilitres()), m.Marks.Millilitres())
			last := new(big.Rat).Quo(m.Capacity.Millilitres(), m.Marks.Millilitres())
			marks := new(big.Int).Quo(most.Num(), most.Denom())
			fills := new(big.Int).Mul(new(big.Int).Quo(last.Num(), last.Denom()), big.NewInt(dilution.MaxMeasures))
			if fills.Cmp(marks) < 0 {
				marks = fills
			}
			dose := m.Marks.Times(new(big.Rat).SetInt(marks))
			if share := new(big.Rat).Quo(dose.Millilitres(), mark.Millilitres()); dose.Sign() > 0 && share.Cmp(least) >= 0 {
				return mark, dose, m.Name, true
			}
		}
	}
	return volume, concentrate, "", false
}

// vessels chooses a vessel for each mix, where it is made, and where it is rinsed.
func (o *oracle) vessels(l *lineup, m int, yield func(*lineup)) {
	if o.gaveUp {
		return
	}
	if m == len(l.mixes) {
		if o.vesselsInTurn(l) {
			yield(l)
		}
		return
	}
	mix := &l.mixes[m]
	first, last := mix.uses[0], mix.uses[len(mix.uses)-1]
	if o.tooHard(mix, l.visits[first.visit].site) {
		return
	}
	tech := o.shifts[l.shift].tech
	for v := range tech.Vessels {
		if !o.holds(l, mix, &tech.Vessels[v]) {
			continue
		}
		mix.vessel = &tech.Vessels[v]
		for _, inside := range []bool{false, true}[:min(2, 1+first.piece)] {
			mix.inside = inside
			for _, rinse := range o.rinses(l, m, last.visit) {
				l.mixes[m].rinse = rinse
				o.vessels(l, m+1, yield)
			}
		}
	}
}

// rinses lists where a vessel may be rinsed: at the base, at the first visit with water from the last use on, or, where
// another mix may come, not at all.
func (o *oracle) rinses(l *lineup, m, visit int) []int {
	where := []int{rinsedAtBase}
	if m+1 < len(l.mixes) {
		where = append(where, notRinsed)
	}
	for v := visit; v < len(l.visits); v++ {
		if l.visits[v].fixed == nil && l.visits[v].site.Water.Area != "" {
			return append(where, v)
		}
	}
	return where
}

func (o *oracle) tooHard(m *lineMix, s *scheduler.Site) bool {
	limit := m.product.Label.MaxHardness
	return limit != nil && s.Water.Area != "" && (s.Water.HardnessMgL == nil || *s.Water.HardnessMgL > *limit)
}

// vesselsInTurn: of two mixes in one vessel the first is rinsed out before the second where the products differ, and at
// a site; the last is rinsed.
func (o *oracle) vesselsInTurn(l *lineup) bool {
	for i := range l.mixes {
		m, next := &l.mixes[i], l.nextIn(i)
		if next < 0 && m.rinse == notRinsed || next >= 0 && (m.rinse == rinsedAtBase || m.rinse == notRinsed && l.mixes[next].product != m.product) {
			return false
		}
	}
	return true
}

// nextIn is the mix that comes into the vessel of another next, or -1. Mixes stand in the order of their first uses.
func (l *lineup) nextIn(m int) int {
	for i := m + 1; i < len(l.mixes); i++ {
		if l.mixes[i].vessel == l.mixes[m].vessel {
			return i
		}
	}
	return -1
}

// rests lists where a break lies, and that none is taken.
func (o *oracle) rests(l *lineup, yield func(*lineup)) {
	l.rest = -1
	yield(l)
	if o.shifts[l.shift].shift.BreakTakes == 0 {
		return
	}
	for l.rest = 0; l.rest <= 2*len(l.visits); l.rest++ {
		if l.rest%2 == 0 || l.visits[l.rest/2].fixed == nil {
			yield(l)
		}
	}
	l.rest = -1
}

// shortest sets what does not hang on the times, and returns the least that the whole costs.
func (o *oracle) shortest(l *lineup) quantity.Money {
	s := &o.shifts[l.shift]
	rules := &o.p.Rules
	l.static = 0
	seconds := int64(0)
	place := s.tech.Base
	for i := range l.visits {
		v := &l.visits[i]
		to := travel.PlaceID(v.site.ID)
		drive := o.price.drive(s.tech, place, to)
		seconds += int64(drive.Seconds())
		l.static += minutesUp(drive)*o.rates.VehicleMinute.Amount + o.rates.Visit.Amount
		place = to
		if v.fixed != nil {
			seconds += int64(v.fixed.Leaves - v.fixed.Arrives)
			continue
		}
		seconds += int64(v.site.SignIn.Seconds())
		serves, infested := false, false
		for _, b := range v.blocks {
			serves, infested = serves || b.service != nil, infested || b.rank >= 2
			for p := range b.pieces {
				seconds += int64(b.pieces[p].takes.Seconds())
			}
		}
		l.static += o.expected(s, v, serves)
		if infested {
			l.static += minutesUp(rules.Sanitation) * o.rates.SanitationMinute.Amount
		}
	}
	home := o.price.drive(s.tech, place, s.tech.Base)
	l.static += minutesUp(home) * o.rates.VehicleMinute.Amount
	seconds += int64(home.Seconds())
	for i := range l.mixes {
		seconds += int64(rules.Mixing.Seconds())
		if l.mixes[i].rinse != notRinsed {
			seconds += int64(rules.Rinsing.Seconds())
		}
	}
	return l.static + max(quantity.Money((seconds+59)/60), o.rates.LeastPaidMinutes.Amount)*s.tech.PaidPerMinute
}

// soFar is what the visits of a route so far at least cost, whatever comes after them.
func (o *oracle) soFar(shift int, visits []lineVisit) quantity.Money {
	l := &lineup{shift: shift, visits: visits}
	whole := o.shortest(l)
	s := &o.shifts[shift]
	home := o.price.drive(s.tech, travel.PlaceID(visits[len(visits)-1].site.ID), s.tech.Base)
	return whole - minutesUp(home)*(o.rates.VehicleMinute.Amount+s.tech.PaidPerMinute)
}

// expected is what a visit of another technician or on another weekday than usual costs.
func (o *oracle) expected(s *crewShift, v *lineVisit, serves bool) quantity.Money {
	cost := quantity.Money(0)
	agreed := &v.site.Agreement
	if serves && agreed.UsualTechnician != "" && agreed.UsualTechnician != string(s.tech.ID) {
		cost += o.rates.OtherTechnician.Amount
	}
	if serves && agreed.UsualDay != nil && !agreed.DayFixed && v.site.Zone.DateOf(s.from).Weekday() != *agreed.UsualDay {
		cost += o.rates.OtherWeekday.Amount
	}
	return cost
}

// access are the runs in which a visit of a technician may lie: access, keys held, the weekday that is agreed.
func (o *oracle) access(s *crewShift, at *scheduler.Site) []civil.Interval {
	runs := at.Access.Open(at.Zone, o.span)
	for _, key := range at.Keys {
		var held []civil.Interval
		for _, k := range s.tech.Keys {
			if k.Key == key {
				until := o.span.To
				if !k.To.IsZero() {
					until = at.Zone.At(k.To+1, 0) - 1
				}
				held = append(held, civil.Interval{From: at.Zone.At(k.From, 0), To: until})
			}
		}
		runs = civil.Intersect(runs, held)
	}
	return runs
}
