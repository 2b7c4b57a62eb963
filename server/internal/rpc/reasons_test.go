package rpc_test

import (
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
)

// refusal is a call that must be refused for one of the reasons that its method documents.
type refusal struct {
	method string // Service.Method
	reason string // as the contract writes it: code and reason
	call   func(*desk) error
}

// documented reads, by Service.Method, the reasons that the contract's comments name.
func documented(t *testing.T, services ...string) map[string][]string {
	t.Helper()
	reasonLine := regexp.MustCompile(`^\s*// - ([A-Z_]+ [A-Z_]+):`)
	methodLine := regexp.MustCompile(`^\s*rpc (\w+)\(`)
	reasons := map[string][]string{}
	for _, service := range services {
		text, err := os.ReadFile(filepath.Join("../../../proto/vernation/v1", service+"_service.proto"))
		if err != nil {
			t.Fatal(err)
		}
		var above []string
		for line := range strings.Lines(string(text)) {
			if match := reasonLine.FindStringSubmatch(line); match != nil {
				above = append(above, match[1])
			}
			if match := methodLine.FindStringSubmatch(line); match != nil {
				reasons[match[1]] = above
				above = nil
			}
		}
	}
	return reasons
}

func TestReasons_ThoseOfPremisesCrewAndCaseworkAreAsDocumented(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.prepareRefusals(t)
	produced := map[string][]string{}
	for _, r := range slices.Concat(siteRefusals, standardSiteRefusals(), plantRefusals, standardPlantRefusals(), clientRefusals(), toleranceRefusals(), roundRefusals(), plantEventRefusals, consentRefusals,
		productRefusals(), technicianRefusals, crewRefusals(), absenceRefusals(), holidayRefusals(), policyRefusals, lotRefusals(), wishRefusals, findingRefusals,
		caseRefusals, decisionRefusals, officeRefusals, incidentRefusals, clientConsentRefusals) {
		err := r.call(d)
		if err == nil {
			t.Errorf("%s is not refused for %s", r.method, r.reason)
			continue
		}
		if got := reasonsOf(t, err); !slices.Contains(got, r.reason) {
			t.Errorf("%s is refused for %v, want %s", r.method, got, r.reason)
		}
		produced[r.method] = append(produced[r.method], r.reason)
	}
	for method, reasons := range documented(t, "client", "site", "plant", "species_tolerance", "service_round", "plant_event", "product", "technician", "absence", "holiday", "policy", "lot", "finding", "case", "incident", "client_consent") {
		for _, reason := range reasons {
			if !slices.Contains(produced[method], reason) {
				t.Errorf("%s documents %s, which no call here produces", method, reason)
			}
		}
		for _, reason := range produced[method] {
			if !slices.Contains(reasons, reason) {
				t.Errorf("%s is refused for %s, which it does not document", method, reason)
			}
		}
	}
}

// prepareRefusals opens a case, ends another and takes the ids that new things may not have.
func (d *desk) prepareRefusals(t *testing.T) {
	t.Helper()
	for id, plant := range map[string]string{"mealybugs": "pothos-stairs", "ended": "fig-window"} {
		_, err := d.findings().CreateFinding(d.office, d.finding(id, func(f *vernationv1.Finding) { f.Plants = []string{d.name("plants/" + plant)} }))
		if err != nil {
			t.Fatal(err)
		}
	}
	d.end(t, "ended")
	if err := errors.Join(d.prepareCrew(), d.prepareProducts(), d.prepareLots()); err != nil {
		t.Fatal(err)
	}
	d.createSite(t, "known", nil)
	d.createSite(t, "named", func(s *vernationv1.Site) { s.ExternalId = "taken" })
	d.createMasterData(t)
	left := d.createSite(t, "left", nil)
	if _, err := d.sites().DeleteSite(d.office, &vernationv1.DeleteSiteRequest{Name: left.GetName(), RequestId: request()}); err != nil {
		t.Fatal(err)
	}
	d.tell(t, "known", "2026-03-02 06:00", func(e *vernationv1.PlantEvent) {
		e.Gone = &vernationv1.PlantsGone{Plants: d.plantNames("lily-reading"), Way: vernationv1.GoneWay_GONE_WAY_DISCARDED}
	})
}

// newSite calls CreateSite with a change that cannot be right.
func newSite(change func(*desk, *vernationv1.CreateSiteRequest)) func(*desk) error {
	return func(d *desk) error {
		ask := d.site(nil)
		change(d, ask)
		_, err := d.sites().CreateSite(d.office, ask)
		return err
	}
}

