package mayapply

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// askPlace: the label lists the kind of place; what it keeps away from is neither in the area nor in one open to it; and
// temperature and humidity lie within its limits.
func (a *asking) askPlace(area site.Area) {
	plants, label := a.plantsIn(area.ID), a.Product.Label
	if a.Product.Form != catalogue.NoSupply && !slices.Contains(label.Places, a.kindOf(area)) {
		a.say(RulePlace, Refuses, plants, "the label lists %s, and %s is a place of the kind %s", list(label.Places), area.Name, spaced(a.kindOf(area)))
	}
	for _, near := range a.Site.Areas {
		if near.ID != area.ID && !slices.Contains(area.OpenTo, near.ID) && !slices.Contains(near.OpenTo, area.ID) {
			continue
		}
		for _, keep := range label.KeepAway {
			switch {
			case !slices.Contains(near.Sensitive, keep.Thing):
			case keep.Condition == "":
				a.say(RuleSensitive, Refuses, plants, "the label keeps it away from %s, and there is one in %s", spaced(keep.Thing), near.Name)
			default:
				a.say(RuleSensitive, Asks, plants, "%s in %s: %s", spaced(keep.Thing), near.Name, keep.Condition)
			}
		}
		for _, thing := range near.Sensitive {
			if !slices.ContainsFunc(label.KeepAway, func(k catalogue.KeepAway) bool { return k.Thing == thing }) && a.onPlants() {
				a.say(RuleSensitive, Notes, plants, "%s in %s: the record of the label says nothing of it; read the label and keep away", spaced(thing), near.Name)
			}
		}
	}
	a.askTemperature(area)
	a.askHumidity(area)
}

// askTemperature compares a reading, else the season's coldest and warmest, with the label's limits. A limit of practice asks
// only, where the label states none.
func (a *asking) askTemperature(area site.Area) {
	plants, label := a.plantsIn(area.ID), a.Product.Label
	if label.MinCelsius == nil && label.MaxCelsius == nil && a.material.MinCelsius == nil && a.material.MaxCelsius == nil {
		return
	}
	coldest, read := a.Celsius[area.ID]
	warmest, from := coldest, "read there"
	if !read {
		season, known := area.Climate.On(a.day)
		if !known && label.MinCelsius == nil && label.MaxCelsius == nil {
			a.say(RuleTemperature, Asks, plants, "the temperature of %s is not known and the material has limits of practice: take a thermometer", area.Name)
			return
		}
		if !known {
			a.say(RuleTemperature, Refuses, plants, "the label states a limit and the temperature of %s is not known: take a thermometer", area.Name)
			return
		}
		coldest, warmest, from = season.Coldest, season.Warmest, "of the season; a reading decides"
	}
	if low := label.MinCelsius; low != nil && coldest < *low {
		a.say(RuleTemperature, Refuses, plants, "%s may be %v °C (%s): the label says %v °C at least", area.Name, coldest, from, *low)
	}
	if high := label.MaxCelsius; high != nil && warmest > *high {
		a.say(RuleTemperature, Refuses, plants, "%s may be %v °C (%s): the label says %v °C at most", area.Name, warmest, from, *high)
	}
	if low := a.material.MinCelsius; low != nil && label.MinCelsius == nil && coldest < low.Value {
		a.say(RuleTemperature, Asks, plants, "%s may be %v °C (%s): the practice is %v °C at least (%s)", area.Name, coldest, from, low.Value, spaced(low.Standing))
	}
	if high := a.material.MaxCelsius; high != nil && label.MaxCelsius == nil && warmest > high.Value {
		a.say(RuleTemperature, Asks, plants, "%s may be %v °C (%s): the practice is %v °C at most (%s)", area.Name, warmest, from, high.Value, spaced(high.Standing))
	}
}

// askHumidity compares a reading, else the area's own range, with the label's limit, or where it states none with that of practice.
// Air that may be drier is measured before; only the label refuses, where a reading or even the driest lies above it.
func (a *asking) askHumidity(area site.Area) {
	plants, limit, by := a.plantsIn(area.ID), a.Product.Label.MaxHumidity, "the label says"
	if limit == nil {
		practice := a.material.MaxHumidity
		if practice == nil {
			return
		}
		limit, by = &practice.Value, fmt.Sprintf("the practice (%s) is", spaced(practice.Standing))
	}
	driest, dampest, from := 0.0, 100.0, ""
	if read, ok := a.Humidity[area.ID]; ok {
		driest, dampest, from = read, read, "read there"
	} else if h := area.Humidity; h != nil {
		driest, dampest, from = h.Least, h.Greatest, "of the year; a reading decides"
	}
	switch {
	case from == "":
		a.say(RuleHumidity, Asks, plants, "%s %v %% relative humidity at most and that of %s is not known: measure it before", by, *limit, area.Name)
	case driest > *limit && a.Product.Label.MaxHumidity != nil:
		a.say(RuleHumidity, Refuses, plants, "%s is at %v %% relative humidity or more (%s): %s %v %% at most", area.Name, driest, from, by, *limit)
	case dampest > *limit:
		a.say(RuleHumidity, Asks, plants, "%s may be at %v %% relative humidity (%s): %s %v %% at most", area.Name, dampest, from, by, *limit)
	}
}

// askPest: the label lists the pest. Physical work has no label.
func (a *asking) askPest() {
	if a.Product.Form == catalogue.NoSupply || a.Pest == "" {
		return
	}
	if !slices.Contains(a.Product.Label.Pests, a.Pest) {
		a.refuse(RulePest, "the label lists %s, and not %s", list(a.Product.Label.Pests), a.Catalogue.Pests[a.Pest].Name)
	}
}

