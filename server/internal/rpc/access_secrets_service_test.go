package rpc_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	vernationv1 "vernation/proto/vernation/v1"
)

func (w *works) accessSecrets() vernationv1.AccessSecretsServiceClient {
	return vernationv1.NewAccessSecretsServiceClient(w.conn)
}

// doorCode is what no answer but the two that may hold it says.
const doorCode = "4711-doorcode"

// secretsOf is a request that sets what opens a site.
func (w *works) secretsOf(site string) *vernationv1.UpdateAccessSecretsRequest {
	return &vernationv1.UpdateAccessSecretsRequest{RequestId: request(), AccessSecrets: &vernationv1.AccessSecrets{
		Name:  w.name("sites/" + site + "/accessSecrets"),
		Codes: []*vernationv1.AccessCode{{Opens: "service door", Code: doorCode}}, KeyPlace: "key box behind the meter", Note: "the alarm arms itself at 23:00",
	}}
}

// readings lists who read what opens a site, the latest first, as reader and day route.
func (w *works) readings(t *testing.T, site string) (told []string) {
	t.Helper()
	page, err := w.accessSecrets().ListAccessSecretsReadings(w.office, &vernationv1.ListAccessSecretsReadingsRequest{Parent: w.name("sites/" + site)})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range page.GetReadings() {
		if r.GetReadTime() == nil || r.GetSite() != w.name("sites/"+site) {
			t.Errorf("reading %v: want when and of which site", r)
		}
		told = append(told, strings.TrimSpace(r.GetReader()+" "+strings.TrimPrefix(r.GetDayRoute(), w.name("technicians/"))))
	}
	return told
}

func TestAccessSecrets_AreToldToTheTechnicianOfTheDayOnThatDayOnlyAndEachReadingIsKept(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	const hotel = "hotel-quarry-square"
	set, err := w.accessSecrets().UpdateAccessSecrets(w.office, w.secretsOf(hotel))
	if err != nil {
		t.Fatal(err)
	}
	if text := prototext.Format(set); strings.Contains(text, doorCode) || set.GetKeyPlace() != "" || set.GetNote() != "" || set.GetEtag() == "" {
		t.Errorf("the answer, which is kept, is %s: want name and etag without what opens the site", text)
	}
	w.book(t, "gnats/application/1/1", "2026-03-04 12:00")
	name := w.name("technicians/tech-a/dayRoutes/2026-03-04")
	briefs := func(when string) (secrets []*vernationv1.AccessSecrets) {
		t.Helper()
		w.Clock.Set(w.at(t, when))
		route, err := w.dayRoutes().GetDayRoute(w.techA, &vernationv1.GetDayRouteRequest{Name: name})
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range route.GetVisits() {
			if s := v.GetBrief().GetAccessSecrets(); s != nil {
				secrets = append(secrets, s)
			}
		}
		return secrets
	}
	if early := briefs("2026-03-03 20:00"); len(early) != 0 || len(w.readings(t, hotel)) != 0 {
		t.Errorf("the evening before %v are told, %v are kept: want nothing", early, w.readings(t, hotel))
	}
	onTheDay := briefs("2026-03-04 06:30")
	if len(onTheDay) != 1 || onTheDay[0].GetCodes()[0].GetCode() != doorCode || onTheDay[0].GetKeyPlace() != "key box behind the meter" {
		t.Errorf("on the day %v are told: want the hotel's", onTheDay)
	}
	if late := briefs("2026-03-05 08:00"); len(late) != 0 {
		t.Errorf("the morning after %v are told", late)
	}
	// The office and programs pull the same day route without them, and the office reads them by its own method.
	w.Clock.Set(w.at(t, "2026-03-04 09:00"))
	for who, ctx := range map[string]context.Context{"office": w.office, "integration": w.integration} {
		route, err := w.dayRoutes().GetDayRoute(ctx, &vernationv1.GetDayRouteRequest{Name: name})
		if err != nil || strings.Contains(prototext.Format(route), doorCode) || len(route.GetVisits()) == 0 {
			t.Errorf("the day route of the %s holds the code or no visit, or %v", who, err)
		}
	}
	read, err := w.accessSecrets().GetAccessSecrets(w.office, &vernationv1.GetAccessSecretsRequest{Name: w.name("sites/" + hotel + "/accessSecrets")})
	if err != nil || read.GetCodes()[0].GetCode() != doorCode || read.GetEtag() != set.GetEtag() {
		t.Errorf("the office reads %v, %v", read, err)
	}
	if kept := w.readings(t, hotel); len(kept) != 2 || kept[0] != w.Office.Subject || kept[1] != "tech-a tech-a/dayRoutes/2026-03-04" {
		t.Errorf("kept are %q: want the office's, and tech-a's in that day route", kept)
	}
	for _, caller := range []struct {
		name string
		err  func() error
	}{
		{"technician", func() error {
			_, err := w.accessSecrets().GetAccessSecrets(w.techA, &vernationv1.GetAccessSecretsRequest{Name: w.name("sites/" + hotel + "/accessSecrets")})
			return err
		}},
		{"integration", func() error {
			_, err := w.accessSecrets().GetAccessSecrets(w.integration, &vernationv1.GetAccessSecretsRequest{Name: w.name("sites/" + hotel + "/accessSecrets")})
			return err
		}},
	} {
		expect(t, caller.err(), codes.PermissionDenied, "ROLE_NEEDED")
	}
}

