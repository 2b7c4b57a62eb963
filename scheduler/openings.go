package scheduler

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"vernation/scheduler/civil"
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/internal/tour"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// Opening is a free slot for a follow-up on a plan. What it adds is the cost of the plan with it less that of the plan as
// it stands, to the last minor unit: its parts may be negative, as that of what was left out is.
type Opening struct {
	Technician TechnicianID  `json:"technician"`
	Day        civil.Date    `json:"day"`    // of the shift
	Begins     civil.Instant `json:"begins"` // of the first part; mixing lies before it
	Ends       civil.Instant `json:"ends"`   // of the last part before a wait
	Site       site.ID       `json:"site"`
	Way        WayID         `json:"way"`
	WayKind    WayKind       `json:"way_kind"`
	// Joins says that it rides on a visit that the plan makes anyway; else a visit is made for it.
	Joins bool `json:"joins,omitempty"`
	// Back is the visit that carries plants back, for a way that carries them out.
	Back *CarryBack `json:"back,omitempty"`
	// Moves are visits of the plan that arrive at another time for it; never a fixed one.
	Moves []Move `json:"moves,omitempty"`
	Added Cost   `json:"added"`
	// Delay is what beginning on that day, and not on its earliest, costs the case; it is part of what the plan costs.
	Delay quantity.Money `json:"delay"`
	// Routes are the day routes that change, as they become; one without visits is none any more.
	Routes []DayRoute `json:"routes"`
}

// Bookable says whether it can be held as it is: a visit of its own that moves nothing and carries nothing back. The others come
// about by a plan.
func (o *Opening) Bookable() bool { return !o.Joins && len(o.Moves) == 0 && o.Back == nil }

// CarryBack is when and by whom plants are carried back.
type CarryBack struct {
	Technician TechnicianID  `json:"technician"`
	Begins     civil.Instant `json:"begins"`
	Ends       civil.Instant `json:"ends"`
}

// Move is a visit that arrives at another time.
type Move struct {
	Visit      VisitID       `json:"visit,omitempty"` // "" where the plan names none
	State      VisitState    `json:"state"`
	Technician TechnicianID  `json:"technician"`
	Site       site.ID       `json:"site"`
	From       civil.Instant `json:"from"` // its arrival in the plan
	To         civil.Instant `json:"to"`   // its arrival with the opening
}

// Slot is a beginning that was asked for.
type Slot struct {
	Technician TechnicianID  `json:"technician"`
	Begins     civil.Instant `json:"begins"` // of the first part
	Way        WayID         `json:"way,omitempty"`
}

// SlotAnswer says of a slot that was asked for either what it costs or which rules forbid it.
type SlotAnswer struct {
	Slot    Slot     `json:"slot"`
	Opening *Opening `json:"opening,omitempty"`
	Forbids []Reason `json:"forbids,omitempty"` // at least one where there is no opening
}

// Asked narrows a question for openings.
type Asked struct {
	// Slots are judged one by one, beside the ranked openings.
	Slots []Slot `json:"slots,omitempty"`
	// Most bounds the ranked openings; 0 is DefaultOpenings.
	Most int `json:"most,omitempty"`
	// Still asks for openings that move no visit of the plan.
	Still bool `json:"still,omitempty"`
}

// Bounds of a question for openings.
const (
	DefaultOpenings = 10
	MaxOpenings     = 100
	MaxSlots        = 50
)

// Ranked are the openings of a follow-up, cheapest first.
type Ranked struct {
	Openings []Opening    `json:"openings"`
	Asked    []SlotAnswer `json:"asked,omitempty"` // in the order in which they were asked for
	// None says why there is no opening, in short; Explain says it in full.
	None []Reason `json:"none,omitempty"`
}

// Openings ranks the free slots of one follow-up on a plan of what was prepared: the cheapest on each technician-day by each
// of its ways, on visits that the plan makes and on new ones, by what they add; ties go to the earlier day, then to the order
// of technicians and ways. Other work of a technician-day may move within it for an opening, fixed visits never. A follow-up
// that the plan holds already is asked about as if it were taken out, and everything else stays.
//
// Booking one (Prepared.Book) gives a plan that Check accepts. The answer depends on the arguments alone.
//
// It fails with *InvalidQuestion, for a follow-up that the Problem does not hold, slots of unknown technicians or ways, bounds
// that are not kept, or a plan that lacks a fixed visit; and with the error of ctx.
func Openings(ctx context.Context, p *Prepared, plan Plan, followUp ItemID, asked Asked) (Ranked, error) {
	c := p.compiled
	f, err := c.asks(followUp, asked)
	if err != nil {
		return Ranked{}, err
	}
	item, planned := c.itemOf(followUp)
	if !planned {
		return c.standsFixed(f, asked), nil
	}
	seek, err := c.seek(ctx, &plan, item, asked.Still)
	if err != nil {
		return Ranked{}, err
	}
	ranked := Ranked{Openings: []Opening{}}
	if seek.stuck == nil {
		most := asked.Most
		if most == 0 {
			most = DefaultOpenings
		}
		found := seek.ranked(most)
		for i := range found {
			ranked.Openings = append(ranked.Openings, seek.opening(&found[i]))
		}
	}
	if len(ranked.Openings) == 0 {
		ranked.None = seek.none()
	}
	for _, slot := range asked.Slots {
		ranked.Asked = append(ranked.Asked, seek.answer(slot))
	}
	return ranked, ctx.Err()
}

