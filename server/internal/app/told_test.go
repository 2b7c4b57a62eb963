package app_test

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	"vernation/client"
	"vernation/scheduler/civil"
	"vernation/server/internal/app"
	"vernation/server/internal/calltest"
	"vernation/server/internal/demo"
	"vernation/server/internal/firm"
	"vernation/server/internal/identity"
	"vernation/server/internal/storetest"
	"vernation/testdata"
)

// told is a database in which the demo's story has been acted out, so that there is something of nearly everything: cases,
// plans, visits, reports, records. Two more businesses hold the same under names of their own.
type told struct {
	*storetest.Database
	keyFile string
}

// The businesses: sameIDs has the ids of the demo's, otherIDs has every id with otherMark before it. What people wrote
// begins with a mark in each.
const (
	sameIDs   = "same-rounds"
	otherIDs  = "other-rounds"
	sameMark  = "Samemark "
	otherMark = "Othermark "
)

// storyEnds is the firm's present instant when the story is told, in Unix seconds.
var storyEnds atomic.Int64

// openTold gives a copy of the database; the story is acted out once for all tests.
func openTold(t testing.TB) *told {
	t.Helper()
	w := &told{keyFile: filepath.Join(t.TempDir(), "key.pem")}
	w.Database = storetest.NewFrom(t, "told", tell)
	if _, err := identity.LoadOrMakeKeys(w.keyFile); err != nil {
		t.Fatal(err)
	}
	return w
}

// tell acts out the story in a database and copies its business.
func tell(t testing.TB, d *storetest.Database) {
	t.Helper()
	keyFile, clock := filepath.Join(t.TempDir(), "key.pem"), &firm.Clock{}
	if _, err := identity.LoadOrMakeKeys(keyFile); err != nil {
		t.Fatal(err)
	}
	if _, err := app.Load(t.Context(), d.OwnerURL, d.ServeURL, "demo.yaml", testdata.DemoBusiness, nil); err != nil {
		t.Fatal(err)
	}
	a, end := run(t, app.Config{DatabaseURL: d.ServeURL, KeyFile: keyFile, Planner: true, Clock: clock})
	ctx, fall := context.WithCancel(t.Context())
	defer fall()
	err := demo.Run(ctx, demo.Stage{
		Target: a.Address(), Out: curtain(fall),
		Token: func(caller firm.Caller) (string, error) { return a.Keys().Issue(caller, time.Hour) },
		SetClock: func(to time.Time) {
			storyEnds.Store(to.Unix())
			clock.Set(civil.InstantOf(to))
		},
	})
	if ctx.Err() == nil {
		t.Fatalf("the story did not come to its weeks after: %v", err)
	}
	twin(t, d, sameIDs, sameMark, "")
	twin(t, d, otherIDs, otherMark, "x-")
	for _, business := range others {
		readAll(t, a, dial(t, a), business)
	}
	if err := end(); err != nil {
		t.Fatal(err)
	}
}

// tenantTables are those with row security, and those that count what a business changed.
const tenantTables = `
SELECT c.oid::regclass::text
FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE c.relkind = 'r' AND (n.nspname = 'public' AND c.relrowsecurity OR n.nspname = 'queue' AND c.relname = 'change_count')
ORDER BY 1`

// ownIDs are what ids of the demo's business begin with, where they are no names of columns or fields.
const ownIDs = `"((?:businesses/[a-z-]+/)?(?:tech|client|offices|hotel|clinic|school(?!-or)|bistro|home|shop|bench|pothos|lily|dragon|fig|mealybugs|gnats)-[a-z0-9-]*)(?!["a-z0-9_-]*":)`

// curtain falls before the weeks after the story, which tell of more of the same: plans and cases are still under way.
type curtain func()

func (c curtain) Write(text []byte) (int, error) {
	if strings.Contains(string(text), "The weeks after") {
		c()
	}
	return len(text), nil
}

// twin copies all rows of the demo's business to another one: marks what people wrote, and puts a prefix before ids.
func twin(t testing.TB, d *storetest.Database, business, mark, prefix string) {
	t.Helper()
	rewrite := fmt.Sprintf(`regexp_replace(to_jsonb(s)::text, '"((name|note|notes|access_notes|text|by|number)": ")', '"\1%s', 'g')`, mark)
	if prefix != "" {
		rewrite = fmt.Sprintf(`regexp_replace(%s, '%s', '"%s\1', 'g')`, rewrite, ownIDs, prefix)
	}
	asAdmin(t, d, func(tx *sql.Tx) error {
		for _, table := range column(t, tx, tenantTables) {
			_, err := tx.Exec(fmt.Sprintf(`INSERT INTO %[1]s SELECT (jsonb_populate_record(NULL::%[1]s, replace(%[2]s, '"%[3]s"', '"%[4]s"')::jsonb)).* FROM %[1]s s WHERE business_id = '%[3]s'`,
				table, rewrite, demo.Business, business))
			if err != nil {
				return fmt.Errorf("copying %s: %w", table, err)
			}
		}
		return nil
	})
}

