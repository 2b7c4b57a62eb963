package scheduler_test

import (
	"encoding/json"
	"slices"
	"testing"

	"vernation/scheduler"
)

// spoil sets some values of a Problem, as a JSON document, to hostile ones; ok is false where none can be read any more.
func spoil(p scheduler.Problem, choose chooser, most int) (spoilt scheduler.Problem, ok bool) {
	hostile := []any{
		nil, "", -1, 0, 1, 1e18, -1e18, 9e15, 86_400, true, false, []any{}, map[string]any{}, "s0", "s0-a0", "s0-p0", "T1", "soap-a", "none-needed",
		"application", "0001-01-01", "9999-12-31", "2026-03-08", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z", "2026-03-08T07:00:00Z", "48:00", "0 mL", "-5 L", "UTC",
	}
	text, err := json.Marshal(p)
	if err != nil {
		return p, false
	}
	var document map[string]any
	if json.Unmarshal(text, &document) != nil {
		return p, false
	}
	all := leaves("", document, nil)
	for range choose("changes", 0, most) {
		all[choose("leaf", 0, len(all)-1)].set(hostile[choose("value", 0, len(hostile)-1)])
	}
	if text, err = json.Marshal(document); err != nil {
		return p, false
	}
	return spoilt, json.Unmarshal(text, &spoilt) == nil
}

// seedCorpus adds texts from which Problems of several sizes are drawn.
func seedCorpus(f *testing.F) {
	f.Add([]byte{})
	for seed := range uint64(8) {
		choose := bySeed(seed)
		text := make([]byte, 150<<(seed%4))
		for i := range text {
			text[i] = byte(choose("", 0, 255))
		}
		f.Add(text)
	}
}

// drawnFrom draws a Problem from the first half of a text, and hands over choices from the second.
func drawnFrom(text []byte) (scheduler.Problem, chooser) {
	half := len(text) / 2
	return draw(byBytes(text[:half]), drawnSize{days: 9, sites: 3, items: 9}), byBytes(text[half:])
}

// FuzzValidate holds that Validate never panics, and names the same fields each time, whatever single values are.
func FuzzValidate(f *testing.F) {
	seedCorpus(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		p, choose := drawnFrom(text)
		if err := p.Validate(); err != nil {
			t.Fatalf("the drawn Problem is not valid: %v", err)
		}
		if spoilt, ok := spoil(p, choose, 4); ok && !slices.Equal(invalid(spoilt), invalid(spoilt)) {
			t.Errorf("named first %v, then %v", invalid(spoilt), invalid(spoilt))
		}
	})
}

// FuzzSolve holds that Solve answers whatever Validate lets pass, and that its plan keeps every rule and says what it
// does with each item.
func FuzzSolve(f *testing.F) {
	seedCorpus(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		p, choose := drawnFrom(text)
		if spoilt, ok := spoil(p, choose, 3); ok && spoilt.Validate() == nil {
			p = spoilt
		}
		plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: 1, Iterations: choose("iterations", 0, 2), Rates: roundRates()})
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range scheduler.Check(p, plan) {
			if !v.Standing {
				t.Errorf("the plan breaks a rule: %v", v)
			}
		}
		everythingIsAccountedFor(t, p, plan)
		partsAddUp(t, "plan", plan.Cost)
	})
}

// FuzzCheck_OfAnotherProblemsPlan holds that Check never panics and says the same twice of a plan that was made for another Problem, or spoilt.
func FuzzCheck_OfAnotherProblemsPlan(f *testing.F) {
	seedCorpus(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		p, choose := drawnFrom(text)
		plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: 1, Rates: roundRates()})
		if err != nil {
			t.Fatal(err)
		}
		for range choose("swaps", 0, 6) {
			swap(&plan, choose)
		}
		if spoilt, ok := spoil(p, choose, 4); ok {
			p = spoilt
		}
		first, second := scheduler.Check(p, plan), scheduler.Check(p, plan)
		if !slices.Equal(first, second) {
			t.Errorf("said first %v, then %v", first, second)
		}
	})
}

// swap moves something of a plan to where it does not belong.
func swap(plan *scheduler.Plan, choose chooser) {
	if len(plan.Routes) == 0 {
		return
	}
	a, b := &plan.Routes[choose("route", 0, len(plan.Routes)-1)], &plan.Routes[choose("other", 0, len(plan.Routes)-1)]
	switch choose("swap", 0, 5) {
	case 0:
		a.Technician, b.Technician = b.Technician, a.Technician
	case 1:
		a.Visits, b.Visits = b.Visits, a.Visits
	case 2:
		a.Mixes, b.Mixes = b.Mixes, a.Mixes
	case 3:
		a.Departs, a.Returns = a.Returns, a.Departs
	case 4:
		a.Break.From, a.Break.To = b.Returns, a.Departs
	case 5:
		if len(a.Visits) > 0 && len(b.Visits) > 0 {
			v, w := &a.Visits[0], &b.Visits[len(b.Visits)-1]
			v.Work, w.Work = w.Work, v.Work
			v.Arrives, w.Leaves = w.Leaves, v.Arrives
		}
	}
}