// changedSite calls UpdateSite on the library, which prepareRefusals makes.
func changedSite(change func(*desk, *vernationv1.UpdateSiteRequest)) func(*desk) error {
	return func(d *desk) error {
		ask := &vernationv1.UpdateSiteRequest{Site: d.site(nil).GetSite(), RequestId: request()}
		ask.Site.Name, ask.UpdateMask = d.name("sites/known"), &fieldmaskpb.FieldMask{Paths: []string{"*"}}
		ask.Site.Areas[0].AreaId, ask.Site.Water.AreaId = "known-hall", "known-hall"
		change(d, ask)
		_, err := d.sites().UpdateSite(d.office, ask)
		return err
	}
}

// newSites calls BatchCreateSites with a single request that cannot be right.
func newSites(change func(*desk, *vernationv1.CreateSiteRequest)) func(*desk) error {
	return func(d *desk) error {
		ask := d.site(nil)
		change(d, ask)
		_, err := d.sites().BatchCreateSites(d.office, &vernationv1.BatchCreateSitesRequest{
			Parent: d.name(""), Requests: []*vernationv1.CreateSiteRequest{ask}, RequestId: request(),
		})
		return err
	}
}

// wrongSites are the smallest mistakes of a site itself, by reason; creating, changing and batches refuse each.
var wrongSites = map[string]func(*vernationv1.Site){
	"UNKNOWN_TIME_ZONE":    func(s *vernationv1.Site) { s.TimeZone = "Europe/Atlantis" },
	"UNKNOWN_JURISDICTION": func(s *vernationv1.Site) { s.Jurisdiction = "ZZ" },
	"UNKNOWN_AREA":         func(s *vernationv1.Site) { s.Water.AreaId = "cellar" },
	"UNKNOWN_MATERIAL":     func(s *vernationv1.Site) { s.Agreement.RefusedMaterials = []string{"holy-water"} },
	"CONTRADICTION":        func(s *vernationv1.Site) { s.Agreement.TechnicianFixed = true },
	"DUPLICATE":            func(s *vernationv1.Site) { s.Areas = append(s.Areas, s.Areas[0]) },
	"WINDOW_INVALID": func(s *vernationv1.Site) {
		s.Access = &vernationv1.Calendar{Exceptions: []*vernationv1.DatedException{{On: "2026-03-09"}, {On: "2026-03-09"}}}
	},
	"MISSING": func(s *vernationv1.Site) { s.Position = &vernationv1.Position{} },
}

// standardSiteRefusals are those of the standard methods that change sites.
func standardSiteRefusals() []refusal {
	var refusals []refusal
	for reason, change := range wrongSites {
		refusals = append(refusals,
			refusal{"UpdateSite", "INVALID_ARGUMENT " + reason, changedSite(func(_ *desk, r *vernationv1.UpdateSiteRequest) { change(r.Site) })},
			refusal{"BatchCreateSites", "INVALID_ARGUMENT " + reason, newSites(func(_ *desk, r *vernationv1.CreateSiteRequest) { change(r.Site) })})
	}
	deleteSite := func(ask func(*desk) *vernationv1.DeleteSiteRequest) func(*desk) error {
		return func(d *desk) error {
			asked := ask(d)
			asked.RequestId = request()
			_, err := d.sites().DeleteSite(d.office, asked)
			return err
		}
	}
	listSites := func(ask *vernationv1.ListSitesRequest) func(*desk) error {
		return func(d *desk) error {
			ask.Parent = d.name("")
			_, err := d.sites().ListSites(d.office, ask)
			return err
		}
	}
	return append(refusals, []refusal{
		{"UpdateSite", "INVALID_ARGUMENT MASK_PATH_UNKNOWN", changedSite(func(_ *desk, r *vernationv1.UpdateSiteRequest) {
			r.UpdateMask = &fieldmaskpb.FieldMask{Paths: []string{"colour"}}
		})},
		{"UpdateSite", "INVALID_ARGUMENT MASK_PATH_READ_ONLY", changedSite(func(_ *desk, r *vernationv1.UpdateSiteRequest) {
			r.UpdateMask = &fieldmaskpb.FieldMask{Paths: []string{"etag"}}
		})},
		{"UpdateSite", "NOT_FOUND NOT_FOUND", changedSite(func(_ *desk, r *vernationv1.UpdateSiteRequest) { r.Site.ClientId = "nobody" })},
		{"UpdateSite", "ALREADY_EXISTS EXISTS_ALREADY", changedSite(func(_ *desk, r *vernationv1.UpdateSiteRequest) { r.Site.ExternalId = "taken" })},
		{"UpdateSite", "ABORTED ETAG_STALE", changedSite(func(_ *desk, r *vernationv1.UpdateSiteRequest) { r.Site.Etag = `W/"99"` })},
		{"UpdateSite", "FAILED_PRECONDITION DELETED", changedSite(func(d *desk, r *vernationv1.UpdateSiteRequest) { r.Site.Name = d.name("sites/left") })},
		{"UpdateSite", "FAILED_PRECONDITION AREA_STILL_USED", changedSite(func(d *desk, r *vernationv1.UpdateSiteRequest) {
			r.Site.Name = d.name("sites/hotel-quarry-square")
		})},
		{"DeleteSite", "NOT_FOUND NOT_FOUND", deleteSite(func(d *desk) *vernationv1.DeleteSiteRequest {
			return &vernationv1.DeleteSiteRequest{Name: d.name("sites/nowhere")}
		})},
		{"DeleteSite", "ABORTED ETAG_STALE", deleteSite(func(d *desk) *vernationv1.DeleteSiteRequest {
			return &vernationv1.DeleteSiteRequest{Name: d.name("sites/known"), Etag: "nonsense"}
		})},
		{"DeleteSite", "FAILED_PRECONDITION DELETED", deleteSite(func(d *desk) *vernationv1.DeleteSiteRequest {
			return &vernationv1.DeleteSiteRequest{Name: d.name("sites/left")}
		})},
		{"DeleteSite", "FAILED_PRECONDITION STILL_USED", deleteSite(func(d *desk) *vernationv1.DeleteSiteRequest {
			return &vernationv1.DeleteSiteRequest{Name: d.name("sites/offices-alder-row")}
		})},
		{"BatchCreateSites", "NOT_FOUND NOT_FOUND", newSites(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.Site.ClientId = "nobody" })},
		{"BatchCreateSites", "ALREADY_EXISTS EXISTS_ALREADY", newSites(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.SiteId = "known" })},
		{"ListSites", "INVALID_ARGUMENT FILTER_INVALID", listSites(&vernationv1.ListSitesRequest{Filter: `colour = "green"`})},
		{"ListSites", "INVALID_ARGUMENT ORDER_INVALID", listSites(&vernationv1.ListSitesRequest{OrderBy: "colour"})},
	}...)
}

