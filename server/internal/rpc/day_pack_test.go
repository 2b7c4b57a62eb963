package rpc_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/server/internal/load"
	"vernation/server/offline"
)

// dayPack pulls tech-a's day pack.
func (w *works) dayPack(t *testing.T) *vernationv1.DayPack {
	t.Helper()
	pack, err := w.dayRoutes().GetDayPack(w.techA, &vernationv1.GetDayPackRequest{Name: w.name("technicians/tech-a/dayPack")})
	if err != nil {
		t.Fatal(err)
	}
	return pack
}

// packed opens a works in the middle of a day of which much is known: a drench that was made and that nobody has found dry, a
// spray that is booked for the evening, approvals, limits on labels, a plant in flower, licences that lapse.
func packed(t *testing.T) *works {
	t.Helper()
	humid := 80.0
	w := openWorks(t, func(f *load.File) {
		for i := range f.Plants {
			f.Plants[i].InFlower = f.Plants[i].ID == "pothos-printer"
		}
		for i := range f.Crew {
			for k := range f.Crew[i].Licences {
				f.Crew[i].Licences[k].To = civil.NewDate(2026, 3, 3) // lapses within the pack's days
			}
		}
		for i := range f.Products {
			f.Products[i].Label.MaxHumidity = &humid
		}
	})
	drench := w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	w.book(t, "mealybugs/application/1/1", "2026-03-03 19:45")
	w.book(t, "mealybugs/inspect-infested/1/1", "2026-03-02 14:20")
	w.Clock.Set(w.at(t, "2026-03-02 13:00"))
	if _, err := w.reports().CreateReport(w.techA, w.drench(t, "r1", drench)); err != nil {
		t.Fatal(err)
	}
	return w
}

// Without signal the same question gets the same answer, word for word, as from the server at that moment.
func TestGetDayPack_AnswersAsCheckApplicationDoes(t *testing.T) {
	t.Parallel()
	w := packed(t)
	pack := w.dayPack(t)
	// It travels as bytes and lies on a device.
	kept, err := proto.Marshal(pack)
	if err != nil {
		t.Fatal(err)
	}
	again := &vernationv1.DayPack{}
	if err := proto.Unmarshal(kept, again); err != nil {
		t.Fatal(err)
	}
	opened, err := offline.Open(again)
	if err != nil {
		t.Fatal(err)
	}
	if len(pack.GetSites()) != 2 {
		t.Fatalf("%d sites are packed: want the hotel and the offices", len(pack.GetSites()))
	}
	said := map[vernationv1.ApplicationRule]bool{}
	allowed := 0
	rapid.Check(t, func(t *rapid.T) {
		asked := drawQuestion(t, w, pack)
		online, err := w.technicians().CheckApplication(w.techA, asked)
		if err != nil {
			t.Fatal(err)
		}
		told, err := opened.CheckApplication(asked, w.Clock.Now().Time())
		if err != nil {
			t.Fatalf("%v is answered online and not from the pack: %v", asked, err)
		}
		if diff := cmp.Diff(online, told, protocmp.Transform()); diff != "" {
			t.Fatalf("%v (-online +from the pack):\n%s", asked, diff)
		}
		for _, word := range online.GetWords() {
			said[word.GetRule()] = true
		}
		if online.GetAllowed() {
			allowed++
		}
	})
	// The questions are worth asking: most rules speak, some applications are allowed.
	if len(said) < 12 || allowed == 0 {
		t.Errorf("%d rules spoke and %d questions were allowed: want more of both", len(said), allowed)
	}
}

