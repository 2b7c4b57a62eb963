package scheduler_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// competitor is an item that wants a part of one short day.
type competitor struct {
	id      scheduler.ItemID
	takes   int // minutes, without mixing
	applies bool
}

// competing draws one short day of one technician at one flat, for which two waterings, two inspections and two drenches of a
// product compete. Every one is lawful at any time of it.
func competing(t *rapid.T) (scheduler.Problem, []competitor) {
	p := roundWeek()
	flat := roundFlat()
	flat.Access = civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, "06:00", "22:00")}}
	p.Now, p.Days, p.Links, p.Services, p.FollowUps, p.Plants = at(2, "05:00"), 1, nil, nil, nil, nil
	p.Sites = []site.Site{flat}
	p.Travel = travel.Matrix{Places: []travel.PlaceID{"base", "flat"}, Seconds: []int32{0, 600, 600, 0}, Metres: []int32{0, 5_000, 5_000, 0}}
	p.Rules.NoticeLead = nil
	p.Rules.Categories[0].Covers = append(p.Rules.Categories[0].Covers, catalogue.Home)
	drench := roundDrench()
	drench.Label.Places, drench.Label.DryPlants = append(drench.Label.Places, catalogue.Home), false
	p.Products = []catalogue.Product{drench}
	worker := roundLicensed()
	worker.Shifts = []scheduler.Shift{{Day: march(2), During: civil.Interval{From: at(2, "08:00"), To: at(2, "08:00").Add(minutes(rapid.IntRange(35, 120).Draw(t, "minutes of the shift")))}}}
	p.Technicians = []scheduler.Technician{worker}
	var wants []competitor
	minute := func(of string) int { return rapid.IntRange(3, 30).Draw(t, "minutes of "+of) }
	for n := range 2 {
		service := site.Service{ID: fmt.Sprint("water-", n), Site: "flat", Kind: site.WateringService, Earliest: 5, Ideal: 7, Latest: 7, Last: march(-5)}
		for g := range rapid.IntRange(1, 4).Draw(t, "groups") {
			plant := storyPlant(site.PlantID(fmt.Sprintf("clean-%d-%d", n, g)), "flat", "living-room", scheduler.Clean)
			p.Plants = append(p.Plants, plant)
			service.Groups = append(service.Groups, site.Group{Plant: plant.Plant.ID, Minutes: rapid.IntRange(2, 8).Draw(t, "minutes of a group")})
		}
		takes := 0
		for _, g := range service.Groups {
			takes += g.Minutes
		}
		p.Services = append(p.Services, service)
		wants = append(wants, competitor{scheduler.ItemID(service.ID + "#1"), takes, false})
		for _, kind := range []scheduler.FollowUpKind{scheduler.KindInspectInfested, scheduler.KindApplication} {
			plant := site.PlantID(fmt.Sprintf("palm-%s-%d", kind, n))
			p.Plants = append(p.Plants, storyPlant(plant, "flat", "living-room", scheduler.ConfirmedInfested))
			f := roundSuspect()
			f.ID, f.Case = scheduler.ItemID(fmt.Sprintf("case-%d/%s/1/1", n, kind)), scheduler.CaseID(fmt.Sprint("case-", n))
			f.Kind, f.Pest, f.Certainty, f.Plants, f.Approved = kind, "fungus-gnat", "confirmed", []site.PlantID{plant}, true
			f.Due = scheduler.Due{EarliestOn: march(2), IdealOn: march(2), LatestOn: march(2), StandsUntilOn: march(2)}
			f.PricePerDay, f.LeftOutPrice = prices(0, 1), quantity.Money(rapid.IntRange(100, 9_000).Draw(t, "price of "+string(kind)))
			part := &f.Ways[0].Parts[0]
			part.Takes = minutes(minute(string(kind)))
			if kind == scheduler.KindApplication {
				part.Kind, part.Use = scheduler.ApplicationPart, &scheduler.Use{
					Product: "drench-b", Method: catalogue.Drench, Doses: []scheduler.Dose{{Plant: plant, Amount: volume("1 L")}},
					Entry: catalogue.EntryHours, KeepOut: minutes(240), KeepOutUnventilated: minutes(240),
				}
			}
			p.FollowUps = append(p.FollowUps, f)
			wants = append(wants, competitor{f.ID, int(part.Takes.Minutes()), kind == scheduler.KindApplication})
		}
	}
	for i := range p.Plants {
		p.Plants[i].Tolerance = append(p.Plants[i].Tolerance, catalogue.Tolerance{Material: "bti", Verdict: catalogue.Stands, Standing: catalogue.OwnRecords})
	}
	return p, wants
}