// asAdmin does something that neither row security nor constraints between tables hold up.
func asAdmin(t testing.TB, d *storetest.Database, do func(tx *sql.Tx) error) {
	t.Helper()
	db, err := sql.Open("postgres", strings.Replace(d.OwnerURL, "vernation_owner", "vernation_admin", 1))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	tx, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback() // without effect after a commit
	if _, err := tx.Exec(`SET LOCAL session_replication_role = replica`); err != nil {
		t.Fatal(err)
	}
	if err := do(tx); err != nil {
		t.Fatal(err)
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
}

// column reads a column of text.
func column(t testing.TB, tx *sql.Tx, query string, args ...any) (values []string) {
	t.Helper()
	rows, err := tx.Query(query, args...)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var value string
		if err := rows.Scan(&value); err != nil {
			t.Fatal(err)
		}
		values = append(values, value)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return values
}

// serve opens a server of the database; its clock stands where the story ended.
func (w *told) serve(t testing.TB, cfg app.Config) (*app.App, *client.Client) {
	t.Helper()
	if cfg.DatabaseURL == "" {
		cfg.DatabaseURL = w.ServeURL
	}
	cfg.KeyFile, cfg.Clock = w.keyFile, &firm.Clock{}
	cfg.Log = slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelError}))
	cfg.Clock.Set(civil.Instant(storyEnds.Load()))
	a, _ := run(t, cfg)
	return a, dial(t, a)
}

// people of a business: every kind of caller that a token can speak for, an office that has the right too among them.
func people(business string) map[string]firm.Caller {
	id, prefix := firm.BusinessID(business), ""
	if business == otherIDs {
		prefix = "x-"
	}
	return map[string]firm.Caller{
		"office":      {Business: id, Subject: "office", Role: firm.Office},
		"technician":  {Business: id, Subject: prefix + "tech-b", Role: firm.Technician, Technician: "tech-b"},
		"applicator":  {Business: id, Subject: prefix + "tech-a", Role: firm.Technician, Technician: "tech-a", ResponsibleApplicator: true},
		"integration": {Business: id, Subject: "program", Role: firm.Integration},
	}
}

// contexts carry tokens of people.
func contexts(t testing.TB, a *app.App, people map[string]firm.Caller) map[string]context.Context {
	t.Helper()
	carried := map[string]context.Context{}
	for name, caller := range people {
		token, err := a.Keys().Issue(caller, time.Hour)
		if err != nil {
			t.Fatal(err)
		}
		carried[name] = metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+token)
	}
	return carried
}

// pools are what the people of each business can read after the story. Nobody changes them.
var pools = map[string]*calltest.Pool{}

// maker makes requests of a business from all that its own people can read.
func maker(business string, seed uint64) *calltest.Maker {
	return &calltest.Maker{
		Pool: pools[business], Business: "businesses/" + business, Prefix: "n-", Now: time.Unix(storyEnds.Load(), 0).UTC(),
		Rand: rand.New(rand.NewPCG(seed, 1)),
	}
}

// readAll fills a business's pool.
func readAll(t testing.TB, a *app.App, c *client.Client, business string) {
	t.Helper()
	pools[business] = calltest.NewPool()
	m := maker(business, 1)
	m.Pool.HearName(m.Business)
	m.Pool.HearName(m.Business + "/policy")
	carried := contexts(t, a, people(business))
	for range 3 { // what a list names can be got, and lists something below it
		for _, method := range calltest.Methods() {
			if !method.Reads() || method.IsStreamingServer() {
				continue
			}
			for _, who := range []string{"office", "applicator", "applicator"} {
				answer, err := method.Call(carried[who], c.Conn(), m.Request(method))
				if err == nil {
					m.Pool.Hear(answer)
				}
			}
		}
	}
}

// answered says whether a method answered as it may: with what was asked for, or with why not.
func answered(err error) bool {
	switch status.Code(err) {
	case codes.Internal, codes.Unknown, codes.Unimplemented, codes.DataLoss, codes.DeadlineExceeded:
		return false
	}
	return true
}
