package planning

import (
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// rules resolves the business's rules for the sites of the Problem: notices, least intervals before entry, licence
// categories, supervision.
func (g *gathering) rules() scheduler.PlaceRules {
	rules := g.business.Rules
	rules.NoticeLead, rules.LeastEntry, rules.Categories, rules.Supervision = nil, nil, nil, nil
	seen := map[catalogue.JurisdictionCode]bool{}
	for _, s := range g.problem.Sites {
		rules.NoticeLead = append(rules.NoticeLead, noticeOf(s, g.business.Policy))
		if least := reentry.LeastAtSite(catalogue.Shipped(), s); least > 0 {
			rules.LeastEntry = append(rules.LeastEntry, scheduler.SiteEntry{Site: s.ID, Least: least})
		}
		if seen[s.Jurisdiction] {
			continue
		}
		seen[s.Jurisdiction] = true
		for _, c := range catalogue.Shipped().Categories(s.Jurisdiction) {
			rules.Categories = append(rules.Categories, scheduler.CategoryCover{Jurisdiction: s.Jurisdiction, Category: c.ID, Covers: c.Covers})
		}
		if _, known := catalogue.Shipped().Supervision(s.Jurisdiction); known {
			rules.Supervision = append(rules.Supervision, s.Jurisdiction)
		}
	}
	return rules
}

// kindsOf are the kinds of place that a site is and holds: a child care room in an office building makes it both.
func kindsOf(s site.Site) []catalogue.PlaceKind {
	kinds := []catalogue.PlaceKind{s.Kind}
	for _, area := range s.Areas {
		if area.Kind != "" {
			kinds = append(kinds, area.Kind)
		}
	}
	return kinds
}

// noticeOf is the longest published lead of the kinds of place of a site, never shortened by an agreement; where none is
// known, the agreement's, else the policy's, said as unknown.
func noticeOf(s site.Site, policy course.Policy) scheduler.SiteNotice {
	lead, known, _ := catalogue.Shipped().NoticeLead(s.Jurisdiction, kindsOf(s)...)
	agreed := time.Duration(-1)
	if s.Agreement.NoticeLead != nil {
		agreed = *s.Agreement.NoticeLead
	}
	switch {
	case known:
		return scheduler.SiteNotice{Site: s.ID, Lead: max(lead, agreed), Known: true}
	case agreed >= 0:
		return scheduler.SiteNotice{Site: s.ID, Lead: agreed}
	}
	return scheduler.SiteNotice{Site: s.ID, Lead: policy.NoticeLead}
}

// readVersions keeps the versions of everything that the Problem was made from.
func (g *gathering) readVersions() (err error) {
	var cases []course.CaseID
	for _, c := range g.cases {
		cases = append(cases, c.ID)
	}
	var sites []site.ID
	for _, s := range g.problem.Sites {
		sites = append(sites, s.ID)
	}
	var crew []scheduler.TechnicianID
	for _, m := range g.crew {
		crew = append(crew, m.ID)
	}
	g.versions, err = g.tx.VersionsOf(cases, sites, crew)
	return err
}
