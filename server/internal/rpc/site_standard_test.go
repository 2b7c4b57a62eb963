package rpc_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	vernationv1 "vernation/proto/vernation/v1"
)

// create makes a new site that can be right, changed by a test.
func (d *desk) createSite(t *testing.T, id string, change func(*vernationv1.Site)) *vernationv1.Site {
	t.Helper()
	ask := d.site(func(s *vernationv1.Site) {
		s.Areas[0].AreaId, s.Water.AreaId = id+"-hall", id+"-hall"
		if change != nil {
			change(s)
		}
	})
	ask.SiteId = id
	made, err := d.sites().CreateSite(d.office, ask)
	if err != nil {
		t.Fatal(err)
	}
	return made
}

// updateSite asks for a change of the paths of a site.
func (d *desk) updateSite(s *vernationv1.Site, paths ...string) (*vernationv1.Site, error) {
	ask := &vernationv1.UpdateSiteRequest{Site: s, RequestId: request()}
	if paths != nil {
		ask.UpdateMask = &fieldmaskpb.FieldMask{Paths: paths}
	}
	return d.sites().UpdateSite(d.office, ask)
}

func TestUpdateSite_ChangesWhatTheMaskNamesAndNothingElse(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	made := d.createSite(t, "library", func(s *vernationv1.Site) { s.AccessNotes, s.ExternalId = "Ring twice.", "crm-17" })
	// The request tells only what changes: required fields that the mask leaves out are not missed.
	changed, err := d.updateSite(&vernationv1.Site{
		Name: made.GetName(), Etag: made.GetEtag(), DisplayName: "not named by the mask", Agreement: &vernationv1.Agreement{ResponseDays: 3},
	}, "agreement.response_days", "access_notes")
	if err != nil {
		t.Fatal(err)
	}
	want := proto.Clone(made).(*vernationv1.Site)
	want.Agreement.ResponseDays, want.AccessNotes, want.Etag = 3, "", `W/"2"`
	if !proto.Equal(changed, want) {
		t.Errorf("changed to %v, want %v", changed, want)
	}
	// Without a mask what is set is changed; with "*" everything is.
	changed, err = d.updateSite(&vernationv1.Site{Name: made.GetName(), AccessNotes: "Ring once."})
	want.AccessNotes, want.Etag = "Ring once.", `W/"3"`
	if err != nil || !proto.Equal(changed, want) {
		t.Errorf("without a mask: %v, %v, want %v", changed, err, want)
	}
	whole := proto.Clone(want).(*vernationv1.Site)
	whole.Agreement, whole.ExternalId = nil, ""
	changed, err = d.updateSite(whole, "*")
	whole.Agreement, whole.Etag = &vernationv1.Agreement{}, `W/"4"`
	if err != nil || !proto.Equal(changed, whole) {
		t.Errorf("everything: %v, %v, want %v", changed, err, whole)
	}
	read, err := d.sites().GetSite(d.office, &vernationv1.GetSiteRequest{Name: made.GetName()})
	if err != nil || !proto.Equal(read, changed) {
		t.Errorf("read again: %v, %v, want %v", read, err, changed)
	}
}

func TestUpdateSite_RefusesByPathAndStoresNothing(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	made := d.createSite(t, "library", nil)
	named := func(change func(*vernationv1.Site)) *vernationv1.Site {
		s := &vernationv1.Site{Name: made.GetName()}
		change(s)
		return s
	}
	for _, c := range []struct {
		name, path, reason string
		site               *vernationv1.Site
		mask               []string
	}{
		{"a field that no site has", "update_mask.paths[1]", "MASK_PATH_UNKNOWN", named(func(*vernationv1.Site) {}), []string{"access_notes", "colour"}},
		{"a part of a list", "update_mask.paths[0]", "MASK_PATH_UNKNOWN", named(func(*vernationv1.Site) {}), []string{"areas.people"}},
		{"the name", "update_mask.paths[0]", "MASK_PATH_READ_ONLY", named(func(*vernationv1.Site) {}), []string{"name"}},
		{"when it was deleted", "update_mask.paths[0]", "MASK_PATH_READ_ONLY", named(func(*vernationv1.Site) {}), []string{"delete_time"}},
		{"what is required taken away", "site.display_name", "STRING_MIN_LEN", named(func(*vernationv1.Site) {}), []string{"display_name"}},
		{"a zone that is none", "site.time_zone", "UNKNOWN_TIME_ZONE", named(func(s *vernationv1.Site) { s.TimeZone = "Europe/Atlantis" }), []string{"time_zone"}},
		{"a rule of the contract over two fields", "site.areas[0].humidity", "HUMIDITY_ORDER", named(func(s *vernationv1.Site) {
			s.Areas = []*vernationv1.Area{proto.Clone(made.GetAreas()[0]).(*vernationv1.Area)}
			s.Areas[0].Humidity = &vernationv1.Humidity{LeastPercent: 50, UsualPercent: 40, GreatestPercent: 60}
		}), []string{"areas"}},
		{"a rule of the site over two fields", "site.agreement.technician_fixed", "CONTRADICTION", named(func(s *vernationv1.Site) {
			s.Agreement = &vernationv1.Agreement{TechnicianFixed: true}
		}), []string{"agreement.technician_fixed"}},
		{"a name that is none", "site.name", "NAME_FORM", &vernationv1.Site{Name: "library"}, []string{"access_notes"}},
		{"no name", "site", "NAME_MISSING", &vernationv1.Site{AccessNotes: "x"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := d.updateSite(c.site, c.mask...)
			expectField(t, err, c.path, c.reason)
		})
	}
	read, err := d.sites().GetSite(d.office, &vernationv1.GetSiteRequest{Name: made.GetName()})
	if err != nil || !proto.Equal(read, made) {
		t.Errorf("after refusals: %v, %v, want %v", read, err, made)
	}
}

