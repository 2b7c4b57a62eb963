package course

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// A systemic in the soil takes days to work in the plant. Until then something else holds the pest on the leaves: a contact product
// where one is lawful, else washing, or wiping while nothing may run through the pots.

// covering is the contact cover of a sequence in the making.
type covering struct {
	systemic *candidate
	by       *candidate // the contact product; nil is washing or wiping
	plants   []site.Plant
	applied  civil.Date // the systemic, made or expected
	until    civil.Date // first day on which it works at the latest
	dry      civil.Date // first day on which water may run through the pots again
	in       *chained
	last     ItemID // of the cover before, "" before the first
	due      Due    // of the first, where the systemic was really applied
}

// coverOf is the contact product that covers the plants of a candidate until it works, nil where it works at once or none is
// lawful: a spray or a wipe that reaches mobile stages, which the plants stand without a test, that suits the severity and may
// go beside the systemic in time.
func (s *story) coverOf(p *candidate, others []*candidate) *candidate {
	if !isSlow(p.material) {
		return nil
	}
	for _, other := range others {
		contact := other.material.Method.Sprays() || other.material.Method == catalogue.Wipe
		switch {
		case other.product.ID == "" || !contact || isSlow(other.material) || other.isLiving() || other.noWay || len(other.patch) > 0:
		case len(other.timing.reached) == 0 || s.fits(other.material.Method) > s.fits(p.material.Method) || !other.coversAll(p.plants):
		case conflict(p.material, other.material) != "":
		default:
			return other
		}
	}
	return nil
}

// covered says which slow systemic of this case an application of something else only covered, until it worked. What was in use
// for itself before the systemic goes on as itself.
func (s *story) covered(m made) (systemic made, ok bool) {
	if isSlow(s.in.Catalogue.Materials[m.material]) {
		return made{}, false
	}
	for i, before := range slices.Backward(s.made) {
		material, known := s.in.Catalogue.Materials[before.material]
		meetsIt := known && before.own && isSlow(material) && meets(material, s.pest.ID) && meetsPlants(before, s.plants)
		if !meetsIt || before.on > m.on || m.on >= before.on.AddDays(wholeDays(material.TakesEffectAfter.Far)) {
			continue
		}
		inUse := slices.ContainsFunc(s.made[:i], func(x made) bool {
			if x.material != m.material || !meetsPlants(x, s.plants) {
				return false
			}
			_, onlyCovered := s.covered(x)
			return !onlyCovered
		})
		return before, !inUse
	}
	return made{}, false
}

// dryUntil is the first day on which water may run through the pots of some plants again after what was really applied.
func (s *story) dryUntil(plants []site.Plant) civil.Date {
	var until civil.Date
	for _, m := range s.made {
		if days := s.leachDays(s.in.Catalogue.Materials[m.material], plants); days > 0 && meetsPlants(m, plants) {
			until = max(until, m.on.AddDays(days))
		}
	}
	return until
}

// covers are the days of contact cover that a sequence of a slow systemic still needs, from its first application on until it
// works; each writes its follow-up.
func (b *builder) covers(in *chained) []dated {
	s, p, q := b.s, b.p, in.q
	if !isSlow(p.material) {
		return nil
	}
	c := &covering{systemic: p, by: p.cover, plants: q.plants, in: in}
	last, going := q.last()
	switch {
	case going:
		c.applied = last
	case q.needed > 0:
		c.applied = q.planned[0].on
	default:
		return nil
	}
	c.until = c.applied.AddDays(wholeDays(p.material.TakesEffectAfter.Far))
	c.dry = max(s.dryUntil(q.plants), c.applied.AddDays(s.leachDays(p.material, q.plants)))
	every := lags{s.in.Policy.LookEveryDays, s.in.Policy.LookEveryDays, 2 * s.in.Policy.LookEveryDays, alwaysStands}
	kind, uses := KindLeafWashing, slices.Clone(s.made)
	if c.by != nil {
		every, kind = s.coverLags(c.by), KindApplication
		if !going {
			uses = append(uses, q.planned[0].use(q.plants))
		}
	}
	first := every
	if c.by != nil {
		first.least = max(1, s.allowedOn(c.by, uses, q.plants).DaysSince(c.applied))
		first.ideal = max(first.least, every.ideal)
		first.latest = max(first.ideal, every.latest)
	}
	next := c.applied.AddDays(first.ideal)
	if going {
		next = b.coverGoesOn(c, kind, first, every)
	}
	return b.coverDays(c, kind, next, first, every, uses)
}

