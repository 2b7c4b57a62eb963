package scheduler_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// drawn makes random small Problems: one to three sites of one to three rooms, one or two technicians, chains of
// follow-ups by one or two ways, services, links, and what runs already.
type drawn struct {
	t *rapid.T
	p scheduler.Problem
}

func (d drawn) int(name string, least, most int) int {
	return rapid.IntRange(least, most).Draw(d.t, name)
}
func (d drawn) chance(name string, in int) bool { return d.int(name, 1, in) == in }

func drawProblem(t *rapid.T) scheduler.Problem {
	d := drawn{t: t, p: scheduler.Problem{
		Now: at(d0, "12:00"), Zone: newYork, FirstDay: march(d0), Days: 10 - rapid.IntRange(1, 9).Draw(t, "days less"),
		Products:  []catalogue.Product{storySoap(), roundDrench()},
		Materials: []scheduler.MaterialFacts{{ID: "soap", Law: catalogue.RegisteredProduct, Name: "soap"}, {ID: "bti", Law: catalogue.RegisteredProduct, Name: "Bti"}},
		Rules:     storyProblem().Rules,
	}}
	d.p.Rules.NoticeLead = nil
	d.p.Products[1].Label.Places = append(d.p.Products[1].Label.Places, catalogue.Office)
	d.p.Rules.BreakAfter = time.Duration(d.int("break after", 1, 6)) * time.Hour
	d.p.Products[0].Label.MostInRow = d.int("most in row", 0, 3)
	d.p.Products[0].Label.MixLife = time.Duration(d.int("mix life", 0, 2)) * 2 * time.Hour
	if d.chance("hardness limit", 4) {
		d.p.Products[0].Label.MaxHardness = figure(120)
	}
	d.p.Products[1].Label.MostAYear = d.int("most a year", 0, 3)
	for s := range d.int("sites", 1, 3) {
		d.site(s)
	}
	d.crew()
	d.matrix()
	for s := range d.p.Sites {
		d.work(&d.p.Sites[s])
	}
	d.links()
	d.running()
	return d.p
}

// d0 is the day of March on which drawn Problems begin; the clocks go forward inside most of them.
const d0 = 4

func (d *drawn) calendar(name string) civil.Calendar {
	switch d.int(name, 0, 6) {
	case 0:
		return civil.Calendar{Always: true}
	case 1:
		return civil.Calendar{}
	case 2:
		return civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, "20:00", "32:00")}}
	}
	opens := d.int(name+" opens", 5, 14)
	closes := opens + d.int(name+" hours", 2, 12)
	return civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, fmt.Sprintf("%02d:00", opens), fmt.Sprintf("%02d:00", closes))}}
}