func TestUpdateSite_AnAreaThatIsNeededCannotVanish(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	made := d.createSite(t, "library", nil)
	attic := proto.Clone(made.GetAreas()[0]).(*vernationv1.Area)
	attic.AreaId = "library-attic"
	two, err := d.updateSite(&vernationv1.Site{Name: made.GetName(), Areas: []*vernationv1.Area{attic, made.GetAreas()[0]}}, "areas")
	if err != nil || len(two.GetAreas()) != 2 || two.GetAreas()[0].GetAreaId() != "library-attic" {
		t.Fatalf("two areas: %v, %v", two.GetAreas(), err)
	}
	if one, err := d.updateSite(&vernationv1.Site{Name: made.GetName(), Areas: made.GetAreas()}, "areas"); err != nil || len(one.GetAreas()) != 1 {
		t.Errorf("an area that nothing needs: %v, %v", one.GetAreas(), err)
	}
	offices, err := d.sites().GetSite(d.office, &vernationv1.GetSiteRequest{Name: d.name("sites/offices-alder-row")})
	if err != nil {
		t.Fatal(err)
	}
	without := slices.DeleteFunc(slices.Clone(offices.GetAreas()), func(a *vernationv1.Area) bool { return a.GetAreaId() == "offices-floor" })
	_, err = d.updateSite(&vernationv1.Site{Name: offices.GetName(), Areas: without}, "areas")
	if err == nil {
		t.Error("the area in which the plants stand could be left out")
	}
}

func TestUpdateSite_OfTwoChangesFromOneEtagOneStands(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	made := d.createSite(t, "library", nil)
	failed := make(chan error, 2)
	for i := range 2 {
		go func() {
			_, err := d.updateSite(&vernationv1.Site{Name: made.GetName(), Etag: made.GetEtag(), AccessNotes: fmt.Sprint("notes ", i)}, "access_notes")
			failed <- err
		}()
	}
	first, second := <-failed, <-failed
	if (first == nil) == (second == nil) {
		t.Fatalf("both: %v, %v", first, second)
	}
	if first == nil {
		first = second
	}
	expect(t, first, codes.Aborted, "ETAG_STALE")
	_, err := d.updateSite(&vernationv1.Site{Name: made.GetName(), Etag: "nonsense", AccessNotes: "x"}, "access_notes")
	expect(t, err, codes.Aborted, "ETAG_STALE")
}

func TestDeleteSite_IsKeptForHistoryAndUsedNoMore(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	made := d.createSite(t, "library", func(s *vernationv1.Site) { s.ExternalId = "crm-17" })
	deleted, err := d.sites().DeleteSite(d.office, &vernationv1.DeleteSiteRequest{Name: made.GetName(), Etag: made.GetEtag(), RequestId: request()})
	if err != nil || !deleted.GetDeleteTime().AsTime().Equal(d.at(t, "2026-03-02 07:00").Time()) {
		t.Fatalf("deleted: %v, %v", deleted, err)
	}
	read, err := d.sites().GetSite(d.office, &vernationv1.GetSiteRequest{Name: made.GetName()})
	if err != nil || !proto.Equal(read, deleted) {
		t.Errorf("read: %v, %v", read, err)
	}
	listed := func(ask *vernationv1.ListSitesRequest) bool {
		ask.Parent = d.name("")
		page, err := d.sites().ListSites(d.office, ask)
		if err != nil {
			t.Fatal(err)
		}
		return slices.ContainsFunc(page.GetSites(), func(s *vernationv1.Site) bool { return s.GetName() == made.GetName() })
	}
	if listed(&vernationv1.ListSitesRequest{}) || !listed(&vernationv1.ListSitesRequest{ShowDeleted: true}) ||
		!listed(&vernationv1.ListSitesRequest{ShowDeleted: true, Filter: `delete_time >= "2026-03-02T00:00:00Z"`}) {
		t.Error("a deleted site is listed exactly where deleted ones are asked for")
	}
	_, err = d.plants().CreatePlant(d.office, d.plant(func(p *vernationv1.Plant) { p.Area = made.GetName() + "/areas/library-hall" }))
	expect(t, err, codes.FailedPrecondition, "DELETED")
	d.createSite(t, "library-2", func(s *vernationv1.Site) { s.ExternalId = "crm-17" }) // the other system's name is free again
}

