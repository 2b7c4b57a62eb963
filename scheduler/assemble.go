package scheduler

import (
	"slices"
	"strings"
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/internal/search"
	"vernation/scheduler/internal/tour"
	"vernation/scheduler/quantity"
	"vernation/scheduler/travel"
)

// assemble turns an answer of the search into a Plan.
func (c *compiled) assemble(answer search.Answer) Plan {
	plan := c.planOf(answer.State)
	plan.Unplanned = c.unplanned(answer)
	c.keepIDs(&plan, c.p.Before)
	return plan
}

// planOf turns a state into a Plan without ids and without what it says of items that are not planned.
func (c *compiled) planOf(state *schedule.State) Plan {
	plan := Plan{Routes: []DayRoute{}, KeepOuts: slices.Clone(c.facts)}
	for t := range c.in.Shifts {
		if route, any := c.route(state, t); any {
			plan.Routes = append(plan.Routes, route)
		}
	}
	plan.Routes = append(plan.Routes, c.routesOfFacts()...)
	slices.SortStableFunc(plan.Routes, func(a, b DayRoute) int {
		if a.Day != b.Day {
			return int(a.Day - b.Day)
		}
		if at, bt := c.crewIndex[a.Technician], c.crewIndex[b.Technician]; at != bt {
			return int(at - bt)
		}
		return int(a.Departs - b.Departs)
	})
	for r := range plan.Routes {
		for v := range plan.Routes[r].Visits {
			visit := &plan.Routes[r].Visits[v]
			if !c.isFixed(visit) {
				plan.KeepOuts = append(plan.KeepOuts, c.keepOutsOf(visit)...)
			}
		}
	}
	slices.SortStableFunc(plan.KeepOuts, func(a, b KeepOut) int { return int(a.During.From - b.During.From) })
	plan.Cost = c.cost(state)
	return plan
}

// cost is the whole cost by part. What belongs to no day route is the cost of what is not planned, of uneven days, and
// of published visits that moved.
func (c *compiled) cost(state *schedule.State) Cost {
	parts := c.parts(state)
	return costOf(&parts)
}

// parts is cost as the kernel counts it.
func (c *compiled) parts(state *schedule.State) tour.Parts {
	var parts tour.Parts
	for t := range state.Tours {
		walk := &state.Tours[t].Walk
		parts.Plus(&walk.Own)
		for v := range walk.Visits {
			parts.Plus(&walk.Visits[v].Parts)
		}
		parts[tour.Changes] += walk.Changes
	}
	for item := range c.in.Items {
		price, _ := state.Unplanned(int32(item))
		parts[tour.Unplanned] += price
	}
	parts[tour.Uneven] += state.Uneven()
	return parts
}

// routeCost is what a technician-day costs, its visits included.
func (c *compiled) routeCost(walk *tour.Walk) Cost {
	cost := costOf(&walk.Own)
	for v := range walk.Visits {
		cost.Plus(costOf(&walk.Visits[v].Parts))
	}
	return cost
}

// The kernel counts the same parts in the same order.
var _ [len(tour.Parts{})]CostPart = CostParts

// costOf names the parts of a kernel's cost.
func costOf(parts *tour.Parts) Cost {
	var cost Cost
	for i, amount := range parts {
		cost.Add(CostParts[i], quantity.Money(amount))
	}
	return cost
}

