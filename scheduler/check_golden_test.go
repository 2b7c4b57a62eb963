package scheduler_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"vernation/scheduler"
	"vernation/testdata"
)

var update = flag.Bool("update", false, "write golden files anew")

// change is one operation of a JSON Patch (RFC 6902); only replace, and add to an object, are used.
type change struct {
	Op    string `json:"op"`
	Path  string `json:"path"`
	Value any    `json:"value"`
}

func replace(path string, value any) change { return change{"replace", path, value} }

// smallest is, for each rule, the smallest change of the story that breaks it and no other.
var smallest = map[scheduler.Rule][]change{
	// The technician departs at 18:55 instead of 18:48: the office is 20 min away, the visit arrives at 19:09.
	scheduler.RuleShift: {replace("/plan/routes/0/departs", "2026-03-03T23:55:00Z")},
	// The office closes at 20:00, the visit lasts until 20:07.
	scheduler.RuleAccess: {replace("/problem/sites/0/access/weekly/0/closes", "20:00")},
	// The licence lapses the day before.
	scheduler.RuleLicence: {replace("/problem/technicians/0/licences/0/to", "2026-03-02")},
	// The application may begin a day later at the earliest.
	scheduler.RuleTiming: {replace("/problem/follow_ups/0/due/earliest_on", "2026-03-04")},
	// The label lists another pest.
	scheduler.RuleLabel: {replace("/problem/products/0/label/pests/0", "fungus-gnat")},
	// The cleaners stay a quarter of an hour longer, until 19:45.
	scheduler.RuleReentry: {replace("/problem/sites/0/areas/0/people/weekly/1/closes", "19:45")},
	// One mark of the cup more: 0.75 in 32 = 2.344 %, the label allows 1.953 %.
	scheduler.RuleMix: {replace("/plan/routes/0/mixes/0/concentrate", "0.75 US fl oz")},
	// The pinned visit arrives a minute early.
	scheduler.RulePinned: {replace("/plan/routes/1/visits/0/arrives", "2026-03-04T13:39:00Z")},
}

// TestCheck_GoldenBreaches reads, for each of the eight rules, a plan that keeps all of them and the smallest change
// that breaks that one: nothing is said of the first, and of the second only that rule, in these words.
func TestCheck_GoldenBreaches(t *testing.T) {
	t.Parallel()
	for _, rule := range scheduler.Rules {
		t.Run(string(rule), func(t *testing.T) {
			t.Parallel()
			folder := filepath.Join("..", "testdata", "golden", string(rule))
			if *update {
				writeGolden(t, folder, rule)
			}
			good, patch := goldenFile(t, rule, "good.json"), goldenFile(t, rule, "breach.json")
			if found := checkJSON(t, good); len(found) > 0 {
				t.Errorf("the good plan is accused: %v", found)
			}
			found := checkJSON(t, patched(t, good, patch))
			var said strings.Builder
			for _, v := range found {
				fmt.Fprintln(&said, v)
				if v.Rule != rule || v.Standing {
					t.Errorf("%v (standing %v): want a breach of %s alone, by a decision", v, v.Standing, rule)
				}
			}
			if *update {
				write(t, filepath.Join(folder, "want.txt"), []byte(said.String()))
				return
			}
			if want := string(goldenFile(t, rule, "want.txt")); said.String() != want || want == "" {
				t.Errorf("said:\n%swant:\n%s(go test -run Golden -update writes it anew)", said.String(), want)
			}
		})
	}
}

// TestCheck_GoldenBarredProduct reads a plan that applies what an incident bars from the site: a second breach of the rule label.
func TestCheck_GoldenBarredProduct(t *testing.T) {
	t.Parallel()
	folder := filepath.Join("..", "testdata", "golden", string(scheduler.RuleLabel))
	if *update {
		write(t, filepath.Join(folder, "barred.json"), indented(t, []change{{"add", "/problem/sites/0/barred", []map[string]string{
			{"product": "soap-a", "incident": "spill-1", "since": "2026-03-01T15:00:00Z"},
		}}}))
	}
	var said strings.Builder
	for _, v := range checkJSON(t, patched(t, goldenFile(t, scheduler.RuleLabel, "good.json"), goldenFile(t, scheduler.RuleLabel, "barred.json"))) {
		fmt.Fprintln(&said, v)
	}
	if *update {
		write(t, filepath.Join(folder, "barred.txt"), []byte(said.String()))
		return
	}
	if want := string(goldenFile(t, scheduler.RuleLabel, "barred.txt")); said.String() != want || want == "" {
		t.Errorf("said:\n%swant:\n%s(go test -run Golden -update writes it anew)", said.String(), want)
	}
}

