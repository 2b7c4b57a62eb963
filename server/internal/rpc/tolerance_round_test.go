package rpc_test

import (
	"slices"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
)

// tolerance is a new record that plants of a species must not have soap.
func (d *desk) tolerance(id, species string) *vernationv1.CreateSpeciesToleranceRequest {
	return &vernationv1.CreateSpeciesToleranceRequest{
		Parent: d.name(""), SpeciesToleranceId: id, RequestId: request(), SpeciesTolerance: &vernationv1.SpeciesTolerance{
			Species: species, Material: "insecticidal-soap", Verdict: vernationv1.Verdict_VERDICT_MUST_NOT, Source: "leaves burnt at two sites last winter",
		},
	}
}

// round is a new grooming of the pothos at the stairs.
func (d *desk) round(id string) *vernationv1.CreateServiceRoundRequest {
	return &vernationv1.CreateServiceRoundRequest{
		Parent: d.name(""), ServiceRoundId: id, RequestId: request(), ServiceRound: &vernationv1.ServiceRound{
			Site: d.name("sites/offices-alder-row"), Kind: vernationv1.ServiceKind_SERVICE_KIND_GROOMING, EarliestDays: 20, IdealDays: 30, LatestDays: 40, LastOn: "2026-02-20",
			Plants: []*vernationv1.ServedPlant{{Plant: d.name("plants/pothos-stairs"), Minutes: 5}},
		},
	}
}

func TestSpeciesTolerances_ReachCoursesAndPlans(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs")
	d.updatePlant(t, &vernationv1.Plant{Name: d.name("plants/pothos-stairs")}, "tolerances") // the demo's own record of it
	verdict := func() catalogue.Verdict {
		state := stateOf(d.gathered(t), "pothos-stairs")
		at := slices.IndexFunc(state.Tolerance, func(t catalogue.Tolerance) bool { return t.Material == "insecticidal-soap" })
		return state.Tolerance[at].Verdict
	}
	shipped, before, version := verdict(), d.course(t).GetEtag(), d.siteVersion(t)
	if shipped == catalogue.MustNot {
		t.Fatal("the test proves nothing")
	}
	made, err := d.tolerances().CreateSpeciesTolerance(d.office, d.tolerance("pothos-soap", "epipremnum-aureum"))
	if err != nil {
		t.Fatal(err)
	}
	if got := verdict(); got != catalogue.MustNot || d.course(t).GetEtag() == before {
		t.Errorf("a plan is made with %s; is the course another one? %v", got, d.course(t).GetEtag() != before)
	}
	answer, err := d.plants().GetPlant(d.office, &vernationv1.GetPlantRequest{Name: d.name("plants/pothos-stairs")})
	if err != nil || len(answer.GetTolerances()) != 0 {
		t.Errorf("the plant's own record: %v, %v, want none", answer.GetTolerances(), err)
	}
	if now := d.siteVersion(t); now <= version {
		t.Error("publishing would not see it")
	}
	// What a plant's own record says comes before what is said of its species.
	d.updatePlant(t, &vernationv1.Plant{Name: d.name("plants/pothos-stairs"), Tolerances: []*vernationv1.Tolerance{
		{Material: "insecticidal-soap", Verdict: vernationv1.Verdict_VERDICT_STANDS},
	}}, "tolerances")
	if got := verdict(); got != catalogue.Stands {
		t.Errorf("with a record of its own: %s", got)
	}
	d.updatePlant(t, &vernationv1.Plant{Name: d.name("plants/pothos-stairs")}, "tolerances")
	changed, err := d.tolerances().UpdateSpeciesTolerance(d.office, &vernationv1.UpdateSpeciesToleranceRequest{
		SpeciesTolerance: &vernationv1.SpeciesTolerance{Name: made.GetName(), Verdict: vernationv1.Verdict_VERDICT_STANDS, Species: "ficus-lyrata"}, RequestId: request(),
	})
	made.Verdict, made.Etag = vernationv1.Verdict_VERDICT_STANDS, `W/"2"` // its species never changes
	if err != nil || !proto.Equal(changed, made) || verdict() != catalogue.Stands {
		t.Errorf("changed %v, %v, planned with %s", changed, err, verdict())
	}
	if _, err := d.tolerances().DeleteSpeciesTolerance(d.office, &vernationv1.DeleteSpeciesToleranceRequest{Name: made.GetName(), RequestId: request()}); err != nil {
		t.Fatal(err)
	}
	if got := verdict(); got != shipped || d.course(t).GetEtag() != before {
		t.Errorf("deleted: %s; want %s as shipped, and the course of before", got, shipped)
	}
}

