package scheduler

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// longestAway is how long plants may be away where a way that carries them back states no bound.
const longestAway = 7 * 24 * time.Hour

// way compiles one way of a follow-up; with reasons it cannot be gone at all.
func (c *compiled) way(f *FollowUp, w *Way) (instance.Way, []Reason) {
	out := instance.Way{HeldIn: instance.None, MostAway: c.length(int64(longestAway.Seconds()))}
	if w.MostAway > 0 {
		out.MostAway = instance.Seconds(w.MostAway.Seconds())
	}
	var reasons []Reason
	var legs [][]int
	for n := range w.Parts {
		part := &w.Parts[n]
		switch {
		case part.Persons > 1:
			reasons = append(reasons, Reason{RuleShift, fmt.Sprintf("%s needs %d persons: technicians are not paired", c.wayName(w), part.Persons)})
		case part.Kind == WaitPart:
			out.Wait += instance.Seconds(part.Takes.Seconds())
			legs = append(legs, nil)
			continue
		}
		if len(legs) == 0 {
			legs = append(legs, nil)
		}
		legs[len(legs)-1] = append(legs[len(legs)-1], n)
	}
	legs = slices.DeleteFunc(legs, func(parts []int) bool { return len(parts) == 0 })
	if len(legs) == 0 || len(legs) > 2 {
		return out, append(reasons, Reason{RuleTiming, fmt.Sprintf("%s has %d stretches of work with waits between: one or two can be planned", c.wayName(w), len(legs))})
	}
	for _, parts := range legs {
		leg, why := c.leg(f, w, parts)
		reasons = append(reasons, why...)
		out.Legs = append(out.Legs, leg)
	}
	for n := range w.Parts {
		if use := w.Parts[n].Use; use != nil {
			reasons = append(reasons, c.labelRefuses(f, &w.Parts[n])...)
			c.overTime(f, use, &out)
		}
	}
	c.carried(f, w, &out)
	return out, reasons
}

// wayName writes a way for people.
func (c *compiled) wayName(w *Way) string {
	switch w.Kind {
	case AtTreatmentPlace:
		return "the treatment place"
	case ShutsNothing:
		return "the way that shuts nothing"
	}
	return "treating in place"
}

// carried notes how many plants a way takes to a treatment place.
func (c *compiled) carried(f *FollowUp, w *Way, out *instance.Way) {
	if w.Kind != AtTreatmentPlace {
		return
	}
	for n := range w.Parts {
		if at, known := c.areaIndex[w.Parts[n].Area]; known && w.Parts[n].Use != nil && c.areas[at].Treatment != nil {
			out.HeldIn = at
		}
	}
	for _, id := range f.Plants {
		if at, known := c.plantIndex[id]; known {
			out.Carried += c.in.Plants[at].Count
		}
	}
}

// leg compiles the parts of a way that are done on one visit, one right after another.
func (c *compiled) leg(f *FollowUp, w *Way, parts []int) (instance.Leg, []Reason) {
	s := &c.p.Sites[c.siteIndex[f.Site]]
	block := instance.Block{Rank: c.worst(f.Plants), Class: instance.ClassWork, Area: instance.None}
	if f.Kind == KindInspectInfested || f.Kind == KindInspectNeighbours {
		block.Class = instance.ClassInspection
	}
	var reasons []Reason
	for _, n := range parts {
		part := &w.Parts[n]
		piece, why := c.piece(f, w, n)
		reasons = append(reasons, why...)
		if part.Use != nil {
			block.Class, block.Area = instance.ClassApplication, piece.Area
		}
		if block.Area == instance.None {
			block.Area = piece.Area
		}
		block.Pieces = append(block.Pieces, piece)
	}
	leg := instance.Leg{Blocks: []instance.Block{block}, On: make([]bool, len(c.shifts))}
	var why []Reason
	for t, ref := range c.shifts {
		reason, may := c.mayDo(s, w, parts, block.Pieces, ref)
		leg.On[t] = may
		if !may {
			why = append(why, reason)
		}
	}
	if !slices.Contains(leg.On, true) {
		if len(c.shifts) == 0 {
			why = append(why, c.nobodyEnters(s))
		}
		reasons = append(reasons, why...)
	} else if len(reasons) == 0 {
		reasons = append(reasons, c.noTime(s, &leg)...)
	}
	return leg, reasons
}

func (c *compiled) worst(plants []site.PlantID) int8 {
	rank := instance.RankClean
	for _, id := range plants {
		rank = max(rank, c.rank(id))
	}
	return rank
}

