package course

import (
	"math"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
)

// timing is what figures, label and practice say about repeating one material on one pest; it knows no history.
type timing struct {
	season site.Season
	// stop says why no end date exists; "" when durations hold.
	stop   string
	models []Ages // at the coldest, at the warmest, and the warmest with what is spared at its longest
	// In days: the longest time to hatching, the longest spared stage, and for holding down the longest time
	// from what an application misses to the hatching of the last egg that it may lay.
	longestEgg, longestSpared, longestMissed float64
	// greatest is the shortest stretch of fully reached stages that every insect must pass, at the warmest.
	greatest  float64
	least     int // the label's, at least 1
	near, far int // the practice's ceilings; 0 where none is known
	ceiling   catalogue.Range
	clears    bool
	holds     bool
	weak      bool // by ages it would clear, but the catalogue says that it never ends this pest by itself
	// lag is the ideal one in days, latestLag the greatest still on time, standsLag the last that stands.
	lag, latestLag, standsLag int
	// spared and reached stretches, for people.
	cold, warm                    []stretch
	egg                           stretch
	reached, partlyReached, unmet []catalogue.StageID
}

// mostApplications bounds every search for a number of repeats: more than a year of weekly ones.
const mostApplications = 60

// newTiming computes the timing of a material at a season. Its least lag is the label's.
func newTiming(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, leastDays int, season site.Season) timing {
	t := timing{season: season, stop: developsUntil(pest, season), least: max(1, leastDays)}
	t.cold, t.warm = durations(pest, season, longest), durations(pest, season, shortest)
	t.sortStages(c, pest, material)
	t.measure(c, pest, material)
	if ceiling, ok := material.Ceilings[pest.ID]; ok {
		t.ceiling = ceiling
		t.near, t.far = int(math.Floor(ceiling.Near)), int(math.Floor(ceiling.Far))
	}
	if t.stop != "" {
		t.holdDown()
		return t
	}
	cold, warm := agesOf(c, pest, material, t.cold), agesOf(c, pest, material, t.warm)
	t.models = []Ages{cold, warm, t.mixed(warm, cold)}
	t.chooseLag(func(applications, lag int) float64 {
		model := newCohort(c, pest, material, nil, season)
		return model.left(applications, lag)
	})
	if t.clears && material.HoldsDownOnly(pest.ID) {
		t.clears, t.weak = false, true
		t.holdDown()
	}
	return t
}

func agesOf(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material, all []stretch) Ages {
	ages := make(Ages, len(all))
	for i, s := range all {
		reach, upTo := reachOf(c, material.ID, pest, s)
		ages[i] = AgeStage{s.days, reach, upTo}
	}
	return ages
}

