package main_test

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/timestamppb"

	"vernation/client"
	vernationv1 "vernation/proto/vernation/v1"
)

// kills is how often a server is killed while reports arrive; CI kills a hundred.
var kills = flag.Int("kills", 3, "servers killed while reports arrive")

const (
	applied  = 20 // one of so many reports tells of an application, all of the same case
	posters  = 4
	postFor  = 400 * time.Millisecond // at most, until the server is killed
	demoFirm = "businesses/demo-rounds"
)

// posting is what was posted: every report by its request, answered or not.
type posting struct {
	mutex    sync.Mutex
	answered map[string]*vernationv1.Report              // by request id
	waiting  map[string]*vernationv1.CreateReportRequest // posted and not answered: nobody knows
	made     int
}

// next is a report that nobody answered, or else a new one, of work that no plan knows.
func (p *posting) next() *vernationv1.CreateReportRequest {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	for id, request := range p.waiting { // taken, so that no two posters ask the same at once
		delete(p.waiting, id)
		return request
	}
	p.made++
	began := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC).Add(time.Duration(p.made%240) * time.Minute)
	item := &vernationv1.ReportedItem{Outcome: vernationv1.Outcome_OUTCOME_DONE, Plants: []string{demoFirm + "/plants/pothos-stairs"},
		Began: timestamppb.New(began.Add(time.Minute)), Ended: timestamppb.New(began.Add(5 * time.Minute)), ServiceKind: vernationv1.ServiceKind_SERVICE_KIND_WATERING}
	if p.made%applied == 1 {
		item.ServiceKind, item.FollowUpKind, item.Case = 0, vernationv1.FollowUpKind_FOLLOW_UP_KIND_APPLICATION, demoFirm+"/cases/killed"
		item.Application = &vernationv1.ApplicationMade{Product: demoFirm + "/products/soap", VesselId: "sprayer", Concentrate: "5/8 US fl oz",
			Volume: "32 US fl oz", Applied: "28 US fl oz", LeftWent: vernationv1.LeftoverWay_LEFTOVER_WAY_TAKEN_HOME}
	}
	request := &vernationv1.CreateReportRequest{Parent: demoFirm, RequestId: uuid.NewString(), ReportId: fmt.Sprintf("killed-%d", p.made),
		Report: &vernationv1.Report{
			Technician: demoFirm + "/technicians/tech-a", Site: demoFirm + "/sites/offices-alder-row", Items: []*vernationv1.ReportedItem{item},
			Arrived: timestamppb.New(began), Left: timestamppb.New(began.Add(10 * time.Minute)), ClientTime: timestamppb.New(began.Add(11 * time.Minute)),
		}}
	return request
}

// post posts reports until the server does not answer any more.
func (p *posting) post(t *testing.T, caller *client.Client) {
	for {
		request := p.next()
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		report, err := caller.Reports().CreateReport(ctx, request)
		cancel()
		p.mutex.Lock()
		if err == nil {
			p.answered[request.GetRequestId()] = report
		} else {
			p.waiting[request.GetRequestId()] = request
		}
		p.mutex.Unlock()
		switch status.Code(err) {
		case codes.OK:
		case codes.Unavailable:
			return
		default:
			t.Errorf("a report is refused: %v", err)
			return
		}
	}
}

// settle posts what nobody answered once more, to a server that stays.
func (p *posting) settle(t *testing.T, caller *client.Client) {
	t.Helper()
	for id, request := range p.waiting {
		report, err := caller.Reports().CreateReport(t.Context(), request)
		if err != nil {
			t.Fatalf("a report that nobody had answered is refused: %v", err)
		}
		p.answered[id] = report
	}
}

// open opens the case that applications are made for.
func open(t *testing.T, place place, token string) {
	t.Helper()
	_, caller := place.serve(t, token)
	_, err := caller.Findings().CreateFinding(t.Context(), &vernationv1.CreateFindingRequest{
		Parent: demoFirm, FindingId: "killed", RequestId: uuid.NewString(), Finding: &vernationv1.Finding{
			Pest: "citrus-mealybug", Certainty: vernationv1.Certainty_CERTAINTY_CONFIRMED, Life: vernationv1.Life_LIFE_LIVING, Severity: 1,
			Plants: []string{demoFirm + "/plants/pothos-stairs"}, SeenTime: timestamppb.New(time.Date(2026, 3, 2, 11, 0, 0, 0, time.UTC)),
		},
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Servers are killed at random moments while reports arrive: every report that was acknowledged is there, none is there
// twice, and neither is its application record.
func TestServe_NoAcknowledgedReportIsLostOrTwiceWhenServersAreKilled(t *testing.T) {
	t.Parallel()
	place := sharedPlace(t)
	code, token, log := call(t, "token", "--key-file", place.key, "--business", "demo-rounds", "--role", "office", "--subject", "office")
	if code != 0 {
		t.Fatalf("token ended with %d: %s", code, log)
	}
	token = strings.TrimSpace(token)
	posted := &posting{answered: map[string]*vernationv1.Report{}, waiting: map[string]*vernationv1.CreateReportRequest{}}
	open(t, place, token)
	unanswered := 0
	for range *kills {
		cmd, caller := place.serve(t, token)
		var posting sync.WaitGroup
		for range posters {
			posting.Go(func() { posted.post(t, caller) })
		}
		time.Sleep(rand.N(postFor))
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		posting.Wait()
		unanswered += len(posted.waiting)
		if t.Failed() {
			return
		}
	}
	_, caller := place.serve(t, token)
	posted.settle(t, caller)
	reports, records := stored(t, caller)
	if len(posted.answered) < *kills || len(reports) != len(posted.answered) {
		t.Errorf("%d reports were acknowledged, %d are there", len(posted.answered), len(reports))
	}
	for _, report := range posted.answered {
		name, want := report.GetName(), 0
		if report.GetItems()[0].GetApplication() != nil {
			want = 1
		}
		if reports[name] != 1 || records[name] != want {
			t.Errorf("%s was acknowledged: it is there %d times, with %d application records; want it once, with %d", name, reports[name], records[name], want)
		}
	}
	t.Logf("%d kills, %d reports acknowledged, %d times nobody knew", *kills, len(posted.answered), unanswered)
}

// stored counts the reports by name, and the application records by their report.
func stored(t *testing.T, caller *client.Client) (reports, records map[string]int) {
	t.Helper()
	reports, records = map[string]int{}, map[string]int{}
	for token := ""; ; {
		page, err := caller.Reports().ListReports(t.Context(), &vernationv1.ListReportsRequest{Parent: demoFirm, PageSize: 200, PageToken: token})
		if err != nil {
			t.Fatal(err)
		}
		for _, report := range page.GetReports() {
			reports[report.GetName()]++
		}
		if token = page.GetNextPageToken(); token == "" {
			break
		}
	}
	for token := ""; ; {
		page, err := caller.Records().ListApplicationRecords(t.Context(), &vernationv1.ListApplicationRecordsRequest{Parent: demoFirm, PageSize: 200, PageToken: token})
		if err != nil {
			t.Fatal(err)
		}
		for _, record := range page.GetApplicationRecords() {
			records[record.GetReport()]++
		}
		if token = page.GetNextPageToken(); token == "" {
			break
		}
	}
	return reports, records
}
