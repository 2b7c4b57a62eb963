// Package storetest gives tests a real PostgreSQL: one private server a test binary, one database a test.
//
// The first test that asks starts the server and migrates a template, named after the hash of the migrations; every
// test gets a copy of its files, which takes tens of milliseconds, and may run in parallel with all others. A package
// calls Main from its TestMain, so that the server ends with the tests.
package storetest

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"sync"
	"sync/atomic"
	"testing"

	"vernation/migrations"
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
	"vernation/server/internal/pgtemp"
	"vernation/server/internal/store"
)

// Epoch is the day on which every new Database stands, at 07:00 UTC: Monday 2 March 2026.
var Epoch = civil.NewDate(2026, 3, 2)

// Main runs a package's tests and ends the server that they used: func TestMain(m *testing.M) { storetest.Main(m) }.
func Main(m *testing.M) {
	code := m.Run()
	if err := stop(); err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
	os.Exit(code)
}

// template is a server with a migrated database to copy.
type template struct {
	server *pgtemp.Server
	name   string
}

var (
	running atomic.Pointer[pgtemp.Server]
	copies  atomic.Int64
	// prepared starts the server and migrates the template once.
	prepared = sync.OnceValues(func() (template, error) {
		ctx := context.Background()
		server, err := pgtemp.Start(ctx, pgtemp.Options{InMemory: true})
		if err != nil {
			return template{}, err
		}
		running.Store(server)
		hash, err := hashOfMigrations()
		if err != nil {
			return template{}, err
		}
		made := template{server: server, name: "template_" + hash}
		if err := server.CreateDatabase(ctx, made.name, ""); err != nil {
			return template{}, err
		}
		return made, store.Migrate(ctx, server.OwnerURL(made.name))
	})
)

// stop ends the server if one was started.
func stop() error {
	if server := running.Load(); server != nil {
		return server.Stop()
	}
	return nil
}

// hashOfMigrations names a schema.
func hashOfMigrations() (string, error) {
	sum := sha256.New()
	err := fs.WalkDir(migrations.FS, ".", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		content, err := fs.ReadFile(migrations.FS, path)
		fmt.Fprintf(sum, "%s %d\n", path, len(content))
		sum.Write(content)
		return err
	})
	return hex.EncodeToString(sum.Sum(nil))[:12], err
}

// Database is a test's own database with one business in it.
type Database struct {
	Store    *store.Store
	Clock    *firm.Clock   // stands at 07:00 UTC of Epoch until moved
	Business firm.Business // the business that is there already
	Office   firm.Caller   // its office
	OwnerURL string
	ServeURL string
}

// Empty returns the addresses of a new database without any schema.
func Empty(t testing.TB) (ownerURL, serveURL string) {
	t.Helper()
	return database(t, "")
}

// New returns a new database with the schema and one business, gone when the test ends.
func New(t testing.TB) *Database {
	t.Helper()
	d := open(t, migrated(t))
	d.Office = d.Add(t, d.Business)
	return d
}

// filling is a database that tests copy with what is stored in it.
type filling struct {
	sync.Once
	from string // "" until it is filled
}

var fillings sync.Map // name to *filling

// NewFrom is New with what fill stores, which is done once for all tests that ask under the same name. The clock of
// a copy is its own.
func NewFrom(t testing.TB, name string, fill func(testing.TB, *Database)) *Database {
	t.Helper()
	kept, _ := fillings.LoadOrStore(name, &filling{})
	f := kept.(*filling)
	f.Do(func() {
		made, from := migrated(t), "filled_"+name
		if err := made.server.CreateDatabase(context.Background(), from, made.name); err != nil {
			t.Fatal(err)
		}
		d := connect(t, made.server.OwnerURL(from), made.server.ServeURL(from))
		d.Office = d.Add(t, d.Business)
		fill(t, d)
		if err := d.Store.Close(); err != nil { // a database that somebody is connected to is not copied
			t.Fatal(err)
		}
		f.from = from
	})
	if f.from == "" {
		t.Fatalf("the database %s could not be filled: see the test that tried first", name)
	}
	d := open(t, template{server: migrated(t).server, name: f.from})
	d.Office = firm.Caller{Business: d.Business.ID, Subject: officeSubject, Role: firm.Office}
	return d
}

// migrated returns the server with its template of the schema.
func migrated(t testing.TB) template {
	t.Helper()
	made, err := prepared()
	if err != nil {
		t.Fatalf("starting the tests' database: %v", err)
	}
	return made
}

// open opens a copy of a template that goes when the test ends.
func open(t testing.TB, from template) *Database {
	t.Helper()
	ownerURL, serveURL := database(t, from.name)
	d := connect(t, ownerURL, serveURL)
	t.Cleanup(func() { _ = d.Store.Close() }) // the database goes with it
	return d
}

// connect opens the store of a database, with a clock that stands at Epoch.
func connect(t testing.TB, ownerURL, serveURL string) *Database {
	t.Helper()
	d := &Database{Clock: &firm.Clock{}, Business: Business("alpha"), OwnerURL: ownerURL, ServeURL: serveURL}
	d.Clock.Set(civil.Zone{}.At(Epoch, civil.NewClock(7, 0)))
	opened, err := store.Open(context.Background(), serveURL, d.Clock, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	d.Store = opened
	return d
}

// officeSubject names the office of every business here.
const officeSubject = "office-1"

// Add makes a further business and returns its office.
func (d *Database) Add(t testing.TB, b firm.Business) firm.Caller {
	t.Helper()
	if err := store.CreateBusiness(context.Background(), d.OwnerURL, b); err != nil {
		t.Fatal(err)
	}
	return firm.Caller{Business: b.ID, Subject: officeSubject, Role: firm.Office}
}

// database makes a database, copied from a template or, without one, bare.
func database(t testing.TB, from string) (ownerURL, serveURL string) {
	t.Helper()
	made := migrated(t)
	name := fmt.Sprintf("test_%d", copies.Add(1))
	if err := made.server.CreateDatabase(context.Background(), name, from); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := made.server.DropDatabase(context.Background(), name); err != nil {
			t.Error(err)
		}
	})
	return made.server.OwnerURL(name), made.server.ServeURL(name)
}

// Business returns a business with an id, in the zone America/New_York, its policy and rates left at zero.
func Business(id firm.BusinessID) firm.Business {
	zone, err := civil.LoadZone("America/New_York")
	if err != nil {
		panic(err)
	}
	return firm.Business{
		ID: id, Name: "Business " + string(id), Zone: zone, Currency: "USD", Rates: scheduler.Rates{},
		DetourPercent: 130, SpeedKMH: 40,
	}
}
