package scheduler

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// The rule "access" as a filter: keys and agreed technicians by technician-day, notices and consents by instant. That the
// whole visit lies in one run of access is asked by the walk of a day.

// mayEnter says whether the technician of a shift may visit a site on that day: keys held, and who is agreed.
func (c *compiled) mayEnter(s *site.Site, ref shiftRef) bool {
	technician, shift := &c.p.Technicians[ref.technician], c.shiftOf(ref)
	if s.Agreement.TechnicianFixed && s.Agreement.UsualTechnician != "" && s.Agreement.UsualTechnician != string(technician.ID) {
		return false
	}
	if len(s.Keys) == 0 {
		return true
	}
	from, to := s.Zone.DateOf(shift.During.From), s.Zone.DateOf(shift.During.To)
	for _, key := range s.Keys {
		held := slices.ContainsFunc(technician.Keys, func(k KeyHeld) bool {
			return k.Key == key && k.From <= from && (k.To.IsZero() || k.To >= to)
		})
		if !held {
			return false
		}
	}
	return true
}

// nobodyEnters says why no technician-day may visit a site.
func (c *compiled) nobodyEnters(s *site.Site) Reason {
	if len(c.shifts) == 0 {
		return Reason{RuleShift, "nobody has a shift in these days: plan a shift"}
	}
	if s.Agreement.TechnicianFixed {
		return Reason{RuleAccess, fmt.Sprintf("only %s may visit %s by the agreement, and has no shift with its keys: give them a shift or the keys", s.Agreement.UsualTechnician, s.Name)}
	}
	return Reason{RuleAccess, fmt.Sprintf("nobody on shift holds every key of %s (%s): hand over the keys", s.Name, list(s.Keys))}
}

// noticeLead is how long before an application at a site its client must know.
func (c *compiled) noticeLead(s *site.Site) time.Duration {
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

// noticeEnds is when an application may begin of which notice is given now: after publishing and lead.
func (c *compiled) noticeEnds(s *site.Site) civil.Instant {
	return c.p.Now.Add(c.p.Rules.PublishingDelay).Add(c.noticeLead(s))
}

// announced are the instants at which an application may begin by its notice: after now, publishing and lead, or near
// the beginning that a notice already names.
func (c *compiled) announced(f *FollowUp, s *site.Site) []civil.Interval {
	if c.noticeLead(s) == 0 {
		return []civil.Interval{c.aroundSpan()}
	}
	runs := []civil.Interval{{From: c.noticeEnds(s), To: c.span.To}}
	for _, sent := range c.p.Notices {
		if sent.Item == f.ID && !sent.Used {
			tolerance := c.p.Rules.NoticeTolerance
			runs = append(runs, civil.Interval{From: sent.Begins.Add(-tolerance), To: sent.Begins.Add(tolerance) + 1})
		}
	}
	return civil.Merge(runs)
}

// ownersConsent says whether every plant of a follow-up may be treated on a day: those not in our care by their owner's leave.
func (c *compiled) ownersConsent(f *FollowUp, d civil.Date) bool {
	return !slices.ContainsFunc(f.Plants, func(id site.PlantID) bool {
		at, known := c.plantIndex[id]
		return known && !c.p.Plants[at].Plant.MayBeTreated(d)
	})
}

// consented says whether the client has consented to a method on a day, where the agreement asks for that.
func (c *compiled) consented(s *site.Site, use *Use, d civil.Date) bool {
	var material catalogue.MaterialID
	if product := c.products[use.Product]; product != nil {
		material = product.Material
	}
	return s.Agreement.Consented(use.Method, material, d)
}
