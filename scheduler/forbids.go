package scheduler

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/internal/tour"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// refusedWay says why a way of an item cannot be gone at all, or nil.
func (c *compiled) refusedWay(item int32, way int) []Reason {
	if away := c.items[item].away; away != nil {
		if way != away.way {
			return []Reason{{RuleTiming, "its plants are away by another of its ways: they come back by that"}}
		}
		return c.refused[item]
	}
	if len(c.refusedWays[item]) > way && len(c.refusedWays[item][way]) > 0 {
		return c.refusedWays[item][way]
	}
	if len(c.in.Items[item].Ways) == 0 {
		return c.refused[item] // a link refuses all of them
	}
	return nil
}

// kernelWay returns the kernel's index of a way of an item, or None where it cannot be gone.
func (c *compiled) kernelWay(item int32, way int) int32 {
	return int32(slices.IndexFunc(c.in.Items[item].Ways, func(w instance.Way) bool { return int(w.Index) == way }))
}

// waits says what an item waits for that is not planned; nil when nothing does.
func (c *compiled) waits(state *schedule.State, item int32) []Reason {
	for _, before := range c.in.Items[item].Before {
		if before.Hard && !state.Placed(before.Item).Placed {
			return []Reason{c.waitsFor(before.Item)}
		}
	}
	return nil
}

// waitsFor is the reason of an item that waits for another.
func (c *compiled) waitsFor(before int32) Reason {
	return Reason{RuleTiming, fmt.Sprintf("waits for %s, which is not planned", c.items[before].id)}
}

// beforeAnyWalk says what speaks against beginning a way in a technician-day, in a span of it, before its other work is
// looked at: who may do it and enter, and each thing that narrows its beginnings. The way is not refused altogether.
func (c *compiled) beforeAnyWalk(item int32, way int, t int32, span civil.Interval) []Reason {
	f, ref := c.items[item].follow, c.shifts[t]
	w := &f.Ways[way]
	s := &c.p.Sites[c.siteIndex[f.Site]]
	kernel := &c.in.Items[item].Ways[c.kernelWay(item, way)]
	if !c.mayEnter(s, ref) {
		return []Reason{c.cannotEnter(s, ref)}
	}
	if !kernel.Legs[0].On[t] {
		var parts []int
		for _, piece := range kernel.Legs[0].Blocks[0].Pieces {
			parts = append(parts, int(piece.Part))
		}
		if reason, may := c.mayDo(s, w, parts, kernel.Legs[0].Blocks[0].Pieces, ref); !may {
			return []Reason{reason}
		}
	}
	return c.stepsForbid(f, w, s, span)
}

// firstParts lists the parts of a way up to its first wait: those of one visit.
func firstParts(w *Way) (parts []*Part, total time.Duration) {
	for n := range w.Parts {
		part := &w.Parts[n]
		if part.Kind == WaitPart {
			if len(parts) > 0 {
				break
			}
			continue
		}
		parts = append(parts, part)
		total += part.Takes
	}
	return parts, total
}

// refusedThen says what speaks against the beginnings of a span by a way that is refused altogether, beside why it is.
func (c *compiled) refusedThen(item int32, way int, span civil.Interval) []Reason {
	if c.items[item].away != nil {
		return nil
	}
	f := c.items[item].follow
	return c.stepsForbid(f, &f.Ways[way], &c.p.Sites[c.siteIndex[f.Site]], span)
}

// cannotEnter says why the technician of a shift may not visit a site on that day.
func (c *compiled) cannotEnter(s *site.Site, ref shiftRef) Reason {
	technician := &c.p.Technicians[ref.technician]
	if s.Agreement.TechnicianFixed && s.Agreement.UsualTechnician != "" && s.Agreement.UsualTechnician != string(technician.ID) {
		return Reason{RuleAccess, fmt.Sprintf("by the agreement only %s visits %s", s.Agreement.UsualTechnician, s.Name)}
	}
	return Reason{RuleAccess, fmt.Sprintf("%s does not hold every key of %s (%s) on these days", technician.Name, s.Name, list(s.Keys))}
}

