package scheduler

import (
	"fmt"
	"slices"
	"time"
)

// treatment is all that one visit applies in one area with an interval before entry. Its area, those open to it and
// those reached only through one of them are shut from the beginning of its first application until the longest
// interval after the end of its last.
type treatment struct {
	visit    *visitIn
	area     AreaID
	work     []*placed // by beginning
	during   span
	untilDry bool
	shut     []AreaID
}

// readTreatments groups the applications of the plan by visit and area. Those that need no interval shut nothing.
func (c *checker) readTreatments() []*treatment {
	var all []*treatment
	for _, w := range c.work {
		if !w.applies() || w.Use.Entry == entryNone {
			continue
		}
		k := slices.IndexFunc(all, func(t *treatment) bool { return t.visit == w.visit && t.area == w.Area })
		if k < 0 {
			all = append(all, &treatment{visit: w.visit, area: w.Area, during: w.during(), shut: c.shutWith(w.Area)})
			k = len(all) - 1
		}
		t := all[k]
		t.work = append(t.work, w)
		t.during = span{From: min(t.during.From, w.Begins), To: max(t.during.To, w.Ends)}
		t.untilDry = t.untilDry || w.Use.Entry == entryUntilDry
	}
	for _, t := range all {
		t.during.To = t.during.To.Add(c.intervalAfter(t))
	}
	return all
}

// intervalAfter is how long an area stays shut after the end of its treatment: the longest interval of its applications,
// and where any of that lies outside the ventilation hours the longest that any of them asks for without ventilation; never
// less than the law's least at the site.
func (c *checker) intervalAfter(t *treatment) time.Duration {
	aired, unaired := time.Duration(0), time.Duration(0)
	for _, w := range t.work {
		aired, unaired = max(aired, w.Use.KeepOut), max(unaired, w.Use.KeepOut, w.Use.KeepOutUnventilated)
	}
	least := c.leastEntry(t.visit.Site)
	aired, unaired = max(aired, least), max(unaired, least)
	after := span{From: t.during.To, To: t.during.To.Add(aired)}
	if area := c.areas[t.area]; area != nil && len(outside(after, openRuns(area.Ventilation, area.site.Zone, after))) == 0 {
		return aired
	}
	return unaired
}

// leastEntry is the least interval before entry that the law asks for at a site after every application that has one.
func (c *checker) leastEntry(id SiteID) time.Duration {
	least := time.Duration(0)
	for _, e := range c.p.Rules.LeastEntry {
		if e.Site == id {
			least = max(least, e.Least)
		}
	}
	return least
}

// shutWith lists the areas that are shut with one: itself, those open to it (either of the two may say so), and, since
// nobody may pass, those reached only through one of these.
func (c *checker) shutWith(id AreaID) []AreaID {
	shut := []AreaID{id}
	area := c.areas[id]
	if area == nil {
		return shut
	}
	others := area.site.Areas
	for i := range others {
		if o := &others[i]; o.ID != id && (slices.Contains(o.OpenTo, id) || slices.Contains(area.OpenTo, o.ID)) {
			shut = append(shut, o.ID)
		}
	}
	for grown := true; grown; {
		grown = false
		for i := range others {
			if o := &others[i]; o.ReachedOnlyThrough != "" && slices.Contains(shut, o.ReachedOnlyThrough) && !slices.Contains(shut, o.ID) {
				shut, grown = append(shut, o.ID), true
			}
		}
	}
	return shut
}

// shutting is one reason why areas are shut: a treatment of the plan, or a keep-out that the Problem brings.
type shutting struct {
	name   string
	areas  []AreaID
	during span
	area   AreaID   // that is treated
	visit  *visitIn // nil for the Problem's
	item   ItemID   // of the Problem's
	fact   bool
}

// shuttings lists all of them. A keep-out of the Problem that a fixed visit of the plan makes is listed once.
func (c *checker) shuttings() []shutting {
	var all []shutting
	for _, t := range c.treatments {
		all = append(all, shutting{fmt.Sprintf("%s in %s", t.work[0].Item, t.area), t.shut, t.during, t.area, t.visit, "", t.visit.fact})
	}
	for _, k := range c.p.KeepOuts {
		again := slices.ContainsFunc(c.treatments, func(t *treatment) bool {
			return slices.Contains(t.shut, k.Area) && within(k.During, t.during) && slices.ContainsFunc(t.work, func(w *placed) bool { return w.Item == k.Item })
		})
		if !again {
			all = append(all, shutting{fmt.Sprintf("%s in %s", k.Item, k.Area), c.shutWith(k.Area), k.During, k.Area, nil, k.Item, true})
		}
	}
	return all
}

// shutSpans lists when an area is shut.
func (c *checker) shutSpans(id AreaID) []span {
	var spans []span
	for _, s := range c.shuttings() {
		if slices.Contains(s.areas, id) {
			spans = append(spans, s.during)
		}
	}
	return spans
}

// checkReentry judges the rule reentry: nobody works, mixes or rinses in a shut area but who makes the treatment, no
// hour with people overlaps it unless the client agreed to shut the area, and the plan says what it shuts.
func (c *checker) checkReentry() {
	for _, s := range c.shuttings() {
		for _, w := range c.work {
			c.outOfShut(s, w)
		}
		for _, r := range c.routes {
			for i := range r.Mixes {
				c.mixOutOfShut(s, r, i)
			}
		}
	}
	for _, t := range c.treatments {
		c.peopleOut(t)
		c.keepOutSaid(t)
	}
}

