package rpc_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	vernationv1 "vernation/proto/vernation/v1"
)

func TestSites_WhatIsCreatedIsReadAndListed(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	asked := d.site(nil)
	created, err := d.sites().CreateSite(d.office, asked)
	if err != nil {
		t.Fatal(err)
	}
	want := proto.Clone(asked.GetSite()).(*vernationv1.Site)
	want.Name, want.Etag = d.name("sites/library"), `W/"1"`
	if diff := cmp.Diff(want, created, protocmp.Transform()); diff != "" {
		t.Errorf("what was created is not what was asked for (-asked +created):\n%s", diff)
	}
	again, err := d.sites().CreateSite(d.office, asked)
	if err != nil || !proto.Equal(again, created) {
		t.Errorf("the same request again: %v, %v", again, err)
	}
	read, err := d.sites().GetSite(d.techB, &vernationv1.GetSiteRequest{Name: created.GetName()})
	if err != nil || !proto.Equal(read, created) {
		t.Errorf("read: %v, %v", read, err)
	}
	page, err := d.sites().ListSites(d.integration, &vernationv1.ListSitesRequest{Parent: d.name("")})
	if err != nil || len(page.GetSites()) != 4 || page.GetNextPageToken() != "" {
		t.Errorf("%d sites, next %q, %v; want 4 on one page", len(page.GetSites()), page.GetNextPageToken(), err)
	}
}

func TestSites_EverythingWrongIsSaidByItsPathInTheRequest(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	_, err := d.sites().CreateSite(d.office, d.site(func(s *vernationv1.Site) {
		s.Jurisdiction, s.Water.AreaId, s.Areas[0].OpenToAreaIds = "ZZ", "cellar", []string{"attic"}
	}))
	var paths []string
	for _, field := range detail[*errdetails.BadRequest](t, err).GetFieldViolations() {
		paths = append(paths, field.GetField())
	}
	want := []string{"site.areas[0].open_to_area_ids[0]", "site.jurisdiction", "site.water.area_id"}
	if slices.Sort(paths); !slices.Equal(paths, want) {
		t.Errorf("wrong fields %v, want %v", paths, want)
	}
}

func TestPlants_ServicesOfOneRhythmBecomeOneWorkItem(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	watering := &vernationv1.Service{
		Kind: vernationv1.ServiceKind_SERVICE_KIND_WATERING, EarliestDays: 5, IdealDays: 7, LatestDays: 9, LastOn: "2026-03-02", Minutes: 4,
	}
	grooming := &vernationv1.Service{Kind: vernationv1.ServiceKind_SERVICE_KIND_GROOMING, IdealDays: 60, LatestDays: 90, Minutes: 6}
	asked := d.plant(func(p *vernationv1.Plant) {
		p.Services = []*vernationv1.Service{grooming, watering}
		p.Touches = []string{d.name("plants/pothos-stairs")}
		p.Tolerances = []*vernationv1.Tolerance{{Material: "insecticidal-soap", Verdict: vernationv1.Verdict_VERDICT_STANDS}}
	})
	before := len(d.services(t, "offices-alder-row")[0].Groups)
	created, err := d.plants().CreatePlant(d.office, asked)
	if err != nil {
		t.Fatal(err)
	}
	want := proto.Clone(asked.GetPlant()).(*vernationv1.Plant)
	want.Name, want.Etag = d.name("plants/lily-copier"), `W/"1"`
	if diff := cmp.Diff(want, created, protocmp.Transform()); diff != "" {
		t.Errorf("what was created is not what was asked for (-asked +created):\n%s", diff)
	}
	read, err := d.plants().GetPlant(d.office, &vernationv1.GetPlantRequest{Name: created.GetName()})
	if err != nil || !proto.Equal(read, created) {
		t.Errorf("read: %v, %v", read, err)
	}
	groups := map[string]int{} // by service
	for _, s := range d.services(t, "offices-alder-row") {
		groups[s.ID] = len(s.Groups)
	}
	if groups["water-offices-alder-row"] != before+1 || groups["lily-copier-grooming"] != 1 {
		t.Errorf("plants by service %v: want the lily among the site's watering, and a grooming of its own", groups)
	}
}

func TestPlants_PagesHoldEveryPlantOnceInOrder(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	for _, site := range []string{"", d.name("sites/offices-alder-row")} {
		var names []string
		ask := &vernationv1.ListPlantsRequest{Parent: d.name(""), Site: site, PageSize: 2}
		for {
			page, err := d.plants().ListPlants(d.office, ask)
			if err != nil {
				t.Fatal(err)
			}
			for _, plant := range page.GetPlants() {
				names = append(names, plant.GetName())
			}
			if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
				break
			}
			if len(page.GetPlants()) != 2 {
				t.Fatalf("a page in the middle holds %d plants, want 2", len(page.GetPlants()))
			}
		}
		whole, err := d.plants().ListPlants(d.office, &vernationv1.ListPlantsRequest{Parent: d.name(""), Site: site, PageSize: 200})
		if err != nil {
			t.Fatal(err)
		}
		if len(names) != len(whole.GetPlants()) || len(names) < 3 || !slices.IsSorted(names) || len(slices.Compact(slices.Clone(names))) != len(names) {
			t.Errorf("site %q: the pages hold %d plants, one page %d: %v", site, len(names), len(whole.GetPlants()), names)
		}
	}
}

