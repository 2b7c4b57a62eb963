package rpc_test

import (
	"testing"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	vernationv1 "vernation/proto/vernation/v1"
)

// createMasterData makes what the refusals of standard methods speak of: known and named (externally taken) things, and
// left ones, which are deleted.
func (d *desk) createMasterData(t *testing.T) {
	t.Helper()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, id := range []string{"known", "named", "left"} {
		plant, client := d.plant(nil), d.client(id)
		plant.PlantId = id
		if id == "named" {
			plant.Plant.ExternalId, client.Client.ExternalId = "taken", "taken"
		}
		_, err := d.plants().CreatePlant(d.office, plant)
		must(err)
		_, err = d.clients().CreateClient(d.office, client)
		must(err)
		tolerance, round := d.tolerance(id, map[string]string{"known": "ficus-lyrata", "named": "spathiphyllum-wallisii", "left": "epipremnum-aureum"}[id]), d.round(id)
		round.ServiceRound.Plants[0].Plant = d.name("plants/" + id)
		if id == "named" {
			tolerance.SpeciesTolerance.ExternalId, round.ServiceRound.ExternalId = "taken", "taken"
		}
		_, err = d.tolerances().CreateSpeciesTolerance(d.office, tolerance)
		must(err)
		_, err = d.rounds().CreateServiceRound(d.office, round)
		must(err)
	}
	for _, remove := range []func() error{
		func() error {
			_, err := d.tolerances().DeleteSpeciesTolerance(d.office, &vernationv1.DeleteSpeciesToleranceRequest{Name: d.name("speciesTolerances/left"), RequestId: request()})
			return err
		},
		func() error {
			_, err := d.rounds().DeleteServiceRound(d.office, &vernationv1.DeleteServiceRoundRequest{Name: d.name("serviceRounds/left"), RequestId: request()})
			return err
		},
	} {
		must(remove())
	}
	d.tell(t, "withdrawn", "2026-03-01 06:30", func(e *vernationv1.PlantEvent) { e.PatchResult = d.patched("insecticidal-soap", "fig-window") })
	_, err := d.withdraw("withdrawn")
	must(err)
	d.tell(t, "parted", "2026-03-01 06:30", func(e *vernationv1.PlantEvent) {
		e.Split = d.split("named", &vernationv1.GroupPart{PlantId: "named-part", Count: 1})
	})
	d.tell(t, "parted-later", "2026-03-01 07:30", func(e *vernationv1.PlantEvent) { e.PatchResult = d.patched("insecticidal-soap", "named-part") })
	_, err = d.plants().DeletePlant(d.office, &vernationv1.DeletePlantRequest{Name: d.name("plants/left"), RequestId: request()})
	must(err)
	_, err = d.clients().DeleteClient(d.office, &vernationv1.DeleteClientRequest{Name: d.name("clients/left"), RequestId: request()})
	must(err)
}

// client is a new client that can be right.
func (d *desk) client(id string) *vernationv1.CreateClientRequest {
	return &vernationv1.CreateClientRequest{
		Parent: d.name(""), ClientId: id, RequestId: request(),
		Client: &vernationv1.Client{
			DisplayName: "Firm in Mill Lane", PostalAddress: "3 Mill Lane",
			Contacts: []*vernationv1.Contact{{DisplayName: "Facilities desk", Phone: "555-0100", MayConsent: true, TakesNotices: true}},
		},
	}
}

// changedPlant calls UpdatePlant on a plant that nothing happened to.
func changedPlant(change func(*desk, *vernationv1.UpdatePlantRequest)) func(*desk) error {
	return func(d *desk) error {
		ask := &vernationv1.UpdatePlantRequest{Plant: d.plant(nil).GetPlant(), UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"*"}}, RequestId: request()}
		ask.Plant.Name = d.name("plants/known")
		change(d, ask)
		_, err := d.plants().UpdatePlant(d.office, ask)
		return err
	}
}

