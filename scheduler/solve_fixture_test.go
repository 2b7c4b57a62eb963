package scheduler_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// The Problems of these tests: an invented round of three sites over a fortnight in March 2026, in which New York's
// clocks go forward on Sunday 8 March at 02:00. Every figure in them is invented.

// roundWeek returns the Problem of the round: mealybugs in an office, fungus gnats in the lobby of a lodge where people
// always are, a suspicion in a flat; two technicians, of whom one may apply.
func roundWeek() scheduler.Problem {
	p := storyProblem()
	p.Fixed = nil
	p.Sites = append(p.Sites, roundFlat())
	p.Products = append(p.Products, roundDrench())
	p.Materials = append(p.Materials, scheduler.MaterialFacts{ID: "bti", Law: catalogue.RegisteredProduct, Name: "Bti"})
	p.Plants = append(p.Plants,
		storyPlant("palm", "flat", "living-room", scheduler.SuspectedInfested),
		storyPlant("gnat-lilies", "lodge", "lobby", scheduler.ConfirmedInfested),
	)
	for i := range p.Plants {
		p.Plants[i].Tolerance = append(p.Plants[i].Tolerance, catalogue.Tolerance{Material: "bti", Verdict: catalogue.Stands, Standing: catalogue.OwnRecords})
	}
	p.Technicians = []scheduler.Technician{roundLicensed(), roundHelper()}
	p.Travel = travel.Matrix{ // minutes: base-office 20, base-lodge 15, base-flat 25, office-lodge 10, office-flat 18, lodge-flat 22
		Places:  []travel.PlaceID{"base", "office", "lodge", "flat"},
		Seconds: []int32{0, 1200, 900, 1500, 1200, 0, 600, 1080, 900, 600, 0, 1320, 1500, 1080, 1320, 0},
		Metres:  []int32{0, 9000, 7000, 12000, 9000, 0, 4000, 8000, 7000, 4000, 0, 9000, 12000, 8000, 9000, 0},
	}
	p.FollowUps = []scheduler.FollowUp{
		roundSpray(1, scheduler.Due{EarliestOn: march(3), IdealOn: march(3), LatestOn: march(5)}),
		roundSpray(2, scheduler.Due{After: sprayID(1), EarliestLag: 7, IdealLag: 7, LatestLag: 7, StandsUntilLag: 10}),
		roundLook(1, scheduler.Due{EarliestOn: march(2), IdealOn: march(3), LatestOn: march(9)}),
		roundLook(2, scheduler.Due{After: lookID(1), EarliestLag: 5, IdealLag: 7, LatestLag: 7, StandsUntilLag: 9}),
		roundGnats(1, scheduler.Due{EarliestOn: march(3), IdealOn: march(4), LatestOn: march(6)}),
		roundSuspect(),
	}
	p.Services = []site.Service{
		{ID: waterLodge, Site: "lodge", Kind: site.WateringService, Groups: []site.Group{{Plant: "lilies", Minutes: 3}, {Plant: "gnat-lilies", Minutes: 4}}, Earliest: 5, Ideal: 7, Latest: 9, Last: march(-3)},
		{ID: waterOffice, Site: "office", Kind: site.WateringService, Groups: []site.Group{{Plant: "ficus", Minutes: 4}, {Plant: "pothos", Minutes: 6}}, Earliest: 5, Ideal: 7, Latest: 9, Last: march(2)},
		{ID: "water-flat", Site: "flat", Kind: site.WateringService, Groups: []site.Group{{Plant: "palm", Minutes: 2}}, Earliest: 5, Ideal: 7, Latest: 9, Last: march(-2)},
	}
	return p
}

func roundFlat() site.Site {
	return site.Site{
		ID: "flat", Client: "third", Name: "the flat", Zone: newYork, Jurisdiction: "US-PA", Kind: catalogue.Home,
		Access: civil.Calendar{Weekly: []civil.Weekly{weekly("thu", "09:00", "12:00")}}, SignIn: minutes(2),
		Areas: []site.Area{{ID: "living-room", Name: "living room", Climate: site.Climate{{Coldest: 19, Usual: 21, Warmest: 24}}}},
	}
}

// roundDrench: 0.64 to 2.56 US fl oz made up to 1 US gallon, four hours before entry.
func roundDrench() catalogue.Product {
	rate := func(text string) *quantity.Rate {
		return &quantity.Rate{Concentrate: volume(text), Per: volume("128 US fl oz"), Convention: quantity.MadeUpTo}
	}
	return catalogue.Product{
		ID: "drench-b", Name: "drench B", Material: "bti", Registration: "000-1", Form: catalogue.Concentrate,
		Jurisdictions: []catalogue.JurisdictionCode{"US-PA"},
		Label: catalogue.Label{
			Places: []catalogue.PlaceKind{catalogue.Lodging, catalogue.PlantRoom}, Pests: []catalogue.PestID{"fungus-gnat"},
			MinRate: rate("0.64 US fl oz"), MaxRate: rate("2.56 US fl oz"),
			Entry: catalogue.Entry{Kind: catalogue.EntryHours, Hours: 4 * time.Hour}, LeastDays: 5, DryPlants: true, Categories: []string{"interior"},
		},
	}
}

