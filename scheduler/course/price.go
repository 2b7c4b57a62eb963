package course

import (
	"math"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

func shareOfVisit(policy Policy) quantity.Money {
	return policy.VisitCost * quantity.Money(policy.ShareOfVisitPercent) / 100
}

// applicationCost is what one application costs: its minutes and material and the policy's share of a visit.
func applicationCost(policy Policy, way Way) quantity.Money {
	return shareOfVisit(policy) + money(wayMinutes(way)*float64(policy.PaidPerMinute)) + money(wayLitres(way)*float64(policy.MaterialPerLitre))
}

// plantValue is the replacement value of a plant (group): its own, else its species' default by pot size.
func plantValue(c *catalogue.Catalogue, plant site.Plant) quantity.Money {
	if plant.Replacement != nil {
		return *plant.Replacement * quantity.Money(plant.Count)
	}
	sizes := c.Species[plant.Species].ReplacementBySize
	if len(sizes) == 0 {
		return 0
	}
	ml, _ := plant.PotVolume.Millilitres().Float64()
	value := sizes[len(sizes)-1]
	for _, size := range sizes {
		if ml <= float64(size.UpToPotML) {
			value = size
			break
		}
	}
	return quantity.Money(math.Round(value.Minor.Value)) * quantity.Money(plant.Count)
}

func valueOf(c *catalogue.Catalogue, plants []site.Plant) quantity.Money {
	var sum quantity.Money
	for _, plant := range plants {
		sum += plantValue(c, plant)
	}
	return sum
}

// pricing prices the days of a sequence.
type pricing struct {
	model     cohort
	policy    Policy
	start     float64 // insects on the first day
	plants    int
	runCost   float64 // of one more run
	lossMoney float64 // of a case that is not clear at the end: one more run and what the plants lose
	spread    float64 // money for one insect on one day
	days      []int   // of the whole sequence on its ideal days, made ones first, from its first day on
	made      int
}

func newPricing(s *story, q *sequence, p *candidate) pricing {
	policy := s.in.Policy
	severity := min(max(s.severity, 0), worstSeverity)
	x := pricing{model: s.modelOf(p).from(q.beganOn), policy: policy, plants: count(q.plants), made: len(q.rounds)}
	x.start = policy.StartPerPlant[severity] * float64(x.plants)
	x.model.most = policy.StartPerPlant[worstSeverity] * float64(x.plants) // a heavy infestation is all that plants carry
	own := applicationCost(policy, s.waysFor(p, q.plants)[0])
	runCost := own * quantity.Money(len(q.rounds))
	for _, round := range q.rounds {
		x.days = append(x.days, round.on.DaysSince(q.beganOn))
		s.killsBy(&x.model, p, round.material)
	}
	for _, one := range q.planned {
		x.days = append(x.days, one.on.DaysSince(q.beganOn))
		if one.by == p {
			runCost += own
		} else {
			runCost += applicationCost(policy, s.waysFor(one.by, q.plants)[0])
		}
		s.killsBy(&x.model, p, one.by.material.ID)
	}
	x.runCost = float64(runCost)
	x.lossMoney = x.runCost + float64(valueOf(s.in.Catalogue, q.plants))*policy.LossShareBySeverity[severity]
	x.spread = policy.SpreadPerInsectDay * float64(valueOf(s.in.Catalogue, s.neighbours))
	return x
}

// killsBy adds to a candidate's model the next application, of a material: what the proof does not count kills nothing. What the
// coverage of any of them misses is taken to be missed by all.
func (s *story) killsBy(model *cohort, p *candidate, material catalogue.MaterialID) {
	by := model.phases
	switch used, known := s.in.Catalogue.Materials[material]; {
	case material == p.material.ID:
	case !known:
		by = nil
	default:
		other := s.modelWith(used, p.hand)
		by, model.missed = other.phases, max(model.missed, other.missed)
	}
	model.kills = append(model.kills, by)
}

// modelWith is the model of a material over the time line of the case.
func (s *story) modelWith(material catalogue.Material, hand *catalogue.Material) cohort {
	m, ok := s.known.cohorts[material.ID]
	if !ok {
		m = s.cohortOf(material, hand, s.caseLine(), s.today())
		s.known.cohorts[material.ID] = m
	}
	return m
}

// end is the model's outcome when all is done on its day.
func (x pricing) end() (outcome, float64) {
	return x.model.run(x.start, x.days, 0), x.model.chance(x.start, x.days, x.plants, x.policy.MostChance)
}

// before is the model's insect-days of a sequence before a day of it.
func (x pricing) before(day int) float64 {
	b := x.model.begin(x.start)
	x.model.live(&b, x.days, day)
	return b.out.insectDays
}

// table prices the begin of an item k days after its earliest day, for k up to length-1, the ideal day being
// ideal days after the earliest. Price of a day: the chance of not being clear at the end that it adds, times
// what that costs, and the insects' spread to neighbours until then; made monotone by its running maximum.
func (x pricing) table(item, ideal, length int) []quantity.Money {
	prices := make([]quantity.Money, length)
	if len(x.days) == 0 {
		return prices
	}
	first, last := x.made+item, x.days[len(x.days)-1]
	on, until := x.days[first], last+length
	// What comes before the item is the same for each of its days, and so is what comes after it, counted from it.
	before := x.model.begin(x.start)
	x.model.live(&before, x.days[:first], on)
	after := x.model.back(make([]float64, len(x.model.start)), x.days, last, on)
	end := func(late int) (insectDays, chance float64) {
		days := slices.Clone(x.days)
		for i := first; i < len(days); i++ {
			days[i] += late
		}
		brood := before.clone()
		x.model.live(&brood, days, until+1)
		gone := slices.Clone(after)
		if on+late > 0 {
			gone, _ = x.model.lines(gone, make([]float64, len(gone)), on+late-1)
			gone = x.model.back(gone, days, on+late-1, 0)
		}
		return brood.out.insectDays, x.model.free(x.start, gone, x.plants, x.policy.MostChance)
	}
	base, baseChance := end(0)
	for k := ideal + 1; k < length; k++ {
		insectDays, chance := end(k - ideal)
		price := max(0, baseChance-chance)*x.lossMoney + max(0, insectDays-base)*x.spread
		prices[k] = max(prices[k-1], quantity.Money(math.Round(min(price, mostMoney))))
	}
	return prices
}

// mostMoney bounds a price so that sums of prices cannot overflow: a hundred million of the currency.
const mostMoney = 1e10

// leftOut is the price of not doing an application at all in its window: a case that is not clear at the end.
func (x pricing) leftOut(prices []quantity.Money) quantity.Money {
	left := quantity.Money(math.Round(min(x.lossMoney, mostMoney)))
	if n := len(prices); n > 0 {
		left = max(left, prices[n-1])
	}
	return left
}

func minutes(n float64) time.Duration {
	return time.Duration(math.Ceil(n*60)) * time.Second
}
