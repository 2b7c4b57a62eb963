package exchange_test

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/exchange"
	"vernation/scheduler/week"
)

// The schemas are judged by an implementation of JSON Schema (draft 2020-12) that knows nothing of ours.
func schema(t *testing.T, name string) *jsonschema.Schema {
	t.Helper()
	compiler := jsonschema.NewCompiler()
	compiler.AssertFormat()
	compiled, err := compiler.Compile(name)
	if err != nil {
		t.Fatal(err)
	}
	return compiled
}

func validate(t *testing.T, s *jsonschema.Schema, text []byte) error {
	t.Helper()
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return s.Validate(value)
}

func TestSchema_AllowsWhatIsWritten(t *testing.T) {
	t.Parallel()
	problems, plans := schema(t, "problem.schema.json"), schema(t, "plan.schema.json")
	if err := validate(t, problems, paperWeek(t)); err != nil {
		t.Error(err)
	}
	example, err := os.ReadFile("testdata/paper-week.plan.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := validate(t, plans, example); err != nil {
		t.Error(err)
	}
	rates := scheduler.DefaultRates(catalogue.Shipped())
	p, err := week.New(week.Small, 1)
	if err != nil {
		t.Fatal(err)
	}
	var problem, plan bytes.Buffer
	if err := exchange.WriteProblem(&problem, p, scheduler.Options{Seed: 1, Rates: rates}); err != nil {
		t.Fatal(err)
	}
	if err := exchange.WritePlan(&plan, week.FirstFit(p, rates)); err != nil {
		t.Fatal(err)
	}
	if err := validate(t, problems, problem.Bytes()); err != nil {
		t.Error(err)
	}
	if err := validate(t, plans, plan.Bytes()); err != nil {
		t.Error(err)
	}
}

// What the reader refuses for its shape, the schema refuses too.
func TestSchema_RefusesWhatTheReaderRefuses(t *testing.T) {
	t.Parallel()
	problems := schema(t, "problem.schema.json")
	for _, c := range []struct{ name, old, new string }{
		{"unknown field", `"days": 14`, `"days": 14, "dais": 1`},
		{"null", `"days": 14`, `"days": null`},
		{"required field missing", `"kind": "office", "sign_in"`, `"sign_in"`},
		{"duration as a number", `"sign_in": "2 min"`, `"sign_in": 120`},
		{"duration without its unit", `"sign_in": "2 min"`, `"sign_in": "120"`},
		{"volume without whose it is", `"128 US fl oz"`, `"128 fl oz"`},
		{"unknown word", `"kind": "lodging"`, `"kind": "inn"`},
		{"half a minute", `"minutes": 6`, `"minutes": 6.5`},
		{"instant without an offset", `2026-03-02T12:00:00-05:00`, `2026-03-02T12:00:00`},
		{"another version", `"version": 1`, `"version": 2`},
		{"another kind of file", `"vernation-problem"`, `"vernation-plan"`},
	} {
		text := strings.Replace(string(paperWeek(t)), c.old, c.new, 1)
		if _, _, err := exchange.ReadProblem(strings.NewReader(text)); err == nil {
			t.Errorf("%s: the reader takes it", c.name)
		}
		if err := validate(t, problems, []byte(text)); err == nil {
			t.Errorf("%s: the schema allows it", c.name)
		}
	}
}
