package scheduler_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/site"
)

// Sizes of the middle week.
const (
	middleRegions = 6  // of two technicians each
	middleRounds  = 84 // of six follow-ups and three waterings each
	middleMore    = 5  // further services beside each watering
)

// middleWeek is a week of 12 technicians with 504 follow-ups and 1,512 services, all invented, and a plan of it: each two
// technicians have rounds of their own and are planned for themselves, which is quick and fills their days.
var middleWeek = sync.OnceValues(func() (*scheduler.Prepared, scheduler.Plan) {
	all := severalRounds(middleRounds)
	all.Days = 7
	for _, s := range slices.Clone(all.Services) {
		for k := range middleMore {
			more := s
			more.ID, more.Kind = fmt.Sprintf("%s-more-%d", s.ID, k), site.GroomingService
			all.Services = append(all.Services, more)
		}
	}
	crew := all.Technicians
	all.Technicians = nil
	var plan scheduler.Plan
	var regions []scheduler.Problem
	for r := range middleRegions {
		mine := func(id string) bool { return regionOf(id) == r }
		part := all
		part.Technicians = nil
		for _, technician := range crew {
			technician.ID = scheduler.TechnicianID(fmt.Sprintf("%s-%d", technician.ID, r))
			part.Technicians = append(part.Technicians, technician)
		}
		all.Technicians = append(all.Technicians, part.Technicians...)
		part.FollowUps = slices.DeleteFunc(slices.Clone(all.FollowUps), func(f scheduler.FollowUp) bool { return !mine(string(f.Site)) })
		part.Services = slices.DeleteFunc(slices.Clone(all.Services), func(s site.Service) bool { return !mine(string(s.Site)) })
		regions = append(regions, part)
	}
	for _, part := range regions {
		solved, err := scheduler.Solve(context.Background(), part, scheduler.Options{Rates: roundRates()})
		if err != nil {
			panic(err)
		}
		plan.Routes = append(plan.Routes, solved.Routes...)
		plan.Unplanned = append(plan.Unplanned, solved.Unplanned...)
	}
	ready, err := scheduler.Prepare(all, roundRates())
	if err != nil {
		panic(err)
	}
	return ready, plan
})

// regionOf reads the region of a site off its name, which ends in the number of its round.
func regionOf(id string) int {
	number := 0
	_, _ = fmt.Sscanf(id[strings.LastIndex(id, "-")+1:], "%d", &number)
	return number % middleRegions
}

// BenchmarkOpenings asks for the openings of one follow-up after another on the plan of a middle week. It reports the time
// that 99 of 100 questions stay under.
func BenchmarkOpenings(b *testing.B) {
	ready, plan := middleWeek()
	followUps := ready.Problem().FollowUps
	b.Logf("%d technicians, %d follow-ups, %d services, %d day routes, %d unplanned", len(ready.Problem().Technicians),
		len(followUps), len(ready.Problem().Services), len(plan.Routes), len(plan.Unplanned))
	random := rand.New(rand.NewPCG(1, 1))
	var took []time.Duration
	found := 0
	for b.Loop() {
		id := followUps[random.IntN(len(followUps))].ID
		began := time.Now()
		ranked, err := scheduler.Openings(b.Context(), ready, plan, id, scheduler.Asked{})
		if err != nil {
			b.Fatal(err)
		}
		took = append(took, time.Since(began))
		found += len(ranked.Openings)
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "ms-p99")
	b.ReportMetric(float64(found)/float64(len(took)), "openings/op")
}
