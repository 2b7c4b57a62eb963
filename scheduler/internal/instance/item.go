package instance

// Item is a follow-up or one occurrence of a service.
type Item struct {
	Site    int32
	Service bool
	// Waters says that it is a watering: its plants are wet from its end on.
	Waters bool
	Ways   []Way // none: it cannot be planned at all
	Due    Due
	// Price[k] is the cost of beginning k days after the earliest day; the last entry holds past its end.
	Price []Cost
	// LatePerDay is paid for each day past the latest.
	LatePerDay Cost
	// LeftOut and Deferred are the costs of not planning it; see Unplanned.
	LeftOut, Deferred Cost
	// DeferredDay is the first day after the horizon on which it could be done.
	DeferredDay Day
	// Lo and Hi bound the beginning, EndBy the end, by what was really done or does not move; Hi is the last beginning.
	Lo, Hi, EndBy Seconds
	// Before lists the items that must be placed before this one is tried; Hard ones must be planned.
	Before []Predecessor
	// Bonds join it to other items; each stands at both ends.
	Bonds []Bond
	// Outside says that its window begins past the horizon with everything before it at its earliest.
	Outside bool
}

// Predecessor is an item that is placed before another.
type Predecessor struct {
	Item int32
	Hard bool
}

// Due are the days of an item: dates when After is None, else lags from the day of After.
type Due struct {
	After            int32
	Earliest, Latest Day
	Stands           Day // FarDay: always
}

// BondKind is how two items are joined.
type BondKind int8

// The kinds of bond, from the earlier (From) to the later item (To).
const (
	// DaysApart: To's day is at least Days after From's.
	DaysApart BondKind = iota
	// EndToBegin: To begins at least Seconds after From has ended.
	EndToBegin
	// BeginsAfter: To begins after From has begun.
	BeginsAfter
	// OneVisit: both on one visit.
	OneVisit
	// Replaces: From takes its plants out of the service To on the same day.
	Replaces
	// NeverClose: the two applications are at least Days apart, whichever comes first, when WayFrom and WayTo are used.
	NeverClose
	// WetsFor: From waters plants that To needs wet.
	WetsFor
	// DueAfter: To's due days count from From; kept by Due, here so that a move of From is noticed.
	DueAfter
	// Together counts towards the same caps of the label.
	Together
	// SharePlace: both may carry plants to one treatment place.
	SharePlace
)

// Bond joins two items.
type Bond struct {
	Kind           BondKind
	From, To       int32
	Days           Day
	Seconds        Seconds
	WayFrom, WayTo int32 // of NeverClose; None is every way
	Plant          int32 // of WetsFor
	Loose          bool  // holds only where To begins after From
}

// Way is one lawful way of doing an item.
type Way struct {
	Index int32 // in the follow-up's ways
	Legs  []Leg // the second, if there is one, is the carry back
	// MostAway bounds the time from carry out to carry back, Wait is the least time between the legs.
	MostAway, Wait Seconds
	// Wet are plants that must not be dry when the application begins.
	Wet []int32
	// Caps bound the applications of its product to its plants.
	Caps []Cap
	// Carried is the number of plants taken to the treatment place HeldIn, or None.
	Carried int32
	HeldIn  int32
	// Back says that only the carry back is left: the stay is one of the place's Held.
	Back bool
}

// Cap is a bound of the label on applications of one substance to one plant.
type Cap struct {
	Key     int32 // substance and plant
	Plant   int32
	InRow   int32 // most in a row; 0 none
	AYear   int32 // most in 365 days; 0 none
	History []Day // of the same substance, sorted
	Other   []Day // applications of others to the plant, sorted
}

// Leg is what is done of a way on one visit.
type Leg struct {
	Blocks []Block
	// On says for each shift whether its technician may do the leg on that day.
	On []bool
}

// Block is one or more pieces done without a break but for mixing.
type Block struct {
	Rank   int8 // health of the plants, 0 the cleanest
	Class  int8 // service, inspection, other work, application
	Area   int32
	Pieces []Piece
}

// Classes of block in the order in which they are done among plants of one rank.
const (
	ClassService int8 = iota
	ClassInspection
	ClassWork
	ClassApplication
)

// Ranks of health.
const (
	RankClean int8 = iota
	RankNeighbour
	RankSuspected
	RankConfirmed
)

// Piece is one work item.
type Piece struct {
	Part  int32 // in the way's parts
	Area  int32
	Takes Seconds
	// Windows are the allowed beginnings; nil is any.
	Windows []Window
	// Application says that a product is applied; KeepOut is then how long the area stays shut after the end in
	// ventilated hours, Unaired when any of it is not; 0 shuts nothing.
	Application      bool
	KeepOut, Unaired Seconds
	// Product is the index of the diluted product, or None; Need its volume with reserve in nanolitres.
	Product int32
	Need    int64
	// Groups are the plants of a service with their minutes; a Replaces bond may take some of them out.
	Groups []Group
}

// Group is one plant (group) of a service.
type Group struct {
	Plant int32
	Takes Seconds
	// ReplacedBy are follow-ups that take it out of the service on their day.
	ReplacedBy []int32
}

// PriceOf returns the price of beginning so many days after the earliest.
func (i *Item) PriceOf(days Day) Cost {
	if len(i.Price) == 0 || days < 0 {
		return 0
	}
	return i.Price[min(int(days), len(i.Price)-1)]
}
