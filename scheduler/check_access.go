package scheduler

import (
	"slices"
	"time"

	"vernation/scheduler/civil"
)

// checkAccess judges the rule access: the whole visit lies in one unbroken run of access, the technician holds the
// keys, and what is done is agreed and was announced in time.
func (c *checker) checkAccess() {
	for _, r := range c.routes {
		for _, v := range r.visits {
			if v.site == nil {
				continue
			}
			c.visitInAccess(v)
			c.visitKeys(v)
			c.visitAgreed(v)
			for _, w := range v.work {
				if w.applies() {
					c.applicationAgreed(w)
					c.applicationAnnounced(w)
				}
				c.treatmentPlaceOpen(w)
			}
		}
	}
	c.treatmentPlaceCapacity()
}

func (c *checker) visitInAccess(v *visitIn) {
	whole := span{From: v.Arrives, To: v.Leaves}
	runs := openRuns(v.site.Access, v.site.Zone, whole)
	if inOne(whole, runs) {
		return
	}
	near := "it is not open then"
	for _, run := range runs {
		if overlap(run, whole) || run.From == whole.To || run.To == whole.From {
			near = "it is open " + c.stretch(v.site, run)
			break
		}
	}
	c.report(RuleAccess, v.where(), "the visit at %s lasts %s: %s", v.Site, c.stretch(v.site, whole), near)
}

// visitKeys: the technician holds each key of the site on the days of the visit, in the site's zone.
func (c *checker) visitKeys(v *visitIn) {
	if v.route.tech == nil {
		return
	}
	from, to := c.dateAt(v.site, v.Arrives), c.dateAt(v.site, v.Leaves)
	for _, key := range v.site.Keys {
		held := slices.ContainsFunc(v.route.tech.Keys, func(k KeyHeld) bool {
			return k.Key == key && k.From <= from && (k.To.IsZero() || k.To >= to)
		})
		if !held {
			c.report(RuleAccess, v.where(), "%s does not hold key %s of %s on %v", v.route.tech.Name, key, v.Site, from)
		}
	}
}

// visitAgreed: a fixed technician or weekday is a hard rule; the weekday is that of the arrival in the site's zone.
func (c *checker) visitAgreed(v *visitIn) {
	agreed := v.site.Agreement
	if agreed.TechnicianFixed && agreed.UsualTechnician != "" && agreed.UsualTechnician != string(v.route.Technician) {
		c.report(RuleAccess, v.where(), "%s is agreed to be visited by %s only, not by %s", v.Site, agreed.UsualTechnician, v.route.Technician)
	}
	if day := c.dateAt(v.site, v.Arrives); agreed.DayFixed && agreed.UsualDay != nil && day.Weekday() != *agreed.UsualDay {
		c.report(RuleAccess, v.where(), "%s is agreed to be visited on %v only: %v is a %v", v.Site, *agreed.UsualDay, day, day.Weekday())
	}
}

func (c *checker) applicationAgreed(w *placed) {
	agreed, day := w.visit.site.Agreement, c.dateAt(w.visit.site, w.Begins)
	product := c.products[w.Use.Product]
	if product != nil && slices.Contains(agreed.RefusedMaterials, product.Material) {
		c.report(RuleAccess, w.where(), "%s uses %s: the client of %s refused %s", w.Item, product.Name, w.visit.Site, product.Material)
	}
	if slices.Contains(agreed.RefusedMethods, w.Use.Method) {
		c.report(RuleAccess, w.where(), "%s is done by %s: the client of %s refused that method", w.Item, w.Use.Method, w.visit.Site)
	}
	if slices.Contains(agreed.ConsentNeeded, w.Use.Method) {
		given := false
		for _, consent := range agreed.Consents {
			covers := consent.Material == "" || product != nil && consent.Material == product.Material
			given = given || covers && consent.Method == w.Use.Method && consent.From <= day && (consent.To.IsZero() || consent.To >= day)
		}
		if !given {
			c.report(RuleAccess, w.where(), "%s is done by %s: the agreement of %s asks for consent, and none holds on %v", w.Item, w.Use.Method, w.visit.Site, day)
		}
	}
	var strangers []PlantID
	for _, id := range w.Plants {
		if plant := c.plants[id]; plant != nil && plant.Plant.NotInCare && !ownerConsents(plant, day) {
			strangers = append(strangers, id)
		}
	}
	if len(strangers) > 0 {
		c.report(RuleAccess, w.where(), "%s treats plants not in our care (%s): they are looked at with leave, and treated with their owner's consent only, which does not hold on %v", w.Item, list(strangers), day)
	}
}

