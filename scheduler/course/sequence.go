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
	// needed applications, the first ideally on the day that plan was asked for.
	needed  int
	lastOn  civil.Date // of the whole run when followed on its ideal days
	beganOn civil.Date // of the first, made or expected
	expired bool       // the run before it ended because its last item stood no longer
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
		one := newSequence(s, p.timing, p.material.ID, plant)
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
	}
	return all
}

// newSequence replays the applications to a plant that meet the pest. A run ends when its next item stood no
// longer, and its number rises then or when the pest turned out to be another.
func newSequence(s *story, t timing, material catalogue.MaterialID, plant site.Plant) *sequence {
	q := &sequence{timing: t, material: material, plants: []site.Plant{plant}, run: 1 + s.mistaken, since: s.since}
	for _, m := range s.made {
		used, known := s.in.Catalogue.Materials[m.material]
		if known && meets(used, s.pest.ID) && slices.Contains(m.plants, plant.ID) {
			q.take(m, plant.ID)
		}
	}
	if last, ok := q.last(); ok && s.today() > last.AddDays(q.stands()) && !q.finished(s) {
		q.renew(last.AddDays(q.stands() + 1))
	}
	return q
}

func (q *sequence) take(m made, plant site.PlantID) {
	last, ok := q.last()
	switch {
	case ok && m.on == last:
		return
	case ok && m.on > last.AddDays(q.stands()):
		q.renew(m.on)
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

// stands is the greatest lag after the last round at which the run goes on.
func (q *sequence) stands() int {
	if q.timing.holds {
		return q.timing.standsLag
	}
	return q.timing.stands(q.broods())
}

// histories are the days of application of the plants, each different one once, in days since the first round. Rounds of
// another material keep the run and its lags, but the proof does not count on them.
func (q *sequence) histories() [][]float64 {
	var all [][]float64
	for _, plant := range q.plants {
		var days []float64
		for _, r := range q.rounds {
			if r.material == q.material && slices.Contains(r.plants, plant.ID) {
				days = append(days, float64(r.on.DaysSince(q.rounds[0].on)))
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
	last := float64(q.rounds[len(q.rounds)-1].on.DaysSince(q.rounds[0].on))
	var all []*brood
	for _, days := range q.histories() {
		for _, ages := range q.timing.models {
			b := newBrood(ages, days)
			if b == nil {
				total := ages.total()
				b = &brood{ages: ages, met: ages.met(), total: total, at: last, born: []birth{{last - total, last}}}
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

// plan counts what is still needed when the next application is made on a day.
func (q *sequence) plan(s *story, next civil.Date) {
	q.beganOn = next
	if len(q.rounds) > 0 {
		q.beganOn = q.rounds[0].on
	}
	q.needed = 0
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
	day := next
	broods := q.proofBroods()
	for q.needed < mostApplications {
		for _, b := range broods {
			b.apply(float64(day.DaysSince(q.beganOn)))
		}
		q.needed++
		q.lastOn = day
		if day >= owed && (q.timing.holds || allEmpty(broods)) {
			return
		}
		day = day.AddDays(q.timing.lag)
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
	broods := make([]*brood, len(q.timing.models))
	for i, ages := range q.timing.models {
		total := ages.total()
		broods[i] = &brood{ages: ages, met: ages.met(), total: total, born: []birth{{-total, 0}}}
	}
	return broods
}
