package catalogue

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"vernation/scheduler/quantity"
)

// Bounds of a product's label.
const (
	MaxEntry    = 30 * 24 * time.Hour // longest interval before entry
	MaxMixLife  = 30 * 24 * time.Hour
	MaxLagDays  = 365 // greatest number of days or applications that a label can state
	maxHardness = 10_000
)

var (
	forms      = []Form{Concentrate, ReadyToUse, Solid, Living, Device, NoSupply}
	entryKinds = []EntryKind{EntryHours, EntryUntilDry, EntryNone, EntryUnknown}
)

// Validate says what is wrong with the product record, field by field; empty when nothing is.
// An interval before entry that is unknown is no error here: a plan refuses the product, the record may wait for its container.
func (p Product) Validate(c *Catalogue) []FieldError {
	var l FieldErrors
	l.AddMissing("id", string(p.ID))
	l.AddMissing("name", p.Name)
	AddStrange(&l, "form", ReasonUnknownForm, p.Form, forms)
	material, err := c.MaterialByID(p.Material)
	l.AddUnknown("material", ReasonUnknownMaterial, err)
	if err == nil {
		p.validateLaw(&l, material)
		p.validatePortion(&l, material.Method)
	}
	for i, code := range p.Jurisdictions {
		_, err := c.JurisdictionByCode(code)
		l.AddUnknown(fmt.Sprintf("jurisdictions[%d]", i), ReasonUnknownJurisdiction, err)
	}
	for _, code := range slices.Sorted(maps.Keys(p.LawfulBecause)) {
		path := "lawful_because." + string(code)
		_, err := c.JurisdictionByCode(code)
		l.AddUnknown(path, ReasonUnknownJurisdiction, err)
		l.AddMissing(path, p.LawfulBecause[code])
	}
	p.validateRates(&l)
	l.AddUnder("label", p.Label.validate(c, p.Jurisdictions))
	for i, field := range p.Placeholders {
		l.AddMissing(fmt.Sprintf("placeholders[%d]", i), field)
	}
	return l
}

// validateLaw compares the record with what the law asks of its material.
func (p Product) validateLaw(l *FieldErrors, material Material) {
	if material.Law == RegisteredProduct {
		if p.Registration == "" {
			l.Add("registration", ReasonRegistrationMissing, "missing: %s may be applied only as a registered product: want the number on its label", material.Name)
		}
		if len(p.Jurisdictions) == 0 {
			l.Add("jurisdictions", ReasonMissing, "missing: want the jurisdictions in which the product is registered")
		}
	}
	if physical := material.Law == PhysicalWork; physical != (p.Form == NoSupply) {
		l.Add("form", ReasonContradiction, "form %q of %s, which is %s: want %q for physical work and for nothing else", p.Form, material.Name, material.Law, NoSupply)
	}
	if poured := material.Method.Sprays() || material.Method == Drench || material.Method == Wipe; p.Form == Concentrate && !poured {
		l.Add("form", ReasonContradiction, "a concentrate of %s, whose method is %s: want a form that is not diluted", material.Name, material.Method)
	}
}

// validatePortion judges what is weighed or counted: which forms have such a rate, what it is for, and its packs.
func (p Product) validatePortion(l *FieldErrors, method Method) {
	least, most := p.Label.MinPortion, p.Label.MaxPortion
	for i, pack := range p.Packs {
		if err := pack.Validate(); err != nil {
			l.Add(fmt.Sprintf("packs[%d]", i), ReasonPackInvalid, "%v", err)
		}
	}
	if len(p.Packs) > 0 && p.Form != Living {
		l.Add("packs", ReasonContradiction, "packs of a product that is %s: want none, or form %q", p.Form, Living)
	}
	portioned := (p.Form == Solid || p.Form == Living) && (method == Drench || method.Sprays())
	switch {
	case !portioned && (least != nil || most != nil):
		l.Add("label.max_portion", ReasonContradiction, "a rate by weight or number of a product that is %s, by %s: want none, or form %q or %q that is poured or sprayed", p.Form, method, Solid, Living)
	case !portioned:
	case most == nil:
		l.Add("label.max_portion", ReasonPortionMissing, "missing: want the greatest rate of the label, such as 10000 organisms per 1 L of pot")
	default:
		p.validatePortionRates(l, method)
	}
}