// piece compiles one part.
func (c *compiled) piece(f *FollowUp, w *Way, n int) (instance.Piece, []Reason) {
	part := &w.Parts[n]
	s := &c.p.Sites[c.siteIndex[f.Site]]
	piece := instance.Piece{Part: int32(n), Takes: instance.Seconds(part.Takes.Seconds()), Product: instance.None}
	at, known := c.areaIndex[part.Area]
	if !known {
		return piece, []Reason{{RuleReentry, fmt.Sprintf("part %d of %s lies in no area of %s: name one", n, c.wayName(w), s.Name)}}
	}
	piece.Area = at
	runs := []civil.Interval{c.span}
	bounded := false
	if len(part.Windows) > 0 {
		runs, bounded = c.daily(s, part.Windows), true
	}
	if area := c.areas[at]; w.Kind == AtTreatmentPlace && area.Treatment != nil {
		open := reentry.Fitting(area.Treatment.Hours.Open(s.Zone, c.span), 0, part.Takes)
		runs, bounded = civil.Intersect(runs, open), true
		if len(runs) == 0 {
			return piece, []Reason{{RuleAccess, fmt.Sprintf("the treatment place %s is not open for %v at a time", area.Name, part.Takes)}}
		}
	}
	if taken := c.daysOfReplaced(f, s); n == 0 && len(taken) > 0 {
		runs, bounded = civil.Subtract(civil.Merge(runs), taken), true
	}
	var reasons []Reason
	if part.Use != nil {
		bounded = true
		runs, reasons = c.applicationRuns(f, part, s, runs)
		c.useOf(&piece, s, part.Use)
	}
	if bounded {
		piece.Windows = c.windows(runs)
	}
	return piece, reasons
}

// daysOfReplaced lists the days on which a visit that does not move waters plants which a follow-up takes out of that service:
// it cannot take them out any more, and so comes on another day.
func (c *compiled) daysOfReplaced(f *FollowUp, s *site.Site) []civil.Interval {
	var days []civil.Interval
	for _, link := range c.p.Links {
		if link.Kind != InsteadOf || link.From != f.ID {
			continue
		}
		for v := range c.p.Fixed {
			for _, w := range c.p.Fixed[v].Work {
				_, of := occurrenceOf(w.Item, string(link.To))
				if of && slices.ContainsFunc(w.Plants, func(id PlantID) bool { return slices.Contains(f.Plants, id) }) {
					day := s.Zone.DateOf(w.Begins)
					days = append(days, civil.Interval{From: s.Zone.At(day, 0), To: s.Zone.At(day.AddDays(1), 0)})
				}
			}
		}
	}
	return civil.Merge(days)
}

// useOf notes what an application applies.
func (c *compiled) useOf(piece *instance.Piece, s *site.Site, use *Use) {
	piece.Application = true
	aired, unaired := c.keepsOut(s, use)
	piece.KeepOut, piece.Unaired = instance.Seconds(aired.Seconds()), instance.Seconds(unaired.Seconds())
	mixed, _, _ := c.mixedBy(use)
	if at := slices.Index(c.mixed, mixed); at >= 0 {
		piece.Product = int32(at)
		piece.Need = nanolitres(needOf(use), true)
	}
}

// daily returns the runs of windows that open on every day of the span.
func (c *compiled) daily(s *site.Site, windows []civil.Window) []civil.Interval {
	var runs []civil.Interval
	for d := s.Zone.DateOf(c.span.From).AddDays(-1); d <= s.Zone.DateOf(c.span.To); d++ {
		for _, w := range windows {
			runs = append(runs, s.Zone.Runs(d, w)...)
		}
	}
	return civil.Merge(runs)
}

// applicationRuns narrows the beginnings of an application step by step; where nothing is left the step is the reason.
func (c *compiled) applicationRuns(f *FollowUp, part *Part, s *site.Site, runs []civil.Interval) ([]civil.Interval, []Reason) {
	for _, step := range c.applicationSteps(f, part, s) {
		runs = civil.Intersect(civil.Merge(runs), step.runs)
		left := runs
		if step.inHorizon {
			left = civil.Intersect(runs, []civil.Interval{c.horizon()})
		}
		if len(left) == 0 {
			return nil, []Reason{step.never()}
		}
	}
	return runs, nil
}

func (c *compiled) horizon() civil.Interval {
	return civil.Interval{From: c.origin, To: c.span.To - nightHours*3600/2}
}

// peopleReason says who stands in the way of a keep-out.
func (c *compiled) peopleReason(s *site.Site, area *site.Area, part *Part) Reason {
	aired, unaired := c.keepsOut(s, part.Use)
	for _, id := range shutWith(s, area.ID) {
		if shut := c.areas[c.areaIndex[id]]; shut.People.Always {
			return Reason{RuleReentry, fmt.Sprintf("people are always in %s, which a treatment in %s shuts for %s: only if the client agrees to shut it",
				shut.Name, area.Name, hoursText(aired))}
		}
	}
	return Reason{RuleReentry, fmt.Sprintf("at no time in these days are %s and what is open to it without people for %s of work and %s of keep-out: only if the client agrees to shut it",
		area.Name, hoursText(part.Takes), hoursText(unaired))}
}

// hoursText writes a length for people: "4 h", "32 min", "3 h 30 min".
func hoursText(d time.Duration) string {
	hours, minutes := int(d.Hours()), int(d.Minutes())%60
	switch {
	case hours == 0:
		return fmt.Sprintf("%d min", minutes)
	case minutes == 0:
		return fmt.Sprintf("%d h", hours)
	}
	return fmt.Sprintf("%d h %d min", hours, minutes)
}

