package rpc_test

import (
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/mayapply"
	"vernation/server/internal/dispatch"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// refusalOf is what a course has against a product.
func refusalOf(c *vernationv1.Course, product string) []string {
	for _, r := range c.GetRefusals() {
		if r.GetProduct() == product {
			return r.GetReasons()
		}
	}
	return nil
}

// maySoap asks whether soap may go on the pothos at the stairs this evening.
func (d *desk) maySoap(t *testing.T) (answer mayapply.Answer) {
	t.Helper()
	err := d.Store.Reading(t.Context(), d.Office, func(tx *store.Tx) error {
		told, err := dispatch.MayApply(tx, firm.Wish{
			Technician: "tech-a", Product: "soap", Pest: "citrus-mealybug", Plants: []scheduler.PlantID{"pothos-stairs"},
			Begins: d.at(t, "2026-03-03 21:00"), Takes: 600e9,
		})
		answer = told.Answer
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return answer
}

// An open incident bars its product from its site, in courses, plans and the question whether it may be applied, until the
// responsible applicator releases it; nowhere else.
func TestIncident_BarsItsProductThereUntilItIsReleased(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs", "pothos-printer")
	soap := d.name("products/soap")
	before := d.course(t)
	if before.GetProduct() != soap {
		t.Fatalf("the course uses %s, want soap", before.GetProduct())
	}
	told, err := d.incidents().CreateIncident(d.techB, d.spill("spill-1", func(i *vernationv1.Incident) { i.Case = d.name("cases/mealybugs") }))
	if err != nil {
		t.Fatal(err)
	}
	if !told.GetOpen() || told.GetToldBy() != "tech-b" || len(told.GetCautions()) == 0 || told.GetCreateTime() == nil {
		t.Errorf("told: %v", told)
	}
	twin := d.spill("spill-1", func(i *vernationv1.Incident) { i.Case = d.name("cases/mealybugs") })
	if again, err := d.incidents().CreateIncident(d.techB, twin); err != nil || !proto.Equal(again, told) {
		t.Errorf("told again: %v, %v", again, err)
	}
	barred := d.course(t)
	if barred.GetProduct() == soap || slices.Contains(barred.GetOtherProducts(), soap) || !slices.ContainsFunc(refusalOf(barred, soap), func(r string) bool { return strings.Contains(r, "barred here since incident spill-1") }) {
		t.Errorf("the course uses %s, refuses soap for %v", barred.GetProduct(), refusalOf(barred, soap))
	}
	for _, s := range d.gathered(t).Sites {
		if by, ok := s.Bars("soap"); ok != (s.ID == "offices-alder-row") || ok && by.Incident != "spill-1" {
			t.Errorf("%s: soap barred %v by %v", s.ID, ok, by)
		}
	}
	site, err := d.sites().GetSite(d.office, &vernationv1.GetSiteRequest{Name: d.name("sites/offices-alder-row")})
	if err != nil || len(site.GetBarred()) != 1 || site.GetBarred()[0].GetIncident() != d.name("incidents/spill-1") {
		t.Errorf("the site: %v, %v", site.GetBarred(), err)
	}
	if a := d.maySoap(t); a.Allowed || !slices.ContainsFunc(a.Refusals(), isIncident) {
		t.Errorf("it may be applied: %v", a.Refusals())
	}
	_, err = d.incidents().ReleaseIncident(d.office, &vernationv1.ReleaseIncidentRequest{Name: told.GetName(), Reason: "dried and cleaned", RequestId: request()})
	expect(t, err, codes.PermissionDenied, "RIGHT_NEEDED")
	d.Clock.Set(d.at(t, "2026-03-02 09:00"))
	released, err := d.incidents().ReleaseIncident(d.applicator, &vernationv1.ReleaseIncidentRequest{Name: told.GetName(), Reason: "dried and cleaned", RequestId: request()})
	if err != nil || released.GetOpen() || released.GetRelease().GetReason() != "dried and cleaned" || !proto.Equal(released.GetRelease().GetReleaseTime(), d.stamp(t, "2026-03-02 09:00")) {
		t.Errorf("released: %v, %v", released, err)
	}
	events := d.caseOf(t).GetEvents()
	if n := len(events); n < 3 || events[n-2].GetIncident() != told.GetName() || !strings.Contains(events[n-2].GetText(), "incident, spill with") ||
		events[n-1].GetText() != "incident released by office-1: dried and cleaned" {
		t.Errorf("the case tells %v", events)
	}
	if again := d.course(t); again.GetProduct() != soap {
		t.Errorf("released, the course uses %s", again.GetProduct())
	}
	if a := d.maySoap(t); slices.ContainsFunc(a.Words, isIncident) {
		t.Errorf("released, the question still says %v", a.Words)
	}
}

func TestIncidents_AreListedTheLatestFirst(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	for _, ask := range []*vernationv1.CreateIncidentRequest{
		d.spill("older", func(i *vernationv1.Incident) { i.EventTime = d.stamp(t, "2026-03-01 10:00") }),
		d.spill("newer", func(i *vernationv1.Incident) {
			i.Kind, i.Product, i.Plants = vernationv1.IncidentKind_INCIDENT_KIND_BURNT_LEAVES, "", d.plantNames("pothos-stairs")
		}),
		d.spill("elsewhere", func(i *vernationv1.Incident) {
			i.Kind, i.Site, i.Area, i.EventTime = vernationv1.IncidentKind_INCIDENT_KIND_EXPOSURE, d.name("sites/hotel-quarry-square"), "", d.stamp(t, "2026-02-28 10:00")
		}),
	} {
		if _, err := d.incidents().CreateIncident(d.office, ask); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := d.incidents().ReleaseIncident(d.techA, &vernationv1.ReleaseIncidentRequest{Name: d.name("incidents/older"), Reason: "looked at", RequestId: request()}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		ask  *vernationv1.ListIncidentsRequest
		want []string
	}{
		{&vernationv1.ListIncidentsRequest{}, []string{"newer", "older", "elsewhere"}},
		{&vernationv1.ListIncidentsRequest{Filter: "open = true"}, []string{"newer", "elsewhere"}},
		{&vernationv1.ListIncidentsRequest{Filter: `site = "offices-alder-row"`}, []string{"newer", "older"}},
	} {
		c.ask.Parent, c.ask.PageSize = d.name(""), 1
		var got []string
		for {
			page, err := d.incidents().ListIncidents(d.integration, c.ask)
			if err != nil {
				t.Fatal(err)
			}
			for _, i := range page.GetIncidents() {
				got = append(got, strings.TrimPrefix(i.GetName(), d.name("incidents/")))
			}
			if c.ask.PageToken = page.GetNextPageToken(); c.ask.PageToken == "" {
				break
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%v: %v, want %v", c.ask, got, c.want)
		}
	}
}

func isIncident(w mayapply.Word) bool { return w.Rule == mayapply.RuleIncident }