func (d *drawn) site(s int) {
	id := site.ID(fmt.Sprintf("s%d", s))
	out := site.Site{
		ID: id, Client: "client", Name: string(id), Zone: newYork, Jurisdiction: "US-PA", Kind: catalogue.Office,
		Access: d.calendar("access"), SignIn: minutes(d.int("sign-in", 0, 9)),
	}
	if len(out.Access.Weekly) == 0 || d.chance("wide open", 2) {
		out.Access = civil.Calendar{Always: true}
	}
	for a := range 4 - d.int("areas less", 1, 3) {
		area := site.Area{
			ID: site.AreaID(fmt.Sprintf("%s-a%d", id, a)), Name: fmt.Sprintf("room %d of %s", a, id), People: d.calendar("people in it"),
			Ventilation: d.calendar("ventilation"), Climate: site.Climate{{Coldest: 18, Usual: 20, Warmest: 22}},
		}
		if a > 0 && d.chance("open to", 3) {
			area.OpenTo = []site.AreaID{out.Areas[0].ID}
		} else if a > 0 && d.chance("through", 4) {
			area.ReachedOnlyThrough = out.Areas[a-1].ID
		}
		if a > 0 && d.chance("treatment", 2) {
			area.Treatment = &site.TreatmentPlace{Hours: civil.Calendar{Always: true}, Capacity: d.int("capacity", 3, 9)}
		}
		out.Areas = append(out.Areas, area)
	}
	if d.chance("water", 2) {
		out.Water.Area = out.Areas[len(out.Areas)-1].ID
	}
	if d.chance("hardness known", 2) {
		out.Water.HardnessMgL = figure(float64(d.int("hardness", 0, 240)))
	}
	if d.chance("least entry", 3) {
		d.p.Rules.LeastEntry = append(d.p.Rules.LeastEntry, scheduler.SiteEntry{Site: id, Least: time.Duration(d.int("least entry hours", 1, 9)) * time.Hour})
	}
	if d.chance("usual", 3) {
		day := civil.Weekday(d.int("usual day", 1, 5))
		out.Agreement.UsualTechnician, out.Agreement.UsualDay = "T1", &day
		out.Agreement.DayFixed, out.Agreement.TechnicianFixed = d.chance("day fixed", 4), d.chance("technician fixed", 4)
	}
	for k := range 4 - d.int("plants less", 1, 3) {
		health := []scheduler.Health{scheduler.Clean, scheduler.Neighbour, scheduler.SuspectedInfested, scheduler.ConfirmedInfested}[d.int("health", 0, 3)]
		plant := storyPlant(site.PlantID(fmt.Sprintf("%s-p%d", id, k)), id, out.Areas[d.int("area", 0, len(out.Areas)-1)].ID, health)
		plant.Tolerance = append(plant.Tolerance, catalogue.Tolerance{Material: "bti", Verdict: catalogue.Stands, Standing: catalogue.OwnRecords})
		plant.Plant.Watering.Last = march(d0 - d.int("watered", 0, 9))
		if d.chance("applied before", 4) {
			began := at(d0-d.int("days ago", 1, 8), "10:00")
			plant.Applied = []scheduler.Applied{{Product: "soap-a", Material: "soap", Began: began, Ended: began + 600}}
		}
		d.p.Plants = append(d.p.Plants, plant)
	}
	d.p.Sites = append(d.p.Sites, out)
}

func (d *drawn) crew() {
	first, second := roundLicensed(), roundHelper()
	second.Licences, second.Vessels, second.Measures = first.Licences, first.Vessels[d.int("vessels", 0, 2):], first.Measures
	for _, t := range []scheduler.Technician{first, second}[:3-d.int("technicians", 1, 2)] {
		t.Shifts, t.SpeedPercent = nil, d.int("speed", 60, 140)
		for day := range d.p.Days {
			if d.chance("off", 5) {
				continue
			}
			begins := d.int("begins", 5, 18)
			shift := scheduler.Shift{Day: march(d0 + day), BreakTakes: minutes(30)}
			shift.During = civil.Interval{From: at(d0+day, fmt.Sprintf("%02d:00", begins)), To: at(d0+day, fmt.Sprintf("%02d:00", begins+d.int("length", 2, 10)))}
			middle := shift.During.From + (shift.During.To-shift.During.From)/2
			shift.BreakWindow = civil.Interval{From: middle - 3600, To: middle + 3600}
			t.Shifts = append(t.Shifts, shift)
		}
		d.p.Technicians = append(d.p.Technicians, t)
	}
}

func (d *drawn) matrix() {
	m := travel.Matrix{Places: []travel.PlaceID{"base"}}
	for _, s := range d.p.Sites {
		m.Places = append(m.Places, travel.PlaceID(s.ID))
	}
	for from := range m.Places {
		for to := range m.Places {
			seconds := 0
			if from != to {
				seconds = d.int("seconds", 60, 2400)
			}
			m.Seconds, m.Metres = append(m.Seconds, int32(seconds)), append(m.Metres, int32(seconds*8))
		}
	}
	d.p.Travel = m
}

