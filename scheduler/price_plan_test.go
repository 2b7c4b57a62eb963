package scheduler_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// placesOf says when the items of a plan begin.
func (c pricer) placesOf(plan scheduler.Plan) places {
	begins := map[scheduler.ItemID]civil.Instant{}
	for _, r := range plan.Routes {
		for _, v := range r.Visits {
			for _, w := range v.Work {
				if at, seen := begins[w.Item]; !seen || w.Begins < at {
					begins[w.Item] = w.Begins
				}
			}
		}
	}
	return func(id scheduler.ItemID) (civil.Instant, bool) {
		if at, ok := c.done(id); ok {
			return at, true
		}
		at, ok := begins[id]
		return at, ok
	}
}

// visit prices one visit of a route: the way to it, opening it, whom and when the client expects, what its work costs by
// its day, and cleaning up after infested plants. Work that is fixed costs nothing more, nor does a visit that began.
func (c pricer) visit(t *scheduler.Technician, from travel.PlaceID, v *scheduler.Visit, at places) scheduler.Cost {
	var cost scheduler.Cost
	s := c.site(v.Site)
	if c.isFixed(v) && v.Arrives <= c.p.Now {
		return cost
	}
	cost.Add(scheduler.CostTravel, minutesUp(c.drive(t, from, travel.PlaceID(v.Site)))*c.rates.VehicleMinute.Amount)
	cost.Add(scheduler.CostVisits, c.rates.Visit.Amount)
	serves, infested := false, false
	for _, w := range v.Work {
		if c.isFixed(v) {
			break
		}
		infested = infested || slices.ContainsFunc(w.Plants, c.infested)
		if begins, _ := at(w.Item); begins != w.Begins {
			serves = serves || w.Service != ""
			continue // priced with its first work item
		}
		if f := c.followUp(w.Item); f != nil {
			cost.Add(scheduler.CostDelay, c.delay(f, w.Begins, at))
			continue
		}
		serves = true
		service, k := c.occurrenceOf(w.Item)
		cost.Add(scheduler.CostLateService, c.lateService(service, k, s.Zone.DateOf(w.Begins), at))
	}
	agreed := &s.Agreement
	if serves && agreed.UsualTechnician != "" && agreed.UsualTechnician != string(t.ID) {
		cost.Add(scheduler.CostOtherTechnician, c.rates.OtherTechnician.Amount)
	}
	if serves && agreed.UsualDay != nil && s.Zone.DateOf(v.Arrives).Weekday() != *agreed.UsualDay {
		cost.Add(scheduler.CostOtherTechnician, c.rates.OtherWeekday.Amount)
	}
	if infested {
		cost.Add(scheduler.CostSanitation, minutesUp(c.p.Rules.Sanitation)*c.rates.SanitationMinute.Amount)
	}
	return cost
}

func (c pricer) isFixed(v *scheduler.Visit) bool {
	return slices.ContainsFunc(c.p.Fixed, func(f scheduler.Visit) bool { return f.ID == v.ID && f.Arrives == v.Arrives })
}

// factsAlone says whether a route holds only visits that do not move and of which no lawful day can be made: facts, and no
// decision to price.
func (c pricer) factsAlone(r *scheduler.DayRoute) bool {
	return r.Cost.Total == 0 && !slices.ContainsFunc(r.Visits, func(v scheduler.Visit) bool { return !c.isFixed(&v) })
}

func (c pricer) infested(id site.PlantID) bool {
	return slices.ContainsFunc(c.p.Plants, func(s scheduler.PlantState) bool {
		return s.Plant.ID == id && (s.Health == scheduler.SuspectedInfested || s.Health == scheduler.ConfirmedInfested)
	})
}

// worked is the paid time of a day route.
func worked(r *scheduler.DayRoute) time.Duration {
	return r.Returns.Sub(r.Departs) - max(0, r.Break.Length())
}