// stepsForbid asks each thing that narrows the beginnings of the first leg of a way about a span: access to the site, the
// way's own hours, those of a treatment place, and what an application asks for.
func (c *compiled) stepsForbid(f *FollowUp, w *Way, s *site.Site, span civil.Interval) []Reason {
	var reasons []Reason
	offset := time.Duration(0)
	parts, total := firstParts(w)
	left := []civil.Interval{span}
	last := func(civil.Interval) Reason { return Reason{} }
	ask := func(st step, offset time.Duration) {
		runs := shifted(st.runs, -offset)
		if len(civil.Intersect(runs, []civil.Interval{span})) == 0 {
			reasons = append(reasons, st.then(civil.Interval{From: span.From.Add(offset), To: span.To.Add(offset)}))
			return
		}
		if len(left) > 0 {
			if left = civil.Intersect(left, runs); len(left) == 0 {
				last = st.then
			}
		}
	}
	ask(step{runs: reentry.Fitting(c.accessOf(s), s.SignIn, total), then: always(RuleAccess, "%s is not open for %s then", s.Name, hoursText(s.SignIn+total))}, 0)
	for _, part := range parts {
		if _, known := c.areaIndex[part.Area]; !known {
			continue // the way is refused for it
		}
		for _, st := range c.stepsOf(f, w, s, part) {
			ask(st, offset)
		}
		offset += part.Takes
	}
	if len(reasons) == 0 && len(left) == 0 {
		reasons = append(reasons, last(span))
	}
	return reasons
}

// accessOf are the runs in which a site may be visited, by its hours and an agreed weekday.
func (c *compiled) accessOf(s *site.Site) []civil.Interval {
	access := s.Access.Open(s.Zone, c.span)
	if agreed := &s.Agreement; agreed.UsualDay != nil && agreed.DayFixed {
		access = civil.Intersect(access, c.daysWhere(s.Zone, func(d civil.Date) bool { return d.Weekday() == *agreed.UsualDay }))
	}
	return access
}

// stepsOf lists what narrows the beginnings of one part.
func (c *compiled) stepsOf(f *FollowUp, w *Way, s *site.Site, part *Part) []step {
	var steps []step
	area := c.areas[c.areaIndex[part.Area]]
	if len(part.Windows) > 0 {
		steps = append(steps, step{runs: c.daily(s, part.Windows), then: always(RuleTiming, "%s begins between %v and %v only", c.wayName(w), part.Windows[0].Opens, part.Windows[0].Closes)})
	}
	if w.Kind == AtTreatmentPlace && area.Treatment != nil {
		open := reentry.Fitting(area.Treatment.Hours.Open(s.Zone, c.span), 0, part.Takes)
		steps = append(steps, step{runs: open, then: always(RuleAccess, "the treatment place %s is not open then", area.Name)})
	}
	if part.Use != nil {
		steps = append(steps, c.applicationSteps(f, part, s)...)
	}
	return steps
}

func shifted(runs []civil.Interval, by time.Duration) []civil.Interval {
	if by == 0 {
		return runs
	}
	out := make([]civil.Interval, len(runs))
	for i, run := range runs {
		out[i] = civil.Interval{From: run.From.Add(by), To: run.To.Add(by)}
	}
	return out
}

// beginningsIn are the beginnings that a shift leaves for a leg at its site, were it its only work: after the way there and
// the sign-in, and before the way back.
func (c *compiled) beginningsIn(item int32, way int, t int32) civil.Interval {
	f, ref := c.items[item].follow, c.shifts[t]
	shift, technician := c.shiftOf(ref), &c.p.Technicians[ref.technician]
	_, total := firstParts(&f.Ways[way])
	drive := c.drive(technician, technician.Base, travel.PlaceID(f.Site))
	back := c.drive(technician, travel.PlaceID(f.Site), technician.Base)
	from := max(shift.During.From, c.p.Now)
	if c.p.Now < shift.During.From || len(c.in.Shifts[t].Fixed) == 0 {
		from = from.Add(drive)
	}
	return civil.Interval{
		From: from.Add(c.p.Sites[c.siteIndex[f.Site]].SignIn),
		To:   shift.During.To.Add(-back-total) + 1,
	}
}