// ownerConsents says whether a consent of a plant's owner was given by a day and is not withdrawn on it.
func ownerConsents(plant *PlantState, day civil.Date) bool {
	for _, consent := range plant.Plant.OwnerConsents {
		withdrawn := !consent.WithdrawnOn.IsZero() && consent.WithdrawnOn <= day
		if consent.On <= day && !withdrawn {
			return true
		}
	}
	return false
}

// noticeLead is the notice that a site asks for: the Problem's, else the agreement's, else none.
func (c *checker) noticeLead(s *Site) time.Duration {
	for _, notice := range c.p.Rules.NoticeLead {
		if notice.Site == s.ID {
			return notice.Lead
		}
	}
	if s.Agreement.NoticeLead != nil {
		return *s.Agreement.NoticeLead
	}
	return 0
}

// applicationAnnounced: an application begins no earlier than now + publishing delay + lead, or within the tolerance
// of an unused notice of that item. Where no notice is asked for nothing needs to be published first. What is begun
// or over needs no notice any more.
func (c *checker) applicationAnnounced(w *placed) {
	lead := c.noticeLead(w.visit.site)
	soonest := c.p.Now.Add(c.p.Rules.PublishingDelay).Add(lead)
	if lead == 0 || w.Begins >= soonest || w.visit.fact && w.Begins <= c.p.Now {
		return
	}
	tolerance := c.p.Rules.NoticeTolerance
	for _, notice := range c.p.Notices {
		if notice.Item == w.Item && !notice.Used && w.Begins >= notice.Begins.Add(-tolerance) && w.Begins <= notice.Begins.Add(tolerance) {
			return
		}
	}
	c.report(RuleAccess, w.where(), "%s begins at %s: %s asks for %v of notice and no notice sent covers that time, so not before %s",
		w.Item, c.clock(w.visit.site, w.Begins), w.visit.Site, lead, c.clock(w.visit.site, soonest))
}

// treatmentPlaceOpen: what is done at a treatment place lies in its hours.
func (c *checker) treatmentPlaceOpen(w *placed) {
	area := c.areas[w.Area]
	if w.way == nil || w.way.Kind != AtTreatmentPlace || area == nil || area.Treatment == nil {
		return
	}
	if !inOne(w.during(), openRuns(area.Treatment.Hours, area.site.Zone, w.during())) {
		c.report(RuleAccess, w.where(), "%s is done in %s %s: the treatment place is not open all that time", w.Item, w.Area, c.stretch(w.visit.site, w.during()))
	}
}

// treatmentPlaceCapacity: a treatment place holds no more plants at once than its capacity. Plants count there from
// the carry out to the end of the carry back; where the carry back is not in the plan, to the end of the plan.
func (c *checker) treatmentPlaceCapacity() {
	type stay struct {
		first  *placed
		during span
		plants int
	}
	stays := map[AreaID][]stay{}
	for _, w := range c.work {
		if w.way == nil || w.way.Kind != AtTreatmentPlace || !w.applies() || c.areas[w.Area] == nil || c.areas[w.Area].Treatment == nil {
			continue
		}
		item := c.items[w.Item]
		s := stay{w, span{From: item.begins, To: item.ends}, 0}
		if last := item.work[len(item.work)-1].part; last == nil || last.Kind != CarryBackPart {
			s.during.To = c.lastReturn()
		}
		for _, id := range w.Plants {
			if plant := c.plants[id]; plant != nil {
				s.plants += plant.Plant.Count
			}
		}
		stays[w.Area] = append(stays[w.Area], s)
	}
	for id, list := range stays {
		capacity := c.areas[id].Treatment.Capacity
		for _, s := range list {
			together := 0
			for _, other := range list {
				if other.during.From <= s.during.From && s.during.From < other.during.To {
					together += other.plants
				}
			}
			if together > capacity {
				c.report(RuleAccess, s.first.where(), "%d plants are in %s at %s: the treatment place holds %d", together, id, c.clock(s.first.visit.site, s.during.From), capacity)
			}
		}
	}
}

// lastReturn is the end of the plan: the last return of any route.
func (c *checker) lastReturn() (last civil.Instant) {
	for _, r := range c.routes {
		last = max(last, r.Returns)
	}
	return last
}
