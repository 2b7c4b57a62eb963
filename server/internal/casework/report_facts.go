package casework

import (
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

func (t *telling) plant(id site.PlantID) (site.Plant, bool) {
	for _, p := range t.plants {
		if p.ID == id {
			return p, true
		}
	}
	return site.Plant{}, false
}

func (t *telling) product(id catalogue.ProductID) (catalogue.Product, bool) {
	for _, p := range t.products {
		if p.ID == id {
			return p, true
		}
	}
	return catalogue.Product{}, false
}

func (t *telling) technician() firm.CrewMember {
	for _, m := range t.crew {
		if m.ID == t.report.Technician {
			return m
		}
	}
	panic("casework: the technician was judged before")
}

// followUp returns the planned follow-up of an item from its course as it was.
func (t *telling) followUp(item firm.ReportItem) (scheduler.FollowUp, bool) {
	for _, f := range t.before[caseOf(item)].FollowUps {
		if f.ID == item.Item {
			return f, true
		}
	}
	return scheduler.FollowUp{}, false
}

// plantsOf returns the plants that an item concerned: those named, else all of it.
func (t *telling) plantsOf(item firm.ReportItem) []site.PlantID {
	if len(item.Plants) > 0 {
		return item.Plants
	}
	return t.allPlantsOf(item)
}

// allPlantsOf returns the plants that an item was for: those of the visit's work, else the follow-up's. A course that
// has gone on since needs the follow-up no more: then they are the case's.
func (t *telling) allPlantsOf(item firm.ReportItem) []site.PlantID {
	var plants []site.PlantID
	if t.visit != nil && item.Item != "" {
		for _, w := range t.visit.Work {
			if w.Item == item.Item {
				plants = append(plants, w.Plants...)
			}
		}
	}
	if len(plants) > 0 {
		slices.Sort(plants)
		return slices.Compact(plants)
	}
	if f, ok := t.followUp(item); ok {
		return f.Plants
	}
	for _, h := range t.histories {
		if h.Case == caseOf(item) {
			return h.Plants
		}
	}
	return nil
}

// areaOf returns the area in which an item was done: named, else that of its first plant.
func (t *telling) areaOf(item firm.ReportItem) site.AreaID {
	if item.Area != "" {
		return item.Area
	}
	for _, id := range t.plantsOf(item) {
		if p, ok := t.plant(id); ok {
			return p.Area
		}
	}
	return ""
}
