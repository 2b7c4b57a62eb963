package course

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// Model opens the cohort model to the tests of this package.
type Model struct{ cohort cohort }

// ModelOf builds the model at a steady temperature; hand is removal by hand beside each application, nil for none.
func ModelOf(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, hand *catalogue.Material, celsius float64) Model {
	return Model{newCohort(c, pest, material, hand, steadyLine(site.Season{Coldest: celsius, Usual: celsius, Warmest: celsius}), pacing(pest)).from(0)}
}

// With hangs a trap beside the applications.
func (m Model) With(c *catalogue.Catalogue, pest catalogue.Pest, trap catalogue.Material, everyDays int) Model {
	m.cohort.hang(c, pest, trap, everyDays)
	return m
}

// Left is the share of the insects of the first day that lives right after the last application.
func (m Model) Left(days ...int) float64 { return m.cohort.run(1, days, 0).all }

// InsectDays counts insect-days from one insect up to a day.
func (m Model) InsectDays(until int, days ...int) float64 {
	return m.cohort.run(1, days, until).insectDays
}

// Chance is the chance that none of so many insects on so many plants is left.
func (m Model) Chance(start float64, plants int, days ...int) float64 {
	return m.cohort.chance(start, days, plants, 1)
}

// PerRound is the growth from one application to the next.
func (m Model) PerRound(lagDays int) float64 { return m.cohort.perRound(lagDays) }

// PerDay is the growth factor of an untreated brood.
func (m Model) PerDay() float64 { return m.cohort.growth }

// Shares are the stable shares of the sub-stages.
func (m Model) Shares() []float64 { return m.cohort.start }

// ModelOver builds the model over the usual temperatures of a line, of runs that begin on a day.
func ModelOver(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, from civil.Date, spells ...Spell) Model {
	over := line{}
	for _, s := range spells {
		over = append(over, spell{s.From, s.Season})
	}
	return Model{newCohort(c, pest, material, nil, over, pacing(pest)).from(from)}
}

func pacing(pest catalogue.Pest) paces {
	return func(celsius float64, p purpose) []stretch { return durations(pest, celsius, p) }
}

// Spell is a run of days from a day on at the temperatures of a season.
type Spell struct {
	From   civil.Date
	Season site.Season
}

// Descent is one propagation of a proof over a time line.
type Descent struct{ life *life }

// Clears says whether nothing is left right after the last of the applications on some days, when all ages are present at the
// first.
func (l Descent) Clears(days ...civil.Date) bool { return l.run(days).empty() }

// Ages are its stages at the first spell of the line.
func (l Descent) Ages() Ages { return l.life.stages }

func (l Descent) run(days []civil.Date) *brood {
	var times []float64
	for _, day := range days {
		times = append(times, float64(day))
	}
	return newBrood(l.life, times)
}

// Left are the days between which the eggs of what lives after the last of the applications were laid.
func (l Descent) Left(days ...civil.Date) [][2]float64 {
	var left [][2]float64
	for _, span := range l.run(days).born {
		left = append(left, [2]float64{span.from, span.to})
	}
	return left
}

// LivesOf are the propagations that the proof of a material over a line runs when its first application is on a day and the
// line is wanted to another, and the lag after the first; clears is false where none of the lags of label and practice clears.
func LivesOf(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, leastDays int, from, covers civil.Date, spells ...Spell) (models []Descent, lagDays int, clears bool) {
	over := line{}
	for _, s := range spells {
		over = append(over, spell{s.From, s.Season})
	}
	at := pacing(pest)
	t := newTiming(question{
		catalogue: c, pest: pest, material: material, leastDays: leastDays, over: over, from: from, covers: covers, lived: from, today: from,
		at: at, usual: func() cohort { return newCohort(c, pest, material, nil, over, at).from(from) },
	})
	for _, model := range t.models {
		models = append(models, Descent{model})
	}
	return models, t.lagAfter(from), t.clears
}

// Longest are the days of the stages at the coldest temperature of a season, each stretch once.
func Longest(pest catalogue.Pest, season site.Season) []float64 {
	var days []float64
	for _, s := range durations(pest, season.Coldest, longest) {
		days = append(days, s.days)
	}
	return days
}

// LongestSpared are the days of the stretches that a material spares, at the coldest temperature of a season, the laying adult
// left out; apart says that what is reached lies between two of them.
func LongestSpared(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, season site.Season) (days []float64, apart bool) {
	between := false
	for _, s := range durations(pest, season.Coldest, longest) {
		reach, _ := reachOf(c, material.ID, pest, s)
		switch {
		case s.lays:
		case reach == catalogue.Spared:
			days, apart = append(days, s.days), apart || between
		case len(days) > 0:
			between = true
		}
	}
	return days, apart
}
