package rpc_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/course"
	"vernation/server/internal/store"
)

// approve asks to approve a product for the case named mealybugs.
func (d *desk) approve(product string) *vernationv1.ApproveCourseRequest {
	return &vernationv1.ApproveCourseRequest{
		Name: d.name("cases/mealybugs/course"), Product: d.name("products/" + product), RequestId: request(),
		WayKinds: []vernationv1.WayKind{vernationv1.WayKind_WAY_KIND_IN_PLACE},
	}
}

// course reads the course of the case named mealybugs.
func (d *desk) course(t *testing.T) *vernationv1.Course {
	t.Helper()
	read, err := d.cases().GetCourse(d.office, &vernationv1.GetCourseRequest{Name: d.name("cases/mealybugs/course")})
	if err != nil {
		t.Fatal(err)
	}
	return read
}

func TestFindings_OneOpensACaseAndTheNextJoinsIt(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	first, err := d.findings().CreateFinding(d.office, d.finding("mealybugs", nil))
	if err != nil {
		t.Fatal(err)
	}
	if !first.GetOpenedCase() || first.GetCase() != d.name("cases/mealybugs") || first.GetSite() != d.name("sites/offices-alder-row") {
		t.Errorf("the first finding: %v", first)
	}
	if now := d.stamp(t, "2026-03-02 07:00"); !proto.Equal(first.GetSeenTime(), now) || !proto.Equal(first.GetCreateTime(), now) || first.GetSeenBy() != "office-1" {
		t.Errorf("seen %v by %q, stored %v", first.GetSeenTime(), first.GetSeenBy(), first.GetCreateTime())
	}
	second, err := d.findings().CreateFinding(d.techB, d.finding("", func(f *vernationv1.Finding) {
		f.Severity, f.Plants, f.SeenTime, f.SeenBy = 3, f.GetPlants()[:1], d.stamp(t, "2026-03-01 16:00"), "the receptionist"
	}))
	if err != nil {
		t.Fatal(err)
	}
	if second.GetOpenedCase() || second.GetCase() != first.GetCase() || !proto.Equal(second.GetSeenTime(), d.stamp(t, "2026-03-01 16:00")) {
		t.Errorf("the second finding: %v", second)
	}
	read, err := d.cases().GetCase(d.techB, &vernationv1.GetCaseRequest{Name: first.GetCase()})
	if err != nil {
		t.Fatal(err)
	}
	if len(read.GetEvents()) != 2 || read.GetSeverity() != 2 || read.GetCertainty() != vernationv1.Certainty_CERTAINTY_CONFIRMED || len(read.GetPlants()) != 2 {
		t.Errorf("the case: %v: want two events, the severity of the finding seen last, two plants", read)
	}
}

func TestFindings_ARepeatedRequestMakesTheSameFindingOnce(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	asked := d.finding("", nil)
	first, err := d.findings().CreateFinding(d.office, asked)
	if err != nil {
		t.Fatal(err)
	}
	again, err := d.findings().CreateFinding(d.office, asked)
	if err != nil || !proto.Equal(first, again) {
		t.Errorf("again: %v, %v; first %v", again, err, first)
	}
	page, err := d.cases().ListCases(d.office, &vernationv1.ListCasesRequest{Parent: d.name("")})
	if err != nil || len(page.GetCases()) != 1 {
		t.Errorf("cases: %v, %v; want one", page, err)
	}
}

func TestCourses_ApprovalHoldsUntilItIsWithdrawn(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	if _, err := d.findings().CreateFinding(d.office, d.finding("mealybugs", nil)); err != nil {
		t.Fatal(err)
	}
	before := d.course(t)
	if before.GetProduct() != d.name("products/soap") || before.GetMaterial() != "insecticidal-soap" || before.GetEtag() == "" || len(before.GetCautions()) == 0 {
		t.Errorf("the course: product %q, etag %q, %d cautions", before.GetProduct(), before.GetEtag(), len(before.GetCautions()))
	}
	if n := approvedApplications(before); n != 0 {
		t.Errorf("%d applications are approved before anybody approved one", n)
	}
	remedy := slices.IndexFunc(before.GetRefusals(), func(r *vernationv1.Refusal) bool { return r.GetProduct() == d.name("products/alcohol") })
	if remedy < 0 || len(before.GetRefusals()[remedy].GetReasons()) == 0 || before.GetRefusals()[remedy].GetComputed() == "" {
		t.Errorf("refusals %v: want the household remedy with its reasons and its dilution", before.GetRefusals())
	}
	asked := d.approve("soap")
	asked.Etag = before.GetEtag()
	approved, err := d.cases().ApproveCourse(d.techA, asked)
	if err != nil {
		t.Fatal(err)
	}
	if n := approvedApplications(approved); n == 0 || approved.GetEtag() == before.GetEtag() {
		t.Errorf("%d applications are approved, etag %q after %q", n, approved.GetEtag(), before.GetEtag())
	}
	withdrawn, err := d.cases().WithdrawApproval(d.applicator, &vernationv1.WithdrawApprovalRequest{
		Name: asked.GetName(), Product: asked.GetProduct(), RequestId: request(),
	})
	if err != nil {
		t.Fatal(err)
	}
	if n := approvedApplications(withdrawn); n != 0 {
		t.Errorf("%d applications are approved after the withdrawal", n)
	}
	read, err := d.cases().GetCase(d.office, &vernationv1.GetCaseRequest{Name: d.name("cases/mealybugs")})
	if err != nil {
		t.Fatal(err)
	}
	given := read.GetApprovals()
	if len(given) != 2 || given[0].GetWithdrawn() || !given[1].GetWithdrawn() || given[0].GetBy() != "tech-a" || given[1].GetBy() != "office-1" {
		t.Errorf("approvals %v: want one of tech-a, then a withdrawal of office-1", given)
	}
	if text := read.GetEvents()[1].GetText(); !strings.Contains(text, "Soap concentrate of the demo approved by Technician A") {
		t.Errorf("the approval is told as %q", text)
	}
}

