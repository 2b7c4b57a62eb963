package rpc_test

import (
	"fmt"
	"path"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/store"
)

// drench is a request that reports the gnats' first drench as planned, at its visit.
func (w *works) drench(t *testing.T, id string, visit *vernationv1.Visit) *vernationv1.CreateReportRequest {
	t.Helper()
	return &vernationv1.CreateReportRequest{Parent: w.name(""), ReportId: id, RequestId: request(), Report: &vernationv1.Report{
		Visit: visit.GetName(), Technician: w.name("technicians/tech-a"), Site: w.name("sites/hotel-quarry-square"),
		Arrived: w.stamp(t, "2026-03-02 11:49"), Left: w.stamp(t, "2026-03-02 12:25"), ClientTime: w.stamp(t, "2026-03-02 12:26"),
		Items: []*vernationv1.ReportedItem{{
			Item: "gnats/application/1/1", Outcome: vernationv1.Outcome_OUTCOME_DONE,
			Began: w.stamp(t, "2026-03-02 12:00"), Ended: w.stamp(t, "2026-03-02 12:20"),
			Application: &vernationv1.ApplicationMade{
				Product: w.name("products/bti"), VesselId: "can", Concentrate: "1.375 US fl oz", Volume: "72 US fl oz",
				Applied: "1.92 L", Left: "0 mL", LeftWent: vernationv1.LeftoverWay_LEFTOVER_WAY_NONE_LEFT,
			},
		}},
		Note: "Saucers emptied.",
	}}
}

// over opens a works whose first day is over, and returns its visit, booked for the gnats' first drench.
func over(t *testing.T) (*works, *vernationv1.Visit) {
	t.Helper()
	w := openWorks(t)
	visit := w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	w.Clock.Set(w.at(t, "2026-03-02 18:00"))
	return w, visit
}

func TestCreateReport_CountsOnceHoweverOftenItIsSent(t *testing.T) {
	t.Parallel()
	w, visit := over(t)
	asked := w.drench(t, "r1", visit)
	first, err := w.reports().CreateReport(w.integration, asked)
	if err != nil {
		t.Fatal(err)
	}
	if len(first.GetApplicationRecords()) != 1 || len(first.GetCases()) != 1 || first.GetOffPlan() || len(first.GetDeviations()) != 0 {
		t.Errorf("report %v: want one record, one case, on plan, no deviation", first)
	}
	again := func(what string, change func(*vernationv1.CreateReportRequest)) error {
		t.Helper()
		twin := proto.CloneOf(asked)
		change(twin)
		answer, err := w.reports().CreateReport(w.integration, twin)
		if err == nil && !proto.Equal(answer, first) {
			t.Errorf("%s is answered %v, want the first answer %v", what, answer, first)
		}
		return err
	}
	if err := again("the same request", func(*vernationv1.CreateReportRequest) {}); err != nil {
		t.Error(err)
	}
	if err := again("the same report under a new request id", func(r *vernationv1.CreateReportRequest) { r.RequestId = request() }); err != nil {
		t.Error(err)
	}
	err = again("another body under the same request id", func(r *vernationv1.CreateReportRequest) { r.Report.Note = "Not so." })
	expect(t, err, codes.InvalidArgument, "REQUEST_ID_REUSED")
	err = again("another body under the same report id", func(r *vernationv1.CreateReportRequest) {
		r.RequestId, r.Report.Note = request(), "Not so."
	})
	expect(t, err, codes.AlreadyExists, "EXISTS_ALREADY")
	err = again("the same application in another report", func(r *vernationv1.CreateReportRequest) { r.RequestId, r.ReportId = request(), "r2" })
	expect(t, err, codes.AlreadyExists, "ALREADY_REPORTED")
	if err := again("a correction", func(r *vernationv1.CreateReportRequest) {
		r.RequestId, r.ReportId, r.Report.Corrects = request(), "r3", w.name("reports/none")
	}); err == nil {
		t.Error("a report that nobody knows is corrected")
	}
	corrected, err := w.reports().CreateReport(w.office, func() *vernationv1.CreateReportRequest {
		twin := proto.CloneOf(asked)
		twin.RequestId, twin.ReportId, twin.Report.Corrects, twin.Report.Items[0].Application.Applied = request(), "r4", first.GetName(), "1.8 L"
		return twin
	}())
	if err != nil {
		t.Fatal(err)
	}
	read, err := w.reports().GetReport(w.techA, &vernationv1.GetReportRequest{Name: corrected.GetName()})
	if err != nil || !proto.Equal(read, corrected) {
		t.Errorf("GetReport = %v, %v; want what CreateReport answered, %v", read, err, corrected)
	}
	records, err := w.records().ListApplicationRecords(w.office, &vernationv1.ListApplicationRecordsRequest{Parent: w.name(""), Case: w.name("cases/gnats"), Site: w.name("sites/hotel-quarry-square")})
	if err != nil {
		t.Fatal(err)
	}
	if len(records.GetApplicationRecords()) != 2 || records.GetApplicationRecords()[0].GetCorrects() != first.GetApplicationRecords()[0] {
		t.Errorf("records %v: want the first and the one that corrects it, the latter first", records)
	}
}

