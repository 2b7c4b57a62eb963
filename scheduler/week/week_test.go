package week_test

import (
	"fmt"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/week"
)

func TestTry(t *testing.T) {
	rates := scheduler.DefaultRates(catalogue.Shipped())
	for _, k := range []week.Kind{week.Small, week.Middle} {
		p, err := week.New(k, 1)
		if err != nil {
			t.Fatal(err)
		}
		for name, f := range map[string]func(scheduler.Problem, scheduler.Rates) scheduler.Plan{"first": week.FirstFit, "own": week.OwnTrips} {
			began := time.Now()
			plan := f(p, rates)
			fmt.Println(k, name, time.Since(began), len(plan.Unplanned), plan.Cost, len(scheduler.Check(p, plan)))
			fmt.Printf("%+v %.1f\n", week.Measure(p, plan), week.Measure(p, plan).RidingPercent())
			for i, v := range scheduler.Check(p, plan) {
				if i < 10 {
					fmt.Println(v)
				}
			}
		}
		if k == week.Small {
			plan, _ := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: 1, Iterations: 0, Rates: rates})
			fmt.Println("solve", plan.Elapsed, len(plan.Unplanned), plan.Cost)
			fmt.Println("price", week.Price(p, plan, rates))
			fmt.Printf("%+v\n", week.Measure(p, plan))
		}
	}
}