// mixed is the warmest with spared stages at their longest: the safe side of both purposes at once, since
// eggs of one plant may lie in a colder corner than its crawlers.
func (t *timing) mixed(warm, cold Ages) Ages {
	mixed := make(Ages, len(warm))
	copy(mixed, warm)
	for i, s := range t.warm {
		for j, other := range t.cold {
			if s.first == other.first && s.last == other.last && warm[i].Reach == catalogue.Spared {
				mixed[i].Days = max(warm[i].Days, cold[j].Days)
			}
		}
	}
	return mixed
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

// measure takes the lengths that windows are made of.
func (t *timing) measure(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.Material) {
	run := 0.0
	for _, s := range t.warm {
		reach, upTo := reachOf(c, material.ID, pest, s)
		if reach != catalogue.Reached || s.lays {
			run = 0
			continue
		}
		if upTo > 0 && upTo < s.days {
			t.greatest = max(t.greatest, run+upTo)
			run = 0
			continue
		}
		run += s.days
		t.greatest = max(t.greatest, run)
	}
	t.egg, t.longestEgg = t.cold[0], t.cold[0].days
	if pest.Stages[0].Feeds {
		t.longestEgg = 0 // born alive: nothing hatches
	}
	for i, s := range t.cold {
		reach, upTo := reachOf(c, material.ID, pest, s)
		spared := s.days
		if reach != catalogue.Spared {
			spared = 0
			if upTo > 0 {
				spared = max(0, s.days-upTo)
			}
		}
		if i == 0 && reach == catalogue.Partly {
			// Eggs that are met in part show themselves only when they hatch.
			t.longestSpared = s.days
		}
		if !s.lays {
			t.longestSpared = max(t.longestSpared, spared)
		} else if reach == catalogue.Partly {
			spared = s.days
		}
		t.longestMissed += spared
	}
}

// fresh counts the applications from a first one on all ages, at a lag, the first gap being another; ok is
// false when the bound is passed.
func (t *timing) fresh(firstGap, lag int) (applications int, ok bool) {
	broods := make([]*brood, len(t.models))
	for i, ages := range t.models {
		broods[i] = newBrood(ages, []float64{0})
	}
	return applyUntilClear(broods, float64(firstGap), float64(lag), 1)
}

// applyUntilClear goes on at a lag from a day until every brood is empty and returns the number of
// applications, those made before included.
func applyUntilClear(broods []*brood, day, lag float64, before int) (applications int, ok bool) {
	for n := before; n <= mostApplications; n++ {
		if allEmpty(broods) {
			return n, true
		}
		for _, b := range broods {
			b.apply(day)
		}
		day += lag
	}
	return mostApplications, false
}

func allEmpty(broods []*brood) bool {
	for _, b := range broods {
		if !b.empty() {
			return false
		}
	}
	return true
}

// chooseLag takes the lag with the fewest applications among those that label, stages and practice allow; of equal
// ones the one that leaves the least by the model. Where none of them clears, a longer one of practice that does;
// where none at all does, the material holds down.
func (t *timing) chooseLag(left func(applications, lag int) float64) {
	most := t.near
	if greatest := int(math.Floor(t.greatest)); greatest > 0 && (most == 0 || greatest < most) {
		most = greatest
	}
	most = max(most, t.least)
	fewest, equal := mostApplications+1, []int(nil)
	for lag := t.least; lag <= max(most, t.far); lag++ {
		if lag > most && t.clears {
			break
		}
		n, ok := t.fresh(lag, lag)
		// The last lies a hatching after the last living find too, which may be on the first day.
		n = max(n, 1+int(math.Ceil(t.longestEgg/float64(lag))))
		switch {
		case !ok || n > fewest:
		case n < fewest:
			t.clears, fewest, equal = true, n, []int{lag}
		default:
			equal = append(equal, lag)
		}
	}
	least := math.Inf(1)
	for _, lag := range equal {
		survivors := 0.0
		if len(equal) > 1 {
			survivors = left(fewest, lag)
		}
		if survivors <= least {
			t.lag, least = lag, survivors
		}
	}
	if !t.clears {
		t.holdDown()
		return
	}
	t.latestLag = t.lag
	if greatest := int(math.Floor(t.greatest)); greatest > t.lag {
		t.latestLag = greatest
		if t.far > 0 {
			t.latestLag = max(t.lag, min(greatest, t.far))
		}
	}
	t.standsLag = t.stands(nil)
}

// holdDown repeats at the least lag; practice's far end is still on time, and after a whole brood of eggs
// has hatched unmet beyond it, what was held down begins anew.
func (t *timing) holdDown() {
	t.holds = true
	t.lag = t.least
	t.latestLag = max(t.lag, t.far)
	egg := t.longestEgg
	if math.IsInf(egg, 1) {
		egg = float64(t.lag)
	}
	t.standsLag = t.latestLag + int(math.Floor(egg))
}

// stands is the greatest lag, up to practice's far end, after which the proof still finds a completion at the usual lag.
// The broods are those after what was really done; nil is a first application on all ages.
func (t *timing) stands(after []*brood) int {
	if t.holds {
		return t.standsLag
	}
	for lag := max(t.latestLag, t.far); lag > t.latestLag; lag-- {
		if after == nil {
			if _, ok := t.fresh(lag, t.lag); ok {
				return lag
			}
			continue
		}
		broods := clones(after)
		if _, ok := applyUntilClear(broods, broods[0].at+float64(lag), float64(t.lag), 0); ok {
			return lag
		}
	}
	return t.latestLag
}
