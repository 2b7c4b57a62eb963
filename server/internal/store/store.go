package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"syscall"
	"time"

	"github.com/jmoiron/sqlx"
	"github.com/lib/pq" // the driver's name is "postgres"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"

	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

const (
	// mostTries bounds how often In does a deed when the database asks for it to be done again.
	mostTries = 6
	// firstPause is the mean pause before the second try; it doubles with each.
	firstPause = 5 * time.Millisecond
	// mostConnections bounds the pool of one server, mostLoose what its queue has beside it.
	mostConnections = 20
	mostLoose       = 4
)

// Store is what a server knows of its database. It is safe for concurrent use.
type Store struct {
	db    *sqlx.DB
	loose *sqlx.DB // for the queue library, which asks outside of transactions
	clock *firm.Clock
	queue *river.Client[*sql.Tx]
	log   *slog.Logger
	news  *news
	// rounds counts what this process searches.
	rounds searched
}

// Open connects with the serving login and refuses one that is too strong (superuser, able to bypass row security,
// owner of anything here), and a schema that is older than this server. A nil log is nobody. The caller calls Close.
func Open(ctx context.Context, url string, clock *firm.Clock, log *slog.Logger) (*Store, error) {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	db, err := openPool(url, mostConnections)
	if err != nil {
		return nil, err
	}
	loose, err := openPool(url, mostLoose)
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	queue, err := river.NewClient(riverdatabasesql.New(db.DB), &river.Config{Schema: queueSchema, Logger: log})
	if err != nil {
		return nil, errors.Join(fmt.Errorf("opening the queue: %w", err), db.Close(), loose.Close())
	}
	s := &Store{db: db, loose: loose, clock: clock, queue: queue, log: log, news: newNews()}
	if err := errors.Join(s.refuseStrongLogin(ctx), s.refuseOldSchema(ctx)); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// openPool opens connections on which a statement with parameters is one message to the database and not two: it costs
// half, and holds behind a pooler that gives every statement outside of a transaction another connection.
func openPool(url string, most int) (*sqlx.DB, error) {
	config, err := pq.NewConfig(url)
	if err != nil {
		return nil, fmt.Errorf("connecting to the database: %w", err)
	}
	config.BinaryParameters = true
	connector, err := pq.NewConnectorConfig(config)
	if err != nil {
		return nil, fmt.Errorf("connecting to the database: %w", err)
	}
	db := sqlx.NewDb(sql.OpenDB(connector), "postgres")
	db.SetMaxOpenConns(most)
	db.SetMaxIdleConns(most)
	return db, nil
}

const loginSQL = `
SELECT
	r.rolname                                                                   AS name,
	r.rolsuper                                                                  AS superuser,
	r.rolbypassrls                                                              AS bypasses,
	EXISTS (
		SELECT FROM pg_class c
		JOIN pg_namespace n ON n.oid = c.relnamespace
		WHERE n.nspname IN ('public', 'queue')
			AND pg_has_role(r.oid, c.relowner, 'MEMBER') -- by being, or by belonging to, the owner
	)                                                                           AS owns
FROM pg_roles r
WHERE r.rolname = current_user`

// refuseStrongLogin keeps row security from being a decoration.
func (s *Store) refuseStrongLogin(ctx context.Context) error {
	var login struct {
		Name                      string
		Superuser, Bypasses, Owns bool
	}
	if err := s.db.GetContext(ctx, &login, loginSQL); err != nil {
		return fmt.Errorf("asking what the login may do: %w", err)
	}
	var why string
	switch {
	case login.Superuser:
		why = "is a superuser"
	case login.Bypasses:
		why = "can bypass row security"
	case login.Owns:
		why = "owns the tables"
	default:
		return nil
	}
	return fault.New(fault.Refused, "LOGIN_TOO_STRONG",
		"the login %s %s, so that businesses would not be kept apart; serve with a login that owns nothing, such as vernation_serve, and keep the owner's for migrations", login.Name, why)
}

// Close ends every connection.
func (s *Store) Close() error { return errors.Join(closed(s.db.Close()), closed(s.loose.Close())) }

// closed is nil where the database had ended a connection before us.
func closed(err error) error {
	if errors.Is(err, syscall.EPIPE) || errors.Is(err, syscall.ECONNRESET) {
		return nil
	}
	return err
}

// Ping asks whether the database answers.
func (s *Store) Ping(ctx context.Context) error { return failure(ctx, s.db.PingContext(ctx)) }

// Tx is one transaction of one caller. It is not safe for concurrent use and ends with the function it was given to.
type Tx struct {
	ctx    context.Context
	sql    *sqlx.Tx
	caller firm.Caller
	now    civil.Instant
	store  *Store
	told   map[firm.Change]bool // of changes
	// changes are told when do has come back without an error.
	changes []firm.Change
	wrote   bool // something that people read
}

// In does a deed: one transaction that sees and changes the rows of the caller's business only. It commits when do
// returns nil. When the database asks for it (serialization failure, deadlock, a request remembered by a twin at the
// same moment) everything is done again, at most six times; so do must have no other effect than through Tx.
func (s *Store) In(ctx context.Context, caller firm.Caller, do func(*Tx) error) error {
	pause := firstPause
	for try := 1; ; try++ {
		err := s.once(ctx, caller, &sql.TxOptions{Isolation: sql.LevelReadCommitted}, do)
		if err == nil || !worthAnotherTry(err) || try == mostTries {
			return err
		}
		s.log.Debug("a transaction is done again", "try", try, "err", err)
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(pause/2 + rand.N(pause)):
		}
		pause *= 2
	}
}

