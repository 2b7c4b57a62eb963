package exchange_test

import (
	"bytes"
	"errors"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/exchange"
	"vernation/scheduler/quantity"
	"vernation/scheduler/week"
)

// same compares values exactly: volumes by amount and unit, zones by name; an empty list and none are the same.
var same = cmp.Options{
	cmpopts.EquateEmpty(),
	cmp.Comparer(func(a, b quantity.Volume) bool { return a.Equal(b) && a.Unit() == b.Unit() }),
	cmp.Comparer(func(a, b quantity.Mass) bool { return a.Exact() == b.Exact() }),
	cmp.Comparer(func(a, b quantity.Surface) bool { return a.Exact() == b.Exact() }),
	cmpopts.IgnoreFields(scheduler.Options{}, "Report"),
}

func paperWeek(t testing.TB) []byte {
	t.Helper()
	text, err := os.ReadFile("testdata/paper-week.problem.json")
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func readProblem(t testing.TB, text []byte) (scheduler.Problem, scheduler.Options) {
	t.Helper()
	p, o, err := exchange.ReadProblem(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return p, o
}

// The example is worked by hand: two weeks over the change of clocks, an office, a hotel and a home, every figure invented.
// It says nothing that has a default.
func TestReadProblem_TakesTheHandWrittenExampleWithItsDefaults(t *testing.T) {
	t.Parallel()
	p, o := readProblem(t, paperWeek(t))
	got := []any{
		p.Now.String(), p.Technicians[1].SpeedPercent, p.FollowUps[0].Ways[0].Parts[0].Persons, p.Plants[4].Plant.Count, p.Plants[0].Health,
		p.FollowUps[0].Ways[0].Parts[0].Takes, p.Technicians[0].Measures[0].Marks.Exact(), p.Travel.Seconds[1*4+2], p.Sites[0].SignIn,
		p.Rules.MostWork, p.Rules.NoticeLead[0].Lead, o.Seed, o.Iterations,
	}
	want := []any{
		"2026-03-02T17:00:00Z", 100, 1, 1, scheduler.ConfirmedInfested,
		32 * time.Minute, "0.125 US fl oz", int32(600), 5 * time.Minute,
		scheduler.DefaultRules(catalogue.Shipped()).MostWork, 24 * time.Hour, uint64(1), 200,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff(scheduler.DefaultRates(catalogue.Shipped()), o.Rates); diff != "" {
		t.Error("rates that the file leaves out are not the shipped ones:", diff)
	}
}

func TestWrite_WhatIsReadBackIsEqual(t *testing.T) {
	t.Parallel()
	p, o := readProblem(t, paperWeek(t))
	roundTrip(t, p, o)
	plan, err := scheduler.Solve(t.Context(), p, o)
	if err != nil {
		t.Fatal(err)
	}
	if violations := scheduler.Check(p, plan); len(violations) > 0 {
		t.Errorf("the example's plan breaks rules: %v", violations)
	}
	roundTripPlan(t, plan)
}

func roundTrip(t testing.TB, p scheduler.Problem, o scheduler.Options) {
	t.Helper()
	var text, again bytes.Buffer
	if err := exchange.WriteProblem(&text, p, o); err != nil {
		t.Fatal(err)
	}
	backP, backO, err := exchange.ReadProblem(bytes.NewReader(text.Bytes()))
	if err != nil {
		t.Fatalf("what was written does not read: %v", err)
	}
	if diff := cmp.Diff(p, backP, same); diff != "" {
		t.Error("the Problem is another one (-written +read):", diff)
	}
	if diff := cmp.Diff(o, backO, same); diff != "" {
		t.Error("the options are others (-written +read):", diff)
	}
	if err := exchange.WriteProblem(&again, backP, backO); err != nil || again.String() != text.String() {
		t.Errorf("written twice, the file differs (%v)", err)
	}
}

func roundTripPlan(t testing.TB, plan scheduler.Plan) {
	t.Helper()
	var text bytes.Buffer
	if err := exchange.WritePlan(&text, plan); err != nil {
		t.Fatal(err)
	}
	back, err := exchange.ReadPlan(bytes.NewReader(text.Bytes()))
	if err != nil {
		t.Fatalf("what was written does not read: %v", err)
	}
	if diff := cmp.Diff(plan, back, same); diff != "" {
		t.Error("the plan is another one (-written +read):", diff)
	}
}

// Every field of a plan and of a Problem goes through, whatever it holds: values made by filling each field with something.
func TestWrite_LosesNoField(t *testing.T) {
	t.Parallel()
	var plan scheduler.Plan
	fill(reflect.ValueOf(&plan).Elem(), exchange.Words(), new(int))
	roundTripPlan(t, plan)
}

func TestRead_NamesEveryWrongFieldAtOnce(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, old, new string
		want           string // path: beginning of the text
	}{
		{"unknown field", `"days": 14`, `"days": 14, "dais": 1`, `problem.dais: no field of a problem: want one of now, zone,`},
		{"field twice", `"days": 14`, `"days": 14, "days": 15`, `problem.days: stands there twice`},
		{"null", `"days": 14`, `"days": null`, `problem.days: null: leave the field out`},
		{"required field missing", `"kind": "office", "sign_in"`, `"sign_in"`, `problem.sites[0].kind: missing: want one of office, lodging,`},
		{"number where a duration belongs", `"sign_in": "2 min"`, `"sign_in": 120`, `problem.sites[2].sign_in: 120: want text such as "90 min"`},
		{"duration without its unit", `"sign_in": "2 min"`, `"sign_in": "120"`, `problem.sites[2].sign_in: duration "120": want a number and one of h, min and s`},
		{"unit that does not say whose it is", `"128 US fl oz"`, `"128 fl oz"`, `problem.technicians[0].vessels[0].capacity: volume "128 fl oz": unit "fl oz" is not known`},
		{"mass for volume", `"600 mL"`, `"600 g"`, `problem.follow_ups[0].ways[0].parts[0].use.doses[0].amount: volume "600 g": unit "g" is not known`},
		{"unknown word", `"kind": "lodging"`, `"kind": "inn"`, `problem.sites[1].kind: "inn": want one of office, lodging`},
		{"half a minute", `"minutes": 6`, `"minutes": 6.5`, `problem.services[0].groups[0].minutes: 6.5: want a whole number`},
		{"money with a point", `"left_out_price": 2000`, `"left_out_price": 2000.00`, `problem.follow_ups[2].left_out_price: 2000.00: want a whole number`},
		{"money as text", `"left_out_price": 2000`, `"left_out_price": "20.00"`, `problem.follow_ups[2].left_out_price: "20.00": want money`},
		{"fraction of a second", `2026-03-02T12:00:00-05:00`, `2026-03-02T12:00:00.5-05:00`, `problem.now: instant "2026-03-02T12:00:00.5-05:00": want whole seconds`},
		{"instant without an offset", `2026-03-02T12:00:00-05:00`, `2026-03-02T12:00:00`, `problem.now: instant "2026-03-02T12:00:00": want RFC 3339`},
		{"date that does not exist", `"first_day": "2026-03-02"`, `"first_day": "2026-02-30"`, `problem.first_day: date "2026-02-30": want year-month-day`},
		{"zone that does not exist", `"days": 14`, `"days": 14, "rules": [], "sites": 5`, `problem.rules: a list: want an object`},
		{"row of a matrix too short", `[1200, 0, 600, 1080]`, `[1200, 0, 600]`, `problem.travel.seconds[1]: 3 entries: want 4, one for each place`},
		{"row of a matrix missing", `[1200, 0, 600, 1080], `, ``, `problem.travel.seconds: 3 rows: want 4, one for each place`},
		{"not what Validate asks for", `"site": "home", "kind": "watering"`, `"site": "house", "kind": "watering"`, `problem.services[2].site: site "house" is not in the Problem`},
		{"negative limit", `"iterations": 200`, `"iterations": -1`, `options.iterations: -1: want 0 or more`},
		{"another version", `"version": 1`, `"version": 2`, `version: 2: want 1`},
		{"another kind of file", `"vernation-problem"`, `"vernation-plan"`, `format: "vernation-plan": want "vernation-problem"`},
		{"no format", `"format": "vernation-problem",`, ``, `format: missing: want text`},
		{"no JSON", `"days": 14,`, `"days": 14,,`, `line 9, column 16: invalid character ','`},
		{"no UTF-8", `An office`, "An \xff office", `line 12, column 37: no UTF-8`},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			text := strings.Replace(string(paperWeek(t)), c.old, c.new, 1)
			_, _, err := exchange.ReadProblem(strings.NewReader(text))
			var invalid *exchange.InvalidFile
			if !errors.As(err, &invalid) {
				t.Fatalf("ReadProblem = %v, want an InvalidFile", err)
			}
			for _, field := range invalid.Fields {
				if strings.HasPrefix(field.Error(), c.want) && field.Reason != "" {
					return
				}
			}
			t.Errorf("ReadProblem = %v,\nwant a field %s", err, c.want)
		})
	}
}

