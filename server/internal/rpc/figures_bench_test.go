package rpc_test

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"net"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/identity"
	"vernation/server/internal/rpc"
	"vernation/server/internal/store"
)

// served is the demo's business behind a real socket.
type served struct {
	*firmtest.Works
	conn   *grpc.ClientConn
	office context.Context
}

func serveFirm(b testing.TB) served {
	b.Helper()
	s := served{Works: firmtest.Open(b)}
	keys, err := identity.GenerateKeys()
	if err != nil {
		b.Fatal(err)
	}
	server := rpc.NewServer(rpc.Frame{Keys: keys, Clock: s.Clock, Log: slog.New(slog.DiscardHandler)},
		[]rpc.Service{rpc.Reports(s.Store), rpc.DayRoutes(s.Store)})
	s.conn = dialled(b, server)
	token, err := keys.Issue(s.Office, time.Hour)
	if err != nil {
		b.Fatal(err)
	}
	s.office = metadata.AppendToOutgoingContext(b.Context(), "authorization", "Bearer "+token)
	return s
}

// dialled serves on a socket of its own until the benchmark ends and connects to it.
func dialled(b testing.TB, server *grpc.Server) *grpc.ClientConn {
	b.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	go func() { _ = server.Serve(listener) }() // it is stopped below
	conn, err := grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { conn.Close(); server.Stop() })
	return conn
}

func (s served) name(rest string) string { return "businesses/" + string(s.Business.ID) + "/" + rest }

// routine is a report of watering at a visit that no plan knows.
func (s served) routine(b *testing.B, i int) *vernationv1.ReportToCreate {
	b.Helper()
	sites := []string{"offices-alder-row", "hotel-quarry-square"}
	plants := []string{"plants/pothos-stairs", "plants/lily-reading"}
	arrived := s.At(b, "2026-03-02 07:00").Add(time.Duration(i%200) * time.Minute)
	stamp := func(after time.Duration) *timestamppb.Timestamp { return timestamppb.New(arrived.Add(after).Time()) }
	return &vernationv1.ReportToCreate{ReportId: fmt.Sprintf("r-%06d", i), Report: &vernationv1.Report{
		Technician: s.name("technicians/tech-a"), Site: s.name("sites/" + sites[i%2]), Arrived: stamp(0), Left: stamp(10 * time.Minute), ClientTime: stamp(10 * time.Minute),
		Items: []*vernationv1.ReportedItem{{
			ServiceKind: vernationv1.ServiceKind_SERVICE_KIND_WATERING, Outcome: vernationv1.Outcome_OUTCOME_DONE,
			Plants: []string{s.name(plants[i%2])}, Began: stamp(time.Minute), Ended: stamp(9 * time.Minute),
		}},
	}}
}

// A thousand reports of routine work in batches of 50 through the whole path, and the same rows (the report and what it
// changed) inserted bare, a transaction a report, into tables of the same form and indexes on the same database.
func BenchmarkReports_BatchesOf50ToBareInserts(b *testing.B) {
	const reports, size = 1000, 50
	for range b.N {
		s := serveFirm(b)
		client := vernationv1.NewReportServiceClient(s.conn)
		began := time.Now()
		for at := 0; at < reports; at += size {
			batch := &vernationv1.BatchCreateReportsRequest{Parent: "businesses/" + string(s.Business.ID), RequestId: uuid.NewString()}
			for i := at; i < at+size; i++ {
				batch.Reports = append(batch.Reports, s.routine(b, i))
			}
			answer, err := client.BatchCreateReports(s.office, batch)
			if err != nil || answer.GetRefusedCount() > 0 {
				b.Fatal(answer.GetResults()[0].GetError(), err)
			}
		}
		whole := time.Since(began)
		bare := bareReports(b, s)
		b.ReportMetric(reports/whole.Seconds(), "reports/s")
		b.ReportMetric(reports/bare.Seconds(), "bare/s")
		b.ReportMetric(bare.Seconds()/whole.Seconds(), "of-bare")
	}
}

