package catalogue

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
	// ModeStanding says how well the group is founded.
	ModeStanding Standing      `yaml:"mode_of_action_standing,omitempty"`
	Law          LegalStanding `yaml:"law"`
	LawNote      string        `yaml:"law_note,omitempty"`
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