// own is what belongs to a day route and to no visit: its paid time, and the way home.
func (c pricer) own(r *scheduler.DayRoute) scheduler.Cost {
	t := c.technician(r.Technician)
	var cost scheduler.Cost
	cost.Add(scheduler.CostPaid, max(minutesUp(worked(r)), c.rates.LeastPaidMinutes.Amount)*t.PaidPerMinute)
	last := r.Visits[len(r.Visits)-1]
	cost.Add(scheduler.CostTravel, minutesUp(c.drive(t, travel.PlaceID(last.Site), t.Base))*c.rates.VehicleMinute.Amount)
	return cost
}

// routes prices each visit and each route of a plan, and adds up what belongs to them.
func (c pricer) routes(plan scheduler.Plan) (visits [][]scheduler.Cost, routes []scheduler.Cost) {
	at := c.placesOf(plan)
	for i := range plan.Routes {
		r := &plan.Routes[i]
		t := c.technician(r.Technician)
		total, place := c.own(r), t.Base
		var costs []scheduler.Cost
		for k := range r.Visits {
			cost := c.visit(t, place, &r.Visits[k], at)
			total.Plus(cost)
			costs, place = append(costs, cost), travel.PlaceID(r.Visits[k].Site)
		}
		visits, routes = append(visits, costs), append(routes, total)
	}
	return visits, routes
}

// changes is what visits cost that were published before and whose arrival no visit at the site keeps that does some of
// their work. One of which nothing is asked any more is dropped, not moved.
func (c pricer) changes(plan scheduler.Plan) quantity.Money {
	total := quantity.Money(0)
	for _, before := range c.p.Before {
		if !slices.ContainsFunc(before.Work, func(w scheduler.WorkItem) bool { return c.isAsked(w.Item) }) {
			continue
		}
		kept := false
		for i, r := range plan.Routes {
			day := c.p.Zone.DateOf(before.Arrives)
			kept = kept || r.Technician == before.Technician && r.Day == day && c.factsAlone(&plan.Routes[i])
			for _, v := range r.Visits {
				same := v.Technician == before.Technician && v.Site == before.Site && v.Arrives == before.Arrives
				kept = kept || same && slices.ContainsFunc(v.Work, func(w scheduler.WorkItem) bool {
					return slices.ContainsFunc(before.Work, func(b scheduler.WorkItem) bool { return b.Item == w.Item })
				})
			}
		}
		if !kept && before.State == scheduler.Announced {
			total += c.rates.MovedAnnounced.Amount
		} else if !kept {
			total += c.rates.MovedPublished.Amount
		}
	}
	return total
}

func (c pricer) isAsked(id scheduler.ItemID) bool {
	if _, done := c.done(id); done {
		return false
	}
	service, _ := c.occurrenceOf(id)
	return c.followUp(id) != nil || service != nil
}

// uneven is what the minutes cost by which a technician's days lie above the mean of their days with work.
func (c pricer) uneven(plan scheduler.Plan) quantity.Money {
	total := quantity.Money(0)
	for _, t := range c.p.Technicians {
		var days []time.Duration
		sum := time.Duration(0)
		for i := range plan.Routes {
			if plan.Routes[i].Technician == t.ID && !c.factsAlone(&plan.Routes[i]) {
				days = append(days, worked(&plan.Routes[i]))
				sum += worked(&plan.Routes[i])
			}
		}
		for _, day := range days {
			mean := (sum / time.Duration(len(days))).Truncate(time.Second)
			total += quantity.Money(max(0, day-mean)/time.Minute) * c.rates.UnevenMinute.Amount
		}
	}
	return total
}

// unplanned prices each item that the plan lists as not planned. The day to which it is put off is read off the table of
// prices only where it matters: the cost must be that of some day after the horizon.
func (c pricer) unplanned(plan scheduler.Plan, u scheduler.Unplanned) bool {
	at := c.placesOf(plan)
	for days := range 29 {
		later := c.lastDay().AddDays(1 + days)
		if f := c.followUp(u.Item); f != nil {
			if cost, out := c.leftOut(f, at, later); cost == u.Cost && out == (u.Status == scheduler.LeftOut) {
				return true
			}
		} else if s, k := c.occurrenceOf(u.Item); s != nil {
			if cost, out := c.leftOutService(s, k, at, later); cost == u.Cost && out == (u.Status == scheduler.LeftOut) {
				return true
			}
		}
	}
	return false
}

