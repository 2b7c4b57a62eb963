package course

import (
	"math"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
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
	phases []phase    // in order of time; the first holds before its day too, the last ever after
	perDay int        // moves a day: more where a stage lasts less than two days
	lays   int        // index of the first step of the laying stage
	missed float64    // share of the brood that applications never meet
	most   float64    // insects that the plants can carry, of all stages; 0 is no bound
	began  civil.Date // of day 0 of every run
	// start is the stable distribution of ages of a brood that grows untreated at the temperatures of day 0, summing to 1;
	// growth is the factor by which such a brood grows in a day, 0 where nothing develops.
	start     []float64
	growth    float64
	net       float64   // egg layers that one newly laid one leaves in the next generation: R0
	stretches []stretch // of stages that are counted together
	of        []int     // by step, the stretch that it is of
	// kills are the phases of the models of what is applied, by the number of the application from 0, where that is not all of one
	// material; one without phases kills nothing, and one beyond them kills as the model's own phases say.
	kills [][]phase
}

// phase is a run of days over which the rates are the same.
type phase struct {
	from  civil.Date
	steps []step
	eggs  float64 // laid by one adult in one move that become living young
}

// on is the phase of a day of a run.
func (m *cohort) on(day int) *phase { return &m.phases[m.index(day)] }

func (m *cohort) index(day int) int {
	i, date := len(m.phases)-1, m.began.AddDays(day)
	for i > 0 && m.phases[i].from > date {
		i--
	}
	return i
}

