package scheduler

import (
	"fmt"
	"slices"

	"vernation/scheduler/civil"
)

// checkLabel judges the rule label: nothing goes on a plant, at a place, near a thing, against a pest, at a time or at
// a temperature that the label does not allow, and nothing that the law of the place does not. The label in hand,
// local codes and licensed practice outrank every plan.
func (c *checker) checkLabel() {
	for _, w := range c.work {
		if !w.applies() || w.visit.site == nil {
			continue
		}
		product := c.products[w.Use.Product]
		if product == nil {
			c.report(RuleLabel, w.where(), "%s applies product %q, which is not in the Problem: nothing is known of its label", w.Item, w.Use.Product)
			continue
		}
		c.lawful(w, product)
		c.notBarred(w, product)
		c.intervalKnown(w, product)
		c.placeAllowed(w, product)
		c.nothingSensitiveNear(w, product)
		c.waterSoftEnough(w, product)
		c.weatherAllowed(w, product)
		c.plantsStandIt(w, product)
		c.plantsNotDry(w, product)
	}
	c.labelOverTime()
}

// onPlants says whether the product is put on plants or into their soil: a device, a living thing and physical work
// are not, so that flowers, edible plants and patch tests are no matter to them.
func onPlants(p *Product) bool {
	return p.Form == concentrateForm || p.Form == readyToUseForm || p.Form == solidForm
}

// lawful: a material that the law wants registered needs a registered product there; a household remedy is refused
// unless the responsible applicator recorded for that jurisdiction why it is lawful.
//
// Product.Jurisdictions is read to the letter: the site's own jurisdiction must stand in it. Registration in one around
// it does not count: a state may regulate the sale and use of a product that is registered federally (7 U.S.C. 136v(a)),
// and that it asks for a registration of its own is common practice. Nor does registration in a jurisdiction within it.
func (c *checker) lawful(w *placed, product *Product) {
	k := slices.IndexFunc(c.p.Materials, func(m MaterialFacts) bool { return m.ID == product.Material })
	if k < 0 {
		c.report(RuleLabel, w.where(), "%s applies %s: the standing in law of %s is not known, and none is assumed", w.Item, product.Name, product.Material)
		return
	}
	where := w.visit.site.Jurisdiction
	switch c.p.Materials[k].Law {
	case householdOf:
		if product.LawfulBecause[where] == "" {
			c.report(RuleLabel, w.where(), "%s applies %s, a household remedy: refused unless the responsible applicator recorded why it is lawful in %s", w.Item, product.Name, where)
		}
	case registered:
		if product.Registration == "" || !slices.Contains(product.Jurisdictions, where) {
			c.report(RuleLabel, w.where(), "%s applies %s in %s: %s is used as a product registered there only (registration %q, jurisdictions %s)",
				w.Item, product.Name, where, c.p.Materials[k].Name, product.Registration, list(product.Jurisdictions))
		}
	}
}

// notBarred: a product that was in an incident at the site stays off all plants there until the responsible applicator allows
// it again.
func (c *checker) notBarred(w *placed, product *Product) {
	for _, barred := range w.visit.site.Barred {
		if barred.Product == product.ID {
			c.report(RuleLabel, w.where(), "%s applies %s at %s: it is barred there since incident %s, and the responsible applicator has not allowed it again", w.Item, product.Name, w.visit.Site, barred.Incident)
		}
	}
}

// intervalKnown: an unknown interval before entry is refused; a known one is planned at least as long as the label says.
func (c *checker) intervalKnown(w *placed, product *Product) {
	entry := product.Label.Entry
	switch entry.Kind {
	case entryHours, entryUntilDry, entryNone:
	default:
		c.report(RuleLabel, w.where(), "%s applies %s: its label's interval before entry is not known, and no number is assumed", w.Item, product.Name)
		return
	}
	if w.Use.Entry != entry.Kind {
		c.report(RuleLabel, w.where(), "%s plans the interval of %s as %q: its label says %s", w.Item, product.Name, w.Use.Entry, entry.Kind)
	} else if entry.Kind == entryHours && w.Use.KeepOut < entry.Hours {
		c.report(RuleLabel, w.where(), "%s plans %v before entry after %s: its label says %v", w.Item, w.Use.KeepOut, product.Name, entry.Hours)
	}
}

