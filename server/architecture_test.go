package main_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"regexp"
	"slices"
	"sort"
	"strings"
	"testing"
	"testing/fstest"
)

// The house rules of the tree. Each is a function over a file system, so that the same function judges
// the repository and a planted breach.

// maxFunctionLines and maxFileLines bound what a reader must hold at once.
const (
	maxFunctionLines = 70
	maxFileLines     = 600
)

// topLevel is all that may stand at the top of the repository, beside dotfiles.
var topLevel = []string{"proto", "server", "scheduler", "client", "migrations", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md"}

// mayImport lists, for each room, the rooms of ours that it may import (by prefix, without the module).
// The longest matching room decides. Tests may import more.
var mayImport = map[string][]string{
	"proto":                     {},
	"migrations":                {},
	"testdata":                  {},
	"scheduler/quantity":        {},
	"scheduler/civil":           {},
	"scheduler/travel":          {},
	"scheduler/catalogue":       {"scheduler/quantity", "scheduler/civil", "scheduler/travel"},
	"scheduler/site":            {"scheduler/quantity", "scheduler/civil", "scheduler/travel", "scheduler/catalogue"},
	"scheduler/dilution":        {"scheduler/quantity", "scheduler/civil", "scheduler/travel", "scheduler/catalogue", "scheduler/site"},
	"scheduler/reentry":         {"scheduler/quantity", "scheduler/civil", "scheduler/travel", "scheduler/catalogue", "scheduler/site"},
	"scheduler/mayapply":        {"scheduler/quantity", "scheduler/civil", "scheduler/travel", "scheduler/catalogue", "scheduler/site", "scheduler/dilution", "scheduler/reentry"},
	"scheduler/course":          {"scheduler/quantity", "scheduler/civil", "scheduler/travel", "scheduler/catalogue", "scheduler/site", "scheduler/dilution", "scheduler/reentry"},
	"scheduler/internal":        {"scheduler/internal"},
	"scheduler":                 {"scheduler"},
	"client":                    {"client", "proto"},
	"server/internal/firm":      {"scheduler", "server/internal/fault"},
	"server/internal/listing":   {"scheduler", "server/internal/fault"},
	"server/internal/fault":     {"scheduler"},
	"server/internal/pgtemp":    {},
	"server/internal/store":     {"scheduler", "server/internal/firm", "server/internal/fault", "server/internal/listing", "migrations"},
	"server/internal/convert":   {"proto", "scheduler", "server/internal/firm", "server/internal/fault", "server/internal/listing"},
	"server/internal/demo":      {"client", "proto", "server/internal/firm", "testdata"},
	"server/internal/app":       {"server", "scheduler", "proto", "client", "migrations", "testdata"},
	"server/internal/gateway":   {"proto"},
	"server/internal/rpc":       {"proto", "scheduler", "server/internal"},
	"server/internal/planning":  {"scheduler", "server/internal/firm", "server/internal/fault", "server/internal/store", "server/internal/casework", "server/internal/roadtimes"},
	"server/internal/roadtimes": {"server/internal/firm"},
	"server/offline":            {"proto", "scheduler", "server/internal/convert", "server/internal/firm"},
	"server/internal/dispatch":  {"scheduler", "server/internal/firm", "server/internal/fault", "server/internal/store", "server/internal/casework"},
	"server/internal/feed":      {"scheduler", "server/internal/firm", "server/internal/fault", "server/internal/store"},
	"server/internal/reload":    {},
	"server/internal/identity":  {"scheduler", "server/internal/firm", "server/internal/fault", "server/internal/reload"},
	"server/internal/keys":      {"scheduler", "server/internal/firm", "server/internal/fault", "server/internal/store", "server/internal/identity"},
	"server/internal/load":      {"scheduler", "server/internal/firm", "server/internal/fault", "server/internal/store", "server/internal/premises"},
	"server/internal/calltest":  {"proto"},
	"server/internal/wiretest":  {},
	"server/internal/storetest": {"scheduler", "migrations", "server/internal/pgtemp", "server/internal/store", "server/internal/firm"},
	"server/internal/firmtest":  {"scheduler", "server/internal", "testdata"},
	"server/internal":           {"scheduler", "server/internal/firm", "server/internal/fault", "server/internal/store"},
	"server":                    {"server", "scheduler/civil", "testdata"},
}

// neverImport are arrows that a broader allowance above must not open.
var neverImport = map[string][]string{
	"scheduler/catalogue":         {"scheduler/course"},
	"server/internal/rpc":         {"server/internal/app", "server/internal/demo"},
	"server/internal/casework":    {"proto"},
	"server/internal/planning":    {"proto"},
	"server/internal/dispatch":    {"proto"},
	"server/internal/feed":        {"proto"},
	"server/internal/records":     {"proto"},
	"server/internal/load":        {"proto"},
	"server/internal/identity":    {"proto"},
	"scheduler/internal/instance": {"scheduler/internal/tour", "scheduler/internal/schedule", "scheduler/internal/search"},
	"scheduler/internal/tour":     {"scheduler/internal/schedule", "scheduler/internal/search"},
	"scheduler/internal/schedule": {"scheduler/internal/search"},
	"scheduler/internal":          {"scheduler/course", "scheduler/catalogue"},
	"scheduler/internal/route":    {"scheduler/internal"},
	"scheduler/internal/anneal":   {"scheduler/internal/vrptw", "scheduler/internal/instance", "scheduler/internal/tour", "scheduler/internal/schedule", "scheduler/internal/search"},
	"scheduler/internal/vrptw":    {"scheduler/internal/instance", "scheduler/internal/tour", "scheduler/internal/schedule", "scheduler/internal/search"},
	"scheduler/exchange":          {"scheduler/internal", "scheduler/week", "scheduler/cmd"},
	"scheduler/week":              {"scheduler/internal", "scheduler/exchange", "scheduler/cmd"},
	"scheduler":                   {"server", "proto", "client"},
}

func TestArchitecture_ImportsRunOneWay(t *testing.T) {
	t.Parallel()
	none(t, importBreaches(repository()))
	planted(t, importBreaches, "scheduler/quantity/bad.go", "package quantity\nimport _ \"vernation/scheduler/course\"\n")
	planted(t, importBreaches, "server/internal/casework/bad.go", "package casework\nimport _ \"vernation/proto/vernation/v1\"\n")
	planted(t, importBreaches, "scheduler/internal/tour/bad.go", "package tour\nimport _ \"vernation/scheduler/internal/search\"\n")
	planted(t, importBreaches, "client/bad.go", "package client\nimport _ \"vernation/server/internal/firm\"\n")
	planted(t, importBreaches, "scheduler/week/bad.go", "package week\nimport _ \"vernation/scheduler/internal/search\"\n")
}

func TestArchitecture_FunctionsAndFilesStaySmall(t *testing.T) {
	t.Parallel()
	none(t, sizeBreaches(repository()))
	planted(t, sizeBreaches, "server/bad.go", "package main\nfunc long() {\n"+strings.Repeat("\tprintln()\n", maxFunctionLines)+"}\n")
	planted(t, sizeBreaches, "server/bad.go", "package main\n"+strings.Repeat("// A line.\n", maxFileLines))
}

func TestArchitecture_EveryExportedNameIsDocumented(t *testing.T) {
	t.Parallel()
	none(t, commentBreaches(repository()))
	planted(t, commentBreaches, "client/bad.go", "// Package client is.\npackage client\nfunc Bare() {}\n")
	planted(t, commentBreaches, "client/bad.go", "// Package client is.\npackage client\ntype Bare struct{}\n")
	planted(t, commentBreaches, "client/bad.go", "// Package client is.\npackage client\nconst Bare = 1\n")
	planted(t, commentBreaches, "client/bad.go", "package client\n")
}

func TestArchitecture_EachOfTheEightRulesHasAllItsParts(t *testing.T) {
	t.Parallel()
	none(t, ruleBreaches(repository()))
	parts := fstest.MapFS{"scheduler/violation.go": file("package scheduler\nconst RuleShift Rule = \"shift\"\n")}
	if breaches := ruleBreaches(parts); len(breaches) < 5 {
		t.Errorf("a rule without any part is found with %v, want its missing checker, kernel, golden files, contract value and enough rules", breaches)
	}
}

func TestArchitecture_NothingClaimsToBeHarmless(t *testing.T) {
	t.Parallel()
	none(t, claimBreaches(repository()))
	planted(t, claimBreaches, "testdata/golden/sheet.txt", "This soap is Harmless to people.")
	planted(t, claimBreaches, "scheduler/catalogue/data/materials.yaml", "note: safe for children")
	planted(t, claimBreaches, "README.md", "a non-toxic material")
}

func TestArchitecture_TheTopLevelHoldsOnlyItsRooms(t *testing.T) {
	t.Parallel()
	none(t, topLevelBreaches(repository()))
	planted(t, topLevelBreaches, "utils/bad.go", "package utils\n")
}

func repository() fs.FS { return os.DirFS("..") }

func file(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }

func none(t *testing.T, breaches []string) {
	t.Helper()
	for _, breach := range breaches {
		t.Error(breach)
	}
}

// planted shows that a rule fails on a breach: a file that breaks it must be named.
func planted(t *testing.T, rule func(fs.FS) []string, name, text string) {
	t.Helper()
	breaches := rule(fstest.MapFS{name: file(text)})
	if !slices.ContainsFunc(breaches, func(b string) bool { return strings.Contains(b, strings.Split(name, "/")[0]) }) {
		t.Errorf("planted breach in %s was not found: %v", name, breaches)
	}
}

// sourceFiles calls do for every hand-written Go file that is no test.
func sourceFiles(tree fs.FS, do func(name string, text []byte, set *token.FileSet, parsed *ast.File)) {
	walk(tree, func(name string) {
		if !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") || strings.HasSuffix(name, ".pb.go") {
			return
		}
		text, err := fs.ReadFile(tree, name)
		if err != nil {
			panic(err)
		}
		set := token.NewFileSet()
		parsed, err := parser.ParseFile(set, name, text, parser.ParseComments)
		if err != nil {
			panic(err)
		}
		do(name, text, set, parsed)
	})
}

