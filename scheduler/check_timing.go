package scheduler

import (
	"cmp"
	"slices"

	"vernation/scheduler/civil"
)

// checkTiming judges the rule timing: days and lags of follow-ups, the parts of their ways, links, the least lags of
// services, and the order of health inside a visit.
func (c *checker) checkTiming() {
	for _, w := range c.work {
		if i := c.items[w.Item]; w.follow != nil && i.work[0] == w {
			c.dueInTime(w.follow, i)
			c.partsInOrder(i)
		}
		c.beginsInWindow(w)
	}
	for _, link := range c.p.Links {
		c.linkKept(link)
	}
	c.servicesInTime()
	for _, r := range c.routes {
		for _, v := range r.visits {
			c.cleanFirst(v)
		}
	}
}

func (i *itemIn) where() Violation {
	at := i.work[0].where()
	at.During = span{From: i.begins, To: i.ends}
	at.Standing = i.fact
	return at
}

// dueInTime: no follow-up before its earliest day, after its stands-until day, or without the one before it.
// Lags count civil days of the site's zone between the beginnings. An unset stands-until (lag 0) always stands.
func (c *checker) dueInTime(f *FollowUp, i *itemIn) {
	due, day := f.Due, i.date()
	earliest, until := due.EarliestOn, due.StandsUntilOn
	if due.After != "" {
		before := c.really(due.After)
		if before == nil {
			c.report(RuleTiming, i.where(), "%s is planned on %v without %s, which it follows and which is neither planned nor done", f.ID, day, due.After)
			return
		}
		at := i.where()
		at.Standing = i.fact && before.fact
		if i.begins < before.begins {
			c.report(RuleTiming, at, "%s begins at %s, before %s, which it follows (%s)", f.ID, c.clockOf(i, i.begins), due.After, c.clockOf(i, before.begins))
		}
		earliest, until = before.dateIn(i.zone).AddDays(due.EarliestLag), 0
		if due.StandsUntilLag > 0 {
			until = before.dateIn(i.zone).AddDays(due.StandsUntilLag)
		}
	}
	if !earliest.IsZero() && day < earliest {
		c.report(RuleTiming, i.where(), "%s begins on %v: its earliest day is %v", f.ID, day, earliest)
	}
	if !until.IsZero() && day > until {
		c.report(RuleTiming, i.where(), "%s begins on %v: it stands until %v only", f.ID, day, until)
	}
}

// really is an item as it was done or else as it is planned; nil when neither.
func (c *checker) really(id ItemID) *itemIn {
	if done := c.done[id]; done != nil {
		return done
	}
	return c.items[id]
}

func (i *itemIn) dateIn(z civil.Zone) civil.Date { return z.DateOf(i.begins) }

func (c *checker) clockOf(i *itemIn, at civil.Instant) string {
	if len(i.work) == 0 {
		return c.clock(nil, at)
	}
	return c.clock(i.work[0].visit.site, at)
}

// partsInOrder: each part of the chosen way but its waits is placed, in order; up to a wait on one visit without a gap
// but for mixing; after a wait no earlier than it takes; and what was carried out comes back within MostAway,
// counted from the end of the carry out to the beginning of the carry back.
func (c *checker) partsInOrder(i *itemIn) {
	way := i.work[0].way
	if way == nil || slices.ContainsFunc(i.work, func(w *placed) bool { return w.part == nil }) {
		return // told as a breach of shift
	}
	var before *placed
	waited := false // a wait lies between before and the next part
	var wait Part
	var out *placed
	for n, part := range way.Parts {
		if part.Kind == WaitPart {
			waited, wait = true, part
			continue
		}
		k := slices.IndexFunc(i.work, func(w *placed) bool { return w.Part == n && w.way == way })
		if k < 0 {
			c.report(RuleTiming, i.where(), "%s is planned without part %d (%s) of way %s: all parts are planned or none", i.id, n, part.Kind, way.ID)
			continue
		}
		next := i.work[k]
		if before != nil && waited {
			c.afterWait(before, next, wait)
		} else if before != nil {
			c.rightAfter(before, next)
		}
		if part.Kind == CarryOutPart {
			out = next
		}
		if part.Kind == CarryBackPart && out != nil && way.MostAway > 0 && next.Begins.Sub(out.Ends) > way.MostAway {
			c.report(RuleTiming, next.where(), "%s brings its plants back at %s, %v after they were carried out: at most %v is agreed",
				i.id, c.clock(next.visit.site, next.Begins), next.Begins.Sub(out.Ends), way.MostAway)
		}
		before, waited = next, false
	}
}

