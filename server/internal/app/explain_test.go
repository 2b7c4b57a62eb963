package app_test

import (
	"context"
	"database/sql"
	"encoding/json"
	"flag"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"vernation/server/internal/app"
	"vernation/server/internal/calltest"
	"vernation/server/internal/demo"
	"vernation/server/internal/wiretest"
)

// The generated businesses; CI makes 200 of 2,000 plants, with two years of history.
var (
	manyBusinesses = flag.Int("explain.businesses", 60, "businesses of the generated data")
	manyPlants     = flag.Int("explain.plants", 100, "plants of each")
	manyFacts      = flag.Int("explain.facts", 50, "rows of each table of history, over two years, of each")
	variants       = flag.Int("explain.variants", 1, "sets of parameters with which each statement is judged")
)

const (
	fewRows   = 25 // of a table that is no history: technicians, products
	bulk      = "bulk-"
	fewPerOne = 2 // rows of a table for each business, at or below which reading it whole may be the cheapest
)

// statements are those that a server had carried out, by their text.
type statements map[string][]wiretest.Statement

var tableNamed = regexp.MustCompile(`(?:FROM|INTO|UPDATE) [a-z]`)

func (s statements) hear(one wiretest.Statement) {
	first, _, _ := strings.Cut(strings.TrimSpace(one.Text), " ")
	plannable := slices.Contains([]string{"SELECT", "INSERT", "UPDATE", "DELETE", "WITH"}, strings.TrimSpace(strings.SplitN(first, "\n", 2)[0]))
	if plannable && tableNamed.MatchString(one.Text) && one.Business == string(demo.Business) && len(one.Args) > 0 && one.Args[0] == any(one.Business) && len(s[one.Text]) < *variants {
		s[one.Text] = append(s[one.Text], one)
	}
}

// Every statement that any method has the store carry out, every filter and order of every list among them, finds its rows
// by an index when many businesses have years behind them.
func TestExplain_NoStatementReadsATableThrough(t *testing.T) {
	t.Parallel()
	w, heard := openTold(t), statements{}
	wire := &wiretest.Wire{Heard: heard.hear}
	a, c := w.serve(t, app.Config{DatabaseURL: wire.Listen(t, w.ServeURL)})
	carried := contexts(t, a, people(string(demo.Business)))
	m := maker(string(demo.Business), 11)
	lists := 0
	for _, method := range calltest.Methods() {
		for _, who := range []string{"office", "applicator"} {
			if caller := people(string(demo.Business))[who]; owed(method, &caller) != (refusal{}) {
				continue
			}
			for range 6 {
				request := m.Request(method)
				m.Own(request)
				_, _ = method.Call(carried[who], c.Conn(), request) // refusals are no matter here
			}
			if who == "office" && askEverything(t, carried[who], c.Conn(), m, method) {
				lists++
			}
		}
	}
	if lists < 15 {
		t.Errorf("only %d lists were asked with filter and order", lists)
	}
	wire.Heard = nil
	grow(t, w)
	judged := w.explain(t, heard)
	t.Logf("%d statements, %d lists with filter and order", judged, lists)
	if judged < 150 {
		t.Errorf("only %d statements were heard, so that most were not tried", judged)
	}
}

// declared finds the fields in what a list says of a filter or an order that it does not know.
var declared = regexp.MustCompile(`want (?:conditions on )?([a-z_, ]+)`)

// askEverything asks a list by each of its fields, in order and filtered, with the page behind the first; false where it
// has neither.
func askEverything(t *testing.T, ctx context.Context, conn grpc.ClientConnInterface, m *calltest.Maker, method calltest.Method) bool {
	t.Helper()
	fields := method.Input().Fields()
	filter, order, size := fields.ByName("filter"), fields.ByName("order_by"), fields.ByName("page_size")
	if filter == nil || order == nil || size == nil {
		return false
	}
	ask := func(field protoreflect.FieldDescriptor, text string) (proto.Message, error) {
		request := method.NewRequest()
		parent := fields.ByName("parent")
		request.ProtoReflect().Set(parent, protoreflect.ValueOfString(m.Business))
		request.ProtoReflect().Set(field, protoreflect.ValueOfString(text))
		request.ProtoReflect().Set(size, protoreflect.ValueOfInt32(1))
		answer, err := method.Call(ctx, conn, request)
		if err != nil {
			return answer, err
		}
		if next := answer.ProtoReflect().Descriptor().Fields().ByName("next_page_token"); answer.ProtoReflect().Has(next) {
			request.ProtoReflect().Set(fields.ByName("page_token"), answer.ProtoReflect().Get(next))
			return method.Call(ctx, conn, request)
		}
		return answer, nil
	}
	for _, name := range fieldsOf(t, ask, order) {
		if _, err := ask(order, name+" desc"); err != nil {
			t.Errorf("%s is not put in order by %s: %v", method.Name(), name, err)
		}
	}
	for _, name := range fieldsOf(t, ask, filter) {
		tried := 0
		for _, value := range []string{`= "a"`, `:"a"`, `:"*"`, `= 1`, `= true`, `>= "2026-03-02"`, `>= "2026-03-02T07:00:00Z"`} {
			if _, err := ask(filter, name+" "+value); err == nil {
				tried++
			}
		}
		for _, word := range words() {
			if tried > 0 {
				break
			}
			if _, err := ask(filter, name+" = "+word); err == nil {
				tried++
			}
		}
		if tried == 0 {
			t.Errorf("%s: no filter by %s was accepted", method.Name(), name)
		}
	}
	return true
}

