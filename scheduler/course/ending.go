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
// Plants 0 means that they are not counted or very many: Se = 1 - (1 - phi p)^n.
func LookSensitivity(detection float64, looked, plants int, prevalence float64) float64 {
	if looked <= 0 {
		return 0
	}
	if plants <= 0 {
		return 1 - math.Pow(1-detection*prevalence, float64(looked))
	}
	infested := max(1, prevalence*float64(plants))
	share := detection * float64(min(looked, plants)) / float64(plants)
	return 1 - math.Pow(1-share, infested)
}

// PlantsToLookAt is how many plants one look must cover to show, with the given sensitivity, an infestation of at least
// the given prevalence: n = (N/phi) (1 - (1 - Se)^(1/D)), D = max(1, prevalence N), the inverse of LookSensitivity; for
// plants 0, very many, n = ln(1 - Se)/ln(1 - phi p). Rounded up. It may be more than there are: then no look of
// them all is that sensitive. (epiR, Stevenson and Sergeant, rsu.sssep.rs and the approximation for finite numbers.)
func PlantsToLookAt(sensitivity, detection float64, plants int, prevalence float64) int {
	var n float64
	if plants <= 0 {
		n = math.Log(1-sensitivity) / math.Log(1-detection*prevalence)
	} else {
		infested := max(1, prevalence*float64(plants))
		n = float64(plants) / detection * (1 - math.Pow(1-sensitivity, 1/infested))
	}
	if math.IsNaN(n) || n > math.MaxInt32 {
		return math.MaxInt32 // nothing is recognised, or certainty is asked for
	}
	return int(math.Ceil(n - 1e-9))
}