func TestRead_RefusesWhatGoesOnAfterTheObject(t *testing.T) {
	t.Parallel()
	if _, _, err := exchange.ReadProblem(strings.NewReader(string(paperWeek(t)) + "{}")); err == nil {
		t.Error("two objects in one file are read as one")
	}
	for _, text := range []string{"", "null", "[]", "3", `"text"`} {
		var invalid *exchange.InvalidFile
		if _, err := exchange.ReadPlan(strings.NewReader(text)); !errors.As(err, &invalid) {
			t.Errorf("ReadPlan(%q) = %v, want an InvalidFile", text, err)
		}
	}
}

func TestWriteProblem_RefusesWhatNobodyCouldRead(t *testing.T) {
	t.Parallel()
	p, o := readProblem(t, paperWeek(t))
	p.Days = 0
	var invalid *scheduler.InvalidProblem
	if err := exchange.WriteProblem(&bytes.Buffer{}, p, o); !errors.As(err, &invalid) {
		t.Errorf("WriteProblem of an invalid Problem = %v, want an InvalidProblem", err)
	}
	p.Days, p.Sites[0].Name = 14, "An \xff office"
	if err := exchange.WriteProblem(&bytes.Buffer{}, p, o); err == nil || !strings.Contains(err.Error(), "problem.sites[0].name") {
		t.Errorf("WriteProblem of text that is no UTF-8 = %v, want its path", err)
	}
}

