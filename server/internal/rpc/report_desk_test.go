package rpc_test

import (
	"slices"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/course"
)

// atNight tells of a visit at which nobody may be, and returns the name of the deviation that it is.
func (w *works) atNight(t *testing.T) string {
	t.Helper()
	told, err := w.reports().CreateReport(w.integration, &vernationv1.CreateReportRequest{Parent: w.name(""), ReportId: "night", RequestId: request(), Report: &vernationv1.Report{
		Technician: w.name("technicians/tech-b"), Site: w.name("sites/offices-alder-row"),
		Arrived: w.stamp(t, "2026-03-02 02:00"), Left: w.stamp(t, "2026-03-02 02:10"), ClientTime: w.stamp(t, "2026-03-02 02:11"),
		Items: []*vernationv1.ReportedItem{{Item: "mealybugs/application/1/1", Outcome: vernationv1.Outcome_OUTCOME_LOCKED_OUT}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if len(told.GetDeviations()) != 1 {
		t.Fatalf("deviations: %v", told.GetDeviations())
	}
	return told.GetDeviations()[0].GetName()
}

func TestListReports_ThoseOfASiteATechnicianAndATime(t *testing.T) {
	t.Parallel()
	w, visit := over(t)
	if _, err := w.reports().CreateReport(w.techA, w.drench(t, "drench", visit)); err != nil {
		t.Fatal(err)
	}
	w.atNight(t)
	for name, c := range map[string]struct {
		change func(*vernationv1.ListReportsRequest)
		want   []string
	}{
		"all, the latest arrival first": {func(*vernationv1.ListReportsRequest) {}, []string{"drench", "night"}},
		"of a site":                     {func(r *vernationv1.ListReportsRequest) { r.Filter = `site = "offices-alder-row"` }, []string{"night"}},
		"of a technician": {func(r *vernationv1.ListReportsRequest) {
			r.Filter = `technician = "` + w.name("technicians/tech-a") + `"`
		}, []string{"drench"}},
		"from a time":   {func(r *vernationv1.ListReportsRequest) { r.Filter = `arrived >= "2026-03-02T16:49:00Z"` }, []string{"drench"}},
		"before a time": {func(r *vernationv1.ListReportsRequest) { r.Filter = `arrived < "2026-03-02T16:49:00Z"` }, []string{"night"}},
	} {
		ask := &vernationv1.ListReportsRequest{Parent: w.name("")}
		c.change(ask)
		page, err := w.reports().ListReports(w.office, ask)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, r := range page.GetReports() {
			got = append(got, r.GetName()[len(w.name("reports/")):])
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
	first, err := w.reports().ListReports(w.office, &vernationv1.ListReportsRequest{Parent: w.name(""), PageSize: 1})
	if err != nil || first.GetNextPageToken() == "" {
		t.Fatalf("the first page: %v, %v", first, err)
	}
	second, err := w.reports().ListReports(w.office, &vernationv1.ListReportsRequest{Parent: w.name(""), PageSize: 1, PageToken: first.GetNextPageToken()})
	if err != nil || len(second.GetReports()) != 1 || second.GetReports()[0].GetName() != w.name("reports/night") || second.GetNextPageToken() != "" {
		t.Errorf("the second page: %v, %v", second, err)
	}
	own, err := w.reports().ListReports(w.techB, &vernationv1.ListReportsRequest{Parent: w.name("")})
	if err != nil || len(own.GetReports()) != 1 || own.GetReports()[0].GetTechnician() != w.name("technicians/tech-b") {
		t.Errorf("a technician's own: %v, %v", own, err)
	}
	others, err := w.reports().ListReports(w.techB, &vernationv1.ListReportsRequest{Parent: w.name(""), Filter: `technician = "tech-a"`})
	if err != nil || len(others.GetReports()) != 0 {
		t.Errorf("another's: %v, %v", others, err)
	}
}

func TestAcknowledgeDeviation_IsKeptOnceAndTakesItOffTheList(t *testing.T) {
	t.Parallel()
	w, _ := over(t)
	name := w.atNight(t)
	open := func() int {
		t.Helper()
		page, err := w.reports().ListDeviations(w.office, &vernationv1.ListDeviationsRequest{Parent: w.name(""), Filter: `site = "offices-alder-row" AND acknowledged = false`})
		if err != nil {
			t.Fatal(err)
		}
		return len(page.GetDeviations())
	}
	if n := open(); n != 1 {
		t.Fatalf("%d open deviations, want 1", n)
	}
	asked := &vernationv1.AcknowledgeDeviationRequest{Name: name, Note: "the guard had let them in", RequestId: request()}
	looked, err := w.reports().AcknowledgeDeviation(w.office, asked)
	if err != nil || looked.GetAcknowledgedBy() != "office-1" || looked.GetNote() != asked.GetNote() || !proto.Equal(looked.GetAcknowledgeTime(), w.stamp(t, "2026-03-02 18:00")) {
		t.Errorf("looked at: %v, %v", looked, err)
	}
	if again, err := w.reports().AcknowledgeDeviation(w.office, asked); err != nil || !proto.Equal(again, looked) {
		t.Errorf("asked again: %v, %v", again, err)
	}
	if n := open(); n != 0 {
		t.Errorf("%d open deviations are left", n)
	}
	page, err := w.reports().ListDeviations(w.office, &vernationv1.ListDeviationsRequest{Parent: w.name("")})
	if err != nil || len(page.GetDeviations()) != 1 || !proto.Equal(page.GetDeviations()[0], looked) {
		t.Errorf("all: %v, %v", page, err)
	}
	_, err = w.reports().AcknowledgeDeviation(w.techA, &vernationv1.AcknowledgeDeviationRequest{Name: name, RequestId: request()})
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}

// An outcome leads somewhere: what is due again and whom to call is told with the report, and the table is there to be shown.
func TestOutcomes_LeadSomewhere(t *testing.T) {
	t.Parallel()
	w, _ := over(t)
	w.atNight(t)
	report, err := w.reports().GetReport(w.office, &vernationv1.GetReportRequest{Name: w.name("reports/night")})
	if err != nil || len(report.GetConsequences()) != 1 {
		t.Fatalf("%v, %v", report, err)
	}
	if c := report.GetConsequences()[0]; c.GetItem() != "mealybugs/application/1/1" || !c.GetDueAgain() || c.GetAfterDays() != 1 || !c.GetNoticeAgain() ||
		c.GetCall() != vernationv1.Party_PARTY_CLIENT || c.GetCountsAsApplication() {
		t.Errorf("locked out leads to %v", c)
	}
	var listed []vernationv1.Outcome
	ask := &vernationv1.ListOutcomesRequest{Parent: w.name(""), Kind: application, PageSize: 7}
	for {
		page, err := w.reports().ListOutcomes(w.techA, ask)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range page.GetOutcomes() {
			listed = append(listed, c.GetOutcome())
			if c.GetText() == "" || c.GetItem() != "" {
				t.Errorf("%v", c)
			}
		}
		if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
			break
		}
	}
	if len(listed) != len(course.Outcomes()) || len(slices.Compact(slices.Sorted(slices.Values(listed)))) != len(listed) {
		t.Errorf("outcomes %v: want each of %d once", listed, len(course.Outcomes()))
	}
	other, err := w.reports().ListOutcomes(w.techA, &vernationv1.ListOutcomesRequest{Parent: w.name("")})
	if err != nil || slices.ContainsFunc(other.GetOutcomes(), func(c *vernationv1.Consequence) bool { return c.GetCountsAsApplication() || c.GetNoticeAgain() }) {
		t.Errorf("of other work: %v, %v", other, err)
	}
}
