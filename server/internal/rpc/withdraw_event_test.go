package rpc_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	vernationv1 "vernation/proto/vernation/v1"
)

// withdraw takes an event of plants back.
func (d *desk) withdraw(id string) (*vernationv1.PlantEvent, error) {
	return d.plantEvents().WithdrawPlantEvent(d.office, &vernationv1.WithdrawPlantEventRequest{
		Name: d.name("plantEvents/" + id), Reason: "told of the wrong plants", RequestId: request(),
	})
}

// officePlants are the plants of the offices that are in use, without their etags and the minutes of their services, which
// shares round up.
func (d *desk) officePlants(t *testing.T) []*vernationv1.Plant {
	t.Helper()
	page, err := d.plants().ListPlants(d.office, &vernationv1.ListPlantsRequest{Parent: d.name(""), Site: d.name("sites/offices-alder-row"), PageSize: 200})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range page.GetPlants() {
		p.Etag = ""
		for _, s := range p.GetServices() {
			s.Minutes = 0
		}
	}
	return page.GetPlants()
}

func TestWithdrawPlantEvent_IsAsIfNeverTold(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(d *desk, e *vernationv1.PlantEvent){
		"a patch test": func(d *desk, e *vernationv1.PlantEvent) {
			e.PatchResult = d.patched("insecticidal-soap", "pothos-stairs")
			e.PatchResult.Harmed = true
		},
		"a move": func(d *desk, e *vernationv1.PlantEvent) { e.Moved = d.moved(func(*vernationv1.PlantsMoved) {}) },
		"a split": func(d *desk, e *vernationv1.PlantEvent) {
			e.Split = d.split("pothos-stairs", &vernationv1.GroupPart{PlantId: "pothos-rail", Count: 2}, &vernationv1.GroupPart{PlantId: "pothos-landing", Count: 1})
		},
		"a join": func(d *desk, e *vernationv1.PlantEvent) { e.Joined = d.joined("pothos-printer", "pothos-stairs") },
		"plants gone": func(d *desk, e *vernationv1.PlantEvent) {
			e.Gone = &vernationv1.PlantsGone{Plants: d.plantNames("pothos-stairs"), Way: vernationv1.GoneWay_GONE_WAY_DISCARDED}
		},
		"plants swapped": func(d *desk, e *vernationv1.PlantEvent) {
			e.Gone = &vernationv1.PlantsGone{Plants: d.plantNames("pothos-stairs"), Way: vernationv1.GoneWay_GONE_WAY_SWAPPED, Successors: d.plantNames("fig-window")}
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			d := openDesk(t)
			d.find(t, "pothos-stairs", "pothos-printer")
			plants, course := d.officePlants(t), d.course(t)
			told := d.tell(t, "wrong", "2026-03-02 06:30", func(e *vernationv1.PlantEvent) { change(d, e) })
			if d.course(t).GetEtag() == course.GetEtag() && cmp.Equal(plants, d.officePlants(t), protocmp.Transform()) {
				t.Fatal("the event changed nothing, so that the test proves nothing")
			}
			version := d.siteVersion(t)
			withdrawn, err := d.withdraw("wrong")
			if err != nil {
				t.Fatal(err)
			}
			if withdrawn.GetWithdrawReason() == "" || !withdrawn.GetWithdrawTime().AsTime().Equal(d.at(t, "2026-03-02 07:00").Time()) || d.siteVersion(t) <= version {
				t.Errorf("withdrawn: %v", withdrawn)
			}
			if diff := cmp.Diff(plants, d.officePlants(t), protocmp.Transform()); diff != "" {
				t.Errorf("plants (-before +after):\n%s", diff)
			}
			after := d.course(t)
			course.Etag, after.Etag = "", ""
			if diff := cmp.Diff(course, after, protocmp.Transform()); diff != "" {
				t.Errorf("the course (-before +after):\n%s", diff)
			}
			again, err := d.plantEvents().CreatePlantEvent(d.office, &vernationv1.CreatePlantEventRequest{
				Parent: d.name(""), PlantEventId: "wrong", PlantEvent: &vernationv1.PlantEvent{
					EventTime: told.GetEventTime(), ToldBy: told.GetToldBy(), PatchResult: told.GetPatchResult(), Moved: told.GetMoved(), Split: told.GetSplit(),
					Joined: told.GetJoined(), Gone: told.GetGone(),
				}, RequestId: request(),
			})
			if err != nil || !proto.Equal(again, withdrawn) {
				t.Errorf("the same event, sent late once more: %v, %v, want that it is withdrawn", again, err)
			}
			_, err = d.withdraw("wrong")
			expect(t, err, codes.FailedPrecondition, "WITHDRAWN_ALREADY")
		})
	}
}

func TestWithdrawPlantEvent_WhatIsBuiltUponStands(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.tell(t, "first", "2026-03-01 06:30", func(e *vernationv1.PlantEvent) {
		e.Split = d.split("pothos-stairs", &vernationv1.GroupPart{PlantId: "pothos-rail", Count: 2})
	})
	d.tell(t, "second", "2026-03-01 08:30", func(e *vernationv1.PlantEvent) {
		e.Moved = d.moved(func(m *vernationv1.PlantsMoved) { m.Plants = d.plantNames("pothos-rail") })
	})
	_, err := d.withdraw("first")
	expect(t, err, codes.FailedPrecondition, "BUILT_UPON")
	for _, id := range []string{"second", "first"} {
		if _, err := d.withdraw(id); err != nil {
			t.Errorf("%s: %v", id, err)
		}
	}
	if got := d.plantOf(t, "pothos-stairs").GetCount(); got != 5 {
		t.Errorf("%d plants, want 5 as before", got)
	}
}