// roundShifts gives a technician the same hours on the given weekdays of the fortnight.
func roundShifts(days, from, to string) []scheduler.Shift {
	var shifts []scheduler.Shift
	for d := 2; d <= 15; d++ {
		if !strings.Contains(days, march(d).Weekday().String()) {
			continue
		}
		shift := scheduler.Shift{Day: march(d), During: during(d, from, to), BreakTakes: minutes(30)}
		middle := shift.During.From + (shift.During.To-shift.During.From)/2
		shift.BreakWindow = civil.Interval{From: middle - 5400, To: middle + 5400}
		shifts = append(shifts, shift)
	}
	return shifts
}

func roundLicensed() scheduler.Technician {
	t := storyTechnician()
	t.Name = "Technician 1"
	t.Shifts = append(roundShifts("mon wed fri", "07:30", "16:00"), roundShifts("tue thu", "13:30", "22:30")...)
	t.Vessels = append(t.Vessels, scheduler.Vessel{
		ID: "can", Name: "watering can", Capacity: volume("256 US fl oz"), Dead: volume("2 US fl oz"), Marks: volume("8 US fl oz"),
		Methods: []catalogue.Method{catalogue.Drench},
	})
	return t
}

func roundHelper() scheduler.Technician {
	return scheduler.Technician{
		ID: "T2", Name: "Technician 2", Base: "base", SpeedPercent: 100, PaidPerMinute: 45,
		Shifts: roundShifts(workdays, "07:00", "15:30"), Keys: []scheduler.KeyHeld{{Key: "badge", From: march(1)}},
	}
}

func sprayID(n int) scheduler.ItemID {
	return scheduler.ItemID(fmt.Sprintf("mealybug/application/1/%d", n))
}
func lookID(n int) scheduler.ItemID {
	return scheduler.ItemID(fmt.Sprintf("mealybug/inspect-neighbours/1/%d", n))
}
func gnatsID(n int) scheduler.ItemID {
	return scheduler.ItemID(fmt.Sprintf("gnats/application/1/%d", n))
}

func prices(perDay, days int) []quantity.Money {
	list := make([]quantity.Money, days)
	for i := range list {
		list[i] = quantity.Money(i * perDay)
	}
	return list
}

func roundSpray(n int, due scheduler.Due) scheduler.FollowUp {
	f := storySpray()
	f.ID, f.Due = sprayID(n), due
	f.PricePerDay, f.LeftOutPrice = prices(600, 12), 20_000
	return f
}

func roundLook(n int, due scheduler.Due) scheduler.FollowUp {
	f := storyLook()
	f.ID, f.Due, f.LeftOutPrice = lookID(n), due, 5_000
	return f
}

// roundGnats may be done in the lobby, where people always are, or in the plant room.
func roundGnats(n int, due scheduler.Due) scheduler.FollowUp {
	use := func() *scheduler.Use {
		return &scheduler.Use{
			Product: "drench-b", Method: catalogue.Drench, Doses: []scheduler.Dose{{Plant: "gnat-lilies", Amount: volume("3 L")}},
			ReservePercent: 10, Entry: catalogue.EntryHours, KeepOut: 4 * time.Hour, KeepOutUnventilated: 4 * time.Hour,
		}
	}
	return scheduler.FollowUp{
		ID: gnatsID(n), Case: "gnats", Kind: scheduler.KindApplication, Pest: "fungus-gnat", Certainty: "confirmed", Severity: 2,
		Site: "lodge", Plants: []site.PlantID{"gnat-lilies"}, Approved: true, Due: due,
		PricePerDay: prices(1_500, 12), LeftOutPrice: 15_000, Reason: "gnats on the cards",
		Ways: []scheduler.Way{
			{ID: "in-place", Kind: scheduler.InPlace, Parts: []scheduler.Part{
				{Kind: scheduler.ApplicationPart, Area: "lobby", Takes: minutes(24), Persons: 1, Use: use()},
			}},
			{ID: "plant-room", Kind: scheduler.AtTreatmentPlace, MostAway: 8 * time.Hour, Parts: []scheduler.Part{
				{Kind: scheduler.CarryOutPart, Area: "lobby", Takes: minutes(12), Persons: 1},
				{Kind: scheduler.ApplicationPart, Area: "plant-room", Takes: minutes(24), Persons: 1, Use: use()},
				{Kind: scheduler.WaitPart, Area: "plant-room", Takes: 4 * time.Hour},
				{Kind: scheduler.CarryBackPart, Area: "plant-room", Takes: minutes(12), Persons: 1},
			}},
		},
	}
}

