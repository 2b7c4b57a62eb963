package rpc_test

import (
	"slices"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	vernationv1 "vernation/proto/vernation/v1"
)

// updatePlant asks for a change of the paths of a plant, which must be taken.
func (d *desk) updatePlant(t *testing.T, p *vernationv1.Plant, paths ...string) *vernationv1.Plant {
	t.Helper()
	changed, err := d.plants().UpdatePlant(d.office, &vernationv1.UpdatePlantRequest{Plant: p, UpdateMask: &fieldmaskpb.FieldMask{Paths: paths}, RequestId: request()})
	if err != nil {
		t.Fatal(err)
	}
	return changed
}

func TestUpdatePlant_ChangesTheRecordAndItsWork(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	before := d.plantOf(t, "pothos-stairs")
	whole := proto.Clone(before).(*vernationv1.Plant)
	changed := d.updatePlant(t, &vernationv1.Plant{
		Name: before.GetName(), Count: 6, HeightCm: 95, InFlower: true, ExternalId: "crm-4",
		Area: d.name("sites/offices-alder-row/areas/offices-foyer"), // a mistake of the record: nothing has happened to the plant
	}, "count", "height_cm", "in_flower", "external_id", "area")
	whole.Count, whole.HeightCm, whole.InFlower, whole.ExternalId, whole.Etag = 6, 95, true, "crm-4", `W/"2"`
	whole.Area = d.name("sites/offices-alder-row/areas/offices-foyer")
	if !proto.Equal(changed, whole) {
		t.Errorf("changed to %v, want %v", changed, whole)
	}
	watering := slices.IndexFunc(before.GetServices(), func(s *vernationv1.Service) bool { return s.GetKind() == vernationv1.ServiceKind_SERVICE_KIND_WATERING })
	if watering < 0 {
		t.Fatal("the demo's pothos is not watered")
	}
	groups := func() map[string][]int {
		minutes := map[string][]int{}
		for _, s := range d.services(t, "offices-alder-row") {
			for _, g := range s.Groups {
				if g.Plant == "pothos-stairs" {
					minutes[s.ID] = append(minutes[s.ID], g.Minutes)
				}
			}
		}
		return minutes
	}
	same := proto.Clone(before.GetServices()[watering]).(*vernationv1.Service)
	same.Minutes = 17
	d.updatePlant(t, &vernationv1.Plant{Name: before.GetName(), Services: []*vernationv1.Service{same}}, "services")
	if got := groups(); len(got) != 1 || !slices.Equal(got["water-offices-alder-row"], []int{17}) {
		t.Errorf("other minutes: %v, want the same work with 17", got)
	}
	rarer := proto.Clone(same).(*vernationv1.Service)
	rarer.IdealDays, rarer.LatestDays = 20, 30
	changed = d.updatePlant(t, &vernationv1.Plant{Name: before.GetName(), Services: []*vernationv1.Service{rarer}}, "services")
	if got := groups(); len(got) != 1 || !slices.Equal(got["pothos-stairs-watering"], []int{17}) || !proto.Equal(changed.GetServices()[0], rarer) {
		t.Errorf("another rhythm: %v, told %v, want work of its own", got, changed.GetServices())
	}
	if state := stateOf(d.gathered(t), "pothos-stairs"); state == nil || state.Plant.Watering.Latest != 30 || state.Plant.Count != 6 {
		t.Errorf("a plan is made with %+v, want watering until day 30 and 6 plants", state)
	}
	d.updatePlant(t, &vernationv1.Plant{Name: before.GetName()}, "services")
	if got := groups(); len(got) != 0 {
		t.Errorf("no services: %v, want none", got)
	}
}

func TestUpdatePlant_CourseAndPlanFollow(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs")
	course := d.course(t).GetEtag()
	follows := func(what string, change func()) {
		t.Helper()
		version := d.siteVersion(t)
		change()
		if now := d.course(t).GetEtag(); now == course {
			t.Errorf("%s: the course is the same", what)
		} else {
			course = now
		}
		if d.siteVersion(t) <= version {
			t.Errorf("%s: publishing would not see it", what)
		}
	}
	name := d.name("plants/pothos-stairs")
	follows("more plants", func() { d.updatePlant(t, &vernationv1.Plant{Name: name, Count: 9}, "count") })
	follows("what it must not have", func() {
		d.updatePlant(t, &vernationv1.Plant{Name: name, Tolerances: []*vernationv1.Tolerance{{Material: "insecticidal-soap", Verdict: vernationv1.Verdict_VERDICT_MUST_NOT}}}, "tolerances")
	})
	follows("another temperature", func() {
		at, err := d.sites().GetSite(d.office, &vernationv1.GetSiteRequest{Name: d.name("sites/offices-alder-row")})
		if err != nil {
			t.Fatal(err)
		}
		for _, area := range at.GetAreas() {
			for _, season := range area.GetClimate() {
				season.ColdestCelsius, season.UsualCelsius, season.WarmestCelsius = 24, 26, 29
			}
		}
		if _, err := d.updateSite(at, "areas"); err != nil {
			t.Fatal(err)
		}
	})
}

