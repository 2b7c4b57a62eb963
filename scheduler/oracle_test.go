package scheduler_test

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// oracle finds the least cost of any lawful plan of a small Problem, by exhaustion and with arithmetic of its own: which
// items are planned, by which way, on which technician-days; in which order; with which mixes in which vessels, rinsed
// where; with or without a break, and where. The times are not tried out: for a settled order what is left is a temporal
// network with alternatives, of which timing finds the least paid time exactly. Every plan that it answers with is judged by
// Check.
//
// What it does not look at, so that a plan outside of it may be cheaper: a rinse at the base between two visits, or at a
// later visit than the first with water; a break inside a visit that does not move. What its Problems do not hold: visits
// published before, technicians under way, open mixes, uneven days' price, patch tests, links to services but InsteadOf
// and Not, services that come twice. A break is taken where one is due, as long as it takes.
type oracle struct {
	p      *scheduler.Problem
	rates  *scheduler.Rates
	price  pricer
	span   civil.Interval
	shut   []shutBefore
	shifts []crewShift
	order  []scheduler.ItemID // follow-ups, then services
	stays  map[scheduler.ItemID]stay
	memo   map[string]*priced
	held   map[string]bool // whether a vessel holds the needs of some blocks
	best   quantity.Money
	found  *answer
	gaveUp bool
	nets   int
}

// shutBefore is a keep-out that runs already, with all areas that it shuts.
type shutBefore struct {
	areas  []site.AreaID
	during civil.Interval
	item   scheduler.ItemID
}

// crewShift is a technician-day.
type crewShift struct {
	tech  *scheduler.Technician
	shift *scheduler.Shift
	from  civil.Instant // no earlier than now
	days  []civil.Date
	fixed []*scheduler.Visit
}

// stay is where an item is planned: by a way, each leg on a technician-day, beginning on a day.
type stay struct {
	planned bool
	way     int
	shifts  []int // by leg
	day     civil.Date
}

// answer is the best found: lineups with their times.
type answer struct {
	lineups []*lineup
	table   *timetable
	at      []int64
	cost    quantity.Money
}

// leastCost searches for a plan that costs less than a bound; found is nil when there is none.
func leastCost(p *scheduler.Problem, rates *scheduler.Rates, bound quantity.Money) (found *answer, o *oracle) {
	o = &oracle{
		p: p, rates: rates, price: pricer{p, rates}, best: bound,
		stays: map[scheduler.ItemID]stay{}, memo: map[string]*priced{}, held: map[string]bool{},
	}
	end := p.Zone.At(p.FirstDay.AddDays(p.Days), 0)
	o.span = civil.Interval{From: p.Zone.At(p.FirstDay, 0) - 2*24*3600, To: end + 9*24*3600}
	for _, k := range p.KeepOuts {
		o.shut = append(o.shut, shutBefore{o.shutWith(k.Area), k.During, k.Item})
	}
	for t := range p.Technicians {
		o.addShifts(&p.Technicians[t])
	}
	for i := range p.FollowUps {
		o.order = append(o.order, p.FollowUps[i].ID)
	}
	for i := range p.Services {
		if s := &p.Services[i]; s.Last.IsZero() || s.Last.AddDays(s.Ideal) <= o.price.lastDay() {
			o.order = append(o.order, scheduler.OccurrenceID(s.ID, 1))
		}
	}
	o.assign(0, 0, 0)
	return o.found, o
}

func (o *oracle) addShifts(t *scheduler.Technician) {
	for i := range t.Shifts {
		s := crewShift{tech: t, shift: &t.Shifts[i]}
		if s.shift.During.To <= o.p.Now || s.shift.Day < o.p.FirstDay || s.shift.Day > o.price.lastDay() {
			continue
		}
		s.from = max(o.p.Now, s.shift.During.From)
		for day := o.p.Zone.DateOf(s.from); day <= o.p.Zone.DateOf(s.shift.During.To-1); day++ {
			s.days = append(s.days, day)
		}
		for k := range o.p.Fixed {
			if v := &o.p.Fixed[k]; v.Technician == t.ID && v.Arrives >= s.shift.During.From && v.Arrives < s.shift.During.To {
				s.fixed = append(s.fixed, v)
			}
		}
		o.shifts = append(o.shifts, s)
	}
}

