package week

import (
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// Price is what a plan costs at some rates, counted from its visits alone: so that plans from anywhere compare in one currency.
// It shares nothing with Solve, and for a plan of Solve it comes to the same, part by part. What is unplanned costs what the
// plan says of it. It knows no published visits that move, and no shift that has begun.
func Price(p scheduler.Problem, plan scheduler.Plan, rates scheduler.Rates) scheduler.Cost {
	o := newOffice(&p)
	o.occurrences()
	o.placeAll(plan)
	var cost scheduler.Cost
	worked := map[scheduler.TechnicianID][]time.Duration{}
	for _, route := range plan.Routes {
		t := o.technician(route.Technician)
		work := route.Returns.Sub(route.Departs) - route.Break.Length()
		worked[route.Technician] = append(worked[route.Technician], work)
		cost.Add(scheduler.CostPaid, max(minutesOf(work), rates.LeastPaidMinutes.Amount)*t.PaidPerMinute)
		at := t.Base
		for _, visit := range route.Visits {
			cost.Add(scheduler.CostTravel, minutesOf(o.drive(t, at, travel.PlaceID(visit.Site)))*rates.VehicleMinute.Amount)
			cost.Add(scheduler.CostVisits, rates.Visit.Amount)
			o.priceVisit(&cost, visit, rates)
			at = travel.PlaceID(visit.Site)
		}
		cost.Add(scheduler.CostTravel, minutesOf(o.drive(t, at, t.Base))*rates.VehicleMinute.Amount)
	}
	for _, u := range plan.Unplanned {
		cost.Add(scheduler.CostUnplanned, u.Cost)
	}
	for _, t := range p.Technicians {
		sum := time.Duration(0)
		for _, work := range worked[t.ID] {
			sum += work
		}
		for _, work := range worked[t.ID] {
			mean := (sum / time.Duration(len(worked[t.ID]))).Truncate(time.Second)
			cost.Add(scheduler.CostUneven, quantity.Money(max(0, work-mean)/time.Minute)*rates.UnevenMinute.Amount)
		}
	}
	return cost
}

// minutesOf rounds a length up to whole minutes.
func minutesOf(d time.Duration) quantity.Money {
	return quantity.Money((d + time.Minute - 1) / time.Minute)
}

func (o *office) technician(id scheduler.TechnicianID) *scheduler.Technician {
	for i := range o.p.Technicians {
		if o.p.Technicians[i].ID == id {
			return &o.p.Technicians[i]
		}
	}
	panic("week: technician " + string(id) + " is not in the Problem")
}

// placeAll notes when each item of a plan begins.
func (o *office) placeAll(plan scheduler.Plan) {
	for _, route := range plan.Routes {
		for _, visit := range route.Visits {
			for _, w := range visit.Work {
				if known, again := o.placed[w.Item]; !again || w.Begins < known.begins {
					o.placed[w.Item] = stay{begins: w.Begins, ends: w.Ends}
				}
			}
		}
	}
}

func (o *office) priceVisit(cost *scheduler.Cost, visit scheduler.Visit, rates scheduler.Rates) {
	s := o.sites[visit.Site]
	serves, infested := false, false
	for _, w := range visit.Work {
		serves = serves || w.Service != ""
		for _, id := range w.Plants {
			health := o.plants[id].Health
			infested = infested || health == scheduler.SuspectedInfested || health == scheduler.ConfirmedInfested
		}
		if o.placed[w.Item].begins != w.Begins {
			continue
		}
		day := s.Zone.DateOf(w.Begins)
		if f := o.followUps[w.Item]; f != nil {
			cost.Add(scheduler.CostDelay, o.delay(f, day, rates))
		} else {
			cost.Add(scheduler.CostLateService, o.late(w.Item, day, rates))
		}
	}
	usual := s.Agreement.UsualTechnician
	if serves && usual != "" && usual != string(visit.Technician) {
		cost.Add(scheduler.CostOtherTechnician, rates.OtherTechnician.Amount)
	}
	if serves && s.Agreement.UsualDay != nil && *s.Agreement.UsualDay != s.Zone.DateOf(visit.Arrives).Weekday() {
		cost.Add(scheduler.CostOtherTechnician, rates.OtherWeekday.Amount)
	}
	if infested {
		cost.Add(scheduler.CostSanitation, minutesOf(o.p.Rules.Sanitation)*rates.SanitationMinute.Amount)
	}
}

// delay is what beginning a follow-up on a day costs: its price so many days after its earliest, and for an inspection the days
// after its latest.
func (o *office) delay(f *scheduler.FollowUp, day civil.Date, rates scheduler.Rates) quantity.Money {
	earliest, latest := o.dueDays(f)
	price := quantity.Money(0)
	if n := len(f.PricePerDay); n > 0 {
		price = f.PricePerDay[max(0, min(n-1, day.DaysSince(earliest)))]
	}
	inspection := f.Kind == scheduler.KindInspectInfested || f.Kind == scheduler.KindInspectNeighbours
	if inspection && !latest.IsZero() && day > latest {
		price += quantity.Money(day.DaysSince(latest)) * rates.LateInspectionDay.Amount
	}
	return price
}

// dueDays are the earliest and the latest day of a follow-up, in view of what is planned; an unset one is unset.
func (o *office) dueDays(f *scheduler.FollowUp) (earliest, latest civil.Date) {
	if f.Due.After == "" {
		return f.Due.EarliestOn, f.Due.LatestOn
	}
	began := o.done[f.Due.After]
	if before, planned := o.placed[f.Due.After]; planned {
		began = before.begins
	}
	on := o.sites[f.Site].Zone.DateOf(began)
	return on.AddDays(f.Due.EarliestLag), on.AddDays(f.Due.LatestLag)
}

// late is what an occurrence of a service costs by the days after its latest, which counts from the time before it.
func (o *office) late(id scheduler.ItemID, day civil.Date, rates scheduler.Rates) quantity.Money {
	s := o.services[id]
	late := day.DaysSince(o.latest(id, s))
	return quantity.Money(max(0, late)*len(s.Groups)) * rates.LateServiceDay.Amount
}

// latest is the last day on which an occurrence is on time, counted from the one before it.
func (o *office) latest(id scheduler.ItemID, s *site.Service) civil.Date {
	if before, planned := o.placed[o.previous[id]]; planned {
		return o.sites[s.Site].Zone.DateOf(before.begins).AddDays(s.Latest)
	}
	if s.Last.IsZero() {
		return o.p.FirstDay
	}
	return s.Last.AddDays(s.Latest)
}

// unplanned prices what found no place.
func (o *office) unplanned(rates scheduler.Rates) []scheduler.Unplanned {
	var all []scheduler.Unplanned
	last := o.p.FirstDay.AddDays(o.p.Days - 1)
	add := func(id scheduler.ItemID, leftOut bool, leftOutPrice, deferredPrice quantity.Money) {
		u := scheduler.Unplanned{Item: id, Status: scheduler.Deferred, Cost: deferredPrice, Reasons: []scheduler.Reason{{Text: "the hand rules find no place for it"}}}
		if leftOut {
			u.Status, u.Cost = scheduler.LeftOut, leftOutPrice
		}
		all = append(all, u)
	}
	leftOut := map[scheduler.ItemID]bool{}
	for _, f := range o.inTurn() {
		if _, planned := o.placed[f.ID]; planned {
			continue
		}
		price := rates.DeferredVisit.Amount
		earliest, _, ok := o.window(f)
		stands := f.Due.StandsUntilOn
		if f.Due.After != "" {
			stands = 0
			if ok && f.Due.StandsUntilLag > 0 {
				stands = earliest.AddDays(f.Due.StandsUntilLag - f.Due.EarliestLag)
			}
		}
		leftOut[f.ID] = !stands.IsZero() && stands <= last || !ok && leftOut[f.Due.After]
		if n := len(f.PricePerDay); ok && n > 0 {
			// The Monday after: the first day on which somebody works.
			price += f.PricePerDay[max(0, min(n-1, workday(last.AddDays(1)).DaysSince(earliest)))]
		}
		add(f.ID, leftOut[f.ID], f.LeftOutPrice, price)
	}
	for _, due := range o.occurrences() {
		if _, planned := o.placed[due.id]; planned {
			continue
		}
		latest, each := o.latest(due.id, due.service), rates.LateServiceDay.Amount*quantity.Money(len(due.service.Groups))
		late := func(on civil.Date) quantity.Money { return each * quantity.Money(max(0, on.DaysSince(latest))) }
		add(due.id, latest <= last, rates.LeftOutService.Amount+late(last.AddDays(1)), rates.DeferredVisit.Amount+late(workday(last.AddDays(1))))
	}
	return all
}
