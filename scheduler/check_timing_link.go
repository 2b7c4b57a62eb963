package scheduler

import (
	"cmp"
	"slices"
	"strings"
)

// named returns the items that an id of a link means, done or planned: an item, or every occurrence of a service.
func (c *checker) named(id ItemID) []*itemIn {
	if i := c.really(id); i != nil {
		return []*itemIn{i}
	}
	if c.services[string(id)] == nil {
		return nil
	}
	var all []*itemIn
	for _, items := range []map[ItemID]*itemIn{c.done, c.items} {
		for _, i := range items {
			if name, _, _ := strings.Cut(string(i.id), "#"); name == string(id) {
				all = append(all, i)
			}
		}
	}
	slices.SortFunc(all, func(a, b *itemIn) int { return cmp.Or(cmp.Compare(a.begins, b.begins), cmp.Compare(a.id, b.id)) })
	return all
}

// linkKept judges one link. LeastLag, Order and SameVisit hold where both items are planned or done; Needs asks for
// From; InsteadOf is judged with the services' occurrences.
func (c *checker) linkKept(link Link) {
	from, to := c.named(link.From), c.named(link.To)
	if link.Kind == Needs {
		c.needed(link, from, to)
		return
	}
	for _, a := range from {
		for _, b := range to {
			if len(b.work) == 0 {
				continue // what was done is a fact of the Problem, not of the plan
			}
			switch link.Kind {
			case LeastLag:
				c.leastLag(link, a, b)
			case Order:
				if b.begins < a.ends {
					c.report(RuleTiming, both(a, b), "%s begins at %s: it comes after %s, which ends at %s", b.id, c.clockOf(b, b.begins), a.id, c.clockOf(b, a.ends))
				}
			case SameVisit:
				if len(a.work) > 0 && a.work[0].visit != b.work[0].visit {
					c.report(RuleTiming, both(a, b), "%s and %s are on two visits: they are linked to one", a.id, b.id)
				}
			case Not:
				c.marked(link, a, b)
			}
		}
	}
}

// both is where b breaks a link with a; it is standing when both are facts.
func both(a, b *itemIn) Violation {
	at := b.where()
	at.Standing = a.fact && b.fact
	return at
}

func (c *checker) needed(link Link, from, to []*itemIn) {
	for _, b := range to {
		if len(b.work) == 0 {
			continue
		}
		before := slices.ContainsFunc(from, func(a *itemIn) bool { return a.begins < b.begins })
		if !before {
			c.report(RuleTiming, b.where(), "%s is planned at %s without %s before it, planned or done", b.id, c.clockOf(b, b.begins), link.From)
		}
	}
}

// leastLag counts days between the dates of the beginnings in the later item's zone, hours from end to beginning. Of a
// service that is linked as a whole only the occurrences from the other item on are meant.
func (c *checker) leastLag(link Link, a, b *itemIn) {
	whole := link.From != a.id || link.To != b.id
	if whole && b.begins < a.begins {
		return
	}
	if soonest := a.dateIn(b.zone).AddDays(link.Days); b.date() < soonest {
		c.report(RuleTiming, both(a, b), "%s begins on %v, %d days after %s (%v): at least %d days lie between them, so not before %v",
			b.id, b.date(), b.date().DaysSince(a.dateIn(b.zone)), a.id, a.dateIn(b.zone), link.Days, soonest)
	}
	if soonest := a.ends.Add(link.Hours); link.Hours > 0 && b.begins < soonest {
		c.report(RuleTiming, both(a, b), "%s begins at %s: at least %v lie between the end of %s and it, so not before %s",
			b.id, c.clockOf(b, b.begins), link.Hours, a.id, c.clockOf(b, soonest))
	}
}

// marked: while a Not link holds, the work items of the service on the same plants are marked. It holds for Days civil
// days from the beginning of From and for Hours from its end, whichever is longer; with neither, for good.
func (c *checker) marked(link Link, a, b *itemIn) {
	if b.begins < a.begins {
		return
	}
	holds := link.Days == 0 && link.Hours == 0 ||
		link.Days > 0 && b.date() < a.dateIn(b.zone).AddDays(link.Days) ||
		link.Hours > 0 && b.begins < a.ends.Add(link.Hours)
	for _, w := range b.work {
		shared := len(a.plants) == 0 || slices.ContainsFunc(w.Plants, func(id PlantID) bool { return slices.Contains(a.plants, id) })
		if holds && shared && !w.Marked {
			at := w.where()
			at.Standing = at.Standing && a.fact
			c.report(RuleTiming, at, "%s is not marked though %s (%s) still holds: water, but let nothing run through", w.Item, a.id, c.clockOf(b, a.begins))
		}
	}
}
