package course

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// sequence is the run of applications that stands today: what was really made of it and what it still needs.
type sequence struct {
	timing   timing
	material catalogue.MaterialID
	least    int          // days, by the label
	plants   []site.Plant // of one area, last treated on the same day
	run      int
	since    civil.Date // items done from this day on count for the run; unset is from the beginning
	rounds   []round
	// needed applications are planned, the first ideally on the day that plan was asked for.
	needed  int
	planned []planned
	lastOn  civil.Date // of the whole run when followed on its ideal days
	beganOn civil.Date // of the first, made or expected
	shown   civil.Date // when what is spared has come into reach after the last of all sequences; unset without an end
	expired bool       // the run before it ended because its last item stood no longer
	// capped says why no application may follow the planned ones though they do not clear; "" where the row ends of itself.
	capped string
	alive  map[int]bool // by index of a stage: insects of it live right after the last where it is capped
	lags   lags         // from the last round to the next application
	// models are the lives by which the proof counts, by the materials beside its own that counted says; met is what an
	// application of a material meets in each of them.
	models  []*life
	counted []catalogue.MaterialID
	met     map[catalogue.MaterialID][][]AgeStage
	c       *catalogue.Catalogue
	pest    catalogue.Pest
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
	on     civil.Date
	by     *candidate
	timing *timing // of it, over the days of the sequence's plants
	lags   lags    // from the application before it; unset for the first of the sequence
	why    string  // it is of another product than the one before; "" where that goes on
}

// lags are days from the beginning of one application to that of the next; stands is unset where it was not asked for.
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
			q.time(s, q.timing.from, 0) // over the days as any of them stood
		}
		q.settle(s, p)
	}
	return all
}

// newSequence replays the applications to a plant that meet the pest. A run ends when its next item stood no
// longer, and its number rises then or when the pest turned out to be another. What only covers a slow systemic is no
// round of the systemic's own.
func newSequence(s *story, p *candidate, plant site.Plant) *sequence {
	q := &sequence{
		material: p.material.ID, least: p.product.Label.LeastDays, plants: []site.Plant{plant}, run: 1 + s.mistaken, since: s.since,
		c: s.in.Catalogue, pest: s.pest,
	}
	for _, m := range s.made {
		used, known := s.in.Catalogue.Materials[m.material]
		if known && meets(used, s.pest.ID) && slices.Contains(m.plants, plant.ID) && (!isSlow(p.material) || isSlow(used)) {
			q.take(s, m, plant.ID)
		}
	}
	if len(q.rounds) > 0 {
		q.countBy(s.usedIn(q))
	}
	if last, ok := q.last(); ok && !q.standsOn(s, p, s.today()) && !q.finished(s) {
		q.settle(s, p)
		q.renew(last.AddDays(q.lags.stands + 1))
	}
	if len(q.rounds) == 0 {
		q.time(s, s.today(), 0)
	}
	return q
}

