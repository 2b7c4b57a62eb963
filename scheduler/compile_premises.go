package scheduler

import (
	"slices"

	"vernation/scheduler/civil"
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

func (c *compiled) compileSites() {
	for i := range c.p.Sites {
		s := &c.p.Sites[i]
		c.siteIndex[s.ID] = int32(i)
		for a := range s.Areas {
			c.areaIndex[s.Areas[a].ID] = int32(len(c.areas))
			c.areas = append(c.areas, &s.Areas[a])
		}
	}
	for i := range c.p.Sites {
		s := &c.p.Sites[i]
		for a := range s.Areas {
			c.in.Areas = append(c.in.Areas, c.area(int32(i), s, &s.Areas[a]))
		}
		c.in.Sites = append(c.in.Sites, c.site(s))
	}
}

func (c *compiled) site(s *site.Site) instance.Site {
	out := instance.Site{
		Place: c.placeOf(travel.PlaceID(s.ID)), SignIn: instance.Seconds(s.SignIn.Seconds()),
		WaterArea: instance.None, Usual: instance.None, UsualDay: -1, Weekday0: int8(c.p.FirstDay.Weekday()),
	}
	if s.Water.Area != "" {
		out.WaterArea = c.areaIndex[s.Water.Area]
	}
	access := s.Access.Open(s.Zone, c.span)
	agreed := &s.Agreement
	if agreed.UsualDay != nil {
		out.UsualDay = int8(*agreed.UsualDay)
		if agreed.DayFixed {
			access = civil.Intersect(access, c.daysWhere(s.Zone, func(d civil.Date) bool { return d.Weekday() == *agreed.UsualDay }))
		}
	}
	out.Access = c.windows(access)
	for t := range c.p.Technicians {
		if string(c.p.Technicians[t].ID) == agreed.UsualTechnician {
			out.Usual = int32(t)
		}
	}
	first := s.Zone.DateOf(c.span.From).AddDays(-1)
	out.FirstMidnight = c.day(first)
	for d := first; d <= s.Zone.DateOf(c.span.To).AddDays(1); d++ {
		out.Midnights = append(out.Midnights, c.second(s.Zone.At(d, 0)))
	}
	return out
}

// daysWhere returns the days of the span, in a zone, of which something holds.
func (c *compiled) daysWhere(zone civil.Zone, holds func(civil.Date) bool) []civil.Interval {
	var days []civil.Interval
	for d := zone.DateOf(c.span.From); d <= zone.DateOf(c.span.To); d++ {
		if holds(d) {
			days = append(days, civil.Interval{From: zone.At(d, 0), To: zone.At(d+1, 0)})
		}
	}
	return civil.Merge(days)
}

func (c *compiled) area(siteIndex int32, s *site.Site, a *site.Area) instance.Area {
	out := instance.Area{Site: siteIndex}
	// Keep-outs are read far past the horizon, so that people of the week after are seen.
	far := civil.Interval{From: c.span.From, To: c.span.To.Add(reentry.MaxKeepOut)}
	var people []civil.Interval
	for _, id := range shutWith(s, a.ID) {
		out.Shuts = append(out.Shuts, c.areaIndex[id])
		var agreed []civil.Interval
		for _, shut := range s.Agreement.ShutAreas {
			if shut.Area == id {
				agreed = append(agreed, civil.Interval{From: shut.From, To: shut.To})
			}
		}
		hours := c.areas[c.areaIndex[id]].People.Open(s.Zone, far)
		people = append(people, civil.Subtract(hours, civil.Merge(agreed))...)
	}
	out.People = c.windows(civil.Merge(people))
	out.Aired = c.windows(a.Ventilation.Open(s.Zone, far))
	if a.Treatment != nil {
		out.Capacity = int32(a.Treatment.Capacity)
	}
	return out
}

// shutWith returns what a treatment of an area shuts: reentry's areas, and those reached only through any of them.
func shutWith(s *site.Site, id site.AreaID) []site.AreaID {
	shut := reentry.ShutWith(*s, id)
	for i := 0; i < len(shut); i++ {
		for _, other := range s.Areas {
			if other.ReachedOnlyThrough == shut[i] && !slices.Contains(shut, other.ID) {
				shut = append(shut, other.ID)
			}
		}
	}
	return shut
}

func (c *compiled) compilePlants() {
	waterings := map[site.PlantID][]*site.Service{}
	for k := range c.p.Services {
		if s := &c.p.Services[k]; s.Kind == site.WateringService {
			for _, group := range s.Groups {
				waterings[group.Plant] = append(waterings[group.Plant], s)
			}
		}
	}
	for i := range c.p.Plants {
		plant := &c.p.Plants[i].Plant
		c.plantIndex[plant.ID] = int32(i)
		latest, last := plant.Watering.Latest, plant.Watering.Last
		for _, s := range waterings[plant.ID] {
			if latest == 0 {
				latest = s.Latest
			}
			last = max(last, s.Last)
		}
		out := instance.Plant{Count: int32(plant.Count), DryFrom: instance.FarDay, DryLag: instance.FarDay}
		if latest > 0 {
			out.DryLag = instance.Day(latest)
			out.DryFrom = -instance.FarDay
			if !last.IsZero() {
				out.DryFrom = c.day(last) + out.DryLag
			}
		}
		c.in.Plants = append(c.in.Plants, out)
	}
}

// rank is the health of a plant as the kernel orders it; what is unknown is clean.
func (c *compiled) rank(id site.PlantID) int8 {
	at, known := c.plantIndex[id]
	if !known {
		return instance.RankClean
	}
	switch c.p.Plants[at].Health {
	case Neighbour:
		return instance.RankNeighbour
	case SuspectedInfested:
		return instance.RankSuspected
	case ConfirmedInfested:
		return instance.RankConfirmed
	}
	return instance.RankClean
}
