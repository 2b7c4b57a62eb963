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
	for _, k := range []week.Kind{week.Small} {
		began := time.Now()
		p, err := week.New(k, 1)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Println(k, time.Since(began), len(p.Sites), len(p.FollowUps), len(p.Services), len(p.Technicians), len(p.Links), len(p.Done), len(p.Plants))
		kinds := map[scheduler.FollowUpKind]int{}
		ways := map[int]int{}
		due := map[string]int{}
		for _, f := range p.FollowUps {
			kinds[f.Kind]++
			ways[len(f.Ways)]++
			due[fmt.Sprint(f.Due.EarliestOn.Short(), " ", f.Due.After != "")]++
		}
		fmt.Println(kinds, ways, due)
		links := map[scheduler.LinkKind]int{}
		for _, l := range p.Links {
			links[l.Kind]++
		}
		fmt.Println(links)
		began = time.Now()
		plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: 1, Iterations: 0, Rates: scheduler.DefaultRates(catalogue.Shipped())})
		fmt.Println("solve", time.Since(began), err, plan.Cost, len(plan.Unplanned))
		began = time.Now()
		v := scheduler.Check(p, plan)
		fmt.Println("check", time.Since(began), len(v))
		for i := range v {
			if i < 5 {
				fmt.Println(v[i])
			}
		}
		why := map[string]int{}
		for _, u := range plan.Unplanned {
			why[string(u.Status)+" "+string(u.Reasons[0].Rule)+" "+u.Reasons[0].Text[:min(60, len(u.Reasons[0].Text))]]++
		}
		n := 0
		for w, c := range why {
			if c > 0 && n < 25 {
				fmt.Println(c, w)
				n++
			}
		}
	}
}
