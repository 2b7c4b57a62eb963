package scheduler_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The checker judges what Solve made, so it must not repeat Solve's slips: it reads the vocabulary, quantities, zone
// conversion and the travel matrix, and computes everything else by itself.

// checkerImports are the packages that the checker's files may import beside the standard library.
var checkerImports = []string{"vernation/scheduler/quantity", "vernation/scheduler/civil", "vernation/scheduler/travel"}

// schedulersOwn are the names of civil that compute with intervals and calendars; the checker has its own.
var schedulersOwn = []string{"Merge", "Intersect", "Subtract", "Open", "WindowsOn", "Overlaps", "Covers", "Empty"}

// vocabulary are the files of the package whose declarations the checker may use.
var vocabulary = []string{"problem.go", "plan.go", "crew.go", "violation.go", "words.go"}

func ofChecker(file string) bool {
	return strings.HasPrefix(file, "check") && strings.HasSuffix(file, ".go") && !strings.HasSuffix(file, "_test.go")
}

// borrowings lists what a file of the checker takes from where it must not; foreign are the names that other files of
// the package declare.
func borrowings(name, source string, foreign map[string]string) ([]string, error) {
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, name, source, 0)
	if err != nil {
		return nil, err
	}
	var found []string
	say := func(at token.Pos, format string, args ...any) {
		found = append(found, fmt.Sprintf("%s: %s", files.Position(at), fmt.Sprintf(format, args...)))
	}
	for _, imported := range file.Imports {
		path, err := strconv.Unquote(imported.Path.Value)
		if err != nil {
			return nil, err
		}
		standard := !strings.Contains(strings.Split(path, "/")[0], ".") && !strings.HasPrefix(path, "vernation/")
		if !standard && !slices.Contains(checkerImports, path) {
			say(imported.Pos(), "imports %s", path)
		}
	}
	ast.Inspect(file, func(node ast.Node) bool {
		switch n := node.(type) {
		case *ast.SelectorExpr:
			if from, ok := n.X.(*ast.Ident); ok && from.Name == "civil" && slices.Contains(schedulersOwn, n.Sel.Name) {
				say(n.Pos(), "uses %s of civil", n.Sel.Name)
			}
		case *ast.CallExpr:
			called := ""
			switch f := n.Fun.(type) {
			case *ast.Ident:
				called = f.Name
			case *ast.SelectorExpr: // a field may carry the name of a foreign method, what is called is one
				called = f.Sel.Name
			}
			if slices.Contains(schedulersOwn, called) {
				say(n.Pos(), "calls %s of civil", called)
			}
			if where := foreign[called]; where != "" {
				say(n.Pos(), "calls %s, which %s declares", called, where)
			}
		}
		return true
	})
	return found, nil
}

// declaredBy returns the functions and methods that a file declares.
func declaredBy(t *testing.T, name string) []string {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, declaration := range file.Decls {
		if f, ok := declaration.(*ast.FuncDecl); ok {
			names = append(names, f.Name.Name)
		}
	}
	return names
}

// foreignNames are the functions that only files beside the checker and the vocabulary declare.
func foreignNames(t *testing.T) (foreign map[string]string, checker []string) {
	t.Helper()
	entries, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	foreign = map[string]string{}
	var own []string
	for _, e := range entries {
		name := e.Name()
		switch {
		case !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go"):
		case ofChecker(name):
			checker = append(checker, name)
			own = append(own, declaredBy(t, name)...)
		case slices.Contains(vocabulary, name):
			own = append(own, declaredBy(t, name)...)
		default:
			for _, f := range declaredBy(t, name) {
				foreign[f] = name
			}
		}
	}
	for _, f := range own {
		delete(foreign, f)
	}
	return foreign, checker
}

func TestChecker_SharesNothingWithSolve(t *testing.T) {
	t.Parallel()
	foreign, checker := foreignNames(t)
	if len(checker) < 9 {
		t.Fatalf("only %v are files of the checker: want check.go and one for each of the eight rules", checker)
	}
	for _, name := range checker {
		source, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		found, err := borrowings(name, string(source), foreign)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range found {
			t.Error(f)
		}
	}
}

func TestChecker_IndependenceTestSeesAPlantedBreach(t *testing.T) {
	t.Parallel()
	foreign := map[string]string{"compileProblem": "compile.go"}
	for name, tc := range map[string]struct{ source, want string }{
		"an import of the solver's":      {`package scheduler; import "vernation/scheduler/internal/tour"; var _ tour.Tour`, "imports vernation/scheduler/internal/tour"},
		"an import of re-entry":          {`package scheduler; import _ "vernation/scheduler/reentry"`, "imports vernation/scheduler/reentry"},
		"an import from outside":         {`package scheduler; import _ "pgregory.net/rapid"`, "imports pgregory.net/rapid"},
		"a function of civil":            {`package scheduler; import "vernation/scheduler/civil"; var _ = civil.Merge(nil)`, "uses Merge"},
		"a function of civil, handed on": {`package scheduler; import "vernation/scheduler/civil"; var f = civil.Merge`, "uses Merge"},
		"a method of civil":              {`package scheduler; func f(p Problem) { p.Sites[0].Access.Open(p.Zone, s) }`, "calls Open of civil"},
		"a function of the same world":   {`package scheduler; func f(p Problem) { compileProblem(p) }`, "calls compileProblem, which compile.go declares"},
		"a method of the same world":     {`package scheduler; func f(p Problem) { x.compileProblem(p) }`, "calls compileProblem, which compile.go declares"},
		"nothing":                        {`package scheduler; import ("time"; "vernation/scheduler/civil"); var _ civil.Date; var _ time.Time`, ""},
	} {
		found, err := borrowings("check_planted.go", tc.source, foreign)
		if err != nil {
			t.Fatal(err)
		}
		said := strings.Join(found, "; ")
		if tc.want == "" && said != "" || tc.want != "" && !strings.Contains(said, tc.want) {
			t.Errorf("%s: said %q, want %q", name, said, tc.want)
		}
	}
}
