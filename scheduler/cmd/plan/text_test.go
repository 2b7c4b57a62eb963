package main

import (
	"flag"
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler/exchange"
)

// The summary of the example's plan, which stands in a file: so that its text does not change with the search.
func TestSummary_ReadsWell(t *testing.T) {
	t.Parallel()
	open := func(name string) *os.File {
		from, err := os.Open("../../exchange/testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { from.Close() })
		return from
	}
	p, _, err := exchange.ReadProblem(open("paper-week.problem.json"))
	if err != nil {
		t.Fatal(err)
	}
	plan, err := exchange.ReadPlan(open("paper-week.plan.json"))
	if err != nil {
		t.Fatal(err)
	}
	got := summary(p, plan)
	if flag.Lookup("update").Value.String() == "true" {
		if err := os.WriteFile("testdata/summary.txt", []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("testdata/summary.txt")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("run with -update and look at the difference (-want +got)\n%s", diff)
	}
}
