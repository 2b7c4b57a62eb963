package catalogue

import (
	"maps"
	"slices"
)

// Ranges in which a figure of a material is possible at all.
const (
	mostMillilitres = 100_000
	mostMinutes     = 24 * 60
	tallestCM       = 3_000
	mostParts       = 10_000
)

var (
	laws     = []LegalStanding{RegisteredProduct, ExemptByRule, DeviceOrOrganism, PhysicalWork, HouseholdRemedy}
	reaches  = []Reach{Reached, Partly, Spared}
	verdicts = []Verdict{Stands, PatchTest, MustNot}
	// conventions are the two readings of 1:N, as package quantity writes them.
	conventions = []string{"made up to", "added to"}
)

func (c *checker) checkMaterials(materials []Material, known *Catalogue) map[MaterialID]Material {
	for i, material := range materials {
		t := trail{"materials", i}
		c.text(t.at("name"), material.Name)
		one(c, t.at("method"), "method", material.Method, Methods[:])
		one(c, t.at("law"), "standing in law", material.Law, laws)
		if (material.Law == ExemptByRule || material.Law == HouseholdRemedy) && material.LawNote == "" {
			c.fail(t.at("law_note"), "empty: a material that is %s says by which rule or why", material.Law)
		}
		if material.LawStanding != "" || material.LawSource != "" {
			c.standing(t.at("law"), material.LawStanding, material.LawSource)
		}
		if (material.ModeOfAction == "") != (material.ModeStanding == "") {
			c.fail(t.at("mode_of_action"), "a mode-of-action group and its standing stand together")
		}
		if material.ModeStanding != "" {
			c.standing(t.at("mode_of_action"), material.ModeStanding, material.ModeSource)
		}
		for j := range material.Effects {
			c.checkEffect(t.at("effects", j), material, j, known.Pests)
		}
		for _, pest := range slices.Sorted(maps.Keys(material.Ceilings)) {
			t := t.at("ceilings", string(pest))
			if _, ok := known.Pests[pest]; !ok {
				c.fail(t, "unknown pest %q: want one of %s", pest, oneOf(slices.Sorted(maps.Keys(known.Pests))))
			}
			c.span(t, material.Ceilings[pest], within(1, longestDays, UnitDays))
		}
		c.checkAmounts(t, material)
		c.figure(t.at("minutes_per_plant"), material.MinutesPerPlant, within(0, mostMinutes, UnitMinutes))
		if material.Tolerated != nil {
			one(c, t.at("tolerated", "verdict"), "verdict", material.Tolerated.Verdict, verdicts)
			c.standing(t.at("tolerated"), material.Tolerated.Standing, material.Tolerated.Source)
		}
		c.checkHandling(t, material)
		if len(material.Cautions) == 0 {
			c.fail(t.at("cautions"), "no cautions: want what to mind, the label first")
		}
	}
	all := byID(c, trail{"materials"}, "id", materials, func(m Material) MaterialID { return m.ID })
	c.checkConflicts(materials, all)
	return all
}

func (c *checker) checkEffect(t trail, material Material, at int, pests map[PestID]Pest) {
	effect := material.Effects[at]
	pest, ok := pests[effect.Pest]
	stage, known := pest.Stage(effect.Stage)
	switch {
	case !ok:
		c.fail(t.at("pest"), "unknown pest %q: want one of %s", effect.Pest, oneOf(slices.Sorted(maps.Keys(pests))))
	case !known:
		c.fail(t.at("stage"), "unknown stage %q of %s: want one of %s", effect.Stage, effect.Pest, oneOf(stageIDs(pest)))
	case effect.Reach != Spared && !material.Meets(stage):
		c.fail(t.at("reach"), "%s comes to %s and %s of the %s live on %s: want spared", material.Method,
			oneOf(material.Method.Habitats()), stage.Name, pest.Name, stage.Habitat)
	}
	if slices.ContainsFunc(material.Effects[:at], func(e Effect) bool { return e.Pest == effect.Pest && e.Stage == effect.Stage }) {
		c.fail(t, "effect on %s %s is there twice", effect.Pest, effect.Stage)
	}
	one(c, t.at("reach"), "reach", effect.Reach, reaches)
	c.figure(t.at("kill"), effect.Kill, shareBounds)
	if effect.Reach == Spared && effect.Kill.Value > 0 {
		c.fail(t.at("kill"), "kill %v of a spared stage: want 0, or a reach that says how it is met", effect.Kill.Value)
	}
	c.value(t.at("up_to_days"), effect.UpToDays, daysBounds)
}

func (c *checker) checkAmounts(t trail, material Material) {
	if material.MissedShare != nil {
		c.figure(t.at("missed_share"), *material.MissedShare, shareBounds)
	}
	if material.Method.Sprays() && len(material.AmountBySize) == 0 {
		c.fail(t.at("amount_by_size"), "no amounts: a spray says how much a plant takes by height")
	}
	for i, amount := range material.AmountBySize {
		t := t.at("amount_by_size", i)
		c.value(t.at("up_to_height_cm"), float64(amount.UpToHeightCM), within(1, tallestCM))
		if i > 0 && amount.UpToHeightCM <= material.AmountBySize[i-1].UpToHeightCM {
			c.fail(t.at("up_to_height_cm"), "%d cm: want the heights to rise", amount.UpToHeightCM)
		}
		c.span(t.at("millilitres"), amount.Millilitres, within(0, mostMillilitres, UnitMillilitres))
	}
	if (material.Method == Drench) != (material.DrenchShare != nil) {
		c.fail(t.at("drench_share"), "a drench, and nothing else, says its share of the pot volume")
	}
	if material.DrenchShare != nil {
		c.figure(t.at("drench_share"), *material.DrenchShare, shareBounds)
	}
	if d := material.Dilution; d != nil {
		t := t.at("dilution")
		c.value(t.at("parts"), float64(d.Parts), within(1, mostParts))
		one(c, t.at("convention"), "convention", d.Convention, conventions)
		c.value(t.at("stock_percent"), d.StockPercent, within(0, 100))
		c.standing(t, d.Standing, d.Source)
	}
}
