package firm

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// Noun is the kind of thing that changed.
type Noun string

// The nouns.
const (
	NounClient     Noun = "client"
	NounCase       Noun = "case"
	NounCourse     Noun = "course"
	NounFinding    Noun = "finding"
	NounPlan       Noun = "plan"
	NounVisit      Noun = "visit"
	NounReport     Noun = "report"
	NounRecord     Noun = "application-record"
	NounPlantEvent Noun = "plant-event"
	NounKeepOut    Noun = "keep-out"
	NounIncident   Noun = "incident"
	NounSite       Noun = "site"
	NounPlant      Noun = "plant"
	NounProduct    Noun = "product"
	NounTechnician Noun = "technician"
)

// ChangeKind is what happened to a thing.
type ChangeKind string

// The kinds.
const (
	Created           ChangeKind = "created"
	Changed           ChangeKind = "changed"
	Deleted           ChangeKind = "deleted"
	Ended             ChangeKind = "ended"
	Reopened          ChangeKind = "reopened"
	PlanMadeReal      ChangeKind = "published"
	VisitPlanned      ChangeKind = "planned"
	VisitMoved        ChangeKind = "moved"
	VisitWithdrawn    ChangeKind = "withdrawn"
	VisitBegun        ChangeKind = "begun"
	VisitDone         ChangeKind = "done"
	ApprovalWithdrawn ChangeKind = "approval-withdrawn"
	ProductStopped    ChangeKind = "stopped"
	ProductAllowed    ChangeKind = "allowed-again"
)

// Change is one thing that became true in a business. Whoever keeps a copy of the business's state follows its changes.
type Change struct {
	Position int64         `json:"position"` // place in the business's order, from 1; the store gives it
	At       civil.Instant `json:"at"`       // by the firm's clock; the store gives it
	Noun     Noun          `json:"noun"`
	ID       string        `json:"id"`
	Kind     ChangeKind    `json:"kind"`
	Case     course.CaseID `json:"case,omitempty"` // "" for none or several
	Site     site.ID       `json:"site,omitempty"`
	// Technician is whose day route it concerns, Day that day route's; Begins is when the visit or keep-out begins. With
	// a technician and a beginning the store finds the day.
	Technician scheduler.TechnicianID `json:"technician,omitempty"`
	Day        civil.Date             `json:"day,omitempty"`
	Begins     civil.Instant          `json:"begins,omitempty"`
	// Safety: not knowing it could hurt somebody. Such a change names its technician.
	Safety bool `json:"safety,omitempty"`
}

// Acknowledged is a change that concerns a technician, with when it was acknowledged; unset while it was not.
type Acknowledged struct {
	Change
	AcknowledgedAt civil.Instant
}
