package catalogue

import (
	"maps"
	"slices"
)

// Ranges in which a figure of a jurisdiction is possible at all.
const (
	mostYears       = 100
	mostHours       = 90 * 24
	mostMillimetres = 2_000
)

func (c *checker) checkJurisdictions(jurisdictions []Jurisdiction) map[JurisdictionCode]Jurisdiction {
	all := byID(c, trail{"jurisdictions"}, "code", jurisdictions, func(j Jurisdiction) JurisdictionCode { return j.Code })
	for i, jurisdiction := range jurisdictions {
		t := trail{"jurisdictions", i}
		c.text(t.at("name"), jurisdiction.Name)
		if _, ok := all[jurisdiction.Within]; jurisdiction.Within != "" && !ok {
			c.fail(t.at("within"), "unknown jurisdiction %q: want one of %s", jurisdiction.Within, oneOf(slices.Sorted(maps.Keys(all))))
		}
		if circles(all, jurisdiction.Code) {
			c.fail(t.at("within"), "jurisdiction %q lies within itself", jurisdiction.Code)
		}
		c.checkLicences(t, jurisdiction)
		c.checkRecords(t.at("records"), jurisdiction.Records)
		c.checkRules(t, jurisdiction)
		c.checkPostings(t, jurisdiction)
		if len(jurisdiction.Unknown) == 0 {
			c.fail(t.at("unknown"), "empty: want what is not known, said")
		}
	}
	return all
}

// checkLicences judges who may apply in a jurisdiction.
func (c *checker) checkLicences(t trail, jurisdiction Jurisdiction) {
	for j, category := range jurisdiction.Categories {
		t := t.at("categories", j)
		c.text(t.at("name"), category.Name)
		c.places(t.at("covers"), category.Covers)
		c.standing(t, category.Standing, category.Source)
	}
	byID(c, t.at("categories"), "id", jurisdiction.Categories, func(l LicenceCategory) string { return l.ID })
	if (jurisdiction.Supervision == "") != (jurisdiction.SupervisionStanding == "") {
		c.fail(t.at("supervision"), "a supervision and its standing stand together")
	}
	if jurisdiction.Supervision != "" {
		c.standing(t.at("supervision"), jurisdiction.SupervisionStanding, jurisdiction.SupervisionSource)
	}
	allows := false
	for j, rule := range jurisdiction.SupervisionRules {
		t := t.at("supervision_rules", j)
		c.text(t.at("who"), rule.Who)
		c.text(t.at("text"), rule.Text)
		one(c, t.at("kind"), "kind of supervision", rule.Kind, SupervisionKinds[:])
		c.standing(t, rule.Standing, rule.Source)
		allows = allows || rule.Kind.AllowsWork()
	}
	if allows != (jurisdiction.Supervision != "") {
		c.fail(t.at("supervision_rules"), "a supervision stands beside the rules, and only where one of them lets somebody apply under another's licence")
	}
}

func (c *checker) checkRecords(t trail, rule RecordRule) {
	if len(rule.Elements) == 0 {
		c.fail(t.at("elements"), "no elements: want what a record must hold")
	}
	if rule.ElementsStanding != "" || rule.ElementsSource != "" {
		c.standing(t, rule.ElementsStanding, rule.ElementsSource)
	}
	c.figure(t.at("keep_years"), rule.KeepYears, within(0, mostYears, UnitYears))
}

// checkRules judges what a jurisdiction asks for in time and in words.
func (c *checker) checkRules(t trail, jurisdiction Jurisdiction) {
	for j, notice := range jurisdiction.Notices {
		t := t.at("notices", j)
		c.places(t.at("places"), notice.Places)
		c.figure(t.at("lead_hours"), notice.LeadHours, within(0, mostHours, UnitHours))
		c.text(t.at("text"), notice.Text)
	}
	for j, entry := range jurisdiction.Entries {
		t := t.at("entries", j)
		c.places(t.at("places"), entry.Places)
		c.figure(t.at("least_hours"), entry.LeastHours, within(0, mostHours, UnitHours))
		c.text(t.at("text"), entry.Text)
	}
	for j, duty := range jurisdiction.Duties {
		t := t.at("duties", j)
		c.text(t.at("text"), duty.Text)
		c.standing(t, duty.Standing, duty.Source)
	}
}

// checkPostings judges the signs that a jurisdiction asks for.
func (c *checker) checkPostings(t trail, jurisdiction Jurisdiction) {
	for j, posting := range jurisdiction.Postings {
		t := t.at("postings", j)
		c.places(t.at("places"), posting.Places)
		c.text(t.at("text"), posting.Text)
		c.standing(t, posting.Standing, posting.Source)
		for _, size := range []struct {
			field string
			is    *Figure
			in    bounds
		}{
			{"letter_height", posting.LetterHeight, within(1, mostMillimetres, UnitMillimetres)},
			{"sheet_width", posting.SheetWidth, within(1, mostMillimetres, UnitMillimetres)},
			{"sheet_height", posting.SheetHeight, within(1, mostMillimetres, UnitMillimetres)},
			{"before_hours", posting.BeforeHours, within(0, mostHours, UnitHours)},
			{"stays_hours", posting.StaysHours, within(0, mostHours, UnitHours)},
		} {
			if size.is != nil {
				c.figure(t.at(size.field), *size.is, size.in)
			}
		}
	}
}

// checkEntryDefaults judges the agricultural rule's intervals: one for each category, none shorter for a worse one.
func (c *checker) checkEntryDefaults(defaults []EntryDefault) {
	t := trail{"entry_defaults"}
	byID(c, t, "category", defaults, func(e EntryDefault) ToxicityCategory { return e.Category })
	hours := map[ToxicityCategory]float64{}
	for i, entry := range defaults {
		one(c, t.at(i, "category"), "category of toxicity", entry.Category, ToxicityCategories[:])
		c.figure(t.at(i, "interval"), entry.Interval, within(0, mostHours, UnitHours))
		hours[entry.Category] = entry.Interval.Value
	}
	for i, category := range ToxicityCategories {
		if hours[category] <= 0 {
			c.fail(t, "no interval for category %s: want one for each of %s", category, oneOf(ToxicityCategories[:]))
		} else if i > 0 && hours[category] > hours[ToxicityCategories[i-1]] {
			c.fail(t, "category %s is shut longer than the worse %s", category, ToxicityCategories[i-1])
		}
	}
}

func (c *checker) places(t trail, places []PlaceKind) {
	if len(places) == 0 {
		c.fail(t, "no kinds of place: want at least one of %s", oneOf(PlaceKinds[:]))
	}
	for i, place := range places {
		one(c, t.at(i), "kind of place", place, PlaceKinds[:])
	}
}

// circles says whether the jurisdictions around one lead back to it.
func circles(all map[JurisdictionCode]Jurisdiction, code JurisdictionCode) bool {
	at := all[code].Within
	for range all {
		if at == code {
			return true
		}
		at = all[at].Within
	}
	return false
}
