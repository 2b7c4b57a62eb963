package storetest

import (
	"context"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"testing"

	"github.com/lib/pq"

	"vernation/server/internal/firm"
)

// Change rewrites the document in a row of a table (area, plant, product, site or technician) past the store: no caller
// can, and tests ask what follows when something that stands already is changed. The columns beside the document and
// the row's version stay as they are.
func Change[T any](t testing.TB, d *Database, table, id string, change func(*T)) {
	t.Helper()
	err := d.raw(t.Context(), func(tx *sql.Tx, business firm.BusinessID) error {
		where := fmt.Sprintf(` WHERE business_id = $1 AND %s_id = $2`, table)
		var before []byte
		if err := tx.QueryRowContext(t.Context(), `SELECT detail FROM `+table+where+` FOR UPDATE`, string(business), id).Scan(&before); err != nil {
			return err
		}
		var value T
		if err := json.Unmarshal(before, &value); err != nil {
			return err
		}
		change(&value)
		after, err := json.Marshal(value)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(t.Context(), `UPDATE `+table+` SET detail = $3`+where, string(business), id, string(after))
		return err
	})
	if err != nil {
		t.Fatalf("changing the %s %q: %v", table, id, err)
	}
}

// Count returns how many rows of a table belong to the office's business.
func (d *Database) Count(t testing.TB, table string) (rows int) {
	t.Helper()
	err := d.raw(t.Context(), func(tx *sql.Tx, business firm.BusinessID) error {
		return tx.QueryRowContext(t.Context(), `SELECT count(*) FROM `+table+` WHERE business_id = $1`, string(business)).Scan(&rows)
	})
	if err != nil {
		t.Fatalf("counting the rows of %s: %v", table, err)
	}
	return rows
}

// raw does something in a transaction of the owner, for whom row security is forced too.
func (d *Database) raw(ctx context.Context, do func(tx *sql.Tx, business firm.BusinessID) error) error {
	db, err := sql.Open("postgres", d.OwnerURL)
	if err != nil {
		return err
	}
	defer db.Close()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // without effect after a commit
	business := d.Office.Business
	if _, err := tx.ExecContext(ctx, `SELECT set_config('vernation.business', $1, true)`, string(business)); err != nil {
		return err
	}
	if err := do(tx, business); err != nil {
		return err
	}
	return tx.Commit()
}

// Holding lists the tables in which a row of the office's business holds a text, also inside bytes that are not compressed.
func (d *Database) Holding(t testing.TB, text string) (tables []string) {
	t.Helper()
	err := d.raw(t.Context(), func(tx *sql.Tx, _ firm.BusinessID) error {
		var all []string
		const names = `
SELECT array_agg(c.oid::regclass::text ORDER BY c.oid::regclass::text)
FROM pg_class c
JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE n.nspname IN ('public', 'queue') AND c.relkind = 'r'`
		if err := tx.QueryRowContext(t.Context(), names).Scan(pq.Array(&all)); err != nil {
			return err
		}
		for _, table := range all {
			var holds bool
			query := `SELECT EXISTS (SELECT FROM ` + table + ` AS r WHERE position($1 IN r::text) > 0 OR position($2 IN r::text) > 0)`
			if err := tx.QueryRowContext(t.Context(), query, text, hex.EncodeToString([]byte(text))).Scan(&holds); err != nil {
				return err
			}
			if holds {
				tables = append(tables, table)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatalf("looking for a text in every table: %v", err)
	}
	return tables
}
