package store

import (
	"context"
	"regexp"
	"slices"
	"strings"
	"sync"

	"vernation/server/internal/firm"
)

// nobodyReads are tables of which no answer about the business's work is made: writing them leaves its version.
var nobodyReads = []string{
	"idempotency", "access_secrets_reading", "acknowledgement", "integration_key", "plan_run", "plan_run_problem", "road_times", "webhook", "webhook_delivery",
}

// writtenTable finds the tables that a statement writes; neither FOR UPDATE nor DO UPDATE is one.
var writtenTable = regexp.MustCompile(`(?:\bINSERT INTO|\bDELETE FROM|(?:^|[\n(])\s*UPDATE)\s+([a-z_.]+)`)

// writing remembers of each statement whether it writes what people read: statements are few, and texts of this package.
var writing sync.Map

// writes says whether a statement writes what people read.
func writes(statement string) bool {
	if known, ok := writing.Load(statement); ok {
		return known.(bool)
	}
	found := false
	for _, table := range writtenTable.FindAllStringSubmatch(statement, -1) {
		found = found || !strings.HasPrefix(table[1], "queue.") && !slices.Contains(nobodyReads, table[1])
	}
	writing.Store(statement, found)
	return found
}

// notes notes that the transaction runs a statement. No deed has to remember that it raises the version.
func (tx *Tx) notes(statement string) { tx.wrote = tx.wrote || writes(statement) }

const versionSQL = `SELECT version FROM queue.change_count WHERE business_id = $1 ORDER BY business_id`

// Version is the version of the caller's business at the transaction's moment: every deed that writes something people
// read raises it, in its own transaction. What was read at a version reads the same as long as the version does, but for
// what asks the clock.
func (tx *Tx) Version() (int64, error) { return first64(list[int64](tx, versionSQL)) }

// Version is the version of a business now, as of what has been committed on any server. It is one message to the database.
func (s *Store) Version(ctx context.Context, business firm.BusinessID) (int64, error) {
	rows := []int64{}
	err := s.db.SelectContext(ctx, &rows, versionSQL, string(business))
	return first64(rows, failure(ctx, err))
}
