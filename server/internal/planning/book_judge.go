package planning

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// shutBy returns the keep-outs that the visit's applications make.
func (b *booking) shutBy() []scheduler.KeepOut {
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

// neighbours returns the published visits of the technician before and after the new one; nil where there is none.
func (b *booking) neighbours() (before, after *scheduler.Visit) {
	for d := range b.days {
		for i := range b.days[d].Visits {
			v := &b.days[d].Visits[i]
			switch {
			case v.Technician != b.technician.ID:
			case v.Arrives <= b.visit.Arrives:
				if before == nil || v.Arrives > before.Arrives {
					before = v
				}
			case after == nil || v.Arrives < after.Arrives:
				after = v
			}
		}
	}
	return before, after
}

// fits says that the technician can come from the published visit before the new one and go on to the one after it.
func (b *booking) fits() error {
	before, after := b.neighbours()
	place := placeOf(b.visit.Site)
	late := before != nil && before.Leaves.Add(b.drive(placeOf(before.Site), place)) > b.visit.Arrives
	long := after != nil && b.visit.Leaves.Add(b.drive(place, placeOf(after.Site))) > after.Arrives
	if !late && !long {
		return nil
	}
	zone := b.site.Zone
	var around []string
	sameDay := func(v *scheduler.Visit) bool {
		return v != nil && zone.DateOf(v.Arrives) == zone.DateOf(b.visit.Arrives)
	}
	if late || sameDay(before) {
		around = append(around, fmt.Sprintf("visit %s at %s until %s (%v from there)", before.ID, before.Site, zone.Format(before.Leaves), b.drive(placeOf(before.Site), place)))
	}
	if long || sameDay(after) {
		around = append(around, fmt.Sprintf("visit %s at %s from %s (%v to there)", after.ID, after.Site, zone.Format(after.Arrives), b.drive(place, placeOf(after.Site))))
	}
	f := fault.New(fault.Conflict, "TECHNICIAN_BUSY", "%s is to be at %s from %s to %s, and has %s: choose another time, take an opening that joins or moves it, or plan again",
		b.technician.Name, b.visit.Site, zone.Format(b.visit.Arrives), zone.FormatClock(b.visit.Leaves), strings.Join(around, " and "))
	if late {
		f.Subject = string(before.ID)
	} else {
		f.Subject = string(after.ID)
	}
	return f
}

// judge checks what is published without the new visit and with it. What is wrong only with it is this booking's.
func (b *booking) judge() error {
	before := b.check(b.days)
	with := slices.DeleteFunc(slices.Clone(b.days), func(d scheduler.DayRoute) bool { return d.Technician == b.day.Technician && d.Day == b.day.Day })
	var own []scheduler.Violation
	for _, v := range b.check(append(with, b.day)) {
		switch {
		case slices.Contains(before, v), b.beside(v):
		case v.Rule == scheduler.RuleMix && v.Item == b.wish.Item && b.unfilled != nil: // told below, with its reason
		default:
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

// beside says whether a violation is only that the visit before or after is at the same site: a booking is a visit of
// its own, also there.
func (b *booking) beside(v scheduler.Violation) bool {
	before, after := b.neighbours()
	return v.Rule == scheduler.RuleShift && v.Item == "" &&
		(before != nil && before.Site == b.visit.Site && v.During == civil.Interval{From: before.Leaves, To: b.visit.Arrives} ||
			after != nil && after.Site == b.visit.Site && v.During == civil.Interval{From: b.visit.Leaves, To: after.Arrives})
}

// check judges day routes, of which everything but the new visit stands.
func (b *booking) check(days []scheduler.DayRoute) []scheduler.Violation {
	problem := b.problem
	problem.Fixed, problem.Before, problem.Mixes, problem.Progress = nil, nil, nil, nil
	var plan scheduler.Plan
	made := map[scheduler.VisitID]bool{}
	for _, d := range days {
		d = drawn(d)
		d.Visits = slices.Clone(d.Visits)
		for i, v := range d.Visits {
			made[v.ID] = true
			if v.ID != b.visit.ID {
				problem.Fixed = append(problem.Fixed, v)
			} else {
				d.Visits[i].State = scheduler.Published
			}
		}
		if len(d.Visits) > 0 {
			plan.Routes = append(plan.Routes, d)
		}
	}
	for _, k := range b.shut {
		if made[k.Visit] {
			plan.KeepOuts = append(plan.KeepOuts, k.KeepOut)
		}
	}
	if made[b.visit.ID] {
		plan.KeepOuts = append(plan.KeepOuts, b.keepOuts...)
	}
	violations := scheduler.Check(problem, plan)
	for i := range violations {
		violations[i].Standing = false // of what was there before nothing is told, whatever is new is of the booking
	}
	return violations
}

// keep writes the pinned visit, its keep-outs and notices, and its day route, where nothing has moved since it was judged.
func (b *booking) keep(tx *store.Tx) error {
	head, err := tx.LockHead()
	if err != nil {
		return err
	}
	if head.Version != b.head.Version {
		return errMoved
	}
	if err := b.gathered.unmoved(tx, []site.ID{b.site.ID}, []scheduler.TechnicianID{b.technician.ID}); err != nil {
		return err
	}
	if err := b.gathered.fixedUnmoved(tx); err != nil {
		return err
	}
	route := firm.Route{Technician: b.day.Technician, Day: b.day.Day, Departs: b.day.Departs, Returns: b.day.Returns, Break: b.day.Break, Mixes: b.day.Mixes}
	var facts []firm.KeepOutFact
	for _, k := range b.keepOuts {
		facts = append(facts, firm.KeepOutFact{KeepOut: k, Visit: b.visit.ID})
	}
	for _, k := range b.shut { // of the visits that are written anew
		if slices.ContainsFunc(b.upsert, func(v scheduler.Visit) bool { return v.ID == k.Visit }) {
			facts = append(facts, k)
		}
	}
	if err := tx.ReplaceVisits(b.remove, append(b.upsert, b.visit), []firm.Route{route}, facts, ""); err != nil {
		return err
	}
	return sendNotices(tx, b.problem.Rules, []scheduler.Visit{b.visit})
}
