package rpc_test

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
)

// newEvent calls CreatePlantEvent with an event that cannot be right.
func newEvent(id string, change func(*desk, *vernationv1.PlantEvent)) func(*desk) error {
	return func(d *desk) error {
		event := &vernationv1.PlantEvent{}
		change(d, event)
		_, err := d.plantEvents().CreatePlantEvent(d.techB, &vernationv1.CreatePlantEventRequest{
			Parent: d.name(""), PlantEventId: id, PlantEvent: event, RequestId: request(),
		})
		return err
	}
}

// moved is a move of the pothos from the floor of the offices, changed by a test.
func (d *desk) moved(change func(*vernationv1.PlantsMoved)) *vernationv1.PlantsMoved {
	moved := &vernationv1.PlantsMoved{
		Plants: d.plantNames("pothos-stairs"), From: d.name("sites/offices-alder-row/areas/offices-floor"), To: d.name("sites/offices-alder-row/areas/offices-foyer"),
	}
	change(moved)
	return moved
}

func (d *desk) joined(into string, plants ...string) *vernationv1.GroupsJoined {
	return &vernationv1.GroupsJoined{Plants: d.plantNames(plants...), Into: d.name("plants/" + into)}
}

func (d *desk) split(plant string, parts ...*vernationv1.GroupPart) *vernationv1.GroupSplit {
	return &vernationv1.GroupSplit{Plant: d.name("plants/" + plant), Parts: parts}
}

func (d *desk) patched(material string, plants ...string) *vernationv1.PatchResult {
	return &vernationv1.PatchResult{Material: material, Plants: d.plantNames(plants...)}
}

var plantEventRefusals = []refusal{
	{"WithdrawPlantEvent", "NOT_FOUND NOT_FOUND", func(d *desk) error { _, err := d.withdraw("none"); return err }},
	{"WithdrawPlantEvent", "FAILED_PRECONDITION WITHDRAWN_ALREADY", func(d *desk) error { _, err := d.withdraw("withdrawn"); return err }},
	{"WithdrawPlantEvent", "FAILED_PRECONDITION BUILT_UPON", func(d *desk) error { _, err := d.withdraw("parted"); return err }},
	{"CreatePlantEvent", "INVALID_ARGUMENT UNKNOWN_PLANT", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) { e.PatchResult = d.patched("insecticidal-soap", "nothing") })},
	{"CreatePlantEvent", "INVALID_ARGUMENT OTHER_SITE", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.PatchResult = d.patched("insecticidal-soap", "pothos-stairs", "lily-reading")
	})},
	{"CreatePlantEvent", "INVALID_ARGUMENT OTHER_SITE", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.Moved = d.moved(func(m *vernationv1.PlantsMoved) { m.To = d.name("sites/hotel-quarry-square/areas/hotel-lobby") })
	})},
	{"CreatePlantEvent", "INVALID_ARGUMENT UNKNOWN_AREA", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.Moved = d.moved(func(m *vernationv1.PlantsMoved) { m.To = d.name("sites/offices-alder-row/areas/cellar") })
	})},
	{"CreatePlantEvent", "INVALID_ARGUMENT UNKNOWN_MATERIAL", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) { e.PatchResult = d.patched("holy-water", "pothos-stairs") })},
	{"CreatePlantEvent", "INVALID_ARGUMENT IN_THE_FUTURE", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.EventTime, e.PatchResult = timestamppb.New(d.Clock.Now().Add(301*time.Second).Time()), d.patched("insecticidal-soap", "pothos-stairs")
	})},
	{"CreatePlantEvent", "INVALID_ARGUMENT IN_THE_FUTURE", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.Moved = d.moved(func(m *vernationv1.PlantsMoved) { m.NotAfterOn = "2026-03-03" })
	})},
	{"CreatePlantEvent", "INVALID_ARGUMENT OUT_OF_RANGE", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.Moved = d.moved(func(m *vernationv1.PlantsMoved) { m.NotBeforeOn, m.NotAfterOn = "2026-03-01", "2026-02-28" })
	})},
	{"CreatePlantEvent", "INVALID_ARGUMENT OUT_OF_RANGE", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.Split = d.split("pothos-stairs", &vernationv1.GroupPart{PlantId: "part", Count: 5})
	})},
	{"CreatePlantEvent", "INVALID_ARGUMENT CONTRADICTION", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.Moved = d.moved(func(m *vernationv1.PlantsMoved) { m.To = m.GetFrom() })
	})},
	{"CreatePlantEvent", "INVALID_ARGUMENT CONTRADICTION", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) { e.Joined = d.joined("pothos-stairs", "pothos-stairs") })},
	{"CreatePlantEvent", "INVALID_ARGUMENT CONTRADICTION", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) { e.Joined = d.joined("pothos-stairs", "fig-window") })},
	{"CreatePlantEvent", "INVALID_ARGUMENT CONTRADICTION", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.Gone = &vernationv1.PlantsGone{Plants: d.plantNames("fig-window"), Way: vernationv1.GoneWay_GONE_WAY_SWAPPED, Successors: d.plantNames("fig-window")}
	})},
	{"CreatePlantEvent", "INVALID_ARGUMENT DUPLICATE", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.PatchResult = d.patched("insecticidal-soap", "pothos-stairs", "pothos-stairs")
	})},
	{"CreatePlantEvent", "INVALID_ARGUMENT DUPLICATE", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.Split = d.split("pothos-stairs", &vernationv1.GroupPart{PlantId: "part", Count: 1}, &vernationv1.GroupPart{PlantId: "part", Count: 1})
	})},
	{"CreatePlantEvent", "FAILED_PRECONDITION PLANT_GONE", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.Split = d.split("lily-reading", &vernationv1.GroupPart{PlantId: "part", Count: 1})
	})},
	{"CreatePlantEvent", "ALREADY_EXISTS EXISTS_ALREADY", newEvent("known", func(d *desk, e *vernationv1.PlantEvent) {
		e.PatchResult = d.patched("insecticidal-soap", "pothos-stairs")
	})},
	{"CreatePlantEvent", "ALREADY_EXISTS EXISTS_ALREADY", newEvent("e", func(d *desk, e *vernationv1.PlantEvent) {
		e.Split = d.split("pothos-stairs", &vernationv1.GroupPart{PlantId: "fig-window", Count: 1})
	})},
	{"GetPlantEvent", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.plantEvents().GetPlantEvent(d.office, &vernationv1.GetPlantEventRequest{Name: d.name("plantEvents/none")})
		return err
	}},
	{"ListPlantEvents", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
		_, err := d.plantEvents().ListPlantEvents(d.office, &vernationv1.ListPlantEventsRequest{Parent: d.name(""), PageToken: "page-2"})
		return err
	}},
	{"ListPlantEvents", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.plantEvents().ListPlantEvents(d.office, &vernationv1.ListPlantEventsRequest{Parent: d.name(""), Plant: d.name("plants/nothing")})
		return err
	}},
}