// asks finds the follow-up of a question and says everything that is wrong with it.
func (c *compiled) asks(id ItemID, asked Asked) (*FollowUp, error) {
	var fields []FieldError
	wrong := func(path, reason, text string, args ...any) {
		fields = append(fields, FieldError{Path: path, Reason: reason, Text: fmt.Sprintf(text, args...)})
	}
	at := slices.IndexFunc(c.p.FollowUps, func(f FollowUp) bool { return f.ID == id })
	if at < 0 {
		wrong("follow_up", ReasonUnknown, "no follow-up %q in the Problem: want one of its courses", id)
	}
	if asked.Most < 0 || asked.Most > MaxOpenings {
		wrong("asked.most", ReasonRange, "%d openings: want 0 to %d", asked.Most, MaxOpenings)
	}
	if len(asked.Slots) > MaxSlots {
		wrong("asked.slots", ReasonRange, "%d slots: want %d at most", len(asked.Slots), MaxSlots)
	}
	for i, slot := range asked.Slots {
		if _, known := c.crewIndex[slot.Technician]; !known {
			wrong(fmt.Sprintf("asked.slots[%d].technician", i), ReasonUnknown, "technician %q is not in the Problem", slot.Technician)
		}
		if at >= 0 && slot.Way != "" && !slices.ContainsFunc(c.p.FollowUps[at].Ways, func(w Way) bool { return w.ID == slot.Way }) {
			wrong(fmt.Sprintf("asked.slots[%d].way", i), ReasonUnknown, "%s has no way %q", id, slot.Way)
		}
	}
	if len(fields) > 0 {
		return nil, &InvalidQuestion{Fields: fields}
	}
	return &c.p.FollowUps[at], nil
}

// standsFixed is the answer for a follow-up that was done or stands in a visit that does not move.
func (c *compiled) standsFixed(f *FollowUp, asked Asked) Ranked {
	done := c.done[f.ID]
	reason := Reason{RulePinned, fmt.Sprintf("it stands on %s in a visit that does not move", done.zone.Format(done.began))}
	ranked := Ranked{Openings: []Opening{}, None: []Reason{reason}}
	for _, slot := range asked.Slots {
		ranked.Asked = append(ranked.Asked, SlotAnswer{Slot: slot, Forbids: []Reason{reason}})
	}
	return ranked
}

// seeker looks for places of one item on a plan from which it was taken out.
type seeker struct {
	ctx   context.Context
	c     *compiled
	plan  *Plan
	item  int32
	state *schedule.State
	start schedule.Snapshot // of the state without the item
	sieve *schedule.Sieve
	still bool
	// stuck says why nothing can be asked: the plan does not hold without the item.
	stuck []Reason
	// base is what the plan as it stands costs; lifted are the tours that taking the item out changed.
	base   tour.Parts
	lifted []int32
	// counting are the tours in which items count from this one.
	counting []int32
}

// slotFound is a place of each leg, with the tours that change as they become.
type slotFound struct {
	legs   [2]schedule.Place // the second where OK
	walked instance.Cost     // what its own tours add
	added  tour.Parts
	tours  map[int32]schedule.Tour
	placed tour.Times
	delay  instance.Cost
}

func (c *compiled) seek(ctx context.Context, plan *Plan, item int32, still bool) (*seeker, error) {
	state, err := c.resume(plan)
	if err != nil {
		return nil, err
	}
	s := &seeker{ctx: ctx, c: c, plan: plan, item: item, state: state, still: still, base: c.parts(state)}
	was := slices.Clone(state.Tours)
	if !state.Lift(item) {
		s.stuck = []Reason{{RuleTiming, "its day in the plan does not hold without it: plan again to move it"}}
	}
	for t := range state.Tours {
		if state.Tours[t].Version != was[t].Version {
			s.lifted = append(s.lifted, int32(t))
		}
	}
	for _, bond := range c.in.Items[item].Bonds {
		if other := state.Placed(bond.To); bond.From == item && bond.Kind == instance.DueAfter && other.Placed {
			s.counting = append(s.counting, other.Tour)
		}
	}
	s.start, s.sieve = state.Snapshot(), schedule.NewSieve(state)
	return s, nil
}

