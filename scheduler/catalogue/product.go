package catalogue

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// ProductID names a product of one business.
type ProductID string

// Form is the supply form of a product.
type Form string

// The supply forms. A Concentrate is diluted; so is a Solid whose label weighs it into a mix, and Living goods whose label
// counts them.
const (
	Concentrate Form = "concentrate"
	ReadyToUse  Form = "ready-to-use"
	Solid       Form = "solid"
	Living      Form = "living"
	Device      Form = "device"
	NoSupply    Form = "none" // physical work
)

// Product is the business's own record of a real container. Its label is what the container says:
// an agricultural interval is never taken over into it.
type Product struct {
	ID           ProductID  `json:"id"`
	Name         string     `json:"name"`
	Material     MaterialID `json:"material"`
	Registration string     `json:"registration,omitempty"` // registration number; required where the law asks for a registered product
	Form         Form       `json:"form"`
	// Jurisdictions where the product is registered; empty for physical work and devices.
	Jurisdictions []JurisdictionCode `json:"jurisdictions,omitempty"`
	// LawfulBecause is the responsible applicator's record, by jurisdiction, of why a household remedy is lawful there.
	LawfulBecause map[JurisdictionCode]string `json:"lawful_because,omitempty"`
	Label         Label                       `json:"label"`
	// Placeholders are the fields of the record that were not read from a container; shown wherever they are used.
	Placeholders []string `json:"placeholders,omitempty"`
	// DeliveryDays are the weekdays on which living goods are delivered; empty is any day.
	DeliveryDays []civil.Weekday `json:"delivery_days,omitempty"`
	// Packs are the packs in which a product of counted organisms comes.
	Packs []Pack `json:"packs,omitempty"`
	// LabelVersion names the label that was read; kept with each application record.
	LabelVersion string `json:"label_version,omitempty"`
}

// EntryKind is the kind of interval before people may enter.
type EntryKind string

// The four values of the interval. Unknown is refused; no number is assumed for it.
const (
	EntryHours    EntryKind = "hours"
	EntryUntilDry EntryKind = "until-dry"
	EntryNone     EntryKind = "none-needed"
	EntryUnknown  EntryKind = "unknown"
)

// Entry is a label's interval before entry.
type Entry struct {
	Kind   EntryKind     `json:"kind"`
	Hours  time.Duration `json:"hours,omitempty"`  // only with EntryHours
	Reason string        `json:"reason,omitempty"` // why none is needed; required with EntryNone
}

// Label is what a product's label allows. A list that is empty allows nothing unless its comment says otherwise.
type Label struct {
	Places []PlaceKind `json:"places,omitempty"` // of use
	Pests  []PestID    `json:"pests,omitempty"`
	// MinRate and MaxRate bound the strength of a diluted product; a label with one rate has only MaxRate.
	MinRate *quantity.Rate `json:"min_rate,omitempty"`
	MaxRate *quantity.Rate `json:"max_rate,omitempty"`
	// MinPortion and MaxPortion bound what is weighed or counted: a powder in the mix, granules or nematodes for the pot or the
	// soil. A label with one rate has only MaxPortion; both are of one kind.
	MinPortion *quantity.PortionRate `json:"min_portion,omitempty"`
	MaxPortion *quantity.PortionRate `json:"max_portion,omitempty"`
	Entry      Entry                 `json:"entry"`
	// LeastDays between two applications to a plant; MostInRow and MostAYear cap them. 0 is no limit stated.
	LeastDays    int    `json:"least_days,omitempty"`
	MostInRow    int    `json:"most_in_row,omitempty"`
	MostAYear    int    `json:"most_a_year,omitempty"`
	ModeOfAction string `json:"mode_of_action,omitempty"` // group; groups rotate
	// MixLife is how long a mix may be used, counted from mixing; 0 is the end of the shift in which it was mixed.
	MixLife time.Duration `json:"mix_life,omitempty"`
	// MinCelsius and MaxCelsius bound the temperature; nil is no limit stated.
	MinCelsius *float64 `json:"min_celsius,omitempty"`
	MaxCelsius *float64 `json:"max_celsius,omitempty"`
	// MaxHumidity bounds the relative humidity in percent; nil is no limit stated.
	MaxHumidity *float64 `json:"max_humidity,omitempty"`
	// Hours are the times of day at which it may be applied; empty is any.
	Hours        []civil.Window `json:"hours,omitempty"`
	OpenFlowers  bool           `json:"open_flowers,omitempty"`  // may go on open flowers
	EdiblePlants bool           `json:"edible_plants,omitempty"` // may go on edible plants
	DryPlants    bool           `json:"dry_plants,omitempty"`    // may go on dry plants
	MustNot      []SpeciesID    `json:"must_not,omitempty"`      // species the label itself excludes
	KeepAway     []KeepAway     `json:"keep_away,omitempty"`     // from sensitive things
	Incompatible []Incompatible `json:"incompatible,omitempty"`  // with other materials
	MaxHardness  *float64       `json:"max_hardness,omitempty"`  // mg/L CaCO3; nil is no limit stated
	Categories   []string       `json:"categories,omitempty"`    // licence categories, any of them; empty asks for none
	Equipment    []string       `json:"equipment,omitempty"`     // protective equipment
	LeftoverOn   []SpeciesID    `json:"leftover_on,omitempty"`   // what is left may go on these
	StorageNote  string         `json:"storage_note,omitempty"`
	SignalWord   string         `json:"signal_word,omitempty"`
}

