package firm

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// IncidentKind is what kind of thing happened.
type IncidentKind string

// The kinds of incident.
const (
	Spill       IncidentKind = "spill"
	Splash      IncidentKind = "splash"
	Exposure    IncidentKind = "exposure" // of a person or an animal
	Stain       IncidentKind = "stain"
	BurntLeaves IncidentKind = "burnt-leaves"
	Complaint   IncidentKind = "complaint"
)

// Incident is something that went wrong at a site. It is stored as told and never changed; while it is open its product is barred
// from the site.
type Incident struct {
	ID      string              `json:"id"`
	Kind    IncidentKind        `json:"kind"`
	Site    site.ID             `json:"site"`
	Area    site.AreaID         `json:"area,omitempty"`
	Product catalogue.ProductID `json:"product,omitempty"` // "" bars nothing
	Plants  []site.PlantID      `json:"plants,omitempty"`
	Case    course.CaseID       `json:"case,omitempty"`
	At      civil.Instant       `json:"at"` // when it happened, not when it was told
	By      string              `json:"by"` // who saw it
	Text    string              `json:"text"`
	Done    string              `json:"done,omitempty"` // what was done about it at once

	// Stored by the server: when and from whom it came.
	ReceivedAt civil.Instant `json:"received_at"`
	Caller     string        `json:"caller"`
	// Release ends it; nil while it is open.
	Release *IncidentRelease `json:"release,omitempty"`
}

// IncidentRelease is the responsible applicator's word that the product may be used at the site again.
type IncidentRelease struct {
	At     civil.Instant `json:"at"`
	By     string        `json:"by"`
	Reason string        `json:"reason"`
}