// fieldsOf are the fields by which a list is filtered or put in order, as its refusal of another names them.
func fieldsOf(t *testing.T, ask func(protoreflect.FieldDescriptor, string) (proto.Message, error), field protoreflect.FieldDescriptor) []string {
	t.Helper()
	_, err := ask(field, map[protoreflect.Name]string{"filter": `nonsense = "x"`, "order_by": "nonsense"}[field.Name()])
	for _, detail := range status.Convert(err).Details() {
		if bad, ok := detail.(*errdetails.BadRequest); ok {
			for _, violation := range bad.GetFieldViolations() {
				if found := declared.FindAllStringSubmatch(violation.GetDescription(), -1); found != nil {
					return strings.FieldsFunc(strings.Split(found[len(found)-1][1], ", each")[0], func(r rune) bool { return r == ',' || r == ' ' })
				}
			}
		}
	}
	return nil
}

// words are a value of each enum of the contract.
func words() (words []string) {
	protoregistry.GlobalFiles.RangeFilesByPackage("vernation.v1", func(file protoreflect.FileDescriptor) bool {
		for i := range file.Enums().Len() {
			words = append(words, string(file.Enums().Get(i).Values().Get(1).Name()))
		}
		return true
	})
	return words
}

// tableSQL are the columns of the tenant tables, in order: how each is copied for the copy n of a row in business b. What
// is part of a key gets another value, what is a time goes back over two years.
const tableSQL = `
SELECT c.oid::regclass::text, string_agg(quote_ident(a.attname), ', ' ORDER BY a.attnum), string_agg(
	CASE
		WHEN a.attname = 'business_id' THEN '''` + bulk + `'' || b'
		WHEN a.atttypid = 'jsonb'::regtype AND NOT EXISTS (SELECT FROM pg_constraint q WHERE q.conrelid = c.oid AND q.contype = 'c' AND a.attnum = ANY (q.conkey)) THEN 'CASE WHEN n = 0 THEN s.' || quote_ident(a.attname) || ' ELSE ''{}'' END'
		WHEN a.atttypid = 'text'::regtype AND a.attnum = ANY (k.keys) AND NOT EXISTS ( -- words of a list stay
			SELECT FROM pg_constraint q WHERE q.conrelid = c.oid AND q.contype = 'c' AND q.conkey = ARRAY[a.attnum] AND pg_get_constraintdef(q.oid) LIKE '%ANY (ARRAY%'
		) THEN 's.' || quote_ident(a.attname) || ' || CASE WHEN n = 0 THEN '''' ELSE ''-'' || s.row || ''-'' || n END'
		WHEN a.atttypid IN ('int4'::regtype, 'int8'::regtype) AND a.attnum = ANY (k.keys) THEN 's.' || quote_ident(a.attname) || ' + 100000 * n'
		WHEN a.atttypid = 'timestamptz'::regtype THEN 's.' || quote_ident(a.attname) || ' - back'
		WHEN a.atttypid = 'date'::regtype THEN '(s.' || quote_ident(a.attname) || ' - back)::date'
		WHEN a.atttypid = 'tstzrange'::regtype THEN format('tstzrange(lower(s.%1$I) - back, upper(s.%1$I) - back)', a.attname)
		ELSE 's.' || quote_ident(a.attname)
	END, ', ' ORDER BY a.attnum),
	CASE
		WHEN c.relname = 'plant' THEN 'plants'
		WHEN NOT has_table_privilege('vernation_serve', c.oid, 'UPDATE') OR bool_or(a.atttypid = 'tstzrange'::regtype) THEN 'facts'
		WHEN k.alone THEN 'one'
		ELSE 'few'
	END
FROM pg_class c
JOIN pg_namespace n ON n.oid = c.relnamespace
JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
CROSS JOIN LATERAL (
	SELECT coalesce(array_agg(key), '{}') AS keys, bool_or(i.indisprimary AND i.indnkeyatts = 1) AS alone
	FROM pg_index i, unnest(i.indkey::int2[]) AS key
	WHERE i.indrelid = c.oid AND i.indisunique
) AS k
WHERE c.relkind = 'r' AND n.nspname = 'public' AND c.relrowsecurity
GROUP BY c.oid, c.relname, k.keys, k.alone
ORDER BY 1`