var siteRefusals = []refusal{
	{"CreateSite", "INVALID_ARGUMENT UNKNOWN_TIME_ZONE", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.Site.TimeZone = "Europe/Atlantis" })},
	{"CreateSite", "INVALID_ARGUMENT UNKNOWN_JURISDICTION", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.Site.Jurisdiction = "ZZ" })},
	{"CreateSite", "INVALID_ARGUMENT UNKNOWN_AREA", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.Site.Water.AreaId = "cellar" })},
	{"CreateSite", "INVALID_ARGUMENT UNKNOWN_MATERIAL", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) {
		r.Site.Agreement.RefusedMaterials = []string{"holy-water"}
	})},
	{"CreateSite", "INVALID_ARGUMENT CONTRADICTION", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.Site.Agreement.TechnicianFixed = true })},
	{"CreateSite", "INVALID_ARGUMENT DUPLICATE", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) {
		r.Site.Areas = append(r.Site.Areas, r.Site.Areas[0])
	})},
	{"CreateSite", "INVALID_ARGUMENT WINDOW_INVALID", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) {
		r.Site.Access = &vernationv1.Calendar{Exceptions: []*vernationv1.DatedException{{On: "2026-03-09"}, {On: "2026-03-09"}}}
	})},
	{"CreateSite", "INVALID_ARGUMENT MISSING", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.Site.Position = &vernationv1.Position{} })},
	{"CreateSite", "NOT_FOUND NOT_FOUND", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.Site.ClientId = "nobody" })},
	{"CreateSite", "NOT_FOUND NOT_FOUND", newSite(func(d *desk, r *vernationv1.CreateSiteRequest) {
		r.Site.Agreement.UsualTechnician = d.name("technicians/nobody")
	})},
	{"CreateSite", "ALREADY_EXISTS EXISTS_ALREADY", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) { r.SiteId = "offices-alder-row" })},
	{"CreateSite", "ALREADY_EXISTS EXISTS_ALREADY", newSite(func(_ *desk, r *vernationv1.CreateSiteRequest) {
		r.Site.Areas[0].AreaId, r.Site.Water = "offices-floor", nil
	})},
	{"GetSite", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.sites().GetSite(d.office, &vernationv1.GetSiteRequest{Name: d.name("sites/nowhere")})
		return err
	}},
	{"ListSites", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
		_, err := d.sites().ListSites(d.office, &vernationv1.ListSitesRequest{Parent: d.name(""), PageToken: "page-2"})
		return err
	}},
}

