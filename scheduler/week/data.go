package week

import (
	"embed"
	"fmt"
	"math/rand/v2"
	"sync"
	"time"

	"github.com/goccy/go-yaml"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

//go:embed data/*.yaml
var files embed.FS

// span is a range to draw from, both ends included.
type span struct{ Least, Most int }

func (s span) draw(r *rand.Rand) int { return s.Least + r.IntN(s.Most-s.Least+1) }

// size is how large a week is.
type size struct {
	Days        int
	FollowUps   int `yaml:"follow_ups"`
	Services    int
	Technicians int
	Towns       int
	Areas       span // with plants, of a site
}

type placesFile struct {
	Jurisdiction    catalogue.JurisdictionCode
	Zone            civil.Zone
	Centre          travel.Position
	TownSpacing     float64 `yaml:"town_spacing_km"`
	ClusterSpread   float64 `yaml:"cluster_spread_km"`
	TownRadius      float64 `yaml:"town_radius_km"`
	SitesPerCluster int     `yaml:"sites_per_cluster"`
	DetourPercent   int     `yaml:"detour_percent"`
	SpeedKMH        int     `yaml:"speed_kmh"`
	Calendars       map[string]any
	Kinds           []placeKind
	Ventilation     civil.Calendar
	Plants          []plantKind
	GroupsPerArea   span `yaml:"groups_per_area"`
	PlantsPerGroup  span `yaml:"plants_per_group"`
	OwnRecord       int  `yaml:"own_record_percent"`
	Pests           []pestKind
	Severities      []int
	Suspected       int           `yaml:"suspected_percent"`
	FoundDaysAgo    span          `yaml:"found_days_ago"`
	Services        []serviceKind `yaml:"services"`
	FixedDay        int           `yaml:"fixed_day_percent"`
	FixedTechnician int           `yaml:"fixed_technician_percent"`
}

// placeKind is a kind of place: one of its accesses and notices is drawn, and its areas in turn.
type placeKind struct {
	Kind           catalogue.PlaceKind
	Name           string
	Weight         int
	SignIn         span  `yaml:"sign_in_minutes"`
	Key            int   `yaml:"key_percent"`
	Notice         []int `yaml:"notice_hours"`
	Refuses        []catalogue.Method
	RefusesPercent int `yaml:"refuses_percent"`
	Narrow         bool
	Access         []civil.Calendar
	Store          areaKind
	Areas          []areaKind
}

type areaKind struct {
	Name         string
	People       civil.Calendar
	Climate      site.Season
	Sensitive    []catalogue.Sensitive
	Public       bool
	OpenToBefore bool `yaml:"open_to_before"` // to the area drawn before it
	Kind         catalogue.PlaceKind
	Treatment    int // how many plants may be treated there; 0 is none
}

type plantKind struct {
	Species catalogue.SpeciesID
	Weight  int
	Pot     span // litres
	Height  span // centimetres
}

type pestKind struct {
	Pest   catalogue.PestID
	Weight int
	Method catalogue.Method // only for plants that it can be used on
}

type serviceKind struct {
	Kind                    site.ServiceKind
	MinutesPerGroup         int `yaml:"minutes_per_group"`
	PlantsPerMinute         int `yaml:"plants_per_minute"`
	Earliest, Ideal, Latest int
	Percent                 int // of the sites that have it
}

type crewFile struct {
	Depot      int     `yaml:"depot_percent"`
	BaseSpread float64 `yaml:"base_spread_km"`
	Paid       span    `yaml:"paid_per_minute"`
	Speeds     []int
	Break      int `yaml:"break_minutes"`
	KeyHolders int `yaml:"key_holders"`
	Shifts     []shiftKind
	Licence    struct {
		Jurisdiction catalogue.JurisdictionCode
		Category     string
	}
	Licensed   int `yaml:"licensed_percent"`
	Supervised int `yaml:"supervised_percent"`
	Vessels    []scheduler.Vessel
	Measures   []scheduler.Measure
	Weeks      map[Kind]size
}

// shiftKind is a pattern of shifts: by weekday begin, end, and between when the break lies.
type shiftKind struct {
	Name     string
	Weight   int
	Licensed bool
	Days     map[string][4]civil.Clock
}

type dataFiles struct {
	places placesFile
	crew   crewFile
	shelf  struct{ Products []catalogue.Product }
}

// data reads the files that travel with the package. It panics where they do not read, which the tests exclude.
var data = sync.OnceValue(func() *dataFiles {
	var d dataFiles
	for name, into := range map[string]any{"places": &d.places, "crew": &d.crew, "shelf": &d.shelf} {
		text, err := files.ReadFile("data/" + name + ".yaml")
		if err == nil {
			err = yaml.UnmarshalWithOptions(text, into, yaml.Strict())
		}
		if err != nil {
			panic(fmt.Sprintf("week: %s.yaml: %v", name, err))
		}
	}
	return &d
})

// pick draws an index by weight.
func pick[T any](r *rand.Rand, from []T, weight func(T) int) T {
	total := 0
	for _, one := range from {
		total += weight(one)
	}
	at := r.IntN(total)
	for _, one := range from {
		if at -= weight(one); at < 0 {
			return one
		}
	}
	panic("week: weights are not whole numbers of 0 or more")
}

// percent says yes so many times in a hundred.
func percent(r *rand.Rand, n int) bool { return r.IntN(100) < n }

func minutes(n int) time.Duration { return time.Duration(n) * time.Minute }