func TestCost_IsWhatTheRatesSayPartByPart(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		rates := roundRates()
		rates.LeastPaidMinutes.Amount = quantity.Money(rapid.IntRange(0, 90).Draw(t, "least paid minutes"))
		rates.UnevenMinute.Amount = quantity.Money(rapid.IntRange(0, 5).Draw(t, "uneven minute"))
		o := scheduler.Options{Seed: 1, Iterations: rapid.IntRange(0, 5).Draw(t, "iterations"), Rates: rates}
		plan, err := scheduler.Solve(t.Context(), p, o)
		if err != nil {
			t.Fatal(err)
		}
		costsWhatItSays(t, &p, &rates, plan)
		// The same week planned anew, with what was published moving at a price, and less time for it.
		for _, r := range plan.Routes {
			for _, v := range r.Visits {
				if v.State == scheduler.Planned {
					v.ID = scheduler.VisitID("v" + v.Arrives.String() + string(v.Technician))
					v.State = []scheduler.VisitState{scheduler.Published, scheduler.Announced}[rapid.IntRange(0, 1).Draw(t, "announced")]
					p.Before = append(p.Before, v)
				}
			}
		}
		p.Now = p.Now.Add(time.Duration(rapid.IntRange(0, 20).Draw(t, "hours later")) * time.Hour)
		p.Before = slices.DeleteFunc(p.Before, func(v scheduler.Visit) bool { return v.Arrives < p.Now })
		p.Fixed = slices.DeleteFunc(p.Fixed, func(v scheduler.Visit) bool { return v.Arrives < p.Now })
		again, err := scheduler.Solve(t.Context(), p, o)
		if err != nil {
			t.Fatal(err)
		}
		costsWhatItSays(t, &p, &rates, again)
	})
}

// costsWhatItSays holds a plan's costs to those recomputed: of each visit, each route, and the whole.
func costsWhatItSays(t errorer, p *scheduler.Problem, rates *scheduler.Rates, plan scheduler.Plan) {
	t.Helper()
	c := pricer{p, rates}
	visits, routes := c.routes(plan)
	var whole scheduler.Cost
	for i, r := range plan.Routes {
		if c.factsAlone(&r) {
			continue
		}
		for k, v := range r.Visits {
			if diff := cmp.Diff(visits[i][k], v.Cost); diff != "" {
				t.Errorf("%s on %v, visit at %s (-recomputed +said):\n%s", r.Technician, r.Day, v.Site, diff)
			}
			if !c.isFixed(&v) {
				itemsAddUp(t, &v)
			}
		}
		if diff := cmp.Diff(routes[i], r.Cost); diff != "" {
			t.Errorf("%s on %v (-recomputed +said):\n%s", r.Technician, r.Day, diff)
		}
		whole.Plus(routes[i])
	}
	for _, u := range plan.Unplanned {
		whole.Add(scheduler.CostUnplanned, u.Cost)
		if !c.unplanned(plan, u) {
			t.Errorf("%s is %s at %v: no day after the horizon makes it cost that", u.Item, u.Status, u.Cost)
		}
	}
	whole.Add(scheduler.CostChanges, c.changes(plan))
	whole.Add(scheduler.CostUneven, c.uneven(plan))
	if diff := cmp.Diff(whole, plan.Cost); diff != "" {
		t.Errorf("the plan (-recomputed +said):\n%s", diff)
	}
}

// itemsAddUp holds that the costs of a visit's items are all of its cost that their days make.
func itemsAddUp(t errorer, v *scheduler.Visit) {
	t.Helper()
	var items, days scheduler.Cost
	for _, w := range v.Work {
		items.Plus(w.Cost)
	}
	for _, part := range [...]scheduler.CostPart{scheduler.CostDelay, scheduler.CostLateService} {
		days.Add(part, v.Cost.Parts[part])
	}
	if diff := cmp.Diff(days, items); diff != "" {
		t.Errorf("the items of the visit at %s do not add up to the cost of their days (-visit +items):\n%s", v.Site, diff)
	}
}
