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
		c.figure(t.at("female_share"), pest.FemaleShare, shareBounds)
		c.figure(t.at("survival"), pest.Survival, shareBounds)
		c.figure(t.at("detection"), pest.Detection, shareBounds)
		for severity := 0; severity <= worstSeverity; severity++ {
			if pest.Severity[severity] == "" {
				c.fail(t.at("severity"), "severity %d is not described: want what is seen at 0 to %d", severity, worstSeverity)
			}
		}
		if len(pest.Severity) > worstSeverity+1 {
			c.fail(t.at("severity"), "%d severities: want 0 to %d", len(pest.Severity), worstSeverity)
		}
		if len(pest.Signs) == 0 {
			c.fail(t.at("signs"), "no signs: want what a technician looks for")
		}
	}
	return byID(c, trail{"pests"}, "id", pests, func(p Pest) PestID { return p.ID })
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
	place := func(id StageID) int {
		return slices.IndexFunc(pest.Stages, func(s Stage) bool { return s.ID == id })
	}
	for i, span := range pest.Spans {
		t := t.at(i)
		from, to := place(span.From), place(span.To)
		if from < 0 {
			c.fail(t.at("from"), "unknown stage %q of %s: want one of %s", span.From, pest.ID, oneOf(stageIDs(pest)))
		}
		if to < 0 {
			c.fail(t.at("to"), "unknown stage %q of %s: want one of %s", span.To, pest.ID, oneOf(stageIDs(pest)))
		}
		if from >= 0 && to >= 0 && from >= to {
			c.fail(t, "span from %q to %q: want a later stage to end it", span.From, span.To)
		}
		c.thermal(t.at("thermal"), span.Thermal)
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
