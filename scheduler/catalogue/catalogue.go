package catalogue

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Catalogue is all that is known, by id. Nobody changes it after Load.
type Catalogue struct {
	Pests         map[PestID]Pest
	Materials     map[MaterialID]Material
	Species       map[SpeciesID]Species
	Jurisdictions map[JurisdictionCode]Jurisdiction
	Sources       map[string]Source
	// PolicyDefaults, RateDefaults and RuleDefaults are the settings of a business that has not set its own:
	// its policy, what the weighed terms cost, and the rules of notice, breaks and mixing. The key is the
	// field's name as JSON writes it, followed where the field has several values by a point and the
	// index or key: "clear_bound", "first_days_by_severity.2", "until_dry.whole-plant-spray".
	PolicyDefaults map[string]Figure
	RateDefaults   map[string]Figure
	RuleDefaults   map[string]Figure
	// SettingBounds narrow how far a business may move a setting, by the field's name.
	SettingBounds map[string]Bound
	// ExtentDefaults is the setting of a policy that is no figure: on what a treatment goes by severity.
	ExtentDefaults ExtentDefaults
	// EntryDefaults are the agricultural rule's intervals before entry by category of toxicity. They govern only where
	// that rule governs; AgriculturalEntry asks them.
	EntryDefaults []EntryDefault
	// Version is the hash of the data files; an application record names it.
	Version string
}

// PestByID returns a pest, or an error that names those that are known.
func (c *Catalogue) PestByID(id PestID) (Pest, error) { return find("pest", c.Pests, id) }

// MaterialByID returns a material, or an error that names those that are known.
func (c *Catalogue) MaterialByID(id MaterialID) (Material, error) {
	return find("material", c.Materials, id)
}

// SpeciesByID returns a species, or an error that names those that are known.
func (c *Catalogue) SpeciesByID(id SpeciesID) (Species, error) { return find("species", c.Species, id) }

// JurisdictionByCode returns a jurisdiction, or an error that names those that are known.
func (c *Catalogue) JurisdictionByCode(code JurisdictionCode) (Jurisdiction, error) {
	return find("jurisdiction", c.Jurisdictions, code)
}

func find[K ~string, V any](noun string, all map[K]V, id K) (V, error) {
	value, ok := all[id]
	if !ok {
		return value, fmt.Errorf("unknown %s %q: want one of %s", noun, string(id), oneOf(slices.Sorted(maps.Keys(all))))
	}
	return value, nil
}

// oneOf writes the choices of an error: "a, b, c".
func oneOf[T ~string](values []T) string {
	words := make([]string, len(values))
	for i, v := range values {
		words[i] = string(v)
	}
	return strings.Join(words, ", ")
}

// Tolerance says whether a species stands a material: what the species says, else what holds for the
// material on every plant, else PatchTest as an assumption. It never asks whether either id is known.
func (c *Catalogue) Tolerance(species SpeciesID, material MaterialID) Tolerance {
	for _, tolerance := range c.Species[species].Tolerance {
		if tolerance.Material == material {
			return tolerance
		}
	}
	if every := c.Materials[material].Tolerated; every != nil {
		return Tolerance{Material: material, Verdict: every.Verdict, Source: every.Source, Standing: every.Standing}
	}
	return Tolerance{Material: material, Verdict: PatchTest, Standing: Assumption}
}

// Effect says what a material does to a stage of a pest. Where the material does not list it, the
// stage is spared and nothing of it dies.
func (c *Catalogue) Effect(material MaterialID, pest PestID, stage StageID) Effect {
	effects := c.Materials[material].Effects
	for i := range effects { // by index, since the model asks often and an effect is large
		if effects[i].Pest == pest && effects[i].Stage == stage {
			return effects[i]
		}
	}
	return Effect{Pest: pest, Stage: stage, Reach: Spared, Kill: Figure{Unit: UnitShare, Standing: Assumption}}
}