// walked says what the walks of a technician-day ran into with a way put into each of its places; nil where one is lawful.
func (s *seeker) walked(way int, t int32) []Reason {
	var reasons []Reason
	for _, cause := range s.state.Causes(s.item, int16(s.c.kernelWay(s.item, way)), 0, t) {
		reason := Reason{Rules[cause.Rule], s.c.causeText(s.item, cause)}
		if cause.Text == tour.AccessShut || cause.Text == tour.NoBeginning || cause.Text == tour.PastItsDays && (cause.Item == s.item || cause.Item == instance.None) {
			reason = Reason{RuleShift, "what else stands in the day leaves no time for it at the hours at which it may begin"}
		}
		if !slices.Contains(reasons, reason) {
			reasons = append(reasons, reason)
		}
	}
	return reasons
}

// answer judges a slot that was asked for.
func (s *seeker) answer(slot Slot) SlotAnswer {
	out := SlotAnswer{Slot: slot}
	if s.stuck != nil {
		out.Forbids = s.stuck
		return out
	}
	if out.Forbids = s.beforeWays(slot); len(out.Forbids) > 0 {
		return out
	}
	var found []slotFound
	narrow := s.narrowed(civil.Interval{From: slot.Begins, To: slot.Begins + 1})
	for t := range s.c.shifts {
		if !s.covers(int32(t), slot) {
			continue
		}
		for way := range s.c.items[s.item].follow.Ways {
			if slot.Way != "" && s.c.items[s.item].follow.Ways[way].ID != slot.Way {
				continue
			}
			slots, reasons := narrow.inWay(way, int32(t), slot.Begins)
			if len(slots) == 0 {
				slots = s.beginning(way, int32(t), slot.Begins)
			}
			found = append(found, slots...)
			out.Forbids = append(out.Forbids, reasons...)
		}
	}
	if len(found) == 0 {
		out.Forbids = once(out.Forbids)
		return out
	}
	best := 0
	for i := range found {
		narrow.price(&found[i])
		if found[i].added.Sum() < found[best].added.Sum() {
			best = i
		}
	}
	opening := narrow.opening(&found[best])
	out.Opening, out.Forbids = &opening, nil
	return out
}

// beginning looks for places of a way in a technician-day that come to begin at an instant of themselves: a walk that is held to
// it does the work before as early as it can, which a mix may be too old for.
func (s *seeker) beginning(way int, t int32, at civil.Instant) []slotFound {
	kernel := s.c.kernelWay(s.item, way)
	if kernel < 0 {
		return nil
	}
	var found []slotFound
	for _, place := range s.sieve.Places(s.item, int16(kernel), 0, t) {
		if slot, ok := s.try(place); ok && s.c.instant(slot.placed.Begins) == at {
			found = append(found, slot)
		}
	}
	return found
}

// covers says whether a technician-day is of the technician of a slot and holds its beginning.
func (s *seeker) covers(t int32, slot Slot) bool {
	ref := s.c.shifts[t]
	during := s.c.shiftOf(ref).During
	return s.c.p.Technicians[ref.technician].ID == slot.Technician && during.From <= slot.Begins && slot.Begins < during.To
}

// beforeWays says what speaks against a slot whatever the way: shift, now, what it waits for, its days.
func (s *seeker) beforeWays(slot Slot) []Reason {
	zone := s.c.zoneOf(s.c.items[s.item].follow.Site)
	technician := &s.c.p.Technicians[s.c.crewIndex[slot.Technician]]
	var reasons []Reason
	if slot.Begins < s.c.p.Now {
		reasons = append(reasons, Reason{RuleTiming, fmt.Sprintf("%s is past: nothing begins before %s", zone.Format(slot.Begins), zone.Format(s.c.p.Now))})
	}
	reasons = append(reasons, s.c.waits(s.state, s.item)...)
	if earliest, _, stands, known := s.state.Days(s.item); known {
		day := s.c.day(zone.DateOf(slot.Begins))
		if day < earliest {
			reasons = append(reasons, Reason{RuleTiming, fmt.Sprintf("it is due from %s on", s.c.date(earliest).Short())})
		}
		if day > stands {
			reasons = append(reasons, Reason{RuleTiming, fmt.Sprintf("it stands until %s only", s.c.date(stands).Short())})
		}
	}
	if !slices.ContainsFunc(s.allTours(), func(t int32) bool { return s.covers(t, slot) }) {
		reasons = append(reasons, Reason{RuleShift, fmt.Sprintf("%s has no shift at %s", technician.Name, zone.Format(slot.Begins))})
	}
	return reasons
}

