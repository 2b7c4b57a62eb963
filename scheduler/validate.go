package scheduler

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/travel"
)

// The stable reasons of a FieldError of an InvalidProblem.
const (
	ReasonMissing    = "MISSING"      // a value that must be set is not
	ReasonUnknown    = "UNKNOWN"      // a name that the Problem does not hold
	ReasonDuplicate  = "DUPLICATE"    // a name that stands there twice
	ReasonWord       = "NOT_A_WORD"   // a word that is none of those allowed
	ReasonRange      = "OUT_OF_RANGE" // a number outside its bounds
	ReasonOrder      = "OUT_OF_ORDER" // two values of which the later or larger comes first
	ReasonCircle     = "CIRCLE"       // items that wait for one another
	ReasonSize       = "WRONG_SIZE"   // a list of another length than another field asks for
	ReasonMisplaced  = "MISPLACED"    // a value where none belongs
	ReasonUnreadable = "UNREADABLE"   // a value that says itself what is wrong with it
)

// Bounds of the values of a Problem, checked by Validate.
const (
	MaxStretch  = 60 * 24 * time.Hour // of work, keep-outs, notices, waits
	MaxShift    = 24 * time.Hour
	MaxPlaces   = 5_000 // of a matrix
	MaxPersons  = 100
	MaxSeverity = 3
	MaxLagDays  = 3_660
	MaxTravel   = 7 * 24 * time.Hour // between two places
	// MaxPrice bounds a price and a pay in minor units: of MaxItems items each with one, the sum is far from overflowing.
	MaxPrice quantity.Money = 100_000_000_000
)

// Validate says everything that is wrong with a Problem at once, as an *InvalidProblem whose fields have paths such as
// "sites[2].access" and stable reasons; nil when nothing is. Solve and Check may rely on what it asks for: names that
// are there, values in their bounds, nothing that waits for itself.
func (p Problem) Validate() error {
	v := newValidator(p)
	v.horizon()
	v.travel()
	v.sites()
	v.plants()
	v.materials()
	v.products()
	v.technicians()
	v.followUps()
	v.services()
	v.links()
	v.circles()
	v.running()
	v.rules()
	if len(v.wrong) == 0 {
		return nil
	}
	return &InvalidProblem{Fields: v.wrong}
}

// validator collects wrong fields; its sets are the names that the Problem holds.
type validator struct {
	p     Problem
	wrong []FieldError

	siteIDs    map[SiteID]bool
	areaSite   map[AreaID]SiteID
	plantSite  map[PlantID]SiteID
	materialID map[MaterialID]bool
	product    map[ProductID]*Product
	crew       map[TechnicianID]*Technician
	place      map[travel.PlaceID]bool
	serviceID  map[string]bool
	item       map[ItemID]bool // follow-ups to plan or done
}

func newValidator(p Problem) *validator {
	v := &validator{
		p: p, siteIDs: map[SiteID]bool{}, areaSite: map[AreaID]SiteID{}, plantSite: map[PlantID]SiteID{},
		materialID: map[MaterialID]bool{}, product: map[ProductID]*Product{}, crew: map[TechnicianID]*Technician{},
		place: map[travel.PlaceID]bool{}, serviceID: map[string]bool{}, item: map[ItemID]bool{},
	}
	for _, s := range p.Sites {
		v.siteIDs[s.ID] = true
		for _, a := range s.Areas {
			v.areaSite[a.ID] = s.ID
		}
	}
	for _, plant := range p.Plants {
		v.plantSite[plant.Plant.ID] = plant.Plant.Site
	}
	for _, m := range p.Materials {
		v.materialID[m.ID] = true
	}
	for i := range p.Products {
		v.product[p.Products[i].ID] = &p.Products[i]
	}
	for i := range p.Technicians {
		v.crew[p.Technicians[i].ID] = &p.Technicians[i]
	}
	for _, place := range p.Travel.Places {
		v.place[place] = true
	}
	for _, s := range p.Services {
		v.serviceID[s.ID] = true
	}
	for _, f := range p.FollowUps {
		v.item[f.ID] = true
	}
	for _, d := range p.Done {
		v.item[d.ID] = true
	}
	return v
}

// add notes one wrong field.
func (v *validator) add(path, reason, format string, args ...any) {
	v.wrong = append(v.wrong, FieldError{Path: path, Reason: reason, Text: fmt.Sprintf(format, args...)})
}

// unless notes a wrong field unless the condition holds.
func (v *validator) unless(ok bool, path, reason, format string, args ...any) {
	if !ok {
		v.add(path, reason, format, args...)
	}
}

// read notes what a value says is wrong with itself.
func (v *validator) read(err error, path string) {
	if err != nil {
		v.add(path, ReasonUnreadable, "%v", err)
	}
}

