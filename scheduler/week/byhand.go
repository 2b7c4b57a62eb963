package week

import (
	"cmp"
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// FirstFit plans as an office does by hand: each service on its technician and day as a rule, or the next of their days that
// holds it; then each follow-up, in the order in which they fall due, into the first visit at its site on a day of its window
// that holds it, else as a visit of its own at the end of the first day, that of the usual technician first, whose route holds
// it. It mixes for each application and rinses after it; of the ways of a follow-up it knows those that are done in one go, so
// that plants are never carried away. What finds no place is left. Nothing is taken back: that is what by hand means.
func FirstFit(p scheduler.Problem, rates scheduler.Rates) scheduler.Plan {
	o := newOffice(&p)
	o.serve()
	for _, f := range o.inTurn() {
		if !o.ride(f) {
			o.ownVisit(f, false)
		}
	}
	return o.plan(rates)
}

// OwnTrips plans the services as FirstFit does, and each follow-up as a trip of its own from the base and back to it.
func OwnTrips(p scheduler.Problem, rates scheduler.Rates) scheduler.Plan {
	o := newOffice(&p)
	o.serve()
	for _, f := range o.inTurn() {
		o.ownVisit(f, true)
	}
	return o.plan(rates)
}

// serve puts the services into their usual visits.
func (o *office) serve() {
	for _, due := range o.occurrences() {
		s := o.sites[due.service.Site]
		days := slices.DeleteFunc(slices.Clone(o.days), func(d *day) bool {
			early := !due.service.Last.IsZero() && d.shift.Day < due.service.Last.AddDays(due.service.Earliest)
			usual := s.Agreement.UsualTechnician == "" || s.Agreement.UsualTechnician == string(d.technician.ID)
			return early || !usual
		})
		slices.SortStableFunc(days, func(a, b *day) int { return cmp.Compare(distance(a, due.ideal), distance(b, due.ideal)) })
		for _, d := range days {
			if o.take(d, s, due.id) {
				break
			}
		}
	}
}

// distance is how many days lie between a day and an ideal one; a later day counts before an earlier one that is as far.
func distance(d *day, ideal civil.Date) int {
	apart := d.shift.Day.DaysSince(ideal)
	if apart < 0 {
		return -2*apart + 1
	}
	return 2 * apart
}

// take puts an item into a visit that a day has at a site, else as a new visit where the way is shortest.
func (o *office) take(d *day, s *site.Site, id scheduler.ItemID) bool {
	if k := slices.IndexFunc(d.stops, func(x stop) bool { return x.site == s && !x.trip }); k >= 0 {
		return o.try(d, d.with(k, id))
	}
	type position struct{ at, longer int }
	var positions []position
	for at := range len(d.stops) + 1 {
		if stops := d.inserted(at, stop{site: s, items: []scheduler.ItemID{id}}); stops != nil {
			positions = append(positions, position{at, o.way(d, stops)})
		}
	}
	slices.SortStableFunc(positions, func(a, b position) int { return a.longer - b.longer })
	for _, p := range positions {
		if o.try(d, d.inserted(p.at, stop{site: s, items: []scheduler.ItemID{id}})) {
			return true
		}
	}
	return false
}

// way is how many seconds the stops of a day are apart.
func (o *office) way(d *day, stops []stop) int {
	total, at, n := 0, o.place[d.technician.Base], len(o.p.Travel.Places)
	for _, s := range stops {
		next := o.place[travel.PlaceID(s.site.ID)]
		total += int(o.p.Travel.Seconds[at*n+next])
		at = next
	}
	return total + int(o.p.Travel.Seconds[at*n+o.place[d.technician.Base]])
}

// inTurn are the follow-ups in the order in which they fall due, those that others count from first.
func (o *office) inTurn() []*scheduler.FollowUp {
	var all []*scheduler.FollowUp
	for i := range o.p.FollowUps {
		all = append(all, &o.p.FollowUps[i])
	}
	slices.SortStableFunc(all, func(a, b *scheduler.FollowUp) int { return int(a.Expected - b.Expected) })
	// What counts from another comes behind it, whatever the expected days say.
	var sorted []*scheduler.FollowUp
	seen := map[scheduler.ItemID]bool{}
	var add func(f *scheduler.FollowUp)
	add = func(f *scheduler.FollowUp) {
		if seen[f.ID] {
			return
		}
		seen[f.ID] = true
		if before := o.followUps[f.Due.After]; before != nil {
			add(before)
		}
		for _, id := range o.before[f.ID] {
			if before := o.followUps[id]; before != nil {
				add(before)
			}
		}
		sorted = append(sorted, f)
	}
	for _, f := range all {
		add(f)
	}
	return sorted
}

// ride puts a follow-up into the first visit at its site that holds it.
func (o *office) ride(f *scheduler.FollowUp) bool {
	earliest, until, ok := o.window(f)
	if !ok {
		return false
	}
	days := slices.Clone(o.at[f.Site])
	slices.SortStableFunc(days, func(a, b *day) int { return int(a.shift.Day - b.shift.Day) })
	for _, d := range days {
		if d.shift.Day < earliest || d.shift.Day > until {
			continue
		}
		for k := range d.stops {
			if d.stops[k].site.ID == f.Site && o.try(d, d.with(k, f.ID)) {
				return true
			}
		}
	}
	return false
}

// ownVisit puts a follow-up at the end of the first day that holds it.
func (o *office) ownVisit(f *scheduler.FollowUp, trip bool) bool {
	earliest, until, ok := o.window(f)
	if !ok {
		return false
	}
	s := o.sites[f.Site]
	usual := func(d *day) int {
		if s.Agreement.UsualTechnician == string(d.technician.ID) {
			return 0
		}
		return 1
	}
	days := slices.DeleteFunc(slices.Clone(o.days), func(d *day) bool { return d.shift.Day < earliest || d.shift.Day > until || !o.could(d, s, f) })
	slices.SortStableFunc(days, func(a, b *day) int {
		return cmp.Or(cmp.Compare(a.shift.Day, b.shift.Day), cmp.Compare(usual(a), usual(b)))
	})
	for _, d := range days {
		if stops := d.inserted(len(d.stops), stop{site: s, items: []scheduler.ItemID{f.ID}, trip: trip}); stops != nil && o.try(d, stops) {
			return true
		}
	}
	return false
}

// mostDrive is how far from a base an office sends somebody.
const mostDrive = 45 * time.Minute

// could says whether a technician may do a follow-up at all and is near, before a route is made for it.
func (o *office) could(d *day, s *site.Site, f *scheduler.FollowUp) bool {
	return o.mayEnter(d, s) && o.drive(d.technician, d.technician.Base, travel.PlaceID(s.ID)) <= mostDrive && slices.ContainsFunc(f.Ways, func(w scheduler.Way) bool {
		return len(w.Parts) == 1 && (w.Parts[0].Use == nil || o.mayApply(d, s, o.products[w.Parts[0].Use.Product]))
	})
}

// plan gathers the days into a plan and prices it. Where Check sees a breach that the hand rules do not know, the follow-up is
// called off, with what counts from it.
func (o *office) plan(rates scheduler.Rates) scheduler.Plan {
	for {
		plan := scheduler.Plan{Routes: []scheduler.DayRoute{}}
		for _, d := range o.days {
			if len(d.route.Visits) > 0 {
				plan.Routes = append(plan.Routes, d.route)
				for _, k := range d.keepOuts {
					plan.KeepOuts = append(plan.KeepOuts, k.KeepOut)
				}
			}
		}
		slices.SortStableFunc(plan.KeepOuts, func(a, b scheduler.KeepOut) int { return int(a.During.From - b.During.From) })
		if o.callOff(scheduler.Check(*o.p, plan)) {
			continue
		}
		plan.Unplanned = o.unplanned(rates)
		plan.Cost = Price(*o.p, plan, rates)
		return plan
	}
}

// callOff takes the follow-ups of breaches off their days, and says whether there were any.
func (o *office) callOff(violations []scheduler.Violation) bool {
	off := map[scheduler.ItemID]bool{}
	for _, v := range violations {
		if _, placed := o.placed[v.Item]; placed && o.followUps[v.Item] != nil {
			off[v.Item] = true
		}
	}
	for grown := len(off) > 0; grown; {
		grown = false
		for id, f := range o.followUps {
			if _, placed := o.placed[id]; placed && off[f.Due.After] && !off[id] {
				off[id], grown = true, true
			}
		}
	}
	for _, d := range o.days {
		stops := d.without(func(id scheduler.ItemID) bool { return off[id] })
		if slices.EqualFunc(stops, d.stops, func(a, b stop) bool { return len(a.items) == len(b.items) }) {
			continue
		}
		// What is left may want what went, such as the watering before a spray; then the services alone are left, or nothing.
		_ = o.try(d, stops) || o.try(d, d.without(func(id scheduler.ItemID) bool { return o.followUps[id] != nil })) || o.try(d, nil)
	}
	return len(off) > 0
}

// without are the stops of a day without some items; visits at one site that then follow one another become one.
func (d *day) without(goes func(scheduler.ItemID) bool) []stop {
	var stops []stop
	for _, s := range d.stops {
		s.items = slices.DeleteFunc(slices.Clone(s.items), goes)
		switch n := len(stops); {
		case len(s.items) == 0:
		case n > 0 && stops[n-1].site == s.site:
			stops[n-1].items = append(stops[n-1].items, s.items...)
		default:
			stops = append(stops, s)
		}
	}
	return stops
}
