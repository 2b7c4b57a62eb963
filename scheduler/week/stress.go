package week

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// tighten makes a Problem tight on one rule. What it changes is the stress: days, intervals and vessels may then be other than
// the course and the catalogue gave.
func (g *generator) tighten(rule scheduler.Rule) {
	map[scheduler.Rule]func(){
		scheduler.RuleShift: g.tightShifts, scheduler.RuleAccess: g.tightAccess, scheduler.RuleLicence: g.tightLicences,
		scheduler.RuleTiming: g.tightDays, scheduler.RuleLabel: g.tightLabels, scheduler.RuleReentry: g.tightIntervals,
		scheduler.RuleMix: g.tightVessels, scheduler.RulePinned: g.pin,
	}[rule]()
}

// tightShifts leaves short shifts, in which an early break must be taken in a narrow window.
func (g *generator) tightShifts() {
	const length, breakAfter = 5 * time.Hour, 3 * time.Hour
	for t := range g.problem.Technicians {
		shifts := g.problem.Technicians[t].Shifts
		for k := range shifts {
			from := shifts[k].During.From
			shifts[k].During.To = from.Add(length)
			shifts[k].BreakWindow = civil.Interval{From: from.Add(2 * time.Hour), To: from.Add(2*time.Hour + 45*time.Minute)}
		}
	}
	g.problem.Rules.BreakAfter, g.problem.Rules.MostWork = breakAfter, length
}

// tightAccess opens each site for little more than its routine work takes, on its usual day and one more, to whom holds its keys:
// its usual technician alone; and each application wants three days' notice.
func (g *generator) tightAccess() {
	const slack, notice = 25, 72 * time.Hour
	for t := range g.problem.Technicians {
		g.problem.Technicians[t].Keys = nil
	}
	for i := range g.problem.Sites {
		s := &g.problem.Sites[i]
		takes := int(s.SignIn.Minutes()) + slack
		for _, service := range g.servicesAt[s.ID] {
			for _, group := range service.Groups {
				takes += group.Minutes
			}
		}
		opens := 8*60 + g.IntN(6*60)
		usual := *s.Agreement.UsualDay
		other := 1 + (usual+1)%workdays
		s.Access = civil.Calendar{Weekly: []civil.Weekly{{Days: []civil.Weekday{usual, other}, Window: civil.Window{Opens: civil.NewClock(0, opens), Closes: civil.NewClock(0, opens+takes)}}}}
		s.Keys = []site.KeyID{site.KeyID("key-" + string(s.ID))}
		s.Agreement.DayFixed = percent(g.Rand, 30)
		t := slices.IndexFunc(g.problem.Technicians, func(t scheduler.Technician) bool { return string(t.ID) == s.Agreement.UsualTechnician })
		g.give(s, t)
	}
	for i := range g.problem.Rules.NoticeLead {
		g.problem.Rules.NoticeLead[i].Lead = notice
	}
}

// tightLicences leaves one technician with a licence, which ends on Wednesday, and nobody to work under it.
func (g *generator) tightLicences() {
	for t := range g.problem.Technicians {
		if t > 0 {
			g.problem.Technicians[t].Licences = nil
			continue
		}
		for k := range g.problem.Technicians[t].Licences {
			g.problem.Technicians[t].Licences[k].To = monday.AddDays(2)
		}
	}
	g.problem.Rules.Supervision = nil
}

// tightDays leaves each item its ideal day alone.
func (g *generator) tightDays() {
	for i := range g.problem.FollowUps {
		due := &g.problem.FollowUps[i].Due
		if due.After == "" {
			ideal := max(due.IdealOn, due.EarliestOn, g.problem.FirstDay)
			due.EarliestOn, due.IdealOn, due.LatestOn, due.StandsUntilOn = ideal, ideal, ideal, ideal
			continue
		}
		due.EarliestLag, due.LatestLag = due.IdealLag, due.IdealLag
		due.StandsUntilLag = due.IdealLag // 0, on the same day, always stands
	}
	for i := range g.problem.Services {
		s := &g.problem.Services[i]
		s.Earliest, s.Latest = s.Ideal, s.Ideal
	}
}

