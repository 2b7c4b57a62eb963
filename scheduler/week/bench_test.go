package week_test

import (
	"flag"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/week"
)

var (
	benchTime  = flag.Duration("week.time", 20*time.Second, "how long BenchmarkWeek lets Solve search")
	benchSeed  = flag.Uint64("week.seed", 1, "the seed of BenchmarkWeek's weeks and searches")
	benchRound = flag.Int("week.iterations", 0, "the iterations that BenchmarkWeek lets Solve search; 0 is time alone")
)

// sizes are the weeks that are measured; with -short, as CI runs every benchmark once, the large one is left out.
func sizes() []week.Kind {
	if testing.Short() {
		return []week.Kind{week.Small, week.Middle}
	}
	return []week.Kind{week.Small, week.Middle, week.Large}
}

// BenchmarkWeek holds plans of Solve against plans by hand, on the same weeks and in the same currency:
//
//	go test -run '^$' -bench Week -benchtime 1x ./scheduler/week -week.time 20s
//
// riding-% is the share of the planned follow-ups that ride on a service visit; km and h-road are driven, h-work lie between
// departures and returns; cost is in minor units, with what is left.
func BenchmarkWeek(b *testing.B) {
	for _, kind := range sizes() {
		b.Run(string(kind), func(b *testing.B) {
			p := drawn(b, kind, *benchSeed)
			b.Run("own-trips", func(b *testing.B) { measure(b, p, func() scheduler.Plan { return week.OwnTrips(p, rates) }) })
			b.Run("first-fit", func(b *testing.B) { measure(b, p, func() scheduler.Plan { return week.FirstFit(p, rates) }) })
			b.Run("solve", func(b *testing.B) {
				measure(b, p, func() scheduler.Plan {
					plan, err := scheduler.Solve(b.Context(), p, scheduler.Options{Seed: *benchSeed, Iterations: *benchRound, Limit: *benchTime, Islands: 2, Rates: rates})
					if err != nil {
						b.Fatal(err)
					}
					return plan
				})
			})
		})
	}
}

// BenchmarkNew is the time to draw a week.
func BenchmarkNew(b *testing.B) {
	for _, kind := range sizes() {
		b.Run(string(kind), func(b *testing.B) {
			for b.Loop() {
				drawn(b, kind, *benchSeed)
			}
		})
	}
}

func measure(b *testing.B, p scheduler.Problem, make func() scheduler.Plan) {
	var plan scheduler.Plan
	for b.Loop() {
		plan = make()
	}
	if violations := scheduler.Check(p, plan); len(violations) > 0 {
		b.Errorf("the plan breaks rules: %v", violations)
	}
	m := week.Measure(p, plan)
	b.ReportMetric(m.RidingPercent(), "riding-%")
	b.ReportMetric(float64(m.PlannedFollowUps), "follow-ups")
	b.ReportMetric(float64(m.PlannedServices), "services")
	b.ReportMetric(float64(m.Metres)/1000, "km")
	b.ReportMetric(m.Driven.Hours(), "h-road")
	b.ReportMetric(m.Worked.Hours(), "h-work")
	b.ReportMetric(float64(plan.Cost.Total), "cost")
	b.ReportMetric(float64(plan.Iterations), "iterations")
}