func walk(tree fs.FS, do func(name string)) {
	err := fs.WalkDir(tree, ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if entry.IsDir() && name != "." && strings.HasPrefix(entry.Name(), ".") {
			return fs.SkipDir
		}
		if !entry.IsDir() {
			do(name)
		}
		return nil
	})
	if err != nil {
		panic(err)
	}
}

func importBreaches(tree fs.FS) []string {
	var breaches []string
	sourceFiles(tree, func(name string, _ []byte, _ *token.FileSet, parsed *ast.File) {
		room := path.Dir(name)
		for _, spec := range parsed.Imports {
			target, ours := strings.CutPrefix(strings.Trim(spec.Path.Value, `"`), "vernation/")
			if ours && target != room && (!under(target, allowance(mayImport, room)) || forbidden(room, target)) {
				breaches = append(breaches, fmt.Sprintf("%s imports %s: the arrows of the rooms do not allow it", name, target))
			}
		}
	})
	return breaches
}

// allowance returns the entry of the longest room that holds the folder.
func allowance(rooms map[string][]string, folder string) []string {
	best := ""
	for room := range rooms {
		if under(folder, []string{room}) && len(room) > len(best) {
			best = room
		}
	}
	return rooms[best]
}

func forbidden(room, target string) bool {
	for from, targets := range neverImport {
		if under(room, []string{from}) && under(target, targets) {
			return true
		}
	}
	return false
}

