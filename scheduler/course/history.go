package course

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// CaseID names a case.
type CaseID string

// History is all that is known of one case, in any order; Compute sorts it. An event told twice counts once. One without
// a case tells what happened to the plants of its site, whatever their cases.
type History struct {
	Case   CaseID           `json:"case"`
	Site   site.ID          `json:"site"`
	Pest   catalogue.PestID `json:"pest"`
	Plants []site.PlantID   `json:"plants"`
	Events []Event          `json:"events"`
}

// Event is one thing that happened. Exactly one of the pointers is set.
type Event struct {
	// ID makes an event count once, however often and in whatever order it is told.
	ID string        `json:"id"`
	At civil.Instant `json:"at"` // when it happened, not when it was told
	// Corrects is the ID of an earlier event that this one takes the place of; "" is none.
	Corrects string `json:"corrects,omitempty"`

	Finding     *Finding     `json:"finding,omitempty"`
	Application *Application `json:"application,omitempty"`
	Inspection  *Inspection  `json:"inspection,omitempty"`
	NotDone     *NotDone     `json:"not_done,omitempty"`
	Approval    *Approval    `json:"approval,omitempty"`
	Ending      *Ending      `json:"ending,omitempty"`
	Done        *OtherDone   `json:"done,omitempty"`
	Patch       *PatchResult `json:"patch,omitempty"`
	Moved       *Moved       `json:"moved,omitempty"`
	Split       *Split       `json:"split,omitempty"`
	Joined      *Joined      `json:"joined,omitempty"`
	Gone        *Gone        `json:"gone,omitempty"`
	Decision    *Decision    `json:"decision,omitempty"`
}

// Certainty is how certain a finding is.
type Certainty string

// The certainties.
const (
	Confirmed  Certainty = "confirmed"
	Suspected  Certainty = "suspected"
	ClientCall Certainty = "client-call"
)

// Life says whether living insects were seen; not sure counts as living.
type Life string

// The signs of life.
const (
	Living  Life = "living"
	Dead    Life = "dead"
	NotSure Life = "not-sure"
)

// Finding is an observation of a pest on plants.
type Finding struct {
	Pest      catalogue.PestID    `json:"pest"`
	Certainty Certainty           `json:"certainty"`
	Life      Life                `json:"life"`
	Severity  int                 `json:"severity"` // 0 to 3
	Stages    []catalogue.StageID `json:"stages,omitempty"`
	Plants    []site.PlantID      `json:"plants"`
	By        string              `json:"by"`
	Note      string              `json:"note,omitempty"`
	Pictures  []string            `json:"pictures,omitempty"` // references to them
}

// Application is one application as it was really made.
type Application struct {
	FollowUp ItemID              `json:"follow_up,omitempty"` // the follow-up that it did; "" when unplanned
	Product  catalogue.ProductID `json:"product"`
	Began    civil.Instant       `json:"began"`
	Ended    civil.Instant       `json:"ended"`
	Plants   []site.PlantID      `json:"plants"`
	// Concentrate in Volume is the mix as it was made; zero for what is not diluted.
	Concentrate quantity.Volume `json:"concentrate"`
	Volume      quantity.Volume `json:"volume"`
	Applied     quantity.Volume `json:"applied"`
	// Mass and Organisms are what was weighed or counted into Volume, or strewn dry where that is nothing.
	Mass      quantity.Mass `json:"mass,omitzero"`
	Organisms int64         `json:"organisms,omitempty"`
	// AboveLabel: it counts once for lag and caps, kills as at the label's rate, and asks for a look and for approval again.
	AboveLabel bool `json:"above_label,omitempty"`
}

// Inspection is a look at plants.
type Inspection struct {
	FollowUp ItemID         `json:"follow_up,omitempty"`
	Plants   []site.PlantID `json:"plants"` // looked at
	Found    []site.PlantID `json:"found"`  // with living insects; empty is without a find
	Severity int            `json:"severity,omitempty"`
	// AdultsOnCards is the count on sticky cards read; nil when none were read.
	AdultsOnCards *int `json:"adults_on_cards,omitempty"`
}

// Outcome is what came of a work item; the words of a report.
type Outcome string

// The outcomes.
const (
	OutcomeDone       Outcome = "done"
	OutcomeInPart     Outcome = "done-in-part"
	LockedOut         Outcome = "locked-out"
	NoKeyOrAlarm      Outcome = "no-key-or-alarm"
	EntryRefused      Outcome = "entry-refused"
	PeoplePresent     Outcome = "people-present"
	AreaNotShut       Outcome = "area-not-shut"
	PlantNotFound     Outcome = "plant-not-found"
	MaterialMissing   Outcome = "material-or-water-missing"
	GearFailed        Outcome = "gear-failed"
	TooHotOrCold      Outcome = "too-hot-or-cold"
	PlantDryOrFlower  Outcome = "plant-dry-or-in-flower"
	LicenceMissing    Outcome = "licence"
	RanOutOfTime      Outcome = "ran-out-of-time"
	FoundWithoutPest  Outcome = "found-without-pest"
	CancelledByClient Outcome = "cancelled-by-client"
)

