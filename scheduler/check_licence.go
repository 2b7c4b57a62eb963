package scheduler

import (
	"slices"

	"vernation/scheduler/civil"
)

// checkLicence judges the rule licence: who applies holds what the label asks for on that day, in that jurisdiction,
// for that kind of place, or works under a named supervisor where that is allowed; what is published is approved; and
// the technician has the skills that the work asks for.
func (c *checker) checkLicence() {
	for _, w := range c.work {
		if w.applies() && w.visit.site != nil {
			c.licensed(w)
			c.approved(w)
		}
		c.skilled(w)
	}
}

func (c *checker) licensed(w *placed) {
	product, tech := c.products[w.Use.Product], w.visit.route.tech
	if product == nil || tech == nil || len(product.Label.Categories) == 0 {
		return
	}
	s := w.visit.site
	day, kind := c.dateAt(s, w.Begins), placeKind(s, c.areas[w.Area])
	covering := c.coveringCategories(product, s.Jurisdiction, kind)
	if len(covering) == 0 {
		c.report(RuleLicence, w.where(), "%s applies %s at %s: no category that its label asks for (%s) is known to cover places of the kind %s in %s",
			w.Item, product.Name, w.visit.Site, list(product.Label.Categories), kind, s.Jurisdiction)
		return
	}
	if holds(tech, s.Jurisdiction, covering, day) || c.supervised(tech, s.Jurisdiction, covering, day) {
		return
	}
	c.report(RuleLicence, w.where(), "%s applies %s at %s on %v without a licence valid on that day: want one of %s in %s, or a named supervisor who holds it where %s allows that",
		tech.Name, product.Name, w.visit.Site, day, list(covering), s.Jurisdiction, s.Jurisdiction)
}

// coveringCategories are the categories that the label asks for and that cover the kind of place. A category of which
// PlaceRules.Categories does not say in that jurisdiction what it covers is taken to cover nothing.
func (c *checker) coveringCategories(product *Product, where JurisdictionCode, kind PlaceKind) []string {
	var covering []string
	for _, category := range product.Label.Categories {
		for _, cover := range c.p.Rules.Categories {
			if cover.Jurisdiction == where && cover.Category == category && slices.Contains(cover.Covers, kind) {
				covering = append(covering, category)
				break
			}
		}
	}
	return covering
}

// holds says whether a technician holds a licence of their own of one of the categories on a day.
func holds(t *Technician, where JurisdictionCode, categories []string, day civil.Date) bool {
	return slices.ContainsFunc(t.Licences, func(l Licence) bool { return l.Under == "" && valid(l, where, categories, day) })
}

// valid says whether a licence of one of the categories holds in a jurisdiction on a day; without a last day it holds
// until further notice.
func valid(l Licence, where JurisdictionCode, categories []string, day civil.Date) bool {
	return l.Jurisdiction == where && slices.Contains(categories, l.Category) && l.From <= day && (l.To.IsZero() || day <= l.To)
}

// supervised says whether the jurisdiction lets a technician apply under somebody who holds the licence.
func (c *checker) supervised(t *Technician, where JurisdictionCode, categories []string, day civil.Date) bool {
	if !slices.Contains(c.p.Rules.Supervision, where) {
		return false
	}
	return slices.ContainsFunc(t.Licences, func(l Licence) bool {
		supervisor := c.crew[l.Under]
		return l.Under != "" && valid(l, where, categories, day) &&
			supervisor != nil && supervisor != t && holds(supervisor, where, []string{l.Category}, day)
	})
}

// approved: an unapproved application may be planned but not published.
func (c *checker) approved(w *placed) {
	if w.follow == nil || w.follow.Approved || w.visit.State == Planned || w.visit.State == "" {
		return
	}
	c.report(RuleLicence, w.where(), "%s is %s though the responsible applicator has not approved it: approve the application, or leave the visit planned", w.Item, w.visit.State)
}

func (c *checker) skilled(w *placed) {
	if w.part == nil || w.visit.route.tech == nil {
		return
	}
	for _, skill := range w.part.Skills {
		if tech := w.visit.route.tech; !slices.Contains(tech.Skills, skill) {
			c.report(RuleLicence, w.where(), "%s asks for the skill %q, which %s does not have", w.Item, skill, tech.Name)
		}
	}
}