// settle takes what follows from all rounds: the lives by which they are proved and the lags to a candidate's next application.
func (q *sequence) settle(s *story, p *candidate) {
	q.countBy(s.usedIn(q))
	if last, ok := q.last(); ok {
		q.lags = s.lagsFrom(q, s.made, last, q.lastUsed(), p)
		q.lags.stands = max(q.lags.latest, q.stands(&q.timing, q.material, last, q.broods()))
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
	if len(q.rounds) == 0 {
		q.time(s, m.on, 0)
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
	q.run, q.since, q.rounds, q.expired, q.lags, q.counted = q.run+1, since, nil, true, lags{}, nil
}

// lastUsed is the material of the last round.
func (q *sequence) lastUsed() catalogue.MaterialID { return q.rounds[len(q.rounds)-1].used }

// time takes the timing of the sequence's own material when its first application is on a day, over a time line that goes at
// least to another; unset is as far as it reaches.
func (q *sequence) time(s *story, from, covers civil.Date) {
	q.timing = s.timingOf(s.in.Catalogue.Materials[q.material], q.least, q.plants, from, covers)
	q.countBy(q.counted)
}

// standsOn says whether the run goes on with a candidate's application on a day: the same as its lags say, without the proof
// where it is on time or beyond all practice.
func (q *sequence) standsOn(s *story, p *candidate, day civil.Date) bool {
	last, _ := q.last()
	lag, latest := day.DaysSince(last), s.lagsFrom(q, s.made, last, q.lastUsed(), p).latest
	return lag <= latest || q.within(lag)
}

// within says whether an application of the sequence's own material still stands so many days after the last round; the proof is
// not asked where it is on time or beyond all practice.
func (q *sequence) within(lag int) bool {
	last, _ := q.last()
	switch latest := q.timing.latestAfter(last); {
	case lag <= latest:
		return true // whatever lives
	case !q.timing.holds && lag > q.timing.far:
		return false
	}
	return lag <= q.stands(&q.timing, q.material, last, q.broods())
}

// stands is the greatest lag after an application on a day at which one of a material with its timing still stands, on what
// lives after the former.
func (q *sequence) stands(t *timing, material catalogue.MaterialID, day civil.Date, broods []*brood) int {
	if t.holds {
		return t.stands(day, nil)
	}
	after := clones(broods)
	for i, b := range after {
		b.met = q.metOf(material, i%len(q.models))
	}
	return t.stands(day, after)
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
			all = append(all, q.replay(k, rounds, float64(last)))
		}
	}
	return all
}

// replay is the brood of a model after some rounds, on a later day: all ages from the first round on that the proof counts.
func (q *sequence) replay(k int, rounds []round, until float64) *brood {
	b := q.allAges(k, until)
	counted := false
	for _, r := range rounds {
		met := q.meeting(r.material)
		if met == nil {
			continue
		}
		if !counted {
			b, counted = q.allAges(k, float64(r.on)), true
		}
		b.met = met[k]
		b.apply(float64(r.on))
	}
	b.pass(until)
	b.met = q.metOf(q.material, k)
	return b
}

// allAges is a brood of all ages of a model on a day, which the sequence's own material meets next.
func (q *sequence) allAges(k int, day float64) *brood {
	b := ofAllAges(q.models[k], day)
	b.met = q.metOf(q.material, k)
	return b
}

// metOf are the stages of a model as an application of a material reaches them; none where the proof does not count it.
func (q *sequence) metOf(material catalogue.MaterialID, k int) []AgeStage {
	if met := q.meeting(material); met != nil {
		return met[k]
	}
	return nil
}

