package week

import (
	"cmp"
	"maps"
	"math/big"
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// making is a day route in the making: a technician who does one thing after another, as early as it may be.
type making struct {
	*office
	day      *day
	now      civil.Instant
	at       travel.PlaceID
	route    scheduler.DayRoute
	keepOuts []keepOut
	stays    map[scheduler.ItemID]stay
	watered  map[site.PlantID]bool // by this route so far
	rested   bool
	waited   time.Duration // inside the visit, until people are out
}

// build makes the day route of stops, with a break where one is due; ok is false when they cannot be done lawfully in this order.
func (o *office) build(d *day, stops []stop) (made *making, ok bool) {
	if made, ok = o.buildWith(d, stops, false); ok || d.shift.BreakTakes == 0 {
		return made, ok
	}
	return o.buildWith(d, stops, true)
}

// buildWith does so without a break, or with one that the day then asks for.
func (o *office) buildWith(d *day, stops []stop, rests bool) (made *making, ok bool) {
	m := &making{
		rested: !rests,
		office: o, day: d, now: d.shift.During.From, at: d.technician.Base, stays: map[scheduler.ItemID]stay{}, watered: map[site.PlantID]bool{},
		route: scheduler.DayRoute{Technician: d.technician.ID, Day: d.shift.Day, Visits: []scheduler.Visit{}},
	}
	if m.now < o.p.Now {
		return nil, false
	}
	for _, s := range stops {
		if !m.visit(s) {
			return nil, false
		}
	}
	m.now = m.now.Add(o.drive(d.technician, m.at, d.technician.Base))
	m.route.Returns = m.now
	if len(stops) == 0 || m.now > d.shift.During.To {
		return m, len(stops) == 0
	}
	// The first way begins no earlier than it must.
	first := m.route.Visits[0]
	m.route.Departs = first.Arrives.Add(-o.drive(d.technician, d.technician.Base, travel.PlaceID(first.Site)))
	worked := m.route.Returns.Sub(m.route.Departs) - m.route.Break.Length()
	due := o.p.Rules.BreakAfter > 0 && worked > o.p.Rules.BreakAfter && d.shift.BreakTakes > 0
	return m, due == !m.route.Break.Empty() && worked <= o.p.Rules.MostWork && m.inOrder() && m.insteadHere(stops) && m.apart()
}

// visit makes one visit. Where it would wait there until people are out, it comes so much later instead.
func (m *making) visit(s stop) bool {
	before := m.clone()
	if !m.visitAfter(s, 0) {
		return false
	}
	if m.waited == 0 {
		return true
	}
	later := before.clone()
	if later.visitAfter(s, m.waited) {
		*m = *later
	}
	m.waited = 0
	return true
}

func (m *making) clone() *making {
	twin := *m
	twin.stays, twin.watered = maps.Clone(m.stays), maps.Clone(m.watered)
	twin.route.Visits, twin.route.Mixes, twin.keepOuts = slices.Clone(m.route.Visits), slices.Clone(m.route.Mixes), slices.Clone(m.keepOuts)
	return &twin
}

// visitAfter makes a visit that begins so much later than it could.
func (m *making) visitAfter(s stop, later time.Duration) bool {
	if !m.mayEnter(m.day, s.site) {
		return false
	}
	tech, there := m.day.technician, travel.PlaceID(s.site.ID)
	if s.trip && m.at != tech.Base {
		m.now, m.at = m.now.Add(m.drive(tech, m.at, tech.Base)), tech.Base
	}
	m.rest(m.day.shift.During.To)
	arrives := m.now.Add(m.drive(tech, m.at, there))
	open := s.site.Access.Open(s.site.Zone, civil.Interval{From: arrives, To: m.day.shift.During.To})
	if len(open) == 0 {
		return false
	}
	arrives = open[0].From.Add(later)
	m.rest(arrives.Add(-m.drive(tech, m.at, there)))
	arrives = max(arrives, m.now.Add(m.drive(tech, m.at, there)))
	visit := scheduler.Visit{State: scheduler.Planned, Technician: tech.ID, Site: s.site.ID, Arrives: arrives, SignIn: s.site.SignIn}
	m.now, m.at = arrives.Add(s.site.SignIn), there
	work, ok := m.work(s)
	if !ok {
		return false
	}
	for _, w := range work {
		if w, ok = m.do(s.site, w); !ok {
			return false
		}
		visit.Work = append(visit.Work, w)
	}
	visit.Leaves = m.now
	if s.trip {
		m.now, m.at = m.now.Add(m.drive(tech, m.at, tech.Base)), tech.Base
	}
	m.route.Visits = append(m.route.Visits, visit)
	return visit.Leaves <= open[0].To
}

// rest takes the break as soon as it may be, when it is over by an instant up to which nothing else is to be done.
func (m *making) rest(until civil.Instant) {
	shift := m.day.shift
	from := max(m.now, shift.BreakWindow.From)
	if m.rested || shift.BreakTakes == 0 || len(m.route.Visits) == 0 || from.Add(shift.BreakTakes) > min(until, shift.BreakWindow.To) {
		return
	}
	if from > m.now && until == shift.During.To {
		return // nobody waits for the break
	}
	m.route.Break = civil.Interval{From: from, To: from.Add(shift.BreakTakes)}
	m.rested, m.now = true, m.route.Break.To
}

// work lists the work items of a stop in order: cleanest plants first, applications last.
func (m *making) work(s stop) (work []scheduler.WorkItem, ok bool) {
	for _, id := range s.items {
		if service := m.services[id]; service != nil {
			pieces, ok := m.pieces(id, service, s)
			if !ok {
				return nil, false
			}
			work = append(work, pieces...)
			continue
		}
		f := m.followUps[id]
		way := slices.IndexFunc(f.Ways, func(w scheduler.Way) bool { return len(w.Parts) == 1 })
		if way < 0 {
			return nil, false
		}
		part := f.Ways[way].Parts[0]
		work = append(work, scheduler.WorkItem{Item: id, Kind: f.Kind, Way: f.Ways[way].ID, Area: part.Area, Plants: f.Plants, Use: part.Use, Ends: civil.Instant(part.Takes.Seconds()), MixIndex: -1})
	}
	slices.SortStableFunc(work, func(a, b scheduler.WorkItem) int {
		applies := func(w scheduler.WorkItem) int {
			if w.Use != nil {
				return 1
			}
			return 0
		}
		return cmp.Or(cmp.Compare(m.rank(a.Plants), m.rank(b.Plants)), cmp.Compare(applies(a), applies(b)))
	})
	return work, true
}

// pieces are the work items of an occurrence: one for each health and area, without the plants that a follow-up of the day takes
// out. Ends holds the length until it is done.
func (m *making) pieces(id scheduler.ItemID, service *site.Service, s stop) (pieces []scheduler.WorkItem, ok bool) {
	out := map[site.PlantID]bool{}
	for _, from := range m.replaces[service.ID] {
		stay, planned := m.placed[from]
		here := slices.Contains(s.items, from)
		if planned && stay.on != m.day && m.sites[service.Site].Zone.DateOf(stay.begins) == m.day.shift.Day {
			return nil, false
		}
		if here {
			for _, plant := range m.followUps[from].Plants {
				out[plant] = true
			}
		}
	}
	for _, group := range service.Groups {
		if out[group.Plant] {
			continue
		}
		plant := m.plants[group.Plant]
		k := slices.IndexFunc(pieces, func(w scheduler.WorkItem) bool {
			return w.Area == plant.Plant.Area && m.plants[w.Plants[0]].Health == plant.Health
		})
		if k < 0 {
			k = len(pieces)
			pieces = append(pieces, scheduler.WorkItem{Item: id, Service: service.Kind, Area: plant.Plant.Area, MixIndex: -1})
		}
		pieces[k].Plants = append(pieces[k].Plants, group.Plant)
		pieces[k].Ends += civil.Instant(group.Minutes * 60)
	}
	return pieces, len(pieces) > 0
}

// rank is how infested the worst of some plants is.
func (m *making) rank(plants []site.PlantID) int {
	worst := 0
	for _, id := range plants {
		worst = max(worst, slices.Index([]scheduler.Health{scheduler.Clean, scheduler.Neighbour, scheduler.SuspectedInfested, scheduler.ConfirmedInfested}, m.plants[id].Health))
	}
	return worst
}

// do does one work item as early as it may be.
func (m *making) do(s *site.Site, w scheduler.WorkItem) (scheduler.WorkItem, bool) {
	takes := time.Duration(w.Ends) * time.Second
	if w.Use != nil {
		return m.apply(s, w, takes)
	}
	w.Begins, w.Ends = m.now, m.now.Add(takes)
	m.now = w.Ends
	m.stayed(w)
	if w.Service == site.WateringService {
		for _, plant := range w.Plants {
			m.watered[plant] = true
		}
	}
	return w, m.mayBeIn(s, w.Area, civil.Interval{From: w.Begins, To: w.Ends})
}

func (m *making) stayed(w scheduler.WorkItem) {
	known, again := m.stays[w.Item]
	if !again {
		known = stay{on: m.day, begins: w.Begins}
	}
	known.ends = w.Ends
	m.stays[w.Item] = known
}

// mayBeIn says whether an area is shut by nobody over a time.
func (m *making) mayBeIn(s *site.Site, area site.AreaID, during civil.Interval) bool {
	shut := func(keepOuts []keepOut) bool {
		return slices.ContainsFunc(keepOuts, func(k keepOut) bool { return k.During.Overlaps(during) && slices.Contains(k.shut, area) })
	}
	for _, other := range m.office.at[s.ID] {
		if other != m.day && shut(other.keepOuts) {
			return false
		}
	}
	return !shut(m.keepOuts)
}

// apply mixes, waits until people are out, applies, and rinses.
func (m *making) apply(s *site.Site, w scheduler.WorkItem, takes time.Duration) (scheduler.WorkItem, bool) {
	product := m.products[w.Use.Product]
	if !m.mayApply(m.day, s, product) || !m.standsWater(w, product) {
		return w, false
	}
	mixing := time.Duration(0)
	if product.Diluted() {
		mixing = m.p.Rules.Mixing
	}
	told := m.p.Now.Add(m.p.Rules.PublishingDelay + m.notice[s.ID])
	if m.notice[s.ID] == 0 {
		told = m.p.Now
	}
	span := civil.Interval{From: max(m.now.Add(mixing), told), To: m.day.shift.During.To}
	begin := reentry.Beginnings(*s, w.Area, takes, w.Use.KeepOut, w.Use.KeepOutUnventilated, span)
	if len(begin) == 0 {
		return w, false
	}
	m.rest(begin[0].From.Add(-mixing))
	w.Begins = max(begin[0].From, m.now.Add(mixing))
	m.waited += w.Begins.Sub(m.now.Add(mixing))
	w.Ends = w.Begins.Add(takes)
	if product.Diluted() {
		mix, ok := m.mix(s, w, product)
		if !ok {
			return w, false
		}
		w.MixIndex = len(m.route.Mixes)
		m.route.Mixes = append(m.route.Mixes, mix)
		m.now = mix.Rinse.To
	} else {
		m.now = w.Ends
	}
	if !m.mayBeIn(s, w.Area, civil.Interval{From: w.Begins, To: w.Ends}) {
		return w, false
	}
	if w.Use.KeepOut > 0 {
		during := reentry.Interval(*s, reentry.Treatment{Area: w.Area, Begins: w.Begins, Ends: w.Ends, KeepOut: w.Use.KeepOut, Unventilated: w.Use.KeepOutUnventilated})
		m.keepOuts = append(m.keepOuts, keepOut{
			scheduler.KeepOut{Area: w.Area, During: during, Product: product.ID, By: m.day.technician.ID, UntilDry: w.Use.Entry == catalogue.EntryUntilDry, Item: w.Item},
			reentry.ShutWith(*s, w.Area),
		})
	}
	m.stayed(w)
	return w, begin[len(begin)-1].To > w.Begins
}

// standsWater says whether no plant is dry under a spray: it was watered on this route, or lately enough.
func (m *making) standsWater(w scheduler.WorkItem, product *catalogue.Product) bool {
	if product.Label.DryPlants || !w.Use.Method.Sprays() {
		return true
	}
	return !slices.ContainsFunc(w.Plants, func(id site.PlantID) bool {
		watering := m.plants[id].Plant.Watering
		return watering.Latest > 0 && !m.watered[id] && m.day.shift.Day >= m.lastWatered(id, watering.Last).AddDays(watering.Latest)
	})
}

// lastWatered is the day of the last watering of a plant that was done or is planned before this day.
func (m *making) lastWatered(id site.PlantID, last civil.Date) civil.Date {
	for _, item := range m.waterings[id] {
		if stay, planned := m.placed[item]; planned && stay.on.shift.Day < m.day.shift.Day {
			last = max(last, stay.on.shift.Day)
		}
	}
	return last
}

// mix is one filling for one application, made just before it and rinsed just after.
func (m *making) mix(s *site.Site, w scheduler.WorkItem, product *catalogue.Product) (scheduler.Mix, bool) {
	limits, err := dilution.LabelLimits(*product, m.p.Rules.LeastRatePercent)
	if err != nil || s.Water.Area == "" {
		return scheduler.Mix{}, false
	}
	need := quantity.Volume{}
	for _, dose := range w.Use.Doses {
		need = need.Add(dose.Amount.Times(big.NewRat(int64(100+w.Use.ReservePercent), 100)))
	}
	tech := m.day.technician
	for _, vessel := range tech.Vessels {
		if !slices.Contains(vessel.Methods, w.Use.Method) {
			continue
		}
		filling, err := dilution.Fill(need, limits, vessel, tech.Measures)
		if err != nil {
			continue
		}
		mix := scheduler.Mix{
			Technician: tech.ID, Product: product.ID, Vessel: vessel.ID, Measure: filling.Measure, Site: s.ID, Area: s.Water.Area,
			Need: need, Volume: filling.Volume, Concentrate: filling.Concentrate, Begins: w.Begins.Add(-m.p.Rules.Mixing), Ready: w.Begins, LastUse: w.Ends,
			Rinse: civil.Interval{From: w.Ends, To: w.Ends.Add(m.p.Rules.Rinsing)}, Note: filling.Note,
		}
		mix.UseBy = dilution.UseBy(mix.Begins, product.Label.MixLife, m.day.shift.During.To)
		return mix, mix.UseBy >= mix.LastUse && m.mayBeIn(s, s.Water.Area, civil.Interval{From: mix.Begins, To: mix.Rinse.To})
	}
	return scheduler.Mix{}, false
}

// inOrder says whether the follow-ups of the route keep their days, and what comes before or behind them elsewhere.
func (m *making) inOrder() bool {
	for id, here := range m.stays {
		f := m.followUps[id]
		if f == nil {
			continue
		}
		for _, before := range m.before[id] {
			if there, ok := m.stayOf(before); ok && there.ends > here.begins {
				return false
			}
		}
		for _, behind := range m.behind[id] {
			if there, ok := m.stayOf(behind); ok && here.ends > there.begins {
				return false
			}
		}
	}
	return true
}

// insteadHere says whether no follow-up of the route waters plants that a service waters all the same on that day: one at
// another visit.
func (m *making) insteadHere(stops []stop) bool {
	for _, s := range stops {
		for _, id := range s.items {
			for _, service := range m.instead[id] {
				for n := 1; m.services[scheduler.OccurrenceID(service, n)] != nil; n++ {
					occurrence := scheduler.OccurrenceID(service, n)
					there, planned := m.stayOf(occurrence)
					if planned && there.on.shift.Day == m.day.shift.Day && !slices.Contains(s.items, occurrence) {
						return false
					}
				}
			}
		}
	}
	return true
}

// stayOf is where an item is planned: on this route, or on another day.
func (m *making) stayOf(id scheduler.ItemID) (stay, bool) {
	if here, ok := m.stays[id]; ok {
		return here, true
	}
	there, ok := m.placed[id]
	return there, ok && there.on != m.day
}

// apart says whether the keep-outs of the route shut nobody else's work in.
func (m *making) apart() bool {
	for _, k := range m.keepOuts {
		for _, other := range m.office.at[m.followUps[k.Item].Site] {
			if other == m.day {
				continue
			}
			for _, visit := range other.route.Visits {
				for _, w := range visit.Work {
					if slices.Contains(k.shut, w.Area) && k.During.Overlaps(civil.Interval{From: w.Begins, To: w.Ends}) {
						return false
					}
				}
			}
		}
	}
	return true
}
