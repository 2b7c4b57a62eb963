package mayapply

import (
	"fmt"
	"math/big"
	"slices"
	"strconv"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// askAmounts gives what is usual for each plant that is left, the label's limits, and how it is filled or drawn.
func (a *asking) askAmounts() {
	var need quantity.Volume
	for _, p := range a.remaining() {
		amount, known := a.amount(p)
		if !known {
			continue
		}
		a.answer.Amounts = append(a.answer.Amounts, amount)
		need = need.Add(amount.Least.Add(amount.Greatest).Times(big.NewRat(1, 2)))
	}
	a.answer.Need = need.Times(big.NewRat(int64(100+a.Policy.ReservePercent), 100))
	switch {
	case a.Product.Diluted():
		a.askMix()
	case a.Product.Form == catalogue.ReadyToUse && a.Containers == nil:
		a.say(RuleMix, Asks, nil, "look at the date on the container; it is drawn as it stands and never diluted")
	case a.Product.Form == catalogue.ReadyToUse && a.answer.Need.Sign() > 0:
		draws, _, err := dilution.DrawFrom([]quantity.Volume{a.answer.Need}, a.Product.ID, a.day, a.Containers)
		if err != nil {
			a.refuse(RuleMix, "%v", err)
			return
		}
		a.answer.Draws = draws[0]
	}
}

// amount is the usual one for a plant (group): of a spray its height class, of a drench a share of the pot volume and never more
// than the pot, nor than a liner without drain takes by the business's policy. known is false where none is known.
func (a *asking) amount(p Plant) (amount Amount, known bool) {
	count := big.NewRat(int64(p.Count), 1)
	if a.material.Living != nil && a.Product.Label.MaxPortion == nil {
		return a.organisms(p)
	}
	if share := a.material.DrenchShare; share != nil {
		poured := decimal(min(share.Value, 1))
		if held := a.Policy.LinerDrenchPercent; p.Planter == site.Liner && held > 0 {
			poured = least(poured, big.NewRat(int64(held), 100))
		}
		v := p.PotVolume.Times(poured.Mul(poured, count))
		amount := Amount{Plant: p.ID, Least: v, Greatest: v}
		if rate := a.Product.Label.MaxPortion; rate != nil && rate.Counted() {
			n := dilution.PouredOn(p.Plant, v).Portion(*rate)
			amount.GreatestOrganisms = new(big.Int).Quo(n.Num(), n.Denom()).Int64()
			amount.LeastOrganisms = amount.GreatestOrganisms
		}
		return amount, v.Sign() > 0
	}
	sizes := a.material.AmountBySize
	if len(sizes) == 0 {
		return Amount{}, false
	}
	size := sizes[len(sizes)-1]
	for _, class := range sizes {
		if p.HeightCM <= class.UpToHeightCM {
			size = class
			break
		}
	}
	if p.HeightCM > size.UpToHeightCM {
		a.say(RuleMix, Notes, []site.PlantID{p.ID}, "it is taller than any height class: the amount is that of %d cm, and run-off decides", size.UpToHeightCM)
	}
	one := func(millilitres float64) quantity.Volume {
		return quantity.NewVolume(1, 1, quantity.Millilitre).Times(new(big.Rat).Mul(decimal(millilitres), count))
	}
	return Amount{Plant: p.ID, Least: one(size.Millilitres.Near), Greatest: one(size.Millilitres.Far)}, true
}

// organisms are those for a plant (group): so many for a litre of its medium, rounded up, or so many for each plant.
func (a *asking) organisms(p Plant) (amount Amount, known bool) {
	living := a.material.Living
	switch {
	case living.PerLitre != nil:
		litres := p.PotVolume.Times(big.NewRat(int64(p.Count), 1)).In(quantity.Litre)
		n := ceiling(litres.Mul(litres, decimal(living.PerLitre.Value)))
		return Amount{Plant: p.ID, LeastOrganisms: n, GreatestOrganisms: n}, n > 0
	case living.PerPlant != nil:
		each := func(value float64) int64 {
			return ceiling(new(big.Rat).Mul(decimal(value), big.NewRat(int64(p.Count), 1)))
		}
		return Amount{Plant: p.ID, LeastOrganisms: each(living.PerPlant.Near), GreatestOrganisms: each(living.PerPlant.Far)}, true
	}
	return Amount{}, false
}

func least(a, b *big.Rat) *big.Rat {
	if b.Cmp(a) < 0 {
		return b
	}
	return a
}

func ceiling(r *big.Rat) int64 {
	whole, rest := new(big.Int).QuoRem(r.Num(), r.Denom(), new(big.Int))
	if rest.Sign() > 0 {
		return whole.Int64() + 1
	}
	return whole.Int64()
}

// askMix gives the label's limits, narrowed by the approval, and the first vessel that holds the need within them.
func (a *asking) askMix() {
	if a.Product.Form != catalogue.Concentrate {
		a.askPortion()
		return
	}
	limits, err := dilution.LabelLimits(a.Product, a.Policy.LeastRatePercent)
	if err != nil {
		a.refuse(RuleMix, "%v", err)
		return
	}
	if a.Approval != nil && a.Approval.MaxRate != nil && a.Approval.MaxRate.Cmp(*limits.Max) < 0 {
		limits.Max = a.Approval.MaxRate
	}
	a.answer.Limits = &limits
	if limits.Min.Cmp(*limits.Max) > 0 {
		a.refuse(RuleMix, "the approval ends at %v, under the least rate of %v", *limits.Max, *limits.Min)
		return
	}
	if a.answer.Need.Sign() <= 0 || len(a.Vessels) == 0 {
		return
	}
	var refused error
	for _, v := range a.Vessels {
		if !slices.Contains(v.Methods, a.material.Method) {
			continue
		}
		filling, err := dilution.Fill(a.answer.Need, limits, v, a.Measures)
		if err == nil {
			a.answer.Filling, a.answer.Vessel = &filling, v.Name
			return
		}
		if refused == nil {
			refused = err
		}
	}
	if refused == nil {
		a.refuse(RuleMix, "no vessel at hand applies by %s", spaced(a.material.Method))
		return
	}
	a.refuse(RuleMix, "%v", refused)
}

// askPortion does the same for what is weighed or counted. An approval bounds the label's rate only of what is poured.
func (a *asking) askPortion() {
	var on []dilution.Poured
	for _, p := range a.remaining() {
		if amount, known := a.amount(p); known {
			on = append(on, dilution.PouredOn(p.Plant, amount.Greatest))
		}
	}
	dosing, err := dilution.LabelDosing(a.Product, a.Policy.LeastRatePercent, on)
	if err != nil {
		a.refuse(RuleMix, "%v", err)
		return
	}
	a.answer.Dosing = &dosing
	if a.answer.Need.Sign() <= 0 || len(a.Vessels) == 0 {
		return
	}
	refused := fmt.Errorf("no vessel at hand applies by %s", spaced(a.material.Method))
	for _, v := range a.Vessels {
		if !slices.Contains(v.Methods, a.material.Method) {
			continue
		}
		batch, err := dosing.Fill(a.answer.Need, v, dilution.Kit{Scales: a.Scales, Packs: a.Product.Packs})
		if err == nil {
			a.answer.Batch, a.answer.Vessel = &batch, v.Name
			return
		}
		refused = err
	}
	a.refuse(RuleMix, "%v", refused)
}

// decimal is the number as it is written in the data, not its binary neighbour.
func decimal(value float64) *big.Rat {
	r, ok := new(big.Rat).SetString(strconv.FormatFloat(value, 'f', -1, 64))
	if !ok {
		panic("mayapply: a figure of the catalogue is no number")
	}
	return r
}
