package scheduler

import (
	"cmp"
	"slices"
	"time"

	"vernation/scheduler/travel"
)

// checkShift judges the rule shift: one technician is at one place at a time, travel lies between places, work and
// breaks lie in the shift, the day route begins and ends at the base, and the work is what the Problem asks for.
func (c *checker) checkShift() {
	for _, r := range c.routes {
		if r.tech == nil {
			c.report(RuleShift, r.where(), "technician %q of the route of %v is not in the Problem: name one of its technicians", r.Technician, r.Day)
			continue
		}
		c.routeInShift(r)
		c.routeFromNow(r)
		c.travelOfRoute(r)
		c.visitsOfRoute(r)
		c.oneThingAtATime(r)
		c.breakOfRoute(r)
	}
	c.routesApart()
	for _, w := range c.work {
		c.workAsAsked(w)
	}
	c.workOnce()
}

// routeInShift: the route lies in a shift of its day, on a day of the horizon, and not over the longest work time.
func (c *checker) routeInShift(r *routeIn) {
	at := r.where()
	if last := c.p.FirstDay.AddDays(c.p.Days - 1); !at.Standing && (r.Day < c.p.FirstDay || r.Day > last) {
		c.report(RuleShift, at, "%s's route of %v lies outside the horizon of %v to %v", r.tech.Name, r.Day, c.p.FirstDay, last)
	}
	whole := span{From: r.Departs, To: r.Returns}
	switch {
	case r.shift == nil:
		c.report(RuleShift, at, "%s has no shift on %v: plan the route on a day with one", r.tech.Name, r.Day)
	case none(whole):
		c.report(RuleShift, at, "%s's route of %v returns at %s, not after it departs at %s", r.tech.Name, r.Day, c.clock(nil, r.Returns), c.clock(nil, r.Departs))
	case !within(whole, r.shift.During):
		at.Standing = at.Standing || r.Returns <= r.shift.During.To && c.departsForFact(r)
		c.report(RuleShift, at, "%s is under way %s, outside the shift of %v (%s): the route must depart and return inside it",
			r.tech.Name, c.stretch(nil, whole), r.Day, c.stretch(nil, r.shift.During))
	}
	if worked := c.workTime(r); c.p.Rules.MostWork > 0 && worked > c.p.Rules.MostWork {
		c.report(RuleShift, at, "%s works %v on %v: the longest work time of a day is %v", r.tech.Name, worked, r.Day, c.p.Rules.MostWork)
	}
}

// departsForFact says whether a route departs when it does because its first visit is a fact: no sooner than the way to it
// takes, and the break where it lies on that way.
func (c *checker) departsForFact(r *routeIn) bool {
	if len(r.visits) == 0 || !r.visits[0].fact {
		return false
	}
	first := r.visits[0]
	drive, known := c.driveTime(r.tech, r.tech.Base, travel.PlaceID(first.Site))
	way := span{From: r.Departs, To: first.Arrives}
	return known && way.Length() <= drive+max(0, meet(r.Break, way).Length())
}

// workTime is return - departure - break, and what Progress says was worked before where no fact shows it.
func (c *checker) workTime(r *routeIn) time.Duration {
	worked := r.Returns.Sub(r.Departs) - max(0, r.Break.Length())
	if p := c.progressOf(r); p != nil && firstFact(r) == nil {
		worked += p.Worked
	}
	return worked
}

// progressOf is the technician's progress where the route is of the shift that runs now, else nil.
func (c *checker) progressOf(r *routeIn) *Progress {
	if r.shift == nil || c.p.Now < r.shift.During.From || c.p.Now >= r.shift.During.To {
		return nil
	}
	for i := range c.p.Progress {
		if c.p.Progress[i].Technician == r.Technician {
			return &c.p.Progress[i]
		}
	}
	return nil
}

func firstFact(r *routeIn) *visitIn {
	for _, v := range r.visits {
		if v.fact {
			return v
		}
	}
	return nil
}

// routeFromNow: nothing new begins before now, nor before the technician who is under way comes free.
func (c *checker) routeFromNow(r *routeIn) {
	if at := r.where(); firstFact(r) == nil && r.Departs < c.p.Now {
		c.report(RuleShift, at, "%s departs at %s, before now (%s): nothing new begins before it", r.tech.Name, c.clock(nil, r.Departs), c.clock(nil, c.p.Now))
	}
	progress := c.progressOf(r)
	for _, v := range r.visits {
		if c.isFixed(v.Visit) {
			if v.Arrives >= c.p.Now {
				progress = nil // the way goes on from there
			}
			continue
		}
		if v.Arrives < c.p.Now {
			at := v.where()
			at.Standing = false
			c.report(RuleShift, at, "the visit at %s arrives at %s, before now (%s), and is not fixed", v.Site, c.clock(v.site, v.Arrives), c.clock(v.site, c.p.Now))
			continue
		}
		if progress == nil {
			continue
		}
		if drive, ok := c.driveTime(r.tech, progress.At, travel.PlaceID(v.Site)); ok && progress.FreeFrom.Add(drive) > v.Arrives {
			c.report(RuleShift, v.where(), "%s is under way, free at %s from %s: no earlier arrival at %s than %s, not %s",
				r.tech.Name, progress.At, c.clock(v.site, progress.FreeFrom), v.Site, c.clock(v.site, progress.FreeFrom.Add(drive)), c.clock(v.site, v.Arrives))
		}
		return
	}
}

