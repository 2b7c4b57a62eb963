package catalogue

import (
	"math"
	"slices"
)

// Ranges in which a figure of a pest is possible at all.
const (
	coldestCelsius = -20
	hottestCelsius = 60
	longestDays    = 1000
	mostDegreeDays = 10_000
	mostEggs       = 10_000
	worstSeverity  = 3
	mostDailyRate  = 5
)

var (
	habitats      = []Habitat{Leaf, Stem, Soil, Air}
	celsiusBounds = within(coldestCelsius, hottestCelsius, UnitCelsius)
	daysBounds    = within(0, longestDays, UnitDays)
)

func (c *checker) checkPests(pests []Pest) map[PestID]Pest {
	for i, pest := range pests {
		t := trail{"pests", i}
		c.text(t.at("name"), pest.Name)
		c.text(t.at("scientific"), pest.Scientific)
		c.checkStages(t.at("stages"), pest.Stages)
		c.checkSpans(t.at("spans"), pest)
		c.figure(t.at("lower_limit"), pest.LowerLimit, celsiusBounds)
		c.figure(t.at("upper_limit"), pest.UpperLimit, celsiusBounds)
		if pest.LowerLimit.Value >= pest.UpperLimit.Value {
			c.fail(t.at("lower_limit"), "lower limit %v °C is not below the upper limit %v °C", pest.LowerLimit.Value, pest.UpperLimit.Value)
		}
		c.span(t.at("eggs_per_female"), pest.EggsPerFemale, within(0, mostEggs, UnitEggs))
		c.span(t.at("laying_days"), pest.LayingDays, daysBounds)
		c.checkLaying(t, pest)
		c.figure(t.at("female_share"), pest.FemaleShare, shareBounds)
		c.figure(t.at("survival"), pest.Survival, shareBounds)
		c.figure(t.at("detection"), pest.Detection, shareBounds)
		if pest.DryAir != nil {
			c.figure(t.at("dry_air"), *pest.DryAir, within(0, mostHumidity, UnitPercent))
		}
		if pest.CardThreshold != nil {
			c.figure(t.at("card_threshold"), *pest.CardThreshold, within(0, mostEggs, UnitInsects))
		}
		for severity := 0; severity <= worstSeverity; severity++ {
			if pest.Severity[severity] == "" {
				c.fail(t.at("severity"), "severity %d is not described: want what is seen at 0 to %d", severity, worstSeverity)
			}
		}
		if len(pest.Severity) > worstSeverity+1 {
			c.fail(t.at("severity"), "%d severities: want 0 to %d", len(pest.Severity), worstSeverity)
		}
		if !slices.Contains(standings, pest.SeverityStanding) {
			c.fail(t.at("severity_standing"), "standing %q: want one of %s", pest.SeverityStanding, oneOf(standings))
		}
		c.checkPublished(t, pest)
		if len(pest.Signs) == 0 {
			c.fail(t.at("signs"), "no signs: want what a technician looks for")
		}
	}
	all := byID(c, trail{"pests"}, "id", pests, func(p Pest) PestID { return p.ID })
	for i, pest := range pests {
		for j, covered := range pest.Covers {
			if other, ok := all[covered]; !ok || covered == pest.ID || len(other.Covers) > 0 {
				c.fail(trail{"pests", i, "covers", j}, "%q: want another pest that covers none itself", covered)
			}
		}
	}
	return all
}

// checkLaying judges what was counted of laying females by temperature.
func (c *checker) checkLaying(t trail, pest Pest) {
	seen := map[float64]bool{}
	for i, row := range pest.Laying {
		t := t.at("laying", i)
		c.value(t.at("celsius"), row.Celsius, celsiusBounds)
		c.value(t.at("eggs"), row.Eggs, within(0, mostEggs))
		c.value(t.at("days"), row.Days, within(0, longestDays))
		if row.Eggs == 0 && row.Days == 0 {
			c.fail(t, "no figure: want eggs of one female, or days of laying")
		}
		if seen[row.Celsius] {
			c.fail(t.at("celsius"), "a second row at %v °C: want one for each temperature, of the better host", row.Celsius)
		}
		seen[row.Celsius] = true
		c.standing(t, row.Standing, row.Source)
	}
}