func (c *checker) afterWait(before, next *placed, wait Part) {
	if free := before.Ends.Add(wait.Takes); next.Begins < free {
		at := next.where()
		at.Standing = at.Standing && before.visit.fact
		c.report(RuleTiming, at, "%s goes on at %s: it waits %v after %s, until %s", next.Item, c.clock(next.visit.site, next.Begins), wait.Takes,
			c.clock(next.visit.site, before.Ends), c.clock(next.visit.site, free))
	}
}

func (c *checker) rightAfter(before, next *placed) {
	at := next.where()
	at.Standing = at.Standing && before.visit.fact
	gap := span{From: before.Ends, To: next.Begins}
	switch {
	case before.visit != next.visit:
		c.report(RuleTiming, at, "parts %d and %d of %s are on two visits: without a wait between them they are on one", before.Part, next.Part, next.Item)
	case next.Begins < before.Ends:
		c.report(RuleTiming, at, "part %d of %s begins at %s, before part %d ends", next.Part, next.Item, c.clock(next.visit.site, next.Begins), before.Part)
	case len(outside(gap, c.mixings[next.visit.route])) > 0:
		c.report(RuleTiming, at, "part %d of %s begins at %s: it comes right after part %d (%s), only mixing may lie between", next.Part, next.Item,
			c.clock(next.visit.site, next.Begins), before.Part, c.clock(next.visit.site, before.Ends))
	}
}

// beginsInWindow: a part with windows begins in one of them, on whatever day.
func (c *checker) beginsInWindow(w *placed) {
	if w.part == nil || len(w.part.Windows) == 0 {
		return
	}
	begins := span{From: w.Begins, To: w.Begins + 1}
	if !inOne(begins, daily(w.part.Windows, c.zoneOf(w.visit.site), begins)) {
		c.report(RuleTiming, w.where(), "%s begins at %s: its part %d may begin from %v to %v", w.Item, c.clock(w.visit.site, w.Begins), w.Part,
			w.part.Windows[0].Opens, w.part.Windows[0].Closes)
	}
}

// servicesInTime: no service comes before its earliest lag; an occurrence counts from the one before it in time,
// planned or fixed, the first from Last. Every occurrence that is planned is planned whole.
func (c *checker) servicesInTime() {
	for n := range c.p.Services {
		s := &c.p.Services[n]
		occurrences := c.occurrencesOf(s)
		last, name := s.Last, "the last time done"
		fact := true
		for _, i := range occurrences {
			day := i.date()
			if soonest := last.AddDays(s.Earliest); !last.IsZero() && day < soonest {
				at := i.where()
				at.Standing = at.Standing && fact
				c.report(RuleTiming, at, "%s is planned on %v: %s is %v, and %s comes not before %d days after, on %v", i.id, day, name, last, s.ID, s.Earliest, soonest)
			}
			c.occurrenceWhole(s, i)
			last, name, fact = day, string(i.id), i.fact
		}
	}
}

// occurrencesOf lists what is planned or fixed of a service in order of time.
func (c *checker) occurrencesOf(s *Service) []*itemIn {
	var all []*itemIn
	for _, i := range c.items {
		if i.work[0].service == s {
			all = append(all, i)
		}
	}
	slices.SortFunc(all, func(a, b *itemIn) int {
		return cmp.Or(cmp.Compare(a.begins, b.begins), cmp.Compare(a.work[0].occurrence, b.work[0].occurrence))
	})
	return all
}