// ChanceAfterLook is the chance of being free after a look without a find: the chance before it, discounted
// by what may have been brought in since, then updated: p' = p (1 - introduction), p'/(1 - (1 - p') Se)
// (epiR, Stevenson and Sergeant, rsu.pfree.rs).
func ChanceAfterLook(before, sensitivity, introduction float64) float64 {
	prior := before * (1 - introduction)
	if prior <= 0 {
		return 0
	}
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

// SensitivityNeeded is the least sensitivity of each of so many looks, all without a find, that brings the chance of being
// free from what it was before to a bound; ok is false where even a look that misses nothing does not.
// For one look Se = (1 - p'/bound)/(1 - p') with p' = before (1 - introduction), the inverse of ChanceAfterLook.
func SensitivityNeeded(before, introduction, bound float64, looks int) (sensitivity float64, ok bool) {
	after := func(sensitivity float64) float64 {
		chance := before
		for range looks {
			chance = ChanceAfterLook(chance, sensitivity, introduction)
		}
		return chance
	}
	if after(1) < bound {
		return 0, false
	}
	low, high := 0.0, 1.0
	for range 50 {
		if middle := (low + high) / 2; after(middle) < bound {
			low = middle
		} else {
			high = middle
		}
	}
	return high, true
}

// leastLooks without a find are asked for in a row, whatever the chance: one look is none (common practice).
const leastLooks = 2

// effectDays is how long the material may take to work, in days; 0 is at once.
func (p *candidate) effectDays() float64 {
	if after := p.material.TakesEffectAfter; after != nil {
		return after.Far
	}
	return 0
}

// planLooks says how the case is to end clear after its last application, and whether it has. A material that takes effectDays
// to work is looked after when it has, and what was spared has shown itself.
func planLooks(s *story, q sequence, chance, effectDays float64) (Looks, *Ending) {
	policy := s.in.Policy
	if q.shown.IsZero() {
		q.shown = q.lastOn.AddDays(policy.LookEveryDays)
	}
	l := Looks{FirstOn: q.shown.AddDays(int(math.Ceil(effectDays))), Chance: chance, Bound: policy.ClearBound}
	if q.needed == 0 {
		l.Made, l.Chance = s.looksWithoutFind(l.FirstOn, chance)
	}
	plants := count(s.plants)
	whole := LookSensitivity(s.pest.Detection.Value, plants, plants, 0)
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
	l.Plants = plants
	if needed, ok := SensitivityNeeded(l.Chance, policy.IntroductionPerLook, l.Bound, l.Needed-l.Made); ok && l.Reachable {
		l.Plants = min(plants, max(1, PlantsToLookAt(needed, s.pest.Detection.Value, plants, 0)))
	}
	l.Text = looksText(s, l, whole, reached)
	if q.needed == 0 && l.Made >= leastLooks && l.Chance >= l.Bound {
		return l, &Ending{Kind: Clear, Chance: l.Chance, Reason: fmt.Sprintf(
			"%s in a row without a find after the last application on %s; the chance that it is free is %s, asked are %s",
			plural(l.Made, "inspection"), q.lastOn.Short(), percentText(l.Chance), percentText(l.Bound))}
	}
	return l, nil
}

// looksWithoutFind counts the looks in a row from a day on, at least half a rhythm apart, and the chance after them: looks on
// consecutive days see the same insects and are none of their own.
func (s *story) looksWithoutFind(from civil.Date, chance float64) (made int, after float64) {
	after = chance
	var on civil.Date
	for _, look := range s.looks {
		looked := s.looked(look)
		if look.on < from || looked == 0 {
			continue
		}
		if look.find {
			made, after, on = 0, chance, 0
			continue
		}
		if !on.IsZero() && look.on < on.AddDays(halfOf(s.in.Policy.LookEveryDays)) {
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
	plants := count(s.plants)
	more := l.Needed - l.Made
	if l.Reachable {
		text := fmt.Sprintf("%s without a find, the first not before %s, bring the chance of being free to at least %s (one look at all %s shows an infestation with %s)",
			plural(max(l.Needed, leastLooks), "inspection"), l.FirstOn.Short(), percentText(l.Bound), plural(plants, "plant"), percentText(sensitivity))
		switch {
		case more > 0 && l.Plants < plants:
			text += fmt.Sprintf("; each must look at %d of the %d at least, better at all", l.Plants, plants)
		case more > 0 && plants > 1:
			text += fmt.Sprintf("; each must look at all %d", plants)
		}
		if l.Made > 0 {
			text += fmt.Sprintf("; %d made, %d to come", l.Made, more)
		}
		return text
	}
	return fmt.Sprintf("%s of all %s without a find do not bring the chance of being free to %s (they lead to %s%s): "+
		"choose between keeping it low under watch (%v for an inspection, about %v in four weeks), removing the plants (%v, and their value of %v is lost) and replacing them (about %v)",
		plural(s.in.Policy.MostLooks, "inspection"), plural(plants, "plant"), percentText(l.Bound), percentText(reached), s.whyOutOfReach(l, sensitivity),
		s.lookCost(), s.watchCost(), s.removalCost(), valueOf(s.in.Catalogue, s.plants), s.replacementCost())
}

// whyOutOfReach says what keeps the chance below its bound.
func (s *story) whyOutOfReach(l Looks, sensitivity float64) string {
	if greatest := GreatestChance(sensitivity, s.in.Policy.IntroductionPerLook); greatest < l.Bound {
		return fmt.Sprintf(", and even looks without end to %s, for what may be brought in between two of them", percentText(greatest))
	}
	return fmt.Sprintf(" from the %s that the model leaves it", percentText(l.Chance))
}

// watchCost is what four weeks of looks cost.
func (s *story) watchCost() quantity.Money {
	const weeks = 4
	return s.lookCost() * quantity.Money(math.Ceil(float64(weeks*7)/float64(max(1, s.in.Policy.LookEveryDays))))
}

// removalCost is what it costs to take the plants of the case away: carrying, waste, a visit.
func (s *story) removalCost() quantity.Money {
	policy, n := s.in.Policy, quantity.Money(count(s.plants))
	return n*(quantity.Money(policy.CarryMinutesPerPlant)*policy.PaidPerMinute+policy.WastePerReplacement) + policy.VisitCost
}

// lookCost is what one inspection of the plants costs: its minutes and the policy's share of a visit.
func (s *story) lookCost() quantity.Money {
	policy := s.in.Policy
	return quantity.Money(count(s.plants)*policy.InspectMinutes)*policy.PaidPerMinute + shareOfVisit(policy)
}
