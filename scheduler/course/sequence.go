package course

import (
	"math"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// sequence is the run of applications that stands today: what was really made of it and what it still needs.
type sequence struct {
	timing   timing
	material catalogue.MaterialID
	plants   []site.Plant // of one area, last treated on the same day
	run      int
	since    civil.Date // items done from this day on count for the run; unset is from the beginning
	rounds   []round
	// needed applications are planned, the first ideally on the day that plan was asked for.
	needed  int
	planned []planned
	lastOn  civil.Date // of the whole run when followed on its ideal days
	beganOn civil.Date // of the first, made or expected
	expired bool       // the run before it ended because its last item stood no longer
	// capped says why no application may follow the planned ones though they do not clear; "" where the row ends of itself.
	capped string
	left   []*brood // right after the last where it is capped
	lags   lags     // from the last round to the next application
	// models are the durations by which the proof counts, met what an application of a material meets in each of them.
	models []Ages
	met    map[catalogue.MaterialID][][]AgeSpan
	c      *catalogue.Catalogue
	pest   catalogue.Pest
}

// round is one day of application.
type round struct {
	on       civil.Date
	plants   []site.PlantID
	product  catalogue.ProductID
	used     catalogue.MaterialID
	material catalogue.MaterialID // by which the proof counts it; "" where it does not
}

// planned is one application that is still needed.
type planned struct {
	on   civil.Date
	by   *candidate
	lags lags   // from the application before it; unset for the first of the sequence
	why  string // it is of another product than the one before; "" where that goes on
}

// lags are days from the beginning of one application to that of the next.
type lags struct{ least, ideal, latest, stands int }

// last returns the day of the last round; ok is false before the first.
func (q *sequence) last() (civil.Date, bool) {
	if len(q.rounds) == 0 {
		return 0, false
	}
	return q.rounds[len(q.rounds)-1].on, true
}

// sequences are those of a material on the candidate's plants: one for all plants of an area that were last treated on the
// same day, since they are due together. Plants without an application yet are of the newest run.
func (s *story) sequences(p *candidate) []*sequence {
	var all []*sequence
	newest := &sequence{run: 1 + s.mistaken, since: s.since}
	for _, plant := range p.plants {
		one := newSequence(s, p, plant)
		at := slices.IndexFunc(all, func(q *sequence) bool { return q.goesWith(one) })
		if at < 0 {
			all = append(all, one)
		} else {
			all[at].join(one)
		}
		if one.run > newest.run {
			newest = one
		}
	}
	for _, q := range all {
		if len(q.rounds) == 0 {
			q.run, q.since = newest.run, newest.since
		}
		if len(q.plants) > 1 {
			q.settle(s, p)
		}
	}
	return all
}

// newSequence replays the applications to a plant that meet the pest. A run ends when its next item stood no
// longer, and its number rises then or when the pest turned out to be another. What only covers a slow systemic is no
// round of the systemic's own.
func newSequence(s *story, p *candidate, plant site.Plant) *sequence {
	q := &sequence{
		timing: p.timing, material: p.material.ID, plants: []site.Plant{plant}, run: 1 + s.mistaken, since: s.since,
		c: s.in.Catalogue, pest: s.pest, met: map[catalogue.MaterialID][][]AgeSpan{}, models: p.timing.models,
	}
	for _, m := range s.made {
		used, known := s.in.Catalogue.Materials[m.material]
		if known && meets(used, s.pest.ID) && slices.Contains(m.plants, plant.ID) && (!isSlow(p.material) || isSlow(used)) {
			q.take(s, m, plant.ID)
		}
	}
	q.settle(s, p)
	if last, ok := q.last(); ok && s.today() > last.AddDays(q.lags.stands) && !q.finished(s) {
		q.renew(last.AddDays(q.lags.stands + 1))
	}
	return q
}

// settle takes what follows from all rounds: the durations by which they are proved and the lags to a candidate's next application.
func (q *sequence) settle(s *story, p *candidate) {
	q.countBy(s.usedIn(q))
	if last, ok := q.last(); ok {
		q.lags = s.lagsFrom(q, s.made, last, q.rounds[len(q.rounds)-1].used, p, q.broods())
	}
}

// take adds a round, or begins a new run with it where it came too late: by the material of the round before, which was
// to be repeated.
func (q *sequence) take(s *story, m made, plant site.PlantID) {
	last, ok := q.last()
	switch {
	case ok && m.on == last:
		return
	case ok && !s.follows(q, m):
		q.renew(m.on)
	}
	q.rounds = append(q.rounds, round{m.on, []site.PlantID{plant}, m.product, m.material, m.counts(plant)})
}

// goesWith says whether plants are due together with others.
func (q *sequence) goesWith(other *sequence) bool {
	mine, going := q.last()
	theirs, alsoGoing := other.last()
	return q.plants[0].Area == other.plants[0].Area && q.run == other.run && q.expired == other.expired && going == alsoGoing && mine == theirs
}

// join adds the plants of another sequence and the days on which they were treated.
func (q *sequence) join(other *sequence) {
	q.plants = append(q.plants, other.plants...)
	for _, r := range other.rounds {
		at := slices.IndexFunc(q.rounds, func(x round) bool { return x.on == r.on && x.material == r.material })
		if at < 0 {
			q.rounds = append(q.rounds, r)
			continue
		}
		q.rounds[at].plants = append(q.rounds[at].plants, r.plants...)
	}
	slices.SortStableFunc(q.rounds, func(x, y round) int { return int(x.on - y.on) })
}

func (q *sequence) renew(since civil.Date) {
	q.run, q.since, q.rounds, q.expired, q.lags = q.run+1, since, nil, true, lags{}
}

// histories are the rounds of the plants, each different one once.
func (q *sequence) histories() [][]round {
	var all [][]round
	same := func(x, y round) bool { return x.on == y.on && x.material == y.material }
	for _, plant := range q.plants {
		var own []round
		for _, r := range q.rounds {
			if slices.Contains(r.plants, plant.ID) {
				own = append(own, r)
			}
		}
		if !slices.ContainsFunc(all, func(x []round) bool { return slices.EqualFunc(x, own, same) }) {
			all = append(all, own)
		}
	}
	return all
}

// broods are what lives after the rounds made, for each model and each different history of plants. A plant
// that no round met yet has all ages.
func (q *sequence) broods() []*brood {
	if len(q.rounds) == 0 {
		return nil
	}
	last, _ := q.last()
	var all []*brood
	for _, rounds := range q.histories() {
		for k := range q.models {
			all = append(all, q.replay(k, rounds, last))
		}
	}
	return all
}

// replay is the brood of a model after some rounds, on a later day: all ages from the first round on that the proof counts.
// Days count from the first round of the sequence.
func (q *sequence) replay(k int, rounds []round, until civil.Date) *brood {
	b := q.allAges(k, float64(until.DaysSince(q.rounds[0].on)))
	counted := false
	for _, r := range rounds {
		met := q.meeting(r.material)
		if met == nil {
			continue
		}
		day := float64(r.on.DaysSince(q.rounds[0].on))
		if !counted {
			b, counted = q.allAges(k, day), true
		}
		b.met = met[k]
		b.apply(day)
	}
	b.pass(float64(until.DaysSince(q.rounds[0].on)))
	b.met = q.metOf(q.material, k)
	return b
}

// allAges is a brood of all ages of a model on a day, which the sequence's own material meets next.
func (q *sequence) allAges(k int, day float64) *brood {
	total := q.models[k].total()
	return &brood{ages: q.models[k], met: q.metOf(q.material, k), total: total, at: day, born: []birth{{day - total, day}}}
}

// metOf is what an application of a material meets in a model, nothing where the proof does not count it.
func (q *sequence) metOf(material catalogue.MaterialID, k int) []AgeSpan {
	if met := q.meeting(material); met != nil {
		return met[k]
	}
	return nil
}

// meeting is what an application of a material meets in each model. It is nil where the proof does not count the material: it is not
// known, reaches nothing, or never ends the pest whatever its reach on paper.
func (q *sequence) meeting(material catalogue.MaterialID) [][]AgeSpan {
	if met, ok := q.met[material]; ok {
		return met
	}
	var met [][]AgeSpan
	m := q.c.Materials[material]
	if material == q.material || meets(m, q.pest.ID) && !m.Beside && !m.HoldsDownOnly(q.pest.ID) {
		for k, ages := range q.models {
			own := slices.Clone(ages)
			for i, stretch := range q.stretches(k) {
				own[i].Reach, own[i].UpToDays = reachOf(q.c, material, q.pest, stretch)
			}
			met = append(met, own.met())
		}
	}
	q.met[material] = met
	return met
}

// stretches are the stages of a model: those at the coldest for the first, at the warmest for the others.
func (q *sequence) stretches(k int) []stretch {
	if k == 0 {
		return q.timing.cold
	}
	return q.timing.warm
}

// countBy takes the durations by which a sequence of some materials is proved: in the model that mixes the warmest with what is
// spared at its longest, a stage is spared that any of them spares.
func (q *sequence) countBy(materials []catalogue.MaterialID) {
	if len(q.timing.models) == 0 {
		return
	}
	warm := slices.Clone(q.timing.models[1])
	for _, material := range materials {
		for i, stretch := range q.timing.warm {
			if reach, _ := reachOf(q.c, material, q.pest, stretch); reach == catalogue.Spared {
				warm[i].Reach = catalogue.Spared
			}
		}
	}
	q.models = slices.Clone(q.timing.models)
	q.models[2] = q.timing.mixed(warm, q.timing.models[0])
	clear(q.met)
}

// finished says whether the run needs no application more.
func (q *sequence) finished(s *story) bool {
	last, ok := q.last()
	if !ok || q.owed(s) > last {
		return false
	}
	return q.timing.holds || allEmpty(q.broods())
}

// owed is the day on or after which the last application has to lie, whatever the proof says: the last living find
// and the longest time to hatching; for holding down from what the applications miss as well.
func (q *sequence) owed(s *story) civil.Date {
	if q.timing.stop != "" && math.IsInf(q.timing.longestEgg, 1) {
		return s.today()
	}
	var owed civil.Date
	if !s.lastLiving.IsZero() {
		owed = s.hatchedBy(s.lastLiving, q.timing.longestEgg)
	}
	if q.timing.holds && !q.cardsEmpty(s) {
		began := s.today()
		if len(q.rounds) > 0 {
			began = q.rounds[0].on
		}
		if !math.IsInf(q.timing.longestMissed, 1) {
			owed = max(owed, began.AddDays(int(math.Ceil(q.timing.longestMissed))))
		}
	}
	return owed
}

// cardsEmpty says whether cards were read after the last living find and had caught nothing: then the last
// adult is known and the end counts from her.
func (q *sequence) cardsEmpty(s *story) bool {
	return slices.ContainsFunc(s.looks, func(l look) bool {
		return l.cards != nil && *l.cards == 0 && l.on > s.lastLiving && len(q.rounds) > 0 && l.on > q.rounds[0].on
	})
}

// planTurns plans a sequence again with its turns to other products: what is planned is what is proved, by the durations of all
// that it uses. Where a turn that only rotation asks for would never clear, the product goes on.
func (q *sequence) planTurns(s *story, p *candidate, others []*candidate) {
	if q.needed == 0 {
		return
	}
	next, ring := q.planned[0].on, append([]*candidate{p}, others...)
	for range ring {
		q.plan(s, p, ring, next)
		before := q.models
		q.countBy(s.usedIn(q))
		if slices.EqualFunc(before, q.models, func(x, y Ages) bool { return slices.Equal(x, y) }) {
			break
		}
	}
	if q.needed == mostApplications && p.timing.clears && len(q.turns()) > 0 {
		q.plan(s, p, ring[:1], next)
	}
}

// plan counts what is still needed when the next application is made on a day, and by what: a candidate as long as its label's
// caps and the rotation of its group let it, then the first of the ring that may take its turn; the ring begins with the
// candidate. Without a ring it counts what the candidate alone would need, whatever bars it.
func (q *sequence) plan(s *story, p *candidate, ring []*candidate, next civil.Date) {
	q.needed, q.planned, q.capped, q.left, q.beganOn = 0, nil, "", nil, next
	if len(q.rounds) > 0 {
		q.beganOn = q.rounds[0].on
	}
	if last, ok := q.last(); ok {
		q.lastOn = last
		if q.finished(s) {
			return
		}
	}
	owed := q.owed(s)
	if len(q.rounds) == 0 && q.timing.holds {
		owed = max(owed, next.AddDays(int(math.Ceil(min(q.timing.longestMissed, float64(mostApplications))))))
	}
	broods, uses := q.proofBroods(), slices.Clone(s.made)
	for one := (planned{on: next, by: p}); q.needed < mostApplications; {
		for i, b := range broods {
			b.met = q.metOf(one.by.material.ID, i%len(q.models))
			b.apply(float64(one.on.DaysSince(q.beganOn)))
		}
		q.planned, q.needed, q.lastOn = append(q.planned, one), q.needed+1, one.on
		uses = append(uses, one.use(q.plants))
		if one.on >= owed && (q.timing.holds || allEmpty(broods)) {
			return
		}
		if one, q.capped = q.follow(s, ring, uses, broods, one); q.capped != "" {
			q.left = broods
			return
		}
	}
}

// use is a planned application as if it were made.
func (one planned) use(plants []site.Plant) made {
	return made{on: one.on, product: one.by.product.ID, material: one.by.material.ID, plants: ids(plants)}
}

// turns are the planned applications that are of another product than the one before.
func (q *sequence) turns() []planned {
	var all []planned
	for _, one := range q.planned {
		if one.why != "" {
			all = append(all, one)
		}
	}
	return all
}

// bestDay is the day of the next application from which the fewest are needed, of those between the earliest and the latest;
// of equal ones the nearest to the usual day, and of those the earlier.
func (q *sequence) bestDay(s *story, earliest, usual, latest civil.Date) civil.Date {
	if len(q.rounds) == 0 || q.timing.holds || q.timing.stop != "" {
		return usual
	}
	made, owed := q.broods(), q.owed(s)
	needed := func(day civil.Date) int {
		n, ok := applyUntilClear(clones(made), float64(day.DaysSince(q.rounds[0].on)), float64(q.timing.lag), 0)
		if !ok {
			return mostApplications + 1
		}
		for n < mostApplications && day.AddDays((n-1)*q.timing.lag) < owed {
			n++
		}
		return n
	}
	best, fewest := usual, needed(usual)
	for day := earliest; day <= latest; day = day.AddDays(1) {
		n := needed(day)
		if n < fewest || n == fewest && daysApart(day, usual) < daysApart(best, usual) {
			best, fewest = day, n
		}
	}
	return best
}

// daysApart is how far apart two dates are.
func daysApart(x, y civil.Date) int { return max(x.DaysSince(y), y.DaysSince(x)) }

func (q *sequence) proofBroods() []*brood {
	if q.timing.holds {
		return nil
	}
	if len(q.rounds) > 0 {
		return q.broods()
	}
	broods := make([]*brood, len(q.models))
	for k := range q.models {
		broods[k] = q.allAges(k, 0)
	}
	return broods
}