func standardPlantRefusals() []refusal {
	wrong := map[string]func(*desk, *vernationv1.Plant){
		"INVALID_ARGUMENT UNKNOWN_SPECIES": func(_ *desk, p *vernationv1.Plant) { p.Species = "triffid" },
		"INVALID_ARGUMENT UNKNOWN_MATERIAL": func(_ *desk, p *vernationv1.Plant) {
			p.Tolerances = []*vernationv1.Tolerance{{Material: "holy-water", Verdict: vernationv1.Verdict_VERDICT_STANDS}}
		},
		"INVALID_ARGUMENT UNKNOWN_AREA": func(d *desk, p *vernationv1.Plant) { p.Area = d.name("sites/offices-alder-row/areas/cellar") },
		"INVALID_ARGUMENT DUPLICATE": func(_ *desk, p *vernationv1.Plant) {
			service := &vernationv1.Service{Kind: vernationv1.ServiceKind_SERVICE_KIND_GROOMING, IdealDays: 30, LatestDays: 40, Minutes: 5}
			p.Services = []*vernationv1.Service{service, service}
		},
		"INVALID_ARGUMENT CONTRADICTION": func(d *desk, p *vernationv1.Plant) {
			p.Touches = []string{d.name("plants/known"), d.name("plants/lily-copier")}
		},
		"INVALID_ARGUMENT OUT_OF_RANGE": func(_ *desk, p *vernationv1.Plant) { p.PotVolume = "20000 L" },
		"NOT_FOUND NOT_FOUND":           func(d *desk, p *vernationv1.Plant) { p.Touches = []string{d.name("plants/nothing")} },
		"ALREADY_EXISTS EXISTS_ALREADY": func(_ *desk, p *vernationv1.Plant) { p.ExternalId = "taken" },
	}
	var refusals []refusal
	for reason, change := range wrong {
		refusals = append(refusals,
			refusal{"UpdatePlant", reason, changedPlant(func(d *desk, r *vernationv1.UpdatePlantRequest) { change(d, r.Plant) })},
			refusal{"BatchCreatePlants", reason, func(d *desk) error {
				ask := d.plant(nil)
				change(d, ask.Plant)
				_, err := d.plants().BatchCreatePlants(d.office, &vernationv1.BatchCreatePlantsRequest{
					Parent: d.name(""), Requests: []*vernationv1.CreatePlantRequest{ask}, RequestId: request(),
				})
				return err
			}})
	}
	masked := func(path string) func(*desk) error {
		return changedPlant(func(_ *desk, r *vernationv1.UpdatePlantRequest) { r.UpdateMask.Paths = []string{path} })
	}
	deletePlant := func(id, etag string) func(*desk) error {
		return func(d *desk) error {
			_, err := d.plants().DeletePlant(d.office, &vernationv1.DeletePlantRequest{Name: d.name("plants/" + id), Etag: etag, RequestId: request()})
			return err
		}
	}
	inLeft := func(r *vernationv1.CreatePlantRequest, d *desk) { r.Plant.Area = d.name("sites/left/areas/left-hall") }
	return append(refusals, []refusal{
		{"CreatePlant", "FAILED_PRECONDITION DELETED", newPlant(func(d *desk, r *vernationv1.CreatePlantRequest) { inLeft(r, d) })},
		{"BatchCreatePlants", "FAILED_PRECONDITION DELETED", func(d *desk) error {
			ask := d.plant(nil)
			inLeft(ask, d)
			_, err := d.plants().BatchCreatePlants(d.office, &vernationv1.BatchCreatePlantsRequest{
				Parent: d.name(""), Requests: []*vernationv1.CreatePlantRequest{ask}, RequestId: request(),
			})
			return err
		}},
		{"UpdatePlant", "INVALID_ARGUMENT MASK_PATH_UNKNOWN", masked("colour")},
		{"UpdatePlant", "INVALID_ARGUMENT MASK_PATH_READ_ONLY", masked("gone_on")},
		{"UpdatePlant", "INVALID_ARGUMENT OTHER_SITE", changedPlant(func(d *desk, r *vernationv1.UpdatePlantRequest) {
			r.Plant.Area = d.name("sites/hotel-quarry-square/areas/hotel-lobby")
		})},
		{"UpdatePlant", "INVALID_ARGUMENT MOVE_TO_BE_TOLD", changedPlant(func(d *desk, r *vernationv1.UpdatePlantRequest) {
			r.Plant.Name, r.Plant.Area = d.name("plants/pothos-stairs"), d.name("sites/offices-alder-row/areas/offices-foyer")
		})},
		{"UpdatePlant", "ABORTED ETAG_STALE", changedPlant(func(_ *desk, r *vernationv1.UpdatePlantRequest) { r.Plant.Etag = `W/"99"` })},
		{"UpdatePlant", "FAILED_PRECONDITION DELETED", changedPlant(func(d *desk, r *vernationv1.UpdatePlantRequest) { r.Plant.Name = d.name("plants/left") })},
		{"DeletePlant", "NOT_FOUND NOT_FOUND", deletePlant("nothing", "")},
		{"DeletePlant", "ABORTED ETAG_STALE", deletePlant("known", "nonsense")},
		{"DeletePlant", "FAILED_PRECONDITION DELETED", deletePlant("left", "")},
		{"DeletePlant", "FAILED_PRECONDITION STILL_USED", deletePlant("pothos-stairs", "")},
		{"RecordOwnerConsent", "FAILED_PRECONDITION DELETED", func(d *desk) error { _, err := d.consent("left", "the owner", "2026-03-01", ""); return err }},
		{"ListPlants", "INVALID_ARGUMENT FILTER_INVALID", func(d *desk) error { return declaredLists["plants"].ask(d, `colour = "green"`, "") }},
		{"ListPlants", "INVALID_ARGUMENT ORDER_INVALID", func(d *desk) error { return declaredLists["plants"].ask(d, "", "gone_on") }},
	}...)
}