// temperate says whether the area's temperatures of a day lie within the label.
func temperate(area *site.Area, product *catalogue.Product, d civil.Date) bool {
	label := &product.Label
	if label.MinCelsius == nil && label.MaxCelsius == nil {
		return true
	}
	season, known := area.Climate.On(d)
	return known && (label.MinCelsius == nil || season.Coldest >= *label.MinCelsius) &&
		(label.MaxCelsius == nil || season.Warmest <= *label.MaxCelsius)
}

// mayDo says whether the technician of a shift may do the parts of a leg on that day, or why not.
func (c *compiled) mayDo(s *site.Site, w *Way, parts []int, pieces []instance.Piece, ref shiftRef) (Reason, bool) {
	technician, shift := &c.p.Technicians[ref.technician], c.shiftOf(ref)
	if !c.mayEnter(s, ref) {
		return c.nobodyEnters(s), false
	}
	for i, n := range parts {
		part := &w.Parts[n]
		for _, skill := range part.Skills {
			if !slices.Contains(technician.Skills, skill) {
				return Reason{RuleLicence, fmt.Sprintf("%s does not have the skill %s", technician.Name, skill)}, false
			}
		}
		if part.Use == nil || c.products[part.Use.Product] == nil {
			continue
		}
		product := c.products[part.Use.Product]
		kind := s.Kind
		if at, known := c.areaIndex[part.Area]; known && c.areas[at].Kind != "" {
			kind = c.areas[at].Kind
		}
		for _, day := range [...]civil.Date{s.Zone.DateOf(shift.During.From), s.Zone.DateOf(shift.During.To)} {
			if !c.mayApply(technician, product, s.Jurisdiction, kind, day) {
				return Reason{RuleLicence, fmt.Sprintf("%s holds no licence for %s at a %s place in %s on these days", technician.Name, product.Name, kind, s.Jurisdiction)}, false
			}
		}
		if piece := &pieces[i]; piece.Product != instance.None {
			if c.dosings[piece.Product] == (dilution.Dosing{}) {
				return Reason{RuleMix, fmt.Sprintf("no mix of %s keeps its label: %s", product.Name, c.mixed[piece.Product].strength)}, false
			}
			if slices.Max(append([]int64{0}, c.in.Crew[ref.technician].Holds[piece.Product]...)) < piece.Need {
				return Reason{RuleMix, fmt.Sprintf("no vessel and measure of %s can make %v of %s within the label", technician.Name, needOf(part.Use), product.Name)}, false
			}
		}
	}
	return Reason{}, true
}

// noTime looks whether some technician-day meets the beginnings of a leg and the access at all; each step that leaves nothing is the reason.
func (c *compiled) noTime(s *site.Site, leg *instance.Leg) []Reason {
	pieces := leg.Blocks[0].Pieces
	total := time.Duration(0)
	for _, piece := range pieces {
		total += time.Duration(piece.Takes) * time.Second
	}
	access := reentry.Fitting(s.Access.Open(s.Zone, c.span), s.SignIn, total)
	if len(access) == 0 {
		return []Reason{{RuleAccess, fmt.Sprintf("%s is never open for %s at a time in these days", s.Name, hoursText(s.SignIn+total))}}
	}
	open := access
	for i := range pieces {
		if pieces[i].Windows == nil {
			continue
		}
		var runs []civil.Interval
		for _, window := range pieces[i].Windows {
			runs = append(runs, civil.Interval{From: c.instant(window.From), To: c.instant(window.To)})
		}
		takes := time.Duration(pieces[i].Takes) * time.Second
		if open = civil.Intersect(open, civil.Intersect(runs, reentry.Fitting(s.Access.Open(s.Zone, c.span), s.SignIn, takes))); len(open) == 0 && len(pieces) == 1 {
			return []Reason{{RuleAccess, fmt.Sprintf("%s is not open at the times at which %s may be shut for it", s.Name, c.areas[pieces[i].Area].Name)}}
		}
	}
	if len(pieces) > 1 {
		return nil // the parts follow one another: the walk of a day says more
	}
	for t, on := range leg.On {
		ref := c.shifts[t]
		shift, technician := c.shiftOf(ref), &c.p.Technicians[ref.technician]
		there, _, _ := c.p.Travel.Between(technician.Base, travel.PlaceID(s.ID))
		span := civil.Interval{From: shift.During.From.Add(time.Duration(there)*time.Second + s.SignIn), To: shift.During.To.Add(-total) + 1}
		if on && len(civil.Intersect(open, []civil.Interval{span})) > 0 {
			return nil
		}
	}
	return []Reason{{RuleShift, fmt.Sprintf("no shift of a technician who may do it holds %s at %s at a time that %s allows", hoursText(total), c.areas[pieces[0].Area].Name, s.Name)}}
}
