package course

import (
	"fmt"
	"math"
	"slices"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// LookSensitivity is the chance that one look shows an infestation that is there: Se = 1 - (1 - phi n/N)^D with
// D = max(1, prevalence N), the approximation for a finite number of plants (MacDiarmid's, as used for
// surveillance by sampling in epiR, Stevenson and Sergeant). Detection phi is the chance to recognise one infested
// plant that is looked at; looked of plants are looked at; prevalence is the share that would be infested.
func LookSensitivity(detection float64, looked, plants int, prevalence float64) float64 {
	if plants <= 0 || looked <= 0 {
		return 0
	}
	infested := max(1, prevalence*float64(plants))
	share := detection * float64(min(looked, plants)) / float64(plants)
	return 1 - math.Pow(1-share, infested)
}

// ChanceAfterLook is the chance of being free after a look without a find: the chance before it, discounted
// by what may have been brought in since, then updated: p' = p (1 - introduction), p'/(1 - (1 - p') Se)
// (epiR, Stevenson and Sergeant, rsu.pfree.rs).
func ChanceAfterLook(before, sensitivity, introduction float64) float64 {
	prior := before * (1 - introduction)
	return prior / (1 - (1-prior)*sensitivity)
}

// GreatestChance is where looks without a find lead in the end: (1 - introduction/Se)/(1 - introduction), 0 where
// what is brought in outweighs what is seen (epiR rsu.pfree.equ).
func GreatestChance(sensitivity, introduction float64) float64 {
	if sensitivity <= introduction {
		return 0
	}
	return (1 - introduction/sensitivity) / (1 - introduction)
}

// leastLooks without a find are asked for in a row, whatever the chance: one look is none (common practice).
const leastLooks = 2

// planLooks says how the case is to end clear after its last application, and whether it has.
func planLooks(s *story, q sequence, chance float64) (Looks, *Ending) {
	policy := s.in.Policy
	spared := max(q.timing.longestSpared, 1)
	if math.IsInf(spared, 1) {
		spared = float64(policy.LookEveryDays)
	}
	l := Looks{FirstOn: q.lastOn.AddDays(int(math.Ceil(spared))), Chance: chance, Bound: policy.ClearBound}
	if q.needed == 0 {
		l.Made, l.Chance = s.looksWithoutFind(l.FirstOn, chance)
	}
	whole := LookSensitivity(s.pest.Detection.Value, count(s.plants), count(s.plants), 0)
	l.Needed = l.Made
	reached := l.Chance
	for ; l.Needed < leastLooks || reached < l.Bound; l.Needed++ {
		if l.Needed >= policy.MostLooks {
			break
		}
		reached = ChanceAfterLook(reached, whole, policy.IntroductionPerLook)
		l.Reachable = reached >= l.Bound
	}
	l.Reachable = l.Reachable || l.Made >= leastLooks && l.Chance >= l.Bound
	l.Text = looksText(s, l, whole, reached)
	if q.needed == 0 && l.Made >= leastLooks && l.Chance >= l.Bound {
		return l, &Ending{Kind: Clear, Chance: l.Chance, Reason: fmt.Sprintf(
			"%s in a row without a find after the last application on %s; the chance that it is free is %s, asked are %s",
			plural(l.Made, "inspection"), q.lastOn.Short(), percentText(l.Chance), percentText(l.Bound))}
	}
	return l, nil
}

// looksWithoutFind counts the looks in a row from a day on, on different days, and the chance after them.
func (s *story) looksWithoutFind(from civil.Date, chance float64) (made int, after float64) {
	after = chance
	var on civil.Date
	for _, look := range s.looks {
		looked := s.looked(look)
		if look.on < from || looked == 0 {
			continue
		}
		if look.find {
			made, after = 0, chance
			continue
		}
		if look.on == on {
			continue
		}
		on = look.on
		sensitivity := LookSensitivity(s.pest.Detection.Value, looked, count(s.plants), 0)
		after = ChanceAfterLook(after, sensitivity, s.in.Policy.IntroductionPerLook)
		made++
	}
	return made, after
}

// looked is how many plants of the case a look covered.
func (s *story) looked(l look) int {
	n := 0
	for _, plant := range s.plants {
		if slices.Contains(l.plants, plant.ID) {
			n += plant.Count
		}
	}
	return n
}

func looksText(s *story, l Looks, sensitivity, reached float64) string {
	more := l.Needed - l.Made
	if l.Reachable {
		text := fmt.Sprintf("%s without a find, the first not before %s, bring the chance of being free to at least %s (one look shows an infestation with %s)",
			plural(max(l.Needed, leastLooks), "inspection"), l.FirstOn.Short(), percentText(l.Bound), percentText(sensitivity))
		if l.Made > 0 {
			text += fmt.Sprintf("; %d made, %d to come", l.Made, more)
		}
		return text
	}
	return fmt.Sprintf("%s without a find do not bring the chance of being free to %s (they lead to %s): "+
		"choose between keeping it low under watch (one inspection: about %v), removing the plants, and replacing them (about %v)",
		plural(s.in.Policy.MostLooks, "inspection"), percentText(l.Bound),
		percentText(reached), s.lookCost(), s.replacementCost())
}

// lookCost is what one inspection of the plants costs: its minutes and the policy's share of a visit.
func (s *story) lookCost() quantity.Money {
	policy := s.in.Policy
	return quantity.Money(count(s.plants)*policy.InspectMinutes)*policy.PaidPerMinute + shareOfVisit(policy)
}
