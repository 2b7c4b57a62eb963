package catalogue

// PestID names a pest, such as "citrus-mealybug".
type PestID string

// StageID names a life stage within its pest, such as "egg".
type StageID string

// Habitat is where a life stage lives; a material reaches only the habitats of its method.
type Habitat string

// The habitats.
const (
	Leaf Habitat = "leaf"
	Stem Habitat = "stem"
	Soil Habitat = "soil"
	Air  Habitat = "air"
)

// Pest is an organism with its life stages in order, egg first and the laying adult last.
type Pest struct {
	ID         PestID  `yaml:"id"`
	Name       string  `yaml:"name"`       // for people: "citrus mealybug"
	Scientific string  `yaml:"scientific"` // "Planococcus citri"
	Stages     []Stage `yaml:"stages"`
	// Spans are durations known only for several consecutive stages together.
	Spans []Span `yaml:"spans,omitempty"`
	// LowerLimit and UpperLimit bound where the durations hold, in degrees Celsius.
	LowerLimit Figure `yaml:"lower_limit"`
	UpperLimit Figure `yaml:"upper_limit"`
	// EggsPerFemale and LayingDays describe the adult; DailyEggs where it is known.
	EggsPerFemale Range `yaml:"eggs_per_female"`
	LayingDays    Range `yaml:"laying_days"`
	// FemaleShare is the part of the young that become egg layers (0 to 1).
	FemaleShare Figure `yaml:"female_share"`
	// Survival is the part of a brood that reaches the adult without treatment (0 to 1).
	Survival Figure `yaml:"survival"`
	// Detection is the chance that one look at an infested plant shows it (0 to 1).
	Detection  Figure         `yaml:"detection"`
	Signs      []string       `yaml:"signs"`
	LookAlikes []string       `yaml:"look_alikes"`
	Favours    []string       `yaml:"favours"`
	Severity   map[int]string `yaml:"severity"` // 0 to 3, what is seen; our own scale
}

// Stage returns a life stage by its id; ok is false when the pest has none of that name.
func (p Pest) Stage(id StageID) (stage Stage, ok bool) {
	for _, stage := range p.Stages {
		if stage.ID == id {
			return stage, true
		}
	}
	return Stage{}, false
}

// Stage is one life stage. Its duration is thermal, observed or practice; a stage without any
// is part of a Span or joined with its neighbour.
type Stage struct {
	ID      StageID `yaml:"id"`
	Name    string  `yaml:"name"`
	Habitat Habitat `yaml:"habitat"`
	// Feeds says that the stage damages the plant; Lays that it lays eggs.
	Feeds    bool       `yaml:"feeds,omitempty"`
	Lays     bool       `yaml:"lays,omitempty"`
	Thermal  *Thermal   `yaml:"thermal,omitempty"`
	Observed []Observed `yaml:"observed,omitempty"`
	Practice *Range     `yaml:"practice,omitempty"` // days, any temperature
	// Reported are ranges in days that sources give without a temperature; they stand beside Practice,
	// so that the safe side for each purpose can be taken.
	Reported []Range `yaml:"reported,omitempty"`
}

// Span is the duration of the stages from From to To together, both included.
type Span struct {
	From    StageID `yaml:"from"`
	To      StageID `yaml:"to"`
	Thermal Thermal `yaml:"thermal"`
}

// Thermal is the linear rate model days = K / (T - T0). Both constants come from one source:
// a T0 is never used with another study's K.
type Thermal struct {
	T0       float64  `yaml:"t0"` // degrees Celsius below which nothing develops
	K        float64  `yaml:"k"`  // degree-days above T0
	Source   string   `yaml:"source"`
	Standing Standing `yaml:"standing"`
	Note     string   `yaml:"note,omitempty"`
}

// Days returns how long the development takes at a steady temperature. At or below T0 nothing
// develops: there is no number of days, and ok is false. The upper limit is the pest's, not checked here.
func (t Thermal) Days(celsius float64) (days float64, ok bool) {
	if !(celsius > t.T0) || t.K <= 0 {
		return 0, false
	}
	return t.K / (celsius - t.T0), true
}

// Observed is a duration seen at one temperature; it is used as it stands, never interpolated or scaled.
type Observed struct {
	Celsius  float64  `yaml:"celsius"`
	Days     float64  `yaml:"days"`
	Source   string   `yaml:"source"`
	Standing Standing `yaml:"standing"`
	Note     string   `yaml:"note,omitempty"`
}
