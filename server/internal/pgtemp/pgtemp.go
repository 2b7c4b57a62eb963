package pgtemp

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/lib/pq"
	"github.com/lib/pq/pqerror"
)

// The database and the roles of every private server.
const (
	Database  = "vernation"
	OwnerRole = "vernation_owner" // owns the database and what is in it
	ServeRole = "vernation_serve" // serves, owns nothing, is bound by row security

	admin = "vernation_admin" // the superuser; its address never leaves this package
)

// startWithin bounds the wait for a start, stopWithin that for an end.
const (
	startWithin = 60 * time.Second
	stopWithin  = 30 * time.Second
)

// Options say what kind of database to start.
type Options struct {
	// Dir keeps the data there, durably; "" is throw-away: data go with the server.
	Dir string
	// InMemory puts throw-away data into memory where the machine has a gigabyte of room for files there: for tests,
	// which make many databases. Making one takes a twentieth of the time then.
	InMemory bool
	// Log hears of starts, ends and stale folders; nil is nobody.
	Log *slog.Logger
}

// Server is a running private PostgreSQL.
type Server struct {
	binaries binaries
	account  account
	folder   string // of this run: socket, log, owner's file
	data     string
	cmd      *exec.Cmd
	leash    io.Closer // closing it ends the server
	ended    chan error
	stop     sync.Once
	stopErr  error
	log      *slog.Logger
}

// Start starts a private PostgreSQL with its database and roles, and waits until it answers. The caller calls Stop.
// The error names what is missing: the programs, a user to run as, the right to use the folder.
func Start(ctx context.Context, options Options) (*Server, error) {
	log := options.Log
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	if options.Dir != "" {
		absolute, err := filepath.Abs(options.Dir) // the server runs in another folder
		if err != nil {
			return nil, fmt.Errorf("finding the data folder %s: %w", options.Dir, err)
		}
		options.Dir = absolute
	}
	removeStale(log)
	as, err := chooseAccount()
	if err != nil {
		return nil, err
	}
	major, err := majorOfData(options.Dir)
	if err != nil {
		return nil, err
	}
	programs, err := findBinaries(major)
	if err != nil {
		return nil, err
	}
	folder, err := newFolder(as, options.InMemory && options.Dir == "")
	if err != nil {
		return nil, err
	}
	s := &Server{binaries: programs, account: as, folder: folder, data: filepath.Join(folder, "data"), log: log, ended: make(chan error, 1)}
	if options.Dir != "" {
		s.data = options.Dir
	}
	if err := s.bring(ctx, options.Dir != "", major != 0); err != nil {
		return nil, errors.Join(err, s.Stop(), os.RemoveAll(folder))
	}
	log.Info("private database started", "version", programs.major, "data", s.data, "kept", options.Dir != "")
	return s, nil
}

// bring makes the data folder where there is none, starts the server on it and sees to roles and database.
func (s *Server) bring(ctx context.Context, kept, made bool) error {
	if !made {
		if err := s.initialise(kept); err != nil {
			return err
		}
	}
	if err := s.launch(kept); err != nil {
		return err
	}
	if err := s.await(ctx); err != nil {
		return err
	}
	return s.prepare(ctx)
}

// majorOfData returns the major version that wrote a data folder; 0 when it holds none yet.
func majorOfData(dir string) (int, error) {
	if dir == "" {
		return 0, nil
	}
	text, err := os.ReadFile(filepath.Join(dir, "PG_VERSION"))
	if errors.Is(err, os.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("reading the data folder %s: %w", dir, err)
	}
	major, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		return 0, fmt.Errorf("the data folder %s has a PG_VERSION of %q, not a PostgreSQL version", dir, text)
	}
	return major, nil
}

