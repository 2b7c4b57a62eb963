package catalogue

// SpeciesID names a species, such as "epipremnum-aureum".
type SpeciesID string

// Verdict says whether a plant stands a material.
type Verdict string

// The verdicts. What is not known is PatchTest.
const (
	Stands    Verdict = "stands"
	PatchTest Verdict = "patch-test"
	MustNot   Verdict = "must-not"
)

// Species is a plant species with what it tolerates.
type Species struct {
	ID           SpeciesID `yaml:"id"`
	Botanical    string    `yaml:"botanical"`
	Common       string    `yaml:"common"`
	Family       string    `yaml:"family"`
	SapIrritates bool      `yaml:"sap_irritates,omitempty"`
	// SapSource and SapStanding say who says so; they stand beside every sap that irritates.
	SapSource   string      `yaml:"sap_source,omitempty"`
	SapStanding Standing    `yaml:"sap_standing,omitempty"`
	Tolerance   []Tolerance `yaml:"tolerance,omitempty"`
	// ReplacementPercent is the price beside the base prices that hold for every species: 100 is the base itself.
	ReplacementPercent Figure `yaml:"replacement_percent"`
	// ReplacementBySize are default replacement values by pot volume, smallest first: the base prices times
	// ReplacementPercent, to whole currency units, unless the species brings its own.
	ReplacementBySize []ReplacementBySize `yaml:"replacement_by_size,omitempty"`
}

// Tolerance is what a species stands of one material.
type Tolerance struct {
	Material MaterialID `yaml:"material,omitempty" json:"material"`
	Verdict  Verdict    `yaml:"verdict" json:"verdict"`
	Source   string     `yaml:"source,omitempty" json:"source,omitempty"`
	Standing Standing   `yaml:"standing" json:"standing"`
}

// ReplacementBySize is the price of one plant up to a pot volume.
type ReplacementBySize struct {
	UpToPotML int    `yaml:"up_to_pot_ml"`
	Minor     Figure `yaml:"minor"` // minor units of the business's currency
}

// PlaceKind is the kind of place that a site or an area is; labels and notices speak of it.
type PlaceKind string

// The kinds of place.
const (
	Office      PlaceKind = "office"
	Lodging     PlaceKind = "lodging"
	HealthCare  PlaceKind = "health-care"
	School      PlaceKind = "school-or-child-care"
	FoodService PlaceKind = "food-service"
	Home        PlaceKind = "home"
	Retail      PlaceKind = "retail"
	PlantRoom   PlaceKind = "plant-room"
	Outdoors    PlaceKind = "outdoors"
)

// PlaceKinds lists every kind of place.
var PlaceKinds = [...]PlaceKind{Office, Lodging, HealthCare, School, FoodService, Home, Retail, PlantRoom, Outdoors}

// Sensitive is a thing in an area that a label may want kept away from.
type Sensitive string

// The sensitive things.
const (
	FishTank       Sensitive = "fish-tank"
	Pond           Sensitive = "pond"
	Birds          Sensitive = "birds"
	Cats           Sensitive = "cats"
	Dogs           Sensitive = "dogs"
	Children       Sensitive = "children"
	OpenFood       Sensitive = "open-food"
	AirIntake      Sensitive = "air-intake"
	DelicateFloor  Sensitive = "delicate-floor"
	DelicateFabric Sensitive = "delicate-fabric"
	OdourWish      Sensitive = "odour-wish"
)

// SensitiveThings lists every sensitive thing.
var SensitiveThings = [...]Sensitive{FishTank, Pond, Birds, Cats, Dogs, Children, OpenFood, AirIntake, DelicateFloor, DelicateFabric, OdourWish}