func (p Product) validatePortionRates(l *FieldErrors, method Method) {
	least, most := p.Label.MinPortion, *p.Label.MaxPortion
	if err := most.Validate(); err != nil {
		l.Add("label.max_portion", ReasonPortionInvalid, "%v", err)
		return
	}
	if most.Counted() != (p.Form == Living) {
		l.Add("label.max_portion", ReasonContradiction, "%v of a product that is %s: want living goods counted and solids weighed", most, p.Form)
	}
	if most.Basis() != quantity.ForMix && method != Drench {
		l.Add("label.max_portion", ReasonContradiction, "%v, and it is applied by %s: want a rate for a volume of mix, or a drench", most, method)
	}
	if p.Form == Living && len(p.Packs) == 0 {
		l.Add("packs", ReasonMissing, "missing: want how many organisms a pack holds, by which they are dosed")
	}
	if least == nil {
		return
	}
	switch err := least.Validate(); {
	case err != nil:
		l.Add("label.min_portion", ReasonPortionInvalid, "%v", err)
	case !least.Like(most):
		l.Add("label.min_portion", ReasonContradiction, "%v beside %v: want both of one kind", *least, most)
	case least.Cmp(most) > 0:
		l.Add("label.min_portion", ReasonMinAboveMax, "%v is more than the greatest rate, %v: want it less or equal", *least, most)
	}
}

func (p Product) validateRates(l *FieldErrors) {
	least, most := p.Label.MinRate, p.Label.MaxRate
	if p.Form != Concentrate {
		if least != nil || most != nil {
			l.Add("label.max_rate", ReasonContradiction, "a rate of a product that is %s: want none, or form %q", p.Form, Concentrate)
		}
		return
	}
	if most == nil {
		l.Add("label.max_rate", ReasonRateMissing, "missing: want the greatest rate of the label, such as 2.5 US fl oz made up to 1 US gal")
		return
	}
	if err := most.Validate(); err != nil {
		l.Add("label.max_rate", ReasonRateInvalid, "%v", err)
		return
	}
	if least == nil {
		return
	}
	if err := least.Validate(); err != nil {
		l.Add("label.min_rate", ReasonRateInvalid, "%v", err)
		return
	}
	if least.Cmp(*most) > 0 {
		l.Add("label.min_rate", ReasonMinAboveMax, "%v is stronger than the greatest rate, %v: want it weaker or equal", least, most)
	}
}

func (a Label) validate(c *Catalogue, jurisdictions []JurisdictionCode) []FieldError {
	var l FieldErrors
	for i, place := range a.Places {
		AddStrange(&l, fmt.Sprintf("places[%d]", i), ReasonUnknownPlace, place, PlaceKinds[:])
	}
	for i, pest := range a.Pests {
		_, err := c.PestByID(pest)
		l.AddUnknown(fmt.Sprintf("pests[%d]", i), ReasonUnknownPest, err)
	}
	l.AddUnder("entry", a.Entry.validate())
	a.validateLimits(&l)
	for _, list := range []struct {
		path    string
		species []SpeciesID
	}{{"must_not", a.MustNot}, {"leftover_on", a.LeftoverOn}} {
		for i, species := range list.species {
			_, err := c.SpeciesByID(species)
			l.AddUnknown(fmt.Sprintf("%s[%d]", list.path, i), ReasonUnknownSpecies, err)
		}
	}
	for i, keep := range a.KeepAway {
		AddStrange(&l, fmt.Sprintf("keep_away[%d].thing", i), ReasonUnknownThing, keep.Thing, SensitiveThings[:])
	}
	for i, other := range a.Incompatible {
		_, err := c.MaterialByID(other.Material)
		l.AddUnknown(fmt.Sprintf("incompatible[%d].material", i), ReasonUnknownMaterial, err)
		l.addOutside(fmt.Sprintf("incompatible[%d].days", i), other.Days, 0, MaxLagDays)
	}
	known := c.categoryIDs(jurisdictions)
	for i, category := range a.Categories {
		AddStrange(&l, fmt.Sprintf("categories[%d]", i), ReasonUnknownCategory, category, known)
	}
	return l
}

