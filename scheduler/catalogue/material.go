package catalogue

import "slices"

// MaterialID names a material, such as "insecticidal-soap".
type MaterialID string

// Method is how a material is brought to the plant.
type Method string

// The methods.
const (
	ByHand          Method = "by-hand"
	Wipe            Method = "wipe"
	SpotSpray       Method = "spot-spray"
	WholePlantSpray Method = "whole-plant-spray"
	Drench          Method = "drench"
	Trap            Method = "trap"
	Release         Method = "release"
)

// Methods lists every method.
var Methods = [...]Method{ByHand, Wipe, SpotSpray, WholePlantSpray, Drench, Trap, Release}

// Sprays says whether the method wets leaves, so that watering, films and run-off matter.
func (m Method) Sprays() bool { return m == SpotSpray || m == WholePlantSpray }

// Habitats are where the method meets a pest: a drench does not reach a leaf, a spray does not reach the root ball, a
// trap catches what flies. A systemic goes farther (Material.Meets).
func (m Method) Habitats() []Habitat {
	switch m {
	case Drench:
		return []Habitat{Soil}
	case Trap:
		return []Habitat{Air}
	case ByHand:
		return []Habitat{Leaf, Stem, Soil}
	case Wipe, SpotSpray, WholePlantSpray, Release:
		return []Habitat{Leaf, Stem}
	}
	return nil
}

// LegalStanding is a material's standing in law where nothing else is recorded for the jurisdiction.
type LegalStanding string

// The standings in law.
const (
	RegisteredProduct LegalStanding = "registered-product" // only as a product registered for the use
	ExemptByRule      LegalStanding = "exempt-by-rule"     // the rule is named
	DeviceOrOrganism  LegalStanding = "device-or-organism"
	PhysicalWork      LegalStanding = "physical-work"
	HouseholdRemedy   LegalStanding = "household-remedy" // refused unless the responsible applicator recorded why it is lawful
)

// Material is an active ingredient (or a piece of work) in a form and a method.
type Material struct {
	ID               MaterialID `yaml:"id"`
	Name             string     `yaml:"name"`
	ActiveIngredient string     `yaml:"active_ingredient,omitempty"`
	Method           Method     `yaml:"method"`
	ModeOfAction     string     `yaml:"mode_of_action,omitempty"` // group; "" is unclassified and free of rotation
	// ModeStanding says how well the group is founded, ModeSource where it was read.
	ModeStanding Standing      `yaml:"mode_of_action_standing,omitempty"`
	ModeSource   string        `yaml:"mode_of_action_source,omitempty"`
	Law          LegalStanding `yaml:"law"`
	LawNote      string        `yaml:"law_note,omitempty"`
	// LawStanding says how well the standing in law is founded, LawSource where it was read; both empty where
	// it is the plain reading of every label.
	LawSource   string   `yaml:"law_source,omitempty"`
	LawStanding Standing `yaml:"law_standing,omitempty"`
	// Effects say what the material does to each stage of each pest; a pest that is not listed is not reached.
	Effects []Effect `yaml:"effects"`
	// Ceilings are the practice's lag between repeats by pest, near and far end in days.
	Ceilings map[PestID]Range `yaml:"ceilings,omitempty"`
	// MissedShare is the part of the reached insects that coverage misses, and misses again (0 to 1).
	MissedShare *Figure `yaml:"missed_share,omitempty"`
	// AmountBySize is the spray per plant by height class; DrenchShare the share of the pot volume.
	AmountBySize []AmountBySize `yaml:"amount_by_size,omitempty"`
	DrenchShare  *Figure        `yaml:"drench_share,omitempty"`
	// Tolerated is the verdict on every species that does not name the material itself; nil is PatchTest.
	Tolerated *Tolerance `yaml:"tolerated,omitempty"`
	// MinutesPerPlant is the placeholder until the business has its own minutes.
	MinutesPerPlant Figure `yaml:"minutes_per_plant"`
	// Dilution is the usual household dilution, computed and shown though a plan refuses it.
	Dilution *Dilution `yaml:"dilution,omitempty"`
	Cautions []string  `yaml:"cautions"`

	// Systemic says that the plant takes it up through the roots, so that it meets what feeds on leaf and stem.
	Systemic bool `yaml:"systemic,omitempty"`
	// TakesEffectAfter is how many days pass from the application until it kills; nil is at once. Contact
	// cover is needed meanwhile.
	TakesEffectAfter *Range `yaml:"takes_effect_after,omitempty"`
	// ResidualDays is how long what is left of it harms living goods that are released; nil is no longer than it is wet.
	ResidualDays *Range `yaml:"residual_days,omitempty"`
	// LeavesFilm says that it dries to a film on the leaf, to be rinsed off, best on a watering day.
	LeavesFilm bool `yaml:"leaves_film,omitempty"`
	// DriesSlowly says that it works only while it is wet and wants to dry slowly: a longer keep-out.
	DriesSlowly bool `yaml:"dries_slowly,omitempty"`
	// NoLeaching forbids watering that runs through the pot for a time after a soil systemic.
	NoLeaching *NoLeaching `yaml:"no_leaching,omitempty"`
	// Incompatible are the materials that must stand apart from this one in time.
	Incompatible []Conflict `yaml:"incompatible,omitempty"`
	// MinCelsius, MaxCelsius and MaxHumidity are the usual limits of an application where the product's label
	// states none of its own; of a drench they are the medium's.
	MinCelsius  *Figure `yaml:"min_celsius,omitempty"`
	MaxCelsius  *Figure `yaml:"max_celsius,omitempty"`
	MaxHumidity *Figure `yaml:"max_humidity,omitempty"` // percent relative humidity
	// MinHumidity is from which relative humidity on, in percent, living goods do well on leaves; nil of all others and where
	// it is not known.
	MinHumidity *Figure `yaml:"min_humidity,omitempty"`
	// MixLifeHours is how long a mix is usable where the label states nothing; nil is the day it is mixed.
	MixLifeHours *Figure `yaml:"mix_life_hours,omitempty"`
	// Living are the needs of goods that are alive when they are used; nil of everything else.
	Living *LivingGoods `yaml:"living,omitempty"`
	// HoldsDown are the pests that it never ends by itself, whatever its reach on paper: a predator leaves when
	// its prey grows scarce, a weak systemic stops no generation.
	HoldsDown []PestID `yaml:"holds_down,omitempty"`
	// Beside says that it goes with other treatments and is no course of its own.
	Beside bool `yaml:"beside,omitempty"`
	// AtLooks says that it is done at every look to what the look shows, without a follow-up of its own.
	AtLooks bool `yaml:"at_looks,omitempty"`
	// Advice is what goes with it, for people: "let the medium dry down first".
	Advice []string `yaml:"advice,omitempty"`
}

