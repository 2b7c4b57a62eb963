package scheduler

import (
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/quantity"
)

// Book returns the plan with an opening that Openings found on it: the day routes that change replaced, keep-outs, cost and
// what is not planned derived anew. Visits keep their ids and states. The given plan stays as it is.
//
// It fails with *InvalidQuestion where the plan is not one of this Problem.
func (p *Prepared) Book(plan Plan, o Opening) (Plan, error) {
	c := p.compiled
	changed := plan
	changed.Routes = slices.DeleteFunc(slices.Clone(plan.Routes), func(r DayRoute) bool {
		return slices.ContainsFunc(o.Routes, func(to DayRoute) bool { return to.Technician == r.Technician && to.Day == r.Day })
	})
	for _, route := range o.Routes {
		if len(route.Visits) > 0 {
			changed.Routes = append(changed.Routes, route)
		}
	}
	state, err := c.resume(&changed)
	if err != nil {
		return Plan{}, err
	}
	booked := c.planOf(state)
	c.carryOver(&booked, changed.Routes)
	booked.Unplanned = c.unplannedAfter(state, plan.Unplanned)
	booked.Cost = c.cost(state)
	booked.Bound, booked.Gap = plan.Bound, booked.Cost.Total-plan.Bound
	booked.Iterations, booked.Seed, booked.Elapsed = plan.Iterations, plan.Seed, plan.Elapsed
	return booked, nil
}

// carryOver gives visits the ids and states that they have in other routes of the same days.
func (c *compiled) carryOver(plan *Plan, from []DayRoute) {
	for r := range plan.Routes {
		route := &plan.Routes[r]
		at := slices.IndexFunc(from, func(other DayRoute) bool { return other.Technician == route.Technician && other.Day == route.Day })
		if at < 0 {
			continue
		}
		for v := range route.Visits {
			visit := &route.Visits[v]
			same := slices.IndexFunc(from[at].Visits, func(other Visit) bool { return other.Site == visit.Site && other.Arrives == visit.Arrives })
			if same >= 0 && !c.isFixed(visit) {
				visit.ID, visit.State = from[at].Visits[same].ID, from[at].Visits[same].State
			}
		}
	}
}

// unplannedAfter lists what a state does not hold, with the reasons that were known before where they still can hold.
func (c *compiled) unplannedAfter(state *schedule.State, before []Unplanned) []Unplanned {
	list := []Unplanned{}
	for item := range c.items {
		cost, status := state.Unplanned(int32(item))
		if status == schedule.Planned || status == schedule.Outside {
			continue
		}
		u := Unplanned{Item: c.items[item].id, Status: Deferred, Cost: quantity.Money(cost)}
		if status == schedule.LeftOut {
			u.Status = LeftOut
		}
		u.Reasons = c.waits(state, int32(item))
		if at := slices.IndexFunc(before, func(old Unplanned) bool { return old.Item == u.Item }); u.Reasons == nil && at >= 0 {
			u.Reasons = slices.DeleteFunc(slices.Clone(before[at].Reasons), c.waitedForSomething(int32(item)))
		}
		if len(u.Reasons) == 0 {
			u.Reasons = []Reason{{Text: "what it waited for is planned since this plan was made: plan again, or ask for its openings"}}
		}
		list = append(list, u)
	}
	return list
}

// waitedForSomething says whether a reason is that an item waits for another.
func (c *compiled) waitedForSomething(item int32) func(Reason) bool {
	return func(r Reason) bool {
		return slices.ContainsFunc(c.in.Items[item].Before, func(before instance.Predecessor) bool { return r == c.waitsFor(before.Item) })
	}
}
