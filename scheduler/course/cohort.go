package course

import (
	"math"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
)

// cohort is the model of a brood in numbers: expected insects by stage and sub-stage, moved in daily steps.
//
// Each day an application kills by its share, then every insect moves on at the rate of its stage, dies of
// what kills it without treatment, and adults lay. Sub-stages spread the development: the time in a stage
// has the stage's mean and less than its spread. What coverage misses sits together in hidden places and is
// missed again by the next application of that kind: a part of the brood that lives as if untreated.
//
// It is a model from laboratory figures with assumed shares: an estimate, to compare one day with another.
type cohort struct {
	steps  []step
	lays   int     // index of the first step of the laying stage
	eggs   float64 // laid by one female a day that become living young
	missed float64 // share of the brood that applications never meet
	most   float64 // insects that the plants can carry, of all stages; 0 is no bound
	// start is the stable distribution of ages of a brood that grows untreated, summing to 1.
	start []float64
}

// step is a sub-stage.
type step struct {
	move, stay float64 // shares that go on and that remain on one day, the dying taken off
	kill       float64 // by one application
}

const (
	mostSubStages = 8   // of a stage: a spread of about a third of its mean
	growingDays   = 150 // after which the ages of an untreated brood no longer change their shares
)

// newCohort builds the model for a material at the usual temperature of a season. Where hand is set, the look before
// each application takes off by hand what it shows: the detection's share of what removal by hand kills.
func newCohort(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, hand *catalogue.Material, season site.Season) cohort {
	all := durations(pest, season, usual)
	young := 0.0
	for _, s := range all {
		if !s.lays {
			young += s.days
		}
	}
	dailySurvival := 1.0
	if young > 0 && pest.Survival.Value > 0 {
		dailySurvival = math.Pow(pest.Survival.Value, 1/young)
	}
	m := cohort{}
	if material.MissedShare != nil {
		m.missed = material.MissedShare.Value
	}
	for _, s := range all {
		if s.lays {
			m.lays = len(m.steps)
			// Males do not lay and soon die: only the females' part goes on as adults.
			m.eggs = pest.EggsPerFemale.Middle() / max(1, s.days) * pest.FemaleShare.Value
		}
		m.addStage(c, pest, material, s, dailySurvival)
	}
	if hand != nil && hand.ID != material.ID {
		byHand := newCohort(c, pest, *hand, nil, season)
		for i, other := range byHand.steps {
			m.steps[i].kill = 1 - (1-m.steps[i].kill)*(1-pest.Detection.Value*other.kill)
		}
	}
	m.settle()
	return m
}

func (m *cohort) addStage(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, s stretch, survival float64) {
	if math.IsInf(s.days, 1) {
		// Nothing develops: all stay.
		m.steps = append(m.steps, step{0, 1, killShare(c, pest, material, s, 0, 1)})
		return
	}
	parts := min(mostSubStages, max(1, int(math.Floor(s.days))))
	move := min(1, float64(parts)/max(s.days, 1))
	if s.lays {
		survival = 1
	}
	for part := range parts {
		from, to := float64(part)/float64(parts), float64(part+1)/float64(parts)
		m.steps = append(m.steps, step{move * survival, (1 - move) * survival, killShare(c, pest, material, s, from, to)})
	}
}

// killShare is the share killed in a part of a stretch: the mean over its stages, narrowed to the first days where the
// material meets only those.
func killShare(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, s stretch, from, to float64) float64 {
	sum := 0.0
	for i := s.first; i <= s.last; i++ {
		effect := c.Effect(material.ID, pest.ID, pest.Stages[i].ID)
		met := 1.0
		if effect.UpToDays > 0 && effect.UpToDays < s.days {
			until := effect.UpToDays / s.days
			met = min(1, max(0, (until-from)/(to-from)))
		}
		sum += effect.Kill.Value * met
	}
	return sum / float64(s.last-s.first+1)
}

// settle finds the stable distribution by letting an untreated brood grow.
func (m *cohort) settle() {
	m.start = make([]float64, len(m.steps))
	for i := range m.start {
		m.start[i] = 1 / float64(len(m.start))
	}
	next := make([]float64, len(m.start))
	for range growingDays {
		m.day(m.start, next)
		sum := total(next)
		for i := range next {
			m.start[i] = next[i] / sum
		}
	}
}