// consent asks to record a consent of an owner.
func (d *desk) consent(plant, by, on, withdrawn string) (*vernationv1.Plant, error) {
	return d.plants().RecordOwnerConsent(d.office, &vernationv1.RecordOwnerConsentRequest{
		Name: d.name("plants/" + plant), RequestId: request(), OwnerConsent: &vernationv1.OwnerConsent{ConsentedBy: by, ConsentedOn: on, WithdrawnOn: withdrawn},
	})
}

var consentRefusals = []refusal{
	{"RecordOwnerConsent", "INVALID_ARGUMENT CONTRADICTION", func(d *desk) error {
		_, err := d.consent("fig-window", "its owner", "2026-03-02", "2026-03-01")
		return err
	}},
	{"RecordOwnerConsent", "INVALID_ARGUMENT OUT_OF_RANGE", func(d *desk) (err error) {
		for n := 0; n <= 20 && err == nil; n++ {
			_, err = d.consent("lily-reading", fmt.Sprint("owner ", n), "2026-03-02", "")
		}
		return err
	}},
	{"RecordOwnerConsent", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.consent("nothing", "its owner", "2026-03-02", "")
		return err
	}},
}

// wish asks whether tech-a may spray the pothos with soap, changed by a test.
func (d *desk) wish(change func(*vernationv1.CheckApplicationRequest)) *vernationv1.CheckApplicationRequest {
	wish := &vernationv1.CheckApplicationRequest{
		Name: d.name("technicians/tech-a"), Product: d.name("products/soap"), Plants: d.plantNames("pothos-stairs"), Takes: durationpb.New(32 * time.Minute),
	}
	if change != nil {
		change(wish)
	}
	return wish
}

func checking(change func(*desk, *vernationv1.CheckApplicationRequest)) func(*desk) error {
	return func(d *desk) error {
		_, err := d.technicians().CheckApplication(d.techA, d.wish(func(r *vernationv1.CheckApplicationRequest) { change(d, r) }))
		return err
	}
}