// placeAllowed: the label lists the kind of place and the pest. Physical work has no label.
func (c *checker) placeAllowed(w *placed, product *Product) {
	if product.Form == noSupplyForm {
		return
	}
	if kind := placeKind(w.visit.site, c.areas[w.Area]); !slices.Contains(product.Label.Places, kind) {
		c.report(RuleLabel, w.where(), "%s applies %s in %s, a place of the kind %s: its label lists %s", w.Item, product.Name, w.Area, kind, list(product.Label.Places))
	}
	if w.follow != nil && !slices.Contains(product.Label.Pests, w.follow.Pest) {
		c.report(RuleLabel, w.where(), "%s applies %s against %s: its label lists %s", w.Item, product.Name, w.follow.Pest, list(product.Label.Pests))
	}
}

// nothingSensitiveNear: what the label keeps away from is neither in the area nor in one open to it. Where the label
// allows it on a condition the condition is a step of the visit.
func (c *checker) nothingSensitiveNear(w *placed, product *Product) {
	area := c.areas[w.Area]
	if area == nil {
		return
	}
	for i := range area.site.Areas {
		near := &area.site.Areas[i]
		if near.ID != w.Area && !slices.Contains(near.OpenTo, w.Area) && !slices.Contains(area.OpenTo, near.ID) {
			continue
		}
		for _, keep := range product.Label.KeepAway {
			if keep.Condition == "" && slices.Contains(near.Sensitive, keep.Thing) {
				c.report(RuleLabel, w.where(), "%s applies %s in %s: its label keeps away from %s, which is in %s", w.Item, product.Name, w.Area, keep.Thing, near.ID)
			}
		}
	}
}

// waterSoftEnough: where the label states a greatest hardness of the water, the mix is made with water that is known to
// keep it: that of the site where it is made, or carried water where the site has none, which the mix sheet asks to be
// within the limit. A site that has water is taken to be mixed with it. Where no limit is stated any water will do.
func (c *checker) waterSoftEnough(w *placed, product *Product) {
	limit, s := product.Label.MaxHardness, w.visit.site
	if limit == nil || !product.Diluted() {
		return
	}
	if mixes := w.visit.route.Mixes; w.MixIndex >= 0 && w.MixIndex < len(mixes) && c.sites[mixes[w.MixIndex].Site] != nil {
		s = c.sites[mixes[w.MixIndex].Site]
	}
	switch hardness := s.Water.HardnessMgL; {
	case s.Water.Area == "":
	case hardness == nil:
		c.report(RuleLabel, w.where(), "%s applies %s mixed with the water of %s, whose hardness is not known and counts as hard: its label says %g mg/L CaCO3 at most", w.Item, product.Name, s.ID, *limit)
	case !(*hardness <= *limit):
		c.report(RuleLabel, w.where(), "%s applies %s mixed with the water of %s, %g mg/L CaCO3: its label says %g mg/L at most", w.Item, product.Name, s.ID, *hardness, *limit)
	}
}

// weatherAllowed: the coldest and the warmest of the season in the area, and the whole time of day, lie within the label.
func (c *checker) weatherAllowed(w *placed, product *Product) {
	label, s := &product.Label, w.visit.site
	if area := c.areas[w.Area]; area != nil && (label.MinCelsius != nil || label.MaxCelsius != nil) {
		season, known := area.Climate.On(c.dateAt(s, w.Begins))
		switch {
		case !known:
			c.report(RuleLabel, w.where(), "%s applies %s in %s, whose temperature on %v is not known: its label states a limit", w.Item, product.Name, w.Area, c.dateAt(s, w.Begins))
		case label.MinCelsius != nil && season.Coldest < *label.MinCelsius:
			c.report(RuleLabel, w.where(), "%s applies %s in %s, where it may be %g °C: its label says %g °C at least", w.Item, product.Name, w.Area, season.Coldest, *label.MinCelsius)
		case label.MaxCelsius != nil && season.Warmest > *label.MaxCelsius:
			c.report(RuleLabel, w.where(), "%s applies %s in %s, where it may be %g °C: its label says %g °C at most", w.Item, product.Name, w.Area, season.Warmest, *label.MaxCelsius)
		}
	}
	if len(label.Hours) > 0 && !inOne(w.during(), daily(label.Hours, s.Zone, w.during())) {
		c.report(RuleLabel, w.where(), "%s applies %s %s: its label allows %v to %v", w.Item, product.Name, c.stretch(s, w.during()), label.Hours[0].Opens, label.Hours[0].Closes)
	}
}

