package planning

import (
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/reentry"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// shut returns the keep-outs that the visit's applications make.
func (b *booking) shut() []scheduler.KeepOut {
	var shut []scheduler.KeepOut
	for _, work := range b.visit.Work {
		if work.Use == nil {
			continue
		}
		for _, k := range reentry.KeepOuts(b.site, reentry.Treatment{
			Area: work.Area, Begins: work.Begins, Ends: work.Ends, KeepOut: work.Use.KeepOut, Unventilated: work.Use.KeepOutUnventilated,
		}) {
			shut = append(shut, scheduler.KeepOut{Area: k.Area, During: k.During, Product: work.Use.Product, By: b.technician.ID,
				UntilDry: work.Use.Entry == "until-dry", Item: work.Item})
		}
	}
	return shut
}

// judge checks the visit, as published, together with everything else that is fixed. Breaches that lie in what
// was fixed before are not this booking's.
func (b *booking) judge() error {
	visit := b.visit
	visit.State = scheduler.Published
	route := b.route
	route.Visits = []scheduler.Visit{visit}
	plan := scheduler.Plan{Routes: []scheduler.DayRoute{route}, KeepOuts: b.keepOuts}
	problem := b.problem
	problem.Fixed = nil
	problem.Done = append(slices.Clone(problem.Done), b.placed()...)
	for _, fixed := range b.problem.Fixed {
		if fixed.Technician != b.technician.ID {
			continue
		}
		if fixed.ID != b.wish.Visit && (civil.Interval{From: route.Departs, To: route.Returns}).Overlaps(civil.Interval{From: fixed.Arrives, To: fixed.Leaves}) {
			return b.busy(fixed)
		}
	}
	var own []scheduler.Violation
	for _, v := range decided(scheduler.Check(problem, plan)) {
		if v.Rule == scheduler.RuleMix && b.unfilled != nil {
			continue // told below, with its reason
		}
		if v.Item == "" || v.Item == b.wish.Item {
			own = append(own, v)
		}
	}
	if len(own) == 0 {
		return b.unfilled
	}
	f := fault.New(fault.Refused, "BOOKING_BREAKS_RULES", "%s cannot be booked at %s: %s", b.wish.Item, b.site.Zone.Format(b.wish.Begins), own[0])
	f.Subject, f.Violations = string(b.wish.Item), own
	return f
}

// placed tells the follow-ups that visits hold already, published or fixed, as what lags and links count from.
func (b *booking) placed() []scheduler.DoneFollowUp {
	var placed []scheduler.DoneFollowUp
	for _, v := range slices.Concat(b.problem.Before, b.problem.Fixed) {
		for _, work := range v.Work {
			i := slices.IndexFunc(placed, func(d scheduler.DoneFollowUp) bool { return d.ID == work.Item })
			switch {
			case work.Service != "" || work.Item == b.wish.Item:
			case i >= 0:
				placed[i].Began, placed[i].Ended = min(placed[i].Began, work.Begins), max(placed[i].Ended, work.Ends)
			default:
				placed = append(placed, scheduler.DoneFollowUp{ID: work.Item, Site: v.Site, Began: work.Begins, Ended: work.Ends})
			}
		}
	}
	return placed
}

func (b *booking) busy(other scheduler.Visit) error {
	f := fault.New(fault.Conflict, "TECHNICIAN_BUSY", "%s is at %s from %s to %s: choose another time, or plan again",
		b.technician.Name, other.Site, b.site.Zone.Format(other.Arrives), b.site.Zone.FormatClock(other.Leaves))
	f.Subject = string(other.ID)
	return f
}

// makeRoom takes the follow-up out of the published visit that held it and refuses to stand in the way of another.
func (b *booking) makeRoom() error {
	for _, old := range b.problem.Before {
		kept := slices.DeleteFunc(slices.Clone(old.Work), func(w scheduler.WorkItem) bool { return w.Item == b.wish.Item })
		switch {
		case len(kept) == 0:
			b.remove = append(b.remove, old.ID)
			continue
		case len(kept) < len(old.Work):
			old.Work = kept
			b.upsert = append(b.upsert, old)
		}
		if old.Technician == b.technician.ID && (civil.Interval{From: b.route.Departs, To: b.route.Returns}).Overlaps(civil.Interval{From: old.Arrives, To: old.Leaves}) {
			return b.busy(old)
		}
	}
	return nil
}

// keep writes the pinned visit, its keep-outs, and the day route that holds its mix.
func (b *booking) keep() error {
	routes, err := b.tx.Routes(store.RouteFilter{From: b.shift.Day, To: b.shift.Day, Technician: b.technician.ID})
	if err != nil {
		return err
	}
	route := firm.Route{Technician: b.technician.ID, Day: b.shift.Day, Departs: b.route.Departs, Returns: b.route.Returns}
	if len(routes) > 0 {
		route = routes[0]
		route.Departs, route.Returns = min(route.Departs, b.route.Departs), max(route.Returns, b.route.Returns)
	}
	for i := range b.visit.Work {
		if b.visit.Work[i].MixIndex >= 0 {
			b.visit.Work[i].MixIndex += len(route.Mixes)
		}
	}
	route.Mixes = append(route.Mixes, b.route.Mixes...)
	facts, err := b.standing()
	if err != nil {
		return err
	}
	for _, k := range b.keepOuts {
		facts = append(facts, firm.KeepOutFact{KeepOut: k, Visit: b.visit.ID})
	}
	return b.tx.ReplaceVisits(b.remove, append(b.upsert, b.visit), []firm.Route{route}, facts, "")
}

// standing returns the keep-outs of what stays in the visits that make room: they are written anew with their visits.
func (b *booking) standing() ([]firm.KeepOutFact, error) {
	all, err := b.tx.KeepOuts(civil.Interval{From: b.problem.Now})
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(all, func(k firm.KeepOutFact) bool {
		return k.Item == b.wish.Item || !slices.ContainsFunc(b.upsert, func(v scheduler.Visit) bool { return v.ID == k.Visit })
	}), nil
}