// coverLags are those between two covers by a contact product: as practice repeats it against the pest, else as often as is
// looked, and never sooner than its label allows.
func (s *story) coverLags(by *candidate) lags {
	t := &by.timing
	l := lags{t.least, s.in.Policy.LookEveryDays, 2 * s.in.Policy.LookEveryDays, alwaysStands}
	if t.near > 0 {
		l.ideal, l.latest = t.near, t.far
	}
	l.ideal = max(l.ideal, l.least)
	l.latest = max(l.latest, l.ideal)
	return l
}

// coverGoesOn dates the next cover after a systemic that was really applied, from the last cover that was really made.
func (b *builder) coverGoesOn(c *covering, kind FollowUpKind, first, every lags) civil.Date {
	s := b.s
	from, l := c.applied, first
	for _, event := range s.history.Events {
		washed := kind == KindLeafWashing && event.Done != nil && kindOf(event.Done.FollowUp) == KindLeafWashing
		if on := s.dateOf(event.At); washed && on >= from {
			from, l = on, every
		}
	}
	for _, m := range s.made {
		if c.by != nil && m.material == c.by.material.ID && m.on >= from && meetsPlants(m, c.plants) {
			from, l = m.on, every
		}
	}
	again := s.dueAgain(kind)
	w := window{earliest: max(again, from.AddDays(l.least)), ideal: max(again, from.AddDays(l.ideal))}
	if c.by == nil {
		w.earliest = again
	} else {
		w.earliest = max(w.earliest, s.allowedOn(c.by, s.made, c.plants))
	}
	w.ideal = max(w.ideal, w.earliest)
	w.latest = max(w.ideal, from.AddDays(l.latest))
	c.due = w.due()
	return w.ideal
}

// coverDays lists the covers from a day on until the systemic works, no more than the label of the contact product allows.
func (b *builder) coverDays(c *covering, kind FollowUpKind, next civil.Date, first, every lags, uses []made) []dated {
	var all []dated
	l := first
	for next < c.until || kind == KindLeafWashing && next == c.until {
		if c.by != nil {
			if cap, _ := b.s.barred(c.by, uses, c.plants, next); cap != "" {
				break
			}
			uses = append(uses, planned{on: next, by: c.by}.use(c.plants))
		}
		on, by := next, l
		all = append(all, dated{on, func() ItemID { b.writeCover(c, kind, on, by); return "" }})
		next, l = next.AddDays(every.ideal), every
	}
	return all
}

// writeCover writes one cover.
func (b *builder) writeCover(c *covering, kind FollowUpKind, on civil.Date, l lags) {
	s := b.s
	due := c.due
	switch {
	case c.last != "":
		due = chain(c.last, l.least, l.ideal, l.latest)
	case due == Due{}:
		due = chain(c.in.last, l.least, l.ideal, l.latest)
	}
	works := fmt.Sprintf("%s takes effect only after %s", c.systemic.material.Name, rangeText(*c.systemic.material.TakesEffectAfter))
	if c.by == nil {
		reason := "contact cover: wash or wipe off what lives on the leaves; " + works
		if on.AddDays(l.least-l.ideal) < c.dry {
			reason = fmt.Sprintf("contact cover: wipe off with a damp cloth what lives on the leaves, and wash nothing: no water may run through the pots before %s; %s", c.dry.Short(), works)
		}
		f := b.item(kind, c.plants, s.work(c.plants, s.lookingMinutes), due, reason)
		f.Expected = on
		c.last = b.add(f)
		return
	}
	ways := s.waysFor(c.by, c.plants)
	f := b.item(kind, c.plants, ways, due, fmt.Sprintf("contact cover of %s, for what lives on the leaves: %s", c.by.material.Name, works))
	approved, why := s.approval(c.by, ways)
	if f.Approved, f.Expected = approved, on; why != "" {
		f.Reason += "; " + why
	}
	f.PricePerDay = s.promised(make([]quantity.Money, priceLength(due)), due)
	f.LeftOutPrice = max(f.LeftOutPrice, f.PricePerDay[len(f.PricePerDay)-1])
	c.last = b.add(f)
	b.rinse(c.by, f, c.plants, c.dry)
}

// lookingMinutes is what a look at some plants takes, or wiping them down: the policy's minutes for each.
func (s *story) lookingMinutes(plants []site.Plant) float64 {
	return float64(s.in.Policy.InspectMinutes * count(plants))
}