// bareReports inserts the reports and their changes again, elsewhere, and says how long that took.
func bareReports(b *testing.B, s served) time.Duration {
	b.Helper()
	db, err := sql.Open("postgres", s.OwnerURL)
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	do := func(statement string, args ...any) {
		if _, err := db.ExecContext(b.Context(), statement, args...); err != nil {
			b.Fatal(err)
		}
	}
	do(`SELECT set_config('vernation.business', $1, false)`, string(s.Business.ID))
	do(`CREATE SCHEMA bare`)
	do(`CREATE TABLE bare.report (LIKE public.report INCLUDING ALL)`)
	do(`CREATE TABLE bare.change (LIKE public.change INCLUDING ALL)`)
	rows, err := db.QueryContext(b.Context(), `
WITH own AS (
	SELECT subject_id, position AS at, lead(position, 1, 1000000000) OVER (ORDER BY position) AS next FROM change WHERE noun = 'report'
)
SELECT to_jsonb(r)::text, (SELECT jsonb_agg(c) FROM change c WHERE c.position >= own.at AND c.position < own.next)::text
FROM report r JOIN own ON own.subject_id = r.report_id ORDER BY r.report_id`)
	if err != nil {
		b.Fatal(err)
	}
	defer rows.Close()
	var kept [][2]string
	for rows.Next() {
		var row [2]string
		if err := rows.Scan(&row[0], &row[1]); err != nil {
			b.Fatal(err)
		}
		kept = append(kept, row)
	}
	if err := rows.Err(); err != nil {
		b.Fatal(err)
	}
	began := time.Now()
	for _, row := range kept {
		tx, err := db.BeginTx(b.Context(), nil)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := tx.Exec(`INSERT INTO bare.report SELECT * FROM jsonb_populate_record(NULL::bare.report, $1::jsonb)`, row[0]); err != nil {
			b.Fatal(err)
		}
		if _, err := tx.Exec(`INSERT INTO bare.change SELECT * FROM jsonb_populate_recordset(NULL::bare.change, $1::jsonb)`, row[1]); err != nil {
			b.Fatal(err)
		}
		if err := tx.Commit(); err != nil {
			b.Fatal(err)
		}
	}
	return time.Since(began)
}

// bytesCodec answers with bytes as they are.
type bytesCodec struct{}

func (bytesCodec) Marshal(v any) ([]byte, error) { return *(v.(*[]byte)), nil }

func (bytesCodec) Unmarshal(data []byte, v any) error {
	return proto.Unmarshal(data, v.(proto.Message))
}

func (bytesCodec) Name() string { return "proto" }

// A day route of 25 work items, and a bare handler that answers with the same bytes after one query by a primary key.
func BenchmarkDayRoute_25ItemsToABareHandler(b *testing.B) {
	s := serveFirm(b)
	s.MoveClock(b, "2026-03-02 06:00")
	s.planDay(b)
	request := &vernationv1.GetDayRouteRequest{Name: s.name("technicians/tech-a/dayRoutes/2026-03-03")}
	answer, err := vernationv1.NewDayRouteServiceClient(s.conn).GetDayRoute(s.office, request)
	if err != nil {
		b.Fatal(err)
	}
	items := 0
	for _, visit := range answer.GetVisits() {
		items += len(visit.GetWorkItems())
	}
	if items != 25 {
		b.Fatalf("the day route has %d work items, want 25", items)
	}
	whole := vernationv1.NewDayRouteServiceClient(s.conn)
	bare := vernationv1.NewDayRouteServiceClient(bareRoute(b, s, answer))
	b.ResetTimer()
	var tookWhole, tookBare callsMade
	for left := b.N; left > 0; left -= turn { // by turns, so that what else the machine does meets both alike
		calls := min(left, turn)
		tookWhole.of(b, calls, func() error { _, err := whole.GetDayRoute(s.office, request); return err })
		tookBare.of(b, calls, func() error { _, err := bare.GetDayRoute(s.office, request); return err })
	}
	tookWhole.report(b, "whole")
	tookBare.report(b, "bare")
	b.ReportMetric(tookBare.whole.Seconds()/tookWhole.whole.Seconds(), "of-bare")
}

// turn is how many calls go to one of two servers before the other has its turn.
const turn = 500

// callsMade is how long calls from four callers at once took.
type callsMade struct {
	calls []time.Duration
	whole time.Duration
}

// of makes calls from four callers at once.
func (l *callsMade) of(b *testing.B, calls int, call func() error) {
	b.Helper()
	const callers = 4
	var next atomic.Int64
	took := make([]time.Duration, calls)
	var calling sync.WaitGroup
	began := time.Now()
	for range callers {
		calling.Go(func() {
			for i := next.Add(1) - 1; i < int64(calls); i = next.Add(1) - 1 {
				at := time.Now()
				if err := call(); err != nil {
					b.Error(err)
					return
				}
				took[i] = time.Since(at)
			}
		})
	}
	calling.Wait()
	l.whole += time.Since(began)
	l.calls = append(l.calls, took...)
}

