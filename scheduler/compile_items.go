package scheduler

import (
	"fmt"
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/site"
)

// compileItems lists follow-ups in the order of the Problem, then the occurrences of its services.
func (c *compiled) compileItems() {
	for i := range c.p.FollowUps {
		f := &c.p.FollowUps[i]
		if _, done := c.done[f.ID]; !done {
			c.name(itemRef{id: f.ID, follow: f})
		} else if away := c.awayBy(f); away != nil {
			// Others count from what was done: the carry back has no name of its own.
			c.heldByFacts(f, int32(len(c.items)))
			c.items = append(c.items, itemRef{id: f.ID, follow: f, away: away})
		} else {
			c.heldByFacts(f, instance.None)
		}
	}
	for i := range c.p.Services {
		c.nameOccurrences(&c.p.Services[i])
	}
	c.in.Items = make([]instance.Item, len(c.items))
	c.refused, c.refusedWays = make([][]Reason, len(c.items)), make([][][]Reason, len(c.items))
	for i, ref := range c.items {
		if ref.away != nil {
			c.in.Items[i] = c.carryBack(int32(i), ref)
		} else if ref.follow != nil {
			c.in.Items[i] = c.followUp(int32(i), ref.follow)
		} else {
			c.in.Items[i] = c.serviceItem(int32(i), ref)
		}
	}
}

func (c *compiled) name(ref itemRef) {
	c.index[ref.id] = int32(len(c.items))
	c.items = append(c.items, ref)
}

// OccurrenceID names occurrence k, from 1, of a service.
func OccurrenceID(service string, k int) ItemID { return ItemID(fmt.Sprintf("%s#%d", service, k)) }

// nameOccurrences lists the occurrences that are asked for: those whose ideal day, counted on from the last one done or
// fixed, lies in the horizon. One that is overdue is asked for on the first day, and the next counts from there.
func (c *compiled) nameOccurrences(s *site.Service) {
	ideal := c.p.FirstDay
	if !s.Last.IsZero() {
		ideal = max(ideal, s.Last.AddDays(s.Ideal))
	}
	last := c.p.FirstDay.AddDays(c.p.Days - 1)
	for k := 1; ideal <= last; k++ {
		id := OccurrenceID(s.ID, k)
		if done, known := c.done[id]; known {
			ideal = max(c.p.FirstDay, done.zone.DateOf(done.began).AddDays(max(1, s.Ideal)))
			continue
		}
		c.name(itemRef{id: id, service: s, occurrence: k})
		ideal = ideal.AddDays(max(1, s.Ideal))
	}
}

func (c *compiled) followUp(item int32, f *FollowUp) instance.Item {
	out := instance.Item{
		Site: c.siteIndex[f.Site], LeftOut: instance.Cost(f.LeftOutPrice), Deferred: instance.Cost(c.rates.DeferredVisit.Amount),
		Lo: c.second(c.p.Now), Hi: instance.Far, EndBy: instance.Far,
	}
	for _, price := range f.PricePerDay {
		out.Price = append(out.Price, instance.Cost(price))
	}
	if f.Kind == KindInspectInfested || f.Kind == KindInspectNeighbours {
		out.LatePerDay = instance.Cost(c.rates.LateInspectionDay.Amount)
	}
	out.Due = c.due(f)
	if done, known := c.done[f.Due.After]; known {
		out.Lo = max(out.Lo, c.second(done.began)+1)
	}
	c.refusedWays[item] = make([][]Reason, len(f.Ways))
	for w := range f.Ways {
		way, reasons := c.way(f, &f.Ways[w])
		way.Index = int32(w)
		if len(reasons) > 0 {
			c.refusedWays[item][w] = reasons
			c.refused[item] = append(c.refused[item], reasons...)
			continue
		}
		out.Ways = append(out.Ways, way)
	}
	out.DeferredDay = c.deferredDay(&out)
	return out
}

// due turns the days of a follow-up into dates, or into lags when what it follows is still to be planned.
func (c *compiled) due(f *FollowUp) instance.Due {
	d := &f.Due
	if d.After == "" {
		out := instance.Due{After: instance.None, Earliest: c.day(d.EarliestOn), Latest: instance.FarDay, Stands: instance.FarDay}
		if !d.LatestOn.IsZero() {
			out.Latest = c.day(d.LatestOn)
		}
		if !d.StandsUntilOn.IsZero() {
			out.Stands = c.day(d.StandsUntilOn)
		}
		return out
	}
	out := instance.Due{After: instance.None, Earliest: instance.Day(d.EarliestLag), Latest: instance.Day(d.LatestLag), Stands: instance.FarDay}
	if d.StandsUntilLag > 0 {
		out.Stands = instance.Day(d.StandsUntilLag)
	}
	if after, planned := c.index[d.After]; planned {
		out.After = after
		return out
	}
	done := c.done[d.After]
	from := c.day(c.zoneOf(f.Site).DateOf(done.began))
	out.Earliest += from
	out.Latest += from
	if out.Stands < instance.FarDay {
		out.Stands += from
	}
	return out
}