// Meets says whether the material comes to a stage at all: its method meets a habitat of the stage, or it is systemic
// and the stage feeds on the plant.
func (m Material) Meets(stage Stage) bool {
	for _, habitat := range m.Method.Habitats() {
		if stage.LivesIn(habitat) {
			return true
		}
	}
	return m.Systemic && stage.Feeds
}

// HoldsDownOnly says whether the material never ends a pest by itself, whatever its reach on paper.
func (m Material) HoldsDownOnly(pest PestID) bool { return slices.Contains(m.HoldsDown, pest) }

// NoLeaching is the rule that nothing runs through the pot for so many days or so many waterings after an
// application, whichever is longer.
type NoLeaching struct {
	Days      int      `yaml:"days"`
	Waterings int      `yaml:"waterings"`
	Source    string   `yaml:"source,omitempty"`
	Standing  Standing `yaml:"standing"`
	Note      string   `yaml:"note,omitempty"`
}

// Order says which way round a conflict holds.
type Order string

// The orders. Either is both ways.
const (
	Either Order = "either"
	After  Order = "after"  // the material may not follow the other so soon; it may come before it
	Before Order = "before" // the other may not follow the material so soon
)

// Conflict is another material that must stand apart in time, in the words of people.
type Conflict struct {
	Material MaterialID `yaml:"material"`
	Order    Order      `yaml:"order"`
	Days     Figure     `yaml:"days"` // least days between the two
	Why      string     `yaml:"why"`
}

// LivingGoods are how goods that are alive keep from delivery, and how many are used.
type LivingGoods struct {
	KeepDays       Figure  `yaml:"keep_days"` // from delivery, stored as stated; then they are not used
	StorageCelsius Range   `yaml:"storage_celsius"`
	Storage        string  `yaml:"storage"`
	PerLitre       *Figure `yaml:"per_litre,omitempty"` // organisms per litre of medium
	PerPlant       *Range  `yaml:"per_plant,omitempty"` // organisms per infested plant
}

// Reach says whether a treatment meets a stage.
type Reach string

// The reaches. Partly means waxed, settled or hidden.
const (
	Reached Reach = "reached"
	Partly  Reach = "partly"
	Spared  Reach = "spared"
)

// Effect is what a material does to one stage of one pest.
type Effect struct {
	Pest  PestID  `yaml:"pest"`
	Stage StageID `yaml:"stage"`
	Reach Reach   `yaml:"reach"`
	Kill  Figure  `yaml:"kill"` // share of the stage killed by one application with coverage, 0 to 1
	// UpToDays narrows Reached to the first so many days of the stage (Bti on young larvae); 0 is the whole stage.
	UpToDays float64 `yaml:"up_to_days,omitempty"`
}

// AmountBySize is the spray for one plant up to a height.
type AmountBySize struct {
	UpToHeightCM int   `yaml:"up_to_height_cm"`
	Millilitres  Range `yaml:"millilitres"`
}

// Dilution is a usual dilution given as text: "1:4" with its convention, and the strength of the stock.
type Dilution struct {
	Parts        int64    `yaml:"parts"` // the N of 1:N
	Convention   string   `yaml:"convention"`
	StockPercent float64  `yaml:"stock_percent"`
	Source       string   `yaml:"source,omitempty"`
	Standing     Standing `yaml:"standing"`
}