func clientRefusals() []refusal {
	wrong := map[string]func(*desk, *vernationv1.Client){
		"INVALID_ARGUMENT UNKNOWN_SITE": func(d *desk, c *vernationv1.Client) {
			c.Contacts[0].Sites = []string{d.name("sites/offices-alder-row")}
		},
		"INVALID_ARGUMENT WINDOW_INVALID": func(_ *desk, c *vernationv1.Client) {
			c.Contacts[0].Reachable = &vernationv1.Calendar{Exceptions: []*vernationv1.DatedException{{On: "2026-03-09"}, {On: "2026-03-09"}}}
		},
		"ALREADY_EXISTS EXISTS_ALREADY": func(_ *desk, c *vernationv1.Client) { c.ExternalId = "taken" },
	}
	update := func(id string, change func(*desk, *vernationv1.UpdateClientRequest)) func(*desk) error {
		return func(d *desk) error {
			ask := &vernationv1.UpdateClientRequest{Client: d.client("x").GetClient(), UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"*"}}, RequestId: request()}
			ask.Client.Name = d.name("clients/" + id)
			change(d, ask)
			_, err := d.clients().UpdateClient(d.office, ask)
			return err
		}
	}
	remove := func(id, etag string) func(*desk) error {
		return func(d *desk) error {
			_, err := d.clients().DeleteClient(d.office, &vernationv1.DeleteClientRequest{Name: d.name("clients/" + id), Etag: etag, RequestId: request()})
			return err
		}
	}
	var refusals []refusal
	for reason, change := range wrong {
		refusals = append(refusals,
			refusal{"CreateClient", reason, func(d *desk) error {
				ask := d.client("new")
				change(d, ask.Client)
				_, err := d.clients().CreateClient(d.office, ask)
				return err
			}},
			refusal{"BatchCreateClients", reason, func(d *desk) error {
				ask := d.client("new")
				change(d, ask.Client)
				_, err := d.clients().BatchCreateClients(d.office, &vernationv1.BatchCreateClientsRequest{
					Parent: d.name(""), Requests: []*vernationv1.CreateClientRequest{ask}, RequestId: request(),
				})
				return err
			}},
			refusal{"UpdateClient", reason, update("known", func(d *desk, r *vernationv1.UpdateClientRequest) { change(d, r.Client) })})
	}
	same := func(*desk, *vernationv1.UpdateClientRequest) {}
	return append(refusals, []refusal{
		{"CreateSite", "FAILED_PRECONDITION DELETED", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.Site.ClientId = "left" })},
		{"BatchCreateSites", "FAILED_PRECONDITION DELETED", newSites(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.Site.ClientId = "left" })},
		{"GetClient", "NOT_FOUND NOT_FOUND", func(d *desk) error {
			_, err := d.clients().GetClient(d.office, &vernationv1.GetClientRequest{Name: d.name("clients/nobody")})
			return err
		}},
		{"UpdateClient", "NOT_FOUND NOT_FOUND", update("nobody", same)},
		{"UpdateClient", "FAILED_PRECONDITION DELETED", update("left", same)},
		{"UpdateClient", "ABORTED ETAG_STALE", update("known", func(_ *desk, r *vernationv1.UpdateClientRequest) { r.Client.Etag = "nonsense" })},
		{"UpdateClient", "INVALID_ARGUMENT MASK_PATH_UNKNOWN", update("known", func(_ *desk, r *vernationv1.UpdateClientRequest) { r.UpdateMask.Paths = []string{"colour"} })},
		{"UpdateClient", "INVALID_ARGUMENT MASK_PATH_READ_ONLY", update("known", func(_ *desk, r *vernationv1.UpdateClientRequest) { r.UpdateMask.Paths = []string{"delete_time"} })},
		{"DeleteClient", "NOT_FOUND NOT_FOUND", remove("nobody", "")},
		{"DeleteClient", "ABORTED ETAG_STALE", remove("known", "nonsense")},
		{"DeleteClient", "FAILED_PRECONDITION DELETED", remove("left", "")},
		{"DeleteClient", "FAILED_PRECONDITION STILL_USED", remove("client-offices", "")},
		{"ListClients", "INVALID_ARGUMENT FILTER_INVALID", func(d *desk) error { return declaredLists["clients"].ask(d, `colour = "green"`, "") }},
		{"ListClients", "INVALID_ARGUMENT ORDER_INVALID", func(d *desk) error { return declaredLists["clients"].ask(d, "", "colour") }},
		{"ListClients", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
			_, err := d.clients().ListClients(d.office, &vernationv1.ListClientsRequest{Parent: d.name(""), PageToken: "cGFnZSAy"})
			return err
		}},
	}...)
}
