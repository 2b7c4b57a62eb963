package store_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

const (
	settings = "settings of the business are no noun of the feed"
	stock    = "lots and their movements are no noun of the feed"
)

// tellsNothing are the methods that write and tell no change, with why nobody needs to hear of it.
var tellsNothing = map[string]string{
	"InsertPlanRun": "a run is watched itself", "UpdateRunProgress": "a run is watched itself",
	"InsertPlan": "a draft is nobody's work until it is published", "DropForgotten": "answers, not state",
	"InsertDeviations": "told with their report", "InsertNotices": "follow from the visits that are told", "UseUpNotices": "follow from the report that is told",
	"DropKeepOuts": "follow from the visit or report that is told", "DropReportedKeepOuts": "a correction, whose report is told", "ConfirmDryAfter": "told with its report",
	"SetPolicy": settings, "InsertHolidays": settings, "UpdateHoliday": settings, "DeleteHoliday": settings,
	"SetHolidayExternalID": settings, "SetAbsenceExternalID": "another program's own id", "SetServiceExternalID": "another program's own id",
	"InsertLots": stock, "SetLotExternalID": stock, "UpdateLot": stock, "DeleteLot": stock, "InsertMovements": stock,
	"InsertClientConsent": "a question; the answer is told with its site", "InsertStamp": "told with the visit that it begins",
	"PutAccessSecrets": "secrets are in no feed", "InsertSecretReadings": "kept for who asks who read them",
	"InsertIntegrationKey": "credentials are in no feed", "SetIntegrationKey": "credentials are in no feed",
	"InsertNoticeSending": "the office marks it; programs read notices",
	"PutRoadTimes":        "answers of a road service, no state", "DropRoadTimes": "answers of a road service, no state",
	"InsertWebhook": "how changes are passed on", "SetWebhookSecret": "how changes are passed on", "DeleteWebhook": "how changes are passed on",
}

// A method that changes the business's state and tells nothing would leave every copy of that state wrong, without a sign.
func TestChanges_EveryWriteOfTheStoreTells(t *testing.T) {
	t.Parallel()
	writes := regexp.MustCompile(`^(Insert|Update|Delete|Set|Put|Rewrite|Add|Append|End|Reopen|Replace|Drop|Confirm|UseUp|Save|Touch)[A-Z]`)
	calls := map[string]map[string]bool{}
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	var methods []string
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, decl := range parsed.Decls {
			if f, ok := decl.(*ast.FuncDecl); ok && f.Body != nil {
				calls[f.Name.Name] = called(f.Body)
				if f.Recv != nil && writes.MatchString(f.Name.Name) {
					methods = append(methods, f.Name.Name)
				}
			}
		}
	}
	if len(methods) < 25 {
		t.Fatalf("only %d methods that write were found, so that this test reads the wrong files", len(methods))
	}
	for name := range tellsNothing {
		if calls[name] == nil {
			t.Errorf("tellsNothing excuses %s, which there is not", name)
		}
	}
	for _, name := range methods {
		_, excused := tellsNothing[name]
		if told := reaches(calls, name, "Tell", map[string]bool{}); !told && !excused {
			t.Errorf("%s writes and tells nothing: call tx.Tell with what changed, or say in tellsNothing why nobody needs to hear of it", name)
		}
	}
}

// called lists the names of what a body calls or hands on.
func called(body ast.Node) map[string]bool {
	names := map[string]bool{}
	ast.Inspect(body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.SelectorExpr:
			names[n.Sel.Name] = true
		case *ast.Ident:
			names[n.Name] = true
		}
		return true
	})
	return names
}

// reaches says whether a function calls another one, by way of functions of the package.
func reaches(calls map[string]map[string]bool, from, to string, seen map[string]bool) bool {
	if seen[from] {
		return false
	}
	seen[from] = true
	for name := range calls[from] {
		if name == to || calls[name] != nil && reaches(calls, name, to, seen) {
			return true
		}
	}
	return false
}