// halt is a place where a route stays for a while: the base, a site, the base for a rinse.
type halt struct {
	place  travel.PlaceID
	during span
	visit  *visitIn // nil at the base
}

// halts lists where a route stays, in order of time; it begins at the base, or where the technician under way is.
func (c *checker) halts(r *routeIn) []halt {
	var between []halt
	for _, v := range r.visits {
		between = append(between, halt{travel.PlaceID(v.Site), span{From: v.Arrives, To: v.Leaves}, v})
	}
	for _, m := range r.Mixes {
		if m.RinseAtBase && !none(m.Rinse) {
			between = append(between, halt{r.tech.Base, m.Rinse, nil})
		}
	}
	slices.SortStableFunc(between, func(a, b halt) int { return cmp.Compare(a.during.From, b.during.From) })
	start := r.tech.Base
	if p := c.progressOf(r); p != nil && firstFact(r) == nil {
		start = p.At
	}
	all := append([]halt{{start, span{From: r.Departs, To: r.Departs}, nil}}, between...)
	return append(all, halt{r.tech.Base, span{From: r.Returns, To: r.Returns}, nil})
}

// travelOfRoute: the time between two halts holds the travel between them, and the break where it lies there.
func (c *checker) travelOfRoute(r *routeIn) {
	halts := c.halts(r)
	for i := 1; i < len(halts); i++ {
		a, b := halts[i-1], halts[i]
		at := r.where()
		at.During = span{From: a.during.To, To: b.during.From}
		var site *Site
		at.Standing = (a.visit == nil || a.visit.fact) && (b.visit == nil || b.visit.fact) && (a.visit != nil || b.visit != nil)
		if b.visit != nil {
			at.Site, site = b.visit.Site, b.visit.site
		}
		if a.visit != nil && b.visit != nil && a.place == b.place {
			c.report(RuleShift, at, "two visits at %s follow one another (%s and %s): they are one visit, waits included",
				a.place, c.clock(site, a.visit.Arrives), c.clock(site, b.visit.Arrives))
		}
		drive, ok := c.driveTime(r.tech, a.place, b.place)
		if !ok {
			c.report(RuleShift, at, "%s cannot travel from %q to %q: the matrix does not hold both", r.tech.Name, a.place, b.place)
			continue
		}
		rest := time.Duration(0)
		if pause := meet(r.Break, at.During); !none(pause) {
			rest = pause.Length()
		}
		if at.During.Length() < drive+rest {
			c.report(RuleShift, at, "%s leaves %s at %s and is at %s at %s: travel takes %v%s, so not before %s",
				r.tech.Name, a.place, c.clock(site, a.during.To), b.place, c.clock(site, b.during.From), drive,
				afterBreak(rest), c.clock(site, a.during.To.Add(drive+rest)))
		}
	}
}

func afterBreak(rest time.Duration) string {
	if rest == 0 {
		return ""
	}
	return " and the break there " + rest.String()
}

// visitsOfRoute: each visit is the route's technician's, at a known site, with that site's sign-in, and holds its work.
func (c *checker) visitsOfRoute(r *routeIn) {
	for _, v := range r.visits {
		at := v.where()
		if v.Technician != r.Technician {
			c.report(RuleShift, at, "the visit at %s is %q's but stands in the route of %q", v.Site, v.Technician, r.Technician)
		}
		if v.site == nil {
			c.report(RuleShift, at, "site %q is not in the Problem: visit one of its sites", v.Site)
			continue
		}
		if v.SignIn != v.site.SignIn {
			c.report(RuleShift, at, "the visit at %s signs in for %v: parking and sign-in there take %v", v.Site, v.SignIn, v.site.SignIn)
		}
		whole := span{From: v.Arrives, To: v.Leaves}
		if signIn := (span{From: v.Arrives, To: v.Arrives.Add(v.SignIn)}); v.Leaves < v.Arrives || !within(signIn, whole) {
			c.report(RuleShift, at, "the visit at %s lasts %s: it does not hold its own sign-in of %v", v.Site, c.stretch(v.site, whole), v.SignIn)
		}
		for _, w := range v.work {
			if !within(w.during(), whole) {
				c.report(RuleShift, w.where(), "%s is done %s, outside its visit at %s (%s)", w.Item, c.stretch(v.site, w.during()), v.Site, c.stretch(v.site, whole))
			}
		}
	}
}

// doing is one stretch of a technician's time, for oneThingAtATime.
type doing struct {
	what   string
	during span
	site   *Site
	fact   bool
}