func (d *drawn) plantsOf(id site.ID) []site.PlantID {
	var ids []site.PlantID
	for _, plant := range d.p.Plants {
		if plant.Plant.Site == id {
			ids = append(ids, plant.Plant.ID)
		}
	}
	return ids
}

func (d *drawn) areaOf(id site.PlantID) site.AreaID {
	for _, plant := range d.p.Plants {
		if plant.Plant.ID == id {
			return plant.Plant.Area
		}
	}
	return ""
}

// work draws chains of follow-ups and services of a site.
func (d *drawn) work(s *site.Site) {
	plants := d.plantsOf(s.ID)
	for chain := range 3 - d.int("chains less", 0, 3) {
		due := scheduler.Due{EarliestOn: march(d0 + d.int("earliest", -1, 3))}
		due.LatestOn = due.EarliestOn.AddDays(d.int("latest", 0, 3))
		if d.chance("stands", 2) {
			due.StandsUntilOn = due.LatestOn.AddDays(d.int("stands until", 0, 3))
		}
		plant := plants[d.int("plant", 0, len(plants)-1)]
		for n := range d.int("length", 1, 3) {
			id := scheduler.ItemID(fmt.Sprintf("%s/%d/%d", s.ID, chain, n))
			f := d.followUp(id, s, plant)
			f.Due = due
			d.p.FollowUps = append(d.p.FollowUps, f)
			lag := d.int("lag", 0, 4)
			due = scheduler.Due{After: id, EarliestLag: lag, IdealLag: lag, LatestLag: lag + d.int("more", 0, 2)}
			if d.chance("lag stands", 2) {
				due.StandsUntilLag = due.LatestLag + d.int("stands", 0, 2)
			}
		}
	}
	for k := range d.int("services", 0, 2) {
		service := site.Service{ID: fmt.Sprintf("water-%s-%d", s.ID, k), Site: s.ID, Kind: site.WateringService, Earliest: d.int("soonest", 1, 3), Ideal: 4, Latest: 5}
		if d.chance("done before", 2) {
			service.Last = march(d0 - d.int("ago", 0, 6))
		}
		for _, plant := range plants {
			if d.chance("in service", 2) {
				service.Groups = append(service.Groups, site.Group{Plant: plant, Minutes: d.int("minutes", 1, 30)})
			}
		}
		if len(service.Groups) > 0 {
			d.p.Services = append(d.p.Services, service)
		}
	}
}

func (d *drawn) followUp(id scheduler.ItemID, s *site.Site, plant site.PlantID) scheduler.FollowUp {
	f := scheduler.FollowUp{
		ID: id, Case: "case", Site: s.ID, Plants: []site.PlantID{plant}, Approved: true, Certainty: "confirmed",
		PricePerDay: prices(d.int("price", 0, 900), 9), LeftOutPrice: quantity.Money(d.int("left out", 0, 200_000)),
	}
	area := d.areaOf(plant)
	if d.chance("look", 3) {
		f.Kind, f.Pest = scheduler.KindInspectInfested, "citrus-mealybug"
		f.Ways = []scheduler.Way{{ID: "w", Kind: scheduler.InPlace, Parts: []scheduler.Part{{Kind: scheduler.WorkPart, Area: area, Takes: minutes(d.int("takes", 1, 90)), Persons: 1}}}}
		return f
	}
	f.Kind, f.Pest = scheduler.KindApplication, "citrus-mealybug"
	use := storyUse()
	if d.chance("gnats", 3) {
		f.Pest = "fungus-gnat"
		use.Product, use.Method, use.Entry = "drench-b", catalogue.Drench, catalogue.EntryHours
		use.KeepOut, use.KeepOutUnventilated = 4*time.Hour, 4*time.Hour
	} else {
		use.KeepOut = minutes(d.int("keep out", 10, 300))
		use.KeepOutUnventilated = use.KeepOut * 3 / 2
	}
	use.Doses = []scheduler.Dose{{Plant: plant, Amount: quantity.NewVolume(int64(d.int("dose", 50, 1800)), 1, quantity.Millilitre)}}
	part := scheduler.Part{Kind: scheduler.ApplicationPart, Area: area, Takes: minutes(d.int("takes", 5, 60)), Persons: 1, Use: use}
	f.Ways = []scheduler.Way{{ID: "in-place", Kind: scheduler.InPlace, Parts: []scheduler.Part{part}}}
	for _, place := range s.Areas {
		if place.Treatment == nil || place.ID == area {
			continue
		}
		there := part
		there.Area = place.ID
		carry := scheduler.Part{Kind: scheduler.CarryOutPart, Area: area, Takes: minutes(8), Persons: 1}
		back := scheduler.Part{Kind: scheduler.CarryBackPart, Area: place.ID, Takes: minutes(8), Persons: 1}
		wait := scheduler.Part{Kind: scheduler.WaitPart, Area: place.ID, Takes: use.KeepOut}
		f.Ways = append(f.Ways, scheduler.Way{
			ID: scheduler.WayID("at-" + place.ID), Kind: scheduler.AtTreatmentPlace, MostAway: time.Duration(d.int("most away", 6, 30)) * time.Hour,
			Parts: []scheduler.Part{carry, there, wait, back},
		})
	}
	return f
}

