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

// Cautions are what comes first, for people; the label and those who are called outrank them.
func (i Incident) Cautions(of Business) []string {
	first := "The label's first aid and its words on spills come first, then the safety data sheet and local codes. Tell the responsible applicator."
	all := []string{first}
	if i.Kind == Exposure || i.Kind == Splash {
		call := "If somebody is unwell or was splashed in the eyes, call the emergency services"
		if of.EmergencyLine != "" {
			call += " (" + of.EmergencyLine + ")"
		}
		call += " or the poison centre"
		if of.PoisonLine != "" {
			call += " (" + of.PoisonLine + ")"
		}
		all = append(all, call+" at once, with the label in hand.")
	}
	if i.Kind == Spill {
		all = append(all, "Keep people and animals away. Nothing of it goes into a drain.")
	}
	if i.Product != "" && i.Release == nil {
		all = append(all, "The product is barred from this site until the responsible applicator allows it again.")
	}
	return all
}
