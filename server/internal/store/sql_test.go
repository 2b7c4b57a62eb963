package store_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// acrossBusinesses are parts of the few statements that speak of no business, or of all.
var acrossBusinesses = []string{
	"set_config('vernation.business'",  // sets it
	"pg_advisory_xact_lock(",           // whose key begins with it
	"FROM pg_roles",                    // asks about logins
	"FROM goose_db_version",            // asks about the schema
	"UPDATE queue.plan_run_lease AS l", // looks for lost runs of all businesses, by ids only
	"UPDATE queue.webhook_lease AS l",  // takes webhooks of all businesses that have something to send, by ids only
	"FROM queue.change_count",          // wakes those who wait, whichever the business
	"count(*) FILTER (WHERE holder",    // counts runs for the measures, and names none
	"FROM queue.river_job",             // counts what stands in the queue, likewise
	selecting,
}

// selecting begins a statement whose rest is put together; the part that begins with FROM names the business.
const selecting = "SELECT /* of */ "

func TestSQL_EveryStatementNamesItsBusinessAndReadsNoClock(t *testing.T) {
	t.Parallel()
	statement := regexp.MustCompile(`^\s*(SELECT|INSERT INTO|UPDATE|DELETE FROM|WITH|FROM)\s`)
	names := regexp.MustCompile(`business_id = \$1|\(\s*business_id,`) // where, or first of the columns written
	clock := regexp.MustCompile(`(?i)\bnow\(\)|current_timestamp|current_date|clock_timestamp|localtime`)
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		for _, text := range literals(t, file) {
			if clock.MatchString(text) {
				t.Errorf("%s: a statement reads the database's clock: %s", file, text)
			}
			if !statement.MatchString(text) {
				continue
			}
			found++
			across := false
			for _, part := range acrossBusinesses {
				across = across || strings.Contains(text, part)
			}
			if !across && !names.MatchString(text) {
				t.Errorf("%s: a statement names no business: %s", file, text)
			}
			if joins := strings.Count(text, "JOIN ") - strings.Count(text, "JOIN LATERAL"); !across && joins > strings.Count(text, "business_id = $1")-1 && joins > 0 {
				t.Errorf("%s: a join does not name the business: %s", file, text)
			}
		}
	}
	if found < 60 {
		t.Errorf("only %d statements were found, so that this test reads the wrong files", found)
	}
}

// literals returns the text constants of a file.
func literals(t *testing.T, file string) []string {
	t.Helper()
	parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var texts []string
	ast.Inspect(parsed, func(n ast.Node) bool {
		if literal, ok := n.(*ast.BasicLit); ok && literal.Kind == token.STRING {
			text, err := strconv.Unquote(literal.Value)
			if err != nil {
				t.Fatal(err)
			}
			texts = append(texts, text)
		}
		return true
	})
	return texts
}