// duration notes a duration that is negative, longer than most, or not of whole seconds.
func (v *validator) duration(d, most time.Duration, path string) {
	v.unless(d >= 0 && d <= most && d%time.Second == 0, path, ReasonRange, "%v: want whole seconds from 0 to %v", d, most)
}

// within notes a number outside its bounds.
func (v *validator) within(n, least, most int, path string) {
	v.unless(n >= least && n <= most, path, ReasonRange, "%d: want %d to %d", n, least, most)
}

// price notes an amount that is negative or so large that sums of such might overflow.
func (v *validator) price(amount quantity.Money, path string) {
	v.unless(amount >= 0 && amount <= MaxPrice, path, ReasonRange, "%v: want 0 to %v", amount, MaxPrice)
}

// method notes a word that is no method.
func (v *validator) method(m catalogue.Method, path string) {
	word(v, m, path, catalogue.ByHand, catalogue.Wipe, catalogue.SpotSpray, catalogue.WholePlantSpray, catalogue.Drench, catalogue.Trap, catalogue.Release)
}

// span notes an interval that ends as it begins, or before, or lasts longer than most.
func (v *validator) span(s civil.Interval, most time.Duration, path string) {
	switch {
	case s.From.IsZero() || s.To.IsZero():
		v.add(path, ReasonMissing, "from or to is unset: want both")
	case s.To <= s.From:
		v.add(path, ReasonOrder, "from %v to %v: want it to end later than it begins", s.From, s.To)
	case s.Length() > most:
		v.add(path, ReasonRange, "%v long: want %v at most", s.Length(), most)
	}
}

// known notes a name that a set does not hold.
func known[K ~string, T any](v *validator, set map[K]T, id K, path, what string) bool {
	_, ok := set[id]
	v.unless(ok, path, ReasonUnknown, "%s %q is not in the Problem", what, id)
	return ok
}

// word notes a word that is none of those allowed.
func word[K ~string](v *validator, w K, path string, allowed ...K) {
	v.unless(slices.Contains(allowed, w), path, ReasonWord, "%q: want one of %v", w, allowed)
}

// unique notes names that are missing or stand there twice.
type unique[K ~string] map[K]bool

func (u unique[K]) add(v *validator, id K, path string) {
	switch {
	case id == "":
		v.add(path, ReasonMissing, "no id: want a name of its own")
	case u[id]:
		v.add(path, ReasonDuplicate, "%q stands there twice: want a name of its own", id)
	}
	u[id] = true
}

// ascending notes whole numbers that fall: lags and days in the order in which they must not.
func (v *validator) ascending(path string, names []string, values []int) {
	for i := 1; i < len(values); i++ {
		if values[i] < values[i-1] {
			v.add(path+"."+names[i], ReasonOrder, "%d is less than %s, %d: want it as large or larger", values[i], names[i-1], values[i-1])
		}
	}
}

func (v *validator) horizon() {
	p := v.p
	v.unless(!p.Now.IsZero(), "now", ReasonMissing, "now is unset: want the instant from which on things may be planned")
	v.unless(!p.FirstDay.IsZero(), "first_day", ReasonMissing, "the first day is unset: want a date")
	v.within(p.Days, 1, MaxHorizonDays, "days")
	items := len(p.FollowUps)
	for _, s := range p.Services {
		items += 1 + p.Days/max(1, s.Ideal)
	}
	v.unless(items <= MaxItems, "follow_ups", ReasonRange, "%d follow-ups and occurrences of services: want %d at most", items, MaxItems)
}

func (v *validator) travel() {
	m, n := v.p.Travel, len(v.p.Travel.Places)
	v.unless(n <= MaxPlaces, "travel.places", ReasonRange, "%d places: want %d at most", n, MaxPlaces)
	seen := unique[travel.PlaceID]{}
	for i, place := range m.Places {
		seen.add(v, place, fmt.Sprintf("travel.places[%d]", i))
	}
	v.unless(len(m.Seconds) == n*n, "travel.seconds", ReasonSize, "%d entries for %d places: want %d", len(m.Seconds), n, n*n)
	v.unless(len(m.Metres) == n*n || len(m.Metres) == 0, "travel.metres", ReasonSize, "%d entries for %d places: want %d, or none", len(m.Metres), n, n*n)
	// Paths are written for wrong entries only: a matrix has millions.
	for i, e := range m.Seconds {
		if e < 0 || time.Duration(e)*time.Second > MaxTravel {
			v.add(fmt.Sprintf("travel.seconds[%d]", i), ReasonRange, "%d seconds: want 0 to %v", e, MaxTravel)
		}
		if n > 0 && i/n == i%n && e != 0 {
			v.add(fmt.Sprintf("travel.seconds[%d]", i), ReasonRange, "%d from a place to itself: want 0", e)
		}
	}
	for i, e := range m.Metres {
		if e < 0 {
			v.add(fmt.Sprintf("travel.metres[%d]", i), ReasonRange, "%d metres: want none less than 0", e)
		}
	}
}