// route turns a technician-day into a day route; any is false when there is no visit.
func (c *compiled) route(state *schedule.State, t int) (route DayRoute, any bool) {
	ref, shift := c.shifts[t], &c.in.Shifts[t]
	technician := &c.p.Technicians[ref.technician]
	walk, stops := &state.Tours[t].Walk, state.Tours[t].Stops
	if len(stops) == 0 && len(shift.Fixed) == 0 {
		return DayRoute{}, false
	}
	route = DayRoute{Technician: technician.ID, Day: c.shiftOf(ref).Day, Visits: []Visit{}, Cost: c.routeCost(walk)}
	route.Mixes = c.mixesOfFacts(technician, c.shiftOf(ref))
	if state.Tours[t].Frozen {
		route.Mixes = c.mixesAsTheyAre(technician, c.shiftOf(ref))
		for _, fixed := range shift.Fixed {
			route.Visits = append(route.Visits, c.p.Fixed[fixed.Index])
		}
		c.aroundFacts(&route, technician)
		return route, true
	}
	route.Departs, route.Returns = c.instant(walk.Departs), c.instant(walk.Returns)
	if walk.Break.From < walk.Break.To {
		route.Break = civil.Interval{From: c.instant(walk.Break.From), To: c.instant(walk.Break.To)}
	}
	offset := len(route.Mixes)
	for m := range walk.Mixes {
		route.Mixes = append(route.Mixes, c.mix(state, t, &walk.Mixes[m], int32(m)))
	}
	c.rinseFacts(&route, offset)
	for _, m := range route.Mixes {
		route.Returns = max(route.Returns, m.Rinse.To)
	}
	for _, fixed := range shift.Fixed {
		if fixed.Past {
			route.Visits = append(route.Visits, c.p.Fixed[fixed.Index])
		}
	}
	for s := range stops {
		route.Visits = append(route.Visits, c.visit(state, t, s, offset))
	}
	return route, true
}

// visit turns a stop into a visit; a fixed one stays as it is but for its cost.
func (c *compiled) visit(state *schedule.State, t, s, offset int) Visit {
	stop := &state.Tours[t].Stops[s]
	walk := &state.Tours[t].Walk
	if stop.Fixed != instance.None {
		visit := c.fixed(state, c.in.Shifts[t].Fixed[stop.Fixed].Index)
		visit.Cost = costOf(&walk.Visits[s].Parts)
		return visit
	}
	visit := Visit{
		State: Planned, Technician: c.p.Technicians[c.shifts[t].technician].ID, Site: c.p.Sites[stop.Site].ID,
		Arrives: c.instant(walk.Visits[s].Arrives), Leaves: c.instant(walk.Visits[s].Leaves),
		SignIn: c.p.Sites[stop.Site].SignIn, Cost: costOf(&walk.Visits[s].Parts),
	}
	for p := range walk.Pieces {
		if piece := &walk.Pieces[p]; piece.Stop == int32(s) && piece.Begins < piece.Ends {
			visit.Work = append(visit.Work, c.workItem(state, piece, offset))
		}
	}
	return visit
}

// workItem turns a piece into a work item.
func (c *compiled) workItem(state *schedule.State, piece *tour.Piece, offset int) WorkItem {
	ref := &c.items[piece.Item]
	kernel := &c.in.Items[piece.Item].Ways[piece.Way]
	p := &kernel.Legs[piece.Leg].Blocks[piece.Block].Pieces[piece.Piece]
	work := WorkItem{
		Item: ref.id, Area: c.areas[p.Area].ID, Begins: c.instant(piece.Begins), Ends: c.instant(piece.Ends), MixIndex: -1,
	}
	if piece.Mix != instance.None {
		work.MixIndex = int(piece.Mix) + offset
	}
	if placed := state.Placed(piece.Item); piece.Leg == 0 && piece.Begins == placed.Begins {
		work.Cost = c.dayCost(state, piece.Item)
	}
	if f := ref.follow; f != nil {
		way := &f.Ways[kernel.Index]
		work.Kind, work.Way, work.Part = f.Kind, way.ID, int(p.Part)
		work.Plants = slices.Clone(f.Plants)
		work.Use = way.Parts[p.Part].Use
		return work
	}
	work.Service = ref.service.Kind
	site := &c.in.Sites[c.in.Items[piece.Item].Site]
	day := site.DayOf(state.Placed(piece.Item).Begins)
	for g := range p.Groups {
		if !state.Replaced(&p.Groups[g], day) {
			work.Plants = append(work.Plants, c.p.Plants[p.Groups[g].Plant].Plant.ID)
		}
	}
	work.Marked = c.isMarked(state, ref.service.ID, c.zoneOf(ref.service.Site), &work)
	return work
}

// dayCost is what the day of a planned item costs.
func (c *compiled) dayCost(state *schedule.State, item int32) Cost {
	part := CostDelay
	if c.in.Items[item].Service {
		part = CostLateService
	}
	var cost Cost
	cost.Add(part, quantity.Money(state.DayPrice(item)))
	return cost
}

