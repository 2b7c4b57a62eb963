package course

import (
	"math"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
)

// cohort is the model of a brood in numbers: expected insects by stage and sub-stage, moved in steps of a day or less.
//
// An application kills by its share; then every insect moves on at the rate of its stage, dies of
// what kills it without treatment, and adults lay. Sub-stages spread the development: the time in a stage
// has the stage's mean and less than its spread. What coverage misses sits together in hidden places and is
// missed again by the next application of that kind: a part of the brood that lives as if untreated.
//
// It is a model from laboratory figures with assumed shares: an estimate, to compare one day with another.
type cohort struct {
	steps  []step
	perDay int     // moves a day: more where a stage lasts less than two days
	lays   int     // index of the first step of the laying stage
	eggs   float64 // laid by one adult in one move that become living young
	missed float64 // share of the brood that applications never meet
	most   float64 // insects that the plants can carry, of all stages; 0 is no bound
	// start is the stable distribution of ages of a brood that grows untreated, summing to 1; growth is the factor by which
	// such a brood grows in a day, 0 where nothing develops.
	start  []float64
	growth float64
	net    float64 // egg layers that one newly laid one leaves in the next generation: R0
	// kills are the shares of each sub-stage that the applications of a course kill, by the number of the application from 0,
	// where they are not all of one material; an application beyond them kills as the steps say.
	kills [][]float64
}

// step is a sub-stage.
type step struct {
	move, stay float64 // shares that go on and that remain at one move, the dying taken off
	kill       float64 // by one application
}

const (
	mostSubStages = 8 // of a stage: a spread of about a third of its mean
	mostPerDay    = 4
)

// newCohort builds the model for a material at the usual temperature of a season. Where hand is set, the look before
// each application takes off by hand what it shows: the detection's share of what removal by hand kills.
func newCohort(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, hand *catalogue.Material, season site.Season) cohort {
	all := durations(pest, season, usual)
	m := cohort{perDay: 1}
	for _, s := range all {
		if s.lays {
			continue
		}
		for m.perDay < mostPerDay && s.days*float64(m.perDay) < 2 {
			m.perDay *= 2
		}
	}
	if material.MissedShare != nil {
		m.missed = material.MissedShare.Value
	}
	for _, s := range all {
		if s.lays {
			m.lays = len(m.steps)
			// Males do not lay and soon die: only the females' part goes on as adults.
			m.eggs = pest.EggsPerFemale.Middle() / max(1, s.days*float64(m.perDay)) * pest.FemaleShare.Value
		}
		m.addStage(c, pest, material, s)
	}
	m.die(pest.Survival.Value)
	if hand != nil && hand.ID != material.ID {
		byHand := newCohort(c, pest, *hand, nil, season)
		for i, other := range byHand.steps {
			m.steps[i].kill = 1 - (1-m.steps[i].kill)*(1-pest.Detection.Value*other.kill)
		}
	}
	m.settle()
	return m
}

// hang puts a trap beside the applications, which takes its share of the adults in so many days.
func (m *cohort) hang(c *catalogue.Catalogue, pest catalogue.Pest, trap catalogue.Material, everyDays int) {
	m.steps = slices.Clone(m.steps)
	adult := pest.Stages[len(pest.Stages)-1]
	left := math.Pow(1-c.Effect(trap.ID, pest.ID, adult.ID).Kill.Value, 1/float64(max(1, everyDays)*m.perDay))
	for i := m.lays; i < len(m.steps); i++ {
		m.steps[i].move *= left
		m.steps[i].stay *= left
	}
}

func (m *cohort) addStage(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, s stretch) {
	if math.IsInf(s.days, 1) {
		// Nothing develops: all stay.
		m.steps = append(m.steps, step{0, 1, killShare(c, pest, material, s, 0, 1)})
		return
	}
	moves := s.days * float64(m.perDay)
	// Stages known only together spread no more than they would one by one.
	parts := min(mostSubStages*(s.last-s.first+1), max(1, int(math.Floor(moves))))
	move := min(1, float64(parts)/max(moves, 1))
	for part := range parts {
		from, to := float64(part)/float64(parts), float64(part+1)/float64(parts)
		m.steps = append(m.steps, step{move, 1 - move, killShare(c, pest, material, s, from, to)})
	}
}

// die takes off at every move of the young what dies without treatment, the same share each, so that the given share of
// the eggs reaches the adult. A sub-stage passes on move s/(1 - stay s) where s is what lives through one move.
func (m *cohort) die(survival float64) {
	low, high := 0.0, 1.0
	for range 50 {
		middle, passed := (low+high)/2, 1.0
		for _, step := range m.steps[:m.lays] {
			if step.move > 0 {
				passed *= step.move * middle / (1 - step.stay*middle)
			}
		}
		if passed < survival {
			low = middle
		} else {
			high = middle
		}
	}
	if survival <= 0 {
		high = 1 // not known
	}
	for i := range m.steps[:m.lays] {
		m.steps[i].move *= high
		m.steps[i].stay *= high
	}
}

