package scheduler_test

import (
	"context"
	"fmt"
	"strings"

	"vernation/scheduler"
)

// Two technicians look after an office, a lodge and a flat. Mealybugs were found in the office, fungus gnats in the lodge's
// lobby, where people always are, and webbing in the flat. Solve packs the follow-ups into the service visits: the office is
// sprayed in the evening, once the cleaners are gone; the gnats' plants are carried to the plant room, drenched there
// by the technician with the licence, and brought back by the other. Every figure is invented.
//
// A plan defers to the label in hand, local codes and licensed practice.
func Example() {
	problem := roundWeek()
	problem.Links = []scheduler.Link{{Kind: scheduler.InsteadOf, From: gnatsID(1), To: waterLodge}} // a drench waters
	plan, err := scheduler.Solve(context.Background(), problem, scheduler.Options{Seed: 1, Iterations: 50, Rates: roundRates()})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, route := range plan.Routes {
		fmt.Printf("%s, %s, %s to %s\n", route.Day.Short(), route.Technician, newYork.FormatClock(route.Departs), newYork.FormatClock(route.Returns))
		for _, visit := range route.Visits {
			fmt.Printf("  %s %s-%s\n", visit.Site, newYork.FormatClock(visit.Arrives), newYork.FormatClock(visit.Leaves))
			for _, work := range visit.Work {
				what := string(work.Kind)
				if work.Service != "" {
					what = string(work.Service)
				} else if work.Way == "plant-room" {
					what += []string{", carry out", "", "", ", carry back"}[work.Part]
				}
				var plants []string
				for _, id := range work.Plants {
					plants = append(plants, string(id))
				}
				fmt.Printf("    %s %s: %s\n", newYork.FormatClock(work.Begins), what, strings.Join(plants, ", "))
			}
		}
		for _, mix := range route.Mixes {
			fmt.Printf("  mix %v of %s in %v at %s, use by %s\n", mix.Concentrate, mix.Product, mix.Volume, newYork.FormatClock(mix.Begins), newYork.FormatClock(mix.UseBy))
		}
	}
	for _, shut := range plan.KeepOuts {
		fmt.Printf("%s is shut %s to %s\n", shut.Area, newYork.Format(shut.During.From), newYork.Format(shut.During.To))
	}
	for _, part := range scheduler.CostParts {
		if amount := plan.Cost.Parts[part]; amount != 0 {
			fmt.Printf("%s %v\n", part, amount)
		}
	}
	fmt.Printf("%d rules broken, total %v\n", len(scheduler.Check(problem, plan)), plan.Cost.Total)
	// Output:
	// Tue 3 Mar, T1, 18:53 to 20:27
	//   office 19:13-20:07
	//     19:18 inspect-neighbours: ficus
	//     19:30 application: pothos
	//   mix 0.625 US fl oz of soap-a in 32 US fl oz at 19:24, use by 22:30
	// Wed 4 Mar, T1, 07:30 to 08:52
	//   lodge 07:45-08:32
	//     07:50 application, carry out: gnat-lilies
	//     08:08 application: gnat-lilies
	//   mix 2.375 US fl oz of drench-b in 120 US fl oz at 08:02, use by 16:00
	// Wed 4 Mar, T2, 12:09 to 12:59
	//   lodge 12:24-12:44
	//     12:29 watering: lilies
	//     12:32 application, carry back: gnat-lilies
	// Thu 5 Mar, T2, 08:35 to 09:34
	//   flat 09:00-09:09
	//     09:02 watering: palm
	//     09:04 inspect-infested: palm
	// Tue 10 Mar, T1, 18:43 to 20:27
	//   office 19:03-20:07
	//     19:08 watering: ficus
	//     19:12 inspect-neighbours: ficus
	//     19:18 watering: pothos
	//     19:30 application: pothos
	//   mix 0.625 US fl oz of soap-a in 32 US fl oz at 19:24, use by 22:30
	// Thu 12 Mar, T2, 08:11 to 09:29
	//   lodge 08:26-08:38
	//     08:31 watering: lilies
	//     08:34 watering: gnat-lilies
	//   flat 09:00-09:04
	//     09:02 watering: palm
	// floor is shut Tue 3 Mar 19:30 to Wed 4 Mar 00:32
	// plant-room is shut Wed 4 Mar 08:08 to Wed 4 Mar 12:32
	// floor is shut Tue 10 Mar 19:30 to Wed 11 Mar 00:32
	// paid-time 294.15
	// travel 100.80
	// opening-visits 35.00
	// delay-of-follow-ups 18.00
	// 0 rules broken, total 447.95
}