func (o *oracle) site(id site.ID) *scheduler.Site { return o.price.site(id) }

func (o *oracle) area(id site.AreaID) *scheduler.Area {
	for i := range o.p.Sites {
		for k := range o.p.Sites[i].Areas {
			if o.p.Sites[i].Areas[k].ID == id {
				return &o.p.Sites[i].Areas[k]
			}
		}
	}
	return nil
}

func (o *oracle) plant(id site.PlantID) *scheduler.PlantState {
	return &o.p.Plants[slices.IndexFunc(o.p.Plants, func(s scheduler.PlantState) bool { return s.Plant.ID == id })]
}

func (o *oracle) product(id catalogue.ProductID) *scheduler.Product {
	for i := range o.p.Products {
		if o.p.Products[i].ID == id {
			return &o.p.Products[i]
		}
	}
	return nil
}

// shutWith lists what is shut with an area: what is open to it, and what is reached only through any of these.
func (o *oracle) shutWith(id site.AreaID) []site.AreaID {
	shut := []site.AreaID{id}
	for i := range o.p.Sites {
		areas := o.p.Sites[i].Areas
		for k := range areas {
			if areas[k].ID != id && (slices.Contains(areas[k].OpenTo, id) || slices.Contains(o.area(id).OpenTo, areas[k].ID)) {
				shut = append(shut, areas[k].ID)
			}
		}
		for range areas {
			for k := range areas {
				if slices.Contains(shut, areas[k].ReachedOnlyThrough) && !slices.Contains(shut, areas[k].ID) {
					shut = append(shut, areas[k].ID)
				}
			}
		}
	}
	return shut
}

// at says on which day an item is planned or was done, as the instant at which that day begins.
func (o *oracle) at(id scheduler.ItemID) (civil.Instant, bool) {
	if begins, ok := o.price.done(id); ok {
		return begins, true
	}
	s := o.stays[id]
	return o.p.Zone.At(s.day, 0), s.planned
}

// perMinute counts the paid seconds of the work so far in sixtieths of a unit, so that nothing is rounded.
const perMinute = 60

// assign decides on the items from the n-th on. The settled cost is what the items so far cost by their days or by not
// being planned; the paid one what their work at least costs in sixtieths.
func (o *oracle) assign(n int, settled, paid quantity.Money) {
	if settled+paid/perMinute >= o.best || o.gaveUp {
		return
	}
	if n == len(o.order) {
		o.leaf(settled)
		return
	}
	id := o.order[n]
	f := o.price.followUp(id)
	for _, s := range o.staysOf(id, f) {
		o.stays[id] = s
		if !s.planned {
			o.assign(n+1, settled+o.notPlanned(id, f), paid)
			continue
		}
		var cost, work quantity.Money
		if begins, _ := o.at(id); f != nil {
			cost = o.price.delay(f, begins, o.at)
		} else {
			service, k := o.price.occurrenceOf(id)
			cost = o.price.lateService(service, k, s.day, o.at)
		}
		for leg, shift := range s.shifts {
			for _, b := range o.blocksOf(id, leg) {
				work += o.leastWork(n, shift, b)
			}
		}
		o.assign(n+1, settled+cost, paid+work)
	}
	delete(o.stays, id)
}

// leastWork is what a block at least costs on a technician-day in sixtieths: its pay, and where none of the first n items
// is at its site on that day, a visit with its sign-in.
func (o *oracle) leastWork(n, shift int, b *block) quantity.Money {
	pay := o.shifts[shift].tech.PaidPerMinute
	seconds, opens := time.Duration(0), quantity.Money(1)
	for _, piece := range b.pieces {
		seconds += piece.takes
	}
	for _, id := range o.order[:n] {
		if s := o.stays[id]; s.planned && slices.Contains(s.shifts, shift) && o.siteOf(id) == b.site.ID {
			opens = 0
		}
	}
	if b.leg == 1 && o.stays[b.item].shifts[0] == shift || b.service != nil && b.key != o.blocksOf(b.item, 0)[0].key {
		opens = 0
	}
	return quantity.Money(seconds.Seconds())*pay + opens*(quantity.Money(b.site.SignIn.Seconds())*pay+perMinute*o.rates.Visit.Amount)
}

