package week_test

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/week"
)

func TestTrySolve(t *testing.T) {
	kind := week.Kind(os.Getenv("WEEK"))
	if kind == "" {
		t.Skip()
	}
	p, err := week.New(kind, 1)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Println(len(p.FollowUps), len(p.Services), len(p.Sites), len(p.Technicians))
	o := scheduler.Options{Rates: scheduler.DefaultRates(catalogue.Shipped())}
	o.Iterations, _ = strconv.Atoi(os.Getenv("ITERS"))
	sec, _ := strconv.Atoi(os.Getenv("SECS"))
	o.Limit = time.Duration(sec) * time.Second
	o.Islands, _ = strconv.Atoi(os.Getenv("ISL"))
	o.Seed = 1
	if v, err := strconv.Atoi(os.Getenv("SEED")); err == nil {
		o.Seed = uint64(v)
	}
	t0 := time.Now()
	o.Report = func(g scheduler.Progressed) {
		if g.Iteration%50 == 0 || time.Since(t0) > 20*time.Second {
			fmt.Println(time.Since(t0).Round(time.Millisecond), g.Iteration, g.Best, g.Bound)
		}
	}
	plan, err := scheduler.Solve(context.Background(), p, o)
	fmt.Println(time.Since(t0), plan.Iterations, plan.Cost, plan.Bound, err)
	if os.Getenv("WHY") != "" {
		for _, u := range plan.Unplanned {
			fmt.Println(u.Item, u.Status, u.Cost, u.Reasons[0].Rule, u.Reasons[0].Text)
		}
	}
	v := scheduler.Check(p, plan)
	fmt.Println(len(v), "violations; unplanned", len(plan.Unplanned))
}
