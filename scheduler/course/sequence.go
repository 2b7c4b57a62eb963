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
	plants   []site.Plant // of one area, last treated on the same day
	run      int
	since    civil.Date // items done from this day on count for the run; unset is from the beginning
	rounds   []round
	// needed applications, the first ideally on the day that plan was asked for.
	needed  int
	planned []civil.Date // their ideal days; what the label's caps cut off stands behind the needed ones
	lastOn  civil.Date   // of the whole run when followed on its ideal days
	beganOn civil.Date   // of the first, made or expected
	shown   civil.Date   // when what is spared has come into reach after the last of all sequences; unset without an end
	timed   func(plants []site.Plant, from, covers civil.Date) timing
	expired bool // the run before it ended because its last item stood no longer
}

// round is one day of application.
type round struct {
	on       civil.Date
	plants   []site.PlantID
	material catalogue.MaterialID
}

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
		one := newSequence(s, func(plants []site.Plant, from, covers civil.Date) timing {
			return s.timingOf(p.material, p.product.Label.LeastDays, plants, from, covers)
		}, p.material.ID, plant)
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
			q.timing = q.timed(q.plants, q.timing.from, 0) // over the days as any of them stood
		}
	}
	return all
}

// newSequence replays the applications to a plant that meet the pest. A run ends when its next item stood no
// longer, and its number rises then or when the pest turned out to be another.
func newSequence(s *story, timed func(plants []site.Plant, from, covers civil.Date) timing, material catalogue.MaterialID, plant site.Plant) *sequence {
	q := &sequence{timed: timed, material: material, plants: []site.Plant{plant}, run: 1 + s.mistaken, since: s.since}
	for _, m := range s.made {
		used, known := s.in.Catalogue.Materials[m.material]
		if known && meets(used, s.pest.ID) && slices.Contains(m.plants, plant.ID) {
			q.take(m, plant.ID)
		}
	}
	if last, ok := q.last(); ok && !q.standsOn(s.today()) && !q.finished(s) {
		q.renew(last.AddDays(q.stands() + 1))
	}
	if len(q.rounds) == 0 {
		q.timing = timed(q.plants, s.today(), 0)
	}
	return q
}

func (q *sequence) take(m made, plant site.PlantID) {
	last, ok := q.last()
	switch {
	case ok && m.on == last:
		return
	case ok && !q.standsOn(m.on):
		q.renew(m.on)
	}
	if len(q.rounds) == 0 {
		q.timing = q.timed(q.plants, m.on, 0)
	}
	q.rounds = append(q.rounds, round{m.on, []site.PlantID{plant}, m.counts(plant)})
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
	q.run, q.since, q.rounds, q.expired = q.run+1, since, nil, true
}

// standsOn says whether the run goes on with an application on a day: the same as stands says, without the proof where it is
// on time or beyond all practice.
func (q *sequence) standsOn(day civil.Date) bool {
	last, _ := q.last()
	lag, latest := day.DaysSince(last), q.timing.latestAfter(last)
	switch {
	case lag <= latest:
		return true
	case !q.timing.holds && lag > max(latest, q.timing.far):
		return false
	}
	return lag <= q.stands()
}

// stands is the greatest lag after the last round at which the run goes on.
func (q *sequence) stands() int {
	last, _ := q.last()
	if q.timing.holds {
		return q.timing.stands(last, nil)
	}
	return q.timing.stands(last, q.broods())
}

// histories are the days of application of the plants, each different one once. Rounds of
// another material keep the run and its lags, but the proof does not count on them.
func (q *sequence) histories() [][]float64 {
	var all [][]float64
	for _, plant := range q.plants {
		var days []float64
		for _, r := range q.rounds {
			if r.material == q.material && slices.Contains(r.plants, plant.ID) {
				days = append(days, float64(r.on))
			}
		}
		if !slices.ContainsFunc(all, func(x []float64) bool { return slices.Equal(x, days) }) {
			all = append(all, days)
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
	last := float64(q.rounds[len(q.rounds)-1].on)
	var all []*brood
	for _, days := range q.histories() {
		for _, model := range q.timing.models {
			b := newBrood(model, days)
			if b == nil {
				b = ofAllAges(model, last)
			}
			b.pass(last)
			all = append(all, b)
		}
	}
	return all
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

// plan counts what is still needed when the next application is made on a day.
func (q *sequence) plan(s *story, next civil.Date) {
	q.beganOn = next
	if len(q.rounds) > 0 {
		q.beganOn = q.rounds[0].on
	}
	q.needed, q.planned = 0, nil
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
	day := next
	broods := q.proofBroods()
	for q.needed < mostApplications {
		for _, b := range broods {
			b.apply(float64(day))
		}
		q.needed, q.planned = q.needed+1, append(q.planned, day)
		q.lastOn = day
		if day >= owed && (q.timing.holds || allEmpty(broods)) {
			return
		}
		day = day.AddDays(q.timing.lagAfter(day))
	}
}

// reach plans again over more of the time line where a sequence passes what its timing looked at.
func (q *sequence) reach(s *story, p *candidate) {
	for !q.timing.covers.IsZero() && q.lastOn > q.timing.covers {
		q.timing = q.timed(q.plants, q.timing.from, q.lastOn)
		q.plan(s, s.window(p, q).ideal)
	}
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
	broods := make([]*brood, len(q.timing.models))
	for i, model := range q.timing.models {
		broods[i] = ofAllAges(model, float64(q.beganOn))
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
		on, ok := dayOf(q.timing.shown(q.lastOn))
		if !ok {
			return 0
		}
		shown = max(shown, on)
	}
	return shown
}

// lastBefore is the day of the last application where only so many of the needed ones are made; of the last made one, or the
// day before the first, where it is none.
func (q *sequence) lastBefore(left int) civil.Date {
	if left > 0 {
		return q.planned[left-1]
	}
	if last, going := q.last(); going {
		return last
	}
	return q.planned[0]
}

// untreated is a sequence without any application, as of today.
func (s *story) untreated() sequence {
	t := s.timingOf(catalogue.Material{}, 0, s.plants, s.today(), 0)
	q := sequence{timing: t, lastOn: s.today(), run: 1 + s.mistaken}
	q.shown, _ = dayOf(t.shown(q.lastOn))
	return q
}