// meeting are the stages of each model as a material reaches them. It is nil where the proof does not count the material: it is not
// known, reaches nothing, or never ends the pest whatever its reach on paper.
func (q *sequence) meeting(material catalogue.MaterialID) [][]AgeStage {
	if met, ok := q.met[material]; ok {
		return met
	}
	var met [][]AgeStage
	m := q.c.Materials[material]
	if material == q.material || meets(m, q.pest.ID) && !m.Beside && !m.HoldsDownOnly(q.pest.ID) {
		for k, life := range q.models {
			own := slices.Clone(life.stages)
			for i, stretch := range q.stretches(k) {
				own[i].Reach, own[i].UpToDays = reachOf(q.c, material, q.pest, stretch)
			}
			met = append(met, own)
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

// countBy takes the lives by which a sequence of some materials beside its own is proved: in the model that mixes the warmest with
// what is spared at its longest, a stage is spared that any of them spares.
func (q *sequence) countBy(materials []catalogue.MaterialID) {
	t := &q.timing
	warm := *t.fast
	warm.stages = slices.Clone(t.fast.stages)
	for _, material := range materials {
		for i, stretch := range t.warm {
			if reach, _ := reachOf(q.c, material, q.pest, stretch); reach == catalogue.Spared {
				warm.stages[i].Reach = catalogue.Spared
			}
		}
	}
	q.models = []*life{t.slow, t.fast, warm.slower(t.warm, t.slow, t.cold)}
	q.counted, q.met = materials, map[catalogue.MaterialID][][]AgeStage{}
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
	var owed civil.Date
	hatched, ends := q.timing.hatchedOn(s.lastLiving)
	if q.timing.stop != "" && !ends {
		return s.today()
	}
	if !s.lastLiving.IsZero() {
		owed = hatched
	}
	if q.timing.holds && !q.cardsEmpty(s) {
		began := s.today()
		if len(q.rounds) > 0 {
			began = q.rounds[0].on
		}
		if missed, ok := q.timing.missedUntil(began); ok {
			owed = max(owed, missed)
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

// planTurns plans a sequence again with its turns to other products: what is planned is what is proved, by the lives of all
// that it uses. Where a turn that only rotation asks for would never clear, the product goes on.
func (q *sequence) planTurns(s *story, p *candidate, others []*candidate) {
	if q.needed == 0 {
		return
	}
	next, ring := q.planned[0].on, append([]*candidate{p}, others...)
	for range ring {
		q.plan(s, p, ring, next)
		q.reach(s, p, ring)
		before := q.counted
		q.countBy(s.usedIn(q))
		if slices.Equal(before, q.counted) {
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
	q.needed, q.planned, q.capped, q.alive, q.beganOn = 0, nil, "", nil, next
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
		missed, ok := q.timing.missedUntil(next)
		if bound := next.AddDays(mostApplications); !ok || missed > bound {
			missed = bound
		}
		owed = max(owed, missed)
	}
	broods, uses := q.proofBroods(), slices.Clone(s.made)
	for one := (planned{on: next, by: p, timing: &q.timing}); q.needed < mostApplications; {
		for i, b := range broods {
			b.met = q.metOf(one.by.material.ID, i%len(q.models))
			b.apply(float64(one.on))
		}
		q.planned, q.needed, q.lastOn = append(q.planned, one), q.needed+1, one.on
		uses = append(uses, one.use(q.plants))
		if one.on >= owed && (q.timing.holds || allEmpty(broods)) {
			return
		}
		if one, q.capped = q.follow(s, ring, uses, broods, one); q.capped != "" {
			q.alive = q.living(broods)
			return
		}
	}
}

// reach plans again over more of the time line where a sequence passes what its timing looked at.
func (q *sequence) reach(s *story, p *candidate, ring []*candidate) {
	for !q.timing.covers.IsZero() && q.lastOn > q.timing.covers {
		q.time(s, q.timing.from, q.lastOn)
		q.settle(s, p)
		q.plan(s, p, ring, s.window(p, q).ideal)
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
		n, on, ok := q.timing.untilClear(clones(made), day, 0)
		if !ok {
			return mostApplications + 1
		}
		for n = max(n, 1); n < mostApplications && on < owed; n++ {
			on = on.AddDays(q.timing.lagAfter(on))
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
		broods[k] = q.allAges(k, float64(q.beganOn))
	}
	return broods
}

// slowest is the timing of the sequence that ends last, or of one that does not clear.
func (p *candidate) slowest() timing {
	worst := p.sequences[0]
	for _, q := range p.sequences[1:] {
		if worst.timing.clears != q.timing.clears {
			if worst.timing.clears {
				worst = q
			}
			continue
		}
		if q.lastOn > worst.lastOn {
			worst = q
		}
	}
	return worst.timing
}

// shown is the first day on which all that the last applications of the sequences spared has come into reach; unset where
// that has no end.
func (p *candidate) shown() civil.Date {
	var shown civil.Date
	for _, q := range p.sequences {
		t := &q.timing
		if n := len(q.planned); n > 0 {
			t = q.planned[n-1].timing
		}
		on, ok := dayOf(t.shown(q.lastOn))
		if !ok {
			return 0
		}
		shown = max(shown, on)
	}
	return shown
}

// untreated is a sequence without any application, as of today.
func (s *story) untreated() sequence {
	t := s.timingOf(catalogue.Material{}, 0, s.plants, s.today(), 0)
	q := sequence{timing: t, lastOn: s.today(), run: 1 + s.mistaken}
	q.shown, _ = dayOf(t.shown(q.lastOn))
	return q
}