var wishRefusals = []refusal{
	{"CheckApplication", "INVALID_ARGUMENT UNKNOWN_PLANT", checking(func(d *desk, r *vernationv1.CheckApplicationRequest) { r.Plants = d.plantNames("nothing") })},
	{"CheckApplication", "INVALID_ARGUMENT OTHER_SITE", checking(func(d *desk, r *vernationv1.CheckApplicationRequest) {
		r.Plants = d.plantNames("pothos-stairs", "lily-reading")
	})},
	{"CheckApplication", "INVALID_ARGUMENT UNKNOWN_AREA", checking(func(d *desk, r *vernationv1.CheckApplicationRequest) {
		r.Area = d.name("sites/hotel-quarry-square/areas/hotel-lobby")
	})},
	{"CheckApplication", "INVALID_ARGUMENT UNKNOWN_PEST", checking(func(_ *desk, r *vernationv1.CheckApplicationRequest) { r.Pest = "gremlin" })},
	{"CheckApplication", "INVALID_ARGUMENT DUPLICATE", checking(func(d *desk, r *vernationv1.CheckApplicationRequest) {
		r.Plants = d.plantNames("pothos-stairs", "pothos-stairs")
	})},
	{"CheckApplication", "NOT_FOUND NOT_FOUND", checking(func(d *desk, r *vernationv1.CheckApplicationRequest) { r.Product = d.name("products/nothing") })},
	{"CheckApplication", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.technicians().CheckApplication(d.office, d.wish(func(r *vernationv1.CheckApplicationRequest) { r.Name = d.name("technicians/nobody") }))
		return err
	}},
	{"CheckApplication", "FAILED_PRECONDITION DELETED", checking(func(d *desk, r *vernationv1.CheckApplicationRequest) { r.Product = d.name("products/left") })},
	{"CheckApplication", "PERMISSION_DENIED OTHER_TECHNICIAN", func(d *desk) error {
		_, err := d.technicians().CheckApplication(d.techB, d.wish(nil))
		return err
	}},
}

// decideCase asks to record a decision about the case named mealybugs, changed by a test.
func (d *desk) decideCase(decision vernationv1.CaseDecision, change func(*vernationv1.DecideCaseRequest)) (*vernationv1.Course, error) {
	ask := &vernationv1.DecideCaseRequest{Name: d.name("cases/mealybugs"), Decision: decision, Reason: "agreed on the telephone", DecidedBy: "the client", RequestId: request()}
	if change != nil {
		change(ask)
	}
	return d.cases().DecideCase(d.office, ask)
}

func deciding(decision vernationv1.CaseDecision, change func(*desk, *vernationv1.DecideCaseRequest)) func(*desk) error {
	return func(d *desk) error {
		_, err := d.decideCase(decision, func(r *vernationv1.DecideCaseRequest) { change(d, r) })
		return err
	}
}

var decisionRefusals = []refusal{
	{"DecideCase", "INVALID_ARGUMENT UNKNOWN_PLANT", deciding(replace, func(d *desk, r *vernationv1.DecideCaseRequest) { r.Plants = d.plantNames("fig-window") })},
	{"DecideCase", "INVALID_ARGUMENT CONTRADICTION", deciding(keepLow, func(d *desk, r *vernationv1.DecideCaseRequest) { r.Plants = d.plantNames("pothos-stairs") })},
	{"DecideCase", "INVALID_ARGUMENT IN_THE_FUTURE", deciding(declined, func(d *desk, r *vernationv1.DecideCaseRequest) {
		r.DecideTime = timestamppb.New(d.Clock.Now().Add(301 * time.Second).Time())
	})},
	{"DecideCase", "NOT_FOUND NOT_FOUND", deciding(declined, func(d *desk, r *vernationv1.DecideCaseRequest) { r.Name = d.name("cases/nothing") })},
	{"DecideCase", "FAILED_PRECONDITION CASE_ENDED", deciding(declined, func(d *desk, r *vernationv1.DecideCaseRequest) { r.Name = d.name("cases/ended") })},
	{"DecideCase", "ABORTED CASE_MOVED", deciding(declined, func(_ *desk, r *vernationv1.DecideCaseRequest) { r.Etag = `W/"0"` })},
}

// The decisions, in short.
const (
	replace   = vernationv1.CaseDecision_CASE_DECISION_REPLACE
	treat     = vernationv1.CaseDecision_CASE_DECISION_TREAT
	keepLow   = vernationv1.CaseDecision_CASE_DECISION_KEEP_LOW
	declined  = vernationv1.CaseDecision_CASE_DECISION_CLIENT_DECLINED
	wrongPest = vernationv1.CaseDecision_CASE_DECISION_WRONG_PEST
	remove    = vernationv1.CaseDecision_CASE_DECISION_REMOVE
)