// mostLawful bounds how many lawful places of one technician-day and way are walked before the cheapest of them is taken: the
// bound puts the cheap ones first, and a desk waits for the answer.
const mostLawful = 2

// ranked finds the cheapest places, one for each technician-day and way. Places are walked in the order of a bound on what they
// add, until no bound is left under what was found.
func (s *seeker) ranked(most int) []slotFound {
	places := s.places()
	type key struct {
		tour int32
		way  int16
	}
	best, lawful := map[key]int{}, map[key]int{}
	var found []slotFound
	limit := func() instance.Cost { // what the last of the places wanted adds so far
		if len(found) < most {
			return instance.Cost(instance.Far) << 30
		}
		costs := make([]instance.Cost, len(found))
		for i := range found {
			costs[i] = found[i].walked
		}
		slices.Sort(costs)
		return costs[most-1]
	}
	for _, place := range places {
		if s.ctx.Err() != nil || place.Added > limit() {
			break
		}
		k := key{place.Tour, place.Way}
		at, known := best[k]
		if known && (found[at].walked <= place.Added || lawful[k] == mostLawful) {
			continue
		}
		slot, ok := s.try(place)
		if ok {
			lawful[k]++
		}
		switch {
		case !ok:
		case !known:
			best[k] = len(found)
			found = append(found, slot)
		case slot.walked < found[at].walked:
			found[at] = slot
		}
	}
	slices.SortStableFunc(found, func(a, b slotFound) int { return cmp.Compare(a.walked, b.walked) })
	found = found[:min(most, len(found))]
	for i := range found {
		s.price(&found[i])
	}
	slices.SortStableFunc(found, func(a, b slotFound) int {
		return cmp.Or(cmp.Compare(a.added.Sum(), b.added.Sum()), cmp.Compare(a.legs[0].Tour, b.legs[0].Tour), cmp.Compare(a.legs[0].Way, b.legs[0].Way))
	})
	return found
}

// price notes what a place adds to the whole plan, by part: only those that are answered are priced.
func (s *seeker) price(slot *slotFound) {
	defer s.state.Restore(s.start)
	for t, tour := range slot.tours {
		s.state.Back(t, tour)
	}
	slot.added = s.c.parts(s.state)
	for i := range slot.added {
		slot.added[i] -= s.base[i]
	}
}

// places lists every place of the first leg that passes the sieve, by what it adds at least; ties by tour, way and stop.
func (s *seeker) places() []schedule.Place {
	var places []schedule.Place
	if s.c.waits(s.state, s.item) != nil {
		return nil
	}
	for t := range s.c.in.Shifts {
		for way := range s.c.in.Items[s.item].Ways {
			places = append(places, s.sieve.Places(s.item, int16(way), 0, int32(t))...)
		}
	}
	slices.SortStableFunc(places, func(a, b schedule.Place) int { return cmp.Compare(a.Added, b.Added) })
	return places
}

// try puts the item into a place, and its second leg into the cheapest one, notes what becomes of the plan, and takes it out.
func (s *seeker) try(place schedule.Place) (slotFound, bool) {
	if !s.state.Put(place) {
		return slotFound{}, false // and nothing has changed
	}
	before := s.start
	defer s.state.Restore(before)
	slot := slotFound{legs: [2]schedule.Place{place}, tours: map[int32]schedule.Tour{}}
	changed := append(slices.Clone(s.lifted), place.Tour)
	if len(s.c.in.Items[s.item].Ways[place.Way].Legs) > 1 {
		back, ok := s.back(place.Way)
		if !ok || !s.state.Put(back) {
			return slotFound{}, false
		}
		slot.legs[1] = back
		changed = append(changed, back.Tour)
	}
	if !s.stands() {
		return slotFound{}, false
	}
	for _, t := range s.counting {
		s.state.Reprice(t)
	}
	for _, t := range append(changed, s.counting...) {
		slot.tours[t] = s.state.Tours[t]
	}
	for t, now := range slot.tours {
		slot.walked += now.Walk.Cost - before.CostOf(t)
	}
	slot.placed = s.state.Placed(s.item)
	slot.delay = s.delay(slot.placed)
	return slot, !s.still || !s.movesAny(&slot)
}

// stands says whether what counts from the item, and what it is joined to, still may lie where it lies.
func (s *seeker) stands() bool {
	if !s.state.Allows(s.item) {
		return false
	}
	for _, bond := range s.c.in.Items[s.item].Bonds {
		if other := bond.From + bond.To - s.item; !s.state.Allows(other) {
			return false
		}
	}
	return true
}

