package exchange_test

import (
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler/exchange"
)

var update = flag.Bool("update", false, "rewrite FORMAT.md and the schemas")

func TestDocument_IsThatOfTheTableThatTheReaderGoesBy(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]string{
		"FORMAT.md":           exchange.RenderDocument(),
		"problem.schema.json": exchange.RenderSchema(exchange.ProblemFormat),
		"plan.schema.json":    exchange.RenderSchema(exchange.PlanFormat),
	} {
		if *update {
			if err := os.WriteFile(name, []byte(want), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		got, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, string(got)); diff != "" {
			t.Errorf("%s is out of date: run this test with -update (-want +got)\n%s", name, diff)
		}
	}
}

// The words of the table are the constants of the Go types: a kind of follow-up that is added there must be known here.
func TestWords_AreTheConstantsOfTheirTypes(t *testing.T) {
	t.Parallel()
	constants := map[string][]string{}
	for _, folder := range []string{"..", "../catalogue", "../course", "../site", "../quantity"} {
		collectConstants(t, folder, constants)
	}
	for name, words := range exchange.Words() {
		want := slices.Sorted(slices.Values(constants[name]))
		if got := slices.Sorted(slices.Values(words)); !slices.Equal(got, want) {
			t.Errorf("the words of %s are %v, its constants %v", name, got, want)
		}
	}
}

// collectConstants adds the texts of the typed constants of a package, by type: "site.Owner".
func collectConstants(t *testing.T, folder string, into map[string][]string) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(folder, "*.go"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no Go files in %s: %v", folder, err)
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(node ast.Node) bool {
			spec, ok := node.(*ast.ValueSpec)
			if !ok || spec.Type == nil || len(spec.Values) != 1 {
				return true
			}
			of, named := spec.Type.(*ast.Ident)
			text, literal := spec.Values[0].(*ast.BasicLit)
			if named && literal && text.Kind == token.STRING {
				word, err := strconv.Unquote(text.Value)
				if err != nil {
					t.Fatal(err)
				}
				into[file.Name.Name+"."+of.Name] = append(into[file.Name.Name+"."+of.Name], word)
			}
			return true
		})
	}
}
