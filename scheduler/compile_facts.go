package scheduler

import (
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// readDone notes what was really done and what stands in fixed visits: others count from it.
func (c *compiled) readDone() {
	for _, d := range c.p.Done {
		c.done[d.ID] = doneItem{d.Began, d.Ended, c.zoneOf(d.Site)}
	}
	for i := range c.p.Fixed {
		v := &c.p.Fixed[i]
		for _, w := range v.Work {
			if d, known := c.done[w.Item]; known {
				c.done[w.Item] = doneItem{min(d.began, w.Begins), max(d.ended, w.Ends), d.zone}
				continue
			}
			c.done[w.Item] = doneItem{w.Begins, w.Ends, c.zoneOf(v.Site)}
		}
	}
}

func (c *compiled) zoneOf(id site.ID) civil.Zone {
	if at, known := c.siteIndex[id]; known {
		return c.p.Sites[at].Zone
	}
	return c.p.Zone
}

// compileFacts notes which areas are shut, and where people of ours are, by what does not move.
func (c *compiled) compileFacts() {
	for _, k := range c.p.KeepOuts {
		c.shutFact(k.Area, k.During)
	}
	for i := range c.p.Fixed {
		v := &c.p.Fixed[i]
		for _, w := range v.Work {
			for _, area := range c.areasOfWork(&w) {
				c.in.Present = append(c.in.Present, instance.AreaStretch{Area: area, Window: c.window(civil.Interval{From: w.Begins, To: w.Ends})})
			}
		}
		for _, k := range c.keepOutsOf(v) {
			c.facts = append(c.facts, k)
			c.shutFact(k.Area, k.During)
		}
	}
}

func (c *compiled) window(v civil.Interval) instance.Window {
	return instance.Window{From: c.second(v.From), To: c.second(v.To)}
}

// shutFact shuts an area and all that is shut with it.
func (c *compiled) shutFact(id site.AreaID, during civil.Interval) {
	at, known := c.areaIndex[id]
	if !known {
		return
	}
	for _, shut := range c.in.Areas[at].Shuts {
		c.in.Shut = append(c.in.Shut, instance.AreaStretch{Area: shut, Window: c.window(during)})
	}
}

// areasOfWork returns the area of a work item, else those of its plants.
func (c *compiled) areasOfWork(w *WorkItem) []int32 {
	if at, known := c.areaIndex[w.Area]; known {
		return []int32{at}
	}
	var areas []int32
	for _, id := range w.Plants {
		if plant, known := c.plantIndex[id]; known {
			areas = append(areas, c.areaIndex[c.p.Plants[plant].Plant.Area])
		}
	}
	return areas
}

// keepOutsOf returns what the applications of a visit shut, one keep-out for each area that is shut.
func (c *compiled) keepOutsOf(v *Visit) []KeepOut {
	at, known := c.siteIndex[v.Site]
	if !known {
		return nil
	}
	s := &c.p.Sites[at]
	treatments := map[site.AreaID]reentry.Treatment{}
	first := map[site.AreaID]*WorkItem{}
	dry := map[site.AreaID]bool{}
	var order []site.AreaID
	for i := range v.Work {
		w := &v.Work[i]
		if w.Use == nil {
			continue
		}
		aired, unaired := c.keepsOut(s, w.Use)
		if aired <= 0 {
			continue
		}
		treatment := reentry.Treatment{Area: w.Area, Begins: w.Begins, Ends: w.Ends, KeepOut: aired, Unventilated: unaired}
		dry[w.Area] = dry[w.Area] || w.Use.Entry == catalogue.EntryUntilDry
		if before, joins := treatments[w.Area]; joins {
			treatments[w.Area] = reentry.Join(before, treatment)
			if treatment.KeepOut > before.KeepOut {
				first[w.Area] = w
			}
			continue
		}
		treatments[w.Area], first[w.Area] = treatment, w
		order = append(order, w.Area)
	}
	var shut []KeepOut
	for _, area := range order {
		for _, id := range shutWith(s, area) {
			shut = append(shut, KeepOut{
				Area: id, During: reentry.Interval(*s, treatments[area]), Product: first[area].Use.Product,
				By: v.Technician, UntilDry: dry[area], Item: first[area].Item,
			})
		}
	}
	return shut
}

// keepsOut is how long an application at a site keeps people out after its end, in ventilation hours and where any of
// that time lies outside them: what was resolved from its label, and never less than the law's least there. One that
// needs no interval keeps nobody out.
func (c *compiled) keepsOut(s *site.Site, use *Use) (aired, unaired time.Duration) {
	if use.Entry == catalogue.EntryNone {
		return 0, 0
	}
	aired, unaired = use.KeepOut, max(use.KeepOut, use.KeepOutUnventilated)
	for _, e := range c.p.Rules.LeastEntry {
		if e.Site == s.ID {
			aired, unaired = max(aired, e.Least), max(unaired, e.Least)
		}
	}
	return aired, unaired
}

// compileBefore notes what moving the visits published before costs.
func (c *compiled) compileBefore() {
	for i := range c.p.Before {
		v := &c.p.Before[i]
		moves := c.rates.MovedPublished.Amount
		if v.State == Announced {
			moves = c.rates.MovedAnnounced.Amount
		}
		before := instance.BeforeVisit{Site: c.siteIndex[v.Site], Arrives: c.second(v.Arrives), Moves: instance.Cost(moves)}
		for _, w := range v.Work {
			if item, known := c.index[w.Item]; known {
				before.Items = append(before.Items, item)
			}
		}
		if len(before.Items) == 0 {
			continue // nothing of it is asked for any more: it is dropped, not moved
		}
		for t, ref := range c.shifts {
			shift := c.shiftOf(ref)
			if c.p.Technicians[ref.technician].ID == v.Technician && v.Arrives >= shift.During.From && v.Arrives < shift.During.To {
				c.in.Shifts[t].Before = append(c.in.Shifts[t].Before, before)
				break
			}
		}
	}
}