func roundSuspect() scheduler.FollowUp {
	return scheduler.FollowUp{
		ID: "mites/inspect-infested/1/1", Case: "mites", Kind: scheduler.KindInspectInfested, Pest: "two-spotted-mite", Certainty: "suspected",
		Site: "flat", Plants: []site.PlantID{"palm"}, Due: scheduler.Due{EarliestOn: march(2), IdealOn: march(3), LatestOn: march(5)},
		PricePerDay: prices(100, 5), LeftOutPrice: 4_000, Reason: "webbing was seen",
		Ways: []scheduler.Way{{ID: "in-place", Kind: scheduler.InPlace, Parts: []scheduler.Part{
			{Kind: scheduler.WorkPart, Area: "living-room", Takes: minutes(5), Persons: 1},
		}}},
	}
}

// roundRates prices the weighed terms as an invented policy does.
func roundRates() scheduler.Rates {
	rate := func(amount quantity.Money, unit string) scheduler.Rate {
		return scheduler.Rate{Amount: amount, Unit: unit, Standing: catalogue.Assumption}
	}
	return scheduler.Rates{
		VehicleMinute: rate(40, "a driven minute"), Visit: rate(500, "a visit"), OtherTechnician: rate(400, "a visit"),
		OtherWeekday: rate(200, "a visit"), LateServiceDay: rate(2_500, "a day and group"), LeftOutService: rate(30_000, "an occurrence"),
		LateInspectionDay: rate(150, "a day"), MovedPublished: rate(300, "a visit"), MovedAnnounced: rate(900, "a visit"),
		DeferredVisit: rate(3_000, "an item"), SanitationMinute: rate(50, "a minute"),
	}
}

// solved plans and fails the test when the plan breaks a rule or does not add up.
func solved(t *testing.T, p scheduler.Problem, iterations int) scheduler.Plan {
	t.Helper()
	plan, err := scheduler.Solve(t.Context(), p, scheduler.Options{Seed: 1, Iterations: iterations, Rates: roundRates()})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range scheduler.Check(p, plan) {
		t.Errorf("the plan breaks a rule: %v", v)
	}
	return plan
}

// planText writes a plan for people, in New York's time.
func planText(plan scheduler.Plan) string {
	var b strings.Builder
	for _, r := range plan.Routes {
		fmt.Fprintf(&b, "%s %s %s-%s", r.Day.Short(), r.Technician, newYork.FormatClock(r.Departs), newYork.FormatClock(r.Returns))
		if !r.Break.Empty() {
			fmt.Fprintf(&b, " (break %s-%s)", newYork.FormatClock(r.Break.From), newYork.FormatClock(r.Break.To))
		}
		b.WriteString("\n")
		for _, v := range r.Visits {
			fmt.Fprintf(&b, "  %s %s-%s\n", v.Site, newYork.FormatClock(v.Arrives), newYork.FormatClock(v.Leaves))
			for _, w := range v.Work {
				fmt.Fprintf(&b, "    %s-%s %s", newYork.FormatClock(w.Begins), newYork.FormatClock(w.Ends), w.Item)
				if w.Way != "" {
					fmt.Fprintf(&b, " %s/%d", w.Way, w.Part)
				}
				b.WriteString("\n")
			}
		}
		for _, m := range r.Mixes {
			fmt.Fprintf(&b, "  mix %s at %s: %s in %s, ready %s, rinsed %s\n", m.Product, m.Area, m.Concentrate, m.Volume, newYork.FormatClock(m.Ready), newYork.FormatClock(m.Rinse.From))
		}
	}
	for _, k := range plan.KeepOuts {
		fmt.Fprintf(&b, "shut: %s %s to %s\n", k.Area, newYork.Format(k.During.From), newYork.Format(k.During.To))
	}
	for _, u := range plan.Unplanned {
		fmt.Fprintf(&b, "%s: %s %s\n", u.Status, u.Item, u.Cost)
		for _, r := range u.Reasons {
			fmt.Fprintf(&b, "  %s: %s\n", r.Rule, r.Text)
		}
	}
	for _, part := range scheduler.CostParts {
		if amount := plan.Cost.Parts[part]; amount != 0 {
			fmt.Fprintf(&b, "%s %s\n", part, amount)
		}
	}
	fmt.Fprintf(&b, "total %s, bound %s\n", plan.Cost.Total, plan.Bound)
	return b.String()
}