func (o *oracle) siteOf(id scheduler.ItemID) site.ID {
	if f := o.price.followUp(id); f != nil {
		return f.Site
	}
	s, _ := o.price.occurrenceOf(id)
	return s.Site
}

// staysOf lists how an item may be planned, and that it may not be.
func (o *oracle) staysOf(id scheduler.ItemID, f *scheduler.FollowUp) []stay {
	var all []stay
	switch {
	case f == nil:
		s, _ := o.price.occurrenceOf(id)
		for i := range o.shifts {
			for _, day := range o.shifts[i].days {
				if (s.Last.IsZero() || day >= s.Last.AddDays(s.Earliest)) && o.mayVisit(i, o.site(s.Site)) {
					all = append(all, stay{true, 0, []int{i}, day})
				}
			}
		}
	case o.price.asked(f) && o.mayBegin(f):
		for w := range f.Ways {
			all = append(all, o.staysBy(f, w)...)
		}
	}
	all = slices.DeleteFunc(all, func(s stay) bool { o.stays[id] = s; return !o.inOrder(id) })
	return append(all, stay{})
}

// mayBegin says whether what a follow-up needs before it is planned or done.
func (o *oracle) mayBegin(f *scheduler.FollowUp) bool {
	if f.Due.After != "" {
		if _, ok := o.at(f.Due.After); !ok {
			return false
		}
	}
	for _, link := range o.p.Links {
		if _, ok := o.at(link.From); link.Kind == scheduler.Needs && link.To == f.ID && !ok {
			return false
		}
	}
	return true
}

// staysBy lists the technician-days for the legs of one way, and the days of its beginning.
func (o *oracle) staysBy(f *scheduler.FollowUp, w int) []stay {
	way := &f.Ways[w]
	for i := range way.Parts {
		if part := &way.Parts[i]; part.Persons > 1 || part.Use != nil && !o.lawfulAtAll(f, o.site(f.Site), part) {
			return nil
		}
	}
	var all []stay
	legs := legsOf(way)
	for i := range o.shifts {
		if !o.mayDo(i, f, way, legs[0]) {
			continue
		}
		for _, day := range o.shifts[i].days {
			if len(legs) == 1 {
				all = append(all, stay{true, w, []int{i}, day})
				continue
			}
			for k := range o.shifts {
				if o.mayDo(k, f, way, legs[1]) && o.shifts[k].shift.During.To > o.shifts[i].from {
					all = append(all, stay{true, w, []int{i, k}, day})
				}
			}
		}
	}
	return all
}

// legsOf cuts the parts of a way at its wait.
func legsOf(way *scheduler.Way) [][]int {
	legs := [][]int{nil}
	for i := range way.Parts {
		if way.Parts[i].Kind == scheduler.WaitPart {
			legs = append(legs, nil)
			continue
		}
		legs[len(legs)-1] = append(legs[len(legs)-1], i)
	}
	return legs
}

// mayVisit says whether a technician is one whom the client of a site expects.
func (o *oracle) mayVisit(shift int, s *scheduler.Site) bool {
	agreed := &s.Agreement
	return !agreed.TechnicianFixed || agreed.UsualTechnician == "" || agreed.UsualTechnician == string(o.shifts[shift].tech.ID)
}

// mayDo says whether a technician has the skills for a leg, and some instant of the shift at which each part may begin.
func (o *oracle) mayDo(shift int, f *scheduler.FollowUp, way *scheduler.Way, parts []int) bool {
	s := &o.shifts[shift]
	if !o.mayVisit(shift, o.site(f.Site)) {
		return false
	}
	for _, i := range parts {
		part := &way.Parts[i]
		for _, skill := range part.Skills {
			if !slices.Contains(s.tech.Skills, skill) {
				return false
			}
		}
		if len(civil.Intersect(o.beginnings(f, way, part, s.tech), []civil.Interval{{From: s.from, To: s.shift.During.To}})) == 0 {
			return false
		}
	}
	return true
}

// inOrder says whether the days of an item are in order with those decided before it.
func (o *oracle) inOrder(id scheduler.ItemID) bool {
	this := o.stays[id]
	if f := o.price.followUp(id); f != nil {
		due, ok := o.price.dueOf(f, o.at)
		if !ok || this.day < due.earliest || !due.until.IsZero() && this.day > due.until {
			return false
		}
	}
	for _, link := range o.p.Links {
		if link.Kind != scheduler.LeastLag {
			continue
		}
		from, okFrom := o.at(link.From)
		to, okTo := o.at(link.To)
		if okFrom && okTo && (link.From == id || link.To == id) && o.p.Zone.DateOf(to).DaysSince(o.p.Zone.DateOf(from)) < link.Days {
			return false
		}
	}
	return true
}

