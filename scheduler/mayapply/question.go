package mayapply

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// Question is one application that somebody has in mind.
type Question struct {
	Catalogue *catalogue.Catalogue
	Site      site.Site
	// Plants are at least one, each with the area of Site in which it would be treated: where it stands, or where it is
	// carried.
	Plants   []Plant
	Product  catalogue.Product
	Products []catalogue.Product // the business's records, for the labels of earlier applications
	Pest     catalogue.PestID
	Begins   civil.Instant
	Takes    time.Duration // from the beginning of the first plant to the end of the last
	// PatchTest says that the application is itself a patch test, so that none is asked before it.
	PatchTest bool

	By       Person
	Crew     []Person // who may stand above By as a supervisor
	Approval *Approval
	// NoticeSent is when the client was told of an application at this time; nil is not at all. Policy.NoticeLead holds where
	// neither agreement nor jurisdiction says how long before.
	NoticeSent *civil.Instant

	// Celsius are readings by area; where there is none the season's coldest and warmest count.
	Celsius map[site.AreaID]float64
	// Humidity are readings of the relative humidity by area, in percent; where there is none the area's own range counts.
	Humidity map[site.AreaID]float64
	// CarriesWater says that the water comes along; CarriedHardnessMgL is its hardness, nil is unknown and counts as hard.
	CarriesWater       bool
	CarriedHardnessMgL *float64
	Running            []Running // keep-outs that have begun or are planned, by each area that they shut
	Vessels            []dilution.Vessel
	Measures           []dilution.Measure
	Scales             []dilution.Scale
	Containers         []dilution.Container // of what is drawn ready to use; nil is not told
	Policy             Policy
}

// Plant is a plant with what was done to it, over all its cases.
type Plant struct {
	site.Plant
	Applied     []Applied
	PatchTested []catalogue.MaterialID // whose patch test it passed
}

// Applied is one application that was made to a plant.
type Applied struct {
	Product  catalogue.ProductID
	Material catalogue.MaterialID
	Group    string // mode of action
	Began    civil.Instant
}

// Person is who applies, or supervises.
type Person struct {
	Name     string
	Licences []Licence
}

// Licence is the right to apply in a jurisdiction.
type Licence struct {
	Jurisdiction catalogue.JurisdictionCode
	Category     string
	From         civil.Date
	To           civil.Date // last day; unset is until further notice
	Under        string     // name of the supervising licence holder; "" is a licence of one's own
}

// Approval is the responsible applicator's yes to the product on these plants.
type Approval struct {
	By      string
	MaxRate *quantity.Rate // nil: the label's
}

// Running is an area that is shut by another application.
type Running struct {
	reentry.KeepOut
	UntilDry  bool // and until somebody has confirmed that it is dry
	Confirmed bool
}

// Policy is what the business settled.
type Policy struct {
	reentry.Policy   // how long things take to dry
	LeastRatePercent int
	ReservePercent   int
	NoticeLead       time.Duration
	// LinerDrenchPercent of the pot volume is all that is poured into a liner without drain; 0 is no such bound.
	LinerDrenchPercent int
}

// InvalidQuestion says everything in a Question that cannot be understood.
type InvalidQuestion struct{ Fields []catalogue.FieldError }

// Error lists the fields.
func (e *InvalidQuestion) Error() string {
	texts := make([]string, len(e.Fields))
	for i, f := range e.Fields {
		texts[i] = f.Path + ": " + f.Text
	}
	return "invalid question: " + strings.Join(texts, "; ")
}

// MaxTakes bounds an application.
const MaxTakes = 24 * time.Hour

// validate says what cannot be understood. What speaks against the application is no error.
func (q Question) validate() error {
	var l catalogue.FieldErrors
	if q.Catalogue == nil {
		l.Add("catalogue", catalogue.ReasonMissing, "missing: want the shipped one or another that was read")
		return &InvalidQuestion{l}
	}
	_, err := q.Catalogue.MaterialByID(q.Product.Material)
	l.AddUnknown("product.material", catalogue.ReasonUnknownMaterial, err)
	if q.Pest != "" {
		_, err = q.Catalogue.PestByID(q.Pest)
		l.AddUnknown("pest", catalogue.ReasonUnknownPest, err)
	}
	if q.Begins.IsZero() {
		l.Add("begins", catalogue.ReasonMissing, "missing: want the instant at which it would begin")
	}
	if q.Takes <= 0 || q.Takes > MaxTakes {
		l.Add("takes", catalogue.ReasonOutOfRange, "%v: want more than nothing and %v at most", q.Takes, MaxTakes)
	}
	if len(q.Plants) == 0 {
		l.Add("plants", catalogue.ReasonMissing, "no plants: want at least one")
	}
	known := func(id site.AreaID) bool {
		return slices.ContainsFunc(q.Site.Areas, func(a site.Area) bool { return a.ID == id })
	}
	for i, p := range q.Plants {
		path := fmt.Sprintf("plants[%d]", i)
		_, err := q.Catalogue.SpeciesByID(p.Species)
		l.AddUnknown(path+".species", catalogue.ReasonUnknownSpecies, err)
		if !known(p.Area) {
			l.Add(path+".area", catalogue.ReasonUnknownArea, "area %q is none of site %q: want the area in which the plant stands", p.Area, q.Site.ID)
		}
		if p.Count < 1 || p.Count > site.MaxPlantCount {
			l.Add(path+".count", catalogue.ReasonOutOfRange, "%d plants: want 1 to %d", p.Count, site.MaxPlantCount)
		}
		if slices.ContainsFunc(q.Plants[:i], func(other Plant) bool { return other.ID == p.ID }) {
			l.Add(path+".id", catalogue.ReasonDuplicate, "plant %q is there twice", p.ID)
		}
	}
	if len(l) > 0 {
		return &InvalidQuestion{l}
	}
	return nil
}
