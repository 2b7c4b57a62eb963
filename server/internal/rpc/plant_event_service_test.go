package rpc_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/load"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

// untested makes it unknown what the figs stand of soap.
func untested(file *load.File) {
	for i, p := range file.Plants {
		if p.ID == "fig-window" {
			file.Plants[i].Tolerance = []catalogue.Tolerance{{Material: "insecticidal-soap", Verdict: catalogue.PatchTest, Standing: catalogue.OwnRecords}}
		}
	}
}

// event asks to store an event of plants that happened on the wall clock of the offices.
func (d *desk) event(t *testing.T, id, at string, change func(*vernationv1.PlantEvent)) *vernationv1.CreatePlantEventRequest {
	t.Helper()
	event := &vernationv1.PlantEvent{EventTime: d.stamp(t, at)}
	change(event)
	return &vernationv1.CreatePlantEventRequest{Parent: d.name(""), PlantEventId: id, PlantEvent: event, RequestId: request()}
}

// tell stores an event of plants, which must be taken.
func (d *desk) tell(t *testing.T, id, at string, change func(*vernationv1.PlantEvent)) *vernationv1.PlantEvent {
	t.Helper()
	kept, err := d.plantEvents().CreatePlantEvent(d.integration, d.event(t, id, at, change))
	if err != nil {
		t.Fatal(err)
	}
	return kept
}

// find opens the case named mealybugs on some plants of the offices.
func (d *desk) find(t *testing.T, plants ...string) {
	t.Helper()
	_, err := d.findings().CreateFinding(d.office, d.finding("mealybugs", func(f *vernationv1.Finding) { f.Plants = d.plantNames(plants...) }))
	if err != nil {
		t.Fatal(err)
	}
}

func (d *desk) plantNames(ids ...string) []string {
	names := make([]string, len(ids))
	for i, id := range ids {
		names[i] = d.name("plants/" + id)
	}
	return names
}

func (d *desk) plantOf(t *testing.T, id string) *vernationv1.Plant {
	t.Helper()
	plant, err := d.plants().GetPlant(d.techB, &vernationv1.GetPlantRequest{Name: d.name("plants/" + id)})
	if err != nil {
		t.Fatal(err)
	}
	return plant
}

func (d *desk) caseOf(t *testing.T) *vernationv1.Case {
	t.Helper()
	read, err := d.cases().GetCase(d.office, &vernationv1.GetCaseRequest{Name: d.name("cases/mealybugs")})
	if err != nil {
		t.Fatal(err)
	}
	return read
}

// followUps are those of a kind in a course, in order.
func followUps(c *vernationv1.Course, kind vernationv1.FollowUpKind) []*vernationv1.FollowUp {
	return slices.DeleteFunc(slices.Clone(c.GetFollowUps()), func(f *vernationv1.FollowUp) bool { return f.GetKind() != kind })
}