// notPlanned is what leaving an item out costs.
func (o *oracle) notPlanned(id scheduler.ItemID, f *scheduler.FollowUp) quantity.Money {
	if f == nil {
		s, k := o.price.occurrenceOf(id)
		cost, _ := o.price.leftOutService(s, k, o.at, o.openAfter(o.site(s.Site), func(i int) bool { return o.keyed(i, o.site(s.Site)) && o.mayVisit(i, o.site(s.Site)) }))
		return cost
	}
	if !o.price.asked(f) {
		return 0
	}
	s := o.site(f.Site)
	later := o.openAfter(s, func(i int) bool {
		return slices.ContainsFunc(f.Ways, func(w scheduler.Way) bool { return o.couldStart(i, f, &w) })
	})
	cost, _ := o.price.leftOut(f, o.at, later)
	return cost
}

// openAfter is the first day after the horizon on which a site is open and, by the weekdays of their shifts, somebody is
// there who may do it; the first day after it where there is none within four weeks.
func (o *oracle) openAfter(s *scheduler.Site, may func(shift int) bool) civil.Date {
	first := o.price.lastDay() + 1
	for day := first; day < first+28; day++ {
		for i := range o.shifts {
			if o.shifts[i].shift.Day.Weekday() == day.Weekday() && may(i) && len(s.Access.WindowsOn(day)) > 0 {
				return day
			}
		}
	}
	return first
}

// keyed says whether a technician holds the keys of a site over a whole shift.
func (o *oracle) keyed(shift int, s *scheduler.Site) bool {
	c := &o.shifts[shift]
	from, to := s.Zone.DateOf(c.shift.During.From), s.Zone.DateOf(c.shift.During.To)
	for _, key := range s.Keys {
		if !slices.ContainsFunc(c.tech.Keys, func(k scheduler.KeyHeld) bool { return k.Key == key && k.From <= from && (k.To.IsZero() || k.To >= to) }) {
			return false
		}
	}
	return true
}

// block is a stretch of work done without a break but for mixing.
type block struct {
	item    scheduler.ItemID
	service *scheduler.Service
	way     *scheduler.Way
	leg     int
	rank    int
	site    *scheduler.Site
	pieces  []piece
	key     string
}

// piece is one work item.
type piece struct {
	part    int
	area    site.AreaID
	takes   time.Duration
	use     *scheduler.Use
	plants  []site.PlantID
	allowed []civil.Interval
}

func rankOf(h scheduler.Health) int {
	return slices.Index([]scheduler.Health{scheduler.Clean, scheduler.Neighbour, scheduler.SuspectedInfested, scheduler.ConfirmedInfested}, h)
}

// blocksOf lists the blocks of a leg of a planned item.
func (o *oracle) blocksOf(id scheduler.ItemID, leg int) []*block {
	s := o.stays[id]
	f := o.price.followUp(id)
	if f == nil {
		return o.blocksOfService(id, s)
	}
	way := &f.Ways[s.way]
	tech := o.shifts[s.shifts[leg]].tech
	b := &block{item: id, way: way, leg: leg, site: o.site(f.Site), key: fmt.Sprintf("%s/%s/%d@%v", id, way.ID, leg, s.day)}
	for _, plant := range f.Plants {
		b.rank = max(b.rank, rankOf(o.plant(plant).Health))
	}
	for n, i := range legsOf(way)[leg] {
		part := &way.Parts[i]
		p := piece{i, part.Area, part.Takes, part.Use, f.Plants, o.beginnings(f, way, part, tech)}
		if leg == 0 && n == 0 {
			p.allowed = civil.Intersect(p.allowed, []civil.Interval{{From: o.p.Zone.At(s.day, 0), To: o.p.Zone.At(s.day+1, 0)}})
		}
		p.allowed = append([]civil.Interval{}, p.allowed...) // empty is never, nil would be any
		b.pieces = append(b.pieces, p)
	}
	return []*block{b}
}

