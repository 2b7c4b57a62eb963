package scheduler

import (
	"slices"
	"time"
)

// workAsAsked: a work item is one that the Problem holds, at its site, with its plants, its time and its product.
// Of facts nothing is asked that the Problem no longer holds.
func (c *checker) workAsAsked(w *placed) {
	at := w.where()
	switch {
	case w.follow != nil:
		c.partAsAsked(w)
	case w.service != nil:
		c.serviceAsAsked(w)
	case !w.visit.fact:
		c.report(RuleShift, at, "item %q is not in the Problem: plan its follow-ups, and occurrences of its services as service-id#1", w.Item)
	}
}

func (c *checker) partAsAsked(w *placed) {
	at, f := w.where(), w.follow
	if w.visit.Site != f.Site {
		c.report(RuleShift, at, "%s is planned at %s: its plants are at %s", w.Item, w.visit.Site, f.Site)
	}
	if w.way == nil {
		c.report(RuleShift, at, "%s goes by way %q, which it does not have", w.Item, w.Way)
		return
	}
	if w.part == nil || w.part.Kind == WaitPart {
		c.report(RuleShift, at, "%s names part %d of way %s: want one of its %d parts that is no wait", w.Item, w.Part, w.Way, len(w.way.Parts))
		return
	}
	if w.Kind != "" && w.Kind != f.Kind {
		c.report(RuleShift, at, "%s is called %s: it is %s", w.Item, w.Kind, f.Kind)
	}
	if w.part.Persons > 1 {
		c.report(RuleShift, at, "%s needs %d persons: work for two is not planned, for technicians are not paired", w.Item, w.part.Persons)
	}
	if w.Area != w.part.Area {
		c.report(RuleShift, at, "%s is done in area %q: part %d of way %s lies in %q", w.Item, w.Area, w.Part, w.Way, w.part.Area)
	}
	if took := w.during().Length(); took != w.part.Takes {
		c.report(RuleShift, at, "%s lasts %v (%s): part %d of way %s takes %v", w.Item, took, c.stretch(w.visit.site, w.during()), w.Part, w.Way, w.part.Takes)
	}
	if !sameSet(w.Plants, f.Plants) {
		c.report(RuleShift, at, "%s is done on plants %s: it is for %s", w.Item, list(w.Plants), list(f.Plants))
	}
	if !sameUse(w.Use, w.part.Use) {
		c.report(RuleShift, at, "%s does not use what part %d of way %s uses: product, method, doses and interval must be those of the way", w.Item, w.Part, w.Way)
	}
}

func (c *checker) serviceAsAsked(w *placed) {
	at, s := w.where(), w.service
	if w.visit.Site != s.Site {
		c.report(RuleShift, at, "%s is planned at %s: the service is for %s", w.Item, w.visit.Site, s.Site)
	}
	if w.Service != s.Kind {
		c.report(RuleShift, at, "%s is called %q: the service is %s", w.Item, w.Service, s.Kind)
	}
	if w.Use != nil {
		c.report(RuleShift, at, "%s applies %s: a service applies nothing", w.Item, w.Use.Product)
	}
	takes := time.Duration(0)
	for _, id := range w.Plants {
		k := slices.IndexFunc(s.Groups, func(g ServiceGroup) bool { return g.Plant == id })
		if k < 0 {
			c.report(RuleShift, at, "%s is done on plant %s, which is not of service %s", w.Item, id, s.ID)
			continue
		}
		takes += time.Duration(s.Groups[k].Minutes) * time.Minute
	}
	if took := w.during().Length(); took != takes {
		c.report(RuleShift, at, "%s lasts %v (%s): the minutes of its plants are %v", w.Item, took, c.stretch(w.visit.site, w.during()), takes)
	}
}

// workOnce: no part of a follow-up and no plant of an occurrence is placed twice, and nothing is planned that was done.
func (c *checker) workOnce() {
	type once struct {
		item  ItemID
		part  int
		plant PlantID
	}
	seen := map[once]*placed{}
	for _, w := range c.work {
		if c.done[w.Item] != nil && !w.visit.fact {
			c.report(RuleShift, w.where(), "%s is planned though it was done at %s", w.Item, c.clock(w.visit.site, c.done[w.Item].begins))
		}
		keys := []once{{w.Item, w.Part, ""}}
		if w.follow == nil {
			keys = keys[:0]
			for _, plant := range w.Plants {
				keys = append(keys, once{w.Item, 0, plant})
			}
		}
		for _, key := range keys {
			first := seen[key]
			if first == nil {
				seen[key] = w
				continue
			}
			at := w.where()
			at.Standing = at.Standing && first.visit.fact
			c.report(RuleShift, at, "%s is planned twice, at %s and at %s: once is right", w.Item, c.clock(first.visit.site, first.Begins), c.clock(w.visit.site, w.Begins))
			break
		}
	}
}

func sameSet(a, b []PlantID) bool {
	x, y := slices.Clone(a), slices.Clone(b)
	slices.Sort(x)
	slices.Sort(y)
	return slices.Equal(x, y)
}

// sameUse compares what is applied; amounts are compared exactly, whatever their units.
func sameUse(a, b *Use) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a.Product == b.Product && a.Method == b.Method && a.ReservePercent == b.ReservePercent &&
		a.Entry == b.Entry && a.KeepOut == b.KeepOut && a.KeepOutUnventilated == b.KeepOutUnventilated &&
		slices.EqualFunc(a.Doses, b.Doses, func(x, y Dose) bool { return x.Plant == y.Plant && x.Amount.Equal(y.Amount) })
}
