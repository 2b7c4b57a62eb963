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
	ID           SpeciesID   `yaml:"id"`
	Botanical    string      `yaml:"botanical"`
	Common       string      `yaml:"common"`
	Family       string      `yaml:"family"`
	SapIrritates bool        `yaml:"sap_irritates,omitempty"`
	Tolerance    []Tolerance `yaml:"tolerance,omitempty"`
	// ReplacementBySize are default replacement values by pot volume, smallest first.
	ReplacementBySize []ReplacementBySize `yaml:"replacement_by_size"`
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

// JurisdictionCode is an ISO 3166 country or subdivision code: "US-PA", "GB".
type JurisdictionCode string

// Jurisdiction is what a body of law asks for, as far as it is known.
type Jurisdiction struct {
	Code JurisdictionCode `yaml:"code"`
	Name string           `yaml:"name"`
	// Within is the jurisdiction whose rules hold as well ("US" for "US-PA").
	Within     JurisdictionCode  `yaml:"within,omitempty"`
	Categories []LicenceCategory `yaml:"categories"`
	// Supervision says under whom an unlicensed technician may apply; "" is unknown, and then nobody may.
	Supervision         string       `yaml:"supervision,omitempty"`
	SupervisionSource   string       `yaml:"supervision_source,omitempty"`
	SupervisionStanding Standing     `yaml:"supervision_standing,omitempty"`
	Records             RecordRule   `yaml:"records"`
	Notices             []NoticeRule `yaml:"notices"`
	Entries             []EntryRule  `yaml:"entries,omitempty"`
	Unknown             []string     `yaml:"unknown"` // what is not known, said
}

// LicenceCategory is a category of licence and the kinds of place whose plants it covers.
type LicenceCategory struct {
	ID       string      `yaml:"id"`
	Name     string      `yaml:"name"`
	Covers   []PlaceKind `yaml:"covers"`
	Source   string      `yaml:"source"`
	Standing Standing    `yaml:"standing"`
}

// RecordRule is what an application record must hold and for how many years it is kept.
type RecordRule struct {
	Elements  []string `yaml:"elements"`
	KeepYears Figure   `yaml:"keep_years"`
}

// NoticeRule is the lead time of a notice at some kinds of place.
type NoticeRule struct {
	Places    []PlaceKind `yaml:"places"`
	LeadHours Figure      `yaml:"lead_hours"`
	Text      string      `yaml:"text"`
}

// EntryRule is the least time after an application before people come back at some kinds of place,
// whatever the label's interval.
type EntryRule struct {
	Places     []PlaceKind `yaml:"places"`
	LeastHours Figure      `yaml:"least_hours"`
	Text       string      `yaml:"text"`
}
