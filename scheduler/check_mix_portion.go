package scheduler

import (
	"fmt"
	"math/big"
	"slices"

	"vernation/scheduler/quantity"
)

// portionDosed judges, for the rule mix, how a product that is weighed or counted came into its mix: whole steps of a scale of
// the technician, or whole parts of a pack of the product.
func (c *checker) portionDosed(r *routeIn, m *Mix, at Violation, product *Product) {
	if product.Label.MaxPortion.Organisms > 0 {
		k := slices.IndexFunc(product.Packs, func(p Pack) bool { return p.Name == m.Measure })
		switch {
		case m.Concentrate.Sign() != 0 || m.Mass.Sign() != 0:
			c.report(RuleMix, at, "the mix of %s takes %v and %v: it is counted, and neither poured nor weighed", product.Name, m.Concentrate, m.Mass)
		case k < 0:
			c.report(RuleMix, at, "the mix of %s is dosed from pack %q, in which it does not come", product.Name, m.Measure)
		case m.Organisms <= 0 || m.Organisms*product.Packs[k].Parts%product.Packs[k].Organisms != 0:
			c.report(RuleMix, at, "the mix of %s takes %d organisms: %s holds %d, parted by sight into %d at most", product.Name, m.Organisms, m.Measure,
				product.Packs[k].Organisms, product.Packs[k].Parts)
		}
		return
	}
	k := slices.IndexFunc(r.tech.Scales, func(s Scale) bool { return s.Name == m.Measure })
	switch {
	case m.Concentrate.Sign() != 0 || m.Organisms != 0:
		c.report(RuleMix, at, "the mix of %s takes %v and %d organisms: it is weighed, and neither poured nor counted", product.Name, m.Concentrate, m.Organisms)
	case k < 0:
		c.report(RuleMix, at, "the mix of %s is weighed with %q, which %s does not have", product.Name, m.Measure, r.tech.Name)
	case m.Mass.Sign() <= 0 || r.tech.Scales[k].Marks.Sign() <= 0 || !new(big.Rat).Quo(m.Mass.Grams(), r.tech.Scales[k].Marks.Grams()).IsInt():
		c.report(RuleMix, at, "the mix of %s takes %v: %s shows steps of %v", product.Name, m.Mass, m.Measure, r.tech.Scales[k].Marks)
	}
}

// portionLawful: what is weighed or counted lies within the label. Where the label speaks of a volume of mix, the mix is
// judged; where it speaks of pots or soil, what each plant gets of it: its dose of the mix, and what is in that.
func (c *checker) portionLawful(at Violation, m *Mix, product *Product, uses []*placed) {
	most := product.Label.MaxPortion
	if m.Volume.Sign() <= 0 {
		c.report(RuleMix, at, "the mix of %s has no volume: its label cannot be judged", product.Name)
		return
	}
	inMix := m.Mass.Grams()
	if most.Organisms > 0 {
		inMix = new(big.Rat).SetInt64(m.Organisms)
	}
	if most.PerMix.Sign() > 0 {
		litres := new(big.Rat).Quo(m.Volume.Millilitres(), big.NewRat(1_000, 1))
		c.portionWithin(at, product, inMix, litres, "its "+m.Volume.String()+" of mix")
		return
	}
	for _, w := range uses {
		for _, dose := range w.Use.Doses {
			plant := c.plants[dose.Plant]
			if plant == nil {
				continue // which is told as a plant that is not there
			}
			gets := new(big.Rat).Mul(inMix, new(big.Rat).Quo(dose.Amount.Millilitres(), m.Volume.Millilitres()))
			size, of := new(big.Rat).Quo(plant.Plant.PotVolume.Millilitres(), big.NewRat(1_000, 1)), "the pots of "
			if most.PerSurface.Sign() > 0 {
				size, of = plant.Plant.SoilSurface.SquareMetres(), "the soil of "
			}
			size.Mul(size, big.NewRat(int64(plant.Plant.Count), 1))
			c.portionWithin(at, product, gets, size, of+string(dose.Plant))
		}
	}
}

// portionWithin compares an amount in grams or organisms with what the label allows for so many litres or square metres.
func (c *checker) portionWithin(at Violation, product *Product, amount, size *big.Rat, of string) {
	greatest := allowed(product.Label.MaxPortion, size)
	least := new(big.Rat).Mul(greatest, big.NewRat(int64(c.p.Rules.LeastRatePercent), 100))
	if product.Label.MinPortion != nil {
		least = allowed(product.Label.MinPortion, size)
	}
	if amount.Cmp(least) >= 0 && amount.Cmp(greatest) <= 0 {
		return
	}
	unit := "g"
	if product.Label.MaxPortion.Organisms > 0 {
		unit = "organisms"
	}
	c.report(RuleMix, at, "the mix of %s gives %s %s: the label allows %s to %s %s", product.Name, of, amountText(amount, unit),
		quantity.Decimal(least, 3), quantity.Decimal(greatest, 3), unit)
}

func amountText(amount *big.Rat, unit string) string {
	return fmt.Sprintf("%s %s", quantity.Decimal(amount, 3), unit)
}

// allowed is what a rate of the label gives for so many litres of mix or pot, or square metres of soil.
func allowed(rate *quantity.PortionRate, size *big.Rat) *big.Rat {
	amount := rate.Mass.Grams()
	if rate.Organisms > 0 {
		amount = new(big.Rat).SetInt64(rate.Organisms)
	}
	millilitres := rate.PerMix.Add(rate.PerPot).Millilitres()
	per := new(big.Rat).Quo(millilitres, big.NewRat(1_000, 1))
	per.Add(per, rate.PerSurface.SquareMetres())
	if per.Sign() <= 0 {
		return new(big.Rat)
	}
	return new(big.Rat).Mul(new(big.Rat).Quo(amount, per), size)
}