// Codes in an answer that is kept for repeated requests would outlive their change.
func TestAccessSecrets_AreStoredInOneTableOnly(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	if _, err := w.accessSecrets().UpdateAccessSecrets(w.office, w.secretsOf("hotel-quarry-square")); err != nil {
		t.Fatal(err)
	}
	w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	if _, err := w.dayRoutes().GetDayRoute(w.techA, &vernationv1.GetDayRouteRequest{Name: w.name("technicians/tech-a/dayRoutes/2026-03-02")}); err != nil {
		t.Fatal(err)
	}
	if holding := w.Holding(t, doorCode); !slices.Equal(holding, []string{"access_secrets"}) {
		t.Errorf("%v hold the code: want access_secrets alone", holding)
	}
	if asked := w.Holding(t, "gnats/application/1/1"); !slices.Contains(asked, "idempotency") {
		t.Errorf("%v hold the item that was booked: want the answers that are kept among them, or this test finds nothing", asked)
	}
}

func TestAccessSecrets_RefusalsAreAsDocumented(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	unknown := w.secretsOf("nowhere")
	_, err := w.accessSecrets().UpdateAccessSecrets(w.office, unknown)
	expect(t, err, codes.NotFound, "NOT_FOUND")
	_, err = w.accessSecrets().GetAccessSecrets(w.office, &vernationv1.GetAccessSecretsRequest{Name: unknown.GetAccessSecrets().GetName()})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	_, err = w.accessSecrets().ListAccessSecretsReadings(w.office, &vernationv1.ListAccessSecretsReadingsRequest{Parent: w.name("sites/nowhere")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	_, err = w.accessSecrets().ListAccessSecretsReadings(w.office, &vernationv1.ListAccessSecretsReadingsRequest{Parent: w.name("sites/hotel-quarry-square"), PageToken: "none"})
	expectField(t, err, "page_token", "PAGE_TOKEN_INVALID")

	first, err := w.accessSecrets().UpdateAccessSecrets(w.office, w.secretsOf("hotel-quarry-square"))
	if err != nil {
		t.Fatal(err)
	}
	again := w.secretsOf("hotel-quarry-square")
	again.AccessSecrets.Etag, again.AccessSecrets.Codes[0].Code = first.GetEtag(), "0815"
	second, err := w.accessSecrets().UpdateAccessSecrets(w.office, again)
	if err != nil || second.GetEtag() == first.GetEtag() {
		t.Fatalf("changed: %v, %v", second, err)
	}
	for _, etag := range []string{first.GetEtag(), "nonsense"} {
		late := proto.CloneOf(again)
		late.RequestId, late.AccessSecrets.Etag = request(), etag
		_, err = w.accessSecrets().UpdateAccessSecrets(w.office, late)
		expect(t, err, codes.Aborted, "ETAG_STALE")
	}
	partly := w.secretsOf("hotel-quarry-square")
	partly.AccessSecrets.KeyPlace, partly.UpdateMask = "under the third pot", &fieldmaskpb.FieldMask{Paths: []string{"key_place"}}
	if _, err := w.accessSecrets().UpdateAccessSecrets(w.office, partly); err != nil {
		t.Fatal(err)
	}
	read, err := w.accessSecrets().GetAccessSecrets(w.office, &vernationv1.GetAccessSecretsRequest{Name: partly.GetAccessSecrets().GetName()})
	if err != nil || read.GetKeyPlace() != "under the third pot" || read.GetCodes()[0].GetCode() != "0815" {
		t.Errorf("after a change of the key's place alone: %v, %v", read, err)
	}
	empty, err := w.accessSecrets().GetAccessSecrets(w.office, &vernationv1.GetAccessSecretsRequest{Name: w.name("sites/offices-alder-row/accessSecrets")})
	if err != nil || len(empty.GetCodes()) != 0 || empty.GetUpdateTime() != nil || len(w.readings(t, "offices-alder-row")) != 0 {
		t.Errorf("of a site without any: %v, %v: want them empty, and no reading", empty, err)
	}
}

func TestGetDayRoute_ATechnicianLooksTwoWorkingDaysAhead(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.Clock.Set(w.at(t, "2026-03-05 10:00")) // a Thursday: the next working days are Friday and Monday
	for _, c := range []struct {
		day    string
		code   codes.Code
		reason string
	}{
		{"2026-03-04", codes.NotFound, "NO_DAY_ROUTE"}, {"2026-03-05", codes.NotFound, "NO_DAY_ROUTE"}, {"2026-03-07", codes.NotFound, "NO_DAY_ROUTE"},
		{"2026-03-09", codes.NotFound, "NO_DAY_ROUTE"}, {"2026-03-10", codes.PermissionDenied, "NOT_YET_YOUR_DAY"},
	} {
		name := w.name("technicians/tech-a/dayRoutes/" + c.day)
		_, err := w.dayRoutes().GetDayRoute(w.techA, &vernationv1.GetDayRouteRequest{Name: name})
		expect(t, err, c.code, c.reason)
		_, err = w.dayRoutes().GetDayRoute(w.office, &vernationv1.GetDayRouteRequest{Name: name})
		expect(t, err, codes.NotFound, "NO_DAY_ROUTE")
	}
}
