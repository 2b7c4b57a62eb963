package casework

import (
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// plantsStandIt: on a plant that the material harms, that nobody tested where a test comes first, in open flower or
// edible where the label forbids that, or not in the business's care. The breaches of several plants are told as one.
func (t *telling) plantsStandIt(a application) {
	var harmed, untested, flowering, edible, foreign []site.Plant
	for _, plant := range a.plants {
		verdict := t.verdictThen(a, plant)
		if verdict == catalogue.MustNot {
			harmed = append(harmed, plant)
		}
		if !plant.MayBeTreated(a.on) {
			foreign = append(foreign, plant)
		}
		if a.physical() {
			continue
		}
		if verdict == catalogue.PatchTest && !t.patchTested(a, plant.ID) {
			untested = append(untested, plant)
		}
		if plant.InFlower && !a.product.Label.OpenFlowers {
			flowering = append(flowering, plant)
		}
		if plant.Edible && !a.product.Label.EdiblePlants {
			edible = append(edible, plant)
		}
	}
	for _, wrong := range []struct {
		plants []site.Plant
		text   string
	}{
		{harmed, "%s was applied to %s, which must not get it"},
		{untested, "%s was applied to %s without a patch test before: what it stands is not known"},
		{flowering, "%s was applied to %s in flower; the label does not allow open flowers"},
		{edible, "%s was applied to %s, which is edible; the label does not allow edible plants"},
		{foreign, "%s was applied to %s, which is not in the business's care, without its owner's consent"},
	} {
		if len(wrong.plants) > 0 {
			t.breach(a, scheduler.RuleLabel, wrong.text, a.product.Name, named(wrong.plants))
		}
	}
}

// plantsNotDry: sprayed on plants that were dry: from the latest day of their watering on, counted from the last one,
// and not watered before on that visit. What was watered after the day of a late report tells nothing of that day.
func (t *telling) plantsNotDry(a application) {
	if a.product.Label.DryPlants || !a.material.Method.Sprays() || a.physical() {
		return
	}
	var dry []site.Plant
	for _, plant := range a.plants {
		latest, last := t.lastWatering(plant)
		late := last.IsZero() || a.on >= last.AddDays(latest)
		if latest > 0 && late && !t.wateredBefore(a, plant.ID) {
			dry = append(dry, plant)
		}
	}
	if len(dry) > 0 {
		t.breach(a, scheduler.RuleLabel, "%s was sprayed on %s, dry on %s: their watering was due; the label does not allow dry plants", a.product.Name, named(dry), a.on.Short())
	}
}

// lastWatering returns after how many days a plant counts as dry, 0 for never, and when it was last watered.
func (t *telling) lastWatering(plant site.Plant) (latest int, last civil.Date) {
	latest, last = plant.Watering.Latest, plant.Watering.Last
	for _, s := range t.services {
		if s.Kind != site.WateringService || !slices.ContainsFunc(s.Groups, func(g site.Group) bool { return g.Plant == plant.ID }) {
			continue
		}
		if latest == 0 {
			latest = s.Latest
		}
		last = max(last, s.Last)
	}
	return latest, last
}

// wateredBefore says whether the report tells of a watering or a drench of a plant that ended before an application, or
// whose time it does not tell.
func (t *telling) wateredBefore(a application, id site.PlantID) bool {
	return slices.ContainsFunc(t.report.Items, func(item firm.ReportItem) bool {
		if item.Ended > a.Began || !wasDone(item) {
			return false
		}
		if made := item.Application; made != nil {
			drench := catalogue.Shipped().Materials[t.materialOf(made.Product)].Method == catalogue.Drench
			return drench && slices.Contains(t.plantsOf(item), id)
		}
		name, _, _ := strings.Cut(string(item.Item), "#")
		return slices.ContainsFunc(t.services, func(s site.Service) bool {
			return s.ID == name && s.Kind == site.WateringService && slices.ContainsFunc(s.Groups, func(g site.Group) bool { return g.Plant == id })
		}) || item.Service == site.WateringService && slices.Contains(item.Plants, id)
	})
}

// patchTested says whether a patch test of the material was made on a plant policy's days before an application. The
// application may be the test itself.
func (t *telling) patchTested(a application, id site.PlantID) bool {
	if a.ReportItem.FollowUpKind() == scheduler.KindPatchTest {
		return true
	}
	readOn := a.on.AddDays(-t.business.Policy.PatchTestDays)
	for _, h := range t.around {
		for _, e := range h.Events {
			if t.site.Zone.DateOf(e.At) > readOn {
				continue
			}
			if done := e.Done; done != nil && kindOfItem(done.FollowUp) == scheduler.KindPatchTest && (done.Material == "" || done.Material == a.material.ID) && t.met(done.Plants, e.At, id, a.Began) {
				return true
			}
			if made := e.Application; made != nil && kindOfItem(made.FollowUp) == scheduler.KindPatchTest && t.met(made.Plants, made.Began, id, a.Began) && t.materialOf(made.Product) == a.material.ID {
				return true
			}
		}
	}
	return false
}

func kindOfItem(id course.ItemID) scheduler.FollowUpKind {
	return firm.ReportItem{Item: id}.FollowUpKind()
}

// materialOf is the material of one of the business's products; "" for one that it does not know.
func (t *telling) materialOf(id catalogue.ProductID) catalogue.MaterialID {
	product, _ := t.product(id)
	return product.Material
}