func writeGolden(t *testing.T, folder string, rule scheduler.Rule) {
	t.Helper()
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(folder, "good.json"), indented(t, newStory()))
	write(t, filepath.Join(folder, "breach.json"), indented(t, smallest[rule]))
}

func indented(t *testing.T, value any) []byte {
	t.Helper()
	text, err := json.MarshalIndent(value, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return append(text, '\n')
}

func write(t *testing.T, path string, text []byte) {
	t.Helper()
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
}

// goldenFile reads a file of a rule from the tree, so that it is the one just written.
func goldenFile(t *testing.T, rule scheduler.Rule, name string) []byte {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "testdata", "golden", string(rule), name))
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func checkJSON(t *testing.T, text []byte) []scheduler.Violation {
	t.Helper()
	var s story
	reader := json.NewDecoder(bytes.NewReader(text))
	reader.DisallowUnknownFields()
	if err := reader.Decode(&s); err != nil {
		t.Fatal(err)
	}
	if err := s.Problem.Validate(); err != nil {
		t.Errorf("the problem: %v", err)
	}
	return s.check()
}

// patched applies the replacements of a JSON Patch.
func patched(t *testing.T, text, patch []byte) []byte {
	t.Helper()
	var document any
	var changes []change
	if err := json.Unmarshal(text, &document); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(patch, &changes); err != nil {
		t.Fatal(err)
	}
	for _, c := range changes {
		steps := strings.Split(strings.TrimPrefix(c.Path, "/"), "/")
		at := document
		for i, step := range steps {
			last := i == len(steps)-1
			switch node := at.(type) {
			case map[string]any:
				if _, there := node[step]; there == (last && c.Op == "add") {
					t.Fatalf("%s %s: no such field to replace or to go through, or one is there already", c.Op, c.Path)
				}
				if last {
					node[step] = c.Value
				}
				at = node[step]
			case []any:
				k, err := strconv.Atoi(step)
				if err != nil || k < 0 || k >= len(node) {
					t.Fatalf("%s %s: no entry %q", c.Op, c.Path, step)
				}
				if last {
					node[k] = c.Value
				}
				at = node[k]
			default:
				t.Fatalf("%s %s: nothing under %q", c.Op, c.Path, step)
			}
		}
	}
	out, err := json.Marshal(document)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestGolden_EveryRuleIsEmbedded: the embedded folder holds the three files of each of the eight rules and nothing else.
func TestGolden_EveryRuleIsEmbedded(t *testing.T) {
	t.Parallel()
	folders, err := testdata.Golden.ReadDir("golden")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range folders {
		names = append(names, f.Name())
	}
	for _, rule := range scheduler.Rules {
		if !slices.Contains(names, string(rule)) {
			t.Errorf("no golden folder for rule %s", rule)
			continue
		}
		for _, file := range []string{"good.json", "breach.json", "want.txt"} {
			if text, err := testdata.Golden.ReadFile("golden/" + string(rule) + "/" + file); err != nil || len(text) == 0 {
				t.Errorf("golden/%s/%s is missing or empty: %v", rule, file, err)
			}
		}
	}
}

// FuzzCheck: whatever a Problem and a Plan say, Validate and Check do not panic, and say the same twice.
func FuzzCheck(f *testing.F) {
	for _, rule := range scheduler.Rules {
		if text, err := testdata.Golden.ReadFile("golden/" + string(rule) + "/good.json"); err == nil {
			f.Add(text)
		}
	}
	for _, text := range []string{`{}`, `{"plan":{"routes":[{"visits":[{"work":[{"part":-1,"mix_index":-7}]}]}]}}`, `{"problem":{"days":-1,"links":[{"kind":"not"}]}}`} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		var s story
		if json.Unmarshal(text, &s) != nil {
			return
		}
		_ = s.Problem.Validate()
		first, second := s.check(), s.check()
		if !slices.Equal(first, second) {
			t.Errorf("said first %v, then %v", first, second)
		}
	})
}
