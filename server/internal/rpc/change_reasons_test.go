package rpc_test

import (
	"testing"

	vernationv1 "vernation/proto/vernation/v1"
)

// watchFirst asks for a stream and gives its first failure.
func (w *works) watchFirst(t *testing.T, technician, token string, office bool) error {
	ctx := w.office
	if !office {
		ctx = w.techB
	}
	stream, err := w.changes().WatchDayRoutes(ctx, &vernationv1.WatchDayRoutesRequest{Parent: w.name("technicians/" + technician), ResumeToken: token})
	if err == nil {
		_, err = stream.Recv()
	}
	return err
}

var changeRefusals = []workRefusal{
	{"ListChanges", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.changes().ListChanges(w.office, &vernationv1.ListChangesRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
	{"WatchDayRoutes", "INVALID_ARGUMENT RESUME_TOKEN_INVALID", func(t *testing.T, w *works, _ *vernationv1.Visit) error {
		return w.watchFirst(t, "tech-a", "page-2", true)
	}},
	{"WatchDayRoutes", "NOT_FOUND NOT_FOUND", func(t *testing.T, w *works, _ *vernationv1.Visit) error {
		return w.watchFirst(t, "none", "", true)
	}},
	{"WatchDayRoutes", "PERMISSION_DENIED NOT_YOUR_DAY_ROUTE", func(t *testing.T, w *works, _ *vernationv1.Visit) error {
		return w.watchFirst(t, "tech-a", "", false)
	}},
	{"WatchDayRoutes", "UNAVAILABLE SERVER_ENDS", func(t *testing.T, _ *works, _ *vernationv1.Visit) error {
		w := openWorks(t)
		stream := w.watch(t, w.techA, "")
		if _, err := stream.stream.Recv(); err != nil {
			t.Fatal(err)
		}
		close(w.ending)
		_, err := stream.next()
		return err
	}},
	{"AcknowledgeChanges", "NOT_FOUND NOT_FOUND", acknowledging("none", true)},
	{"AcknowledgeChanges", "NOT_FOUND CHANGE_NOT_FOUND", acknowledging("tech-a", true)},
	{"AcknowledgeChanges", "PERMISSION_DENIED NOT_YOUR_DAY_ROUTE", acknowledging("tech-a", false)},
	{"ListUnacknowledgedChanges", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.changes().ListUnacknowledgedChanges(w.office, &vernationv1.ListUnacknowledgedChangesRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
	{"ListUnacknowledgedChanges", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.changes().ListUnacknowledgedChanges(w.office, &vernationv1.ListUnacknowledgedChangesRequest{Parent: w.name(""), Technician: w.name("technicians/none")})
		return err
	}},
	{"BatchCreateReports", "INVALID_ARGUMENT DUPLICATE", func(t *testing.T, w *works, visit *vernationv1.Visit) error {
		item := &vernationv1.ReportToCreate{ReportId: "twin", Report: w.drench(t, "twin", visit).GetReport()}
		_, err := w.reports().BatchCreateReports(w.office, &vernationv1.BatchCreateReportsRequest{Parent: w.name(""), RequestId: request(), Reports: []*vernationv1.ReportToCreate{item, item}})
		return err
	}},
	{"CreateReport", "ALREADY_EXISTS EXTERNAL_ID_TAKEN", func(t *testing.T, w *works, _ *vernationv1.Visit) error {
		report := func(id, note string) error {
			_, err := w.reports().CreateReport(w.office, &vernationv1.CreateReportRequest{Parent: w.name(""), RequestId: request(), ReportId: id, Report: &vernationv1.Report{
				Technician: w.name("technicians/tech-b"), Site: w.name("sites/offices-alder-row"), Arrived: w.stamp(t, "2026-03-02 09:00"),
				Left: w.stamp(t, "2026-03-02 09:10"), ClientTime: w.stamp(t, "2026-03-02 09:10"), Note: note, ExternalId: "X-7",
			}})
			return err
		}
		if err := report("first-of-x", "Looked in."); err != nil {
			t.Fatal(err)
		}
		return report("second-of-x", "Did not.")
	}},
}

// acknowledging acknowledges a change that there is not, as the office or as tech-b.
func acknowledging(technician string, office bool) func(*testing.T, *works, *vernationv1.Visit) error {
	return func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		ctx := w.office
		if !office {
			ctx = w.techB
		}
		_, err := w.changes().AcknowledgeChanges(ctx, &vernationv1.AcknowledgeChangesRequest{
			Parent: w.name("technicians/" + technician), Changes: []string{w.name("changes/0000000000999999")}, RequestId: request(),
		})
		return err
	}
}