// killShare is the share killed in a part of a stretch, from one fraction of it to another. Stages known only together are
// taken as of one length; of a stage whose first days alone are met the rest is spared.
func killShare(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, s stretch, from, to float64) float64 {
	stages, sum := float64(s.last-s.first+1), 0.0
	for i := s.first; i <= s.last; i++ {
		effect := c.Effect(material.ID, pest.ID, pest.Stages[i].ID)
		begins := float64(i-s.first) / stages
		ends := begins + 1/stages
		if effect.UpToDays > 0 && !math.IsInf(s.days, 1) {
			ends = min(ends, begins+effect.UpToDays/s.days)
		}
		sum += effect.Kill.Value * max(0, min(to, ends)-max(from, begins))
	}
	return sum / (to - from)
}

// settle finds how an untreated brood grows and the ages that it then has. The growth of a move is the root of the
// characteristic equation of the sub-stages, which follow one another: eggs of one adult in one move, times what passes
// from the egg to each laying sub-stage, equals one (the discrete form of Euler's and Lotka's equation).
func (m *cohort) settle() {
	m.start = make([]float64, len(m.steps))
	m.net = m.eggs * m.young(1)
	low := 0.0
	for _, step := range m.steps {
		low = max(low, step.stay)
	}
	low += 1e-9
	if m.eggs*m.young(low) < 1 {
		// Nothing develops: all ages alike.
		for i := range m.start {
			m.start[i] = 1 / float64(len(m.start))
		}
		return
	}
	high := low + 1
	for m.eggs*m.young(high) > 1 {
		high *= 2
	}
	for range 60 {
		if middle := (low + high) / 2; m.eggs*m.young(middle) > 1 {
			low = middle
		} else {
			high = middle
		}
	}
	m.growth = math.Pow(high, float64(m.perDay))
	share := 1.0
	for i, step := range m.steps {
		if i > 0 {
			share *= m.steps[i-1].move / (high - step.stay)
		}
		m.start[i] = share
	}
	sum := total(m.start)
	for i := range m.start {
		m.start[i] /= sum
	}
}

// young is the number of laying adults of all ages for one egg in a brood that grows by a factor a move; at 1 the moves that
// one egg is expected to live as a laying adult.
func (m *cohort) young(growth float64) float64 {
	share, laying := 1/(growth-m.steps[0].stay), 0.0
	for i, step := range m.steps {
		if i > 0 {
			share *= m.steps[i-1].move / (growth - step.stay)
		}
		if i >= m.lays {
			laying += share
		}
	}
	return laying
}

// perRound is the factor by which those that applications can meet grow from one application to the next in the long run,
// when one is made every so many days: 1 or more is a treatment that is outgrown.
func (m *cohort) perRound(lagDays int) float64 {
	brood, next, before := slices.Clone(m.start), make([]float64, len(m.start)), make([]float64, len(m.start))
	logs := 0.0
	for round := range mostRounds {
		copy(before, brood)
		m.apply(brood)
		for range lagDays {
			brood, next = m.day(brood, next)
		}
		factor := total(brood)
		if factor <= 0 {
			return 0
		}
		moved := 0.0
		for i := range brood {
			brood[i] /= factor
			moved += math.Abs(brood[i] - before[i])
		}
		if moved < 1e-6 {
			return factor
		}
		if round >= mostRounds/2 {
			logs += math.Log(factor)
		}
	}
	// Ages that still swing from round to round: the mean growth of the later ones.
	return math.Exp(logs / (mostRounds / 2))
}

// left is the share of those that applications can meet which lives right after the last of so many, made at a lag.
func (m *cohort) left(applications, lagDays int) float64 {
	days := make([]int, applications)
	for i := range days {
		days[i] = i * lagDays
	}
	return m.run(1, days, 0).covered
}

// mostRounds is after how many rounds the ages of a treated brood no longer change their shares.
const mostRounds = 200

// apply kills what one application of the model's own material meets.
func (m *cohort) apply(brood []float64) {
	for i := range brood {
		brood[i] *= 1 - m.steps[i].kill
	}
}

// applyNth kills what the application of a number in its course meets.
func (m *cohort) applyNth(brood []float64, n int) {
	for i := range brood {
		brood[i] *= 1 - m.killOf(n, i)
	}
}

// killOf is the share of a sub-stage that the application of a number in its course kills.
func (m *cohort) killOf(n, step int) float64 {
	if n < len(m.kills) {
		return m.kills[n][step]
	}
	return m.steps[step].kill
}

