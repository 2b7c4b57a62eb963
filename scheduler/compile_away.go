package scheduler

import (
	"vernation/scheduler/civil"
	"vernation/scheduler/internal/instance"
)

// away is a follow-up whose plants were carried out in a fixed visit and are not back yet.
type away struct {
	way     int   // of the follow-up's ways
	parts   []int // still to do
	out     civil.Instant
	treated civil.Instant // end of the application
	open    civil.Instant // when people may enter the treatment place
	wait    instance.Seconds
}

// awayBy returns what is left of a follow-up of which fixed visits hold the parts before a wait and not those after; nil when
// nothing is.
func (c *compiled) awayBy(f *FollowUp) *away {
	for _, d := range c.p.Done {
		if d.ID == f.ID {
			return nil // all of it was really done
		}
	}
	for w := range f.Ways {
		way := &f.Ways[w]
		left := away{way: w}
		fixed, waits := 0, false
		for n := range way.Parts {
			if way.Parts[n].Kind == WaitPart {
				waits = true
				left.wait += instance.Seconds(way.Parts[n].Takes.Seconds())
				continue
			}
			visit, item := c.fixedPart(f.ID, way.ID, n)
			switch {
			case item == nil && waits:
				left.parts = append(left.parts, n)
			case item != nil && !waits:
				fixed++
				c.seen(&left, visit, item)
			}
		}
		if fixed > 0 && len(left.parts) > 0 {
			return &left
		}
	}
	return nil
}

// fixedPart finds a part of a way in the fixed visits.
func (c *compiled) fixedPart(id ItemID, way WayID, part int) (*Visit, *WorkItem) {
	for i := range c.p.Fixed {
		for k := range c.p.Fixed[i].Work {
			if w := &c.p.Fixed[i].Work[k]; w.Item == id && w.Way == way && w.Part == part {
				return &c.p.Fixed[i], w
			}
		}
	}
	return nil, nil
}

// seen notes the times of a part that is fixed.
func (c *compiled) seen(left *away, visit *Visit, w *WorkItem) {
	if left.out == 0 || w.Begins < left.out {
		left.out = w.Begins
	}
	left.treated = max(left.treated, w.Ends)
	for _, k := range c.keepOutsOf(visit) {
		if k.Area == w.Area {
			left.open = max(left.open, k.During.To)
		}
	}
}

// carryBack is the rest of a follow-up whose plants are away: no earlier than people may enter, no later than the way allows.
func (c *compiled) carryBack(item int32, ref itemRef) instance.Item {
	f, left := ref.follow, ref.away
	w := &f.Ways[left.way]
	out := c.followUp(item, f)
	c.refused[item] = nil
	out.Due = instance.Due{After: instance.None, Earliest: -instance.FarDay, Latest: instance.FarDay, Stands: c.in.LastDay}
	out.Price, out.LatePerDay = nil, 0
	out.Lo = max(c.second(c.p.Now), c.second(left.open), c.second(left.treated)+left.wait)
	if w.MostAway > 0 {
		out.Hi = c.second(left.out.Add(w.MostAway))
	}
	// Plants that stay away cost as much as a follow-up that was not done, and the visit that will be needed.
	out.LeftOut += out.Deferred
	leg, reasons := c.leg(f, w, left.parts)
	way := instance.Way{Index: int32(left.way), Legs: []instance.Leg{leg}, HeldIn: instance.None, Back: true}
	c.carried(f, w, &way)
	out.Ways = []instance.Way{way}
	if len(reasons) > 0 {
		out.Ways, c.refused[item] = nil, reasons
	}
	return out
}

// heldByFacts notes the stays at treatment places that fixed visits begin: until the carry back where that is fixed too,
// else until the item that still has to bring the plants back ends, else for good.
func (c *compiled) heldByFacts(f *FollowUp, item int32) {
	for n := range f.Ways {
		way := instance.Way{HeldIn: instance.None}
		c.carried(f, &f.Ways[n], &way)
		if way.HeldIn == instance.None {
			continue
		}
		held := instance.Held{Plants: way.Carried, From: instance.Far, Until: instance.Far, Item: item}
		for part := range f.Ways[n].Parts {
			_, w := c.fixedPart(f.ID, f.Ways[n].ID, part)
			if w == nil {
				continue
			}
			held.From = min(held.From, c.second(w.Begins))
			if f.Ways[n].Parts[part].Kind == CarryBackPart {
				held.Until, held.Item = c.second(w.Ends), instance.None
			}
		}
		if held.From < instance.Far {
			c.in.Areas[way.HeldIn].Held = append(c.in.Areas[way.HeldIn].Held, held)
		}
	}
}
