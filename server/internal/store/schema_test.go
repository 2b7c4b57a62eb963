package store_test

import (
	"slices"
	"strings"
	"testing"

	"vernation/server/internal/storetest"
)

// names reads one text column of a query over the system's catalogue.
func names(t *testing.T, url, query string) []string {
	t.Helper()
	rows, err := raw(t, url).Query(query)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	var found []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		found = append(found, name)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return found
}

// ours are the tables that the schema tests speak of: all but the queue library's and the migrations' own.
const ours = `
	c.relkind = 'r'
	AND ((n.nspname = 'public' AND c.relname <> 'goose_db_version') OR (n.nspname = 'queue' AND c.relname NOT LIKE 'river%'))`

const tables = ` FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace WHERE ` + ours

func wantNone(t *testing.T, what string, found []string) {
	t.Helper()
	if len(found) > 0 {
		t.Errorf("%s: %s", what, strings.Join(found, ", "))
	}
}

// TestSchema asks the system's catalogue about one database; none of its questions changes anything.
func TestSchema(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	for name, ask := range map[string]func(t *testing.T, url string){
		"HasTheTablesOfTheGlossary":                schemaHasTheTablesOfTheGlossary,
		"BusinessLeadsEveryKeyAndIndex":            schemaBusinessLeadsEveryKeyAndIndex,
		"RowSecurityIsForcedOnAllButTheQueue":      schemaRowSecurityIsForcedOnAllButTheQueue,
		"EveryTableAndColumnIsExplained":           schemaEveryTableAndColumnIsExplained,
		"NamesSayTypesAndRules":                    schemaNamesSayTypesAndRules,
		"AppendOnlyTablesGrantInsertAndSelectOnly": schemaAppendOnlyTablesGrantInsertAndSelectOnly,
		"NoTriggersAndNoClock":                     schemaNoTriggersAndNoClock,
	} {
		t.Run(name, func(t *testing.T) { ask(t, d.OwnerURL) })
	}
}

func schemaHasTheTablesOfTheGlossary(t *testing.T, url string) {
	found := names(t, url, `SELECT c.relname::text`+tables+` ORDER BY 1`)
	want := []string{
		"absence", "access_secrets", "access_secrets_reading", "acknowledgement", "application_record", "area", "area_use", "business", "change",
		"change_count", "client", "client_consent", "client_consent_answer", "course", "day_route", "deviation", "deviation_look", "history",
		"holiday", "idempotency", "incident", "incident_release", "infestation", "infestation_plant", "integration_key", "lot", "notice", "notice_sending", "plan",
		"plan_head", "plan_run", "plan_run_lease", "plan_run_problem", "plant", "plant_event", "plant_event_withdrawal", "product",
		"product_label", "publication", "report", "road_times", "service", "site", "species_tolerance", "stamp", "stock_movement", "technician", "visit",
		"visit_work", "webhook", "webhook_delivery", "webhook_lease",
	}
	if !slices.Equal(found, want) {
		t.Errorf("tables are\n%v, want\n%v", found, want)
	}
}

func schemaBusinessLeadsEveryKeyAndIndex(t *testing.T, url string) {
	wantNone(t, "keys that business_id does not lead", names(t, url, `
SELECT k.conname::text
FROM pg_constraint k
JOIN pg_class c ON c.oid = k.conrelid
JOIN pg_namespace n ON n.oid = c.relnamespace
JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum = k.conkey[1]
WHERE `+ours+` AND k.contype IN ('p', 'u', 'f', 'x') AND a.attname <> 'business_id'`))
	wantNone(t, "indexes that business_id does not lead", names(t, url, `
SELECT i.indexrelid::regclass::text
FROM pg_index i
JOIN pg_class c ON c.oid = i.indrelid
JOIN pg_namespace n ON n.oid = c.relnamespace
LEFT JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum = i.indkey[0]
WHERE `+ours+` AND a.attname IS DISTINCT FROM 'business_id'`))
	wantNone(t, "tables without a primary key", names(t, url, `SELECT c.relname::text`+tables+`
	AND NOT EXISTS (SELECT FROM pg_constraint k WHERE k.conrelid = c.oid AND k.contype = 'p')`))
	wantNone(t, "foreign keys that may lead to another business", names(t, url, `
SELECT k.conname::text
FROM pg_constraint k
JOIN pg_class c ON c.oid = k.conrelid
JOIN pg_namespace n ON n.oid = c.relnamespace
JOIN pg_attribute a ON a.attrelid = k.confrelid AND a.attnum = k.confkey[1]
WHERE `+ours+` AND k.contype = 'f' AND a.attname <> 'business_id'`))
}

