package rpc_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
)

// Whatever kind of finding is told, it comes back whole and is listed, the latest seen first.
func TestFindings_OfEachCertaintyComeBackWhole(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	made := map[string]*vernationv1.Finding{}
	for _, f := range []struct {
		id, plant, seen string
		certainty       vernationv1.Certainty
	}{
		{"called", "lily-reading", "2026-03-01 09:00", vernationv1.Certainty_CERTAINTY_CLIENT_CALL},
		{"suspected", "fig-window", "2026-03-01 11:00", vernationv1.Certainty_CERTAINTY_SUSPECTED},
		{"confirmed", "pothos-stairs", "2026-03-01 10:00", vernationv1.Certainty_CERTAINTY_CONFIRMED},
	} {
		found, err := d.findings().CreateFinding(d.office, d.finding(f.id, func(m *vernationv1.Finding) {
			m.Certainty, m.Plants, m.SeenTime, m.SeenBy = f.certainty, d.plantNames(f.plant), d.stamp(t, f.seen), "the receptionist"
			m.Life, m.Severity, m.Stages = vernationv1.Life_LIFE_NOT_SURE, 1, []string{"crawler"}
			m.Note, m.Pictures = "white fluff at the base", []string{"https://pictures.invalid/1", "roll 2, frame 7"}
		}))
		if err != nil {
			t.Fatal(err)
		}
		read, err := d.findings().GetFinding(d.integration, &vernationv1.GetFindingRequest{Name: found.GetName()})
		if err != nil || !proto.Equal(read, found) || len(read.GetPictures()) != 2 || !read.GetOpenedCase() {
			t.Errorf("%s: read %v, %v; told %v", f.id, read, err, found)
		}
		made[f.id] = found
	}
	for _, c := range []struct {
		ask  *vernationv1.ListFindingsRequest
		want []string
	}{
		{&vernationv1.ListFindingsRequest{}, []string{"suspected", "confirmed", "called"}},
		{&vernationv1.ListFindingsRequest{Filter: `site = "offices-alder-row"`, PageSize: 1}, []string{"suspected", "confirmed"}},
		{&vernationv1.ListFindingsRequest{Filter: `case = "` + made["called"].GetCase() + `"`}, []string{"called"}},
		{&vernationv1.ListFindingsRequest{Filter: `seen_time > "2026-03-01T14:30:00Z"`, OrderBy: "seen_time"}, []string{"confirmed", "suspected"}},
		{&vernationv1.ListFindingsRequest{Filter: `name = "` + made["called"].GetName() + `"`}, []string{"called"}},
		{&vernationv1.ListFindingsRequest{Filter: "certainty = CERTAINTY_CONFIRMED"}, []string{"confirmed"}},
	} {
		c.ask.Parent = d.name("")
		var got []string
		for {
			page, err := d.findings().ListFindings(d.office, c.ask)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range page.GetFindings() {
				id := strings.TrimPrefix(f.GetName(), d.name("findings/"))
				if !proto.Equal(f, made[id]) {
					t.Errorf("listed %v, told %v", f, made[id])
				}
				got = append(got, id)
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

// A case that comes back names the one before, which names and counts it.
func TestCases_ARecurrenceIsLinkedBothWays(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	for _, id := range []string{"first", "second"} {
		if _, err := d.findings().CreateFinding(d.office, d.finding(id, nil)); err != nil {
			t.Fatal(err)
		}
		d.Clock.Set(d.Clock.Now().Add(3600e9))
		if id == "first" {
			d.end(t, "first")
		}
		d.Clock.Set(d.Clock.Now().Add(3600e9))
	}
	read := func(id string) *vernationv1.Case {
		t.Helper()
		c, err := d.cases().GetCase(d.office, &vernationv1.GetCaseRequest{Name: d.name("cases/" + id)})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	if first, second := read("first"), read("second"); second.GetRecurrenceOf() != first.GetName() || !slices.Equal(first.GetRecurrences(), []string{second.GetName()}) || len(second.GetRecurrences()) != 0 {
		t.Errorf("first %v, second %v", first.GetRecurrences(), second.GetRecurrenceOf())
	}
}

// The outlook is the curve behind the course's two numbers.
func TestOutlook_IsTheCurveBehindTheCourse(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs", "pothos-printer")
	course := d.course(t)
	outlook, err := d.cases().GetOutlook(d.techB, &vernationv1.GetOutlookRequest{Name: d.name("cases/mealybugs/outlook")})
	if err != nil {
		t.Fatal(err)
	}
	if outlook.GetName() != d.name("cases/mealybugs/outlook") || outlook.GetCaution() == "" || len(outlook.GetStages()) == 0 || outlook.GetExpectedAtFirst() <= 0 {
		t.Fatalf("%v", outlook)
	}
	var last *vernationv1.OutlookDay
	for _, day := range outlook.GetDays() {
		if len(day.GetApplied()) > 0 {
			last = day
			if !slices.Equal(day.GetApplied(), []string{course.GetProduct()}) {
				t.Errorf("%s applies %v, the course %s", day.GetOn(), day.GetApplied(), course.GetProduct())
			}
		}
	}
	if last == nil || math.Abs(last.GetExpected()/outlook.GetExpectedAtFirst()-course.GetExpectedLeft()) > 2e-4 || math.Abs(last.GetChanceFree()-course.GetChanceFree()) > 2e-4 {
		t.Errorf("on the day of the last application %v; the course: %.4f left, chance %.4f", last, course.GetExpectedLeft(), course.GetChanceFree())
	}
}

// What would be otherwise is computed beside the course, and nothing of it is kept.
func TestCompareCourse_StoresNothing(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs", "pothos-printer")
	before, caseBefore := d.course(t), d.caseOf(t)
	otherwise := func(change func(*vernationv1.CompareCourseRequest)) *vernationv1.CourseComparison {
		t.Helper()
		ask := &vernationv1.CompareCourseRequest{Name: d.name("cases/mealybugs/course")}
		change(ask)
		compared, err := d.cases().CompareCourse(d.office, ask)
		if err != nil {
			t.Fatal(err)
		}
		if !proto.Equal(compared.GetPresent(), before) || len(compared.GetDifferences()) == 0 {
			t.Errorf("beside %v: differences %v", compared.GetPresent(), compared.GetDifferences())
		}
		return compared
	}
	if c := otherwise(func(r *vernationv1.CompareCourseRequest) { r.Replace = true }); len(followUps(c.GetChanged(), application)) != 0 ||
		len(followUps(c.GetChanged(), replacement)) != 1 || c.GetChangedCostMinor() != before.GetReplacement().GetReplacementMinor() || c.GetPresentCostMinor() != before.GetReplacement().GetCourseMinor() {
		t.Errorf("replaced: %v", c.GetDifferences())
	}
	if c := otherwise(func(r *vernationv1.CompareCourseRequest) { r.StartOn = "2026-03-16" }); c.GetChangedEndOn() <= c.GetPresentEndOn() || c.GetDelayCostMinor() <= 0 {
		t.Errorf("begun on 16 March: it ends on %s, now %s; waiting costs %d", c.GetChangedEndOn(), c.GetPresentEndOn(), c.GetDelayCostMinor())
	}
	if c := otherwise(func(r *vernationv1.CompareCourseRequest) {
		r.Climate = &vernationv1.Season{ColdestCelsius: 25, UsualCelsius: 26, WarmestCelsius: 28}
	}); c.GetChanged().GetProof().GetGreatestLagDays() >= before.GetProof().GetGreatestLagDays() {
		t.Errorf("warmer: greatest lag %.1f, now %.1f", c.GetChanged().GetProof().GetGreatestLagDays(), before.GetProof().GetGreatestLagDays())
	}
	if again, caseAgain := d.course(t), d.caseOf(t); !proto.Equal(again, before) || !proto.Equal(caseAgain, caseBefore) {
		t.Error("comparing changed the case or its course")
	}
}

// What waits for the responsible applicator is listed until it is approved, and again once that is withdrawn.
func TestAwaitedApprovals_AreThoseOfUnapprovedApplications(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs", "pothos-printer")
	list := func() []*vernationv1.AwaitedApproval {
		t.Helper()
		page, err := d.cases().ListAwaitedApprovals(d.applicator, &vernationv1.ListAwaitedApprovalsRequest{Parent: d.name("")})
		if err != nil {
			t.Fatal(err)
		}
		return page.GetAwaitedApprovals()
	}
	waits := list()
	if len(waits) != 1 {
		t.Fatalf("waits: %v", waits)
	}
	w, course := waits[0], d.course(t)
	if w.GetCase() != d.name("cases/mealybugs") || w.GetProduct() != course.GetProduct() || w.GetCourseEtag() != course.GetEtag() || w.GetMaxRate() == nil ||
		len(w.GetItems()) != len(followUps(course, application)) || len(w.GetPlants()) != 2 || len(w.GetAreas()) == 0 || len(w.GetCautions()) == 0 ||
		!proto.Equal(w.GetSinceTime(), d.stamp(t, "2026-03-02 07:00")) || w.GetExpectedOn() != followUps(course, application)[0].GetExpectedOn() {
		t.Errorf("waits: %v", w)
	}
	approve := d.approve("soap")
	approve.WayKinds, approve.Etag = w.GetWayKinds(), w.GetCourseEtag()
	if _, err := d.cases().ApproveCourse(d.applicator, approve); err != nil {
		t.Fatal(err)
	}
	if left := list(); len(left) != 0 {
		t.Errorf("approved, and yet it waits: %v", left)
	}
	d.Clock.Set(d.at(t, "2026-03-02 10:00"))
	if err := withdraw("mealybugs", "soap")(d); err != nil {
		t.Fatal(err)
	}
	if again := list(); len(again) != 1 || !proto.Equal(again[0].GetSinceTime(), d.stamp(t, "2026-03-02 10:00")) {
		t.Errorf("withdrawn: %v", again)
	}
	_, err := d.cases().ListAwaitedApprovals(d.integration, &vernationv1.ListAwaitedApprovalsRequest{Parent: d.name("")})
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}