// back finds the cheapest place of the second leg of a way whose first is in.
func (s *seeker) back(way int16) (best schedule.Place, found bool) {
	sieve := schedule.NewSieve(s.state)
	var places []schedule.Place
	for t := range s.c.in.Shifts {
		places = append(places, sieve.Places(s.item, way, 1, int32(t))...)
	}
	slices.SortStableFunc(places, func(a, b schedule.Place) int { return cmp.Compare(a.Added, b.Added) })
	for _, place := range places {
		if found && place.Added >= best.Added {
			break
		}
		if added, ok := s.state.Try(place); ok && (!found || added < best.Added) {
			best, found = place, true
			best.Added, best.OK = added, true
		}
	}
	return best, found
}

// delay is what the day of a placed item costs its case.
func (s *seeker) delay(at tour.Times) instance.Cost {
	it := &s.c.in.Items[s.item]
	earliest, latest, _, known := s.state.Days(s.item)
	if !known {
		return 0
	}
	day := s.c.in.Sites[it.Site].DayOf(at.Begins)
	return it.PriceOf(day-earliest) + it.LatePerDay*instance.Cost(max(0, day-latest))
}

// opening writes what was found for people.
func (s *seeker) opening(slot *slotFound) Opening {
	defer s.state.Restore(s.start)
	var tours []int32
	for t := range slot.tours {
		tours = append(tours, t)
	}
	slices.Sort(tours)
	for _, t := range tours {
		s.state.Back(t, slot.tours[t])
	}
	ref := s.c.shifts[slot.legs[0].Tour]
	f := s.c.items[s.item].follow
	way := &f.Ways[s.c.in.Items[s.item].Ways[slot.legs[0].Way].Index]
	o := Opening{
		Technician: s.c.p.Technicians[ref.technician].ID, Day: s.c.shiftOf(ref).Day, Site: f.Site, Way: way.ID, WayKind: way.Kind,
		Begins: s.c.instant(slot.placed.Begins), Ends: s.c.instant(slot.placed.Ends), Joins: !slot.legs[0].New,
		Added: costOf(&slot.added), Delay: quantity.Money(slot.delay),
	}
	if slot.placed.Returned {
		back := s.c.shifts[slot.placed.BackTour]
		o.Back = &CarryBack{s.c.p.Technicians[back.technician].ID, s.c.instant(slot.placed.BackBegin), s.c.instant(slot.placed.BackEnd)}
	}
	for _, t := range tours {
		o.Routes = append(o.Routes, s.routeOf(t))
	}
	o.Moves = s.moves(o.Routes)
	return o
}

// movesAny says whether a place moves a visit of the plan; the state is as the place leaves it.
func (s *seeker) movesAny(slot *slotFound) bool {
	var routes []DayRoute
	for t := range slot.tours {
		routes = append(routes, s.routeOf(t))
	}
	return len(s.moves(routes)) > 0
}

// routeOf is a day route as it stands now, with the ids and states of the visits that the plan has there.
func (s *seeker) routeOf(t int32) DayRoute {
	ref := s.c.shifts[t]
	technician, day := s.c.p.Technicians[ref.technician].ID, s.c.shiftOf(ref).Day
	route, any := s.c.route(s.state, int(t))
	if !any {
		return DayRoute{Technician: technician, Day: day, Visits: []Visit{}}
	}
	return route
}

// moves lists the visits of the plan that arrive at another time in day routes that change.
func (s *seeker) moves(routes []DayRoute) []Move {
	var moves []Move
	for r := range routes {
		was := slices.IndexFunc(s.plan.Routes, func(route DayRoute) bool {
			return route.Technician == routes[r].Technician && route.Day == routes[r].Day && s.c.tourOf(&route) != instance.None
		})
		if was < 0 {
			continue
		}
		for v := range s.plan.Routes[was].Visits {
			old := s.plan.Routes[was].Visits[v]
			old.Work = slices.DeleteFunc(slices.Clone(old.Work), func(w WorkItem) bool { return w.Item == s.c.items[s.item].id })
			best, score := -1, 0
			for n := range routes[r].Visits {
				if like := likeness(&routes[r].Visits[n], &old); like > score {
					best, score = n, like
				}
			}
			if best < 0 {
				continue // it was only the item's
			}
			now := &routes[r].Visits[best]
			if !s.c.isFixed(now) {
				now.ID, now.State = old.ID, old.State
			}
			if now.Arrives != old.Arrives {
				moves = append(moves, Move{old.ID, old.State, old.Technician, old.Site, old.Arrives, now.Arrives})
			}
		}
	}
	return moves
}
