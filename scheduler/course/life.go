package course

import (
	"math"
	"slices"

	"vernation/scheduler/catalogue"
)

// life are the stages of an insect over a time line: what every insect spends in a stage is the sum of the days' rates, a
// whole at its end. Times are days of the calendar (civil.Date) with their fraction.
type life struct {
	stages []AgeStage // the days are those of the first spell
	spells []pace     // in order; the first holds before its time too
}

// pace is how fast an insect passes its stages from a time on: days for the whole of each.
type pace struct {
	from float64
	days []float64
}

// standstill is how many days a stage takes where nothing develops on a line: so many that nothing does, and not without
// end, so that a line can be followed backwards too.
const standstill = 1e6

// steady is the life of an insect that always passes its stages in the same days.
func (a Ages) steady() *life {
	days := make([]float64, len(a))
	for i, stage := range a {
		days[i] = stage.Days
	}
	return &life{stages: a, spells: []pace{{math.Inf(-1), days}}}
}

// at is the index of the spell of a time.
func (l *life) at(time float64) int {
	i := len(l.spells) - 1
	for i > 0 && l.spells[i].from > time {
		i--
	}
	return i
}

// leaves is when an insect leaves a stage that it enters at a time.
func (l *life) leaves(stage int, entered float64) float64 {
	left := 1.0 // share of the stage
	for i := l.at(entered); ; i++ {
		days := l.spells[i].days[stage]
		if i == len(l.spells)-1 || days == 0 {
			return entered + left*days
		}
		if spent := l.spells[i+1].from - entered; left*days > spent {
			left, entered = left-spent/days, l.spells[i+1].from
			continue
		}
		return entered + left*days
	}
}

// entered is when an insect entered a stage that it leaves at a time.
func (l *life) entered(stage int, leaves float64) float64 {
	left := 1.0
	for i := l.at(leaves); ; i-- {
		days := l.spells[i].days[stage]
		if i == 0 || days == 0 {
			return leaves - left*days
		}
		if spent := leaves - l.spells[i].from; left*days > spent {
			left, leaves = left-spent/days, l.spells[i].from
			continue
		}
		return leaves - left*days
	}
}

// begins is when an insect whose egg was laid at a time begins a stage; with the number of stages it is when it dies.
func (l *life) begins(stage int, laid float64) float64 {
	for i := range stage {
		laid = l.leaves(i, laid)
	}
	return laid
}

// laid is when the egg was laid of an insect that begins a stage at a time.
func (l *life) laid(stage int, begins float64) float64 {
	for i := stage - 1; i >= 0; i-- {
		begins = l.entered(i, begins)
	}
	return begins
}

// lays is the index of the laying stage.
func (l *life) lays() int { return len(l.stages) - 1 }

// total is the age in days at which an adult has laid out her time on a line of one spell.
func (l *life) total() float64 {
	total := 0.0
	for _, days := range l.spells[0].days {
		total += days
	}
	return total
}

// met returns the times of laying of the insects that an application at a time kills, by the stages as it reaches them. A partly
// reached stage counts as reached, except that of an adult who lays already.
func (l *life) met(stages []AgeStage, time float64) []birth {
	var met []birth
	for i, stage := range stages {
		if stage.Reach != catalogue.Reached && (stage.Reach != catalogue.Partly || i == l.lays()) {
			continue
		}
		kills := birth{l.laid(i+1, time), l.laid(i, time)}
		if stage.UpToDays > 0 {
			kills.from = max(kills.from, l.laid(i, time-stage.UpToDays))
		}
		met = append(met, kills)
	}
	return met
}

// lifeOf builds the life of a pest under a material over a time line for a purpose. Stages that are known one by one at
// the temperatures of some spells and only together at those of others stay together on the whole line.
func lifeOf(c *catalogue.Catalogue, pest catalogue.Pest, material catalogue.MaterialID, over line, at paces, p purpose) (*life, []stretch) {
	all := make([][]stretch, len(over))
	for i, spell := range over {
		all[i] = at(p.celsius(spell.season), p)
	}
	together := slices.Clone(all[0])
	for _, others := range all[1:] {
		together = coarser(together, others)
	}
	l := &life{stages: make([]AgeStage, len(together))}
	for i, spell := range over {
		days := summed(all[i], together)
		if p == longest && len(over) > 1 {
			for j := range days {
				// Colder than any study: taken as if nothing developed, which is the safe side of how long it may last.
				if spell.season.Coldest < pest.LowerLimit.Value || days[j] > standstill {
					days[j] = standstill
				}
			}
		}
		from := float64(spell.from)
		if i == 0 {
			from = math.Inf(-1)
		}
		l.spells = append(l.spells, pace{from, days})
	}
	for i, s := range together {
		reach, upTo := reachOf(c, material, pest, s)
		l.stages[i] = AgeStage{l.spells[0].days[i], reach, upTo}
	}
	return l, together
}

// coarser joins stretches so that every bound between two of them is one of the others too.
func coarser(all, others []stretch) []stretch {
	var joint []stretch
	for i, s := range all {
		if i > 0 && !slices.ContainsFunc(others, func(x stretch) bool { return x.first == s.first }) {
			before := &joint[len(joint)-1]
			before.last, before.lays = s.last, s.lays
			continue
		}
		joint = append(joint, s)
	}
	return joint
}

// summed are the days of the stretches that coarser ones are made of.
func summed(all, together []stretch) []float64 {
	days := make([]float64, len(together))
	for i, whole := range together {
		for _, s := range all {
			if s.first >= whole.first && s.last <= whole.last {
				days[i] += s.days
			}
		}
	}
	return days
}

// slower is a life in which stages that are spared, and that another life has too, last as long as in the slower of both: the
// safe side of both purposes at once, since eggs of one plant may lie in a colder corner than its crawlers.
func (l *life) slower(own []stretch, other *life, others []stretch) *life {
	mixed := &life{stages: slices.Clone(l.stages), spells: make([]pace, len(l.spells))}
	for i, spell := range l.spells {
		mixed.spells[i] = pace{spell.from, slices.Clone(spell.days)}
		for j, s := range own {
			k := slices.IndexFunc(others, func(x stretch) bool { return x.first == s.first && x.last == s.last })
			if k >= 0 && l.stages[j].Reach == catalogue.Spared {
				mixed.spells[i].days[j] = max(spell.days[j], other.spells[i].days[k])
			}
		}
	}
	for j := range mixed.stages {
		mixed.stages[j].Days = mixed.spells[0].days[j]
	}
	return mixed
}