// plantsStandIt: no plant is harmed by the product, in open flower or edible where its label forbids that, or untested
// where a patch test comes first. What is not known of a plant is a patch test; one that is done or planned to end
// before this application counts, for the course is computed anew from its report.
func (c *checker) plantsStandIt(w *placed, product *Product) {
	refuse := map[string][]PlantID{}
	var reasons []string
	for _, id := range w.Plants {
		plant := c.plants[id]
		if plant == nil {
			continue
		}
		for _, reason := range c.harms(w, product, plant) {
			if refuse[reason] == nil {
				reasons = append(reasons, reason)
			}
			refuse[reason] = append(refuse[reason], id)
		}
	}
	for _, reason := range reasons {
		c.report(RuleLabel, w.where(), "%s applies %s to %s: %s", w.Item, product.Name, list(refuse[reason]), reason)
	}
}

// harms lists why a product may not go on a plant.
func (c *checker) harms(w *placed, product *Product, plant *PlantState) []string {
	var reasons []string
	verdict := tryFirst
	for _, t := range plant.Tolerance {
		if t.Material == product.Material {
			verdict = t.Verdict
		}
	}
	if verdict == harmed {
		reasons = append(reasons, fmt.Sprintf("the plant must not get %s", product.Material))
	}
	if slices.Contains(product.Label.MustNot, plant.Plant.Species) {
		reasons = append(reasons, fmt.Sprintf("the label excludes %s", plant.Plant.Species))
	}
	if !onPlants(product) {
		return reasons
	}
	if plant.Plant.InFlower && !product.Label.OpenFlowers {
		reasons = append(reasons, "it is in flower, and the label does not allow open flowers")
	}
	if plant.Plant.Edible && !product.Label.EdiblePlants {
		reasons = append(reasons, "it is edible, and the label does not allow edible plants")
	}
	tested := slices.Contains(plant.PatchTested, product.Material) || w.follow != nil && w.follow.Kind == KindPatchTest
	if verdict == tryFirst && !tested && !c.patchTestBefore(w, product, plant.Plant.ID) {
		reasons = append(reasons, fmt.Sprintf("a patch test of %s comes first", product.Material))
	}
	return reasons
}

func (c *checker) patchTestBefore(w *placed, product *Product, id PlantID) bool {
	for _, test := range c.work {
		if test.follow == nil || test.follow.Kind != KindPatchTest || !test.applies() || test.Ends > w.Begins || !slices.Contains(test.Plants, id) {
			continue
		}
		if tried := c.products[test.Use.Product]; tried != nil && tried.Material == product.Material {
			return true
		}
	}
	return false
}

// plantsNotDry: a plant is dry from the latest day of its watering on, counted from the last watering that was done or
// is planned to end before; a drench is itself a watering. A spray then needs a watering first, unless the label says
// otherwise.
func (c *checker) plantsNotDry(w *placed, product *Product) {
	if product.Label.DryPlants || !w.Use.Method.Sprays() {
		return
	}
	var dry []PlantID
	day := c.dateAt(w.visit.site, w.Begins)
	for _, id := range w.Plants {
		latest, watered := c.lastWatering(w, id)
		if latest > 0 && (watered.IsZero() || day >= watered.AddDays(latest)) {
			dry = append(dry, id)
		}
	}
	if len(dry) > 0 {
		c.report(RuleLabel, w.where(), "%s sprays plants that are dry on %v (%s): water them before, on that visit or an earlier one", w.Item, day, list(dry))
	}
}

// lastWatering returns how many days after a watering a plant counts as dry, 0 for never, and the last watering before
// a work item, unset when there is none.
func (c *checker) lastWatering(w *placed, id PlantID) (latest int, last civil.Date) {
	if plant := c.plants[id]; plant != nil {
		latest, last = plant.Plant.Watering.Latest, plant.Plant.Watering.Last
	}
	for i := range c.p.Services {
		s := &c.p.Services[i]
		if s.Kind != watering || !slices.ContainsFunc(s.Groups, func(g ServiceGroup) bool { return g.Plant == id }) {
			continue
		}
		if latest == 0 {
			latest = s.Latest
		}
		last = max(last, s.Last)
	}
	for _, other := range c.work {
		wets := other.service != nil && other.service.Kind == watering || other.applies() && other.Use.Method == drench
		if wets && other.Ends <= w.Begins && slices.Contains(other.Plants, id) {
			last = max(last, c.dateAt(other.visit.site, other.Begins))
		}
	}
	return latest, last
}
