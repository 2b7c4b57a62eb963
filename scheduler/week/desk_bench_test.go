package week_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/week"
)

// planned is a middle week with a plan of it that was published, ready to be asked.
var planned = sync.OnceValues(func() (scheduler.Problem, scheduler.Plan) {
	p, err := week.New(week.Middle, 1)
	if err != nil {
		panic(err)
	}
	ready, err := scheduler.Prepare(p, rates)
	if err != nil {
		panic(err)
	}
	plan, err := ready.Solve(context.Background(), scheduler.Options{Seed: 1, Limit: 10 * time.Second, Islands: 2})
	if err != nil {
		panic(err)
	}
	n := 0
	for r := range plan.Routes {
		for v := range plan.Routes[r].Visits {
			visit := &plan.Routes[r].Visits[v]
			n++
			visit.ID, visit.State = scheduler.VisitID(fmt.Sprintf("visit-%03d", n)), scheduler.Published
		}
	}
	return p, plan
})

// prepared makes a Problem ready.
func prepared(b *testing.B, p scheduler.Problem) *scheduler.Prepared {
	b.Helper()
	ready, err := scheduler.Prepare(p, rates)
	if err != nil {
		b.Fatal(err)
	}
	return ready
}

// inMilliseconds reports a share of all times that others stay under.
func inMilliseconds(b *testing.B, took []time.Duration, percent int, unit string) {
	slices.Sort(took)
	b.ReportMetric(float64(took[min(len(took)-1, len(took)*percent/100)].Microseconds())/1000, unit)
}

// BenchmarkOpenings asks for the openings of one follow-up after another on the plan of a middle week.
func BenchmarkOpenings(b *testing.B) {
	p, plan := planned()
	ready := prepared(b, p)
	random := rand.New(rand.NewPCG(1, 1))
	var took []time.Duration
	found := 0
	for b.Loop() {
		id := p.FollowUps[random.IntN(len(p.FollowUps))].ID
		began := time.Now()
		ranked, err := scheduler.Openings(b.Context(), ready, plan, id, scheduler.Asked{})
		if err != nil {
			b.Fatal(err)
		}
		took = append(took, time.Since(began))
		found += len(ranked.Openings)
	}
	inMilliseconds(b, took, 50, "ms-p50")
	inMilliseconds(b, took, 99, "ms-p99")
	b.ReportMetric(float64(found)/float64(len(took)), "openings/op")
}

// BenchmarkReplan plans the rest of a middle week anew when a technician falls sick on its first morning: how long until the first
// plan is there, and until one that is cheaper than that.
func BenchmarkReplan(b *testing.B) {
	p, plan := planned()
	p.Before = nil
	for _, route := range plan.Routes {
		p.Before = append(p.Before, route.Visits...)
	}
	sick := &p.Technicians[0]
	sick.Shifts = slices.DeleteFunc(slices.Clone(sick.Shifts), func(s scheduler.Shift) bool { return s.Day == sick.Shifts[0].Day })
	ready := prepared(b, p)
	var first, better []time.Duration
	var costs, again float64
	for b.Loop() {
		began := time.Now()
		var at []time.Duration
		o := scheduler.Options{Seed: 1, Limit: 3 * time.Second, Islands: 2, Report: func(g scheduler.Progressed) {
			if len(at) == 0 {
				costs += float64(g.Best.Total)
			}
			if len(at) < 3 { // each island reports its first
				at = append(at, time.Since(began))
			}
		}}
		answer, err := ready.Solve(b.Context(), o)
		if err != nil {
			b.Fatal(err)
		}
		first, better = append(first, at[0]), append(better, at[len(at)-1])
		again += float64(answer.Cost.Total)
	}
	inMilliseconds(b, first, 50, "ms-first")
	inMilliseconds(b, better, 50, "ms-improved")
	b.ReportMetric(costs/float64(len(first)), "cost-first")
	b.ReportMetric(again/float64(len(first)), "cost-3s")
}

// BenchmarkOverrun is the time past a limit, in milliseconds: 50 are promised.
func BenchmarkOverrun(b *testing.B) {
	for _, kind := range []week.Kind{week.Small, week.Middle} {
		b.Run(string(kind), func(b *testing.B) {
			ready := prepared(b, drawn(b, kind, *benchSeed))
			var took []time.Duration
			for b.Loop() {
				for _, limit := range []time.Duration{50 * time.Millisecond, 400 * time.Millisecond, 2 * time.Second} {
					began := time.Now()
					if _, err := ready.Solve(b.Context(), scheduler.Options{Seed: 1, Limit: limit, Islands: 2}); err != nil {
						b.Fatal(err)
					}
					took = append(took, time.Since(began)-limit)
				}
			}
			inMilliseconds(b, took, 50, "ms-p50")
			inMilliseconds(b, took, 100, "ms-worst")
		})
	}
}

// BenchmarkItems constructs plans of more and more items at the same sites: services, each in so many parts. Solving a Problem of
// twice the items should take little more than twice as long.
func BenchmarkItems(b *testing.B) {
	most := 20
	if testing.Short() {
		most = 2
	}
	for _, times := range []int{1, 2, 5, 10, 20} {
		if times > most {
			break
		}
		p := manyServices(drawn(b, week.Middle, *benchSeed), times)
		items := len(p.FollowUps) + len(p.Services)
		b.Run(fmt.Sprint(items), func(b *testing.B) {
			ready := prepared(b, p)
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			for b.Loop() {
				if _, err := ready.Solve(b.Context(), scheduler.Options{Seed: 1}); err != nil {
					b.Fatal(err)
				}
			}
			runtime.ReadMemStats(&after)
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N*items), "µs/item")
			b.ReportMetric(float64(after.Sys)/(1<<20), "MiB")
		})
	}
}

// manyServices is a week without follow-ups whose first 1,000 services stand there so many times, each a minute long, for
// the same crew.
func manyServices(p scheduler.Problem, times int) scheduler.Problem {
	services, crew := p.Services[:1000], p.Technicians
	p.FollowUps, p.Links, p.Services, p.Technicians = nil, nil, nil, nil
	for k := range times {
		for _, s := range services {
			s.ID = fmt.Sprintf("%s-%d", s.ID, k)
			s.Groups = slices.Clone(s.Groups[:1])
			s.Groups[0].Minutes = 1
			s.Last = civil.Date(0)
			p.Services = append(p.Services, s)
		}
	}
	p.Technicians = crew
	return p
}
