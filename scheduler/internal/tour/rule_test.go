package tour_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"testing"
)

// TestRules_AreFoundByTheFourNames: each rule on a walk stands in the file of its name, with what it adds (extend),
// whether it lets a step be (allows), what it costs (cost) and how it says no (reason), in this order, as far as it has
// each; every one has a reason, and something to give it for.
func TestRules_AreFoundByTheFourNames(t *testing.T) {
	t.Parallel()
	names := []string{"extend", "allows", "cost", "reason"}
	for _, rule := range []string{"shift", "access", "timing", "label", "reentry", "mix", "pinned"} {
		file, err := parser.ParseFile(token.NewFileSet(), rule+".go", nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		var found []string
		for _, declared := range file.Decls {
			f, ok := declared.(*ast.FuncDecl)
			if !ok || f.Recv == nil {
				continue
			}
			if of, ok := f.Recv.List[0].Type.(*ast.Ident); ok && of.Name == rule+"Rule" {
				found = append(found, f.Name.Name)
			}
		}
		want := slices.DeleteFunc(slices.Clone(names), func(name string) bool { return !slices.Contains(found, name) })
		if !slices.Equal(found, want) || len(found) < 2 || !slices.Contains(found, "reason") {
			t.Errorf("%s.go holds %v of its rule: want some of %v in this order, and a reason", rule, found, names)
		}
	}
}