func under(folder string, rooms []string) bool {
	return slices.ContainsFunc(rooms, func(room string) bool { return folder == room || strings.HasPrefix(folder, room+"/") })
}

func sizeBreaches(tree fs.FS) []string {
	var breaches []string
	sourceFiles(tree, func(name string, text []byte, set *token.FileSet, parsed *ast.File) {
		if lines := strings.Count(string(text), "\n"); lines > maxFileLines {
			breaches = append(breaches, fmt.Sprintf("%s has %d lines: want %d at most", name, lines, maxFileLines))
		}
		for _, declaration := range parsed.Decls {
			function, ok := declaration.(*ast.FuncDecl)
			if !ok {
				continue
			}
			if lines := set.Position(function.End()).Line - set.Position(function.Pos()).Line + 1; lines > maxFunctionLines {
				breaches = append(breaches, fmt.Sprintf("%s: %s has %d lines: want %d at most", name, function.Name.Name, lines, maxFunctionLines))
			}
		}
	})
	return breaches
}

func commentBreaches(tree fs.FS) []string {
	var breaches []string
	documented := map[string]bool{} // package folders with a package comment
	sourceFiles(tree, func(name string, _ []byte, set *token.FileSet, parsed *ast.File) {
		folder := path.Dir(name)
		documented[folder] = documented[folder] || parsed.Doc.Text() != ""
		for _, declaration := range parsed.Decls {
			for _, bare := range undocumented(declaration) {
				breaches = append(breaches, fmt.Sprintf("%s: exported %s has no comment", set.Position(bare.Pos()), bare.Name))
			}
		}
	})
	for folder, ok := range documented {
		if !ok {
			breaches = append(breaches, folder+": the package has no comment")
		}
	}
	sort.Strings(breaches)
	return breaches
}

