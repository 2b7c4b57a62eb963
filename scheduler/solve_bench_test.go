package scheduler_test

import (
	"fmt"
	"slices"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// severalRounds is the round with every site, plant, follow-up and service so many times, under names of their own.
func severalRounds(times int) scheduler.Problem {
	all := roundWeek()
	all.Sites, all.Plants, all.FollowUps, all.Services = nil, nil, nil, nil
	all.Travel = travel.Matrix{Places: []travel.PlaceID{"base"}}
	for k := range times {
		p := roundWeek()
		name := func(id string) string { return fmt.Sprintf("%s-%d", id, k) }
		for _, s := range p.Sites {
			s.ID, s.Name = site.ID(name(string(s.ID))), name(s.Name)
			s.Areas = slices.Clone(s.Areas)
			for a := range s.Areas {
				s.Areas[a].ID = site.AreaID(name(string(s.Areas[a].ID)))
			}
			if s.Water.Area != "" {
				s.Water.Area = site.AreaID(name(string(s.Water.Area)))
			}
			all.Sites = append(all.Sites, s)
			all.Travel.Places = append(all.Travel.Places, travel.PlaceID(s.ID))
		}
		for _, plant := range p.Plants {
			plant.Plant.ID, plant.Plant.Site, plant.Plant.Area = site.PlantID(name(string(plant.Plant.ID))), site.ID(name(string(plant.Plant.Site))), site.AreaID(name(string(plant.Plant.Area)))
			all.Plants = append(all.Plants, plant)
		}
		for _, f := range p.FollowUps {
			all.FollowUps = append(all.FollowUps, renamed(f, name))
		}
		for _, s := range p.Services {
			s.ID, s.Site = name(s.ID), site.ID(name(string(s.Site)))
			for g := range s.Groups {
				s.Groups[g].Plant = site.PlantID(name(string(s.Groups[g].Plant)))
			}
			all.Services = append(all.Services, s)
		}
	}
	all.Rules.NoticeLead, all.Links = nil, nil
	for from := range all.Travel.Places {
		for to := range all.Travel.Places {
			seconds := int32(0)
			if from != to {
				seconds = int32(300 + (from*to*97+from*31+to*17)%1200)
			}
			all.Travel.Seconds, all.Travel.Metres = append(all.Travel.Seconds, seconds), append(all.Travel.Metres, seconds*8)
		}
	}
	return all
}

func renamed(f scheduler.FollowUp, name func(string) string) scheduler.FollowUp {
	f.ID, f.Site = scheduler.ItemID(name(string(f.ID))), site.ID(name(string(f.Site)))
	if f.Due.After != "" {
		f.Due.After = scheduler.ItemID(name(string(f.Due.After)))
	}
	f.Plants = slices.Clone(f.Plants)
	for i := range f.Plants {
		f.Plants[i] = site.PlantID(name(string(f.Plants[i])))
	}
	for w := range f.Ways {
		for n := range f.Ways[w].Parts {
			part := &f.Ways[w].Parts[n]
			part.Area = site.AreaID(name(string(part.Area)))
			if part.Use != nil {
				use := *part.Use
				use.Doses = slices.Clone(use.Doses)
				for i := range use.Doses {
					use.Doses[i].Plant = site.PlantID(name(string(use.Doses[i].Plant)))
				}
				part.Use = &use
			}
		}
	}
	return f
}

func TestSolve_SeveralRoundsKeepEveryRule(t *testing.T) {
	t.Parallel()
	plan := solved(t, severalRounds(3), 10)
	addsUp(t, plan)
}

// BenchmarkSolve plans a fortnight of two technicians: five times the sites of the round, with their follow-ups and waterings,
// about 60 items, in 200 rounds of ruin and recreate.
func BenchmarkSolve(b *testing.B) {
	p := severalRounds(5)
	for b.Loop() {
		if _, err := scheduler.Solve(b.Context(), p, scheduler.Options{Iterations: 200, Rates: roundRates()}); err != nil {
			b.Fatal(err)
		}
	}
}