// categoryIDs lists the licence categories of the jurisdictions, without doubles.
func (c *Catalogue) categoryIDs(codes []JurisdictionCode) []string {
	var ids []string
	for _, code := range codes {
		for _, category := range c.Categories(code) {
			ids = append(ids, category.ID)
		}
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

// mostHumidity is the greatest relative humidity, in percent.
const mostHumidity = 100

func (a Label) validateLimits(l *FieldErrors) {
	l.addOutside("least_days", a.LeastDays, 0, MaxLagDays)
	l.addOutside("most_in_row", a.MostInRow, 0, MaxLagDays)
	l.addOutside("most_a_year", a.MostAYear, 0, MaxLagDays)
	if a.MixLife < 0 || a.MixLife > MaxMixLife {
		l.Add("mix_life", ReasonOutOfRange, "%v: want 0 (the shift in which it was mixed) to %v", a.MixLife, MaxMixLife)
	}
	for _, limit := range []struct {
		path  string
		value *float64
		b     bounds
	}{
		{"min_celsius", a.MinCelsius, celsiusBounds}, {"max_celsius", a.MaxCelsius, celsiusBounds},
		{"max_humidity", a.MaxHumidity, within(0, mostHumidity)},
		{"max_hardness", a.MaxHardness, within(0, maxHardness)},
	} {
		if v := limit.value; v != nil && !(*v >= limit.b.min && *v <= limit.b.max) {
			l.Add(limit.path, ReasonOutOfRange, "%v: want %v to %v", *v, limit.b.min, limit.b.max)
		}
	}
	if a.MinCelsius != nil && a.MaxCelsius != nil && *a.MinCelsius > *a.MaxCelsius {
		l.Add("min_celsius", ReasonMinAboveMax, "%v °C is above the greatest temperature, %v °C", *a.MinCelsius, *a.MaxCelsius)
	}
	for i, window := range a.Hours {
		if err := window.Validate(); err != nil {
			l.Add(fmt.Sprintf("hours[%d]", i), ReasonWindow, "%v", err)
		}
	}
}

func (e Entry) validate() []FieldError {
	var l FieldErrors
	AddStrange(&l, "kind", ReasonUnknownEntry, e.Kind, entryKinds)
	switch {
	case e.Kind == EntryHours && e.Hours == 0:
		l.Add("hours", ReasonEntryHours, "missing: want the label's interval, or another kind")
	case e.Hours < 0 || e.Hours > MaxEntry:
		l.Add("hours", ReasonOutOfRange, "%v: want more than 0 and at most %v", e.Hours, MaxEntry)
	case e.Kind != EntryHours && e.Hours != 0:
		l.Add("hours", ReasonContradiction, "%v with kind %q: want no hours, or kind %q", e.Hours, e.Kind, EntryHours)
	}
	if e.Kind == EntryNone && e.Reason == "" {
		l.Add("reason", ReasonEntryReason, "missing: want why no interval is needed, such as the words of the label")
	}
	return l
}

func (l *FieldErrors) addOutside(path string, value, least, most int) {
	if value < least || value > most {
		l.Add(path, ReasonOutOfRange, "%d: want %d to %d", value, least, most)
	}
}