func TestServiceRounds_AreWorkOfTheirOwnBesideWatering(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	made, err := d.rounds().CreateServiceRound(d.office, d.round("groom-stairs"))
	if err != nil {
		t.Fatal(err)
	}
	planned := func(id string) bool {
		for _, s := range d.gathered(t).Services {
			if s.ID == id {
				return true
			}
		}
		return false
	}
	if !planned("groom-stairs") {
		t.Error("a plan does not know the new round")
	}
	of := d.plantOf(t, "pothos-stairs").GetServices()
	if !slices.ContainsFunc(of, func(s *vernationv1.Service) bool {
		return s.GetKind() == vernationv1.ServiceKind_SERVICE_KIND_GROOMING && s.GetLatestDays() == 40
	}) {
		t.Errorf("the plant's services are %v", of)
	}
	made.Plants = append(made.Plants, &vernationv1.ServedPlant{Plant: d.name("plants/fig-window"), Minutes: 9})
	changed, err := d.rounds().UpdateServiceRound(d.office, &vernationv1.UpdateServiceRoundRequest{
		ServiceRound: made, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"plants"}}, RequestId: request(),
	})
	made.Etag = `W/"2"`
	if err != nil || !proto.Equal(changed, made) {
		t.Errorf("changed %v, %v, want %v", changed, err, made)
	}
	// A watering is the plants' rhythm too: past its latest day they count as dry.
	watering, err := d.rounds().UpdateServiceRound(d.office, &vernationv1.UpdateServiceRoundRequest{
		ServiceRound: &vernationv1.ServiceRound{Name: d.name("serviceRounds/water-offices-alder-row"), LatestDays: 13}, RequestId: request(),
	})
	if err != nil || watering.GetLatestDays() != 13 {
		t.Fatalf("watering: %v, %v", watering, err)
	}
	if got := stateOf(d.gathered(t), "pothos-stairs").Plant.Watering.Latest; got != 13 {
		t.Errorf("the plant is dry after day %d, want 13", got)
	}
	if _, err := d.rounds().DeleteServiceRound(d.office, &vernationv1.DeleteServiceRoundRequest{Name: made.GetName(), RequestId: request()}); err != nil {
		t.Fatal(err)
	}
	if planned("groom-stairs") {
		t.Error("a deleted round is still planned")
	}
	page, err := d.rounds().ListServiceRounds(d.techB, &vernationv1.ListServiceRoundsRequest{Parent: d.name(""), Filter: "kind = SERVICE_KIND_GROOMING", ShowDeleted: true})
	if err != nil || len(page.GetServiceRounds()) != 1 || page.GetServiceRounds()[0].GetDeleteTime() == nil {
		t.Errorf("listed %v, %v", page, err)
	}
}