// drawQuestion draws a question about plants of one of the pack's sites.
func drawQuestion(t *rapid.T, w *works, pack *vernationv1.DayPack) *vernationv1.CheckApplicationRequest {
	at := pack.GetSites()[rapid.IntRange(0, len(pack.GetSites())-1).Draw(t, "site")]
	var plants, products, areas []string
	for _, p := range at.GetPlants() {
		plants = append(plants, p.GetPlant().GetName())
	}
	for _, p := range pack.GetProducts() {
		products = append(products, p.GetName())
	}
	for _, a := range at.GetSite().GetAreas() {
		areas = append(areas, at.GetSite().GetName()+"/areas/"+a.GetAreaId())
	}
	from := w.Clock.Now()
	asked := &vernationv1.CheckApplicationRequest{
		Name: pack.GetTechnician(), Product: rapid.SampledFrom(products).Draw(t, "product"),
		Plants:       rapid.SliceOfNDistinct(rapid.SampledFrom(plants), 1, len(plants), func(s string) string { return s }).Draw(t, "plants"),
		Takes:        durationpb.New(time.Duration(rapid.IntRange(1, 180).Draw(t, "minutes")) * time.Minute),
		PatchTest:    rapid.Bool().Draw(t, "patch test"),
		CarriesWater: rapid.Bool().Draw(t, "carries water"),
	}
	if rapid.Bool().Draw(t, "later") {
		asked.Begins = timestamppb.New(from.Add(time.Duration(rapid.IntRange(0, 60*60).Draw(t, "in minutes")) * time.Minute).Time())
	}
	if rapid.Bool().Draw(t, "names a pest") {
		asked.Pest = rapid.SampledFrom([]string{"citrus-mealybug", "fungus-gnat", "two-spotted-mite"}).Draw(t, "pest")
	}
	if rapid.IntRange(0, 3).Draw(t, "elsewhere") == 0 {
		asked.Area = rapid.SampledFrom(areas).Draw(t, "area")
	}
	if rapid.Bool().Draw(t, "reads") {
		percent := float64(rapid.IntRange(20, 100).Draw(t, "percent"))
		asked.Readings = []*vernationv1.Reading{{Area: rapid.SampledFrom(areas).Draw(t, "read in"), Celsius: float64(rapid.IntRange(5, 35).Draw(t, "celsius")), HumidityPercent: &percent}}
	}
	return asked
}

// What was to be shut since the pack was made awaits somebody's word that it is dry: the pack does not take it as open.
func TestGetDayPack_WhatWasToBeShutMeanwhileAwaitsThatItIsDry(t *testing.T) {
	t.Parallel()
	w := packed(t)
	opened, err := offline.Open(w.dayPack(t))
	if err != nil {
		t.Fatal(err)
	}
	// The spray of Tuesday evening shuts the open floor; on Wednesday noon nobody has looked.
	asked := &vernationv1.CheckApplicationRequest{
		Name: w.name("technicians/tech-a"), Product: w.name("products/hand-removal"), Plants: []string{w.name("plants/fig-window")}, Takes: durationpb.New(10 * time.Minute),
	}
	shutAt := func(when string) bool {
		answer, err := opened.CheckApplication(asked, w.at(t, when).Time())
		if err != nil {
			t.Fatal(err)
		}
		return slices.ContainsFunc(answer.GetWords(), func(word *vernationv1.RuleWord) bool {
			return word.GetRule() == vernationv1.ApplicationRule_APPLICATION_RULE_SHUT && word.GetKind() != vernationv1.RuleWordKind_RULE_WORD_KIND_NOTES
		})
	}
	if shutAt("2026-03-03 17:30") || !shutAt("2026-03-04 12:00") {
		t.Errorf("shut before the spray %v, after it %v: want no, then yes", shutAt("2026-03-03 17:30"), shutAt("2026-03-04 12:00"))
	}
}

