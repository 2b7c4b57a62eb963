package scheduler

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
)

// The rule "licence" is a filter: it says which technician-days may do a leg at all. Approval is asked when a plan is published.

// mayApply says whether a technician may apply a product in a jurisdiction and kind of place on a day.
func (c *compiled) mayApply(technician *Technician, product *catalogue.Product, where catalogue.JurisdictionCode, kind catalogue.PlaceKind, day civil.Date) bool {
	if len(product.Label.Categories) == 0 {
		return true
	}
	for _, category := range product.Label.Categories {
		covers := slices.ContainsFunc(c.p.Rules.Categories, func(cover CategoryCover) bool {
			return cover.Jurisdiction == where && cover.Category == category && slices.Contains(cover.Covers, kind)
		})
		if covers && (c.holdsLicence(technician, where, category, day, true) || c.worksUnder(technician, where, category, day)) {
			return true
		}
	}
	return false
}

// holdsLicence says whether a technician holds a licence of one's own (or under somebody) on a day.
func (c *compiled) holdsLicence(technician *Technician, where catalogue.JurisdictionCode, category string, day civil.Date, own bool) bool {
	return slices.ContainsFunc(technician.Licences, func(l Licence) bool {
		return l.Jurisdiction == where && l.Category == category && holdsOn(&l, day) && (l.Under == "") == own
	})
}

// holdsOn says whether a licence holds on a day; without a last day it holds until further notice.
func holdsOn(l *Licence, day civil.Date) bool {
	return l.From <= day && (l.To.IsZero() || day <= l.To)
}

// worksUnder says whether the jurisdiction lets a technician work under the named supervisor, who holds the licence.
func (c *compiled) worksUnder(technician *Technician, where catalogue.JurisdictionCode, category string, day civil.Date) bool {
	if !slices.Contains(c.p.Rules.Supervision, where) {
		return false
	}
	return slices.ContainsFunc(technician.Licences, func(l Licence) bool {
		at, known := c.crewIndex[l.Under]
		return l.Under != "" && known && l.Jurisdiction == where && l.Category == category && holdsOn(&l, day) &&
			l.Under != technician.ID && c.holdsLicence(&c.p.Technicians[at], where, category, day, true)
	})
}