func toleranceRefusals() []refusal {
	create := func(id, species string, change func(*vernationv1.SpeciesTolerance)) func(*desk) error {
		return func(d *desk) error {
			ask := d.tolerance(id, species)
			change(ask.SpeciesTolerance)
			_, err := d.tolerances().CreateSpeciesTolerance(d.office, ask)
			return err
		}
	}
	batch := func(id, species string, change func(*vernationv1.SpeciesTolerance)) func(*desk) error {
		return func(d *desk) error {
			ask := d.tolerance(id, species)
			change(ask.SpeciesTolerance)
			_, err := d.tolerances().BatchCreateSpeciesTolerances(d.office, &vernationv1.BatchCreateSpeciesTolerancesRequest{
				Parent: d.name(""), Requests: []*vernationv1.CreateSpeciesToleranceRequest{ask}, RequestId: request(),
			})
			return err
		}
	}
	update := func(id string, change func(*vernationv1.UpdateSpeciesToleranceRequest)) func(*desk) error {
		return func(d *desk) error {
			ask := &vernationv1.UpdateSpeciesToleranceRequest{SpeciesTolerance: &vernationv1.SpeciesTolerance{Name: d.name("speciesTolerances/" + id), Source: "seen again"}, RequestId: request()}
			change(ask)
			_, err := d.tolerances().UpdateSpeciesTolerance(d.office, ask)
			return err
		}
	}
	remove := func(id, etag string) func(*desk) error {
		return func(d *desk) error {
			_, err := d.tolerances().DeleteSpeciesTolerance(d.office, &vernationv1.DeleteSpeciesToleranceRequest{Name: d.name("speciesTolerances/" + id), Etag: etag, RequestId: request()})
			return err
		}
	}
	same, asked := func(*vernationv1.SpeciesTolerance) {}, func(*vernationv1.UpdateSpeciesToleranceRequest) {}
	var refusals []refusal
	for method, make := range map[string]func(string, string, func(*vernationv1.SpeciesTolerance)) func(*desk) error{
		"CreateSpeciesTolerance": create, "BatchCreateSpeciesTolerances": batch,
	} {
		refusals = append(refusals,
			refusal{method, "INVALID_ARGUMENT UNKNOWN_SPECIES", make("new", "triffid", same)},
			refusal{method, "INVALID_ARGUMENT UNKNOWN_MATERIAL", make("new", "dracaena-fragrans", func(t *vernationv1.SpeciesTolerance) { t.Material = "holy-water" })},
			refusal{method, "ALREADY_EXISTS EXISTS_ALREADY", make("new", "ficus-lyrata", same)},
			refusal{method, "ALREADY_EXISTS EXISTS_ALREADY", make("new", "dracaena-fragrans", func(t *vernationv1.SpeciesTolerance) { t.ExternalId = "taken" })})
	}
	return append(refusals, []refusal{
		{"GetSpeciesTolerance", "NOT_FOUND NOT_FOUND", func(d *desk) error {
			_, err := d.tolerances().GetSpeciesTolerance(d.office, &vernationv1.GetSpeciesToleranceRequest{Name: d.name("speciesTolerances/none")})
			return err
		}},
		{"UpdateSpeciesTolerance", "NOT_FOUND NOT_FOUND", update("none", asked)},
		{"UpdateSpeciesTolerance", "FAILED_PRECONDITION DELETED", update("left", asked)},
		{"UpdateSpeciesTolerance", "ALREADY_EXISTS EXISTS_ALREADY", update("known", func(r *vernationv1.UpdateSpeciesToleranceRequest) { r.SpeciesTolerance.ExternalId = "taken" })},
		{"UpdateSpeciesTolerance", "ABORTED ETAG_STALE", update("known", func(r *vernationv1.UpdateSpeciesToleranceRequest) { r.SpeciesTolerance.Etag = "nonsense" })},
		{"UpdateSpeciesTolerance", "INVALID_ARGUMENT MASK_PATH_UNKNOWN", update("known", func(r *vernationv1.UpdateSpeciesToleranceRequest) {
			r.UpdateMask = &fieldmaskpb.FieldMask{Paths: []string{"colour"}}
		})},
		{"UpdateSpeciesTolerance", "INVALID_ARGUMENT MASK_PATH_READ_ONLY", update("known", func(r *vernationv1.UpdateSpeciesToleranceRequest) {
			r.UpdateMask = &fieldmaskpb.FieldMask{Paths: []string{"species"}}
		})},
		{"DeleteSpeciesTolerance", "NOT_FOUND NOT_FOUND", remove("none", "")},
		{"DeleteSpeciesTolerance", "ABORTED ETAG_STALE", remove("known", "nonsense")},
		{"DeleteSpeciesTolerance", "FAILED_PRECONDITION DELETED", remove("left", "")},
		{"ListSpeciesTolerances", "INVALID_ARGUMENT FILTER_INVALID", func(d *desk) error { return declaredLists["tolerances"].ask(d, "colour", "") }},
		{"ListSpeciesTolerances", "INVALID_ARGUMENT ORDER_INVALID", func(d *desk) error { return declaredLists["tolerances"].ask(d, "", "colour") }},
		{"ListSpeciesTolerances", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
			_, err := d.tolerances().ListSpeciesTolerances(d.office, &vernationv1.ListSpeciesTolerancesRequest{Parent: d.name(""), PageToken: "cGFnZSAy"})
			return err
		}},
	}...)
}

