package catalogue

import (
	"math"
	"slices"
)

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

// Pest is an organism with its life stages in order, egg first and the laying adult last. A pest that bears its
// young alive has no egg: its first stage is the youngest that is met on a plant.
type Pest struct {
	ID         PestID  `yaml:"id"`
	Name       string  `yaml:"name"`       // for people: "citrus mealybug"
	Scientific string  `yaml:"scientific"` // "Planococcus citri"
	Stages     []Stage `yaml:"stages"`
	// BearsLive says that there is no egg to wait for: EggsPerFemale counts young and LayingDays the days of bearing.
	BearsLive bool `yaml:"bears_live,omitempty"`
	// Covers are the pests among which an unknown one is counted: durations are the longest and the shortest of
	// theirs, and a material's reach the worst on those of them that it meets at all.
	Covers []PestID `yaml:"covers,omitempty"`
	// Spans are durations known only for several consecutive stages together.
	Spans []Span `yaml:"spans,omitempty"`
	// LowerLimit and UpperLimit bound where the durations hold, in degrees Celsius.
	LowerLimit Figure `yaml:"lower_limit"`
	UpperLimit Figure `yaml:"upper_limit"`
	// EggsPerFemale and LayingDays describe the adult at any temperature; Laying is what was counted at single ones.
	EggsPerFemale Range    `yaml:"eggs_per_female"`
	LayingDays    Range    `yaml:"laying_days"`
	Laying        []Laying `yaml:"laying,omitempty"`
	// FemaleShare is the part of the young that become egg layers (0 to 1).
	FemaleShare Figure `yaml:"female_share"`
	// Survival is the part of a brood that reaches the adult without treatment (0 to 1).
	Survival Figure `yaml:"survival"`
	// Detection is the chance that one look at an infested plant shows it (0 to 1).
	Detection Figure `yaml:"detection"`
	// DryAir is the relative humidity in percent below which the pest breeds faster; nil where nothing is known of it. No figure
	// says by how much, so that no date and no model moves with it.
	DryAir *Figure `yaml:"dry_air,omitempty"`
	// CardThreshold is how many adults on one card in one week call for a treatment; nil is not known, and the policy's holds.
	CardThreshold *Figure        `yaml:"card_threshold,omitempty"`
	Signs         []string       `yaml:"signs"`
	LookAlikes    []string       `yaml:"look_alikes"`
	Favours       []string       `yaml:"favours"`
	Severity      map[int]string `yaml:"severity"` // 0 to 3, what is seen; our own scale
	// SeverityStanding says how well the scale is founded: ours is an assumption.
	SeverityStanding Standing `yaml:"severity_standing"`
	// Checks are published durations that nothing here was fitted to, to hold the constants against; LifeTables
	// published rates of growth, to hold the cohort model against. Neither decides a date.
	Checks     []Check     `yaml:"checks,omitempty"`
	LifeTables []LifeTable `yaml:"life_tables,omitempty"`
}

// Laying is what a source counted of laying females, or of those that bear their young alive, at one temperature: means. A figure
// that it does not give is 0; it gives one at least.
type Laying struct {
	Celsius  float64  `yaml:"celsius"`
	Eggs     float64  `yaml:"eggs,omitempty"` // of one female in her life
	Days     float64  `yaml:"days,omitempty"` // for which she lays or, where only that was counted, lives as an adult
	Host     string   `yaml:"host,omitempty"` // the plant, where the source says it
	Source   string   `yaml:"source"`
	Standing Standing `yaml:"standing"`
	Note     string   `yaml:"note,omitempty"`
}

// EggsAt is how many eggs a female is expected to lay at a temperature, never interpolated: what was counted there; between two
// counts the greater of both; where nothing was counted on one side, not less than the middle of EggsPerFemale. More is
// the safe side: it makes delay dearer and an end less likely.
func (p Pest) EggsAt(celsius float64) float64 {
	at, below, above := 0.0, Laying{}, Laying{}
	for _, row := range p.Laying {
		switch {
		case row.Eggs <= 0:
		case row.Celsius == celsius:
			at = max(at, row.Eggs)
		case row.Celsius < celsius && (below.Eggs == 0 || row.Celsius > below.Celsius):
			below = row
		case row.Celsius > celsius && (above.Eggs == 0 || row.Celsius < above.Celsius):
			above = row
		}
	}
	eggs := max(below.Eggs, above.Eggs)
	switch {
	case at > 0:
		return at
	case below.Eggs == 0 || above.Eggs == 0:
		return max(eggs, p.EggsPerFemale.Middle())
	}
	return eggs
}

// LayingAt is the count of laying days that lies nearest to a temperature, of two as near the shorter, which is the quicker
// growth; ok is false where no row counts days.
func (p Pest) LayingAt(celsius float64) (row Laying, ok bool) {
	for _, other := range p.Laying {
		if other.Days <= 0 {
			continue
		}
		off, best := math.Abs(other.Celsius-celsius), math.Abs(row.Celsius-celsius)
		if !ok || off < best || off == best && other.Days < row.Days {
			row, ok = other, true
		}
	}
	return row, ok
}

