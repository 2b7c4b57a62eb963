package planning

import (
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// published is what is published around an instant: visits, the day routes that are under way, and those ahead.
type published struct {
	now           civil.Instant
	visits        []scheduler.Visit
	routes, ahead []firm.Route
}

// readPublished reads the visits of a span with the day routes of it that are not over, and the visits of those that are under
// way now.
func readPublished(tx *store.Tx, zone civil.Zone, span civil.Interval) (published, error) {
	p := published{now: tx.Now()}
	var err error
	p.visits, err = tx.Visits(store.VisitFilter{From: min(p.now.Add(-scheduler.MaxShift), span.From), To: span.To})
	if err != nil {
		return published{}, err
	}
	today := zone.DateOf(p.now)
	routes, err := tx.Routes(store.RouteFilter{From: today - 1, To: zone.DateOf(span.To)})
	for _, r := range routes {
		switch {
		case p.now < r.Departs:
			p.ahead = append(p.ahead, r)
		case p.now < r.Returns:
			p.routes = append(p.routes, r)
		}
	}
	return p, err
}

// routeOf returns the day route, under way or ahead, that a visit belongs to, or nil.
func (p published) routeOf(v scheduler.Visit) *firm.Route {
	for _, routes := range [][]firm.Route{p.routes, p.ahead} {
		for i := range routes {
			if r := &routes[i]; r.Technician == v.Technician && r.Departs <= v.Arrives && v.Arrives < r.Returns {
				return r
			}
		}
	}
	return nil
}

// underWay returns the day route under way that a visit which has begun by the clock belongs to, or nil.
func (p published) underWay(v scheduler.Visit) *firm.Route {
	for i := range p.routes {
		if r := &p.routes[i]; r.Technician == v.Technician && r.Departs <= v.Arrives && v.Arrives < p.now {
			return r
		}
	}
	return nil
}

// hasBegun says whether a visit has begun by the clock, and it or its technician's day route is not over.
func (p published) hasBegun(v scheduler.Visit) bool {
	return v.Arrives < p.now && (p.underWay(v) != nil || p.now < v.Leaves)
}

// fact returns a visit as a plan must take it when it cannot move, and whether that is so: one that is pinned or was
// begun; one that has begun by the clock, while it lasts and until its technician's day route is over, whether or not
// anything was heard of it; and one that is done where its technician's day goes on from it, or where it still lasts by the
// time that it was published for. One that was made before that time holds nobody. What was done is told by its report, so that such a visit holds no work.
func (p published) fact(v scheduler.Visit) (scheduler.Visit, bool) {
	hasBegun := p.hasBegun(v)
	switch v.State {
	case scheduler.Begun, scheduler.Pinned:
	case scheduler.Published, scheduler.Announced:
		if !hasBegun {
			return v, false
		}
		v.State = scheduler.Begun
	case scheduler.Done:
		v.Work = nil
		return v, hasBegun || v.Arrives <= p.now && p.now < v.Leaves // not one that was made before its time
	}
	return p.withFacts(v), true
}

// withFacts lets the work of a visit draw on the mixes that fixedMixes gives for its day route. What draws on none of them
// draws on none: the plan's day route has others than the stored one.
func (p published) withFacts(v scheduler.Visit) scheduler.Visit {
	route := p.routeOf(v)
	v.Work = slices.Clone(v.Work)
	for w := range v.Work {
		at := -1
		if route != nil && v.Work[w].MixIndex >= 0 {
			at = slices.Index(p.fixedMixes(*route), v.Work[w].MixIndex)
		}
		v.Work[w].MixIndex = at
	}
	return v
}

// fixedMixes returns the indices of the mixes of a day route that no plan moves: those begun by the clock, and those that a
// visit draws on which has begun or is pinned.
func (p published) fixedMixes(route firm.Route) []int {
	var stand []int
	for i, mix := range route.Mixes {
		drawn := slices.ContainsFunc(p.visits, func(v scheduler.Visit) bool {
			ours := v.Technician == route.Technician && route.Departs <= v.Arrives && (v.Arrives < p.now || v.State == scheduler.Pinned && v.Arrives < route.Returns)
			return ours && slices.ContainsFunc(v.Work, func(w scheduler.WorkItem) bool { return w.MixIndex == i })
		})
		if drawn || mix.Begins < p.now {
			stand = append(stand, i)
		}
	}
	return stand
}

// mixes returns what is in the vessels of the technicians under way, and what pinned visits on the days ahead draw on, in the
// order of the day routes. A rinse that was to be at a visit which may move is not known any more: the vessel is open.
func (p published) mixes(horizon civil.Interval) []scheduler.Mix {
	var standing []scheduler.Mix
	for _, route := range slices.Concat(p.routes, p.ahead) {
		if route.Departs >= horizon.To {
			continue
		}
		for _, i := range p.fixedMixes(route) {
			mix := route.Mixes[i]
			stays := mix.RinseAtBase || mix.Rinse.From < p.now || slices.ContainsFunc(p.visits, func(v scheduler.Visit) bool {
				_, fact := p.fact(v)
				return fact && v.Technician == route.Technician && v.Arrives <= mix.Rinse.From && mix.Rinse.To <= v.Leaves
			})
			if !stays {
				mix.Rinse = civil.Interval{}
			}
			standing = append(standing, mix)
		}
	}
	return standing
}

// fixed returns the visits that arrive within a horizon and that no plan moves, by arrival.
func (p published) fixed(horizon civil.Interval) []scheduler.Visit {
	var fixed []scheduler.Visit
	for _, v := range p.visits {
		if fact, ok := p.fact(v); ok && horizon.From <= v.Arrives && v.Arrives < horizon.To {
			fixed = append(fixed, fact)
		}
	}
	return fixed
}