func TestListSites_PagesFitEveryFilterAndOrder(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	for i := range 7 {
		d.createSite(t, fmt.Sprint("library-", i), func(s *vernationv1.Site) {
			s.DisplayName = fmt.Sprint("Library ", i/2) // several of one name
			s.PlaceKind = []vernationv1.PlaceKind{vernationv1.PlaceKind_PLACE_KIND_HOME, vernationv1.PlaceKind_PLACE_KIND_RETAIL}[i%2]
		})
	}
	for _, c := range []struct {
		filter, order string
		want          []string
	}{
		{`display_name:"LIBRARY"`, "", []string{"0", "1", "2", "3", "4", "5", "6"}},
		{`display_name:"library"`, "name desc", []string{"6", "5", "4", "3", "2", "1", "0"}},
		{`display_name:"library"`, "display_name desc", []string{"6", "4", "5", "2", "3", "0", "1"}},
		{`display_name:"library"`, "place_kind, display_name desc, name desc", []string{"6", "4", "2", "0", "5", "3", "1"}},
		{`place_kind = PLACE_KIND_HOME`, "", []string{"0", "2", "4", "6"}},
		{`place_kind = PLACE_KIND_HOME AND NOT display_name = "Library 1"`, "", []string{"0", "4", "6"}},
		{fmt.Sprintf("name = %q OR name > %q", d.name("sites/library-0"), d.name("sites/library-4")), "", []string{"0", "5", "6", "offices-alder-row"}},
		{`display_name:"%"`, "", nil},
		{`external_id:"*"`, "", nil},
	} {
		var got []string
		ask := &vernationv1.ListSitesRequest{Parent: d.name(""), PageSize: 2, Filter: c.filter, OrderBy: c.order}
		for {
			page, err := d.sites().ListSites(d.office, ask)
			if err != nil {
				t.Fatalf("%s, by %q: %v", c.filter, c.order, err)
			}
			for _, s := range page.GetSites() {
				id := strings.TrimPrefix(s.GetName(), d.name("sites/"))
				got = append(got, strings.TrimPrefix(id, "library-"))
			}
			if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
				break
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s, by %q: %v, want %v", c.filter, c.order, got, c.want)
		}
	}
}

func TestBatchCreateSites_AllOrNone(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	single := func(id string, change func(*vernationv1.Site)) *vernationv1.CreateSiteRequest {
		ask := d.site(func(s *vernationv1.Site) { s.Areas[0].AreaId, s.Water.AreaId = id+"-hall", id+"-hall" })
		if change != nil {
			change(ask.GetSite())
		}
		ask.SiteId, ask.Parent, ask.RequestId = id, "", "" // those of the batch count
		return ask
	}
	ask := func(requests ...*vernationv1.CreateSiteRequest) *vernationv1.BatchCreateSitesRequest {
		return &vernationv1.BatchCreateSitesRequest{Parent: d.name(""), Requests: requests, RequestId: request()}
	}
	_, err := d.sites().BatchCreateSites(d.office, ask(
		single("east", nil), single("west", func(s *vernationv1.Site) { s.Jurisdiction = "ZZ" }), single("south", func(s *vernationv1.Site) { s.TimeZone = "Europe/Atlantis" })))
	expectField(t, err, "requests[1].site.jurisdiction", "UNKNOWN_JURISDICTION")
	expectField(t, err, "requests[2].site.time_zone", "UNKNOWN_TIME_ZONE")
	_, err = d.sites().BatchCreateSites(d.office, ask(single("east", nil), single("east", nil)))
	expect(t, err, codes.AlreadyExists, "EXISTS_ALREADY")
	good := ask(single("east", nil), single("west", nil))
	made, err := d.sites().BatchCreateSites(d.office, good)
	if err != nil || len(made.GetSites()) != 2 || made.GetSites()[1].GetName() != d.name("sites/west") {
		t.Fatalf("made %v, %v", made, err)
	}
	again, err := d.sites().BatchCreateSites(d.office, good)
	if err != nil || !proto.Equal(again, made) {
		t.Errorf("the same batch again: %v, %v", again, err)
	}
}

func TestValidateOnly_AnswersAsIfDoneAndChangesNothing(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	ask := d.site(nil)
	ask.ValidateOnly = true
	told, err := d.sites().CreateSite(d.office, ask)
	if err != nil || told.GetName() != d.name("sites/library") || told.GetEtag() == "" {
		t.Fatalf("validated: %v, %v", told, err)
	}
	_, err = d.sites().GetSite(d.office, &vernationv1.GetSiteRequest{Name: told.GetName()})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	ask.ValidateOnly = false // the request id was not remembered
	made, err := d.sites().CreateSite(d.office, ask)
	if err != nil || !proto.Equal(made, told) {
		t.Errorf("done: %v, %v, want what was told, %v", made, err, told)
	}
	ask.ValidateOnly, ask.RequestId = true, request()
	_, err = d.sites().CreateSite(d.office, ask)
	expect(t, err, codes.AlreadyExists, "EXISTS_ALREADY")
}
