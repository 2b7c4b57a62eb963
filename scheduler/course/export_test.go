package course

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
)

// Model opens the cohort model to the tests of this package.
type Model struct{ cohort cohort }

// ModelOf builds the model at a steady temperature; hand is removal by hand beside each application, nil for none.
func ModelOf(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, hand *catalogue.Material, celsius float64) Model {
	return Model{newCohort(c, pest, material, hand, site.Season{Coldest: celsius, Usual: celsius, Warmest: celsius})}
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

// AgesOf are the propagations that the proof of a material over a season runs, and their lag; clears is false where none
// of the lags of label and practice clears.
func AgesOf(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, leastDays int, season site.Season) (models []Ages, lagDays int, clears bool) {
	t := newTiming(c, pest, material, leastDays, season)
	return t.models, t.lag, t.clears
}

// Longest are the days of the stages at the coldest temperature of a season, each stretch once.
func Longest(pest catalogue.Pest, season site.Season) []float64 {
	var days []float64
	for _, s := range durations(pest, season, longest) {
		days = append(days, s.days)
	}
	return days
}

// LongestSpared are the days of the stretches that a material spares, at the coldest temperature of a season, the laying adult
// left out; apart says that what is reached lies between two of them.
func LongestSpared(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, season site.Season) (days []float64, apart bool) {
	between := false
	for _, s := range durations(pest, season, longest) {
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
