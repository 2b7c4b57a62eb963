package telemetry_test

import (
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	tracev1 "go.opentelemetry.io/proto/otlp/collector/trace/v1"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
	"vernation/server/internal/telemetry"
)

// sites knows no site.
type sites struct {
	vernationv1.UnimplementedSiteServiceServer
}

func (sites) GetSite(context.Context, *vernationv1.GetSiteRequest) (*vernationv1.Site, error) {
	return nil, status.Error(codes.NotFound, "there is none")
}

// serve starts a gRPC server and gives a connection to it, its address, and how to let its calls end.
func serve(t *testing.T, register func(*grpc.Server), options ...grpc.ServerOption) (*grpc.ClientConn, string, func()) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := grpc.NewServer(options...)
	register(server)
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	conn, err := grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		conn.Close()
		server.Stop()
		if err := <-served; err != nil {
			t.Errorf("Serve: %v", err)
		}
	})
	return conn, listener.Addr().String(), server.GracefulStop
}

// collector takes traces as a collector of OTLP does, over gRPC or as protobuf over HTTP.
type collector struct {
	tracev1.UnimplementedTraceServiceServer
	got chan *tracev1.ExportTraceServiceRequest
}

func (c collector) Export(_ context.Context, request *tracev1.ExportTraceServiceRequest) (*tracev1.ExportTraceServiceResponse, error) {
	c.got <- request
	return &tracev1.ExportTraceServiceResponse{}, nil
}

func (c collector) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	text, err := io.ReadAll(r.Body)
	request := &tracev1.ExportTraceServiceRequest{}
	if err := errors.Join(err, proto.Unmarshal(text, request)); err != nil || r.URL.Path != "/v1/traces" {
		http.Error(w, "no traces", http.StatusBadRequest)
		return
	}
	c.got <- request
	w.Header().Set("Content-Type", "application/x-protobuf")
}

// W3C Trace Context, section 3.2.2: the example of a traceparent.
const (
	traceID     = "4bf92f3577b34da6a3ce929d0e0e4736"
	traceparent = "00-" + traceID + "-00f067aa0ba902b7-01"
)

func TestTraces_ASpanOfEachCallGoesToTheCollectorThatTheEnvironmentNames(t *testing.T) {
	for _, protocol := range []string{"grpc", "http/protobuf"} {
		t.Run(protocol, func(t *testing.T) {
			c := collector{got: make(chan *tracev1.ExportTraceServiceRequest, 8)}
			over := httptest.NewServer(c)
			defer over.Close()
			endpoint := over.URL
			if protocol == "grpc" {
				_, address, _ := serve(t, func(s *grpc.Server) { tracev1.RegisterTraceServiceServer(s, c) })
				endpoint = "http://" + address
			}
			t.Setenv("OTEL_EXPORTER_OTLP_ENDPOINT", endpoint)
			t.Setenv("OTEL_EXPORTER_OTLP_PROTOCOL", protocol)
			traces, err := telemetry.OpenTraces(t.Context())
			if err != nil || traces == nil {
				t.Fatalf("OpenTraces = %v, %v", traces, err)
			}
			conn, _, stop := serve(t, func(s *grpc.Server) {
				vernationv1.RegisterSiteServiceServer(s, sites{})
				grpc_health_v1.RegisterHealthServer(s, health.NewServer())
			}, traces.Option())
			ctx := metadata.AppendToOutgoingContext(t.Context(), "traceparent", traceparent)
			if _, err := grpc_health_v1.NewHealthClient(conn).Check(ctx, &grpc_health_v1.HealthCheckRequest{}); err != nil {
				t.Fatal(err)
			}
			_, err = vernationv1.NewSiteServiceClient(conn).GetSite(ctx, &vernationv1.GetSiteRequest{Name: "businesses/secret-name/sites/x"})
			if status.Code(err) != codes.NotFound {
				t.Fatal(err)
			}
			stop() // a span ends after its answer has left
			if err := traces.Close(t.Context()); err != nil {
				t.Fatal(err)
			}
			close(c.got)
			var told string
			spans := 0
			for request := range c.got {
				told += prototext.Format(request)
				for _, of := range request.GetResourceSpans() {
					for _, scope := range of.GetScopeSpans() {
						for _, span := range scope.GetSpans() {
							spans++
							if name, id := span.GetName(), span.GetTraceId(); name != "vernation.v1.SiteService/GetSite" || !equalHex(id, traceID) {
								t.Errorf("a span %s of trace %x, want GetSite's of %s", name, id, traceID)
							}
						}
					}
				}
			}
			if spans != 1 || !strings.Contains(told, `"vernation"`) || strings.Contains(told, "secret-name") {
				t.Errorf("%d spans, want one of the service vernation that says nothing of the request:\n%s", spans, told)
			}
		})
	}
}