// report states calls per second and the time that 99 of 100 stay below.
func (l *callsMade) report(b *testing.B, of string) {
	b.Helper()
	b.ReportMetric(float64(len(l.calls))/l.whole.Seconds(), of+"-calls/s")
	slices.Sort(l.calls)
	b.ReportMetric(float64(l.calls[len(l.calls)*99/100].Microseconds())/1000, of+"-p99-ms")
}

// planDay publishes a day of five visits with five work items each, at the sites of the two cases.
func (s served) planDay(b *testing.B) {
	b.Helper()
	sites := []site.ID{"offices-alder-row", "hotel-quarry-square"}
	areas := []site.AreaID{"offices-floor", "hotel-reading"}
	plants := []site.PlantID{"pothos-stairs", "lily-reading"}
	arrives := s.At(b, "2026-03-03 07:00")
	day := firm.Route{Technician: "tech-a", Day: civil.NewDate(2026, 3, 3), Departs: arrives.Add(-10 * time.Minute)}
	var visits []scheduler.Visit
	for v := range 5 {
		visit := scheduler.Visit{
			ID: scheduler.VisitID(fmt.Sprint("visit-", v)), State: scheduler.Published, Technician: "tech-a", Site: sites[v%2],
			Arrives: arrives, Leaves: arrives.Add(50 * time.Minute), SignIn: 5 * time.Minute,
		}
		for i := range 5 {
			begins := arrives.Add(time.Duration(5+8*i) * time.Minute)
			visit.Work = append(visit.Work, scheduler.WorkItem{
				Item: scheduler.ItemID(fmt.Sprintf("water-%s#%d", sites[v%2], 1+v*5+i)), Service: site.WateringService, Area: areas[v%2],
				Plants: []site.PlantID{plants[v%2]}, Begins: begins, Ends: begins.Add(8 * time.Minute), MixIndex: -1,
			})
		}
		visits = append(visits, visit)
		arrives = arrives.Add(time.Hour)
	}
	day.Returns = arrives
	s.In(b, s.Office, func(tx *store.Tx) error { return tx.ReplaceVisits(nil, visits, []firm.Route{day}, nil, "") })
}

// bareRoutes answers with what one query gives.
type bareRoutes struct {
	vernationv1.UnimplementedDayRouteServiceServer
	db *sql.DB
}

// bareRoute serves an answer from a table by its primary key, with nothing around it.
func bareRoute(b *testing.B, s served, answer *vernationv1.DayRoute) *grpc.ClientConn {
	b.Helper()
	owner, err := sql.Open("postgres", s.OwnerURL)
	if err != nil {
		b.Fatal(err)
	}
	defer owner.Close()
	body, err := proto.Marshal(answer)
	if err != nil {
		b.Fatal(err)
	}
	if _, err := owner.ExecContext(b.Context(), `CREATE TABLE answer (name text PRIMARY KEY, body bytea NOT NULL); GRANT SELECT ON answer TO vernation_serve`); err != nil {
		b.Fatal(err)
	}
	if _, err := owner.ExecContext(b.Context(), `INSERT INTO answer (name, body) VALUES ($1, $2)`, answer.GetName(), body); err != nil {
		b.Fatal(err)
	}
	db, err := sql.Open("postgres", s.ServeURL)
	if err != nil {
		b.Fatal(err)
	}
	db.SetMaxOpenConns(20)
	db.SetMaxIdleConns(20)
	b.Cleanup(func() { db.Close() })
	service := vernationv1.DayRouteService_ServiceDesc
	service.Methods = []grpc.MethodDesc{{MethodName: "GetDayRoute", Handler: func(server any, ctx context.Context, decode func(any) error, _ grpc.UnaryServerInterceptor) (any, error) {
		request := &vernationv1.GetDayRouteRequest{}
		if err := decode(request); err != nil {
			return nil, err
		}
		var body []byte
		err := server.(*bareRoutes).db.QueryRowContext(ctx, `SELECT body FROM answer WHERE name = $1`, request.GetName()).Scan(&body)
		return &body, err
	}}}
	server := grpc.NewServer(grpc.ForceServerCodec(bytesCodec{}))
	server.RegisterService(&service, &bareRoutes{db: db})
	return dialled(b, server)
}