// newPlant calls CreatePlant with a change that cannot be right.
func newPlant(change func(*desk, *vernationv1.CreatePlantRequest)) func(*desk) error {
	return func(d *desk) error {
		ask := d.plant(nil)
		change(d, ask)
		_, err := d.plants().CreatePlant(d.office, ask)
		return err
	}
}

var plantRefusals = []refusal{
	{"CreatePlant", "INVALID_ARGUMENT UNKNOWN_SPECIES", newPlant(func(_ *desk, r *vernationv1.CreatePlantRequest) { r.Plant.Species = "triffid" })},
	{"CreatePlant", "INVALID_ARGUMENT UNKNOWN_MATERIAL", newPlant(func(_ *desk, r *vernationv1.CreatePlantRequest) {
		r.Plant.Tolerances = []*vernationv1.Tolerance{{Material: "holy-water", Verdict: vernationv1.Verdict_VERDICT_STANDS}}
	})},
	{"CreatePlant", "INVALID_ARGUMENT UNKNOWN_AREA", newPlant(func(d *desk, r *vernationv1.CreatePlantRequest) {
		r.Plant.Area = d.name("sites/offices-alder-row/areas/cellar")
	})},
	{"CreatePlant", "INVALID_ARGUMENT DUPLICATE", newPlant(func(_ *desk, r *vernationv1.CreatePlantRequest) {
		service := &vernationv1.Service{Kind: vernationv1.ServiceKind_SERVICE_KIND_GROOMING, IdealDays: 30, LatestDays: 40, Minutes: 5}
		r.Plant.Services = []*vernationv1.Service{service, service}
	})},
	{"CreatePlant", "INVALID_ARGUMENT CONTRADICTION", newPlant(func(d *desk, r *vernationv1.CreatePlantRequest) {
		r.Plant.Touches = []string{d.name("plants/lily-copier")}
	})},
	{"CreatePlant", "INVALID_ARGUMENT OUT_OF_RANGE", newPlant(func(_ *desk, r *vernationv1.CreatePlantRequest) { r.Plant.PotVolume = "20000 L" })},
	{"CreatePlant", "NOT_FOUND NOT_FOUND", newPlant(func(d *desk, r *vernationv1.CreatePlantRequest) {
		r.Plant.Area = d.name("sites/nowhere/areas/cellar")
	})},
	{"CreatePlant", "NOT_FOUND NOT_FOUND", newPlant(func(d *desk, r *vernationv1.CreatePlantRequest) {
		r.Plant.Touches = []string{d.name("plants/nothing")}
	})},
	{"CreatePlant", "ALREADY_EXISTS EXISTS_ALREADY", newPlant(func(_ *desk, r *vernationv1.CreatePlantRequest) { r.PlantId = "pothos-stairs" })},
	{"GetPlant", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.plants().GetPlant(d.office, &vernationv1.GetPlantRequest{Name: d.name("plants/nothing")})
		return err
	}},
	{"ListPlants", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
		page, err := d.plants().ListPlants(d.office, &vernationv1.ListPlantsRequest{Parent: d.name(""), PageSize: 1})
		if err != nil {
			return err
		}
		_, err = d.plants().ListPlants(d.office, &vernationv1.ListPlantsRequest{
			Parent: d.name(""), Site: d.name("sites/offices-alder-row"), PageToken: page.GetNextPageToken(),
		})
		return err
	}},
	{"ListPlants", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.plants().ListPlants(d.office, &vernationv1.ListPlantsRequest{Parent: d.name(""), Site: d.name("sites/nowhere")})
		return err
	}},
}

var technicianRefusals = []refusal{
	{"GetTechnician", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.technicians().GetTechnician(d.office, &vernationv1.GetTechnicianRequest{Name: d.name("technicians/nobody")})
		return err
	}},
	{"GetTechnician", "PERMISSION_DENIED OTHER_TECHNICIAN", func(d *desk) error {
		_, err := d.technicians().GetTechnician(d.techB, &vernationv1.GetTechnicianRequest{Name: d.name("technicians/tech-a")})
		return err
	}},
	{"ListTechnicians", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
		_, err := d.technicians().ListTechnicians(d.office, &vernationv1.ListTechniciansRequest{Parent: d.name(""), PageToken: "page-2"})
		return err
	}},
}

// newFinding calls CreateFinding with a change that cannot be right.
func newFinding(id string, change func(*desk, *vernationv1.Finding)) func(*desk) error {
	return func(d *desk) error {
		_, err := d.findings().CreateFinding(d.office, d.finding(id, func(f *vernationv1.Finding) { change(d, f) }))
		return err
	}
}

