package scheduler

import (
	"fmt"
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// step is one thing that narrows when a part of a way may begin, with what it says where it leaves nothing.
type step struct {
	runs []civil.Interval // of beginnings, merged
	// never says that no beginning of the Problem's days is left; inHorizon that only those of the horizon count as left.
	never     func() Reason
	inHorizon bool
	// then says what speaks against the beginnings of a span, which may be one instant.
	then func(span civil.Interval) Reason
}

// always turns a reason that holds whenever it is asked into what a step says of a span.
func always(rule Rule, format string, args ...any) func(civil.Interval) Reason {
	return func(civil.Interval) Reason { return Reason{rule, fmt.Sprintf(format, args...)} }
}

// applicationSteps lists what narrows the beginnings of an application: people, label, what was applied before, notice,
// consent, temperature.
func (c *compiled) applicationSteps(f *FollowUp, part *Part, s *site.Site) []step {
	use := part.Use
	area := c.areas[c.areaIndex[part.Area]]
	var steps []step
	if aired, unaired := c.keepsOut(s, use); aired > 0 {
		steps = append(steps, step{
			runs: reentry.Beginnings(*s, part.Area, part.Takes, aired, unaired, c.span), inHorizon: true,
			never: func() Reason { return c.peopleReason(s, area, part) },
			then:  func(span civil.Interval) Reason { return c.peopleThen(s, area, part, span) },
		})
	}
	product := c.products[use.Product]
	if product == nil {
		return steps // labelRefuses says so
	}
	add := func(runs []civil.Interval, rule Rule, never string, then func(civil.Interval) Reason) {
		steps = append(steps, step{runs: runs, never: func() Reason { return Reason{rule, never} }, then: then})
	}
	if hours := product.Label.Hours; len(hours) > 0 {
		text := fmt.Sprintf("the label of %s allows %v to %v only", product.Name, hours[0].Opens, hours[0].Closes)
		add(reentry.Fitting(c.daily(s, hours), 0, part.Takes), RuleLabel, fmt.Sprintf("%s, and people are in %s then", text, area.Name), always(RuleLabel, "%s", text))
	}
	text := fmt.Sprintf("the label asks for more days between %s and what was applied to these plants", product.Name)
	add(civil.Subtract([]civil.Interval{c.aroundSpan()}, c.tooCloseToApplied(f, product)), RuleLabel, text, always(RuleLabel, "%s", text))
	text = fmt.Sprintf("%s asks for notice of an application", s.Name)
	add(c.announced(f, s), RuleAccess, text+", which leaves no time in these days", func(civil.Interval) Reason {
		return Reason{RuleAccess, fmt.Sprintf("%s: one given now lets it begin from %s on", text, s.Zone.Format(c.noticeEnds(s)))}
	})
	text = fmt.Sprintf("the agreement of %s asks for consent to %s, and none is given", s.Name, use.Method)
	add(c.daysWhere(s.Zone, func(d civil.Date) bool { return c.consented(s, use, d) }), RuleAccess, text+" for these days: ask the client", always(RuleAccess, "%s for that day: ask the client", text))
	text = "plants of it are not in our care, and their owner's consent does not hold"
	add(c.daysWhere(s.Zone, func(d civil.Date) bool { return c.ownersConsent(f, d) }), RuleAccess, text+" in these days: ask the owner, or look only", always(RuleAccess, "%s on that day: ask the owner, or look only", text))
	text = fmt.Sprintf("the temperature in %s is unknown or outside the label of %s", area.Name, product.Name)
	add(c.daysWhere(s.Zone, func(d civil.Date) bool { return temperate(area, product, d) }), RuleLabel, text+" in these days", always(RuleLabel, "%s on that day", text))
	return steps
}

// aroundSpan is a little more than the span that windows are read for.
func (c *compiled) aroundSpan() civil.Interval {
	return civil.Interval{From: c.span.From - nightHours*3600, To: c.span.To + nightHours*3600}
}

// peopleThen says who is in an area that a treatment shuts, for one that would begin in a span.
func (c *compiled) peopleThen(s *site.Site, area *site.Area, part *Part, span civil.Interval) Reason {
	aired, unaired := c.keepsOut(s, part.Use)
	if span.Length() > time.Second {
		return Reason{RuleReentry, fmt.Sprintf("people are in %s or what is open to it, which a treatment there shuts for %s", area.Name, hoursText(part.Takes+unaired))}
	}
	treatment := reentry.Treatment{Area: area.ID, Begins: span.From, Ends: span.From.Add(part.Takes), KeepOut: aired, Unventilated: unaired}
	shut := reentry.Interval(*s, treatment)
	if occupied := reentry.Occupied(*s, treatment); len(occupied) > 0 {
		people := occupied[0]
		who := c.areas[c.areaIndex[people.Area]]
		if who.People.Always {
			return Reason{RuleReentry, fmt.Sprintf("people are always in %s, which a treatment in %s shuts from %s to %s: only if the client agrees to shut it",
				who.Name, area.Name, s.Zone.Format(shut.From), s.Zone.Format(shut.To))}
		}
		return Reason{RuleReentry, fmt.Sprintf("a treatment in %s begun %s would shut %s until %s, and people are there from %s to %s", area.Name,
			s.Zone.Format(shut.From), who.Name, s.Zone.Format(shut.To), s.Zone.Format(people.During.From), s.Zone.Format(people.During.To))}
	}
	return c.peopleReason(s, area, part)
}