// checkPublished judges the figures that the constants and the model are held against.
func (c *checker) checkPublished(t trail, pest Pest) {
	for i, check := range pest.Checks {
		t := t.at("checks", i)
		c.ordered(t, pest, check.From, check.To, true)
		c.value(t.at("celsius"), check.Celsius, celsiusBounds)
		c.value(t.at("days"), check.Days, within(math.SmallestNonzeroFloat64, longestDays))
		c.standing(t, check.Standing, check.Source)
	}
	for i, table := range pest.LifeTables {
		t := t.at("life_tables", i)
		c.value(t.at("celsius"), table.Celsius, celsiusBounds)
		c.value(t.at("intrinsic_rate"), table.IntrinsicRate, within(0, mostDailyRate))
		c.value(t.at("net_reproduction"), table.NetReproduction, within(0, mostEggs))
		c.value(t.at("generation_days"), table.GenerationDays, within(0, longestDays))
		if table.IntrinsicRate == 0 && table.NetReproduction == 0 && table.GenerationDays == 0 {
			c.fail(t, "no figure: want r, R0 or T")
		}
		c.standing(t, table.Standing, table.Source)
	}
}

// ordered asks that two stages are the pest's and stand in order; alike says that they may be one and the same.
func (c *checker) ordered(t trail, pest Pest, from, to StageID, alike bool) {
	place := func(step string, id StageID) int {
		at := slices.IndexFunc(pest.Stages, func(s Stage) bool { return s.ID == id })
		if at < 0 {
			c.fail(t.at(step), "unknown stage %q of %s: want one of %s", id, pest.ID, oneOf(stageIDs(pest)))
		}
		return at
	}
	first, last := place("from", from), place("to", to)
	if first >= 0 && last >= 0 && (first > last || first == last && !alike) {
		c.fail(t, "span from %q to %q: want a later stage to end it", from, to)
	}
}

func (c *checker) checkStages(t trail, stages []Stage) {
	if len(stages) < 2 {
		c.fail(t, "%d stages: want the egg first and the laying adult last", len(stages))
		return
	}
	byID(c, t, "id", stages, func(s Stage) StageID { return s.ID })
	for i, stage := range stages {
		t := t.at(i)
		c.text(t.at("name"), stage.Name)
		one(c, t.at("habitat"), "habitat", stage.Habitat, habitats)
		for j, also := range stage.Also {
			one(c, t.at("also", j), "habitat", also, habitats)
		}
		if last := i == len(stages)-1; stage.Lays != last {
			c.fail(t, "stage %q: the last stage lays eggs and no other does", stage.ID)
		}
		if stage.Thermal != nil {
			c.thermal(t.at("thermal"), *stage.Thermal)
		}
		for j, observed := range stage.Observed {
			t := t.at("observed", j)
			c.value(t.at("celsius"), observed.Celsius, celsiusBounds)
			c.value(t.at("days"), observed.Days, within(math.SmallestNonzeroFloat64, longestDays))
			c.standing(t, observed.Standing, observed.Source)
		}
		if stage.Practice != nil {
			c.span(t.at("practice"), *stage.Practice, daysBounds)
		}
		for j, reported := range stage.Reported {
			c.span(t.at("reported", j), reported, daysBounds)
		}
	}
}

func (c *checker) checkSpans(t trail, pest Pest) {
	for i, span := range pest.Spans {
		c.ordered(t.at(i), pest, span.From, span.To, false)
		c.thermal(t.at(i, "thermal"), span.Thermal)
	}
}

func stageIDs(pest Pest) []StageID {
	ids := make([]StageID, len(pest.Stages))
	for i, stage := range pest.Stages {
		ids[i] = stage.ID
	}
	return ids
}

// thermal asks for one source for both constants: a T0 is never used with another study's K.
func (c *checker) thermal(t trail, thermal Thermal) {
	c.value(t.at("t0"), thermal.T0, celsiusBounds)
	c.value(t.at("k"), thermal.K, within(math.SmallestNonzeroFloat64, mostDegreeDays))
	if thermal.Source == "" {
		c.fail(t, "no source: t0 and k come from one work, which is named")
		return
	}
	if _, ok := c.sources[thermal.Source]; !ok {
		c.fail(t.at("source"), "unknown source %q: want one key of %s: a t0 is never used with another study's k", thermal.Source, sourcesFile)
		return
	}
	c.standing(t, thermal.Standing, thermal.Source)
}
