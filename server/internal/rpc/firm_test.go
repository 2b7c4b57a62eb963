package rpc_test

import (
	"context"
	"log/slog"
	"net"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/feed"
	"vernation/server/internal/firm"
	"vernation/server/internal/identity"
	"vernation/server/internal/load"
	"vernation/server/internal/planning"
	"vernation/server/internal/rpc"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// The cases of the firm, named after the findings that open them.
const (
	mealybugs course.CaseID = "mealybugs" // on pothos-stairs and pothos-printer, in an office that is empty at night
	gnats     course.CaseID = "gnats"     // on lily-reading, in a reading room that is empty from 11:00
)

// works is a firm at work: two sites and the bench of the demo's business with two open and approved cases, served
// over a socket, with a worker that makes its plans. It is Monday 2 March 2026, 07:00 in the firm's zone.
type works struct {
	*storetest.Database
	keys *identity.Keys
	conn *grpc.ClientConn
	// Contexts of callers with tokens of their own; tech-a holds the licence for the products of both cases.
	office, techA, techB, integration context.Context
	zone                              civil.Zone
	ending                            chan struct{} // closes when the server ends
}

// openWorks opens one; changes are made to its file before it is stored.
func openWorks(t *testing.T, changes ...func(*load.File)) *works {
	t.Helper()
	w := &works{Database: storetest.New(t)}
	w.load(t, changes)
	w.Clock.Set(w.at(t, "2026-03-02 07:00"))
	w.open(t)
	w.serve(t)
	return w
}

// load stores the sites that the cases are at with a few of their plants, and the bench.
func (w *works) load(t *testing.T, changes []func(*load.File)) {
	t.Helper()
	text, err := os.ReadFile("../../../testdata/demo.yaml")
	if err != nil {
		t.Fatal(err)
	}
	file, err := load.Read("demo.yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	kept := []site.ID{"offices-alder-row", "hotel-quarry-square", "bench-tannery-yard"}
	plants := []site.PlantID{"pothos-stairs", "pothos-printer", "fig-window", "lily-reading", "dragon-reading"}
	file.Sites = slices.DeleteFunc(file.Sites, func(s site.Site) bool { return !slices.Contains(kept, s.ID) })
	file.Plants = slices.DeleteFunc(file.Plants, func(p site.Plant) bool { return !slices.Contains(plants, p.ID) })
	file.Services = slices.DeleteFunc(file.Services, func(s site.Service) bool { return !slices.Contains(kept, s.Site) })
	for i, service := range file.Services {
		file.Services[i].Groups = slices.DeleteFunc(service.Groups, func(g site.Group) bool { return !slices.Contains(plants, g.Plant) })
	}
	file.Services = slices.DeleteFunc(file.Services, func(s site.Service) bool { return len(s.Groups) == 0 })
	for _, change := range changes {
		change(file)
	}
	business, err := file.Firm()
	if err != nil {
		t.Fatal(err)
	}
	w.Business, w.zone = business, business.Zone
	w.Office = w.Add(t, business)
	if err := w.Store.In(t.Context(), w.Office, file.Store); err != nil {
		t.Fatal(err)
	}
}

// open records the findings and approves the courses that follow.
func (w *works) open(t *testing.T) {
	t.Helper()
	applicator := w.crew("tech-a", true)
	for _, found := range []struct {
		id     course.CaseID
		pest   string
		at     site.ID
		plants []site.PlantID
	}{
		{mealybugs, "citrus-mealybug", "offices-alder-row", []site.PlantID{"pothos-stairs", "pothos-printer"}},
		{gnats, "fungus-gnat", "hotel-quarry-square", []site.PlantID{"lily-reading"}},
	} {
		err := w.Store.In(t.Context(), applicator, func(tx *store.Tx) error {
			finding := course.Finding{Pest: catalogue.PestID(found.pest), Certainty: course.Confirmed, Life: course.Living, Severity: 2, Plants: found.plants}
			_, present, err := casework.RecordFinding(tx, casework.NewFinding{ID: string(found.id), Site: found.at, At: tx.Now(), Finding: finding})
			if err != nil {
				return err
			}
			approval := course.Approval{Product: present.Chosen, Ways: []course.WayKind{course.InPlace, course.AtTreatmentPlace, course.ShutsNothing}}
			_, _, err = casework.Approve(tx, casework.Decision{ID: string(found.id), Case: found.id, Approval: approval})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

func (w *works) crew(id scheduler.TechnicianID, applicator bool) firm.Caller {
	return firm.Caller{Business: w.Business.ID, Subject: string(id), Role: firm.Technician, Technician: id, ResponsibleApplicator: applicator}
}

// serve starts the server and the worker; both end with the test.
func (w *works) serve(t *testing.T) {
	t.Helper()
	var err error
	if w.keys, err = identity.GenerateKeys(); err != nil {
		t.Fatal(err)
	}
	w.ending = make(chan struct{})
	services := []rpc.Service{rpc.Plans(w.Store), rpc.Visits(w.Store), rpc.DayRoutes(w.Store), rpc.Reports(w.Store), rpc.Records(w.Store), rpc.Technicians(w.Store),
		rpc.Absences(w.Store), rpc.Holidays(w.Store), rpc.Policies(w.Store), rpc.Lots(w.Store), rpc.Products(w.Store),
		rpc.AccessSecrets(w.Store), rpc.Stamps(w.Store),
		rpc.Changes(w.Store, w.ending), rpc.Webhooks(w.Store, feed.Reach{})}
	server := rpc.NewServer(rpc.Frame{Keys: w.keys, Clock: w.Clock, Log: slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelError}))}, services)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	if w.conn, err = grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials())); err != nil {
		t.Fatal(err)
	}
	working, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	ended := make(chan error, 2)
	go func() { ended <- server.Serve(listener) }()
	go func() {
		ended <- w.Store.Work(working, planning.Worker(w.Store, planning.Roads{}), store.WorkOptions{Name: "worker-1", Poll: 20 * time.Millisecond})
	}()
	t.Cleanup(func() {
		w.conn.Close()
		server.Stop()
		stop()
		for range 2 {
			if err := <-ended; err != nil {
				t.Errorf("the server ended with %v", err)
			}
		}
	})
	b := bundle{keys: w.keys}
	w.office, w.techA, w.techB = b.as(t, w.Office), b.as(t, w.crew("tech-a", true)), b.as(t, w.crew("tech-b", false))
	w.integration = b.as(t, firm.Caller{Business: w.Business.ID, Subject: "int-1", Role: firm.Integration})
}

func (w *works) plans() vernationv1.PlanServiceClient {
	return vernationv1.NewPlanServiceClient(w.conn)
}

func (w *works) visits() vernationv1.VisitServiceClient {
	return vernationv1.NewVisitServiceClient(w.conn)
}

func (w *works) reports() vernationv1.ReportServiceClient {
	return vernationv1.NewReportServiceClient(w.conn)
}

func (w *works) dayRoutes() vernationv1.DayRouteServiceClient {
	return vernationv1.NewDayRouteServiceClient(w.conn)
}

func (w *works) technicians() vernationv1.TechnicianServiceClient {
	return vernationv1.NewTechnicianServiceClient(w.conn)
}

func (w *works) absences() vernationv1.AbsenceServiceClient {
	return vernationv1.NewAbsenceServiceClient(w.conn)
}

func (w *works) holidays() vernationv1.HolidayServiceClient {
	return vernationv1.NewHolidayServiceClient(w.conn)
}

func (w *works) products() vernationv1.ProductServiceClient {
	return vernationv1.NewProductServiceClient(w.conn)
}

func (w *works) lots() vernationv1.LotServiceClient {
	return vernationv1.NewLotServiceClient(w.conn)
}

func (w *works) policies() vernationv1.PolicyServiceClient {
	return vernationv1.NewPolicyServiceClient(w.conn)
}

func (w *works) records() vernationv1.RecordServiceClient {
	return vernationv1.NewRecordServiceClient(w.conn)
}

func (w *works) webhooks() vernationv1.WebhookServiceClient {
	return vernationv1.NewWebhookServiceClient(w.conn)
}

func (w *works) changes() vernationv1.ChangeServiceClient {
	return vernationv1.NewChangeServiceClient(w.conn)
}

// name writes the name of something of the business.
func (w *works) name(rest string) string {
	if rest == "" {
		return "businesses/" + string(w.Business.ID)
	}
	return "businesses/" + string(w.Business.ID) + "/" + rest
}

// at reads a wall-clock time of the firm's zone, such as "2026-03-02 07:00".
func (w *works) at(t *testing.T, text string) civil.Instant {
	t.Helper()
	when, err := time.ParseInLocation("2006-01-02 15:04", text, w.zone.Location())
	if err != nil {
		t.Fatal(err)
	}
	return civil.InstantOf(when)
}

func (w *works) stamp(t *testing.T, text string) *timestamppb.Timestamp {
	t.Helper()
	return timestamppb.New(w.at(t, text).Time())
}

// atStamp reads a timestamp.
func (w *works) atStamp(stamp *timestamppb.Timestamp) civil.Instant {
	return civil.InstantOf(stamp.AsTime())
}

// request makes a new request id.
func request() string { return uuid.NewString() }

// makePlan asks for a plan over so many days from today and waits for it.
func (w *works) makePlan(t *testing.T, days int32) *vernationv1.Plan {
	t.Helper()
	run, err := w.plans().CreatePlan(w.office, &vernationv1.CreatePlanRequest{Parent: w.name(""), Days: days, MaxIterations: 20, RequestId: request()})
	if err != nil {
		t.Fatal(err)
	}
	return w.plan(t, w.await(t, run).GetPlan())
}

// publish makes a plan's visits real.
func (w *works) publish(t *testing.T, plan *vernationv1.Plan) *vernationv1.Plan {
	t.Helper()
	published, err := w.plans().PublishPlan(w.office, &vernationv1.PublishPlanRequest{Name: plan.GetName(), Etag: plan.GetEtag(), RequestId: request()})
	if err != nil {
		t.Fatal(err)
	}
	return published
}

// book pins a follow-up on tech-a.
func (w *works) book(t *testing.T, item, begins string) *vernationv1.Visit {
	t.Helper()
	visit, err := w.plans().BookFollowUp(w.office, &vernationv1.BookFollowUpRequest{
		Parent: w.name(""), Item: item, Technician: w.name("technicians/tech-a"), Begins: w.stamp(t, begins), RequestId: request(),
	})
	if err != nil {
		t.Fatal(err)
	}
	return visit
}

// visitOf finds the visit of a plan that holds an item, and its work on it.
func visitOf(t *testing.T, plan *vernationv1.Plan, item string) (*vernationv1.Visit, *vernationv1.WorkItem) {
	t.Helper()
	for _, route := range plan.GetRoutes() {
		for _, visit := range route.GetVisits() {
			for _, work := range visit.GetWorkItems() {
				if work.GetItem() == item {
					return visit, work
				}
			}
		}
	}
	t.Fatalf("the plan does not hold %s; unplanned: %v", item, plan.GetUnplanned())
	return nil, nil
}

// expectField wants a request refused for one of its fields.
func expectField(t *testing.T, err error, path, reason string) {
	t.Helper()
	expect(t, err, codes.InvalidArgument, "INVALID_FIELDS")
	for _, field := range detail[*errdetails.BadRequest](t, err).GetFieldViolations() {
		if field.GetField() == path && field.GetReason() == reason {
			return
		}
	}
	t.Errorf("%v: want field %s, reason %s", detail[*errdetails.BadRequest](t, err), path, reason)
}

// expectRule wants a deed refused by a rule.
func expectRule(t *testing.T, err error, reason, rule string) {
	t.Helper()
	expect(t, err, codes.FailedPrecondition, reason)
	for _, broken := range detail[*errdetails.PreconditionFailure](t, err).GetViolations() {
		if broken.GetType() == rule {
			return
		}
	}
	t.Errorf("%v: want %s", detail[*errdetails.PreconditionFailure](t, err), rule)
}