// isMarked says whether a Not link holds for a work item of a service, wherever the item that it holds from stands.
func (c *compiled) isMarked(state *schedule.State, service string, zone civil.Zone, w *WorkItem) bool {
	return c.marked(service, w.Plants, w.Begins, zone, func(id ItemID) (doneItem, bool) {
		if done, known := c.done[id]; known {
			return done, true
		}
		at, known := c.index[id]
		if !known || !state.Placed(at).Placed {
			return doneItem{}, false
		}
		placed := state.Placed(at)
		return doneItem{c.instant(placed.Begins), c.instant(placed.End()), zone}, true
	})
}

// fixed returns a fixed visit as it stands. What is still to come of its services is marked where a Not link holds by now:
// that moves nothing.
func (c *compiled) fixed(state *schedule.State, index int) Visit {
	visit := c.p.Fixed[index]
	if visit.Arrives <= c.p.Now {
		return visit
	}
	visit.Work = slices.Clone(visit.Work)
	for i := range visit.Work {
		w := &visit.Work[i]
		if service, _, occurrence := strings.Cut(string(w.Item), "#"); occurrence && w.Service != "" {
			w.Marked = w.Marked || c.isMarked(state, service, c.zoneOf(visit.Site), w)
		}
	}
	return visit
}

// mix turns a filling into a Mix, with the exact volumes that can be read off vessel and measure.
func (c *compiled) mix(state *schedule.State, t int, m *tour.Mix, index int32) Mix {
	technician := &c.p.Technicians[c.shifts[t].technician]
	vessel := &technician.Vessels[m.Vessel]
	product := c.products[c.mixed[m.Product].product]
	need := quantity.Volume{}
	for _, piece := range state.Tours[t].Walk.Pieces {
		if piece.Mix == index {
			way := &c.in.Items[piece.Item].Ways[piece.Way]
			part := way.Legs[piece.Leg].Blocks[piece.Block].Pieces[piece.Piece].Part
			need = need.Add(needOf(c.items[piece.Item].follow.Ways[way.Index].Parts[part].Use))
		}
	}
	filling, err := c.dosings[m.Product].Fill(need, *vessel, technician.Kit(product))
	if err != nil {
		panic("scheduler: a filling that compile found possible is not: " + err.Error())
	}
	site := &c.p.Sites[state.Tours[t].Stops[m.Stop].Site]
	return Mix{
		Technician: technician.ID, Product: product.ID, Vessel: vessel.ID, Measure: filling.Measure,
		Site: site.ID, Area: c.areaID(m.Area),
		Need: need, Volume: filling.Volume, Concentrate: filling.Concentrate, Mass: filling.Mass, Organisms: filling.Organisms, Note: filling.Note,
		Begins: c.instant(m.Begins), Ready: c.instant(m.Ready), LastUse: c.instant(m.LastUse), UseBy: c.instant(m.UseBy),
		Rinse:       civil.Interval{From: c.instant(m.RinseFrom), To: c.instant(m.RinseTo)},
		RinseAtBase: m.AtBase,
	}
}

// areaID names an area of the kernel; "" is none.
func (c *compiled) areaID(area int32) AreaID {
	if area == instance.None {
		return ""
	}
	return c.areas[area].ID
}

// mixesOfFacts returns the mixes that were begun in a shift: fixed visits refer to them by index.
func (c *compiled) mixesOfFacts(technician *Technician, shift *Shift) []Mix {
	var mixes []Mix
	for _, m := range c.p.Mixes {
		if m.Technician == technician.ID && m.Begins >= shift.During.From && m.Begins < shift.During.To {
			if c.stillOpen(&m) {
				m.Rinse, m.RinseAtBase = civil.Interval{}, false
			}
			mixes = append(mixes, m)
		}
	}
	return mixes
}

// mixesAsTheyAre returns the mixes that were begun in a shift that is over.
func (c *compiled) mixesAsTheyAre(technician *Technician, shift *Shift) []Mix {
	return slices.DeleteFunc(slices.Clone(c.p.Mixes), func(m Mix) bool {
		return m.Technician != technician.ID || m.Begins < shift.During.From || m.Begins >= shift.During.To
	})
}