func roundRefusals() []refusal {
	create := func(change func(*desk, *vernationv1.CreateServiceRoundRequest)) func(*desk) error {
		return func(d *desk) error {
			ask := d.round("new")
			change(d, ask)
			_, err := d.rounds().CreateServiceRound(d.office, ask)
			return err
		}
	}
	batch := func(change func(*desk, *vernationv1.CreateServiceRoundRequest)) func(*desk) error {
		return func(d *desk) error {
			ask := d.round("new")
			change(d, ask)
			_, err := d.rounds().BatchCreateServiceRounds(d.office, &vernationv1.BatchCreateServiceRoundsRequest{
				Parent: d.name(""), Requests: []*vernationv1.CreateServiceRoundRequest{ask}, RequestId: request(),
			})
			return err
		}
	}
	update := func(id string, change func(*desk, *vernationv1.UpdateServiceRoundRequest)) func(*desk) error {
		return func(d *desk) error {
			ask := &vernationv1.UpdateServiceRoundRequest{ServiceRound: &vernationv1.ServiceRound{Name: d.name("serviceRounds/" + id), LatestDays: 50}, RequestId: request()}
			change(d, ask)
			_, err := d.rounds().UpdateServiceRound(d.office, ask)
			return err
		}
	}
	remove := func(id, etag string) func(*desk) error {
		return func(d *desk) error {
			_, err := d.rounds().DeleteServiceRound(d.office, &vernationv1.DeleteServiceRoundRequest{Name: d.name("serviceRounds/" + id), Etag: etag, RequestId: request()})
			return err
		}
	}
	served := func(d *desk, ids ...string) (plants []*vernationv1.ServedPlant) {
		for _, id := range ids {
			plants = append(plants, &vernationv1.ServedPlant{Plant: d.name("plants/" + id), Minutes: 5})
		}
		return plants
	}
	var refusals []refusal
	for method, make := range map[string]func(func(*desk, *vernationv1.CreateServiceRoundRequest)) func(*desk) error{"CreateServiceRound": create, "BatchCreateServiceRounds": batch} {
		refusals = append(refusals,
			refusal{method, "INVALID_ARGUMENT UNKNOWN_PLANT", make(func(d *desk, r *vernationv1.CreateServiceRoundRequest) {
				r.ServiceRound.Plants = served(d, "lily-reading")
			})},
			refusal{method, "INVALID_ARGUMENT UNKNOWN_PLANT", make(func(d *desk, r *vernationv1.CreateServiceRoundRequest) { r.ServiceRound.Plants = served(d, "left") })},
			refusal{method, "INVALID_ARGUMENT DUPLICATE", make(func(d *desk, r *vernationv1.CreateServiceRoundRequest) { r.ServiceRound.Plants = served(d, "known") })},
			refusal{method, "NOT_FOUND NOT_FOUND", make(func(d *desk, r *vernationv1.CreateServiceRoundRequest) { r.ServiceRound.Site = d.name("sites/nowhere") })},
			refusal{method, "ALREADY_EXISTS EXISTS_ALREADY", make(func(_ *desk, r *vernationv1.CreateServiceRoundRequest) { r.ServiceRoundId = "known" })},
			refusal{method, "FAILED_PRECONDITION DELETED", make(func(d *desk, r *vernationv1.CreateServiceRoundRequest) { r.ServiceRound.Site = d.name("sites/left") })})
	}
	same := func(*desk, *vernationv1.UpdateServiceRoundRequest) {}
	return append(refusals, []refusal{
		{"GetServiceRound", "NOT_FOUND NOT_FOUND", func(d *desk) error {
			_, err := d.rounds().GetServiceRound(d.office, &vernationv1.GetServiceRoundRequest{Name: d.name("serviceRounds/none")})
			return err
		}},
		{"UpdateServiceRound", "INVALID_ARGUMENT UNKNOWN_PLANT", update("known", func(d *desk, r *vernationv1.UpdateServiceRoundRequest) {
			r.ServiceRound.Plants = served(d, "lily-reading")
		})},
		{"UpdateServiceRound", "INVALID_ARGUMENT DUPLICATE", update("known", func(d *desk, r *vernationv1.UpdateServiceRoundRequest) {
			r.ServiceRound.Plants = served(d, "known", "known")
		})},
		{"UpdateServiceRound", "NOT_FOUND NOT_FOUND", update("none", same)},
		{"UpdateServiceRound", "FAILED_PRECONDITION DELETED", update("left", same)},
		{"UpdateServiceRound", "ALREADY_EXISTS EXISTS_ALREADY", update("known", func(_ *desk, r *vernationv1.UpdateServiceRoundRequest) { r.ServiceRound.ExternalId = "taken" })},
		{"UpdateServiceRound", "ABORTED ETAG_STALE", update("known", func(_ *desk, r *vernationv1.UpdateServiceRoundRequest) { r.ServiceRound.Etag = "nonsense" })},
		{"UpdateServiceRound", "INVALID_ARGUMENT MASK_PATH_UNKNOWN", update("known", func(_ *desk, r *vernationv1.UpdateServiceRoundRequest) {
			r.UpdateMask = &fieldmaskpb.FieldMask{Paths: []string{"colour"}}
		})},
		{"UpdateServiceRound", "INVALID_ARGUMENT MASK_PATH_READ_ONLY", update("known", func(_ *desk, r *vernationv1.UpdateServiceRoundRequest) {
			r.UpdateMask = &fieldmaskpb.FieldMask{Paths: []string{"kind"}}
		})},
		{"DeleteServiceRound", "NOT_FOUND NOT_FOUND", remove("none", "")},
		{"DeleteServiceRound", "ABORTED ETAG_STALE", remove("known", "nonsense")},
		{"DeleteServiceRound", "FAILED_PRECONDITION DELETED", remove("left", "")},
		{"ListServiceRounds", "INVALID_ARGUMENT FILTER_INVALID", func(d *desk) error { return declaredLists["rounds"].ask(d, "colour", "") }},
		{"ListServiceRounds", "INVALID_ARGUMENT ORDER_INVALID", func(d *desk) error { return declaredLists["rounds"].ask(d, "", "last_on") }},
		{"ListServiceRounds", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
			_, err := d.rounds().ListServiceRounds(d.office, &vernationv1.ListServiceRoundsRequest{Parent: d.name(""), PageToken: "cGFnZSAy"})
			return err
		}},
	}...)
}