func approvedApplications(c *vernationv1.Course) (count int) {
	for _, followUp := range c.GetFollowUps() {
		if followUp.GetKind() == vernationv1.FollowUpKind_FOLLOW_UP_KIND_APPLICATION && followUp.GetApproved() {
			count++
		}
	}
	return count
}

func TestCourses_EtagHoldsWhileTheClockRunsOn(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	if _, err := d.findings().CreateFinding(d.office, d.finding("mealybugs", nil)); err != nil {
		t.Fatal(err)
	}
	read := d.course(t)
	d.Clock.Set(d.at(t, "2026-03-02 07:05"))
	if again := d.course(t); again.GetEtag() != read.GetEtag() {
		t.Errorf("five minutes later the etag is %q, it was %q", again.GetEtag(), read.GetEtag())
	}
}

func TestCases_AreListedNewestFirstAndByFilter(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	for _, found := range []struct{ id, plant, pest string }{
		{"third", "fig-window", "citrus-mealybug"}, {"first", "lily-reading", "fungus-gnat"}, {"second", "pothos-stairs", "citrus-mealybug"},
	} {
		_, err := d.findings().CreateFinding(d.office, d.finding(found.id, func(f *vernationv1.Finding) {
			f.Pest, f.Plants = found.pest, []string{d.name("plants/" + found.plant)}
		}))
		if err != nil {
			t.Fatal(err)
		}
		d.Clock.Set(d.Clock.Now().Add(1e9 * 60))
	}
	d.end(t, "second")
	for _, c := range []struct {
		name string
		ask  *vernationv1.ListCasesRequest
		want []string
	}{
		{"all", &vernationv1.ListCasesRequest{}, []string{"second", "first", "third"}},
		{"open ones", &vernationv1.ListCasesRequest{OpenOnly: true}, []string{"first", "third"}},
		{"of a site", &vernationv1.ListCasesRequest{Site: d.name("sites/offices-alder-row")}, []string{"second", "third"}},
	} {
		var ids []string
		ask := c.ask
		for ask.Parent, ask.PageSize = d.name(""), 1; ; {
			page, err := d.cases().ListCases(d.office, ask)
			if err != nil {
				t.Fatal(err)
			}
			for _, one := range page.GetCases() {
				ids = append(ids, strings.TrimPrefix(one.GetName(), d.name("cases/")))
				if len(one.GetEvents()) != 0 || one.GetEtag() == "" {
					t.Errorf("%s: a case in a list: %v", c.name, one)
				}
			}
			if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
				break
			}
		}
		if !slices.Equal(ids, c.want) {
			t.Errorf("%s: %v, want %v", c.name, ids, c.want)
		}
	}
}

// end ends a case as the client wishes.
func (d *desk) end(t *testing.T, id course.CaseID) {
	t.Helper()
	err := d.Store.In(context.Background(), d.Office, func(tx *store.Tx) error {
		return tx.EndCase(id, course.Ending{Kind: course.Declined, Reason: "the client declined"}, tx.Now())
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestCourses_OnlyTheResponsibleApplicatorDecides(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	for _, ctx := range []context.Context{d.office, d.techB} {
		_, err := d.cases().ApproveCourse(ctx, d.approve("soap"))
		expect(t, err, codes.PermissionDenied, "RIGHT_NEEDED")
	}
	_, err := d.cases().ApproveCourse(d.integration, d.approve("soap"))
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}