// LayingAtMost is the count of laying days that is the longest for sure at a temperature: the nearest at or below it, of
// two at one temperature the longer; ok is false without one.
func (p Pest) LayingAtMost(celsius float64) (row Laying, ok bool) {
	for _, other := range p.Laying {
		if other.Days <= 0 || other.Celsius > celsius {
			continue
		}
		if !ok || other.Celsius > row.Celsius || other.Celsius == row.Celsius && other.Days > row.Days {
			row, ok = other, true
		}
	}
	return row, ok
}

// Check is a duration that a source saw from the first day of one stage to the last of another, at one temperature.
type Check struct {
	From     StageID  `yaml:"from"`
	To       StageID  `yaml:"to"`
	Celsius  float64  `yaml:"celsius"`
	Days     float64  `yaml:"days"`
	Source   string   `yaml:"source"`
	Standing Standing `yaml:"standing"`
	// Off says why the linear rate misses the figure by more than a twentieth: near T0, near the upper limit, on
	// another plant, or because two honest studies disagree. Empty where it does not miss it.
	Off  string `yaml:"off,omitempty"`
	Note string `yaml:"note,omitempty"`
}

// LifeTable is what a source found of the growth of a population at one temperature. A figure that it does not give is 0.
// Whether it is independent of the pest's own figures follows from its source: see Pest.FittedTo.
type LifeTable struct {
	Celsius         float64  `yaml:"celsius"`
	Host            string   `yaml:"host,omitempty"`             // the plant, where the source says it
	IntrinsicRate   float64  `yaml:"intrinsic_rate,omitempty"`   // r, per day
	NetReproduction float64  `yaml:"net_reproduction,omitempty"` // R0, females per female
	GenerationDays  float64  `yaml:"generation_days,omitempty"`  // T, mean generation time
	Source          string   `yaml:"source"`
	Standing        Standing `yaml:"standing"`
	// Off says why the model misses the rate by far: near T0, on another plant, or because the table contradicts itself. Empty where
	// it does not.
	Off  string `yaml:"off,omitempty"`
	Note string `yaml:"note,omitempty"`
}

// FittedTo says whether a work gave a figure from which the growth of the pest is computed: a duration, eggs, laying days,
// share of females or survival. A comparison with such a work shows that the figures fit together, and no more.
func (p Pest) FittedTo(source string) bool {
	of := []string{p.EggsPerFemale.Source, p.LayingDays.Source, p.FemaleShare.Source, p.Survival.Source}
	for _, row := range p.Laying {
		of = append(of, row.Source)
	}
	for _, span := range p.Spans {
		of = append(of, span.Thermal.Source)
	}
	for _, stage := range p.Stages {
		ranges := stage.Reported
		if stage.Practice != nil {
			ranges = append(slices.Clone(ranges), *stage.Practice)
		}
		for _, r := range ranges {
			of = append(of, r.Source)
		}
		for _, seen := range stage.Observed {
			of = append(of, seen.Source)
		}
		if stage.Thermal != nil {
			of = append(of, stage.Thermal.Source)
		}
	}
	return slices.Contains(of, source)
}

// Development returns how long the stages from one to another take at a steady temperature, both included, by the linear
// rate: by the span of exactly these stages where one is known, else by the sum of the stages, of which those
// without constants of their own count by a span. ok is false where constants are missing, where nothing
// develops, or where the pest has no such stages. The limits of the pest are not checked here.
func (p Pest) Development(from, to StageID, celsius float64) (days float64, ok bool) {
	first := slices.IndexFunc(p.Stages, func(s Stage) bool { return s.ID == from })
	last := slices.IndexFunc(p.Stages, func(s Stage) bool { return s.ID == to })
	if first < 0 || last < first {
		return 0, false
	}
	for _, span := range p.Spans {
		if span.From == from && span.To == to {
			return span.Thermal.Days(celsius)
		}
	}
	for i := first; i <= last; i++ {
		thermal, end := p.thermalFrom(i)
		more, develops := thermal.Days(celsius)
		if !develops || end > last {
			return 0, false
		}
		days, i = days+more, end
	}
	return days, true
}

// thermalFrom returns the constants of a stage, or of the span that begins with it, and the last stage that they cover.
func (p Pest) thermalFrom(i int) (thermal Thermal, last int) {
	if own := p.Stages[i].Thermal; own != nil {
		return *own, i
	}
	for _, span := range p.Spans {
		if span.From == p.Stages[i].ID {
			return span.Thermal, slices.IndexFunc(p.Stages, func(s Stage) bool { return s.ID == span.To })
		}
	}
	return Thermal{}, i
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
	// Also are habitats in which the stage is found besides: an adult whitefly on leaves flies too.
	Also []Habitat `yaml:"also,omitempty"`
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

// LivesIn says whether the stage is found in a habitat.
func (s Stage) LivesIn(habitat Habitat) bool {
	return s.Habitat == habitat || slices.Contains(s.Also, habitat)
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
