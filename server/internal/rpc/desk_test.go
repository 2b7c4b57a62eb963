package rpc_test

import (
	"context"
	"testing"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/load"
	"vernation/server/internal/rpc"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// desk is the firm of works without open cases, with the services of premises, crew and casework.
type desk struct {
	*works
	applicator context.Context // of the office, with the right of the responsible applicator
}

func openDesk(t *testing.T, changes ...func(*load.File)) *desk {
	t.Helper()
	d := &desk{works: &works{Database: storetest.New(t)}}
	d.load(t, changes)
	d.Clock.Set(d.at(t, "2026-03-02 07:00"))
	b := setup(t, rpc.Visits(d.Store), rpc.Plans(d.Store), rpc.Clients(d.Store), rpc.SpeciesTolerances(d.Store), rpc.ServiceRounds(d.Store), rpc.Sites(d.Store), rpc.Plants(d.Store), rpc.Products(d.Store), rpc.Technicians(d.Store),
		rpc.Absences(d.Store), rpc.Holidays(d.Store), rpc.Policies(d.Store), rpc.Lots(d.Store),
		rpc.Findings(d.Store), rpc.Cases(d.Store), rpc.PlantEvents(d.Store), rpc.Reports(d.Store),
		rpc.Incidents(d.Store), rpc.ClientConsents(d.Store))
	d.keys, d.conn = b.keys, b.conn
	d.office, d.techA, d.techB = b.as(t, d.Office), b.as(t, d.crew("tech-a", true)), b.as(t, d.crew("tech-b", false))
	d.integration = b.as(t, firm.Caller{Business: d.Business.ID, Subject: "int-1", Role: firm.Integration})
	applicator := d.Office
	applicator.ResponsibleApplicator = true
	d.applicator = b.as(t, applicator)
	return d
}

func (d *desk) visits() vernationv1.VisitServiceClient {
	return vernationv1.NewVisitServiceClient(d.conn)
}
func (d *desk) planService() vernationv1.PlanServiceClient {
	return vernationv1.NewPlanServiceClient(d.conn)
}
func (d *desk) clients() vernationv1.ClientServiceClient {
	return vernationv1.NewClientServiceClient(d.conn)
}
func (d *desk) tolerances() vernationv1.SpeciesToleranceServiceClient {
	return vernationv1.NewSpeciesToleranceServiceClient(d.conn)
}
func (d *desk) rounds() vernationv1.ServiceRoundServiceClient {
	return vernationv1.NewServiceRoundServiceClient(d.conn)
}
func (d *desk) sites() vernationv1.SiteServiceClient { return vernationv1.NewSiteServiceClient(d.conn) }
func (d *desk) plants() vernationv1.PlantServiceClient {
	return vernationv1.NewPlantServiceClient(d.conn)
}
func (d *desk) plantEvents() vernationv1.PlantEventServiceClient {
	return vernationv1.NewPlantEventServiceClient(d.conn)
}
func (d *desk) findings() vernationv1.FindingServiceClient {
	return vernationv1.NewFindingServiceClient(d.conn)
}
func (d *desk) cases() vernationv1.CaseServiceClient { return vernationv1.NewCaseServiceClient(d.conn) }

// site is a new site that can be right, changed by a test.
func (d *desk) site(change func(*vernationv1.Site)) *vernationv1.CreateSiteRequest {
	always := &vernationv1.Calendar{Always: true}
	site := &vernationv1.Site{
		DisplayName: "Library in Mill Lane", ClientId: "client-offices", TimeZone: "America/New_York", Jurisdiction: "US-PA",
		Position: &vernationv1.Position{Latitude: 40.6, Longitude: -77.6}, PlaceKind: vernationv1.PlaceKind_PLACE_KIND_OFFICE, Access: always,
		Water: &vernationv1.Water{AreaId: "library-hall", HardnessMgL: proto.Float64(0)},
		Areas: []*vernationv1.Area{{
			AreaId: "library-hall", DisplayName: "Hall", Ventilation: always,
			Climate: []*vernationv1.Season{{ColdestCelsius: 18, UsualCelsius: 21, WarmestCelsius: 24}},
		}},
		Agreement: &vernationv1.Agreement{AskAboveMinor: proto.Int64(0)},
	}
	if change != nil {
		change(site)
	}
	return &vernationv1.CreateSiteRequest{Parent: d.name(""), SiteId: "library", Site: site, RequestId: request()}
}

// plant is a new plant that can be right, changed by a test.
func (d *desk) plant(change func(*vernationv1.Plant)) *vernationv1.CreatePlantRequest {
	plant := &vernationv1.Plant{
		DisplayName: "Peace lily by the copier", Area: d.name("sites/offices-alder-row/areas/offices-floor"), Species: "spathiphyllum-wallisii",
		Count: 2, PotVolume: "4 L", HeightCm: 50, Planter: vernationv1.Planter_PLANTER_DRAINED, Owner: vernationv1.Owner_OWNER_CLIENT,
	}
	if change != nil {
		change(plant)
	}
	return &vernationv1.CreatePlantRequest{Parent: d.name(""), PlantId: "lily-copier", Plant: plant, RequestId: request()}
}

// product is a new product that can be right, changed by a test.
func (d *desk) product(change func(*vernationv1.Product)) *vernationv1.CreateProductRequest {
	rate := func(concentrate string) *vernationv1.Rate {
		return &vernationv1.Rate{Concentrate: concentrate, Per: "1 US gal", Convention: vernationv1.Convention_CONVENTION_MADE_UP_TO}
	}
	product := &vernationv1.Product{
		DisplayName: "Another soap concentrate", Material: "insecticidal-soap", Registration: "TEST-0001", LabelVersion: "test-1",
		Form: vernationv1.Form_FORM_CONCENTRATE, Jurisdictions: []string{"US-PA"},
		Label: &vernationv1.Label{
			Places: []vernationv1.PlaceKind{vernationv1.PlaceKind_PLACE_KIND_OFFICE}, Pests: []string{"citrus-mealybug"},
			MinRate: rate("2 US fl oz"), MaxRate: rate("5/2 US fl oz"), Entry: &vernationv1.Entry{Kind: vernationv1.EntryKind_ENTRY_KIND_UNTIL_DRY},
		},
	}
	if change != nil {
		change(product)
	}
	return &vernationv1.CreateProductRequest{Parent: d.name(""), ProductId: "soap-2", Product: product, RequestId: request()}
}

// finding is mealybugs on the pothos of the offices, changed by a test.
func (d *desk) finding(id string, change func(*vernationv1.Finding)) *vernationv1.CreateFindingRequest {
	finding := &vernationv1.Finding{
		Pest: "citrus-mealybug", Certainty: vernationv1.Certainty_CERTAINTY_CONFIRMED, Life: vernationv1.Life_LIFE_LIVING, Severity: 2,
		Plants: []string{d.name("plants/pothos-stairs"), d.name("plants/pothos-printer")},
	}
	if change != nil {
		change(finding)
	}
	return &vernationv1.CreateFindingRequest{Parent: d.name(""), FindingId: id, Finding: finding, RequestId: request()}
}

// reasonsOf lists the reason of a refusal and those of its wrong fields, each with the code before it.
func reasonsOf(t *testing.T, err error) []string {
	t.Helper()
	if status.Code(err) == codes.OK {
		t.Fatal("nothing was refused")
	}
	code := map[codes.Code]string{
		codes.InvalidArgument: "INVALID_ARGUMENT", codes.NotFound: "NOT_FOUND", codes.AlreadyExists: "ALREADY_EXISTS",
		codes.FailedPrecondition: "FAILED_PRECONDITION", codes.Aborted: "ABORTED", codes.PermissionDenied: "PERMISSION_DENIED",
		codes.Unavailable: "UNAVAILABLE",
	}[status.Code(err)]
	reasons := []string{code + " " + detail[*errdetails.ErrorInfo](t, err).GetReason()}
	if status.Code(err) == codes.InvalidArgument {
		for _, field := range detail[*errdetails.BadRequest](t, err).GetFieldViolations() {
			reasons = append(reasons, code+" "+field.GetReason())
		}
	}
	return reasons
}

// services reads the routine work of a site from the store.
func (d *desk) services(t *testing.T, at site.ID) (found []site.Service) {
	t.Helper()
	err := d.Store.Reading(t.Context(), d.Office, func(tx *store.Tx) (err error) {
		found, err = tx.Services(at)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// siteVersion is the version of the offices that publishing compares.
func (d *desk) siteVersion(t *testing.T) int64 {
	t.Helper()
	var version int64
	err := d.Store.Reading(t.Context(), d.Office, func(tx *store.Tx) error {
		versions, err := tx.VersionsOf(nil, []site.ID{"offices-alder-row"}, nil)
		version = versions.Sites["offices-alder-row"]
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return version
}

// businessOf is another business.
func businessOf(id firm.BusinessID) firm.Business { return storetest.Business(id) }