func schemaRowSecurityIsForcedOnAllButTheQueue(t *testing.T, url string) {
	wantNone(t, "tables without forced row security", names(t, url, `SELECT c.relname::text`+tables+`
	AND n.nspname = 'public' AND NOT (c.relrowsecurity AND c.relforcerowsecurity)`))
	wantNone(t, "tables without exactly the one policy", names(t, url, `SELECT c.relname::text`+tables+`
	AND n.nspname = 'public'
	AND (
		SELECT array_agg(pg_get_expr(p.polqual, p.polrelid))
		FROM pg_policy p
		WHERE p.polrelid = c.oid AND p.polcmd = '*' AND p.polwithcheck IS NULL
	) IS DISTINCT FROM ARRAY['(business_id = ( SELECT current_business() AS current_business))']`))
	wantNone(t, "columns of the queue that are more than ids, times and counts", names(t, url, `
SELECT a.attname::text
FROM pg_attribute a
WHERE a.attrelid IN ('queue.plan_run_lease'::regclass, 'queue.change_count'::regclass, 'queue.webhook_lease'::regclass) AND a.attnum > 0
	AND a.attname NOT IN ('business_id', 'plan_run_id', 'attempt', 'lease_until', 'holder', 'last_position', 'version', 'webhook_id', 'waiting', 'due_at')`))
}

func schemaEveryTableAndColumnIsExplained(t *testing.T, url string) {
	wantNone(t, "tables without a comment", names(t, url, `SELECT c.relname::text`+tables+` AND obj_description(c.oid, 'pg_class') IS NULL`))
	wantNone(t, "columns without a comment", names(t, url, `
SELECT c.relname || '.' || a.attname
FROM pg_class c
JOIN pg_namespace n ON n.oid = c.relnamespace
JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
WHERE `+ours+` AND col_description(c.oid, a.attnum) IS NULL`))
}

func schemaNamesSayTypesAndRules(t *testing.T, url string) {
	const columns = `
SELECT c.relname || '.' || a.attname
FROM pg_class c
JOIN pg_namespace n ON n.oid = c.relnamespace
JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
WHERE ` + ours
	wantNone(t, "dates not called _on", names(t, url, columns+` AND (a.atttypid = 'date'::regtype) <> (a.attname LIKE '%\_on')`))
	wantNone(t, "instants not called _at", names(t, url, columns+`
	AND (a.atttypid = 'timestamptz'::regtype) <> (a.attname LIKE '%\_at') AND a.attname <> 'lease_until'`))
	wantNone(t, "amounts that are not exact", names(t, url, columns+`
	AND a.attname ~ '_(minor|ml)$' AND a.atttypid <> 'numeric'::regtype`))
	wantNone(t, "constraints with a machine's name", names(t, url, `
SELECT k.conname::text
FROM pg_constraint k
JOIN pg_class c ON c.oid = k.conrelid
JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE `+ours+` AND k.conname ~ '_(pkey|fkey|key|check|excl)[0-9]*$'`))
}

func schemaAppendOnlyTablesGrantInsertAndSelectOnly(t *testing.T, url string) {
	granted := names(t, url, `
SELECT table_name::text
FROM information_schema.role_table_grants
WHERE grantee = 'vernation_serve'
	AND table_name IN ('report', 'plant_event', 'change', 'acknowledgement', 'access_secrets_reading', 'stamp', 'notice_sending', 'plant_event_withdrawal', 'history', 'application_record', 'plan', 'publication', 'deviation', 'product_label', 'stock_movement',
		'deviation_look', 'incident', 'incident_release', 'client_consent', 'client_consent_answer')
	AND privilege_type NOT IN ('INSERT', 'SELECT')`)
	wantNone(t, "append-only tables that may be changed", granted)
	wantNone(t, "tables that the server's login may truncate, or refer to, or that everybody may use", names(t, url, `
SELECT table_name || ' ' || grantee || ' ' || privilege_type
FROM information_schema.role_table_grants
WHERE table_schema IN ('public', 'queue') AND table_name !~ '^(river|goose)'
	AND (grantee = 'PUBLIC' OR (grantee = 'vernation_serve' AND privilege_type IN ('TRUNCATE', 'REFERENCES', 'TRIGGER')))`))
	wantNone(t, "tables of which the server's login owns any", names(t, url, `SELECT c.relname::text`+tables+`
	AND pg_get_userbyid(c.relowner) <> 'vernation_owner'`))
}

func schemaNoTriggersAndNoClock(t *testing.T, url string) {
	wantNone(t, "triggers", names(t, url, `
SELECT g.tgname::text
FROM pg_trigger g
JOIN pg_class c ON c.oid = g.tgrelid
JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE `+ours+` AND NOT g.tgisinternal`))
	wantNone(t, "defaults that read a clock", names(t, url, `
SELECT pg_get_expr(f.adbin, f.adrelid)
FROM pg_attrdef f
JOIN pg_class c ON c.oid = f.adrelid
JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE `+ours+` AND pg_get_expr(f.adbin, f.adrelid) ~* 'now|current_|clock|statement_'`))
}