// NotDone is a follow-up that could not be done (or only in part).
type NotDone struct {
	FollowUp ItemID         `json:"follow_up"`
	Outcome  Outcome        `json:"outcome"`
	Plants   []site.PlantID `json:"plants,omitempty"` // of a part: those not done
	Note     string         `json:"note,omitempty"`
}

// OtherDone is a follow-up that is neither application nor inspection and was done (isolation, traps).
type OtherDone struct {
	FollowUp ItemID         `json:"follow_up"`
	Plants   []site.PlantID `json:"plants"`
	// Material is the physical work that was done on a follow-up of application, "" what is usual for the pest; or what a
	// patch test was made with, "" any.
	Material catalogue.MaterialID `json:"material,omitempty"`
}

// Approval is the responsible applicator's yes to a product at up to a rate on a case, or its withdrawal.
type Approval struct {
	Product   catalogue.ProductID `json:"product"`
	MaxRate   *quantity.Rate      `json:"max_rate,omitempty"` // nil: the label's
	Ways      []WayKind           `json:"ways"`
	By        string              `json:"by"`
	Withdrawn bool                `json:"withdrawn,omitempty"`
}

// PatchResult is what a patch test showed. It becomes the business's own record of what the plants stand and comes
// before the species' default; it never loosens a label. Of two results the later one holds.
type PatchResult struct {
	Material catalogue.MaterialID `json:"material"`
	Plants   []site.PlantID       `json:"plants"`
	Harmed   bool                 `json:"harmed"` // spots, burns, dropped leaves
	Note     string               `json:"note,omitempty"`
}

// Moved says that plants went from one area of the site to another. A move that is found later is told with the
// days between which it happened; in between the plants may have stood in either area.
type Moved struct {
	Plants []site.PlantID `json:"plants"`
	From   site.AreaID    `json:"from"`
	To     site.AreaID    `json:"to"`
	// NotBefore and NotAfter are the first and the last day on which it may have happened; unset is the event's own day.
	NotBefore civil.Date `json:"not_before,omitempty"`
	NotAfter  civil.Date `json:"not_after,omitempty"`
}

// Split says that a group became several; the group's id may be among them. Case, caps and patch tests follow the plants.
type Split struct {
	From site.PlantID   `json:"from"`
	Into []site.PlantID `json:"into"`
}

// Joined says that groups became one. What was applied to any of them counts for the caps and lags of the whole,
// what was applied to all of them for the proof.
type Joined struct {
	From []site.PlantID `json:"from"`
	Into site.PlantID   `json:"into"`
}

// GoneKind says how plants went.
type GoneKind string

// The ways in which plants go.
const (
	Discarded GoneKind = "discarded"
	Swapped   GoneKind = "swapped"
	TakenAway GoneKind = "taken-away" // by their owner
)

// Gone says that plants are there no longer; their record may stay.
type Gone struct {
	Plants []site.PlantID `json:"plants"`
	Kind   GoneKind       `json:"kind"`
	// Successors stand in their place; they are new plants and kept under quarantine.
	Successors []site.PlantID `json:"successors,omitempty"`
}

// DecisionKind is what people decided about a case.
type DecisionKind string

// The decisions.
const (
	DecideReplace DecisionKind = "replace" // the plants are to be replaced instead of treated
	DecideTreat   DecisionKind = "treat"   // takes an earlier decision to replace back
)

// Decision is what the client or the business decided about plants of a case.
type Decision struct {
	Kind   DecisionKind   `json:"kind"`
	Plants []site.PlantID `json:"plants,omitempty"` // empty: all of the case
	By     string         `json:"by"`
	Reason string         `json:"reason,omitempty"`
}

// EndingKind says how a case ended.
type EndingKind string

// The endings.
const (
	Clear        EndingKind = "clear"
	PlantsGone   EndingKind = "plants-gone"
	Declined     EndingKind = "client-declined"
	KeptLow      EndingKind = "kept-low-under-watch"
	WrongPest    EndingKind = "wrong-pest"
	NotFoundPest EndingKind = "not-found"
)

// Ending closes a case.
type Ending struct {
	Kind   EndingKind `json:"kind"`
	Chance float64    `json:"chance,omitempty"` // that it is free, where Clear
	Reason string     `json:"reason"`
}
