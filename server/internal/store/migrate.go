package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/rivermigrate"

	"vernation/migrations"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// queueMigration is the version at which the queue library's own tables come, after the schema that they live in.
const queueMigration = 9

// Migrate brings the schema up to this server's version, with the owner's address. Several may run at once: one does
// the work, the others wait for it, at most a minute.
func Migrate(ctx context.Context, ownerURL string) error {
	return migrating(ctx, ownerURL, func(provider *goose.Provider) error {
		_, err := provider.Up(ctx)
		return err
	})
}

// MigrateDown takes the schema down to a version; 0 is none of it. Whatever the dropped tables held is lost.
func MigrateDown(ctx context.Context, ownerURL string, version int64) error {
	return migrating(ctx, ownerURL, func(provider *goose.Provider) error {
		_, err := provider.DownTo(ctx, version)
		return err
	})
}

// migrating opens the owner's database and does something with its migrations.
func migrating(ctx context.Context, ownerURL string, do func(*goose.Provider) error) error {
	db, err := sql.Open("postgres", ownerURL)
	if err != nil {
		return fmt.Errorf("opening the owner's address: %w", err)
	}
	defer db.Close()
	if err := requireServeRole(ctx, db); err != nil {
		return err
	}
	locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(1, 60)) // looks every second, 60 times
	if err != nil {
		return fmt.Errorf("making the migrations' lock: %w", err)
	}
	queue := goose.NewGoMigration(queueMigration, &goose.GoFunc{RunDB: queueUp}, &goose.GoFunc{RunDB: queueDown})
	provider, err := goose.NewProvider(goose.DialectPostgres, db, migrations.FS,
		goose.WithSessionLocker(locker), goose.WithGoMigrations(queue), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return fmt.Errorf("reading the migrations: %w", err)
	}
	if err := do(provider); err != nil {
		return fmt.Errorf("migrating: %w", err)
	}
	return nil
}

// requireServeRole says what is missing before a migration stumbles over it.
func requireServeRole(ctx context.Context, db *sql.DB) error {
	var known bool
	if err := db.QueryRowContext(ctx, `SELECT EXISTS (SELECT FROM pg_roles WHERE rolname = 'vernation_serve')`).Scan(&known); err != nil {
		return fmt.Errorf("asking for the role vernation_serve: %w", err)
	}
	if !known {
		return fault.New(fault.Refused, "ROLE_MISSING",
			"the database has no role vernation_serve; make it first: CREATE ROLE vernation_serve LOGIN NOSUPERUSER NOBYPASSRLS PASSWORD '...'")
	}
	return nil
}

// queueUp and queueDown run the queue library's migrations, each of which commits for itself; one that was cut short
// goes on where it stopped.
func queueUp(ctx context.Context, db *sql.DB) error {
	return queueMigrate(ctx, db, rivermigrate.DirectionUp, &rivermigrate.MigrateOpts{})
}

func queueDown(ctx context.Context, db *sql.DB) error {
	return queueMigrate(ctx, db, rivermigrate.DirectionDown, &rivermigrate.MigrateOpts{TargetVersion: -1})
}

func queueMigrate(ctx context.Context, db *sql.DB, direction rivermigrate.Direction, options *rivermigrate.MigrateOpts) error {
	migrator, err := rivermigrate.New(riverdatabasesql.New(db), &rivermigrate.Config{Schema: queueSchema})
	if err != nil {
		return fmt.Errorf("reading the queue's migrations: %w", err)
	}
	if _, err := migrator.Migrate(ctx, direction, options); err != nil {
		return fmt.Errorf("migrating the queue: %w", err)
	}
	return nil
}

// refuseOldSchema asks for a schema at least as new as this server.
func (s *Store) refuseOldSchema(ctx context.Context) error {
	const versionSQL = `SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied`
	var version int64
	if err := s.db.GetContext(ctx, &version, versionSQL); err != nil {
		return fault.New(fault.Refused, "SCHEMA_MISSING", "the database has no schema that this login may read (%v); run migrate with the owner's address first", err)
	}
	if needed := newestMigration(); version < needed {
		return fault.New(fault.Refused, "SCHEMA_TOO_OLD", "the schema stands at version %d and this server needs %d; run migrate with the owner's address first", version, needed)
	}
	return nil
}

// newestMigration is the version that this server needs: that of its last migration.
func newestMigration() (newest int64) {
	entries, err := migrations.FS.ReadDir(".")
	if err != nil {
		panic(fmt.Sprintf("store: the embedded migrations cannot be listed: %v", err))
	}
	newest = queueMigration
	for _, entry := range entries {
		version, err := goose.NumericComponent(entry.Name())
		if err != nil {
			panic(fmt.Sprintf("store: migration %s: %v", entry.Name(), err))
		}
		newest = max(newest, version)
	}
	return newest
}

const insertBusinessSQL = `
INSERT INTO business (
	business_id, name, zone, currency, policy, rates, rules, detour_percent, speed_kmh, poison_line, emergency_line,
	notices_count_once_sent
) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`

const insertHeadSQL = `INSERT INTO plan_head (business_id, version) VALUES ($1, 0)`

// CreateBusiness makes a business with the owner's address; no caller can. Exists when there is one of that id.
func CreateBusiness(ctx context.Context, ownerURL string, b firm.Business) error {
	db, err := sql.Open("postgres", ownerURL)
	if err != nil {
		return fmt.Errorf("opening the owner's address: %w", err)
	}
	defer db.Close()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return failure(ctx, err)
	}
	defer tx.Rollback()
	// Row security is forced on the owner too.
	_, errSet := tx.ExecContext(ctx, setBusinessSQL, string(b.ID))
	_, errInsert := tx.ExecContext(ctx, insertBusinessSQL, businessValues(b)...)
	if err := errors.Join(errSet, errInsert); err != nil {
		return failure(ctx, err)
	}
	if _, err := tx.ExecContext(ctx, insertHeadSQL, string(b.ID)); err != nil {
		return failure(ctx, err)
	}
	return failure(ctx, tx.Commit())
}

// businessValues are the columns of a business in the order of insertBusinessSQL.
func businessValues(b firm.Business) []any {
	return []any{
		string(b.ID), b.Name, b.Zone.Name(), b.Currency, jsonOf(b.Policy), jsonOf(b.Rates), jsonOf(b.Rules),
		b.DetourPercent, b.SpeedKMH, b.PoisonLine, b.EmergencyLine, b.NoticesCountOnceSent,
	}
}

const businessSQL = `
SELECT
	name,
	zone,
	currency,
	policy,
	rates,
	rules,
	detour_percent,
	speed_kmh,
	poison_line,
	emergency_line,
	notices_count_once_sent
FROM business
WHERE business_id = $1`