// idle are the prices of all items where nobody can do anything.
func idle(t *rapid.T, p scheduler.Problem, o scheduler.Options) map[scheduler.ItemID]quantity.Money {
	short := p
	short.Technicians = slices.Clone(p.Technicians)
	short.Technicians[0].Shifts = slices.Clone(short.Technicians[0].Shifts)
	during := &short.Technicians[0].Shifts[0].During
	during.To = during.From.Add(minutes(1))
	plan, err := scheduler.Solve(t.Context(), short, o)
	if err != nil {
		t.Fatal(err)
	}
	left := map[scheduler.ItemID]quantity.Money{}
	for _, u := range plan.Unplanned {
		left[u.Item] = u.Cost
	}
	return left
}

// leastByHand looks through every choice of items: the day costs 20 minutes of driving, 2 of sign-in, the work, and where anything
// is applied one mix (6 minutes) and its rinse (5), all paid as the technician is; 40 a driven minute and 500 for the visit; and what is
// left costs its price.
func leastByHand(p scheduler.Problem, wants []competitor, left map[scheduler.ItemID]quantity.Money) quantity.Money {
	there := int(p.Technicians[0].Shifts[0].During.Length().Minutes())
	pay := p.Technicians[0].PaidPerMinute
	least := quantity.Money(1) << 40
	for chosen := range 1 << len(wants) {
		worked, mixing, cost := 0, 0, quantity.Money(0)
		for i, c := range wants {
			switch {
			case chosen>>i&1 == 0:
				cost += left[c.id]
			case c.applies:
				worked, mixing = worked+c.takes, 6+5
			default:
				worked += c.takes
			}
		}
		if chosen != 0 {
			worked += 20 + 2 + mixing
			cost += quantity.Money(worked)*pay + 20*40 + 500
		}
		if worked <= there {
			least = min(least, cost)
		}
	}
	return least
}

// In a day too short for everything waterings, inspections and applications compete by what leaving them costs, and by nothing
// else: what is left is what costs least, and says what it costs and why.
func TestSolve_InADayTooShortTheCheapestToLeaveIsLeft(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p, wants := competing(t)
		o := scheduler.Options{Seed: 1, Iterations: 60, Rates: roundRates()}
		o.Rates.SanitationMinute.Amount = 0
		left := idle(t, p, o)
		if len(left) != len(wants) {
			t.Fatalf("where nobody has time %d of %d items are left", len(left), len(wants))
		}
		plan, err := scheduler.Solve(t.Context(), p, o)
		if err != nil {
			t.Fatal(err)
		}
		if want := leastByHand(p, wants, left); plan.Cost.Total != want {
			t.Errorf("the plan costs %v, want %v as looked through by hand\n%s", plan.Cost.Total, want, planText(plan))
		}
		out := map[scheduler.ItemID]bool{}
		for _, u := range plan.Unplanned {
			out[u.Item] = true
			if u.Cost != left[u.Item] || len(u.Reasons) == 0 || u.Reasons[0].Text == "" {
				t.Errorf("%+v: want it to cost %v as where nobody has time, and a reason", u, left[u.Item])
			}
		}
		for _, i := range wants {
			for _, j := range wants {
				needs := i.takes
				if i.applies {
					needs += 6 + 5
				}
				if out[i.id] && !out[j.id] && needs <= j.takes && left[i.id] > left[j.id] {
					t.Errorf("%s is left for %v, and %s, for %v, has its time", i.id, left[i.id], j.id, left[j.id])
				}
			}
		}
	})
}
