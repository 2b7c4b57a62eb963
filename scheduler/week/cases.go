package week

import (
	"fmt"
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// cases draws findings of the last weeks and tells what was done since, until the courses of today bring as many follow-ups into
// the horizon as asked for.
func (g *generator) cases() {
	for range mostCases { // several at a site, where one at each does not suffice
		for _, i := range g.Perm(len(g.problem.Sites)) {
			if len(g.problem.FollowUps) >= g.size.FollowUps*98/100 {
				return
			}
			g.caseAt(g.problem.Sites[i])
		}
	}
}

// mostCases bounds the cases of one site.
const mostCases = 5

// caseAt draws a case at a site, and takes it on when its follow-ups do not pass the number asked for.
func (g *generator) caseAt(s site.Site) {
	pest := pick(g.Rand, g.places.Pests, func(p pestKind) int { return p.Weight })
	area := s.Areas[1+g.IntN(len(s.Areas)-1)]
	var plants []site.PlantID
	for _, i := range g.onSite[s.ID] {
		if plant := g.plants[i]; plant.Area == area.ID && g.health[plant.ID] == "" {
			plants = append(plants, plant.ID)
		}
	}
	if len(plants) == 0 {
		return
	}
	severity := 1 + pick(g.Rand, []int{0, 1, 2}, func(k int) int { return g.places.Severities[k] })
	first := g.IntN(len(plants))
	plants = plants[first:min(len(plants), first+1+g.IntN(2))]
	g.found++
	c := &story{
		generator: g, site: s, plants: plants, severity: severity, suspected: percent(g.Rand, g.places.Suspected),
		history: course.History{Case: course.CaseID(fmt.Sprintf("case-%04d", g.found)), Site: s.ID, Pest: pest.Pest, Plants: plants},
	}
	today := c.tell(g.places.FoundDaysAgo.draw(g.Rand))
	carried := g.within(today.FollowUps, s.Zone)
	if len(carried) == 0 || len(g.problem.FollowUps)+len(carried) > g.size.FollowUps*103/100 {
		return
	}
	g.carry(c, today, carried)
}

// story is a case as it is told: what was found, and what the technicians reported since.
type story struct {
	*generator
	site      site.Site
	plants    []site.PlantID
	severity  int
	suspected bool
	history   course.History
	done      []scheduler.DoneFollowUp
	applied   []course.Application
}

// The hours of the day at which things are told to have happened.
var (
	findingAt  = civil.NewClock(10, 0)
	approvalAt = civil.NewClock(11, 0)
	morning    = civil.NewClock(9, 0)
	noon       = civil.NewClock(12, 0)
	afternoon  = civil.NewClock(15, 0)
	evening    = civil.NewClock(20, 0)
)

// rounds bounds how often something is told of a case: far more than happens in the weeks that are looked back upon.
const rounds = 60

// tell finds a pest so many days ago, does everything on the day on which the course of that day expects it, and returns the
// course of the day of planning.
func (c *story) tell(daysAgo int) course.Course {
	today := c.site.Zone.DateOf(c.problem.Now)
	found := today.AddDays(-daysAgo)
	finding := course.Finding{Pest: c.history.Pest, Certainty: course.Confirmed, Life: course.Living, Severity: c.severity, Plants: c.plants, By: "technician"}
	if c.suspected {
		finding.Certainty, finding.Life, finding.Severity = course.Suspected, course.NotSure, 1
	}
	c.add(course.Event{ID: "finding", At: c.site.Zone.At(found, findingAt), Finding: &finding})
	present := c.course(found)
	if present.Chosen != "" {
		approval := course.Approval{Product: present.Chosen, Ways: []course.WayKind{course.InPlace, course.AtTreatmentPlace, course.ShutsNothing}, By: "responsible applicator"}
		c.add(course.Event{ID: "approval", At: c.site.Zone.At(found, approvalAt), Approval: &approval})
	}
	day, doneOn := found, map[course.ItemID]civil.Date{}
	for range rounds {
		present = c.course(day)
		due := slices.DeleteFunc(slices.Clone(present.FollowUps), func(f course.FollowUp) bool { return !doneOn[f.ID].IsZero() })
		if len(due) == 0 || present.Ended != nil {
			break
		}
		next := slices.MinFunc(due, func(a, b course.FollowUp) int { return int(a.Expected - b.Expected) })
		if day = workday(max(day, next.Expected)); day > today {
			break
		}
		told := len(doneOn)
		for _, f := range due {
			if f.Expected <= day && mayFollow(f, day, doneOn) {
				doneOn[f.ID] = day
				c.report(f, day)
			}
		}
		if len(doneOn) == told {
			day = day.AddDays(1)
		}
	}
	return c.course(today)
}

// mayFollow says whether a follow-up may be done on a day: so many days after the one that it counts from.
func mayFollow(f course.FollowUp, day civil.Date, doneOn map[course.ItemID]civil.Date) bool {
	before, done := doneOn[f.Due.After]
	return f.Due.After == "" || done && day >= before.AddDays(f.Due.EarliestLag)
}

// workday is the day itself, or the Monday after it.
func workday(day civil.Date) civil.Date {
	for day.Weekday() == saturday || day.Weekday() == sunday {
		day = day.AddDays(1)
	}
	return day
}

const (
	sunday   civil.Weekday = 0
	saturday civil.Weekday = 6
)

// hour is the hour of a day at which something is told or asked: what is past is known in the evening, today's at noon.
func (c *story) hour(day civil.Date, past, today civil.Clock) civil.Instant {
	if day == c.site.Zone.DateOf(c.problem.Now) {
		return c.site.Zone.At(day, today)
	}
	return c.site.Zone.At(day, past)
}

func (c *story) add(event course.Event) { c.history.Events = append(c.history.Events, event) }

// course computes the course of the case as of noon of a day.
func (c *story) course(day civil.Date) course.Course {
	var plants []site.Plant
	for _, i := range c.onSite[c.site.ID] {
		plants = append(plants, c.generator.plants[i])
	}
	computed, err := course.Compute(course.Input{
		Today: day, Now: c.hour(day, evening, noon), Case: c.history.Case, Histories: []course.History{c.history},
		Sites: []site.Site{c.site}, Plants: plants, Services: c.servicesAt[c.site.ID], Products: c.products,
		Held:      map[catalogue.JurisdictionCode][]string{c.crewData.Licence.Jurisdiction: {c.crewData.Licence.Category}},
		Catalogue: c.generator.catalogue, Policy: c.policy,
	})
	if err != nil {
		panic(fmt.Sprintf("week: %v", err))
	}
	return computed
}

// report tells that a follow-up was done on a day.
func (c *story) report(f course.FollowUp, day civil.Date) {
	at := c.hour(day, afternoon, morning)
	event := course.Event{ID: string(f.ID), At: at}
	switch f.Kind {
	case course.KindApplication:
		event.Application = c.application(f, at)
	case course.KindInspectInfested:
		event.Inspection = &course.Inspection{FollowUp: f.ID, Plants: f.Plants, Severity: c.severity}
		if !c.suspected {
			event.Inspection.Found = c.plants
		}
	case course.KindInspectNeighbours:
		event.Inspection = &course.Inspection{FollowUp: f.ID, Plants: f.Plants}
	default:
		event.Done = &course.OtherDone{FollowUp: f.ID, Plants: f.Plants}
	}
	c.add(event)
	c.done = append(c.done, scheduler.DoneFollowUp{ID: f.ID, Site: f.Site, Began: at, Ended: at})
	if f.Kind == course.KindPatchTest {
		read := c.site.Zone.At(day.AddDays(c.policy.PatchTestDays), morning)
		if read < c.problem.Now {
			c.add(course.Event{ID: string(f.ID) + "/result", At: read, Patch: &course.PatchResult{Material: c.materialOf(f), Plants: f.Plants}})
		}
	}
}

// application is what was put on the plants: the amounts as planned, mixed at the label's greatest rate.
func (c *story) application(f course.FollowUp, at civil.Instant) *course.Application {
	a := course.Application{FollowUp: f.ID, Began: at, Ended: at, Plants: f.Plants}
	for _, part := range f.Ways[0].Parts {
		if part.Use == nil {
			continue
		}
		a.Product = part.Use.Product
		for _, dose := range part.Use.Doses {
			a.Volume = a.Volume.Add(dose.Amount)
		}
	}
	a.Applied = a.Volume
	if product := c.product(a.Product); product.Diluted() {
		a.Concentrate = product.Label.MaxRate.ConcentrateFor(a.Volume)
	} else {
		a.Volume, a.Applied = quantity.Volume{}, quantity.Volume{}
	}
	c.applied = append(c.applied, a)
	return &a
}

func (g *generator) product(id catalogue.ProductID) catalogue.Product {
	i := slices.IndexFunc(g.products, func(p catalogue.Product) bool { return p.ID == id })
	if i < 0 {
		return catalogue.Product{}
	}
	return g.products[i]
}

// materialOf is the material of a follow-up's product, "" where it has none.
func (c *story) materialOf(f course.FollowUp) catalogue.MaterialID {
	for _, part := range f.Ways[0].Parts {
		if part.Use != nil {
			return c.product(part.Use.Product).Material
		}
	}
	return ""
}
