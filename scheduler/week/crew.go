package week

import (
	"fmt"
	"math"
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// crew draws the technicians, those of a town one after another: the first of each works at dawn or late and holds a licence.
func (g *generator) crew() {
	perTown := (g.size.Technicians + len(g.towns) - 1) / len(g.towns)
	for n := range g.size.Technicians {
		in := n / perTown
		kind := pick(g.Rand, g.crewData.Shifts, func(k shiftKind) int { return k.Weight })
		for n%perTown == 0 && !kind.Licensed {
			kind = pick(g.Rand, g.crewData.Shifts, func(k shiftKind) int { return k.Weight })
		}
		base := travel.Place{ID: travel.PlaceID(fmt.Sprintf("depot-%d", in+1)), Position: g.towns[in]}
		if !percent(g.Rand, g.crewData.Depot) {
			base = travel.Place{ID: travel.PlaceID(fmt.Sprintf("base-%03d", n+1)), Position: g.around(g.towns[in], g.crewData.BaseSpread/2)}
		}
		t := scheduler.Technician{
			ID: scheduler.TechnicianID(fmt.Sprintf("tech-%03d", n+1)), Name: fmt.Sprintf("Technician %d", n+1), Base: base.ID,
			PaidPerMinute: quantity.Money(g.crewData.Paid.draw(g.Rand)), SpeedPercent: g.crewData.Speeds[g.IntN(len(g.crewData.Speeds))],
			Shifts: g.shifts(kind), Vessels: g.crewData.Vessels, Measures: g.crewData.Measures,
		}
		licence := scheduler.Licence{Jurisdiction: g.crewData.Licence.Jurisdiction, Category: g.crewData.Licence.Category, Number: fmt.Sprintf("INVENTED-%03d", n+1), From: monday.AddDays(-400)}
		switch lead := g.leadOf(in); {
		case kind.Licensed || percent(g.Rand, g.crewData.Licensed):
			t.Licences = []scheduler.Licence{licence}
		case lead != "" && percent(g.Rand, g.crewData.Supervised):
			licence.Under = lead
			t.Licences = []scheduler.Licence{licence}
		}
		if kind.Licensed {
			g.keyed = append(g.keyed, n)
		}
		g.problem.Technicians = append(g.problem.Technicians, t)
		g.bases, g.town = append(g.bases, base), append(g.town, in)
	}
}

// leadOf is the first technician of a town, who holds a licence.
func (g *generator) leadOf(town int) scheduler.TechnicianID {
	if i := slices.Index(g.town, town); i >= 0 {
		return g.problem.Technicians[i].ID
	}
	return ""
}

func (g *generator) shifts(kind shiftKind) []scheduler.Shift {
	var shifts []scheduler.Shift
	for k := range g.size.Days {
		day := monday.AddDays(k)
		hours, works := kind.Days[day.Weekday().String()]
		if !works {
			continue
		}
		at := func(c civil.Clock) civil.Instant { return g.problem.Zone.At(day, c) }
		shifts = append(shifts, scheduler.Shift{
			Day: day, During: civil.Interval{From: at(hours[0]), To: at(hours[1])},
			BreakWindow: civil.Interval{From: at(hours[2]), To: at(hours[3])}, BreakTakes: minutes(g.crewData.Break),
		})
	}
	return shifts
}

// assign gives each site its usual technician, who is near and not full, and its usual day: the sites of a technician are
// swept by their direction from the base, one fifth of the work a day.
func (g *generator) assign() {
	load := make([]int, len(g.problem.Technicians))
	sitesOf := make([][]int, len(load))
	work := map[site.ID]int{}
	for _, s := range g.problem.Services {
		for _, group := range s.Groups {
			work[s.Site] += group.Minutes
		}
	}
	for i := range g.problem.Sites {
		s := &g.problem.Sites[i]
		best, least := 0, math.Inf(1)
		for t, base := range g.bases {
			// A full round is worth some kilometres.
			if far := travel.Distance(base.Position, s.Position)/1000 + float64(load[t])/60; far < least {
				best, least = t, far
			}
		}
		load[best] += work[s.ID] + int(s.SignIn.Minutes())
		sitesOf[best] = append(sitesOf[best], i)
		s.Agreement.UsualTechnician = string(g.problem.Technicians[best].ID)
		s.Agreement.TechnicianFixed = percent(g.Rand, g.places.FixedTechnician)
		g.holdKeys(s, best)
	}
	for t, sites := range sitesOf {
		g.sweep(sites, g.bases[t].Position, work)
	}
}

// holdKeys gives a site's keys to its usual technician and some others.
func (g *generator) holdKeys(s *site.Site, usual int) {
	if len(s.Keys) == 0 {
		return
	}
	holders := []int{usual}
	for range g.crewData.KeyHolders {
		holders = append(holders, g.IntN(len(g.problem.Technicians)))
	}
	for _, t := range g.keyed {
		if g.town[t] == g.town[usual] {
			holders = append(holders, t)
		}
	}
	slices.Sort(holders)
	for _, t := range slices.Compact(holders) {
		g.give(s, t)
	}
}

// give gives a technician all keys of a site.
func (g *generator) give(s *site.Site, technician int) {
	held := &g.problem.Technicians[technician].Keys
	for _, key := range s.Keys {
		*held = append(*held, scheduler.KeyHeld{Key: key, From: monday.AddDays(-100)})
	}
}

// workdays are the days of a round: Monday to Friday of the first week.
const workdays = 5

func (g *generator) sweep(sites []int, base travel.Position, work map[site.ID]int) {
	direction := func(i int) float64 {
		p := g.problem.Sites[i].Position
		return math.Atan2(p.Longitude-base.Longitude, p.Latitude-base.Latitude)
	}
	slices.SortStableFunc(sites, func(a, b int) int {
		switch x, y := direction(a), direction(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return a - b
	})
	all, before := 0, 0
	for _, i := range sites {
		all += work[g.problem.Sites[i].ID]
	}
	for _, i := range sites {
		s := &g.problem.Sites[i]
		day := min(workdays-1, before*workdays/max(1, all))
		before += work[s.ID]
		for len(s.Access.WindowsOn(monday.AddDays(day))) == 0 {
			day = (day + 1) % workdays
		}
		g.day[s.ID] = day
		weekday := monday.AddDays(day).Weekday()
		s.Agreement.UsualDay = &weekday
		s.Agreement.DayFixed = percent(g.Rand, g.places.FixedDay)
	}
}