func TestGetDayPack_HoldsTheDaysTheSecretsOfTodayAndTheTableOfOutcomes(t *testing.T) {
	t.Parallel()
	w := packed(t)
	for _, site := range []string{"hotel-quarry-square", "offices-alder-row"} {
		if _, err := w.accessSecrets().UpdateAccessSecrets(w.office, w.secretsOf(site)); err != nil {
			t.Fatal(err)
		}
	}
	pack := w.dayPack(t)
	var days []string
	for _, route := range pack.GetDayRoutes() {
		days = append(days, route.GetOn())
		for _, v := range route.GetVisits() {
			if told := v.GetBrief().GetAccessSecrets() != nil; told != (route.GetOn() == "2026-03-02") {
				t.Errorf("on %s the secrets are told %v", route.GetOn(), told)
			}
		}
		pulled, err := w.dayRoutes().GetDayRoute(w.techA, &vernationv1.GetDayRouteRequest{Name: route.GetName()})
		if diff := cmp.Diff(pulled, route, protocmp.Transform()); err != nil || diff != "" {
			t.Errorf("%v; the day route of %s differs in the pack:\n%s", err, route.GetOn(), diff)
		}
	}
	if !slices.Equal(days, []string{"2026-03-02", "2026-03-03"}) {
		t.Errorf("days %v: want today and tomorrow, and nothing of the day after, on which nothing is published", days)
	}
	if len(pack.GetOutcomes()) != len(course.Outcomes()) || len(pack.GetCautions()) == 0 || pack.GetCatalogueVersion() == "" {
		t.Errorf("%d outcomes, cautions %v, catalogue %q", len(pack.GetOutcomes()), pack.GetCautions(), pack.GetCatalogueVersion())
	}
	for _, outcome := range pack.GetOutcomes() {
		if outcome.GetText() == "" || outcome.GetOutcome() == vernationv1.Outcome_OUTCOME_UNSPECIFIED {
			t.Errorf("outcome %v says nothing", outcome)
		}
	}
	office, err := w.dayRoutes().GetDayPack(w.office, &vernationv1.GetDayPackRequest{Name: pack.GetName()})
	if err != nil || strings.Contains(office.String(), doorCode) {
		t.Errorf("the office's pack holds the code, or %v", err)
	}
}

func TestGetDayPack_RefusalsAreAsDocumentedAndTheOpenedPackAnswersItsOwnOnly(t *testing.T) {
	t.Parallel()
	w := packed(t)
	pack := w.dayPack(t)
	_, err := w.dayRoutes().GetDayPack(w.techB, &vernationv1.GetDayPackRequest{Name: pack.GetName()})
	expect(t, err, codes.PermissionDenied, "NOT_YOUR_DAY_ROUTE")
	_, err = w.dayRoutes().GetDayPack(w.office, &vernationv1.GetDayPackRequest{Name: w.name("technicians/nobody/dayPack")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	old := proto.CloneOf(pack)
	old.CatalogueVersion = "of last year"
	if _, err := offline.Open(old); err == nil || !strings.Contains(err.Error(), "of last year") {
		t.Errorf("a pack of another catalogue is opened: %v", err)
	}
	opened, err := offline.Open(pack)
	if err != nil {
		t.Fatal(err)
	}
	ask := func(change func(*vernationv1.CheckApplicationRequest)) error {
		asked := &vernationv1.CheckApplicationRequest{
			Name: pack.GetTechnician(), Product: w.name("products/soap"), Plants: []string{w.name("plants/pothos-stairs")}, Takes: durationpb.New(time.Minute),
		}
		change(asked)
		_, err := opened.CheckApplication(asked, w.Clock.Now().Time())
		return err
	}
	for what, change := range map[string]func(*vernationv1.CheckApplicationRequest){
		"somebody else": func(r *vernationv1.CheckApplicationRequest) { r.Name = w.name("technicians/tech-b") },
		"no such plant": func(r *vernationv1.CheckApplicationRequest) { r.Plants = []string{w.name("plants/none")} },
		"two sites": func(r *vernationv1.CheckApplicationRequest) {
			r.Plants = append(r.Plants, w.name("plants/lily-reading"))
		},
		"no such product": func(r *vernationv1.CheckApplicationRequest) { r.Product = w.name("products/none") },
		"no such area":    func(r *vernationv1.CheckApplicationRequest) { r.Area = w.name("sites/offices-alder-row/areas/none") },
	} {
		if err := ask(change); err == nil || status.Code(err) != codes.Unknown {
			t.Errorf("%s: %v, want it refused in a sentence", what, err)
		}
	}
	if err := ask(func(*vernationv1.CheckApplicationRequest) {}); err != nil {
		t.Error(err)
	}
}