// initialise makes an empty data folder.
func (s *Server) initialise(kept bool) error {
	if err := os.MkdirAll(s.data, 0o700); err != nil {
		return fmt.Errorf("making the data folder: %w", err)
	}
	entries, err := os.ReadDir(s.data)
	if err != nil {
		return fmt.Errorf("reading the data folder: %w", err)
	}
	if len(entries) > 0 {
		return fmt.Errorf("the data folder %s holds something else than a PostgreSQL database; name an empty or new folder", s.data)
	}
	if err := s.account.give(s.data); err != nil {
		return err
	}
	args := []string{"-D", s.data, "-U", admin, "-A", "trust", "--locale=C", "-E", "UTF8"}
	if !kept {
		args = append(args, "--no-sync")
	}
	cmd := s.account.run(s.binaries.program("initdb"), args...)
	cmd.Dir = s.folder
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("making a database in %s: %w: %s", s.data, err, strings.TrimSpace(string(out)))
	}
	return nil
}

// watchdog runs the server until its standard input ends, that is until the process that started it closes the
// pipe or dies. $1 is the signal that ends the server, $2 the folder to remove afterwards.
const watchdog = `signal=$1; folder=$2; shift 2
"$@" </dev/null >"$folder/log" 2>&1 &
server=$!
read -r _
kill -s "$signal" "$server" 2>/dev/null
wait "$server"
cd / && rm -rf "$folder"`

// launch starts the watchdog with the server under it.
func (s *Server) launch(kept bool) error {
	signal := "QUIT" // at once: nobody will read the data again
	args := []string{
		s.binaries.program("postgres"), "-D", s.data, "-k", s.folder,
		"-c", "listen_addresses=", "-c", "port=5432", "-c", "unix_socket_permissions=0700", "-c", "max_connections=200",
	}
	if kept {
		signal = "INT" // a fast shutdown writes everything down
	} else {
		args = append(args, "-c", "fsync=off", "-c", "synchronous_commit=off", "-c", "full_page_writes=off",
			"-c", "min_wal_size=32MB", "-c", "max_wal_size=128MB")
	}
	cmd := s.account.run("/bin/sh", append([]string{"-c", watchdog, "vernation-watchdog", signal, s.folder}, args...)...)
	cmd.Dir = s.folder
	leash, err := cmd.StdinPipe()
	if err != nil {
		return fmt.Errorf("making the watchdog's pipe: %w", err)
	}
	if err := cmd.Start(); err != nil {
		return fmt.Errorf("starting the watchdog of the private database: %w", err)
	}
	s.cmd, s.leash = cmd, leash
	go func() { s.ended <- cmd.Wait() }()
	return nil
}

// await waits until the server answers.
func (s *Server) await(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, startWithin)
	defer cancel()
	db, err := sql.Open("postgres", s.url(admin, "postgres"))
	if err != nil {
		return fmt.Errorf("opening the private database: %w", err)
	}
	defer db.Close()
	for {
		err := db.PingContext(ctx)
		if err == nil {
			return nil
		}
		said, gaveUp := s.gaveUp()
		if gaveUp && strings.Contains(said, "postmaster.pid") {
			return fmt.Errorf("another server runs on the data folder %s: end that one first", s.data)
		}
		if ctx.Err() != nil || gaveUp {
			return fmt.Errorf("the private database on %s did not start: %w: %s", s.data, err, said)
		}
		time.Sleep(10 * time.Millisecond)
	}
}

// gaveUp returns what the server has logged and whether that was its end: it said why and holds the data folder no
// more, or another server holds it.
func (s *Server) gaveUp() (said string, ended bool) {
	text, _ := os.ReadFile(filepath.Join(s.folder, "log"))
	said = strings.TrimSpace(string(text))
	if strings.Contains(said, `lock file "postmaster.pid" already exists`) {
		return said, true
	}
	_, err := os.Stat(filepath.Join(s.data, "postmaster.pid"))
	return said, strings.Contains(said, "FATAL:") && errors.Is(err, os.ErrNotExist)
}