// from is the model of runs whose day 0 is a date.
func (m cohort) from(began civil.Date) cohort {
	before := m.on(0)
	if m.began = began; m.start == nil || m.on(0) != before {
		m.settle()
	}
	return m
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

// newCohort builds the model for a material over the usual temperatures of a line. Where hand is set, the look before each
// application takes off by hand what it shows: the detection's share of what removal by hand kills.
func newCohort(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, hand *catalogue.Material, over line, at paces) cohort {
	m := cohort{perDay: 1}
	all := make([][]stretch, len(over))
	for i, spell := range over {
		all[i] = at(spell.season.Usual, usual)
	}
	together, least := leastDays(all)
	m.stretches = together
	for i, s := range together {
		for !s.lays && m.perDay < mostPerDay && least[i]*float64(m.perDay) < 2 {
			m.perDay *= 2
		}
	}
	if material.MissedShare != nil {
		m.missed = material.MissedShare.Value
	}
	known := map[float64]phase{} // a summer is as the one before
	for i, spell := range over {
		if i > 0 && spell.season.Usual == over[i-1].season.Usual {
			continue
		}
		if p, ok := known[spell.season.Usual]; ok {
			m.phases = append(m.phases, phase{spell.from, p.steps, p.eggs})
			continue
		}
		p := phase{from: spell.from}
		for j, days := range summed(all[i], together) {
			s := together[j]
			if s.lays {
				m.lays = len(p.steps)
				// Males do not lay and soon die: only the females' part goes on as adults.
				p.eggs = pest.EggsAt(spell.season.Usual) / max(1, days*float64(m.perDay)) * pest.FemaleShare.Value
			}
			s.days = days
			p.steps = append(p.steps, m.subStages(c, pest, material, s, least[j])...)
			for len(known) == 0 && len(m.of) < len(p.steps) { // every phase has the same steps
				m.of = append(m.of, j)
			}
		}
		p.die(m.lays, pest.Survival.Value)
		known[spell.season.Usual] = p
		m.phases = append(m.phases, p)
	}
	if hand != nil && hand.ID != material.ID {
		byHand := newCohort(c, pest, *hand, nil, over, at)
		m = m.beside(byHand, pest.Detection.Value)
	}
	return m
}

// leastDays are the stretches that all lists have, and the fewest days that each takes in any of them.
func leastDays(all [][]stretch) (together []stretch, least []float64) {
	together = all[0]
	for _, others := range all[1:] {
		together = coarser(together, others)
	}
	for _, one := range all {
		for i, days := range summed(one, together) {
			if len(least) <= i {
				least = append(least, days)
			}
			least[i] = min(least[i], days)
		}
	}
	return together, least
}

// beside is the model in which a share of what another material meets is met by it too, on the same days.
func (m cohort) beside(other cohort, share float64) cohort {
	m.phases = slices.Clone(m.phases)
	for i := range m.phases {
		p := &m.phases[i]
		p.steps = slices.Clone(p.steps)
		for j := range p.steps {
			p.steps[j].kill = 1 - (1-p.steps[j].kill)*(1-share*other.phases[i].steps[j].kill)
		}
	}
	return m
}

// hang puts a trap beside the applications, which takes its share of the adults in so many days.
func (m *cohort) hang(c *catalogue.Catalogue, pest catalogue.Pest, trap catalogue.Material, everyDays int) {
	adult := pest.Stages[len(pest.Stages)-1]
	left := math.Pow(1-c.Effect(trap.ID, pest.ID, adult.ID).Kill.Value, 1/float64(max(1, everyDays)*m.perDay))
	m.phases = slices.Clone(m.phases)
	for i := range m.phases {
		steps := slices.Clone(m.phases[i].steps)
		for j := m.lays; j < len(steps); j++ {
			steps[j].move *= left
			steps[j].stay *= left
		}
		m.phases[i].steps = steps
	}
}

// subStages are the steps of a stretch; fewest are the days of the shortest time that it takes on the line, which bounds their number.
func (m *cohort) subStages(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, s stretch, fewest float64) []step {
	// Stages known only together spread no more than they would one by one.
	parts := 1
	if !math.IsInf(fewest, 1) {
		parts = min(mostSubStages*(s.last-s.first+1), max(1, int(math.Floor(fewest*float64(m.perDay)))))
	}
	move := 0.0 // nothing develops: all stay
	if !math.IsInf(s.days, 1) {
		move = min(1, float64(parts)/max(s.days*float64(m.perDay), 1))
	}
	steps := make([]step, parts)
	for part := range parts {
		from, to := float64(part)/float64(parts), float64(part+1)/float64(parts)
		steps[part] = step{move, 1 - move, killShare(c, pest, material, s, from, to)}
	}
	return steps
}

// die takes off at every move of the young what dies without treatment, the same share each, so that the given share of
// the eggs reaches the adult. A sub-stage passes on move s/(1 - stay s) where s is what lives through one move.
func (p *phase) die(lays int, survival float64) {
	low, high := 0.0, 1.0
	for range 50 {
		middle, passed := (low+high)/2, 1.0
		for _, step := range p.steps[:lays] {
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
	for i := range p.steps[:lays] {
		p.steps[i].move *= high
		p.steps[i].stay *= high
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
	p := m.on(0)
	m.growth = 0
	m.start = make([]float64, len(p.steps))
	m.net = p.eggs * p.young(m.lays, 1)
	low := 0.0
	for _, step := range p.steps {
		low = max(low, step.stay)
	}
	low += 1e-9
	if p.eggs*p.young(m.lays, low) < 1 {
		// Nothing develops: all ages alike.
		for i := range m.start {
			m.start[i] = 1 / float64(len(m.start))
		}
		return
	}
	high := low + 1
	for p.eggs*p.young(m.lays, high) > 1 {
		high *= 2
	}
	for range 60 {
		if middle := (low + high) / 2; p.eggs*p.young(m.lays, middle) > 1 {
			low = middle
		} else {
			high = middle
		}
	}
	m.growth = math.Pow(high, float64(m.perDay))
	share := 1.0
	for i, step := range p.steps {
		if i > 0 {
			share *= p.steps[i-1].move / (high - step.stay)
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
func (p *phase) young(lays int, growth float64) float64 {
	share, laying := 1/(growth-p.steps[0].stay), 0.0
	for i, step := range p.steps {
		if i > 0 {
			share *= p.steps[i-1].move / (growth - step.stay)
		}
		if i >= lays {
			laying += share
		}
	}
	return laying
}

// perRound is the factor by which those that applications can meet grow from one application to the next in the long run,
// when one is made every so many days at the temperatures of day 0: 1 or more is a treatment that is outgrown.
func (m *cohort) perRound(lagDays int) float64 {
	brood, next, before := slices.Clone(m.start), make([]float64, len(m.start)), make([]float64, len(m.start))
	p, logs := m.on(0), 0.0
	for round := range mostRounds {
		copy(before, brood)
		p.apply(brood)
		for range lagDays {
			brood, next = m.pass(p, brood, next)
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

// mostRounds is after how many rounds the ages of a treated brood no longer change their shares.
const mostRounds = 200

// apply kills what one application of the model's own material meets.
func (p *phase) apply(brood []float64) {
	for i := range brood {
		brood[i] *= 1 - p.steps[i].kill
	}
}

// killing is the share of each sub-stage that the application of a number in its course kills on a day; none is killed of those
// without a share.
func (m *cohort) killing(n, day int) []step {
	if n >= len(m.kills) {
		return m.on(day).steps
	}
	if by := m.kills[n]; len(by) > 0 {
		return by[m.index(day)].steps
	}
	return nil
}

// pass moves a brood by one day of a phase and returns it and the other slice, whose old content is lost.
func (m *cohort) pass(p *phase, brood, spare []float64) (moved, free []float64) {
	for range m.perDay {
		p.move(m.lays, brood, spare)
		brood, spare = spare, brood
	}
	return brood, spare
}

// move moves a brood by one move into another slice.
func (p *phase) move(lays int, from, to []float64) {
	laying, arrived := 0.0, 0.0
	for i, step := range p.steps {
		to[i] = from[i]*step.stay + arrived
		arrived = from[i] * step.move
		if i >= lays {
			laying += from[i]
		}
	}
	to[0] += laying * p.eggs
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
	b := living{covered: make([]float64, len(m.start)), hidden: make([]float64, len(m.start))}
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
	spare := make([]float64, len(m.start))
	for ; b.day < until; b.day++ {
		p, applied := m.on(b.day), m.applyOn(b, days)
		covered, hidden := total(b.covered), total(b.hidden)
		if applied {
			b.out.covered, b.out.all = covered, covered+hidden
		}
		b.out.insectDays += covered + hidden
		b.covered, spare = m.pass(p, b.covered, spare)
		b.hidden, spare = m.pass(p, b.hidden, spare)
		m.crowd(b.covered, b.hidden)
	}
}

// applyOn lets what is applied by the brood's day happen, and says whether anything was.
func (m *cohort) applyOn(b *living, days []int) (applied bool) {
	for ; b.next < len(days) && days[b.next] <= b.day; b.next++ {
		for i, step := range m.killing(b.next, b.day) {
			b.covered[i] *= 1 - step.kill
		}
		applied = true
	}
	return applied
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
	return m.free(start, m.back(make([]float64, len(m.start)), days, last, 0), plants, most)
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
			for i, step := range m.killing(index, day) {
				gone[i] = step.kill + (1-step.kill)*gone[i]
			}
		}
		if day <= to {
			return gone
		}
		gone, spare = m.lines(gone, spare, day-1)
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

// lines takes the chances of having no descendant from the end of a day back to its begin and returns them and the other slice.
func (m *cohort) lines(gone, spare []float64, day int) (earlier, free []float64) {
	p := m.on(day)
	for range m.perDay {
		childless := math.Exp(-p.eggs * (1 - gone[0]))
		for i, step := range p.steps {
			on := 1.0
			if i+1 < len(p.steps) {
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