// day moves a brood by one day into another slice.
func (m *cohort) day(from, to []float64) {
	laying := 0.0
	for i := range to {
		to[i] = from[i] * m.steps[i].stay
		if i > 0 {
			moved := from[i-1] * m.steps[i-1].move
			to[i] += moved
		}
		if i >= m.lays {
			laying += from[i]
		}
	}
	to[0] += laying * m.eggs
}

// outcome is what a sequence is expected to leave.
type outcome struct {
	covered    float64 // insects left that applications can meet, right after the last
	all        float64 // those that were never met too
	insectDays float64
}

// run starts with so many insects of all ages on day 0, applies on the given days (rising, from 0 on)
// and stops right after the last. until counts insect-days on to a later day, so that sequences of
// different length can be compared; it is ignored when it comes before the last application.
func (m *cohort) run(start float64, days []int, until int) outcome {
	covered, hidden := make([]float64, len(m.steps)), make([]float64, len(m.steps))
	next := make([]float64, len(m.steps))
	for i, share := range m.start {
		covered[i], hidden[i] = start*(1-m.missed)*share, start*m.missed*share
	}
	var out outcome
	index, last := 0, -1
	if len(days) > 0 {
		last = days[len(days)-1]
	}
	for day := 0; day <= max(last, until); day++ {
		for ; index < len(days) && days[index] == day; index++ {
			for i := range covered {
				covered[i] *= 1 - m.steps[i].kill
			}
		}
		if day == last {
			out.covered = total(covered)
			out.all = out.covered + total(hidden)
		}
		out.insectDays += total(covered) + total(hidden)
		m.day(covered, next)
		covered, next = next, covered
		m.day(hidden, next)
		hidden, next = next, hidden
		m.crowd(covered, hidden)
	}
	if last < 0 {
		out.covered, out.all = total(covered), total(covered)+total(hidden)
	}
	return out
}

// crowd holds the brood to what its plants can carry: beyond it as many die as are born.
func (m *cohort) crowd(covered, hidden []float64) {
	sum := total(covered) + total(hidden)
	if m.most <= 0 || sum <= m.most {
		return
	}
	for i := range covered {
		covered[i] *= m.most / sum
		hidden[i] *= m.most / sum
	}
}

// chance is the chance that none is left right after the last application: that coverage missed nothing on any of the
// plants, times the chance that the lines of descent of all covered insects have died out. The latter is
// exact for the model as a branching process, by the generating function of each sub-stage taken backwards
// day by day (Harris 1963, The Theory of Branching Processes; cited from memory). It is at most the policy's greatest.
func (m *cohort) chance(start float64, days []int, plants int, most float64) float64 {
	if len(days) == 0 {
		return 0
	}
	// gone[i] is the chance that an insect of sub-stage i has no living descendant at the end, itself included.
	gone, before := make([]float64, len(m.steps)), make([]float64, len(m.steps))
	index := len(days) - 1
	for day := days[index]; day >= 0; day-- {
		for ; index >= 0 && days[index] == day; index-- {
			for i := range gone {
				gone[i] = m.steps[i].kill + (1-m.steps[i].kill)*gone[i]
			}
		}
		if day == 0 {
			break
		}
		childless := math.Exp(-m.eggs * (1 - gone[0]))
		for i, step := range m.steps {
			on := 1.0
			if i+1 < len(m.steps) {
				on = gone[i+1]
			}
			before[i] = 1 - step.stay - step.move + step.stay*gone[i] + step.move*on
			if i >= m.lays {
				before[i] *= childless
			}
		}
		gone, before = before, gone
	}
	left := 0.0
	for i, share := range m.start {
		left += start * (1 - m.missed) * share * (1 - gone[i])
	}
	return min(most, math.Pow(1-m.missed, float64(plants))*math.Exp(-left))
}

func total(all []float64) float64 {
	sum := 0.0
	for _, x := range all {
		sum += x
	}
	return sum
}
