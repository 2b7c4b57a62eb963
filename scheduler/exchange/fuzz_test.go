package exchange_test

import (
	"bytes"
	"errors"
	"os"
	"testing"

	"vernation/scheduler/exchange"
)

// Whatever bytes come: the reader says what is wrong, by path, or gives a Problem that passes Validate and is written as what
// reads back the same.
func FuzzReadProblem(f *testing.F) {
	f.Add(paperWeek(f))
	f.Add([]byte(`{"format": "vernation-problem", "version": 1, "problem": {"now": "2026-03-02T17:00:00Z", "zone": "UTC", "first_day": "2026-03-02", "days": 1}}`))
	f.Add([]byte(`{"format": "vernation-problem", "version": 1, "options": {"limit": "0.000000001 s"}, "problem": {"travel": {"places": [], "seconds": [[]]}, "now": "0001-01-01T00:00:00+23:59"}}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, o, err := exchange.ReadProblem(bytes.NewReader(text))
		var invalid *exchange.InvalidFile
		switch {
		case errors.As(err, &invalid):
			for _, field := range invalid.Fields {
				if field.Path == "" || field.Text == "" || field.Reason == "" {
					t.Errorf("a wrong field without path, text or reason: %+v", field)
				}
			}
			if len(invalid.Fields) == 0 {
				t.Error("refused without a field")
			}
		case err != nil:
			t.Errorf("refused with %T: %v", err, err)
		default:
			if err := p.Validate(); err != nil {
				t.Errorf("read, and not valid: %v", err)
			}
			roundTrip(t, p, o)
		}
	})
}

// Whatever bytes come: the reader says what is wrong, or gives a plan that is written as what reads back the same.
func FuzzReadPlan(f *testing.F) {
	example, err := os.ReadFile("testdata/paper-week.plan.json")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(example)
	f.Add([]byte(`{"format": "vernation-plan", "version": 1, "plan": {"routes": [], "cost": {"parts": {"travel": -0}}, "elapsed": "1e3 s"}}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		plan, err := exchange.ReadPlan(bytes.NewReader(text))
		var invalid *exchange.InvalidFile
		switch {
		case err == nil:
			roundTripPlan(t, plan)
		case !errors.As(err, &invalid) || len(invalid.Fields) == 0:
			t.Errorf("refused without a field: %v", err)
		}
	})
}