func equalHex(id []byte, hex string) bool {
	const digits = "0123456789abcdef"
	var text strings.Builder
	for _, b := range id {
		text.WriteByte(digits[b>>4])
		text.WriteByte(digits[b&15])
	}
	return text.String() == hex
}

func TestTraces_StayOffUnlessTheEnvironmentSaysWhere(t *testing.T) {
	for name, set := range map[string][2]string{
		"nothing set": {"OTEL_SERVICE_NAME", "x"}, "switched off": {"OTEL_SDK_DISABLED", "true"}, "no exporter": {"OTEL_TRACES_EXPORTER", "none"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "")
			if name != "nothing set" {
				t.Setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://127.0.0.1:1")
			}
			t.Setenv(set[0], set[1])
			if traces, err := telemetry.OpenTraces(t.Context()); traces != nil || err != nil {
				t.Errorf("OpenTraces = %v, %v; want none", traces, err)
			}
		})
	}
	t.Setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://127.0.0.1:1")
	t.Setenv("OTEL_EXPORTER_OTLP_PROTOCOL", "smoke")
	if _, err := telemetry.OpenTraces(t.Context()); err == nil || !strings.Contains(err.Error(), "want grpc or http/protobuf") {
		t.Errorf("an unknown protocol: %v", err)
	}
}

// away is a queue that does not answer.
type away struct{ telemetry.Source }

func (away) Waiting(context.Context) (store.Waiting, error) {
	return store.Waiting{}, errors.New("the database is away")
}

func scrape(t *testing.T, source telemetry.Source) string {
	t.Helper()
	answer := httptest.NewRecorder()
	telemetry.NewMeasures(source).Handler().ServeHTTP(answer, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/metrics", nil))
	if answer.Code != http.StatusOK {
		t.Fatalf("%d %s", answer.Code, answer.Body)
	}
	return answer.Body.String()
}

func wantLines(t *testing.T, measures string, lines ...string) {
	t.Helper()
	for _, line := range lines {
		if !strings.Contains("\n"+measures, "\n"+line+"\n") {
			t.Errorf("want %q among the measures:\n%s", line, measures)
		}
	}
}

func TestMeasures_CountWhatWaitsAndWhatIsWorkedOn(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	wantLines(t, scrape(t, d.Store), `vernation_plan_runs{state="waiting"} 0`, "vernation_plan_run_wait_seconds 0", "vernation_queue_answers 1")
	queueRun(t, d)
	wantLines(t, scrape(t, d.Store), `vernation_plan_runs{state="waiting"} 1`, `vernation_plan_runs{state="working"} 0`,
		`vernation_queue_depth{kind="plan_run",state="available"} 1`)
	begun, end := make(chan struct{}), make(chan struct{})
	working, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- d.Store.Work(working, worker(d, begun, end), store.WorkOptions{Name: "w", Poll: 20 * time.Millisecond})
	}()
	select {
	case <-begun:
	case <-time.After(20 * time.Second):
		t.Fatal("the run is not taken up")
	}
	wantLines(t, scrape(t, d.Store), `vernation_plan_runs{state="waiting"} 0`, `vernation_plan_runs{state="working"} 1`, "vernation_plan_rounds_total 70")
	close(end)
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	wantLines(t, scrape(t, away{d.Store}), "vernation_queue_answers 0", "vernation_pool_connections_most 20")
}

// queueRun queues a plan run.
func queueRun(t *testing.T, d *storetest.Database) {
	t.Helper()
	err := d.Store.In(t.Context(), d.Office, func(tx *store.Tx) error {
		if err := tx.InsertPlanRun(firm.PlanRun{ID: "run-1", FirstDay: storetest.Epoch, Days: 7, Iterations: 100, CreatedAt: tx.Now()}); err != nil {
			return err
		}
		return tx.EnqueueRun("run-1")
	})
	if err != nil {
		t.Fatal(err)
	}
}

// worker does 30 rounds, then 70, and waits for the end.
func worker(d *storetest.Database, begun, end chan struct{}) store.Worker {
	return func(ctx context.Context, business firm.BusinessID, run string, attempt int) error {
		for _, rounds := range []int{30, 70} {
			err := d.Store.In(ctx, d.Office, func(tx *store.Tx) error {
				_, err := tx.UpdateRunProgress(run, attempt, store.RunProgress{IterationsDone: rounds})
				return err
			})
			if err != nil {
				return err
			}
		}
		close(begun)
		<-end
		return d.Store.In(ctx, d.Office, func(tx *store.Tx) error { return tx.FinishRun(run, attempt, firm.RunCancelled, "", "") })
	}
}