// errRehearsed ends a rehearsal, so that nothing of it stands.
var errRehearsed = errors.New("rehearsed")

// Rehearse does a deed as In does and takes it back: its failure is that of the deed, constraints that are looked at
// last included.
func (s *Store) Rehearse(ctx context.Context, caller firm.Caller, do func(*Tx) error) error {
	err := s.In(ctx, caller, func(tx *Tx) error {
		if err := do(tx); err != nil {
			return err
		}
		if _, err := tx.sql.ExecContext(tx.ctx, `SET CONSTRAINTS ALL IMMEDIATE`); err != nil {
			return failure(tx.ctx, err)
		}
		return errRehearsed
	})
	if errors.Is(err, errRehearsed) {
		return nil
	}
	return err
}

// Reading reads: one transaction that sees one moment of the caller's business and changes nothing.
func (s *Store) Reading(ctx context.Context, caller firm.Caller, do func(*Tx) error) error {
	return s.once(ctx, caller, &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}, do)
}

const setBusinessSQL = `SELECT set_config('vernation.business', $1, true)`

// once runs one transaction; a panic rolls it back and goes on.
func (s *Store) once(ctx context.Context, caller firm.Caller, options *sql.TxOptions, do func(*Tx) error) error {
	if caller.Business == "" {
		return fault.New(fault.Forbidden, "NO_BUSINESS", "the caller belongs to no business; a credential names exactly one")
	}
	begun, err := s.db.BeginTxx(ctx, options)
	if err != nil {
		return failure(ctx, err)
	}
	defer begun.Rollback() // without effect after a commit
	if _, err := begun.ExecContext(ctx, setBusinessSQL, string(caller.Business)); err != nil {
		return failure(ctx, err)
	}
	tx := &Tx{ctx: ctx, sql: begun, caller: caller, now: s.clock.Now(), store: s}
	if err := do(tx); err != nil {
		return err
	}
	if err := tx.tellChanges(); err != nil {
		return err
	}
	if err := begun.Commit(); err != nil {
		return failure(ctx, err)
	}
	if len(tx.changes) > 0 {
		s.news.tell(caller.Business)
	}
	return nil
}

// across runs one statement over businesses, of the queue's tables alone, in a transaction: with parameters the driver
// asks twice, and behind a pooler of transactions each time may meet another connection.
func (s *Store) across(ctx context.Context, rows any, statement string, args ...any) error {
	tx, err := s.db.BeginTxx(ctx, nil)
	if err != nil {
		return failure(ctx, err)
	}
	defer tx.Rollback() // without effect after a commit
	if err := tx.SelectContext(ctx, rows, statement, args...); err != nil {
		return failure(ctx, err)
	}
	return failure(ctx, tx.Commit())
}

// Now is the firm's present instant.
func (s *Store) Now() civil.Instant { return s.clock.Now() }

// Now is the firm's present instant, the same throughout the transaction.
func (tx *Tx) Now() civil.Instant { return tx.now }

// Caller is whose transaction it is.
func (tx *Tx) Caller() firm.Caller { return tx.caller }

// Page asks for the rows whose key comes after After, in the order of keys, at most Size of them.
type Page struct {
	Size  int    // 0 is 100; at most 1000
	After string // key of the last row of the page before; "" is the first page
}

// limit is the bounded size.
func (p Page) limit() int {
	const usual, most = 100, 1000
	if p.Size <= 0 {
		return usual
	}
	return min(p.Size, most)
}

// with puts the business before the other parameters: $1 of every statement.
func (tx *Tx) with(args []any) []any { return append([]any{string(tx.caller.Business)}, args...) }

// exec runs a statement whose $1 is the business and returns how many rows it touched.
func (tx *Tx) exec(statement string, args ...any) (int, error) {
	tx.notes(statement)
	result, err := tx.sql.ExecContext(tx.ctx, statement, tx.with(args)...)
	if err != nil {
		return 0, failure(tx.ctx, err)
	}
	rows, err := result.RowsAffected()
	return int(rows), failure(tx.ctx, err)
}

// list reads all rows of a query whose $1 is the business.
func list[T any](tx *Tx, query string, args ...any) ([]T, error) {
	rows := []T{}
	tx.notes(query)
	err := tx.sql.SelectContext(tx.ctx, &rows, query, tx.with(args)...)
	return rows, failure(tx.ctx, err)
}

// one reads the only row of a query whose $1 is the business; without a row what and id are NotFound.
func one[T any](tx *Tx, what, id, query string, args ...any) (T, error) {
	var row T
	tx.notes(query)
	err := tx.sql.GetContext(tx.ctx, &row, query, tx.with(args)...)
	if errors.Is(err, sql.ErrNoRows) {
		return row, absent(what, id)
	}
	return row, failure(tx.ctx, err)
}

// documents reads all rows of a query for one jsonb column.
func documents[T any](tx *Tx, query string, args ...any) ([]T, error) {
	rows, err := list[document[T]](tx, query, args...)
	values := make([]T, len(rows))
	for i, row := range rows {
		values[i] = row.value
	}
	return values, err
}

// changed turns a count of no rows into NotFound.
func changed(what, id string) func(rows int, err error) error {
	return func(rows int, err error) error {
		if err == nil && rows == 0 {
			return absent(what, id)
		}
		return err
	}
}

// absent is the failure of a name that nothing has.
func absent(what, id string) error {
	f := fault.New(fault.NotFound, "NOT_FOUND", "there is no %s %q in this business", what, id)
	f.Thing, f.Subject = what, id
	return f
}