func TestCreateReport_WhatBrokeARuleIsStoredAndFlagged(t *testing.T) {
	t.Parallel()
	w, visit := over(t)
	doubled := w.drench(t, "doubled", visit)
	doubled.Report.Items[0].Application.Concentrate = "2.75 US fl oz" // in 72 US fl oz; the label allows 2.56 in 128, which is 1.44 in 72
	doubled.Report.Items[0].Application.PeoplePresent = true
	doubled.Report.Items[0].Application.LeftWent = vernationv1.LeftoverWay_LEFTOVER_WAY_DRAIN
	report, err := w.reports().CreateReport(w.integration, doubled)
	if err != nil {
		t.Fatal(err)
	}
	rules := map[vernationv1.Rule]int{}
	for _, d := range report.GetDeviations() {
		rules[d.GetRule()]++
		if d.GetText() == "" || d.GetReport() != report.GetName() {
			t.Errorf("deviation %v: want its report and a sentence", d)
		}
	}
	if rules[vernationv1.Rule_RULE_LABEL] != 2 || rules[vernationv1.Rule_RULE_REENTRY] != 1 {
		t.Errorf("deviations %v: want the strength and the drain by the label, and the people by re-entry", report.GetDeviations())
	}
	all, err := w.reports().ListDeviations(w.office, &vernationv1.ListDeviationsRequest{Parent: w.name("")})
	if err != nil {
		t.Fatal(err)
	}
	var paged []*vernationv1.Deviation
	for token := ""; ; {
		page, err := w.reports().ListDeviations(w.office, &vernationv1.ListDeviationsRequest{Parent: w.name(""), Report: report.GetName(), PageSize: 2, PageToken: token})
		if err != nil {
			t.Fatal(err)
		}
		paged = append(paged, page.GetDeviations()...)
		if token = page.GetNextPageToken(); token == "" {
			break
		}
	}
	if len(all.GetDeviations()) != len(report.GetDeviations()) || len(paged) != len(report.GetDeviations()) {
		t.Errorf("%d deviations listed, %d by pages of two: want the report's %d", len(all.GetDeviations()), len(paged), len(report.GetDeviations()))
	}
	records, err := w.records().ListApplicationRecords(w.integration, &vernationv1.ListApplicationRecordsRequest{Parent: w.name("")})
	if err != nil {
		t.Fatal(err)
	}
	// 2.75/72 = 3.8194 % of the mix is concentrate
	record := records.GetApplicationRecords()[0]
	if record.GetRatePercent() != "3.8194" || len(record.GetDeviations()) != 3 || record.GetLicenceNumber() != "DEMO-A1" || record.GetEntryTime() == nil {
		t.Errorf("record %v: want what was done, and that it was too much", record)
	}
	_, err = w.reports().ListDeviations(w.office, &vernationv1.ListDeviationsRequest{Parent: w.name(""), Report: w.name("reports/none")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	_, err = w.records().ListApplicationRecords(w.office, &vernationv1.ListApplicationRecordsRequest{Parent: w.name(""), Site: w.name("sites/none")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	_, err = w.records().ListApplicationRecords(w.office, &vernationv1.ListApplicationRecordsRequest{Parent: w.name(""), Case: w.name("cases/none")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
}

func TestCreateReport_ConditionsOfTheLabelAreTicked(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.Clock.Set(w.at(t, "2026-03-02 23:30"))
	spray := func(id string, met ...string) *vernationv1.Report {
		report, err := w.reports().CreateReport(w.office, &vernationv1.CreateReportRequest{Parent: w.name(""), ReportId: id, RequestId: request(), Report: &vernationv1.Report{
			Technician: w.name("technicians/tech-a"), Site: w.name("sites/offices-alder-row"),
			Arrived: w.stamp(t, "2026-03-02 20:00"), Left: w.stamp(t, "2026-03-02 21:00"), ClientTime: w.stamp(t, "2026-03-02 21:00"),
			Items: []*vernationv1.ReportedItem{{
				Case: w.name("cases/mealybugs"), Outcome: vernationv1.Outcome_OUTCOME_DONE, Area: w.name("sites/offices-alder-row/areas/offices-kitchenette"),
				Began: w.stamp(t, "2026-03-02 20:10"), Ended: w.stamp(t, "2026-03-02 20:30"), Plants: []string{w.name("plants/pothos-stairs")},
				FollowUpKind: vernationv1.FollowUpKind_FOLLOW_UP_KIND_APPLICATION, ConditionsMet: met,
				Application: &vernationv1.ApplicationMade{Product: w.name("products/soap"), Concentrate: "0.625 US fl oz", Volume: "32 US fl oz", Applied: "375 mL"},
			}},
		}})
		if err != nil {
			t.Fatal(err)
		}
		return report
	}
	const condition = "open-food: take food and crockery out of the room and wipe the surfaces"
	flagged := func(r *vernationv1.Report) bool { return strings.Contains(fmt.Sprint(r.GetDeviations()), condition) }
	if report := spray("unticked"); !flagged(report) || !report.GetOffPlan() {
		t.Errorf("deviations %v, off plan %v: want the condition that nobody ticked, and off plan", report.GetDeviations(), report.GetOffPlan())
	}
	if report := spray("ticked", condition); flagged(report) {
		t.Errorf("deviations %v: want none for a condition that was ticked", report.GetDeviations())
	}
}

func TestCreateReport_RefusesOnlyWhatCannotBeUnderstood(t *testing.T) {
	t.Parallel()
	w, visit := over(t)
	for _, c := range []struct {
		name         string
		change       func(*vernationv1.Report)
		path, reason string
	}{
		{"left before it arrived", func(r *vernationv1.Report) { r.Left = w.stamp(t, "2026-03-02 09:00") }, "report.left", "ENDS_BEFORE_IT_BEGINS"},
		{"left in the future", func(r *vernationv1.Report) { r.Left = w.stamp(t, "2026-03-02 18:06") }, "report.left", "IN_THE_FUTURE"},
		{"an item that ends before it begins", func(r *vernationv1.Report) { r.Items[0].Ended = w.stamp(t, "2026-03-02 09:00") }, "report.items[0].ended", "ENDS_BEFORE_IT_BEGINS"},
		{"an application without its times", func(r *vernationv1.Report) { r.Items[0].Began, r.Items[0].Ended = nil, nil }, "report.items[0].began", "REQUIRED"},
		{"an application without what was applied", func(r *vernationv1.Report) { r.Items[0].Application = nil }, "report.items[0].application", "REQUIRED"},
		{"an inspection without what was found", func(r *vernationv1.Report) {
			r.Items[0].Item, r.Items[0].Application = "gnats/inspect-infested/1/1", nil
		}, "report.items[0].inspection", "REQUIRED"},
		{"an application for no case", func(r *vernationv1.Report) { r.Items[0].Item = "" }, "report.items[0].case", "REQUIRED"},
		{"somebody unknown", func(r *vernationv1.Report) { r.Technician = w.name("technicians/nobody") }, "report.technician", "UNKNOWN_TECHNICIAN"},
		{"a plant of another site", func(r *vernationv1.Report) { r.Items[0].Plants = []string{w.name("plants/fig-window")} }, "report.items[0].plants[0]", "UNKNOWN_PLANT"},
		{"a product unknown", func(r *vernationv1.Report) { r.Items[0].Application.Product = w.name("products/none") }, "report.items[0].application.product", "UNKNOWN_PRODUCT"},
		{"an area of another site", func(r *vernationv1.Report) {
			r.Items[0].Area = w.name("sites/offices-alder-row/areas/offices-floor")
		}, "report.items[0].area", "UNKNOWN_AREA"},
		{"an area that the site does not have", func(r *vernationv1.Report) {
			r.Items[0].Area = w.name("sites/hotel-quarry-square/areas/none")
		}, "report.items[0].area", "UNKNOWN_AREA"},
		{"a pest unknown", func(r *vernationv1.Report) {
			r.Findings = []*vernationv1.Finding{{Pest: "none", Certainty: vernationv1.Certainty_CERTAINTY_CONFIRMED, Life: vernationv1.Life_LIFE_LIVING, Plants: []string{w.name("plants/lily-reading")}}}
		}, "report.findings[0].pest", "UNKNOWN_PEST"},
	} {
		asked := w.drench(t, "r1", visit)
		c.change(asked.GetReport())
		t.Run(c.name, func(t *testing.T) {
			_, err := w.reports().CreateReport(w.office, asked)
			expectField(t, err, c.path, c.reason)
		})
	}
	for _, c := range []struct {
		name   string
		change func(*vernationv1.Report)
		reason string
	}{
		{"a site unknown", func(r *vernationv1.Report) { r.Site = w.name("sites/none") }, "NOT_FOUND"},
		{"a case unknown", func(r *vernationv1.Report) { r.Items[0].Item, r.Items[0].Case = "", w.name("cases/none") }, "NOT_FOUND"},
		{"a corrected report unknown", func(r *vernationv1.Report) { r.Corrects = w.name("reports/none") }, "NOT_FOUND"},
		{"a visit that was never published", func(r *vernationv1.Report) { r.Visit = w.name("visits/none") }, "VISIT_NOT_PUBLISHED"},
	} {
		asked := w.drench(t, "r1", visit)
		c.change(asked.GetReport())
		t.Run(c.name, func(t *testing.T) {
			_, err := w.reports().CreateReport(w.office, asked)
			expect(t, err, codes.NotFound, c.reason)
		})
	}
	_, err := w.reports().CreateReport(w.techB, w.drench(t, "r1", visit))
	expect(t, err, codes.PermissionDenied, "NOT_YOUR_REPORT")
	foreign := w.drench(t, "r1", visit)
	foreign.Parent = "businesses/another"
	_, err = w.reports().CreateReport(w.office, foreign)
	expect(t, err, codes.PermissionDenied, "OTHER_BUSINESS")
	if _, err := w.reports().CreateReport(w.techA, w.drench(t, "r1", visit)); err != nil {
		t.Errorf("after all refusals the report itself is refused: %v", err)
	}
	_, err = w.reports().GetReport(w.techB, &vernationv1.GetReportRequest{Name: w.name("reports/r1")})
	expect(t, err, codes.PermissionDenied, "NOT_YOUR_REPORT")
	_, err = w.reports().GetReport(w.office, &vernationv1.GetReportRequest{Name: w.name("reports/none")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
}

func TestCreateReport_AVisitWithdrawnSinceIsToldOffPlan(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	routes := w.publish(t, w.makePlan(t, 14)).GetRoutes()
	visits := routes[len(routes)-1].GetVisits()
	visit := visits[len(visits)-1]
	err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
		return tx.ReplaceVisits([]scheduler.VisitID{scheduler.VisitID(path.Base(visit.GetName()))}, nil, nil, nil, "")
	})
	if err != nil {
		t.Fatal(err)
	}
	w.Clock.Set(civil.InstantOf(visit.GetLeaves().AsTime()))
	report := func(id, name string) (*vernationv1.Report, error) {
		return w.reports().CreateReport(w.integration, &vernationv1.CreateReportRequest{Parent: w.name(""), ReportId: id, RequestId: request(), Report: &vernationv1.Report{
			Visit: name, Technician: visit.GetTechnician(), Site: visit.GetSite(),
			Arrived: visit.GetArrives(), Left: visit.GetLeaves(), ClientTime: visit.GetLeaves(),
			Items: []*vernationv1.ReportedItem{{Item: visit.GetWorkItems()[0].GetItem(), Outcome: vernationv1.Outcome_OUTCOME_LOCKED_OUT}},
		}})
	}
	if told, err := report("late", visit.GetName()); err != nil || !told.GetOffPlan() || told.GetVisit() != visit.GetName() {
		t.Errorf("a report of the withdrawn visit %s = %v, %v: want it stored, off plan", visit.GetName(), told, err)
	}
	_, err = report("never", visit.GetName()[:len(visit.GetName())-3]+"999")
	expect(t, err, codes.NotFound, "VISIT_NOT_PUBLISHED")
}

func TestBatchCreateReports_EachReportStandsByItself(t *testing.T) {
	t.Parallel()
	w, visit := over(t)
	one := func(id string, change func(*vernationv1.Report)) *vernationv1.ReportToCreate {
		report := w.drench(t, id, visit).GetReport()
		change(report)
		return &vernationv1.ReportToCreate{ReportId: id, Report: report}
	}
	unplanned := func(r *vernationv1.Report) {
		r.Visit, r.Items = "", []*vernationv1.ReportedItem{{Outcome: vernationv1.Outcome_OUTCOME_DONE, ServiceKind: vernationv1.ServiceKind_SERVICE_KIND_WATERING, Plants: []string{w.name("plants/lily-reading")}}}
	}
	batch := &vernationv1.BatchCreateReportsRequest{Parent: w.name(""), RequestId: request(), Reports: []*vernationv1.ReportToCreate{
		one("b1", func(r *vernationv1.Report) { r.ExternalId = "X/1" }),
		one("b2", func(r *vernationv1.Report) { r.Technician = w.name("technicians/nobody") }),
		one("b3", unplanned),
		one("b4", func(r *vernationv1.Report) { unplanned(r); r.ExternalId = "X/1" }),
	}}
	first, err := w.reports().BatchCreateReports(w.integration, batch)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"", "INVALID_FIELDS", "", "EXTERNAL_ID_TAKEN"}
	for i, result := range first.GetResults() {
		got := ""
		if result.GetError() != nil {
			got = detail[*errdetails.ErrorInfo](t, status.ErrorProto(result.GetError())).GetReason()
		}
		if int(result.GetIndex()) != i || got != want[i] || (result.GetReport() == nil) != (got != "") {
			t.Errorf("result %d is %v: want its index and reason %q", i, result, want[i])
		}
	}
	if len(first.GetResults()) != 4 || first.GetRefusedCount() != 2 {
		t.Fatalf("%v: want four results, two of them refused", first)
	}
	again, err := w.reports().BatchCreateReports(w.integration, batch)
	if err != nil || !proto.Equal(again, first) {
		t.Errorf("the batch sent again gives %v, %v; want the same", again, err)
	}
	twin := w.drench(t, "another-id", visit)
	twin.Report.ExternalId = "X/1"
	if told, err := w.reports().CreateReport(w.integration, twin); err != nil || told.GetName() != w.name("reports/b1") {
		t.Errorf("the same report of the same external id gives %v, %v; want reports/b1", told, err)
	}
	twin.RequestId, twin.Report.Note = request(), "Not so."
	_, err = w.reports().CreateReport(w.integration, twin)
	expect(t, err, codes.AlreadyExists, "EXTERNAL_ID_TAKEN")
	other := proto.CloneOf(batch)
	other.Reports = other.GetReports()[:1]
	_, err = w.reports().BatchCreateReports(w.integration, other)
	expect(t, err, codes.InvalidArgument, "REQUEST_ID_REUSED")
	other.RequestId, other.Reports = request(), append(other.GetReports(), other.GetReports()[0])
	_, err = w.reports().BatchCreateReports(w.integration, other)
	expectField(t, err, "reports[1].report_id", "DUPLICATE")
}