// blocksOfService lists one block for each pair of health and area among the plants that no follow-up of that day
// replaces.
func (o *oracle) blocksOfService(id scheduler.ItemID, s stay) []*block {
	service, _ := o.price.occurrenceOf(id)
	var blocks []*block
	for _, g := range service.Groups {
		if o.replaced(service, g.Plant, s.day) {
			continue
		}
		plant := o.plant(g.Plant)
		k := slices.IndexFunc(blocks, func(b *block) bool {
			return b.rank == rankOf(plant.Health) && b.pieces[0].area == plant.Plant.Area
		})
		if k < 0 {
			k = len(blocks)
			blocks = append(blocks, &block{
				item: id, service: service, rank: rankOf(plant.Health), site: o.site(service.Site),
				pieces: []piece{{area: plant.Plant.Area, allowed: []civil.Interval{{From: o.p.Zone.At(s.day, 0), To: o.span.To}}}},
			})
		}
		p := &blocks[k].pieces[0]
		p.takes += time.Duration(g.Minutes) * time.Minute
		p.plants = append(p.plants, g.Plant)
	}
	slices.SortStableFunc(blocks, func(a, b *block) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.pieces[0].area, b.pieces[0].area))
	})
	for i, b := range blocks {
		if i == 0 { // the occurrence begins with its first work item
			b.pieces[0].allowed[0].To = o.p.Zone.At(s.day+1, 0)
		}
		b.key = fmt.Sprintf("%s/%d@%v%v", id, i, s.day, b.pieces[0].plants)
	}
	return blocks
}

func (o *oracle) replaced(service *scheduler.Service, plant site.PlantID, day civil.Date) bool {
	for _, link := range o.p.Links {
		if link.Kind != scheduler.InsteadOf || string(link.To) != service.ID {
			continue
		}
		begins, ok := o.at(link.From)
		if f := o.price.followUp(link.From); ok && f != nil && slices.Contains(f.Plants, plant) && o.p.Zone.DateOf(begins) == day {
			return true
		}
	}
	return false
}

// leaf prices the items as they are assigned: the cheapest routes of each technician-day, and of these together the
// cheapest that keep what the rules ask between them.
func (o *oracle) leaf(settled quantity.Money) {
	blocks := make([][]*block, len(o.shifts))
	for _, id := range o.order {
		s := o.stays[id]
		if !s.planned {
			continue
		}
		any := false
		for leg, shift := range s.shifts {
			all := o.blocksOf(id, leg)
			blocks[shift] = append(blocks[shift], all...)
			any = any || len(all) > 0
		}
		if !any {
			return // all its plants are replaced: nothing of it would be planned
		}
	}
	lists := make([][]*lineup, 0, len(o.shifts))
	rest := o.best - settled
	for shift := range o.shifts {
		if len(blocks[shift]) == 0 && len(o.shifts[shift].fixed) == 0 {
			continue
		}
		list := o.lineups(shift, blocks[shift], rest)
		if len(list) == 0 {
			return
		}
		rest -= list[0].alone
		lists = append(lists, list)
	}
	o.combine(lists, nil, settled)
}

// combine joins one lineup of each list, the cheapest first.
func (o *oracle) combine(lists [][]*lineup, chosen []*lineup, cost quantity.Money) {
	if len(lists) == 0 {
		o.together(chosen, cost)
		return
	}
	least := quantity.Money(0)
	for _, list := range lists[1:] {
		least += list[0].alone
	}
	for _, l := range lists[0] {
		if cost+l.alone+least >= o.best || o.gaveUp {
			return
		}
		o.combine(lists[1:], append(slices.Clip(chosen), l), cost+l.alone)
	}
}

// together finds the least cost of lineups side by side.
func (o *oracle) together(chosen []*lineup, cost quantity.Money) {
	for _, l := range chosen {
		cost += l.static - l.alone
	}
	table := o.table(chosen, false)
	paid, at, ok := table.cheapest(o.best - cost)
	if ok {
		o.best = cost + paid
		o.found = &answer{chosen, table, at, o.best}
	}
}

func keyOf(shift int, blocks []*block) string {
	keys := make([]string, len(blocks))
	for i, b := range blocks {
		keys[i] = b.key
	}
	slices.Sort(keys)
	return fmt.Sprint(shift, " ", strings.Join(keys, " "))
}