func (s *seeker) allTours() []int32 {
	tours := make([]int32, len(s.c.shifts))
	for t := range tours {
		tours[t] = int32(t)
	}
	return tours
}

// date turns days from the first day of the horizon into a date.
func (c *compiled) date(d instance.Day) civil.Date { return c.p.FirstDay.AddDays(int(d)) }

// inWay looks for places of a way in a technician-day at the instant to which the seeker is narrowed, or says what forbids them.
func (s *seeker) inWay(way int, t int32, begins civil.Instant) ([]slotFound, []Reason) {
	span := civil.Interval{From: begins, To: begins + 1}
	if refused := s.c.refusedWay(s.item, way); len(refused) > 0 {
		return nil, append(s.c.refusedThen(s.item, way, span), refused...)
	}
	if reasons := s.c.beforeAnyWalk(s.item, way, t, span); len(reasons) > 0 {
		return nil, reasons
	}
	var found []slotFound
	for _, place := range s.sieve.Places(s.item, int16(s.c.kernelWay(s.item, way)), 0, t) {
		if slot, ok := s.try(place); ok {
			found = append(found, slot)
		}
	}
	if len(found) > 0 {
		return found, nil
	}
	reasons := s.walked(way, t)
	for i := range reasons {
		if reasons[i].Rule == RuleShift {
			reasons[i] = s.elsewhere(t, begins)
		}
	}
	if len(reasons) == 0 {
		reasons = []Reason{s.elsewhere(t, begins)} // it is lawful, but only by moving what is to stay
	}
	return nil, once(reasons)
}

// elsewhere says where a technician is around an instant.
func (s *seeker) elsewhere(t int32, at civil.Instant) Reason {
	ref := s.c.shifts[t]
	technician := &s.c.p.Technicians[ref.technician]
	zone := s.c.zoneOf(s.c.items[s.item].follow.Site)
	text := fmt.Sprintf("%s cannot be there by %s and keep the rest of the day", technician.Name, zone.FormatClock(at))
	tour := &s.state.Tours[t]
	for k := range tour.Stops {
		arrives, leaves := s.c.instant(tour.Walk.Visits[k].Arrives), s.c.instant(tour.Walk.Visits[k].Leaves)
		if leaves <= at && (k+1 == len(tour.Stops) || s.c.instant(tour.Walk.Visits[k+1].Arrives) <= at) || arrives > at && k > 0 && s.c.instant(tour.Walk.Visits[k-1].Arrives) > at {
			continue
		}
		text += fmt.Sprintf("; at %s from %s to %s", s.c.p.Sites[tour.Stops[k].Site].Name, zone.FormatClock(arrives), zone.FormatClock(leaves))
	}
	return Reason{RuleShift, text}
}

// none says in short why there is no opening.
func (s *seeker) none() []Reason {
	if s.stuck != nil {
		return s.stuck
	}
	var reasons []Reason
	for _, obstacle := range s.obstacles(false) {
		reasons = append(reasons, obstacle.Reason)
	}
	if reasons = once(reasons); len(reasons) == 0 {
		reasons = []Reason{{RuleShift, "what else stands in the days of those who may do it leaves no time for it"}}
	}
	return reasons[:min(len(reasons), mostReasons)]
}

// once drops repetitions.
func once(reasons []Reason) []Reason {
	var kept []Reason
	for _, reason := range reasons {
		if !slices.Contains(kept, reason) {
			kept = append(kept, reason)
		}
	}
	return kept
}
