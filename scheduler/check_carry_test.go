package scheduler_test

import (
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

const carryItem = scheduler.ItemID("mealybug/application/2/1")

// carried turns the story into one in which so many lilies of the lodge are carried to the plant room on Friday morning,
// sprayed there, and carried back by a second visit once the room may be entered again: out 09:05-09:17, mix -09:23,
// spray 09:23-09:47, shut 3 h until 12:47, back from 13:05.
func carried(count int) func(*story) {
	return func(s *story) {
		s.Problem.Plants[2].Plant.Count = count
		s.Problem.Plants[2].Health = scheduler.ConfirmedInfested
		use := storyUse()
		use.Doses = []scheduler.Dose{{Plant: "lilies", Amount: volume("600 mL")}}
		s.Problem.FollowUps = append(s.Problem.FollowUps, scheduler.FollowUp{
			ID: carryItem, Case: "mealybug", Kind: scheduler.KindApplication, Pest: "citrus-mealybug", Certainty: "confirmed", Severity: 2,
			Site: "lodge", Plants: []site.PlantID{"lilies"}, Approved: true,
			Ways: []scheduler.Way{{ID: "carry", Kind: scheduler.AtTreatmentPlace, MostAway: 6 * time.Hour, Parts: []scheduler.Part{
				{Kind: scheduler.CarryOutPart, Area: "lobby", Takes: minutes(12), Persons: 1},
				{Kind: scheduler.ApplicationPart, Area: "plant-room", Takes: minutes(24), Persons: 1, Use: use},
				{Kind: scheduler.WaitPart, Area: "plant-room", Takes: 3 * time.Hour},
				{Kind: scheduler.CarryBackPart, Area: "plant-room", Takes: minutes(12), Persons: 1},
			}}},
			Due: scheduler.Due{EarliestOn: march(3)},
		})
		s.crew().Shifts = append(s.crew().Shifts, scheduler.Shift{Day: march(6), During: during(6, "07:30", "16:00")})
		work := func(part int, area site.AreaID, from, to string) scheduler.WorkItem {
			return scheduler.WorkItem{
				Item: carryItem, Kind: scheduler.KindApplication, Way: "carry", Part: part, Area: area, Plants: []site.PlantID{"lilies"},
				Begins: at(6, from), Ends: at(6, to), MixIndex: -1,
			}
		}
		spray := work(1, "plant-room", "09:23", "09:47")
		spray.Use, spray.MixIndex = use, 0
		visit := func(arrives, leaves string, work ...scheduler.WorkItem) scheduler.Visit {
			return scheduler.Visit{State: scheduler.Planned, Technician: "T1", Site: "lodge", Arrives: at(6, arrives), Leaves: at(6, leaves), SignIn: minutes(5), Work: work}
		}
		mix := scheduler.Mix{
			Technician: "T1", Product: "soap-a", Vessel: "sprayer", Measure: "cup", Site: "lodge", Area: "lobby",
			Need: volume("660 mL"), Volume: volume("32 US fl oz"), Concentrate: volume("0.625 US fl oz"),
			Begins: at(6, "09:17"), Ready: at(6, "09:23"), LastUse: at(6, "09:47"), UseBy: at(6, "16:00"),
			Rinse: during(6, "10:10", "10:15"), RinseAtBase: true,
		}
		s.Plan.Routes = append(s.Plan.Routes,
			scheduler.DayRoute{
				Technician: "T1", Day: march(6), Departs: at(6, "08:45"), Returns: at(6, "10:15"), Mixes: []scheduler.Mix{mix},
				Visits: []scheduler.Visit{visit("09:00", "09:47", work(0, "lobby", "09:05", "09:17"), spray)},
			},
			scheduler.DayRoute{
				Technician: "T1", Day: march(6), Departs: at(6, "12:45"), Returns: at(6, "13:32"),
				Visits: []scheduler.Visit{visit("13:00", "13:17", work(3, "plant-room", "13:05", "13:17"))},
			})
		s.Plan.KeepOuts = append(s.Plan.KeepOuts, scheduler.KeepOut{
			Area: "plant-room", During: civil.Interval{From: at(6, "09:23"), To: at(6, "12:47")}, Product: "soap-a", By: "T1", UntilDry: true, Item: carryItem,
		})
	}
}

// carryBack is the visit that carries back in a story made by carried; carryOut the first one.
func (s *story) carryBack() *scheduler.Visit { return &s.Plan.Routes[3].Visits[0] }
func (s *story) carryOut() *scheduler.Visit  { return &s.Plan.Routes[2].Visits[0] }

// back moves the second visit so that its work begins at a clock time.
func (s *story) back(begins string) {
	by := at(6, begins).Sub(at(6, "13:05"))
	r, v := &s.Plan.Routes[3], s.carryBack()
	for _, t := range []*civil.Instant{&r.Departs, &r.Returns, &v.Arrives, &v.Leaves, &v.Work[0].Begins, &v.Work[0].Ends} {
		*t = t.Add(by)
	}
}