// rinseFacts ends open mixes of fixed visits at the base, before those of the plan.
func (c *compiled) rinseFacts(route *DayRoute, facts int) {
	at := route.Returns
	for m := range route.Mixes {
		if route.Mixes[m].RinseAtBase && m >= facts {
			at = min(at, route.Mixes[m].Rinse.From)
		}
	}
	for m := facts - 1; m >= 0; m-- {
		if route.Mixes[m].Rinse.Empty() {
			route.Mixes[m].Rinse = civil.Interval{From: at.Add(-c.p.Rules.Rinsing), To: at}
			route.Mixes[m].RinseAtBase = true
			at = route.Mixes[m].Rinse.From
		}
	}
}

// routesOfFacts returns day routes for fixed visits that lie in no shift of the horizon.
func (c *compiled) routesOfFacts() []DayRoute {
	var routes []DayRoute
	for i := range c.p.Fixed {
		v := c.p.Fixed[i]
		inShift := slices.ContainsFunc(c.in.Shifts, func(s instance.Shift) bool {
			return slices.ContainsFunc(s.Fixed, func(f instance.FixedVisit) bool { return f.Index == i })
		})
		if inShift {
			continue
		}
		day := c.p.Zone.DateOf(v.Arrives)
		at := slices.IndexFunc(routes, func(r DayRoute) bool { return r.Technician == v.Technician && r.Day == day })
		if at < 0 {
			at = len(routes)
			routes = append(routes, DayRoute{Technician: v.Technician, Day: day})
		}
		routes[at].Visits = append(routes[at].Visits, v)
	}
	for r := range routes {
		slices.SortStableFunc(routes[r].Visits, func(a, b Visit) int { return int(a.Arrives - b.Arrives) })
		c.aroundFacts(&routes[r], &c.p.Technicians[c.crewIndex[routes[r].Technician]])
	}
	return routes
}

// aroundFacts lets a route of fixed visits alone set out and return in time for them.
func (c *compiled) aroundFacts(route *DayRoute, technician *Technician) {
	first, last := route.Visits[0], route.Visits[len(route.Visits)-1]
	route.Departs = first.Arrives.Add(-c.drive(technician, technician.Base, travel.PlaceID(first.Site)))
	route.Returns = last.Leaves.Add(c.drive(technician, travel.PlaceID(last.Site), technician.Base))
	for _, m := range route.Mixes {
		route.Returns = max(route.Returns, m.Rinse.To)
	}
}

func (c *compiled) drive(technician *Technician, from, to travel.PlaceID) time.Duration {
	row, column := c.placeOf(from), c.placeOf(to)
	if row < 0 || column < 0 {
		return 0
	}
	return time.Duration(c.in.Travel[c.crewIndex[technician.ID]][row*c.in.Places+column]) * time.Second
}

func (c *compiled) isFixed(v *Visit) bool {
	return slices.ContainsFunc(c.p.Fixed, func(f Visit) bool {
		return f.ID == v.ID && f.Technician == v.Technician && f.Site == v.Site && f.Arrives == v.Arrives && f.Leaves == v.Leaves
	})
}

// keepIDs gives each visit the id of the earlier one of which it does most, each id once; ties go to the same technician and
// time, then to the order of the earlier ones.
func (c *compiled) keepIDs(plan *Plan, before []Visit) {
	used := make([]bool, len(before))
	for r := range plan.Routes {
		for v := range plan.Routes[r].Visits {
			visit := &plan.Routes[r].Visits[v]
			if c.isFixed(visit) {
				continue
			}
			best, bestScore := -1, 0
			for b := range before {
				if score := likeness(visit, &before[b]); !used[b] && score > bestScore {
					best, bestScore = b, score
				}
			}
			if best >= 0 {
				used[best] = true
				visit.ID = before[best].ID
			}
		}
	}
}

// likeness counts twice the work items that two visits of a site share, and one for the same technician and arrival.
func likeness(a, b *Visit) int {
	if a.Site != b.Site {
		return 0
	}
	shared := 0
	for _, w := range b.Work {
		if slices.ContainsFunc(a.Work, func(other WorkItem) bool { return other.Item == w.Item && other.Part == w.Part }) {
			shared += 2
		}
	}
	if shared > 0 && a.Technician == b.Technician && a.Arrives == b.Arrives {
		shared++
	}
	return shared
}