// KeepAway is the label's word on one sensitive thing: refused, or allowed on a condition.
type KeepAway struct {
	Thing Sensitive `json:"thing"`
	// Condition is a step of the visit that makes it lawful (cover, pump off, move); empty refuses.
	Condition string `json:"condition,omitempty"`
}

// Incompatible is a material that must not follow or precede within so many days.
type Incompatible struct {
	Material MaterialID `json:"material"`
	Days     int        `json:"days"`
}

// Diluted says whether applying the product needs a mix: a solid whose label weighs it for the pot or the soil is strewn dry.
func (p Product) Diluted() bool {
	portion := p.Label.MaxPortion
	switch {
	case p.Form == Concentrate:
		return true
	case portion == nil:
		return false
	}
	return p.Form == Living || p.Form == Solid && portion.Basis() == quantity.ForMix
}

// Pack is a container of living organisms and into how many equal parts a person can divide it by sight; 1 is whole only.
type Pack struct {
	Name      string `json:"name"`
	Organisms int64  `json:"organisms"`
	Parts     int64  `json:"parts"`
}

// MaxParts bounds into how many parts a pack is divided by sight.
const MaxParts = 8

// Validate says what is wrong with the pack, or nil. Its parts are whole numbers of organisms, so that a mix states one.
func (p Pack) Validate() error {
	switch {
	case p.Name == "":
		return fmt.Errorf("pack without a name: want what is written on it, such as pack of 5 million")
	case p.Organisms < 1 || p.Organisms > quantity.MaxOrganisms || p.Parts < 1 || p.Parts > MaxParts:
		return fmt.Errorf("pack %q of %d organisms in %d parts: want at least one organism and 1 to %d parts", p.Name, p.Organisms, p.Parts, MaxParts)
	case p.Organisms%p.Parts != 0:
		return fmt.Errorf("pack %q of %d organisms in %d parts: want parts that are whole numbers", p.Name, p.Organisms, p.Parts)
	}
	return nil
}

// InForce returns the product with what its material asks for where its label is silent or milder: the mix life, and the
// days apart from other materials, counted both ways.
func (c *Catalogue) InForce(p Product) Product {
	material := c.Materials[p.Material]
	if p.Label.MixLife == 0 && material.MixLifeHours != nil {
		p.Label.MixLife, _ = material.MixLifeHours.Duration()
	}
	p.Label.Incompatible = slices.Clone(p.Label.Incompatible)
	for _, other := range slices.Sorted(maps.Keys(c.Materials)) {
		after, _, _ := c.Apart(other, p.Material)
		before, _, _ := c.Apart(p.Material, other)
		days := int(math.Ceil(max(after, before)))
		i := slices.IndexFunc(p.Label.Incompatible, func(n Incompatible) bool { return n.Material == other })
		switch {
		case days == 0:
		case i < 0:
			p.Label.Incompatible = append(p.Label.Incompatible, Incompatible{Material: other, Days: days})
		default:
			p.Label.Incompatible[i].Days = max(p.Label.Incompatible[i].Days, days)
		}
	}
	return p
}