// prepare makes roles and database where a kept folder does not have them yet.
func (s *Server) prepare(ctx context.Context) error {
	db, err := sql.Open("postgres", s.url(admin, "postgres"))
	if err != nil {
		return fmt.Errorf("opening the private database: %w", err)
	}
	defer db.Close()
	for _, role := range []string{OwnerRole, ServeRole} {
		statement := "CREATE ROLE " + role + " LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS"
		if err := ignoring("42710", db, ctx, statement); err != nil {
			return fmt.Errorf("making role %s: %w", role, err)
		}
	}
	if err := ignoring("42P04", db, ctx, "CREATE DATABASE "+Database+" OWNER "+OwnerRole); err != nil {
		return fmt.Errorf("making database %s: %w", Database, err)
	}
	return nil
}

// ignoring runs a statement and forgives one SQLSTATE: that what it makes exists already.
func ignoring(state pqerror.Code, db *sql.DB, ctx context.Context, statement string) error {
	_, err := db.ExecContext(ctx, statement)
	var refused *pq.Error
	if errors.As(err, &refused) && refused.Code == state {
		return nil
	}
	return err
}

// CreateDatabase makes a further database of the owner's, as a copy of a template ("" is an empty one). The copy is
// of files, which is quickest where nothing waits for the disk.
func (s *Server) CreateDatabase(ctx context.Context, name, template string) error {
	statement := "CREATE DATABASE " + pq.QuoteIdentifier(name) + " OWNER " + OwnerRole
	if template != "" {
		statement += " TEMPLATE " + pq.QuoteIdentifier(template)
	}
	if s.binaries.major >= 15 { // older ones know no other way
		statement += " STRATEGY FILE_COPY"
	}
	return s.asAdmin(ctx, statement)
}

// DropDatabase removes a database; who is connected to it is cut off.
func (s *Server) DropDatabase(ctx context.Context, name string) error {
	return s.asAdmin(ctx, "DROP DATABASE IF EXISTS "+pq.QuoteIdentifier(name)+" WITH (FORCE)")
}

// asAdmin runs one statement as the superuser.
func (s *Server) asAdmin(ctx context.Context, statement string) error {
	db, err := sql.Open("postgres", s.url(admin, "postgres"))
	if err != nil {
		return fmt.Errorf("opening the private database: %w", err)
	}
	defer db.Close()
	if _, err := db.ExecContext(ctx, statement); err != nil {
		return fmt.Errorf("%s: %w", statement, err)
	}
	return nil
}

// OwnerURL is the address of a database for its owner, who migrates it and makes businesses.
func (s *Server) OwnerURL(database string) string { return s.url(OwnerRole, database) }

// ServeURL is the address of a database for the server's login.
func (s *Server) ServeURL(database string) string { return s.url(ServeRole, database) }

// url is an address over the unix socket.
func (s *Server) url(role, database string) string {
	query := url.Values{"host": {s.folder}, "port": {"5432"}, "sslmode": {"disable"}}
	return (&url.URL{Scheme: "postgres", User: url.User(role), Path: "/" + database, RawQuery: query.Encode()}).String()
}

// Folder is the folder of this run, that goes with the server however it ends; kept data do not stand in it.
func (s *Server) Folder() string { return s.folder }

// Stop ends the server and removes its folder; kept data stay. It may be called more than once.
func (s *Server) Stop() error {
	s.stop.Do(func() { s.stopErr = s.end() })
	return s.stopErr
}

// end lets go of the watchdog and waits for it; one that hangs is killed with all its processes.
func (s *Server) end() error {
	if s.cmd == nil {
		return nil
	}
	s.leash.Close()
	select {
	case <-s.ended:
	case <-time.After(stopWithin):
		killSession(s.cmd.Process.Pid)
		return fmt.Errorf("the private database on %s did not end within %s and was killed", s.data, stopWithin)
	}
	s.log.Info("private database ended", "data", s.data)
	return os.RemoveAll(s.folder)
}