func (d *drawn) links() {
	for i := range d.p.FollowUps {
		if i > 0 && d.chance("link", 3) {
			link := scheduler.Link{From: d.p.FollowUps[i-1].ID, To: d.p.FollowUps[i].ID, Kind: []scheduler.LinkKind{scheduler.LeastLag, scheduler.Order, scheduler.Needs}[d.int("kind", 0, 2)]}
			if link.Kind == scheduler.LeastLag {
				link.Days, link.Hours = d.int("link days", 1, 2), time.Duration(d.int("link hours", 0, 5))*time.Hour
			}
			d.p.Links = append(d.p.Links, link)
		}
		for _, service := range d.p.Services {
			if service.Site == d.p.FollowUps[i].Site && d.chance("instead", 3) {
				d.p.Links = append(d.p.Links, scheduler.Link{From: d.p.FollowUps[i].ID, To: scheduler.ItemID(service.ID), Kind: []scheduler.LinkKind{scheduler.InsteadOf, scheduler.Not}[d.int("service link", 0, 1)]})
			}
		}
	}
}

// running draws a keep-out that runs already and a visit that is pinned.
func (d *drawn) running() {
	if d.chance("running", 3) {
		area := d.p.Sites[0].Areas[0].ID
		d.p.KeepOuts = []scheduler.KeepOut{{Area: area, During: civil.Interval{From: d.p.Now - 3600, To: d.p.Now.Add(time.Duration(d.int("runs", 1, 30)) * time.Hour)}, Product: "soap-a", By: "T1"}}
	}
}

func TestSolve_KeepsEveryRuleAndAddsUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		if err := p.Validate(); err != nil {
			t.Fatalf("the drawn Problem is not valid: %v", err)
		}
		rates := roundRates()
		rates.DeferredVisit.Amount = quantity.Money(rapid.IntRange(0, 90_000).Draw(t, "deferred visit"))
		rates.UnevenMinute.Amount = quantity.Money(rapid.IntRange(0, 5).Draw(t, "uneven minute"))
		o := scheduler.Options{Seed: rapid.Uint64().Draw(t, "seed"), Iterations: rapid.IntRange(0, 8).Draw(t, "iterations"), Rates: rates}
		plan, err := scheduler.Solve(t.Context(), p, o)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range scheduler.Check(p, plan) {
			t.Errorf("the plan breaks a rule: %v", v)
		}
		addsUp(t, plan)
		everythingIsAccountedFor(t, p, plan)
		if plan.Bound > plan.Cost.Total || plan.Bound < 0 || plan.Gap != plan.Cost.Total-plan.Bound {
			t.Errorf("bound %v, gap %v of a plan of %v", plan.Bound, plan.Gap, plan.Cost.Total)
		}
		again, err := scheduler.Solve(t.Context(), p, o)
		if err != nil {
			t.Fatal(err)
		}
		plan.Elapsed, again.Elapsed = 0, 0
		if diff := cmp.Diff(plan, again); diff != "" {
			t.Errorf("the same seed and iterations gave another plan (-first +second):\n%s", diff)
		}
		if t.Failed() {
			t.Log("\n" + planText(plan))
		}
	})
}