func TestInvalidFile_SaysTheFirstTwentyFieldsAndCountsTheRest(t *testing.T) {
	t.Parallel()
	text := strings.ReplaceAll(string(paperWeek(t)), `"site":`, `"at":`)
	_, _, err := exchange.ReadProblem(strings.NewReader(text))
	if err == nil || !strings.Contains(err.Error(), "more") || strings.Count(err.Error(), "\n") != 21 {
		t.Errorf("ReadProblem = %v, want twenty lines and a count", err)
	}
}

func TestReadPlan_TakesTheExamplePlanThatKeepsTheRules(t *testing.T) {
	t.Parallel()
	p, _ := readProblem(t, paperWeek(t))
	text, err := os.ReadFile("testdata/paper-week.plan.json")
	if err != nil {
		t.Fatal(err)
	}
	plan, err := exchange.ReadPlan(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if violations := scheduler.Check(p, plan); len(violations) > 0 || len(plan.KeepOuts) != 3 {
		t.Errorf("the example's plan shuts %d areas, want 3, and breaks rules: %v", len(plan.KeepOuts), violations)
	}
	roundTripPlan(t, plan)
	// By hand: 2.5 US fl oz made up to a gallon of 128 are 0.625 in 32, exactly the label's greatest; of the drench's greatest rate
	// 2.56/128 x 120 = 2.4, of which 2.375 can be read off a cup with marks every 1/8.
	for i, want := range []string{"0.625 US fl oz in 32 US fl oz", "2.375 US fl oz in 120 US fl oz"} {
		if m := plan.Routes[i].Mixes[0]; m.Concentrate.Exact()+" in "+m.Volume.Exact() != want {
			t.Errorf("mix %d is %v in %v, want %s", i, m.Concentrate, m.Volume, want)
		}
	}
}

// Weeks of every kind, with the plans by hand that belong to them.
func TestWrite_LosesNothingOfGeneratedWeeks(t *testing.T) {
	t.Parallel()
	rates := scheduler.DefaultRates(catalogue.Shipped())
	rapid.Check(t, func(r *rapid.T) {
		kind := rapid.SampledFrom([]week.Kind{
			week.Small, week.Tight(scheduler.RulePinned), week.Tight(scheduler.RuleTiming), week.Tight(scheduler.RuleAccess), week.Tight(scheduler.RuleMix),
		}).Draw(r, "kind")
		p, err := week.New(kind, rapid.Uint64().Draw(r, "seed"))
		if err != nil {
			t.Fatal(err)
		}
		o := scheduler.Options{
			Seed: rapid.Uint64().Draw(r, "seed of the search"), Iterations: rapid.IntRange(0, 1e9).Draw(r, "iterations"),
			Limit: time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(r, "limit")), Rates: rates,
		}
		o.Rates.Visit.Amount = quantity.Money(rapid.Int64Range(0, 1<<60).Draw(r, "rate"))
		roundTrip(t, p, o)
		roundTripPlan(t, week.FirstFit(p, rates))
	})
}
