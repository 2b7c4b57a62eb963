package scheduler_test

import (
	"testing"

	"pgregory.net/rapid"
	"vernation/scheduler"
)

func TestZZStats(t *testing.T) {
	counts := map[string]int{}
	reasons := map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		p := drawProblem(rt)
		rates := roundRates()
		rates.DeferredVisit.Amount = 90_000
		plan, _ := scheduler.Solve(t.Context(), p, scheduler.Options{Iterations: 3, Rates: rates})
		counts["problems"]++
		counts["routes"] += len(plan.Routes)
		for _, r := range plan.Routes {
			if !r.Break.Empty() {
				counts["breaks"]++
			}
			counts["mixes"] += len(r.Mixes)
			for _, v := range r.Visits {
				counts["visits"]++
				for _, w := range v.Work {
					counts["work"]++
					if w.Use != nil {
						counts["applications"]++
					}
					if w.Part == 3 {
						counts["carry backs"]++
					}
				}
			}
		}
		counts["follow-ups"] += len(p.FollowUps)
		for _, u := range plan.Unplanned {
			counts[string(u.Status)]++
			for _, r := range u.Reasons {
				reasons[string(r.Rule)+": "+r.Text]++
			}
		}
	})
	t.Log(counts)
	for k, n := range reasons {
		if n > 25 {
			t.Log(n, k)
		}
	}
}