// errorer is what rapid's and testing's T share.
type errorer interface {
	Helper()
	Errorf(format string, args ...any)
}

// addsUp holds that visits add up to their route, beside what belongs to the day, and routes to the plan, beside what
// belongs to no route.
func addsUp(t errorer, plan scheduler.Plan) {
	t.Helper()
	var sum scheduler.Cost
	for _, r := range plan.Routes {
		sum.Plus(r.Cost)
		partsAddUp(t, "route", r.Cost)
		rest := r.Cost
		for _, v := range r.Visits {
			partsAddUp(t, "visit", v.Cost)
			rest.Total -= v.Cost.Total
		}
		own := r.Cost.Parts[scheduler.CostPaid] + r.Cost.Parts[scheduler.CostOvertime]
		if rest.Total < own {
			t.Errorf("the visits of %s on %v cost more than their route", r.Technician, r.Day)
		}
	}
	for _, part := range []scheduler.CostPart{scheduler.CostUnplanned, scheduler.CostUneven, scheduler.CostChanges} {
		sum.Add(part, plan.Cost.Parts[part])
	}
	if diff := cmp.Diff(plan.Cost, sum); diff != "" {
		t.Errorf("the routes and the rest do not add up to the plan (-plan +sum):\n%s", diff)
	}
	partsAddUp(t, "plan", plan.Cost)
	unplanned := quantity.Money(0)
	for _, u := range plan.Unplanned {
		unplanned += u.Cost
	}
	if unplanned != plan.Cost.Parts[scheduler.CostUnplanned] {
		t.Errorf("what is unplanned costs %v, the plan says %v", unplanned, plan.Cost.Parts[scheduler.CostUnplanned])
	}
}

func partsAddUp(t errorer, what string, c scheduler.Cost) {
	t.Helper()
	sum := quantity.Money(0)
	for _, amount := range c.Parts {
		sum += amount
	}
	if sum != c.Total {
		t.Errorf("the parts of a %s add up to %v, its total is %v", what, sum, c.Total)
	}
}

// everythingIsAccountedFor holds that each follow-up is planned, or listed with a reason, or lies past the horizon.
func everythingIsAccountedFor(t errorer, p scheduler.Problem, plan scheduler.Plan) {
	t.Helper()
	planned, listed := map[scheduler.ItemID]bool{}, map[scheduler.ItemID]bool{}
	for _, r := range plan.Routes {
		for _, v := range r.Visits {
			for _, w := range v.Work {
				planned[w.Item] = true
			}
		}
	}
	for _, u := range plan.Unplanned {
		listed[u.Item] = true
		if len(u.Reasons) == 0 || u.Reasons[0].Text == "" {
			t.Errorf("%s is %s without a reason", u.Item, u.Status)
		}
		if planned[u.Item] {
			t.Errorf("%s is planned and %s", u.Item, u.Status)
		}
	}
	last := p.FirstDay.AddDays(p.Days - 1)
	for _, f := range p.FollowUps {
		if !planned[f.ID] && !listed[f.ID] && f.Due.After == "" && f.Due.EarliestOn <= last {
			t.Errorf("nothing is said of %s", f.ID)
		}
	}
}