// outOfShut: no work inside. The applications of the treatment itself, those of its visit in its area, are excepted, in
// the label's protective equipment. Other work of that visit there, inspections too, and its applications in other areas
// that the treatment shuts come before.
//
// An area that is not yet confirmed dry asks nothing more of a plan: the confirmation is the first step of whatever visit
// comes next, so that every application of a plan comes after it.
func (c *checker) outOfShut(s shutting, w *placed) {
	mine := w.applies() && (w.visit == s.visit && w.Area == s.area || s.visit == nil && w.Item == s.item)
	if mine || !overlap(w.during(), s.during) {
		return
	}
	for _, id := range c.areasOf(w) {
		if slices.Contains(s.areas, id) {
			at := w.where()
			at.Area, at.Standing = id, at.Standing && s.fact
			c.report(RuleReentry, at, "%s works on %s in %s at %s, which is shut by %s from %s: nobody may enter until then, and other work of that visit there comes before",
				w.visit.route.Technician, w.Item, id, c.clock(w.visit.site, w.Begins), s.name, c.stretch(w.visit.site, s.during))
			return
		}
	}
}

func (c *checker) mixOutOfShut(s shutting, r *routeIn, i int) {
	m := &r.Mixes[i]
	at := r.where()
	at.Site, at.Area, at.Standing = m.Site, m.Area, s.fact && c.mixIsFact(r, i)
	mixing := span{From: m.Begins, To: m.Ready}
	if slices.Contains(s.areas, m.Area) && overlap(mixing, s.during) {
		at.During = mixing
		c.report(RuleReentry, at, "%s mixes %s in %s at %s, which is shut by %s from %s: mix elsewhere or before",
			r.Technician, m.Product, m.Area, c.clock(c.sites[m.Site], m.Begins), s.name, c.stretch(c.sites[m.Site], s.during))
	}
	rinsedAt := visitAt(r, m.Rinse)
	if m.RinseAtBase || rinsedAt == nil || rinsedAt.site == nil || none(m.Rinse) {
		return
	}
	if water := rinsedAt.site.Water.Area; slices.Contains(s.areas, water) && overlap(m.Rinse, s.during) {
		at.During, at.Site, at.Area = m.Rinse, rinsedAt.Site, water
		c.report(RuleReentry, at, "%s rinses %s in %s at %s, which is shut by %s from %s: rinse at the base on return",
			r.Technician, m.Vessel, water, c.clock(rinsedAt.site, m.Rinse.From), s.name, c.stretch(rinsedAt.site, s.during))
	}
}

// visitAt is the visit of a route that holds a span, or nil.
func visitAt(r *routeIn, v span) *visitIn {
	for _, visit := range r.visits {
		if within(v, span{From: visit.Arrives, To: visit.Leaves}) {
			return visit
		}
	}
	return nil
}

// peopleOut: no hour with people in any of the shut areas, but where the client agreed to shut that one.
func (c *checker) peopleOut(t *treatment) {
	for _, id := range t.shut {
		area := c.areas[id]
		if area == nil {
			continue
		}
		var agreed []span
		for _, shut := range area.site.Agreement.ShutAreas {
			if shut.Area == id {
				agreed = append(agreed, span{From: shut.From, To: shut.To})
			}
		}
		for _, open := range outside(t.during, joined(agreed)) {
			for _, people := range openRuns(area.People, area.site.Zone, open) {
				inside := meet(people, open)
				if none(inside) {
					continue
				}
				at := t.work[0].where()
				at.Area, at.During = id, inside
				c.report(RuleReentry, at, "people are in %s %s while %s shuts it (%s): no hour with people may lie in that time unless the client agrees to shut it",
					id, c.stretch(area.site, inside), t.work[0].Item, c.stretch(area.site, t.during))
			}
		}
	}
}

// makes says whether a keep-out names this treatment: its technician, one of its items, and that item's product.
func (t *treatment) makes(k KeepOut) bool {
	return k.By == t.visit.Technician && slices.ContainsFunc(t.work, func(w *placed) bool { return w.Item == k.Item && w.Use.Product == k.Product })
}

// keepOutSaid: for each area that a treatment shuts, the plan's keep-outs cover the whole time, and say that a
// confirmation that it is dry is asked where it is.
func (c *checker) keepOutSaid(t *treatment) {
	if t.visit.fact && t.during.To <= c.p.Now {
		return
	}
	for _, id := range t.shut {
		var said []span
		dry := false
		for _, k := range c.plan.KeepOuts {
			if k.Area == id && t.makes(k) {
				said = append(said, k.During)
				dry = dry || k.UntilDry && overlap(k.During, t.during)
			}
		}
		at := t.work[0].where()
		at.Area, at.During = id, t.during
		if missing := outside(t.during, joined(said)); len(missing) > 0 {
			c.report(RuleReentry, at, "the plan does not say that %s is shut %s: %s shuts it %s", id,
				c.stretch(t.visit.site, missing[0]), t.work[0].Item, c.stretch(t.visit.site, t.during))
		}
		if t.untilDry && !dry && id == t.area {
			c.report(RuleReentry, at, "the plan does not say that %s must be confirmed dry after %s", id, t.work[0].Item)
		}
	}
}
