package catalogue

import (
	"maps"
	"slices"
)

// Ranges in which a figure of the handling of a material is possible at all.
const (
	mostWaterings = 100
	mostOrganisms = 100_000_000
)

var orders = []Order{Either, After, Before}

// checkHandling judges what else is known of a material: its limits, its effect in time, living goods.
func (c *checker) checkHandling(t trail, material Material) {
	for _, limit := range []struct {
		key    string
		figure *Figure
		b      bounds
	}{
		{"min_celsius", material.MinCelsius, celsiusBounds}, {"max_celsius", material.MaxCelsius, celsiusBounds},
		{"min_humidity", material.MinHumidity, within(0, mostHumidity, UnitPercent)},
		{"max_humidity", material.MaxHumidity, within(0, mostHumidity, UnitPercent)}, {"mix_life_hours", material.MixLifeHours, within(0, mostHours, UnitHours)},
	} {
		if limit.figure != nil {
			c.figure(t.at(limit.key), *limit.figure, limit.b)
		}
	}
	if low, high := material.MinCelsius, material.MaxCelsius; low != nil && high != nil && low.Value >= high.Value {
		c.fail(t.at("min_celsius"), "%v °C is not below the greatest temperature, %v °C", low.Value, high.Value)
	}
	if material.TakesEffectAfter != nil {
		c.span(t.at("takes_effect_after"), *material.TakesEffectAfter, daysBounds)
	}
	if material.ResidualDays != nil {
		c.span(t.at("residual_days"), *material.ResidualDays, daysBounds)
	}
	if material.Systemic && (material.Method != Drench || material.TakesEffectAfter == nil) {
		c.fail(t.at("systemic"), "a systemic is drenched and says after how many days it takes effect")
	}
	for i, pest := range material.HoldsDown {
		if !slices.ContainsFunc(material.Effects, func(e Effect) bool { return e.Pest == pest && e.Reach != Spared }) {
			c.fail(t.at("holds_down", i), "%q: want a pest of which it meets a stage", pest)
		}
	}
	if rule := material.NoLeaching; rule != nil {
		t := t.at("no_leaching")
		c.value(t.at("days"), float64(rule.Days), within(1, longestDays))
		c.value(t.at("waterings"), float64(rule.Waterings), within(1, mostWaterings))
		c.standing(t, rule.Standing, rule.Source)
	}
	if living := material.Living; living != nil {
		c.checkLiving(t.at("living"), *living)
	}
}

func (c *checker) checkLiving(t trail, living LivingGoods) {
	c.figure(t.at("keep_days"), living.KeepDays, daysBounds)
	c.span(t.at("storage_celsius"), living.StorageCelsius, celsiusBounds)
	c.text(t.at("storage"), living.Storage)
	if living.PerLitre != nil {
		c.figure(t.at("per_litre"), *living.PerLitre, within(1, mostOrganisms, UnitOrganisms))
	}
	if living.PerPlant != nil {
		c.span(t.at("per_plant"), *living.PerPlant, within(0, mostOrganisms, UnitOrganisms))
	}
	if (living.PerLitre == nil) == (living.PerPlant == nil) {
		c.fail(t, "no dose, or two: want organisms per litre of medium or per plant")
	}
}

// checkConflicts judges the materials that must stand apart, once all are known.
func (c *checker) checkConflicts(materials []Material, all map[MaterialID]Material) {
	for i, material := range materials {
		for j, conflict := range material.Incompatible {
			t := trail{"materials", i, "incompatible", j}
			if _, ok := all[conflict.Material]; !ok || conflict.Material == material.ID {
				c.fail(t.at("material"), "%q: want another material, one of %s", conflict.Material, oneOf(slices.Sorted(maps.Keys(all))))
			}
			one(c, t.at("order"), "order", conflict.Order, orders)
			c.figure(t.at("days"), conflict.Days, daysBounds)
			c.text(t.at("why"), conflict.Why)
		}
	}
}
