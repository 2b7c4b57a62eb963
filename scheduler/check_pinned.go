package scheduler

import (
	"fmt"
	"strings"

	"vernation/scheduler/civil"
)

// checkPinned judges the rule pinned: each visit that is begun, done or held by the office stands in the plan as it is.
func (c *checker) checkPinned() {
	for i := range c.p.Fixed {
		fixed := &c.p.Fixed[i]
		where := Violation{
			Technician: fixed.Technician, Day: c.p.Zone.DateOf(fixed.Arrives), Site: fixed.Site,
			During: span{From: fixed.Arrives, To: fixed.Leaves},
		}
		s := c.sites[fixed.Site]
		found := c.fixedIn(fixed)
		if found == nil {
			c.report(RulePinned, where, "the fixed visit of %s at %s, %s, is not in the plan: it does not move", fixed.Technician, fixed.Site, c.clock(s, fixed.Arrives))
			continue
		}
		if wrong := c.differences(fixed, found); len(wrong) > 0 {
			c.report(RulePinned, where, "the fixed visit of %s at %s, %s, was changed (%s): it does not move", fixed.Technician, fixed.Site, c.clock(s, fixed.Arrives), strings.Join(wrong, "; "))
		}
	}
}

// fixedIn finds the plan's visit that a fixed one stands for: by id, else the one that does not differ, else that of the
// same technician at the same site at the same time, or nil.
func (c *checker) fixedIn(fixed *Visit) *Visit {
	var near *Visit
	for _, r := range c.routes {
		for _, v := range r.visits {
			switch {
			case fixed.ID != "" && v.ID == fixed.ID:
				return v.Visit
			case len(c.differences(fixed, v.Visit)) == 0:
				return v.Visit
			case v.ID == "" && v.Technician == fixed.Technician && v.Site == fixed.Site && overlap(span{From: v.Arrives, To: v.Leaves}, span{From: fixed.Arrives, To: fixed.Leaves}):
				near = v.Visit
			}
		}
	}
	return near
}

// differences says in what a visit differs from a fixed one: technician, site, times or work. Instants are compared, not
// what the clock shows: in the hour that autumn repeats, two instants an hour apart read alike.
func (c *checker) differences(fixed, v *Visit) []string {
	var wrong []string
	differ := func(what string, want, got any) {
		if want != got {
			wrong = append(wrong, fmt.Sprintf("%s %v instead of %v", what, got, want))
		}
	}
	differ("id", fixed.ID, v.ID)
	differ("technician", fixed.Technician, v.Technician)
	differ("site", fixed.Site, v.Site)
	s := c.sites[fixed.Site]
	moved := func(what string, want, got civil.Instant) {
		if want != got {
			wrong = append(wrong, fmt.Sprintf("%s %s instead of %s", what, c.clock(s, got), c.clock(s, want)))
		}
	}
	moved("arrives", fixed.Arrives, v.Arrives)
	moved("leaves", fixed.Leaves, v.Leaves)
	differ("number of work items", len(fixed.Work), len(v.Work))
	for i := range min(len(fixed.Work), len(v.Work)) {
		a, b := &fixed.Work[i], &v.Work[i]
		name := fmt.Sprintf("work[%d] ", i)
		differ(name+"item", a.Item, b.Item)
		differ(name+"way", a.Way, b.Way)
		differ(name+"part", a.Part, b.Part)
		differ(name+"area", a.Area, b.Area)
		moved(name+"begins", a.Begins, b.Begins)
		moved(name+"ends", a.Ends, b.Ends)
		if !sameSet(a.Plants, b.Plants) {
			wrong = append(wrong, fmt.Sprintf("%splants %s instead of %s", name, list(b.Plants), list(a.Plants)))
		}
	}
	return wrong
}