func TestDeletePlant_CountsAsGoneAndIsListedNoMore(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	deleted, err := d.plants().DeletePlant(d.office, &vernationv1.DeletePlantRequest{Name: d.name("plants/fig-window"), RequestId: request()})
	if err != nil || deleted.GetGoneOn() != "2026-03-02" || deleted.GetDeleteTime() == nil {
		t.Fatalf("deleted: %v, %v", deleted, err)
	}
	if read := d.plantOf(t, "fig-window"); !proto.Equal(read, deleted) {
		t.Errorf("read %v, want %v", read, deleted)
	}
	if stateOf(d.gathered(t), "fig-window") != nil {
		t.Error("a plan is still made for it")
	}
	for _, show := range []bool{false, true} {
		page, err := d.plants().ListPlants(d.office, &vernationv1.ListPlantsRequest{
			Parent: d.name(""), Site: d.name("sites/offices-alder-row"), ShowDeleted: show, PageSize: 200, Filter: `gone_on:"*" OR name = "` + deleted.GetName() + `"`,
		})
		if err != nil || (len(page.GetPlants()) == 1) != show {
			t.Errorf("listed with deleted %v: %v, %v", show, page.GetPlants(), err)
		}
	}
}

func TestBatchCreatePlants_MayTouchEachOther(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	first, second := d.plant(nil), d.plant(nil)
	first.PlantId, second.PlantId = "east", "west"
	second.Plant.Touches = []string{d.name("plants/east")}
	ask := &vernationv1.BatchCreatePlantsRequest{Parent: d.name(""), Requests: []*vernationv1.CreatePlantRequest{first, second}, RequestId: request()}
	made, err := d.plants().BatchCreatePlants(d.office, ask)
	if err != nil || len(made.GetPlants()) != 2 || made.GetPlants()[1].GetTouches()[0] != made.GetPlants()[0].GetName() {
		t.Fatalf("made %v, %v", made, err)
	}
	third := d.plant(func(p *vernationv1.Plant) { p.Species, p.Count = "triffid", 0 })
	third.PlantId = "north"
	_, err = d.plants().BatchCreatePlants(d.office, &vernationv1.BatchCreatePlantsRequest{Parent: d.name(""), Requests: []*vernationv1.CreatePlantRequest{third}, RequestId: request()})
	expectField(t, err, "requests[0].plant.count", "INT32_GTE_LTE")
	third.Plant.Count = 1
	_, err = d.plants().BatchCreatePlants(d.office, &vernationv1.BatchCreatePlantsRequest{Parent: d.name(""), Requests: []*vernationv1.CreatePlantRequest{third}, RequestId: request()})
	expectField(t, err, "requests[0].plant.species", "UNKNOWN_SPECIES")
}

func TestClients_WhomToAskAndToTell(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	ask := d.client("mill-lane")
	ask.Client.Contacts[0].Reachable = &vernationv1.Calendar{Always: true}
	made, err := d.clients().CreateClient(d.office, ask)
	want := proto.Clone(ask.GetClient()).(*vernationv1.Client)
	want.Name, want.Etag = d.name("clients/mill-lane"), `W/"1"`
	if err != nil || !proto.Equal(made, want) {
		t.Fatalf("made %v, %v, want %v", made, err, want)
	}
	d.createSite(t, "library", func(s *vernationv1.Site) { s.ClientId = "mill-lane" })
	want.Contacts = append(want.Contacts, &vernationv1.Contact{DisplayName: "Librarian", Sites: []string{d.name("sites/library")}})
	changed, err := d.clients().UpdateClient(d.office, &vernationv1.UpdateClientRequest{Client: want, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"contacts"}}, RequestId: request()})
	want.Etag = `W/"2"`
	if err != nil || !proto.Equal(changed, want) {
		t.Fatalf("changed %v, %v, want %v", changed, err, want)
	}
	page, err := d.clients().ListClients(d.office, &vernationv1.ListClientsRequest{Parent: d.name(""), Filter: `display_name:"mill"`})
	if err != nil || len(page.GetClients()) != 1 || !proto.Equal(page.GetClients()[0], want) {
		t.Errorf("listed %v, %v", page, err)
	}
	// The client of the demo's file was there before clients had contacts.
	old, err := d.clients().GetClient(d.office, &vernationv1.GetClientRequest{Name: d.name("clients/client-offices")})
	if err != nil || old.GetDisplayName() == "" || old.GetEtag() != `W/"1"` {
		t.Errorf("the demo's client: %v, %v", old, err)
	}
}
