package week

import (
	"vernation/scheduler/site"
)

// services settles when each service was last done: so that its ideal day is the site's usual one.
func (g *generator) services() {
	at := map[site.PlantID]int{}
	for i, plant := range g.plants {
		at[plant.ID] = i
	}
	for i := range g.problem.Services {
		s := &g.problem.Services[i]
		s.Last = monday.AddDays(g.day[s.Site] - s.Ideal)
		g.servicesAt[s.Site] = append(g.servicesAt[s.Site], *s)
		if s.Kind != site.WateringService {
			continue
		}
		for _, group := range s.Groups {
			g.plants[at[group.Plant]].Watering = site.Watering{Earliest: s.Earliest, Ideal: s.Ideal, Latest: s.Latest, Last: s.Last}
		}
	}
}
