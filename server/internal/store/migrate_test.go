package store_test

import (
	"context"
	"io/fs"
	"slices"
	"strconv"
	"testing"

	"golang.org/x/sync/errgroup"

	"vernation/migrations"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// everything lists what a schema consists of, but for the migrations' own table.
const everything = `
SELECT 'column ' || table_schema || '.' || table_name || '.' || column_name || ' ' || data_type || ' ' || is_nullable
FROM information_schema.columns
WHERE table_schema IN ('public', 'queue') AND table_name <> 'goose_db_version'
UNION ALL
SELECT 'constraint ' || conrelid::regclass || ' ' || conname || ' ' || pg_get_constraintdef(oid)
FROM pg_constraint
WHERE connamespace IN (SELECT oid FROM pg_namespace WHERE nspname IN ('public', 'queue')) AND conrelid <> 0
	AND conrelid::regclass::text <> 'goose_db_version'
UNION ALL
SELECT 'policy ' || tablename || ' ' || policyname || ' ' || qual FROM pg_policies
UNION ALL
SELECT 'grant ' || table_name || ' ' || grantee || ' ' || privilege_type
FROM information_schema.role_table_grants
WHERE table_schema IN ('public', 'queue') AND grantee = 'vernation_serve' AND table_name <> 'goose_db_version'
ORDER BY 1`

func TestMigrate_UpDownUpGivesTheSameSchema(t *testing.T) {
	t.Parallel()
	ownerURL, _ := storetest.Empty(t)
	ctx := context.Background()
	if err := store.Migrate(ctx, ownerURL); err != nil {
		t.Fatal(err)
	}
	first := names(t, ownerURL, everything)
	if len(first) < 100 {
		t.Fatalf("the schema consists of %d things only", len(first))
	}
	if err := store.MigrateDown(ctx, ownerURL, 0); err != nil {
		t.Fatal(err)
	}
	wantNone(t, "left after going down to nothing", names(t, ownerURL, everything))
	if err := store.Migrate(ctx, ownerURL); err != nil {
		t.Fatal(err)
	}
	if second := names(t, ownerURL, everything); !slices.Equal(first, second) {
		t.Errorf("after down and up again the schema differs:\n%v\nwas\n%v", second, first)
	}
}

func TestMigrate_SeveralServersMayStartAtOnce(t *testing.T) {
	t.Parallel()
	ownerURL, _ := storetest.Empty(t)
	var starters errgroup.Group
	for range 4 {
		starters.Go(func() error { return store.Migrate(context.Background(), ownerURL) })
	}
	if err := starters.Wait(); err != nil {
		t.Fatal(err)
	}
	files, err := fs.Glob(migrations.FS, "*.sql")
	if err != nil {
		t.Fatal(err)
	}
	want := strconv.Itoa(len(files) + 1) // the queue library's tables come beside
	if got := names(t, ownerURL, `SELECT count(*)::text FROM goose_db_version WHERE version_id > 0`)[0]; got != want {
		t.Errorf("%s migrations were applied, want each of the %s once", got, want)
	}
}

func TestMigrate_AgainChangesNothing(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	if err := store.Migrate(context.Background(), d.OwnerURL); err != nil {
		t.Fatal(err)
	}
	in(t, d, func(tx *store.Tx) error {
		sites, err := tx.AllSites()
		if len(sites) != 2 {
			t.Errorf("there are %d sites after a second migration, want 2", len(sites))
		}
		return err
	})
}
