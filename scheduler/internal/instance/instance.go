package instance

// Seconds are seconds since the origin, or a length of time.
type Seconds int32

// Day is a civil day counted from the first day of the horizon.
type Day int32

// Cost is money in minor units.
type Cost int64

// None is the index of nothing.
const None = int32(-1)

// Far is later than every instant of a plan, FarDay than every day.
const (
	Far    Seconds = 1 << 30
	FarDay Day     = 1 << 20
)

// Window is the half-open stretch [From, To); of beginnings, To is one second past the last of them.
type Window struct{ From, To Seconds }

// Overlaps says whether some second lies in both.
func (w Window) Overlaps(other Window) bool {
	return w.From < other.To && other.From < w.To && w.From < w.To && other.From < other.To
}

// Covers says whether the other lies wholly in this one.
func (w Window) Covers(other Window) bool { return w.From <= other.From && other.To <= w.To }

// Instance is the whole problem.
type Instance struct {
	Shifts []Shift
	Crew   []Technician
	Sites  []Site
	Areas  []Area
	Items  []Item
	Plants []Plant
	// Mixed are the products that are diluted, with the life of a mix; 0 is the end of the shift.
	MixLife []Seconds
	// Travel holds per technician a row-major matrix over places of seconds, already at their speed; those of one speed share it.
	Travel [][]Seconds
	// Towards is Travel as Turned gives it; nil is not made yet.
	Towards [][]Seconds
	Places  int32
	Rates   Rates
	// LastDay is the last day of the horizon.
	LastDay Day
	// Shut are areas that are shut by what runs already or does not move, Present where people of ours are by then.
	Shut, Present                                     []AreaStretch
	BreakAfter, MostWork, Mixing, Rinsing, Sanitation Seconds
}

// AreaStretch is a stretch of time in an area.
type AreaStretch struct {
	Area int32
	Window
}

// Rates are the prices of the weighed terms; see scheduler.Rates.
type Rates struct {
	LeastPaidMinutes                      Cost
	VehicleMinute, Visit, OtherTechnician Cost
	OtherWeekday, SanitationMinute        Cost
	UnevenMinute                          Cost
}

// Technician is one of the crew.
type Technician struct {
	PaidPerMinute Cost
	// Holds[product][vessel] is the greatest need in nanolitres that a filling of a vessel covers; 0 is none.
	Holds   [][]int64
	Vessels int
}

// Shift is one technician-day.
type Shift struct {
	Technician int32
	Day        Day
	Start, End Seconds // Start is no earlier than now
	From, Base int32   // places: where the day route starts and where it ends
	// Departed is when the technician really set out today, Far when not yet.
	Departed Seconds
	// Worked is what was worked today before Start and is not seen in a fixed visit.
	Worked      Seconds
	BreakWindow Window
	BreakTakes  Seconds // 0: no break
	// LastSite is the site of the last visit before Start, or None.
	LastSite int32
	Fixed    []FixedVisit
	Before   []BeforeVisit
	// Busy are vessels that hold an open mix.
	Busy []bool
	// RinseAtBase is how long open mixes of fixed visits take at the base.
	RinseAtBase Seconds
}

// FixedVisit is a visit that does not move.
type FixedVisit struct {
	Index           int // of Problem.Fixed
	Site            int32
	Arrives, Leaves Seconds
	// Past visits lie before the shift's Start and only count for the assembled day route.
	Past bool
}

// BeforeVisit is a visit that was published before; Moves is what moving it costs.
type BeforeVisit struct {
	Site    int32
	Arrives Seconds
	Items   []int32
	Moves   Cost
}

// Site is an address.
type Site struct {
	Place     int32
	SignIn    Seconds
	Access    []Window // unbroken runs, sorted
	Midnights []Seconds
	// FirstMidnight is the day that begins at Midnights[0].
	FirstMidnight Day
	WaterArea     int32 // None: water is carried
	Usual         int32 // technician, or None
	UsualDay      int8  // weekday, or -1
	Weekday0      int8  // weekday of day 0
}

// DayOf returns the civil day at an instant in the site's zone.
func (s *Site) DayOf(t Seconds) Day {
	// Days last about 24 hours, so the guess is off by one at most around a clock change.
	last := len(s.Midnights) - 1
	i := min(max(0, int(t-s.Midnights[0])/daySeconds), last)
	for i < last && s.Midnights[i+1] <= t {
		i++
	}
	for i >= 0 && s.Midnights[i] > t {
		i--
	}
	return s.FirstMidnight + Day(i)
}

const daySeconds = 24 * 60 * 60

// Midnight returns the instant at which a day begins; Far past the known days, and the first known midnight before them.
func (s *Site) Midnight(d Day) Seconds {
	i := int(d - s.FirstMidnight)
	switch {
	case i < 0:
		return s.Midnights[0]
	case i >= len(s.Midnights):
		return Far
	}
	return s.Midnights[i]
}

// Area is a room or zone.
type Area struct {
	Site int32
	// Shuts lists the areas that a treatment here shuts, this one first.
	Shuts []int32
	// People are the hours with people in any area of Shuts, less those agreed to be shut; sorted.
	People []Window
	// Aired are the runs of ventilation; sorted.
	Aired    []Window
	Capacity int32 // plants of a treatment place; 0 when it is none
	// Held are plants that visits which do not move carry to this treatment place.
	Held []Held
}

// Held is a stay of plants at a treatment place that does not move but perhaps in its end.
type Held struct {
	Plants      int32
	From, Until Seconds // Until is Far where nothing brings them back
	// Item is the item whose end is the end of the stay while it is placed, or None.
	Item int32
}

// Plant is a plant group with what dryness needs.
type Plant struct {
	Count int32
	// DryFrom is the day from which it is dry unless watered; DryLag the days from a watering to that day. FarDay: never.
	DryFrom Day
	DryLag  Day
}