func TestProducts_WhatIsCreatedIsReadAndListed(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	asked := d.product(nil)
	created, err := d.products().CreateProduct(d.office, asked)
	if err != nil {
		t.Fatal(err)
	}
	want := proto.Clone(asked.GetProduct()).(*vernationv1.Product)
	want.Name, want.Etag = d.name("products/soap-2"), `W/"1"`
	want.Label.MaxRate.Concentrate = "2.5 US fl oz" // 5/2 is told as the decimal that it is
	if diff := cmp.Diff(want, created, protocmp.Transform()); diff != "" {
		t.Errorf("what was created is not what was asked for (-asked +created):\n%s", diff)
	}
	page, err := d.products().ListProducts(d.techB, &vernationv1.ListProductsRequest{Parent: d.name("")})
	if err != nil || !slices.ContainsFunc(page.GetProducts(), func(p *vernationv1.Product) bool { return proto.Equal(p, created) }) {
		t.Errorf("the list lacks it: %v, %v", page, err)
	}
}

func TestProducts_HouseholdRemedyIsLawfulOnlyByTheResponsibleApplicator(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	remedy := d.product(func(p *vernationv1.Product) {
		p.Material, p.Registration, p.Form, p.Jurisdictions = "isopropyl-alcohol", "", vernationv1.Form_FORM_READY_TO_USE, nil
		p.Label.MinRate, p.Label.MaxRate = nil, nil
		p.LawfulBecause = []*vernationv1.LawfulBecause{{Jurisdiction: "US-PA", Reason: "read in the state's own list on 1 March"}}
	})
	_, err := d.products().CreateProduct(d.office, remedy)
	expect(t, err, codes.PermissionDenied, "RIGHT_NEEDED")
	remedy.RequestId = request()
	created, err := d.products().CreateProduct(d.applicator, remedy)
	if err != nil || len(created.GetLawfulBecause()) != 1 {
		t.Errorf("the responsible applicator's: %v, %v", created, err)
	}
}

func TestTechnicians_PayIsForTheOfficeAlone(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	ask := &vernationv1.GetTechnicianRequest{Name: d.name("technicians/tech-b")}
	told, err := d.technicians().GetTechnician(d.office, ask)
	if err != nil {
		t.Fatal(err)
	}
	own, err := d.technicians().GetTechnician(d.techB, ask)
	if err != nil {
		t.Fatal(err)
	}
	if told.GetPaidMinorPerMinute() == 0 || own.GetPaidMinorPerMinute() != 0 {
		t.Errorf("pay told to the office %d, to the technician %d", told.GetPaidMinorPerMinute(), own.GetPaidMinorPerMinute())
	}
	own.PaidMinorPerMinute = told.GetPaidMinorPerMinute()
	if !proto.Equal(own, told) || len(told.GetShifts().GetWeekly()) == 0 || len(told.GetVessels()) == 0 {
		t.Errorf("office reads %v, technician %v", told, own)
	}
	page, err := d.technicians().ListTechnicians(d.office, &vernationv1.ListTechniciansRequest{Parent: d.name(""), PageSize: 1})
	if err != nil || len(page.GetTechnicians()) != 1 || page.GetNextPageToken() == "" {
		t.Fatalf("first page: %v, %v", page, err)
	}
	next, err := d.technicians().ListTechnicians(d.office, &vernationv1.ListTechniciansRequest{Parent: d.name(""), PageSize: 1, PageToken: page.GetNextPageToken()})
	if err != nil || len(next.GetTechnicians()) != 1 || next.GetNextPageToken() != "" || !proto.Equal(next.GetTechnicians()[0], told) {
		t.Errorf("second page: %v, %v", next, err)
	}
}

func TestLists_AreTheOwnBusinesssOnly(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	stranger := bundle{keys: d.keys}.as(t, d.Add(t, businessOf("beta")))
	page, err := d.sites().ListSites(stranger, &vernationv1.ListSitesRequest{Parent: "businesses/beta"})
	if err != nil || len(page.GetSites()) != 0 {
		t.Errorf("another business's office lists %v, %v", page, err)
	}
	for i, name := range []string{"businesses/beta/sites/offices-alder-row", d.name("sites/offices-alder-row")} {
		_, err := d.sites().GetSite(stranger, &vernationv1.GetSiteRequest{Name: name})
		want := []string{"NOT_FOUND", "OTHER_BUSINESS"}[i]
		expect(t, err, []codes.Code{codes.NotFound, codes.PermissionDenied}[i], want)
	}
	if _, err := d.sites().GetSite(d.office, &vernationv1.GetSiteRequest{Name: fmt.Sprint(d.name("sites/"), "offices-alder-row")}); err != nil {
		t.Error(err)
	}
}

func TestNotFound_NamesTheKindOfThingAndItsID(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	_, err := d.sites().GetSite(d.office, &vernationv1.GetSiteRequest{Name: d.name("sites/nowhere")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	if told := detail[*errdetails.ResourceInfo](t, err); told.GetResourceType() != "vernation/Site" || told.GetResourceName() != "nowhere" {
		t.Errorf("the failure names %v, want the site nowhere", told)
	}
}
