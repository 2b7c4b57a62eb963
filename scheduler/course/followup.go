package course

import (
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// ItemID names a follow-up or one occurrence of a service within a Problem and its Plan.
// A follow-up's is "case/kind/run/ordinal"; a service's is "service-id#occurrence", from 1.
type ItemID string

// FollowUpKind is the kind of a follow-up.
type FollowUpKind string

// The kinds of follow-up.
const (
	KindApplication       FollowUpKind = "application"
	KindInspectInfested   FollowUpKind = "inspect-infested"
	KindInspectNeighbours FollowUpKind = "inspect-neighbours"
	KindIsolation         FollowUpKind = "isolation"
	KindMoveAndReturn     FollowUpKind = "move-and-return"
	KindTrapChange        FollowUpKind = "trap-change"
	KindReplacement       FollowUpKind = "replacement"
	KindDryConfirmation   FollowUpKind = "dry-confirmation"
	KindSignUp            FollowUpKind = "sign-up"
	KindSignDown          FollowUpKind = "sign-down"
	KindLeafWashing       FollowUpKind = "leaf-washing"
	KindPatchTest         FollowUpKind = "patch-test"
)

// FollowUp is one item that a case still needs. The scheduler reads no biology in it, only days, ways and prices.
type FollowUp struct {
	ID        ItemID           `json:"id"`
	Case      CaseID           `json:"case"`
	Kind      FollowUpKind     `json:"kind"`
	Pest      catalogue.PestID `json:"pest"`
	Certainty Certainty        `json:"certainty"`
	Severity  int              `json:"severity"` // 0 to 3
	Site      site.ID          `json:"site"`
	Plants    []site.PlantID   `json:"plants"`
	Ways      []Way            `json:"ways"` // at least one; the scheduler chooses
	Due       Due              `json:"due"`
	// PricePerDay[k] is the cost in minor units of beginning k days after Earliest; it never falls,
	// and past its end the last entry holds. Empty is free.
	PricePerDay []quantity.Money `json:"price_per_day,omitempty"`
	// LeftOutPrice is the cost of not doing it at all in this plan when its window ends inside the horizon.
	LeftOutPrice quantity.Money `json:"left_out_price"`
	Approved     bool           `json:"approved"` // by the responsible applicator; needed to publish an application
	// Expected is the day on which it falls when everything before it is done on its ideal day; for people.
	Expected civil.Date `json:"expected"`
	Reason   string     `json:"reason"` // for people
}

// Due says when a follow-up may begin. After == "" means that the four days are dates; else they are
// lags in civil days (of the site's zone) from the beginning of the item After, planned or done.
type Due struct {
	After ItemID `json:"after,omitempty"`

	EarliestOn    civil.Date `json:"earliest_on,omitempty"`
	IdealOn       civil.Date `json:"ideal_on,omitempty"`
	LatestOn      civil.Date `json:"latest_on,omitempty"`
	StandsUntilOn civil.Date `json:"stands_until_on,omitempty"` // unset: it always stands

	EarliestLag    int `json:"earliest_lag,omitempty"`
	IdealLag       int `json:"ideal_lag,omitempty"`
	LatestLag      int `json:"latest_lag,omitempty"`
	StandsUntilLag int `json:"stands_until_lag,omitempty"` // 0: it always stands
}

// WayID names a way within its follow-up.
type WayID string

// WayKind is the kind of a way.
type WayKind string

// The kinds of way.
const (
	InPlace          WayKind = "in-place"
	AtTreatmentPlace WayKind = "at-treatment-place"
	ShutsNothing     WayKind = "shuts-nothing"
)

// Way is one lawful way of doing a follow-up: its parts in order.
type Way struct {
	ID    WayID   `json:"id"`
	Kind  WayKind `json:"kind"`
	Parts []Part  `json:"parts"`
	// MostAway is the greatest time from carry out to the beginning of the carry back; 0 without carrying.
	MostAway time.Duration `json:"most_away,omitempty"`
}

// PartKind is the kind of a part.
type PartKind string

// The kinds of part.
const (
	WorkPart        PartKind = "work" // inspection, traps, isolation, washing: no product that shuts anything
	ApplicationPart PartKind = "application"
	CarryOutPart    PartKind = "carry-out"
	WaitPart        PartKind = "wait" // until people may enter again; no work
	CarryBackPart   PartKind = "carry-back"
)

// Part is one piece of a way, done in one area without a break. The parts up to a wait are one work item
// after another on one visit; what follows a wait may be another technician's visit.
type Part struct {
	Kind    PartKind      `json:"kind"`
	Area    site.AreaID   `json:"area"`
	Takes   time.Duration `json:"takes"`
	Persons int           `json:"persons"` // 1; more is refused by name: no pairing yet
	Skills  []string      `json:"skills,omitempty"`
	// Windows bound the beginning beside all other rules; empty is no bound. They are of the site's zone.
	Windows []civil.Window `json:"windows,omitempty"`
	// Use is set for an ApplicationPart.
	Use *Use `json:"use,omitempty"`
}

// Use is what an application puts on which plants.
type Use struct {
	Product catalogue.ProductID `json:"product"`
	Method  catalogue.Method    `json:"method"`
	Doses   []Dose              `json:"doses"`
	// Reserve is the share planned above the need, in percent.
	ReservePercent int `json:"reserve_percent"`
	// KeepOut is how long the area stays shut after the end, resolved from label and policy for ventilated
	// hours; KeepOutUnventilated when any of the interval lies outside ventilation hours.
	Entry               catalogue.EntryKind `json:"entry"`
	KeepOut             time.Duration       `json:"keep_out"`
	KeepOutUnventilated time.Duration       `json:"keep_out_unventilated"`
}

// Dose is the finished mix or ready-to-use amount for one plant (group); nothing of what is strewn dry.
type Dose struct {
	Plant  site.PlantID    `json:"plant"`
	Amount quantity.Volume `json:"amount"`
	// Mass or Organisms are what the label's greatest rate gives the plant of what is weighed or counted, in the mix or dry.
	Mass      quantity.Mass `json:"mass,omitzero"`
	Organisms int64         `json:"organisms,omitempty"`
}

// LinkKind is the kind of a link between two items.
type LinkKind string

// The kinds of link. Order, LeastLag and SameVisit hold between From and To where both are planned;
// To without From planned or done is refused where the link is Needs.
const (
	LeastLag  LinkKind = "least-lag"  // To begins at least Days (civil) or Hours (end to begin) after From
	Order     LinkKind = "order"      // To begins after From has ended
	Needs     LinkKind = "needs"      // To is planned only when From is planned before it or done
	SameVisit LinkKind = "same-visit" // both on one visit
	InsteadOf LinkKind = "instead-of" // From on a day takes its plants out of the service To of that day
	Not       LinkKind = "not"        // while From holds, To stays but is marked (no leaching)
)

// Link joins two items. For InsteadOf and Not, To is a service's id without occurrence.
type Link struct {
	Kind  LinkKind      `json:"kind"`
	From  ItemID        `json:"from"`
	To    ItemID        `json:"to"`
	Days  int           `json:"days,omitempty"`
	Hours time.Duration `json:"hours,omitempty"`
}
