package scheduler_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// leaf is one value of a JSON document that holds no others: how it is reached, and how it is replaced.
type leaf struct {
	path  string
	value any
	set   func(any)
}

// leaves lists the values of a document in the order of their paths; entries of a list are numbered.
func leaves(path string, node any, set func(any)) []leaf {
	switch n := node.(type) {
	case map[string]any:
		var all []leaf
		for _, name := range slices.Sorted(maps.Keys(n)) {
			all = append(all, leaves(path+"/"+name, n[name], func(v any) { n[name] = v })...)
		}
		return all
	case []any:
		var all []leaf
		for i := range n {
			all = append(all, leaves(fmt.Sprintf("%s/%d", path, i), n[i], func(v any) { n[i] = v })...)
		}
		return all
	}
	return []leaf{{path, node, set}}
}

// document is the story as JSON.
func document(t interface{ Fatal(...any) }, s *story) map[string]any {
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	var d map[string]any
	if err := json.Unmarshal(text, &d); err != nil {
		t.Fatal(err)
	}
	return d
}

// unlooked are the fields of a plan that no hard rule asks about, and those where a change one way does no harm.
var unlooked = map[string]string{
	"/cost/":                                "money is weighed, not a rule",
	"/bound":                                "money",
	"/gap":                                  "money",
	"/iterations":                           "how it was found",
	"/elapsed":                              "how it was found",
	"/seed":                                 "how it was found",
	"/state":                                "planned or published: asked of unapproved applications alone",
	"/mix_index":                            "of work that draws on nothing",
	"/plan/unplanned":                       "reasons for people",
	"-1m /departs":                          "setting out earlier is waiting",
	"+1m /returns":                          "returning later is waiting",
	"+1m /to":                               "shut longer than asked",
	"-1m /use_by":                           "used by earlier than allowed, still after the last use",
	"-1m /from":                             "shut earlier than asked, or a rinse a minute longer",
	"+1m /departs of /plan/routes/0":        "a minute of waiting was left",
	"+1m /departs of /plan/routes/1":        "a minute of waiting was left",
	"-1m /arrives of /plan/routes/0":        "a minute of waiting was left",
	"-1m /begins of /plan/routes/0/mixes/0": "mixed a minute longer",
	"+1m /leaves of /plan/routes/2":         "minutes of waiting were left",
}

// otherValues are plausible wrong values for one of a plan.
func otherValues(value any) map[string]any {
	switch v := value.(type) {
	case string:
		if v == "" {
			return nil
		}
		if at, err := time.Parse(time.RFC3339, v); err == nil {
			return map[string]any{"-1m ": at.Add(-time.Minute).Format(time.RFC3339), "+1m ": at.Add(time.Minute).Format(time.RFC3339)}
		}
		if _, err := time.Parse(time.DateOnly, v); err == nil {
			return map[string]any{"": "2026-03-10"}
		}
		if strings.HasSuffix(v, " mL") || strings.HasSuffix(v, " US fl oz") {
			return map[string]any{"": "1 mL"}
		}
		return map[string]any{"": v + "-other"}
	case float64:
		return map[string]any{"": v + 1e9}
	case bool:
		return map[string]any{"": !v}
	}
	return nil
}

func excused(path, way string) bool {
	for end := range unlooked {
		direction, name, found := strings.Cut(end, " ")
		if !found {
			if strings.Contains(path+"/", end+"/") || strings.Contains(path, end) {
				return true
			}
			continue
		}
		name, where, _ := strings.Cut(name, " of ")
		if direction+" " == way && strings.HasSuffix(path, name) && strings.HasPrefix(path, where) {
			return true
		}
	}
	return false
}

// TestCheck_IsBlindToNoFieldOfAPlan changes each value of a plan that keeps every rule, one at a time, instants by a
// minute either way: each is either excused above or accused.
func TestCheck_IsBlindToNoFieldOfAPlan(t *testing.T) {
	t.Parallel()
	s := newStory()
	carried(4)(s)
	if found := s.check(); len(found) > 0 {
		t.Fatalf("accused before any change: %v", found)
	}
	d := document(t, s)
	looked := 0
	for _, l := range leaves("/plan", d["plan"], nil) {
		for way, other := range otherValues(l.value) {
			if excused(l.path, way) {
				continue
			}
			l.set(other)
			text, err := json.Marshal(d)
			l.set(l.value)
			if err != nil {
				t.Fatal(err)
			}
			var changed story
			if err := json.Unmarshal(text, &changed); err != nil {
				t.Errorf("%s as %v: %v", l.path, other, err)
				continue
			}
			looked++
			if len(changed.check()) == 0 {
				t.Errorf("%s%s as %v instead of %v: nobody is accused", way, l.path, other, l.value)
			}
		}
	}
	if looked < 150 {
		t.Errorf("only %d changes were tried: want 150 or more", looked)
	}
}

// TestCheck_SurvivesHostileValues: whatever single values a Problem and a Plan are given, Validate and Check neither
// panic nor say two things of one plan.
func TestCheck_SurvivesHostileValues(t *testing.T) {
	t.Parallel()
	s := newStory()
	carried(4)(s)
	base, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	hostile := []any{
		nil, "", -1, 0, 1, 1e18, -1e18, true, false, []any{}, map[string]any{}, "office", "floor", "lilies", "T1", "soap-a", "none-needed",
		"application", "0001-01-01", "9999-12-31", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z", "48:00", "0 mL", "-5 L", "UTC",
	}
	rapid.Check(t, func(t *rapid.T) {
		var d map[string]any
		if err := json.Unmarshal(base, &d); err != nil {
			t.Fatal(err)
		}
		all := leaves("", d, nil)
		for range rapid.IntRange(1, 3).Draw(t, "changes") {
			all[rapid.IntRange(0, len(all)-1).Draw(t, "leaf")].set(rapid.SampledFrom(hostile).Draw(t, "value"))
		}
		text, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		var changed story
		if json.Unmarshal(text, &changed) != nil {
			return
		}
		_ = changed.Problem.Validate()
		first, second := changed.check(), changed.check()
		if !slices.Equal(first, second) {
			t.Fatalf("said first %v, then %v", first, second)
		}
	})
}