// killing are the shares of all sub-stages that one application of the model's own material kills.
func (m *cohort) killing() []float64 {
	shares := make([]float64, len(m.steps))
	for i, step := range m.steps {
		shares[i] = step.kill
	}
	return shares
}

// day moves a brood by one day and returns it and the other slice, whose old content is lost.
func (m *cohort) day(brood, spare []float64) (moved, free []float64) {
	for range m.perDay {
		m.move(brood, spare)
		brood, spare = spare, brood
	}
	return brood, spare
}

// move moves a brood by one move into another slice.
func (m *cohort) move(from, to []float64) {
	laying, arrived := 0.0, 0.0
	for i, step := range m.steps {
		to[i] = from[i]*step.stay + arrived
		arrived = from[i] * step.move
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

// living is a brood on a day, before what is applied on it.
type living struct {
	covered, hidden []float64 // by sub-stage: met by applications, and never met
	day, next       int       // the next application is the next-th of the days
	out             outcome
}

// begin is a brood of so many insects of all ages on day 0.
func (m *cohort) begin(start float64) living {
	b := living{covered: make([]float64, len(m.steps)), hidden: make([]float64, len(m.steps))}
	for i, share := range m.start {
		b.covered[i], b.hidden[i] = start*(1-m.missed)*share, start*m.missed*share
	}
	b.out.covered, b.out.all = total(b.covered), total(b.covered)+total(b.hidden)
	return b
}

// clone is a brood of its own in the same state.
func (b living) clone() living {
	b.covered, b.hidden = slices.Clone(b.covered), slices.Clone(b.hidden)
	return b
}

// run starts with so many insects of all ages on day 0, applies on the given days (rising, from 0 on)
// and stops right after the last. until counts insect-days on to a later day, so that sequences of
// different length can be compared; it is ignored when it comes before the last application.
func (m *cohort) run(start float64, days []int, until int) outcome {
	b := m.begin(start)
	if len(days) > 0 {
		until = max(until, days[len(days)-1])
	}
	m.live(&b, days, until+1)
	return b.out
}

// live lets a brood live, and what is applied happen, until a day begins.
func (m *cohort) live(b *living, days []int, until int) {
	spare := make([]float64, len(m.steps))
	for ; b.day < until; b.day++ {
		applied := false
		for ; b.next < len(days) && days[b.next] <= b.day; b.next++ {
			m.applyNth(b.covered, b.next)
			applied = true
		}
		covered, hidden := total(b.covered), total(b.hidden)
		if applied {
			b.out.covered, b.out.all = covered, covered+hidden
		}
		b.out.insectDays += covered + hidden
		b.covered, spare = m.day(b.covered, spare)
		b.hidden, spare = m.day(b.hidden, spare)
		m.crowd(b.covered, b.hidden)
	}
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
	last := days[len(days)-1]
	return m.free(start, m.back(make([]float64, len(m.steps)), days, last, 0), plants, most)
}

// back takes the chances of having no living descendant at the end, one for each sub-stage with the insect itself included, from
// a day to an earlier one, both of whose applications it takes in, of all those of a course. The given slice is used up.
func (m *cohort) back(gone []float64, days []int, from, to int) []float64 {
	spare, index := make([]float64, len(gone)), len(days)-1
	for index >= 0 && days[index] > from {
		index-- // later ones are in it already
	}
	for day := from; ; day-- {
		for ; index >= 0 && days[index] >= day; index-- {
			for i := range gone {
				kill := m.killOf(index, i)
				gone[i] = kill + (1-kill)*gone[i]
			}
		}
		if day <= to {
			return gone
		}
		gone, spare = m.lines(gone, spare)
	}
}

// free is the chance that none of so many insects of all ages is left, when each has these chances of having no descendant.
func (m *cohort) free(start float64, gone []float64, plants int, most float64) float64 {
	left := 0.0
	for i, share := range m.start {
		left += start * (1 - m.missed) * share * (1 - gone[i])
	}
	return min(most, math.Pow(1-m.missed, float64(plants))*math.Exp(-left))
}

// lines takes the chances of having no descendant one day back and returns them and the other slice.
func (m *cohort) lines(gone, spare []float64) (earlier, free []float64) {
	for range m.perDay {
		childless := math.Exp(-m.eggs * (1 - gone[0]))
		for i, step := range m.steps {
			on := 1.0
			if i+1 < len(m.steps) {
				on = gone[i+1]
			}
			spare[i] = 1 - step.stay - step.move + step.stay*gone[i] + step.move*on
			if i >= m.lays {
				spare[i] *= childless
			}
		}
		gone, spare = spare, gone
	}
	return gone, spare
}

func total(all []float64) float64 {
	sum := 0.0
	for _, x := range all {
		sum += x
	}
	return sum
}
