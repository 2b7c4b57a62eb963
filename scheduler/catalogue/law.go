package catalogue

import (
	"slices"
	"strings"
	"time"
)

// CategoriesCovering returns the licence categories that cover plants at a kind of place in a jurisdiction or one
// around it; none means that none is known, not that no licence is asked for.
func (c *Catalogue) CategoriesCovering(code JurisdictionCode, place PlaceKind) []LicenceCategory {
	return slices.DeleteFunc(c.Categories(code), func(l LicenceCategory) bool { return !slices.Contains(l.Covers, place) })
}

// SupervisionRules returns who may apply how near to a licence holder in a jurisdiction; none means not known.
func (c *Catalogue) SupervisionRules(code JurisdictionCode) []SupervisionRule {
	return slices.Clone(c.Jurisdictions[code].SupervisionRules)
}

// KeepYears returns for how many years application records are kept in a jurisdiction: the longest time known of
// it and those around it. Known is false where none is.
func (c *Catalogue) KeepYears(code JurisdictionCode) (years Figure, known bool) {
	years = c.RecordRule(code).KeepYears
	return years, years.Unit != ""
}

// Postings returns every sign that an application at a kind of place asks for, the narrowest jurisdiction's
// first. All of them hold. None means that none is known.
func (c *Catalogue) Postings(code JurisdictionCode, place PlaceKind) []Posting {
	var all []Posting
	for _, jurisdiction := range c.Chain(code) {
		for _, posting := range jurisdiction.Postings {
			if slices.Contains(posting.Places, place) {
				all = append(all, posting)
			}
		}
	}
	return all
}

// PostingTimes returns how long before an application at a kind of place its signs are up and how long after it they
// stay, the strictest known of each. Asked is false where no sign is known to be asked for; a sign that stays for a
// time nobody knows of counts as nought here, and Unknown says so.
func (c *Catalogue) PostingTimes(code JurisdictionCode, place PlaceKind) (before, after time.Duration, asked bool) {
	for _, posting := range c.Postings(code, place) {
		asked = true
		before = longer(before, posting.BeforeHours)
		after = longer(after, posting.StaysHours)
	}
	return before, after, asked
}

func longer(known time.Duration, hours *Figure) time.Duration {
	if hours == nil {
		return known
	}
	duration, _ := hours.Duration()
	return max(known, duration)
}

// Duties returns what the law asks for beside licence, record, notice, sign and entry, the narrowest
// jurisdiction's first.
func (c *Catalogue) Duties(code JurisdictionCode) []Duty {
	var all []Duty
	for _, jurisdiction := range c.Chain(code) {
		all = append(all, jurisdiction.Duties...)
	}
	return all
}

// Unknown returns what is not known of a jurisdiction and those around it, in sentences for people, its own first.
func (c *Catalogue) Unknown(code JurisdictionCode) []string {
	var all []string
	for _, jurisdiction := range c.Chain(code) {
		all = append(all, jurisdiction.Unknown...)
	}
	return all
}

// AgriculturalEntry returns the interval that the agricultural rule gives a product without one, by the worst
// category of acute toxicity (by skin, eye irritation and skin irritation) of any of its active ingredients. A category
// that is missing or not one of the four counts as the worst. It governs only where that rule governs and is never
// taken over for a product's own record: there, no interval is unknown and refused.
func (c *Catalogue) AgriculturalEntry(category string) time.Duration {
	var worst time.Duration
	for _, entry := range c.EntryDefaults {
		interval, _ := entry.Interval.Duration()
		if strings.EqualFold(string(entry.Category), strings.TrimSpace(category)) {
			return interval
		}
		worst = max(worst, interval)
	}
	if worst == 0 {
		panic("catalogue: the entry defaults are there: Read refuses data without them")
	}
	return worst
}