// tightLabels lets products be applied in the morning only, to plants that are not in flower and have been watered lately, and
// seldom in a row.
func (g *generator) tightLabels() {
	for i := range g.problem.Products {
		label := &g.problem.Products[i].Label
		if len(label.Categories) == 0 {
			continue
		}
		label.Hours = []civil.Window{{Opens: civil.NewClock(6, 0), Closes: civil.NewClock(9, 30)}, {Opens: civil.NewClock(18, 0), Closes: civil.NewClock(20, 0)}}
		label.MostInRow = 3
		label.DryPlants = false
	}
	for i := range g.problem.Plants {
		plant := &g.problem.Plants[i].Plant
		plant.InFlower = percent(g.Rand, 10)
		if plant.Watering.Ideal > 0 {
			plant.Watering.Latest = plant.Watering.Ideal
		}
	}
}

// tightIntervals keeps people out for a night after each application, of all areas of a site at once; and a guard walks through
// most of the sites late in the evening.
func (g *generator) tightIntervals() {
	const night = 9 * time.Hour
	guard := civil.Weekly{Days: []civil.Weekday{1, 2, 3, 4, 5}, Window: civil.Window{Opens: civil.NewClock(21, 30), Closes: civil.NewClock(23, 0)}}
	for i := range g.problem.Products {
		if entry := &g.problem.Products[i].Label.Entry; entry.Hours > 0 {
			entry.Hours = night
		}
	}
	for i := range g.problem.FollowUps {
		for _, way := range g.problem.FollowUps[i].Ways {
			for k := range way.Parts {
				if use := way.Parts[k].Use; use != nil && use.KeepOut > 0 {
					longer := *use
					longer.KeepOut, longer.KeepOutUnventilated = night, night
					way.Parts[k].Use = &longer
				}
			}
		}
	}
	for i := range g.problem.Sites {
		areas := g.problem.Sites[i].Areas
		for k := 2; k < len(areas); k++ {
			areas[k].OpenTo = []site.AreaID{areas[k-1].ID}
		}
		for k := range areas {
			if !areas[k].People.Always && i%4 > 0 {
				areas[k].People.Weekly = append(slices.Clone(areas[k].People.Weekly), guard)
			}
		}
	}
}

// tightVessels leaves small vessels and a coarse measure, mixes that keep an hour, and long mixing and rinsing.
func (g *generator) tightVessels() {
	ounces := func(n, den int64) quantity.Volume { return quantity.NewVolume(n, den, quantity.USFluidOunce) }
	for t := range g.problem.Technicians {
		tech := &g.problem.Technicians[t]
		var vessels []scheduler.Vessel
		for _, vessel := range tech.Vessels {
			if vessel.ID == "backpack" {
				continue
			}
			vessel.Capacity, vessel.Marks = ounces(96, 1), ounces(8, 1)
			vessels = append(vessels, vessel)
		}
		tech.Vessels = vessels
		tech.Measures = []scheduler.Measure{{Name: "coarse cup", Capacity: ounces(4, 1), Marks: ounces(1, 2)}}
	}
	for i := range g.problem.Products {
		if g.problem.Products[i].Diluted() {
			g.problem.Products[i].Label.MixLife = time.Hour
		}
	}
	g.problem.Rules.Mixing, g.problem.Rules.Rinsing = minutes(15), minutes(10)
}

// pin holds every other visit of a plan made by hand: without those with an application, and without waterings that a drench
// replaces where it falls on their day.
func (g *generator) pin() {
	n, replaced := 0, map[string]bool{}
	for _, link := range g.problem.Links {
		replaced[string(link.To)] = replaced[string(link.To)] || link.Kind == scheduler.InsteadOf
	}
	for _, route := range FirstFit(g.problem, scheduler.DefaultRates(g.catalogue)).Routes {
		for _, visit := range route.Visits {
			applies := slices.ContainsFunc(visit.Work, func(w scheduler.WorkItem) bool {
				service, _, _ := strings.Cut(string(w.Item), "#")
				return w.Use != nil || replaced[service]
			})
			if n++; n%2 == 0 || applies {
				continue
			}
			visit.ID, visit.State = scheduler.VisitID(fmt.Sprintf("visit-%03d", n)), scheduler.Pinned
			g.problem.Fixed = append(g.problem.Fixed, visit)
		}
	}
}