// gathered is what a plan over two weeks would be made from.
func (d *desk) gathered(t *testing.T) (p scheduler.Problem) {
	t.Helper()
	err := d.Store.Reading(t.Context(), d.Office, func(tx *store.Tx) error {
		gathered, err := planning.Gather(tx, d.Business.Zone.DateOf(tx.Now()), 14)
		p = gathered.Problem
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Validate(); err != nil {
		t.Errorf("what was gathered is no Problem: %v", err)
	}
	return p
}

func stateOf(p scheduler.Problem, id site.PlantID) *scheduler.PlantState {
	i := slices.IndexFunc(p.Plants, func(s scheduler.PlantState) bool { return s.Plant.ID == id })
	if i < 0 {
		return nil
	}
	return &p.Plants[i]
}

const (
	application = vernationv1.FollowUpKind_FOLLOW_UP_KIND_APPLICATION
	patchTest   = vernationv1.FollowUpKind_FOLLOW_UP_KIND_PATCH_TEST
)

func TestPlantEvents_APatchTestThatShowsNoHarmLetsTheCourseGoOn(t *testing.T) {
	t.Parallel()
	d := openDesk(t, untested)
	d.find(t, "fig-window")
	if before := d.course(t); len(followUps(before, patchTest)) == 0 || len(before.GetLearned()) != 0 {
		t.Fatalf("before the test: %d patch tests are asked for, learned %v", len(followUps(before, patchTest)), before.GetLearned())
	}
	d.Clock.Set(d.at(t, "2026-03-05 09:00"))
	tested := func(harmed bool) func(*vernationv1.PlantEvent) {
		return func(e *vernationv1.PlantEvent) {
			e.PatchResult = &vernationv1.PatchResult{Material: "insecticidal-soap", Plants: d.plantNames("fig-window"), Harmed: harmed}
			e.Note = "looked at with a lens"
		}
	}
	kept := d.tell(t, "patch-1", "2026-03-05 08:30", tested(false))
	if kept.GetSite() != d.name("sites/offices-alder-row") || !slices.Equal(kept.GetCases(), []string{d.name("cases/mealybugs")}) || kept.GetToldBy() != "int-1" {
		t.Errorf("stored as %v: want the site, the case and who told it", kept)
	}
	after := d.course(t)
	if n := len(followUps(after, patchTest)); n != 0 || len(followUps(after, application)) == 0 {
		t.Errorf("after the test: %d patch tests, %d applications", n, len(followUps(after, application)))
	}
	if l := after.GetLearned(); len(l) != 1 || l[0].GetPlant() != d.name("plants/fig-window") || l[0].GetTolerance().GetVerdict() != vernationv1.Verdict_VERDICT_STANDS {
		t.Errorf("learned %v: want that the figs stand it", after.GetLearned())
	}
	if stands := d.plantOf(t, "fig-window").GetTolerances(); len(stands) != 1 || stands[0].GetVerdict() != vernationv1.Verdict_VERDICT_STANDS {
		t.Errorf("the record says %v: want that it stands the soap", stands)
	}
	soap := func() catalogue.Verdict {
		for _, tolerance := range stateOf(d.gathered(t), "fig-window").Tolerance {
			if tolerance.Material == "insecticidal-soap" {
				return tolerance.Verdict
			}
		}
		return ""
	}
	if soap() != catalogue.Stands {
		t.Errorf("plans take it that the figs %s", soap())
	}
	if events := d.caseOf(t).GetEvents(); len(events) != 2 || !strings.Contains(events[1].GetText(), "patch test of insecticidal soap on Fiddle-leaf figs at the window shows no harm; looked at with a lens") ||
		events[1].GetPlantEvent() != kept.GetName() {
		t.Errorf("the case tells %v", events)
	}
	// Of two results the later one holds, in whatever order they are told.
	d.Clock.Set(d.at(t, "2026-03-09 09:00"))
	d.tell(t, "patch-3", "2026-03-08 08:30", tested(true))
	d.tell(t, "patch-2", "2026-03-06 08:30", tested(false))
	if soap() != catalogue.MustNot || d.plantOf(t, "fig-window").GetTolerances()[0].GetVerdict() != vernationv1.Verdict_VERDICT_MUST_NOT {
		t.Errorf("after harm was seen plans take it that the figs %s", soap())
	}
	if now := d.course(t); now.GetProduct() == d.name("products/soap") {
		t.Errorf("the course still uses %s", now.GetProduct())
	}
}

// sprayed reports the first spray of the mealybugs' plants on Tuesday evening, within the label.
func (d *desk) sprayed(t *testing.T) {
	t.Helper()
	_, err := vernationv1.NewReportServiceClient(d.conn).CreateReport(d.office, &vernationv1.CreateReportRequest{
		Parent: d.name(""), ReportId: "spray-1", RequestId: request(), Report: &vernationv1.Report{
			Technician: d.name("technicians/tech-a"), Site: d.name("sites/offices-alder-row"),
			Arrived: d.stamp(t, "2026-03-03 19:20"), Left: d.stamp(t, "2026-03-03 20:10"), ClientTime: d.stamp(t, "2026-03-03 20:10"),
			Items: []*vernationv1.ReportedItem{{
				Item: "mealybugs/application/1/1", Outcome: vernationv1.Outcome_OUTCOME_DONE, Plants: d.plantNames("pothos-stairs"),
				Began: d.stamp(t, "2026-03-03 19:30"), Ended: d.stamp(t, "2026-03-03 20:00"),
				Application: &vernationv1.ApplicationMade{
					Product: d.name("products/soap"), VesselId: "sprayer", Concentrate: "5/8 US fl oz", Volume: "32 US fl oz", Applied: "20 US fl oz",
				},
			}},
		},
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestPlantEvents_AGroupThatSplitsKeepsItsCaseItsCapsAndItsRhythm(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs")
	d.Clock.Set(d.at(t, "2026-03-05 09:00"))
	d.sprayed(t)
	before := d.course(t)
	d.tell(t, "split-1", "2026-03-04 10:00", func(e *vernationv1.PlantEvent) {
		e.Split = &vernationv1.GroupSplit{Plant: d.name("plants/pothos-stairs"), Parts: []*vernationv1.GroupPart{{PlantId: "pothos-landing", Count: 2}}}
	})
	rest, part := d.plantOf(t, "pothos-stairs"), d.plantOf(t, "pothos-landing")
	if rest.GetCount() != 3 || part.GetCount() != 2 || part.GetArea() != rest.GetArea() || part.GetDisplayName() != "Pothos at the stairs, pothos-landing" {
		t.Errorf("of 5 there are %d and %d; the part: %v", rest.GetCount(), part.GetCount(), part)
	}
	// Two minutes of watering for five are 1.2 for three and 0.8 for two, each rounded up.
	if w, p := rest.GetServices(), part.GetServices(); len(w) != 1 || len(p) != 1 || w[0].GetMinutes() != 2 || p[0].GetMinutes() != 1 || p[0].GetLastOn() != w[0].GetLastOn() {
		t.Errorf("the routine work: %v and %v", w, p)
	}
	if plants := d.caseOf(t).GetPlants(); !slices.Equal(plants, d.plantNames("pothos-landing", "pothos-stairs")) {
		t.Errorf("the case is of %v: want both", plants)
	}
	after := d.course(t)
	next, was := followUps(after, application)[0], followUps(before, application)[0]
	if !slices.Equal(next.GetPlants(), d.plantNames("pothos-landing", "pothos-stairs")) || next.GetItem() != was.GetItem() || !proto.Equal(next.GetDue(), was.GetDue()) {
		t.Errorf("next is %s on %v, %v: want %s on both, %v as before", next.GetItem(), next.GetPlants(), next.GetDue(), was.GetItem(), was.GetDue())
	}
	// A plan counts the spray of the whole against each of its parts.
	p := d.gathered(t)
	for _, id := range []site.PlantID{"pothos-stairs", "pothos-landing"} {
		if s := stateOf(p, id); len(s.Applied) != 1 || s.Applied[0].Product != "soap" || s.Health != scheduler.ConfirmedInfested {
			t.Errorf("%s: %s, applied %+v: want infested, and one spray", id, s.Health, s.Applied)
		}
	}
	// A finding on the part is one of the same case.
	found, err := d.findings().CreateFinding(d.office, d.finding("again", func(f *vernationv1.Finding) { f.Plants = d.plantNames("pothos-landing") }))
	if err != nil || found.GetOpenedCase() || found.GetCase() != d.name("cases/mealybugs") {
		t.Errorf("a finding on the part: %v, %v", found, err)
	}
	// Joined again they are one group with all of its plants and its work.
	d.Clock.Set(d.at(t, "2026-03-05 10:00"))
	d.tell(t, "join-1", "2026-03-05 09:30", func(e *vernationv1.PlantEvent) {
		e.Joined = &vernationv1.GroupsJoined{Plants: d.plantNames("pothos-landing"), Into: d.name("plants/pothos-stairs")}
	})
	if whole, gone := d.plantOf(t, "pothos-stairs"), d.plantOf(t, "pothos-landing"); whole.GetCount() != 5 || gone.GetGoneOn() != "2026-03-05" || whole.GetServices()[0].GetMinutes() != 3 || len(gone.GetServices()) != 0 {
		t.Errorf("joined: %v; the part: %v", whole, gone)
	}
	if p := d.gathered(t); stateOf(p, "pothos-landing") != nil || len(stateOf(p, "pothos-stairs").Applied) != 1 {
		t.Error("a plan still holds the part, or not what was applied to the whole")
	}
}

func TestPlantEvents_AMoveFoundLateCountsBothPlaces(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs")
	d.Clock.Set(d.at(t, "2026-03-20 09:00"))
	area := func(id string) string { return d.name("sites/offices-alder-row/areas/offices-" + id) }
	moved := func(from, to, first, last string) func(*vernationv1.PlantEvent) {
		return func(e *vernationv1.PlantEvent) {
			e.Moved = &vernationv1.PlantsMoved{Plants: d.plantNames("pothos-stairs"), From: area(from), To: area(to), NotBeforeOn: first, NotAfterOn: last}
		}
	}
	d.tell(t, "move-2", "2026-03-19 08:00", moved("store", "meeting", "", ""))
	d.tell(t, "move-1", "2026-03-18 08:00", moved("floor", "store", "2026-03-10", "2026-03-17")) // told last, and happened before
	if at := d.plantOf(t, "pothos-stairs").GetArea(); at != area("meeting") {
		t.Errorf("it stands in %s: want where the last move took it", at)
	}
	advice := strings.Join(d.course(t).GetAdvice(), "\n")
	for _, want := range []string{
		"Pothos at the stairs went from Open floor to Cleaners' store with a tap and its own door on a day from Tue 10 Mar to Tue 17 Mar: the temperatures of both count",
		"from Cleaners' store with a tap and its own door to Meeting room on Thu 19 Mar",
	} {
		if !strings.Contains(advice, want) {
			t.Errorf("the course does not say %q:\n%s", want, advice)
		}
	}
	if strings.Contains(advice, "look where it stands") {
		t.Errorf("record and moves disagree:\n%s", advice)
	}
	page, err := d.plantEvents().ListPlantEvents(d.office, &vernationv1.ListPlantEventsRequest{Parent: d.name(""), Plant: d.name("plants/pothos-stairs"), PageSize: 1})
	if err != nil || len(page.GetPlantEvents()) != 1 || page.GetPlantEvents()[0].GetName() != d.name("plantEvents/move-2") || page.GetNextPageToken() == "" {
		t.Errorf("the first page: %v, %v: want the move that happened last, and that there is more", page, err)
	}
}

func TestPlantEvents_CountOnceHoweverOftenTheyAreTold(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs")
	asked := d.event(t, "split-1", "2026-03-02 06:30", func(e *vernationv1.PlantEvent) {
		e.Split = &vernationv1.GroupSplit{Plant: d.name("plants/pothos-stairs"), Parts: []*vernationv1.GroupPart{{PlantId: "pothos-landing", Count: 2}}}
	})
	first, err := d.plantEvents().CreatePlantEvent(d.techB, asked)
	if err != nil {
		t.Fatal(err)
	}
	for _, again := range []string{asked.GetRequestId(), request()} {
		twin := proto.CloneOf(asked)
		twin.RequestId = again
		answer, err := d.plantEvents().CreatePlantEvent(d.techB, twin)
		if diff := cmp.Diff(first, answer, protocmp.Transform()); err != nil || diff != "" {
			t.Errorf("told again: %v\n%s", err, diff)
		}
	}
	if n := d.plantOf(t, "pothos-stairs").GetCount(); n != 3 {
		t.Errorf("%d plants are left of 5: want the part of 2 taken once", n)
	}
	other := proto.CloneOf(asked)
	other.RequestId, other.PlantEvent.Split.Parts[0].Count = request(), 1
	_, err = d.plantEvents().CreatePlantEvent(d.techB, other)
	expect(t, err, codes.AlreadyExists, "EXISTS_ALREADY")
	read, err := d.plantEvents().GetPlantEvent(d.techB, &vernationv1.GetPlantEventRequest{Name: first.GetName()})
	if diff := cmp.Diff(first, read, protocmp.Transform()); err != nil || diff != "" {
		t.Errorf("read: %v\n%s", err, diff)
	}
}

// Everything that can happen to the plants of a case, told in two orders, one of them with each event twice, gives the same
// records, the same case and the same course.
func TestPlantEvents_AnyOrderGivesTheSameRecordsAndTheSameCourse(t *testing.T) {
	t.Parallel()
	type told struct {
		id, at string
		change func(*desk, *vernationv1.PlantEvent)
	}
	area := func(d *desk, id string) string { return d.name("sites/offices-alder-row/areas/offices-" + id) }
	events := []told{
		{"move-1", "2026-03-04 08:00", func(d *desk, e *vernationv1.PlantEvent) {
			e.Moved = &vernationv1.PlantsMoved{Plants: d.plantNames("pothos-stairs"), From: area(d, "floor"), To: area(d, "meeting")}
		}},
		{"split-1", "2026-03-05 08:00", func(d *desk, e *vernationv1.PlantEvent) {
			e.Split = &vernationv1.GroupSplit{Plant: d.name("plants/pothos-stairs"), Parts: []*vernationv1.GroupPart{{PlantId: "pothos-landing", Count: 1}}}
		}},
		{"split-2", "2026-03-06 08:00", func(d *desk, e *vernationv1.PlantEvent) {
			e.Split = &vernationv1.GroupSplit{Plant: d.name("plants/pothos-stairs"), Parts: []*vernationv1.GroupPart{{PlantId: "pothos-rail", Count: 2}}}
		}},
		{"move-2", "2026-03-07 08:00", func(d *desk, e *vernationv1.PlantEvent) {
			e.Moved = &vernationv1.PlantsMoved{Plants: d.plantNames("pothos-stairs"), From: area(d, "meeting"), To: area(d, "foyer")}
		}},
		{"patch-1", "2026-03-04 07:00", func(d *desk, e *vernationv1.PlantEvent) {
			e.PatchResult = &vernationv1.PatchResult{Material: "neem-azadirachtin", Plants: d.plantNames("pothos-stairs"), Harmed: true}
		}},
		{"gone-1", "2026-03-08 08:00", func(d *desk, e *vernationv1.PlantEvent) {
			e.Gone = &vernationv1.PlantsGone{Plants: d.plantNames("pothos-printer"), Way: vernationv1.GoneWay_GONE_WAY_TAKEN_AWAY}
		}},
	}
	outcome := func(order []int, twice bool) (*vernationv1.Course, *vernationv1.Case, []*vernationv1.Plant) {
		d := openDesk(t)
		d.find(t, "pothos-stairs", "pothos-printer")
		d.Clock.Set(d.at(t, "2026-03-09 09:00"))
		d.sprayed(t)
		for _, i := range order {
			for n := 0; n == 0 || twice && n == 1; n++ {
				d.tell(t, events[i].id, events[i].at, func(e *vernationv1.PlantEvent) { events[i].change(d, e) })
			}
		}
		page, err := d.plants().ListPlants(d.office, &vernationv1.ListPlantsRequest{Parent: d.name(""), Site: d.name("sites/offices-alder-row")})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range page.GetPlants() {
			p.Etag = "" // counts changes, which are others in another order
			for _, s := range p.GetServices() {
				s.Minutes = 0 // shares of whole minutes are rounded up in the order in which they are told
			}
		}
		read := d.caseOf(t)
		read.Etag = ""
		return d.course(t), read, page.GetPlants()
	}
	course, read, plants := outcome([]int{0, 1, 2, 3, 4, 5}, false)
	if len(plants) != 5 || len(read.GetPlants()) != 4 || len(course.GetLearned()) != 3 {
		t.Fatalf("%d plants, %d of the case, learned %v: the events prove nothing", len(plants), len(read.GetPlants()), course.GetLearned())
	}
	for _, order := range [][]int{{5, 4, 3, 2, 1, 0}, {2, 5, 0, 4, 1, 3}} {
		otherCourse, otherRead, otherPlants := outcome(order, true)
		if diff := cmp.Diff(plants, otherPlants, protocmp.Transform()); diff != "" {
			t.Errorf("told in the order %v the records differ (-want +got):\n%s", order, diff)
		}
		if diff := cmp.Diff(read, otherRead, protocmp.Transform()); diff != "" {
			t.Errorf("told in the order %v the case differs (-want +got):\n%s", order, diff)
		}
		if diff := cmp.Diff(course, otherCourse, protocmp.Transform()); diff != "" {
			t.Errorf("told in the order %v the course differs (-want +got):\n%s", order, diff)
		}
	}
}

func TestPlantEvents_ACaseOfPlantsThatAreAllGoneHasEnded(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs", "pothos-printer")
	gone := func(id string) {
		d.tell(t, "gone-"+id, "2026-03-02 18:00", func(e *vernationv1.PlantEvent) {
			e.Gone = &vernationv1.PlantsGone{Plants: d.plantNames(id), Way: vernationv1.GoneWay_GONE_WAY_DISCARDED}
		})
	}
	d.Clock.Set(d.at(t, "2026-03-03 07:00"))
	gone("pothos-stairs")
	if c := d.course(t); c.GetEnding() != nil {
		t.Errorf("ended %v while one of its groups is there", c.GetEnding())
	}
	for _, s := range d.gathered(t).Services {
		if slices.ContainsFunc(s.Groups, func(g site.Group) bool { return g.Plant == "pothos-stairs" }) {
			t.Errorf("%s still waters a plant that is gone", s.ID)
		}
	}
	gone("pothos-printer")
	if c := d.course(t); c.GetEnding().GetKind() != vernationv1.EndingKind_ENDING_KIND_PLANTS_GONE || len(c.GetFollowUps()) != 0 {
		t.Errorf("ended %v with %d follow-ups: want it ended", c.GetEnding(), len(c.GetFollowUps()))
	}
}

// Somebody finds living insects on a plant that was told to be gone: it is looked at again, and plans go on being made.
func TestPlantEvents_AFindingOnAPlantThatIsGoneStopsNoPlan(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.tell(t, "gone", "2026-03-02 06:30", func(e *vernationv1.PlantEvent) {
		e.Gone = &vernationv1.PlantsGone{Plants: d.plantNames("pothos-stairs"), Way: vernationv1.GoneWay_GONE_WAY_TAKEN_AWAY}
	})
	if stateOf(d.gathered(t), "pothos-stairs") != nil {
		t.Error("a plan holds a plant that is gone")
	}
	d.find(t, "pothos-stairs")
	if stateOf(d.gathered(t), "pothos-stairs") == nil {
		t.Error("no plan holds the plant on which something was found")
	}
}