// askHours: the whole application lies in one of the label's times of day.
func (a *asking) askHours() {
	hours := a.Product.Label.Hours
	if len(hours) == 0 {
		return
	}
	runs := a.openRuns(a.during())[1]
	if !slices.ContainsFunc(runs, func(run civil.Interval) bool { return run.Covers(a.during()) }) {
		a.refuse(RuleHours, "%s: the label allows %v to %v", a.stretch(a.during()), hours[0].Opens, hours[0].Closes)
	}
}

// askWater: hard water is refused only where the label states a limit; unknown counts as hard.
func (a *asking) askWater() {
	if !a.Product.Diluted() {
		return
	}
	hardness, where := a.Site.Water.HardnessMgL, "of the site's water"
	if a.CarriesWater {
		hardness, where = a.CarriedHardnessMgL, "of the water carried"
	} else if a.Site.Water.Area == "" {
		a.refuse(RuleWater, "no water is recorded at this site: carry it")
		return
	}
	switch limit := a.Product.Label.MaxHardness; {
	case limit != nil && hardness == nil:
		a.refuse(RuleWater, "the label allows up to %v mg/L CaCO3 and the hardness %s is not known, which counts as hard: carry water of known hardness", *limit, where)
	case limit != nil && *hardness > *limit:
		a.refuse(RuleWater, "the label allows up to %v mg/L CaCO3 and the hardness %s is %v: carry water within the limit", *limit, where, *hardness)
	case limit == nil && hardness == nil:
		a.say(RuleWater, Notes, nil, "the hardness %s is not known and counts as hard: use soft or carried water", where)
	case limit == nil && *hardness > 0:
		// No number is published from which on water is too hard where a label is silent.
		a.say(RuleWater, Notes, nil, "the hardness %s is %v mg/L CaCO3 and the label states no limit: where it leaves scale or curd, use soft or carried water", where, *hardness)
	}
}

// askPlant: what the plant stands, its flowers, its fruit, its soil.
func (a *asking) askPlant(p Plant) {
	id, label := []site.PlantID{p.ID}, a.Product.Label
	if slices.Contains(label.MustNot, p.Species) {
		a.say(RuleTolerance, Refuses, id, "the label excludes %s", a.Catalogue.Species[p.Species].Botanical)
	}
	verdict := a.tolerance(p)
	source := spaced(verdict.Standing)
	if verdict.Source != "" {
		source = verdict.Source
	}
	switch {
	case verdict.Verdict == catalogue.MustNot:
		a.say(RuleTolerance, Refuses, id, "%s does not stand %s (%s)", a.Catalogue.Species[p.Species].Botanical, a.material.Name, source)
	case verdict.Verdict == catalogue.PatchTest && a.onPlants() && !a.PatchTest && !slices.Contains(p.PatchTested, a.material.ID):
		a.say(RuleTolerance, Refuses, id, "a patch test of %s comes first: what it stands is not known (%s)", a.material.Name, source)
	}
	if a.onPlants() {
		if p.InFlower && !label.OpenFlowers {
			a.say(RuleFlowers, Refuses, id, "it is in flower and the label does not allow open flowers: remove them or wait")
		}
		if p.Edible && !label.EdiblePlants {
			a.say(RuleEdible, Refuses, id, "it is edible and the label does not list edible plants")
		}
	}
	a.askDryness(p)
	a.askPlanter(p)
}

// tolerance is the business's own record of a plant, else what is known of its species.
func (a *asking) tolerance(p Plant) catalogue.Tolerance {
	for _, own := range p.Tolerance {
		if own.Material == a.material.ID {
			return own
		}
	}
	return a.Catalogue.Tolerance(p.Species, a.material.ID)
}

// askDryness: a plant is dry from its watering's latest day on. A spray then needs a watering first, unless the label says
// otherwise; a drench is itself a watering.
func (a *asking) askDryness(p Plant) {
	if !a.material.Method.Sprays() || a.Product.Label.DryPlants {
		return
	}
	switch w := p.Watering; {
	case w.Latest == 0:
		a.say(RuleDryness, Asks, []site.PlantID{p.ID}, "nobody of the business waters it: feel the soil; never on a dry or wilted plant")
	case w.Last.IsZero():
		a.say(RuleDryness, Refuses, []site.PlantID{p.ID}, "when it was last watered is not known, which counts as dry: water it first")
	case a.day >= w.Last.AddDays(w.Latest):
		a.say(RuleDryness, Refuses, []site.PlantID{p.ID}, "it is dry from %v on: water it first", w.Last.AddDays(w.Latest))
	}
}

// linerText says how much a liner without drain takes, where the business settled that.
func (a *asking) linerText() string {
	if a.Policy.LinerDrenchPercent <= 0 {
		return ""
	}
	return fmt.Sprintf(" and at most %d %% of the pot volume in all", a.Policy.LinerDrenchPercent)
}

// askPlanter: what would flood a planter is refused.
func (a *asking) askPlanter(p Plant) {
	if a.material.Method != catalogue.Drench {
		return
	}
	id := []site.PlantID{p.ID}
	switch {
	case p.Planter == site.SubIrrigated || p.Planter == site.Hydroculture:
		a.say(RulePlanter, Refuses, id, "a %s planter takes no drench", spaced(p.Planter))
	case p.PotVolume.Sign() <= 0:
		a.say(RulePlanter, Refuses, id, "its pot volume is not recorded, and a drench is measured by it")
	case p.Planter == site.Liner:
		a.say(RulePlanter, Asks, id, "the liner has no drain: pour in portions, no more than the soil takes up%s, and soak up what stands", a.linerText())
	}
}
