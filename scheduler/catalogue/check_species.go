package catalogue

import (
	"maps"
	"slices"
)

// Ranges in which a figure of a species or a jurisdiction is possible at all.
const (
	largestPotML = 10_000_000
	mostMinor    = 100_000_000
	mostYears    = 100
	mostHours    = 90 * 24
)

func (c *checker) checkSpecies(species []Species, known *Catalogue) map[SpeciesID]Species {
	for i, s := range species {
		t := trail{"species", i}
		c.text(t.at("botanical"), s.Botanical)
		c.text(t.at("common"), s.Common)
		c.text(t.at("family"), s.Family)
		seen := map[MaterialID]bool{}
		for j, tolerance := range s.Tolerance {
			t := t.at("tolerance", j)
			if _, ok := known.Materials[tolerance.Material]; !ok {
				c.fail(t.at("material"), "unknown material %q: want one of %s", tolerance.Material, oneOf(slices.Sorted(maps.Keys(known.Materials))))
			}
			if seen[tolerance.Material] {
				c.fail(t.at("material"), "material %q is there twice", tolerance.Material)
			}
			seen[tolerance.Material] = true
			one(c, t.at("verdict"), "verdict", tolerance.Verdict, verdicts)
			c.standing(t, tolerance.Standing, tolerance.Source)
		}
		if len(s.ReplacementBySize) == 0 {
			c.fail(t.at("replacement_by_size"), "no replacement values: want at least one pot size")
		}
		for j, size := range s.ReplacementBySize {
			t := t.at("replacement_by_size", j)
			c.value(t.at("up_to_pot_ml"), float64(size.UpToPotML), within(1, largestPotML))
			if j > 0 && size.UpToPotML <= s.ReplacementBySize[j-1].UpToPotML {
				c.fail(t.at("up_to_pot_ml"), "%d mL: want the pots to grow", size.UpToPotML)
			}
			c.figure(t.at("minor"), size.Minor, within(0, mostMinor, UnitMinor))
		}
	}
	return byID(c, trail{"species"}, "id", species, func(s Species) SpeciesID { return s.ID })
}

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
		c.checkRules(t, jurisdiction)
	}
	return all
}

// checkRules judges what a jurisdiction asks for.
func (c *checker) checkRules(t trail, jurisdiction Jurisdiction) {
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
	if len(jurisdiction.Records.Elements) == 0 {
		c.fail(t.at("records", "elements"), "no elements: want what a record must hold")
	}
	c.figure(t.at("records", "keep_years"), jurisdiction.Records.KeepYears, within(0, mostYears, UnitYears))
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
	if len(jurisdiction.Unknown) == 0 {
		c.fail(t.at("unknown"), "empty: want what is not known, said")
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
