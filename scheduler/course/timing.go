package course

import (
	"fmt"
	"math"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// timing is what figures, label and practice say about repeating one material on one pest over the time line of some plants,
// when the first application is on a day; of what was really made since it knows nothing.
type timing struct {
	over line
	from civil.Date // of the first application, made or expected
	// covers is the last day of the line that was looked at, unset where that is all; ends the last application of a course from
	// the first one on.
	covers, ends civil.Date
	// stop says why no end date exists; "" when durations hold.
	stop string
	// until is the first day on which no figure of the pest holds any more, or of which the line says nothing: the proof has to
	// end before, so that it is the same when more of the line is looked at. Unset: never.
	until  civil.Date
	models []*life // at the coldest, at the warmest, and the warmest with what is spared at its longest
	slow   *life   // the first of the models: how long something may still come
	fast   *life   // the second: how soon something may happen
	least  int     // the label's lag, at least 1
	near   int     // the practice's ceilings; 0 where none is known
	far    int
	// ceiling is where they come from.
	ceiling catalogue.Range
	clears  bool
	holds   bool
	weak    bool // by ages it would clear, but the catalogue says that it never ends this pest by itself
	// lag is the ideal one in days, where full reach allows it: see lagAfter. beyond says that it passes full reach, since no
	// shorter one clears.
	lag    int
	beyond bool
	// The last lags that stand, by the day of the application before; of a steady line under the unset day.
	standing map[civil.Date]int
	// What the stages are, for people; at the first spell.
	cold, warm                    []stretch
	bearsLive                     bool
	reached, partlyReached, unmet []catalogue.StageID
	at                            paces
}

// mostApplications bounds every search for a number of repeats: more than a year of weekly ones.
const mostApplications = 60

// question is what a timing is asked for.
type question struct {
	catalogue *catalogue.Catalogue
	pest      catalogue.Pest
	material  catalogue.Material
	leastDays int
	over      line
	from      civil.Date // of the first application
	covers    civil.Date // the day that the line has to reach at the least
	lived     civil.Date // from which the figures must hold for what lives today
	today     civil.Date
	known     civil.Date // the last day of which the line says something; unset of a line without end
	at        paces
	usual     func() cohort // the model at usual temperatures, for choosing among equal lags
}

// timingOf is the timing of a material on plants of the case that are first treated on a day, over a time line that goes at
// least to another; unset is as far as the course reaches.
func (s *story) timingOf(material catalogue.Material, leastDays int, plants []site.Plant, from, covers civil.Date) timing {
	over := s.lineOf(plants)
	key := timingKey{material.ID, leastDays, &over[0], from, covers}
	if len(over) == 1 {
		key.from, key.covers = 0, 0 // the same whenever it begins
	}
	t, ok := s.known.timings[key]
	if !ok {
		t = newTiming(question{
			catalogue: s.in.Catalogue, pest: s.pest, material: material, leastDays: leastDays, over: over, from: from, covers: covers,
			lived: max(s.found, s.today().AddDays(-daysOfClimate)), today: s.today(), known: s.today().AddDays(daysOfLine),
			at: s.known.pacesOf(s.pest), usual: func() cohort { return s.cohortOf(material, nil, over, from) },
		})
		s.known.timings[key] = t
	}
	t.from = from
	return t
}

// newTiming computes the timing of a material over as much of a line as the course reaches, half as much again, and six weeks
// more: what is warmer or colder after that says nothing about it. How far that is counts from the first application, so that
// it never grows less as time goes by. Its least lag is the label's.
func newTiming(ask question) timing {
	all := ask.over
	for days := 2 * daysOfClimate; ; days += days / 2 {
		covers := ask.from.AddDays(days)
		if covers < max(ask.today, ask.covers).AddDays(2*daysOfClimate) {
			continue
		}
		part := ask
		if len(all) == 1 {
			part.known = 0 // as it is it stays
		} else if part.over = all.between(min(ask.from, ask.lived), covers); all.index(covers) < len(all)-1 {
			part.known = covers
		}
		t := part.answer()
		if all.index(covers) == len(all)-1 {
			return t // there is no more
		}
		if t.clears && t.ends.AddDays(t.ends.DaysSince(t.from)/2+daysOfClimate) <= covers {
			t.covers = covers
			return t
		}
	}
}

// answer is the timing over the line of the question.
func (ask question) answer() timing {
	t := ask.begin()
	t.sortStages(ask.catalogue, ask.pest, ask.material)
	outside, why, always := ask.over.outside(ask.pest, ask.lived)
	if why != "" && always {
		t.halt(ask, why)
		return t
	}
	if t.until = ask.tooHot(); !ask.known.IsZero() && (t.until.IsZero() || ask.known < t.until) {
		t.until = ask.known.AddDays(1)
	}
	t.live(ask)
	t.chooseLag(ask.usual)
	switch {
	case t.clears:
	case why != "" && outside <= ask.today.AddDays(daysOfClimate):
		t.halt(ask, why)
		return t
	case why != "" && ask.clearsWithout(outside):
		t.halt(ask, fmt.Sprintf("from %s on, %s", outside.Short(), why))
		return t
	}
	if t.clears && ask.material.HoldsDownOnly(ask.pest.ID) {
		t.clears, t.weak = false, true
	}
	if !t.clears {
		t.holdDown()
	}
	return t
}

// tooHot is the first day that is warmer than any figure of the pest holds for; unset without one.
func (ask question) tooHot() civil.Date {
	for i := ask.over.index(ask.lived); i < len(ask.over); i++ {
		if ask.over[i].season.Warmest > ask.pest.UpperLimit.Value {
			return max(ask.lived, ask.over[i].from)
		}
	}
	return 0
}

// begin is a timing of which only label and practice are known.
func (ask question) begin() timing {
	t := timing{over: ask.over, from: ask.from, least: max(1, ask.leastDays), standing: map[civil.Date]int{}, bearsLive: ask.pest.Stages[0].Feeds, at: ask.at}
	if ceiling, ok := ask.material.Ceilings[ask.pest.ID]; ok {
		t.ceiling = ceiling
		t.near, t.far = int(math.Floor(ceiling.Near)), int(math.Floor(ceiling.Far))
	}
	return t
}

// clearsWithout says whether the material would clear, did the temperatures of the day before one last.
func (ask question) clearsWithout(outside civil.Date) bool {
	ask.over = ask.over[:max(1, ask.over.index(outside.AddDays(-1))+1)]
	t := ask.begin()
	t.live(ask)
	t.chooseLag(ask.usual)
	return t.clears
}

// live builds the models.
func (t *timing) live(ask question) {
	t.slow, t.cold = lifeOf(ask.catalogue, ask.pest, ask.material.ID, t.over, ask.at, longest)
	t.fast, t.warm = lifeOf(ask.catalogue, ask.pest, ask.material.ID, t.over, ask.at, shortest)
	t.models = []*life{t.slow, t.fast, t.fast.slower(t.warm, t.slow, t.cold)}
}

// halt is the timing where no end date exists: at the coldest and warmest of the days around today, kept inside what the
// studies cover.
func (t *timing) halt(ask question, why string) {
	t.stop, t.clears, t.until = why, false, 0
	season := ask.over.between(ask.lived, ask.today.AddDays(daysOfClimate)).extremes()
	t.over = steadyLine(season)
	t.live(ask)
	t.holdDown()
}

func (t *timing) sortStages(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material) {
	for _, stage := range pest.Stages {
		switch effect := c.Effect(material.ID, pest.ID, stage.ID); {
		case effect.Reach == catalogue.Reached && effect.UpToDays == 0:
			t.reached = append(t.reached, stage.ID)
		case effect.Reach == catalogue.Spared || effect.Reach == "":
			t.unmet = append(t.unmet, stage.ID)
		default:
			t.partlyReached = append(t.partlyReached, stage.ID)
		}
	}
}

// greatest is the longest that what becomes reachable right after an application stays in full reach, at the warmest: the
// greatest of the stretches of fully reached stages, in days from that application. What becomes reachable later stays later.
func (t *timing) greatest(after civil.Date) float64 {
	began := float64(after)
	greatest, end := 0.0, began
	for i, stage := range t.fast.stages {
		if stage.Reach != catalogue.Reached || i == t.fast.lays() {
			end = began
			continue
		}
		leaves := t.fast.leaves(i, end)
		if stage.UpToDays > 0 && end+stage.UpToDays < leaves {
			greatest, end = max(greatest, end+stage.UpToDays-began), began
			continue
		}
		end = leaves
		greatest = max(greatest, end-began)
	}
	return greatest
}

// hatched is when all eggs laid until a time have hatched, at the coldest; what is born alive needs no time.
func (t *timing) hatched(laid float64) float64 {
	if t.bearsLive {
		return laid
	}
	return t.slow.leaves(0, laid)
}

// hatchedOn is the first day on which all eggs laid until another have hatched; ok is false where there is no end to it.
func (t *timing) hatchedOn(laid civil.Date) (on civil.Date, ok bool) {
	return dayOf(t.hatched(float64(laid)))
}

// longestEgg is how many days the eggs of a day may take to hatch, at the coldest.
func (t *timing) longestEgg(laid civil.Date) float64 { return t.hatched(float64(laid)) - float64(laid) }

// shown is when everything has come into reach that a material spares on a day, one stage after another being no part of it:
// each stage that it spares is out, and eggs that are met only in part have hatched. A day later at the least.
func (t *timing) shown(day civil.Date) float64 {
	began := float64(day)
	shown := began + 1
	for i, stage := range t.slow.stages {
		switch {
		case i == 0 && stage.Reach == catalogue.Partly:
			shown = max(shown, t.slow.leaves(0, began))
		case i == t.slow.lays():
		case stage.Reach == catalogue.Spared:
			shown = max(shown, t.slow.leaves(i, began))
		case stage.UpToDays > 0:
			shown = max(shown, t.slow.leaves(i, began)-stage.UpToDays)
		}
	}
	return shown
}

// missedUntil is when the last egg hatches that what an application misses on a day may lay, for holding down: through all
// that is spared, a laying time that is not fully reached among it, and an egg at the end.
func (t *timing) missedUntil(day civil.Date) (on civil.Date, ok bool) {
	time := float64(day)
	for i, stage := range t.slow.stages {
		spared := stage.Reach == catalogue.Spared || i == t.slow.lays() && stage.Reach == catalogue.Partly
		switch {
		case i == 0:
		case spared:
			time = t.slow.leaves(i, time)
		case stage.UpToDays > 0:
			time += max(0, t.slow.leaves(i, time)-time-stage.UpToDays)
		}
	}
	if first := t.slow.stages[0]; first.Reach == catalogue.Spared {
		time = t.slow.leaves(0, time)
	} else if first.UpToDays > 0 {
		time += max(0, t.slow.leaves(0, time)-time-first.UpToDays)
	}
	return dayOf(time)
}

// dayOf is the first day that begins at or after a time; ok is false where it lies beyond all bounds.
func dayOf(time float64) (on civil.Date, ok bool) {
	if !(time < lastTime) {
		return 0, false
	}
	return civil.Date(math.Ceil(time - shortestBirth)), true
}

// fullDays is the number of whole days in a length.
func fullDays(days float64) int { return int(math.Floor(days + shortestBirth)) }

// lastTime is beyond every course: a day in the year 2738.
const lastTime = 280_000

// sources are the figures that decided over the days from the first application to the last, each once.
func (t *timing) sources(last civil.Date) []string {
	var all []string
	seen := map[string]bool{}
	for _, p := range []purpose{longest, shortest} {
		for _, s := range t.over.between(t.from, last) {
			for _, stretch := range t.at(p.celsius(s.season), p) {
				if !seen[stretch.source] {
					seen[stretch.source] = true
					all = append(all, stretch.source)
				}
			}
		}
	}
	return all
}

// steps are the days of the applications at the usual lags from the first to a last one.
func (t *timing) steps(last civil.Date) []civil.Date {
	all := []civil.Date{t.from}
	for on := t.from.AddDays(t.lagAfter(t.from)); on < last; on = on.AddDays(t.lagAfter(on)) {
		all = append(all, on)
	}
	return all
}

// leastReach is the least of what greatest says from the first application to a last one.
func (t *timing) leastReach(last civil.Date) float64 {
	least := t.greatest(t.from)
	if len(t.over) > 1 {
		for _, on := range t.steps(last) {
			least = min(least, t.greatest(on))
		}
	}
	return least
}

// rhythm writes the usual lags from the first application to a last one: "7 days", "5 to 8 days".
func (t *timing) rhythm(last civil.Date) string {
	least, most := t.lagAfter(t.from), t.lagAfter(t.from)
	for _, on := range t.steps(last) {
		least, most = min(least, t.lagAfter(on)), max(most, t.lagAfter(on))
	}
	if least == most {
		return plural(least, "day")
	}
	return fmt.Sprintf("%d to %s", least, plural(most, "day"))
}