// undocumented returns the exported names of a declaration that have no comment. A group with one comment is documented.
func undocumented(declaration ast.Decl) []*ast.Ident {
	switch d := declaration.(type) {
	case *ast.FuncDecl:
		if d.Name.IsExported() && d.Doc.Text() == "" && exportedReceiver(d) {
			return []*ast.Ident{d.Name}
		}
	case *ast.GenDecl:
		var bare []*ast.Ident
		for _, spec := range d.Specs {
			switch s := spec.(type) {
			case *ast.TypeSpec:
				if s.Name.IsExported() && d.Doc.Text()+s.Doc.Text()+s.Comment.Text() == "" {
					bare = append(bare, s.Name)
				}
			case *ast.ValueSpec:
				for _, name := range s.Names {
					if name.IsExported() && d.Doc.Text()+s.Doc.Text()+s.Comment.Text() == "" {
						bare = append(bare, name)
					}
				}
			}
		}
		return bare
	}
	return nil
}

// exportedReceiver says whether a function is none's method or that of an exported type.
func exportedReceiver(f *ast.FuncDecl) bool {
	if f.Recv == nil || len(f.Recv.List) == 0 {
		return true
	}
	kind := f.Recv.List[0].Type
	if star, ok := kind.(*ast.StarExpr); ok {
		kind = star.X
	}
	name, ok := kind.(*ast.Ident)
	return !ok || name.IsExported()
}

var ruleConstant = regexp.MustCompile(`Rule\w+\s+Rule = "(\w+)"`)

func ruleBreaches(tree fs.FS) []string {
	text, err := fs.ReadFile(tree, "scheduler/violation.go")
	if err != nil {
		return []string{err.Error()}
	}
	rules := ruleConstant.FindAllStringSubmatch(string(text), -1)
	var breaches []string
	if len(rules) != 8 {
		breaches = append(breaches, fmt.Sprintf("scheduler/violation.go names %d rules: want 8", len(rules)))
	}
	contract, _ := fs.ReadFile(tree, "proto/vernation/v1/rule.proto")
	for _, match := range rules {
		rule := match[1]
		for _, pattern := range []string{
			"scheduler/check_" + rule + ".go", "testdata/golden/" + rule + "/good*", "testdata/golden/" + rule + "/breach*",
		} {
			if found, _ := fs.Glob(tree, pattern); len(found) == 0 {
				breaches = append(breaches, fmt.Sprintf("rule %s has no %s", rule, pattern))
			}
		}
		if !kernelFile(tree, rule) {
			breaches = append(breaches, fmt.Sprintf("rule %s has no kernel file %s.go under scheduler/internal and no scheduler/compile_%s.go", rule, rule, rule))
		}
		if !strings.Contains(string(contract), "RULE_"+strings.ToUpper(rule)+" =") {
			breaches = append(breaches, fmt.Sprintf("rule %s has no value RULE_%s in the contract", rule, strings.ToUpper(rule)))
		}
	}
	return breaches
}

func kernelFile(tree fs.FS, rule string) bool {
	for _, pattern := range []string{"scheduler/internal/*/" + rule + ".go", "scheduler/compile_" + rule + ".go"} {
		if found, _ := fs.Glob(tree, pattern); len(found) > 0 {
			return true
		}
	}
	return false
}

var claims = regexp.MustCompile(`(?i)safe (for|around|to use (near|around)) (children|kids|pets|people|animals)|\bharmless\b|non-?toxic|organic,? so safe`)

// claimBreaches reads what people read: data, golden files, documents and the strings of code.
func claimBreaches(tree fs.FS) []string {
	var breaches []string
	walk(tree, func(name string) {
		if strings.HasSuffix(name, "_test.go") || strings.HasSuffix(name, ".pb.go") {
			return
		}
		if !slices.Contains([]string{".go", ".yaml", ".json", ".txt", ".txtar", ".md", ".proto", ".sql"}, path.Ext(name)) {
			return
		}
		text, err := fs.ReadFile(tree, name)
		if err != nil {
			panic(err)
		}
		for i, line := range strings.Split(string(text), "\n") {
			// A line that forbids the claim may quote it.
			if claims.MatchString(line) && !strings.Contains(strings.ToLower(line), "never") {
				breaches = append(breaches, fmt.Sprintf("%s:%d: claims to be harmless: %s", name, i+1, strings.TrimSpace(line)))
			}
		}
	})
	return breaches
}

func topLevelBreaches(tree fs.FS) []string {
	entries, err := fs.ReadDir(tree, ".")
	if err != nil {
		return []string{err.Error()}
	}
	var breaches []string
	for _, entry := range entries {
		if !strings.HasPrefix(entry.Name(), ".") && !slices.Contains(topLevel, entry.Name()) {
			breaches = append(breaches, fmt.Sprintf("top level holds %s: want only %v and dotfiles", entry.Name(), topLevel))
		}
	}
	return breaches
}