// Apart returns the longest time by which a material that was used later must stand apart from one used earlier, as either
// of the two asks it, and why. Known is false where neither speaks of the other; 0 days that are known forbid the same day's use.
func (c *Catalogue) Apart(earlier, later MaterialID) (days float64, known bool, why string) {
	consider := func(of, other MaterialID, forbids Order) {
		for _, conflict := range c.Materials[of].Incompatible {
			if conflict.Material != other || conflict.Order != Either && conflict.Order != forbids {
				continue
			}
			if !known || conflict.Days.Value > days {
				days, known, why = conflict.Days.Value, true, conflict.Why
			}
		}
	}
	consider(later, earlier, After)
	consider(earlier, later, Before)
	return days, known, why
}

// Chain returns a jurisdiction and those within which it lies, the narrowest first:
// "US-PA", "US". An unknown code gives an empty chain.
func (c *Catalogue) Chain(code JurisdictionCode) []Jurisdiction {
	var chain []Jurisdiction
	// Read refuses a circle; the bound keeps a Catalogue made by hand from going round for ever.
	for len(chain) <= len(c.Jurisdictions) {
		jurisdiction, ok := c.Jurisdictions[code]
		if !ok {
			break
		}
		chain = append(chain, jurisdiction)
		code = jurisdiction.Within
	}
	return chain
}

// NoticeLead returns the strictest known lead time of a notice of an application at any of some kinds of
// place (a plant room in a school is in a school too), and the rule's own words. Known is false where no rule is known: then the agreement's or the policy's lead holds.
func (c *Catalogue) NoticeLead(code JurisdictionCode, places ...PlaceKind) (lead time.Duration, known bool, text string) {
	for _, jurisdiction := range c.Chain(code) {
		for _, rule := range jurisdiction.Notices {
			hours, ok := rule.LeadHours.Duration()
			if !ok || !anyOf(rule.Places, places) || known && hours <= lead {
				continue
			}
			lead, known, text = hours, true, rule.Text
		}
	}
	return lead, known, text
}

// LeastEntry returns the longest time that the law keeps people out after an application at any of some
// kinds of place, whatever the label says, and the rule's own words. Known is false where no such rule is known.
func (c *Catalogue) LeastEntry(code JurisdictionCode, places ...PlaceKind) (least time.Duration, known bool, text string) {
	for _, jurisdiction := range c.Chain(code) {
		for _, rule := range jurisdiction.Entries {
			hours, ok := rule.LeastHours.Duration()
			if !ok || !anyOf(rule.Places, places) || known && hours <= least {
				continue
			}
			least, known, text = hours, true, rule.Text
		}
	}
	return least, known, text
}

// anyOf says whether a rule for some kinds of place speaks of any of those asked.
func anyOf(ruled, asked []PlaceKind) bool {
	return slices.ContainsFunc(asked, func(kind PlaceKind) bool { return slices.Contains(ruled, kind) })
}

// Categories returns the licence categories that a jurisdiction and those around it know, its own first.
func (c *Catalogue) Categories(code JurisdictionCode) []LicenceCategory {
	var all []LicenceCategory
	for _, jurisdiction := range c.Chain(code) {
		all = append(all, jurisdiction.Categories...)
	}
	return all
}

// Supervision returns under whom an unlicensed technician may apply in a jurisdiction; known is false
// where that is not known of it, and then nobody may.
func (c *Catalogue) Supervision(code JurisdictionCode) (text string, known bool) {
	jurisdiction := c.Jurisdictions[code]
	return jurisdiction.Supervision, jurisdiction.Supervision != ""
}

// RecordRule returns what an application record must hold in a jurisdiction: the elements that it or
// one around it asks for, each once, kept for the longest of their times.
func (c *Catalogue) RecordRule(code JurisdictionCode) RecordRule {
	var rule RecordRule
	for _, jurisdiction := range c.Chain(code) {
		for _, element := range jurisdiction.Records.Elements {
			if !slices.Contains(rule.Elements, element) {
				rule.Elements = append(rule.Elements, element)
			}
		}
		if jurisdiction.Records.KeepYears.Value > rule.KeepYears.Value {
			rule.KeepYears = jurisdiction.Records.KeepYears
		}
	}
	return rule
}