var findingRefusals = []refusal{
	{"CreateFinding", "INVALID_ARGUMENT UNKNOWN_PEST", newFinding("f", func(_ *desk, f *vernationv1.Finding) { f.Pest = "gremlin" })},
	{"CreateFinding", "INVALID_ARGUMENT UNKNOWN_STAGE", newFinding("f", func(_ *desk, f *vernationv1.Finding) { f.Stages = []string{"teenager"} })},
	{"CreateFinding", "INVALID_ARGUMENT IN_THE_FUTURE", newFinding("f", func(d *desk, f *vernationv1.Finding) {
		f.SeenTime = timestamppb.New(d.Clock.Now().Add(301 * time.Second).Time())
	})},
	{"CreateFinding", "INVALID_ARGUMENT OTHER_SITE", newFinding("f", func(d *desk, f *vernationv1.Finding) {
		f.Plants = []string{d.name("plants/pothos-stairs"), d.name("plants/lily-reading")}
	})},
	{"CreateFinding", "INVALID_ARGUMENT UNKNOWN_PLANT", newFinding("f", func(d *desk, f *vernationv1.Finding) { f.Plants[1] = d.name("plants/nothing") })},
	{"CreateFinding", "ALREADY_EXISTS EXISTS_ALREADY", newFinding("mealybugs", func(*desk, *vernationv1.Finding) {})},
}

// decide calls ApproveCourse, and withdraw WithdrawApproval, by the responsible applicator.
func decide(change func(*desk, *vernationv1.ApproveCourseRequest)) func(*desk) error {
	return func(d *desk) error {
		ask := d.approve("soap")
		change(d, ask)
		_, err := d.cases().ApproveCourse(d.applicator, ask)
		return err
	}
}

func withdraw(of, product string) func(*desk) error {
	return func(d *desk) error {
		_, err := d.cases().WithdrawApproval(d.applicator, &vernationv1.WithdrawApprovalRequest{
			Name: d.name("cases/" + of + "/course"), Product: d.name("products/" + product), RequestId: request(),
		})
		return err
	}
}

var caseRefusals = []refusal{
	{"GetCase", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.cases().GetCase(d.office, &vernationv1.GetCaseRequest{Name: d.name("cases/nothing")})
		return err
	}},
	{"ListCases", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
		_, err := d.cases().ListCases(d.office, &vernationv1.ListCasesRequest{Parent: d.name(""), PageToken: "page-2"})
		return err
	}},
	{"ListCases", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.cases().ListCases(d.office, &vernationv1.ListCasesRequest{Parent: d.name(""), Site: d.name("sites/nowhere")})
		return err
	}},
	{"GetCourse", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.cases().GetCourse(d.office, &vernationv1.GetCourseRequest{Name: d.name("cases/nothing/course")})
		return err
	}},
	{"ApproveCourse", "NOT_FOUND NOT_FOUND", decide(func(d *desk, r *vernationv1.ApproveCourseRequest) { r.Name = d.name("cases/nothing/course") })},
	{"ApproveCourse", "NOT_FOUND NOT_FOUND", decide(func(d *desk, r *vernationv1.ApproveCourseRequest) { r.Product = d.name("products/nothing") })},
	{"ApproveCourse", "FAILED_PRECONDITION CASE_ENDED", decide(func(d *desk, r *vernationv1.ApproveCourseRequest) { r.Name = d.name("cases/ended/course") })},
	{"ApproveCourse", "FAILED_PRECONDITION PRODUCT_NOT_LAWFUL", decide(func(d *desk, r *vernationv1.ApproveCourseRequest) {
		r.Product = d.name("products/alcohol")
	})},
	{"ApproveCourse", "FAILED_PRECONDITION RATE_ABOVE_LABEL", decide(func(_ *desk, r *vernationv1.ApproveCourseRequest) {
		r.MaxRate = &vernationv1.Rate{Concentrate: "2.6 US fl oz", Per: "1 US gal", Convention: vernationv1.Convention_CONVENTION_MADE_UP_TO}
	})},
	{"ApproveCourse", "ABORTED COURSE_MOVED", decide(func(_ *desk, r *vernationv1.ApproveCourseRequest) { r.Etag = "another" })},
	{"WithdrawApproval", "NOT_FOUND NOT_FOUND", withdraw("nothing", "soap")},
	{"WithdrawApproval", "NOT_FOUND NOT_FOUND", withdraw("mealybugs", "nothing")},
	{"WithdrawApproval", "FAILED_PRECONDITION CASE_ENDED", withdraw("ended", "soap")},
}