// doings lists what a technician does on a route beside travel and waiting, by beginning.
func (c *checker) doings(r *routeIn) []doing {
	var all []doing
	for _, v := range r.visits {
		all = append(all, doing{"sign-in at " + string(v.Site), span{From: v.Arrives, To: v.Arrives.Add(v.SignIn)}, v.site, v.fact})
		for _, w := range v.work {
			all = append(all, doing{string(w.Item), w.during(), v.site, v.fact})
		}
	}
	for i := range r.Mixes {
		m := &r.Mixes[i]
		fact := c.mixIsFact(r, i)
		all = append(all,
			doing{"mixing " + string(m.Product), span{From: m.Begins, To: m.Ready}, c.sites[m.Site], fact},
			doing{"rinsing " + string(m.Vessel), m.Rinse, c.sites[m.Site], fact})
	}
	all = append(all, doing{"the break", r.Break, nil, true})
	all = slices.DeleteFunc(all, func(d doing) bool { return none(d.during) })
	slices.SortStableFunc(all, func(a, b doing) int { return cmp.Compare(a.during.From, b.during.From) })
	return all
}

func (c *checker) oneThingAtATime(r *routeIn) {
	all := c.doings(r)
	for i := 1; i < len(all); i++ {
		longest := all[0]
		for _, before := range all[1:i] {
			if before.during.To > longest.during.To {
				longest = before
			}
		}
		if d := all[i]; overlap(longest.during, d.during) {
			at := r.where()
			at.During, at.Standing = meet(longest.during, d.during), longest.fact && d.fact && firstFact(r) != nil
			c.report(RuleShift, at, "%s does two things at once: %s (%s) and %s (%s); one must end before the other begins",
				r.tech.Name, longest.what, c.stretch(d.site, longest.during), d.what, c.stretch(d.site, d.during))
		}
	}
}

// breakOfRoute: a break is due when the time from departure to return exceeds BreakAfter, and only then is one taken, for
// it is not paid; it lasts as long as it takes, no longer, lies in its window and on the way, and not at a site all of
// whose areas are shut then: a break needs no place but may not be spent in a kept-out one. That it overlaps nothing,
// sign-in and travel included, is asked elsewhere.
func (c *checker) breakOfRoute(r *routeIn) {
	if r.shift == nil || r.shift.BreakTakes == 0 {
		return
	}
	at := r.where()
	due := c.workTime(r)+max(0, r.Break.Length()) > c.p.Rules.BreakAfter && c.p.Rules.BreakAfter > 0
	if none(r.Break) {
		if due {
			c.report(RuleShift, at, "%s works %v on %v without a break: above %v a break of %v is due in %s",
				r.tech.Name, c.workTime(r), r.Day, c.p.Rules.BreakAfter, r.shift.BreakTakes, c.stretch(nil, r.shift.BreakWindow))
		}
		return
	}
	at.During = r.Break
	if !due {
		c.report(RuleShift, at, "%s takes a break on %v, where no break is due: it is due above %v of work", r.tech.Name, r.Day, c.p.Rules.BreakAfter)
	}
	if r.Break.Length() != r.shift.BreakTakes {
		c.report(RuleShift, at, "%s's break of %v lasts %v: it takes %v", r.tech.Name, r.Day, r.Break.Length(), r.shift.BreakTakes)
	}
	if !within(r.Break, r.shift.BreakWindow) {
		c.report(RuleShift, at, "%s's break of %v lies at %s, outside its window %s", r.tech.Name, r.Day, c.stretch(nil, r.Break), c.stretch(nil, r.shift.BreakWindow))
	}
	if !within(r.Break, span{From: r.Departs, To: r.Returns}) {
		c.report(RuleShift, at, "%s's break of %v lies at %s, outside the route", r.tech.Name, r.Day, c.stretch(nil, r.Break))
	}
	for _, v := range r.visits {
		if pause := meet(r.Break, span{From: v.Arrives, To: v.Leaves}); v.site != nil && !none(pause) && c.allShut(v.site, pause) {
			c.report(RuleShift, at, "%s's break lies at %s while every area there is shut (%s): take it elsewhere", r.tech.Name, v.Site, c.stretch(v.site, pause))
		}
	}
}

// allShut says whether each area of a site is kept out at some instant of a span.
func (c *checker) allShut(s *Site, v span) bool {
	for i := range s.Areas {
		shut := slices.ContainsFunc(c.shutSpans(s.Areas[i].ID), func(k span) bool { return overlap(k, v) })
		if !shut {
			return false
		}
	}
	return len(s.Areas) > 0
}

// routesApart: no technician is on two routes at once.
func (c *checker) routesApart() {
	sorted := slices.Clone(c.routes)
	slices.SortStableFunc(sorted, func(a, b *routeIn) int {
		return cmp.Or(cmp.Compare(a.Technician, b.Technician), cmp.Compare(a.Departs, b.Departs))
	})
	for i := 1; i < len(sorted); i++ {
		a, b := sorted[i-1], sorted[i]
		if a.Technician == b.Technician && b.Departs < a.Returns {
			at := b.where()
			at.Standing = at.Standing && a.where().Standing
			c.report(RuleShift, at, "technician %s is on two routes at once: that of %v returns at %s, that of %v departs at %s",
				a.Technician, a.Day, c.clock(nil, a.Returns), b.Day, c.clock(nil, b.Departs))
		}
	}
}
