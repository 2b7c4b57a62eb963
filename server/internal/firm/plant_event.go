package firm

import (
	"slices"
	"strings"

	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// PlantEvent is one thing that happened to plants outside the work items of a visit. It is stored as told and never
// changed, and is part of the history of every case that has the plants. Exactly one of the pointers is set.
type PlantEvent struct {
	ID   string        `json:"id"`
	Site site.ID       `json:"site"`
	At   civil.Instant `json:"at"` // when it happened, not when it was told
	By   string        `json:"by"` // who saw or did it
	Note string        `json:"note,omitempty"`

	Patch  *course.PatchResult `json:"patch,omitempty"`
	Moved  *course.Moved       `json:"moved,omitempty"`
	Split  *GroupSplit         `json:"split,omitempty"`
	Joined *course.Joined      `json:"joined,omitempty"` // Into is not among From
	Gone   *course.Gone        `json:"gone,omitempty"`

	// Stored by the server: when and from whom it came, and the cases whose courses were computed anew.
	ReceivedAt civil.Instant   `json:"received_at"`
	Caller     string          `json:"caller"`
	Cases      []course.CaseID `json:"cases,omitempty"`
	// WithdrawnAt is when it was withdrawn, because it was told wrongly, and WithdrawnBecause why; unset: it counts.
	WithdrawnAt      civil.Instant `json:"withdrawn_at,omitempty"`
	WithdrawnBecause string        `json:"withdrawn_because,omitempty"`
}

// GroupSplit is a group of which parts stand by themselves from then on; the rest keeps its name.
type GroupSplit struct {
	From  site.PlantID `json:"from"`
	Parts []GroupPart  `json:"parts"`
}

// GroupPart is one part of a group that split.
type GroupPart struct {
	Plant site.PlantID `json:"plant"` // a new id
	Name  string       `json:"name"`  // "" is made of the group's name and the id
	Count int          `json:"count"`
}

// plantEventPrefix begins the ids by which histories know events of plants.
const plantEventPrefix = "plant/"

// PlantEventOf returns the event of plants that an event of a history is, or "".
func PlantEventOf(event string) string {
	id, ok := strings.CutPrefix(event, plantEventPrefix)
	if !ok {
		return ""
	}
	return id
}

// Event is what histories tell of it.
func (e PlantEvent) Event() course.Event {
	event := course.Event{ID: plantEventPrefix + e.ID, At: e.At, Moved: e.Moved, Gone: e.Gone}
	if e.Patch != nil {
		patch := *e.Patch
		patch.Note = e.Note
		event.Patch = &patch
	}
	if s := e.Split; s != nil {
		event.Split = &course.Split{From: s.From, Into: []site.PlantID{s.From}}
		for _, part := range s.Parts {
			event.Split.Into = append(event.Split.Into, part.Plant)
		}
	}
	if j := e.Joined; j != nil {
		event.Joined = &course.Joined{From: append(slices.Clone(j.From), j.Into), Into: j.Into}
	}
	return event
}

// Plants are all that it names, each once: before and after it, and those that stand in the place of others.
func (e PlantEvent) Plants() []site.PlantID {
	var named []site.PlantID
	switch event := e.Event(); {
	case event.Patch != nil:
		named = event.Patch.Plants
	case event.Moved != nil:
		named = event.Moved.Plants
	case event.Split != nil:
		named = event.Split.Into
	case event.Joined != nil:
		named = event.Joined.From
	case event.Gone != nil:
		named = append(slices.Clone(event.Gone.Plants), event.Gone.Successors...)
	}
	named = slices.Clone(named)
	slices.Sort(named)
	return slices.Compact(named)
}