// healthIn is a plant's health and area: the pair that makes one work item of an occurrence.
type healthIn struct {
	rank int
	area AreaID
}

func (c *checker) healthOf(id PlantID) healthIn {
	plant := c.plants[id]
	if plant == nil {
		return healthIn{}
	}
	return healthIn{healthRank(plant.Health), plant.Plant.Area}
}

// healthRank orders health, cleanest first; what is unknown is clean.
func healthRank(h Health) int {
	return max(0, slices.Index([]Health{Clean, Neighbour, SuspectedInfested, ConfirmedInfested}, h))
}

// occurrenceWhole: an occurrence is on one visit, one work item for each pair of health and area among its plants, with
// all its plants but those that an InsteadOf link takes out of that day.
func (c *checker) occurrenceWhole(s *Service, i *itemIn) {
	var wanted []PlantID
	for _, g := range s.Groups {
		if c.takenOut(s, g.Plant, i) == "" {
			wanted = append(wanted, g.Plant)
		}
	}
	seen := map[healthIn]bool{}
	for _, w := range i.work {
		if w.visit != i.work[0].visit {
			c.report(RuleTiming, w.where(), "%s is on two visits: an occurrence of a service is on one", i.id)
			return
		}
		for k, id := range w.Plants {
			pair := c.healthOf(id)
			if k == 0 && seen[pair] || k > 0 && pair != c.healthOf(w.Plants[0]) {
				c.report(RuleTiming, w.where(), "%s is not cut by health and area of its plants (at plant %s): one work item holds all plants of one health in one area", i.id, id)
			}
			seen[pair] = true
			if by := c.takenOut(s, id, i); by != "" {
				c.report(RuleTiming, w.where(), "%s holds plant %s, which %s of that day replaces: take it out", i.id, id, by)
			}
		}
	}
	for _, id := range wanted {
		if !slices.Contains(i.plants, id) {
			c.report(RuleTiming, i.where(), "%s leaves out plant %s: an occurrence holds every plant of its service that nothing replaces", i.id, id)
		}
	}
}

// takenOut names the item that takes a plant out of a service on the day of an occurrence, or "".
func (c *checker) takenOut(s *Service, plant PlantID, i *itemIn) ItemID {
	for _, link := range c.p.Links {
		if link.Kind != InsteadOf || string(link.To) != s.ID {
			continue
		}
		for _, from := range c.named(link.From) {
			if slices.Contains(from.plants, plant) && from.dateIn(i.zone) == i.date() {
				return from.id
			}
		}
	}
	return ""
}

// cleanFirst: inside a visit, work on clean plants comes before neighbours, neighbours before suspected and these before
// confirmed ones; an item counts as the worst of its plants, one without plants has no place in the order.
func (c *checker) cleanFirst(v *visitIn) {
	var worst *placed
	for _, w := range v.work {
		if len(w.Plants) == 0 {
			continue
		}
		if worst != nil && c.rankOf(w) < c.rankOf(worst) {
			c.report(RuleTiming, w.where(), "%s on %s plants (%s) comes after %s on %s ones (%s): work on the cleaner plants comes first",
				w.Item, c.healthName(w), c.clock(v.site, w.Begins), worst.Item, c.healthName(worst), c.clock(v.site, worst.Begins))
		}
		if worst == nil || c.rankOf(w) > c.rankOf(worst) {
			worst = w
		}
	}
}

func (c *checker) rankOf(w *placed) int {
	rank := 0
	for _, id := range w.Plants {
		rank = max(rank, c.healthOf(id).rank)
	}
	return rank
}

func (c *checker) healthName(w *placed) Health {
	return []Health{Clean, Neighbour, SuspectedInfested, ConfirmedInfested}[c.rankOf(w)]
}