// grow copies the demo's business into many, each with many rows.
func grow(t *testing.T, w *told) {
	t.Helper()
	asAdmin(t, w.Database, func(tx *sql.Tx) error {
		rows, err := tx.Query(tableSQL)
		if err != nil {
			return err
		}
		var copies [][4]string
		for rows.Next() {
			var one [4]string
			if err := rows.Scan(&one[0], &one[1], &one[2], &one[3]); err != nil {
				return err
			}
			copies = append(copies, one)
		}
		if err := rows.Err(); err != nil {
			return err
		}
		most := map[string]int{"plants": *manyPlants, "facts": *manyFacts, "few": fewRows, "one": 1}
		for _, table := range copies {
			_, err := tx.Exec(fmt.Sprintf(`
INSERT INTO %[1]s (%[2]s)
SELECT %[3]s
FROM (SELECT *, row_number() OVER () AS row, count(*) OVER () AS rows FROM %[1]s WHERE business_id = '%[4]s' LIMIT %[5]d) AS s
CROSS JOIN LATERAL generate_series(0, (%[5]d - 1) / least(s.rows, %[5]d)) AS n
CROSS JOIN generate_series(1, %[6]d) AS b
CROSS JOIN LATERAL (SELECT make_interval(days => (730 * n / (%[5]d / least(s.rows, %[5]d) + 1))::int) AS back) AS shift
`, table[0], table[1], table[2], demo.Business, most[table[3]], *manyBusinesses))
			if err != nil {
				return fmt.Errorf("growing %s: %w", table[0], err)
			}
		}
		_, err = tx.Exec(`ANALYZE`)
		return err
	})
}

// node is one of a plan.
type node struct {
	Type     string `json:"Node Type"`
	Relation string `json:"Relation Name"`
	Plans    []node
}

// scanned are the tables that a plan reads through.
func (n node) scanned() (tables []string) {
	if n.Type == "Seq Scan" || n.Type == "Parallel Seq Scan" {
		tables = append(tables, n.Relation)
	}
	for _, below := range n.Plans {
		tables = append(tables, below.scanned()...)
	}
	return tables
}

// joinOfTable is a join with a table, and not with what is computed.
var joinOfTable = regexp.MustCompile(`JOIN [a-z_.]+ `)

// explain judges every statement for one of the many businesses and returns how many there are.
func (w *told) explain(t *testing.T, heard statements) int {
	t.Helper()
	db, err := sql.Open("postgres", w.ServeURL)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	perBusiness := map[string]float64{}
	asAdmin(t, w.Database, func(tx *sql.Tx) error {
		for _, line := range column(t, tx, `SELECT relname || ' ' || reltuples FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relrowsecurity`) {
			var name string
			var rows float64
			if _, err := fmt.Sscan(line, &name, &rows); err != nil {
				return err
			}
			perBusiness[name] = rows / float64(*manyBusinesses)
		}
		return nil
	})
	noIndex := wiretest.Statement{Text: `SELECT plant_id FROM plant WHERE business_id = $1`, Args: []any{""}}
	if found := plan(t, db, noIndex, "enable_indexscan", "enable_indexonlyscan", "enable_bitmapscan").scanned(); !slices.Equal(found, []string{"plant"}) {
		t.Errorf("a plan that has to read plants through is read as one that reads %v: nothing here would be found", found)
	}
	for text, all := range heard {
		named, joined := len(ofBusiness.FindAllString(text, -1)), len(joinOfTable.FindAllString(text, -1))
		if named == 0 && !strings.Contains(text, "business_id,") || joined > 0 && joined >= named {
			t.Errorf("it names its business %d times and joins %d tables: want each table's named%s", named, joined, text)
		}
		for _, one := range all {
			for _, table := range plan(t, db, one).scanned() {
				rows, ours := perBusiness[table]
				if !ours {
					continue
				}
				// A table of a row or two for each business is read through rightly; an index must serve all the same.
				if rows > fewPerOne || slices.Contains(plan(t, db, one, "enable_seqscan").scanned(), table) {
					t.Errorf("%s, of %.0f rows a business, is read through by%s\nwith %.200v", table, rows, text, one.Args)
				}
			}
		}
	}
	return len(heard)
}

// plan is how the database would carry out a statement for one of the many businesses, without some of its ways.
func plan(t *testing.T, db *sql.DB, one wiretest.Statement, without ...string) node {
	t.Helper()
	tx, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback() // it changes nothing
	args := slices.Clone(one.Args)
	args[0] = bulk + "7"
	if _, err := tx.Exec(`SELECT set_config('vernation.business', $1, true)`, args[0]); err != nil {
		t.Fatal(err)
	}
	for _, way := range without {
		if _, err := tx.Exec(`SELECT set_config($1, 'off', true)`, way); err != nil {
			t.Fatal(err)
		}
	}
	var text string
	if err := tx.QueryRow(`EXPLAIN (FORMAT JSON) `+one.Text, args...).Scan(&text); err != nil {
		t.Fatalf("%v: explaining%s", err, one.Text)
	}
	var plans []struct{ Plan node }
	if err := json.Unmarshal([]byte(text), &plans); err != nil {
		t.Fatal(err)
	}
	return plans[0].Plan
}