// serviceItem is one occurrence of a service: one block for each pair of health and area among its plants.
func (c *compiled) serviceItem(item int32, ref itemRef) instance.Item {
	s := ref.service
	late := instance.Cost(c.rates.LateServiceDay.Amount) * instance.Cost(len(s.Groups))
	out := instance.Item{
		Site: c.siteIndex[s.Site], Service: true, Waters: s.Kind == site.WateringService,
		LatePerDay: late, LeftOut: instance.Cost(c.rates.LeftOutService.Amount), Deferred: instance.Cost(c.rates.DeferredVisit.Amount),
		Lo: c.second(c.p.Now), Hi: instance.Far, EndBy: instance.Far,
	}
	out.Due = c.serviceDue(ref)
	way := instance.Way{HeldIn: instance.None}
	leg := instance.Leg{On: make([]bool, len(c.shifts))}
	for _, group := range s.Groups {
		c.addGroup(&leg, group)
	}
	siteOf := &c.p.Sites[out.Site]
	for t, shift := range c.shifts {
		leg.On[t] = c.mayEnter(siteOf, shift)
	}
	if !slices.Contains(leg.On, true) {
		c.refused[item] = append(c.refused[item], c.nobodyEnters(siteOf))
	}
	slices.SortStableFunc(leg.Blocks, func(a, b instance.Block) int {
		if a.Rank != b.Rank {
			return int(a.Rank) - int(b.Rank)
		}
		return int(a.Area) - int(b.Area)
	})
	way.Legs = []instance.Leg{leg}
	out.Ways = []instance.Way{way}
	if len(leg.Blocks) == 0 {
		out.Ways = nil
		c.refused[item] = append(c.refused[item], Reason{RuleShift, fmt.Sprintf("service %s has no plants: nothing is to be done", s.ID)})
	}
	out.DeferredDay = c.deferredDay(&out)
	return out
}

// addGroup adds a plant group to the block of its health and area.
func (c *compiled) addGroup(leg *instance.Leg, group site.Group) {
	plant, known := c.plantIndex[group.Plant]
	if !known {
		return
	}
	rank, area := c.rank(group.Plant), c.areaIndex[c.p.Plants[plant].Plant.Area]
	takes := instance.Seconds(group.Minutes) * 60
	kernelGroup := instance.Group{Plant: plant, Takes: takes}
	for b := range leg.Blocks {
		if leg.Blocks[b].Rank == rank && leg.Blocks[b].Area == area {
			piece := &leg.Blocks[b].Pieces[0]
			piece.Groups = append(piece.Groups, kernelGroup)
			piece.Takes += takes
			return
		}
	}
	leg.Blocks = append(leg.Blocks, instance.Block{
		Rank: rank, Class: instance.ClassService, Area: area,
		Pieces: []instance.Piece{{Area: area, Takes: takes, Product: instance.None, Groups: []instance.Group{kernelGroup}}},
	})
}

// serviceDue counts an occurrence from the one before it, planned or fixed, or from the last time done.
func (c *compiled) serviceDue(ref itemRef) instance.Due {
	s := ref.service
	due := instance.Due{After: instance.None, Earliest: instance.Day(s.Earliest), Latest: instance.Day(s.Latest), Stands: instance.FarDay}
	last := s.Last
	if ref.occurrence > 1 {
		id := OccurrenceID(s.ID, ref.occurrence-1)
		if after, planned := c.index[id]; planned {
			due.After = after
			return due
		}
		if done, known := c.done[id]; known {
			last = done.zone.DateOf(done.began)
		}
	}
	if last.IsZero() {
		due.Earliest, due.Latest = -instance.FarDay, 0
		return due
	}
	due.Earliest += c.day(last)
	due.Latest += c.day(last)
	return due
}

// mostDeferredDays bounds how far past the horizon the first open day is looked for.
const mostDeferredDays = 28

// deferredDay is the first day after the horizon on which the site is open and, by the weekdays of the shifts in the
// horizon, somebody is there who may do it.
func (c *compiled) deferredDay(item *instance.Item) instance.Day {
	var weekdays [7]bool
	for w := range item.Ways {
		for t, on := range item.Ways[w].Legs[0].On {
			if on {
				weekdays[c.shiftOf(c.shifts[t]).Day.Weekday()] = true
			}
		}
	}
	s := &c.p.Sites[item.Site]
	first := c.p.FirstDay.AddDays(c.p.Days)
	for d := first; d < first.AddDays(mostDeferredDays); d++ {
		if weekdays[d.Weekday()] && len(s.Access.WindowsOn(d)) > 0 {
			return c.day(d)
		}
	}
	return c.day(first)
}

// boundEarliest marks the items whose window begins past the horizon with everything before them at its earliest.
func (c *compiled) boundEarliest() {
	earliest := make([]instance.Day, len(c.in.Items))
	// Each pass settles at least one more link of every chain; a ring was refused by Validate.
	for range c.in.Items {
		changed := false
		for i := range c.in.Items {
			due := &c.in.Items[i].Due
			at := max(due.Earliest, 0)
			if due.After != instance.None {
				at = earliest[due.After] + due.Earliest
			}
			if at != earliest[i] {
				earliest[i], changed = at, true
			}
		}
		if !changed {
			break
		}
	}
	for i := range c.in.Items {
		c.in.Items[i].Outside = earliest[i] > c.in.LastDay
	}
}
