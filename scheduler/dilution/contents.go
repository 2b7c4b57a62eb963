package dilution

import (
	"fmt"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// Powder is a weighed filling with the label's limits.
type Powder struct {
	PowderFilling
	Limits WeightLimits
}

func (p *Powder) make(m Making) string {
	return fmt.Sprintf("%v: %s of %s in water to the mark.", p.Volume, Weight(p.Powder), m.Product.Name)
}

func (p *Powder) record(s *Sheet) { s.Powder = &p.PowderFilling }

func (p *Powder) holds() string { return fmt.Sprintf("%v in %v", p.Powder, p.Volume) }

func (p *Powder) strength(Making) string {
	perLitre := func(r quantity.WeightRate) string {
		return quantity.Decimal(r.GramsPerLitre(), 3) + " g/L"
	}
	made := quantity.WeightRate{Mass: p.Powder, Per: p.Volume}
	if p.Limits.LeastIsOurs {
		return fmt.Sprintf("%s; the label's one rate is %v (%s), taken as the greatest, the least by the business's policy is %s.",
			perLitre(made), p.Limits.Max, perLitre(p.Limits.Max), perLitre(p.Limits.Min))
	}
	return fmt.Sprintf("%s; the label's greatest is %v (%s), its least %v (%s).", perLitre(made),
		p.Limits.Max, perLitre(p.Limits.Max), p.Limits.Min, perLitre(p.Limits.Min))
}

func (p *Powder) steps(m Making) []string {
	times := ""
	if p.Weighings > 1 {
		times = fmt.Sprintf(" in %d weighings", p.Weighings)
	}
	return []string{
		m.Vessel.firstWater(p.Volume.Sub(m.Vessel.Marks), p.Volume),
		fmt.Sprintf("Set the %s to zero with its dish. Weigh %s of %s%s, out of the draught; keep the dust from face and eyes.", p.Scale, Weight(p.Powder), m.Product.Name, times),
		"Stir it to a paste with a little of the water in a labelled cup that is used for nothing else, and pour it in; rinse the cup into the vessel.",
		fmt.Sprintf("Water to the %v mark.", p.Volume),
		agitate + " Powder settles.",
	}
}

func (p *Powder) leftover(m Making) string { return m.leftover(p.Volume, p.Need) }

// Weight writes a mass as it is read off a scale: at most three decimals, grams beside ounces and pounds.
func Weight(m quantity.Mass) string {
	if m.Unit() == quantity.AvoirdupoisOunce || m.Unit() == quantity.Pound {
		return fmt.Sprintf("%v (%s g)", m, quantity.Decimal(m.Grams(), 1))
	}
	return m.String()
}

// Organisms is a counted filling with the label's limits.
type Organisms struct {
	OrganismFilling
	Limits OrganismLimits
}

func (o *Organisms) make(m Making) string {
	return fmt.Sprintf("%v: %s of %s (%s), %s organisms, in water to the mark.", o.Volume, o.Packs(), m.Product.Name, o.Pack, quantity.Thousands(o.Organisms))
}

func (o *Organisms) record(s *Sheet) { s.Organisms = &o.OrganismFilling }

func (o *Organisms) holds() string {
	return fmt.Sprintf("%s organisms in %v", quantity.Thousands(o.Organisms), o.Volume)
}

func (o *Organisms) strength(Making) string {
	made := quantity.OrganismRate{Organisms: o.OrganismFilling.Organisms, Per: o.Volume}
	perLitre := func(r quantity.OrganismRate) string { return quantity.Thousands(floor(r.PerLitre())) }
	if o.Limits.Label != "" {
		label := "greatest is " + o.Limits.Label
		if o.Limits.LeastIsOurs {
			label = "one rate is " + o.Limits.Label + ", taken as the greatest, with the least by the business's policy"
		}
		return fmt.Sprintf("about %s organisms a litre; for these plants right is %s at most and %s at least: the label's %s, by what each pot gets.",
			perLitre(made), perLitre(o.Limits.Max), perLitre(o.Limits.Min), label)
	}
	if o.Limits.LeastIsOurs {
		return fmt.Sprintf("about %s organisms a litre; the label's one rate is %s, taken as the greatest, the least by the business's policy is %s.",
			perLitre(made), perLitre(o.Limits.Max), perLitre(o.Limits.Min))
	}
	return fmt.Sprintf("about %s organisms a litre; the label's greatest is %s, its least %s.", perLitre(made), perLitre(o.Limits.Max), perLitre(o.Limits.Min))
}

func (o *Organisms) steps(m Making) []string {
	return []string{
		"Look at the pack's date and how it was kept; a pack that is late, warm or smells is not used.",
		fmt.Sprintf("Water first, neither warm nor from a softener: a part of the water into %s, well below the %v mark.", m.Vessel.Name, o.Volume),
		fmt.Sprintf("Stir %s of %s into a little water, pour it in and rinse the pack into the vessel.", o.Packs(), m.Product.Name),
		fmt.Sprintf("Water to the %v mark. Take fine filters out of pump and nozzle.", o.Volume),
		"Agitate gently all the time: they sink. Use it at once, on wet soil, out of the sun.",
	}
}

func (o *Organisms) leftover(m Making) string {
	return m.leftover(o.Volume, o.Need) + " What is left of an opened pack keeps only as long as its label says."
}

// Ready is a product that is drawn ready to use from its containers, and when these may be used at the latest.
type Ready struct {
	Need    quantity.Volume
	Draws   []Draw
	LastDay civil.Date // the earliest of the containers'
}

func (r *Ready) make(m Making) string {
	return fmt.Sprintf("%v of %s, ready to use: nothing is added to it.", r.Need, m.Product.Name)
}

// record also takes out what a sheet says of mixing.
func (r *Ready) record(s *Sheet) {
	s.Ready = r.Draws
	s.Where = "Nothing is mixed. Pour where a spill can be wiped up; never in a kitchen, a toilet, a food area or at a hand basin."
	s.Water = "No water is added."
	s.UseBy = fmt.Sprintf("%v, the earliest date of the containers.", r.LastDay)
	s.Write = fmt.Sprintf("On any other vessel that it is poured into: %s; %s.", s.Write, r.holds())
}

func (r *Ready) holds() string { return fmt.Sprintf("ready to use, until %v", r.LastDay) }

func (r *Ready) strength(Making) string {
	return "As it stands in the container. It is never diluted and never made stronger."
}

func (r *Ready) steps(m Making) []string {
	steps := []string{"Look at the date on each container; one that is late is not used."}
	for _, d := range r.Draws {
		steps = append(steps, fmt.Sprintf("Draw %v from container %s.", d.Amount, d.Container))
	}
	if m.Vessel.Name == "" {
		return append(steps, "Apply from the container itself. Close it after each use.")
	}
	return append(steps, fmt.Sprintf("Into %s, clean and dry. Close the container.", m.Vessel.Name))
}

func (r *Ready) leftover(Making) string {
	return "What is in the container stays in it, closed and upright, until its date. What was poured into another vessel goes onto plants that the label allows or home in that vessel, labelled; " +
		"never back into the container. Rinse water goes the same way. Nothing goes into a sink, a toilet or a drain."
}

// InTwo is a dilution through a stock, and the vessel of the stock.
type InTwo struct {
	TwoStep
	StockVessel Vessel
}

func (t *InTwo) make(m Making) string {
	return fmt.Sprintf("%v in two steps: a stock of %s of %s in %v, then %s of that stock and %v of water.", t.Filling.Volume,
		Fraction(t.Stock.Concentrate), m.Product.Name, t.Stock.Volume, Fraction(t.Filling.Concentrate), t.Filling.Water)
}

func (t *InTwo) record(s *Sheet) { s.InTwo, s.Filling = &t.TwoStep, t.Filling }

func (t *InTwo) holds() string {
	return fmt.Sprintf("%v of a stock of %v in %v, in %v", t.Filling.Concentrate, t.Stock.Concentrate, t.Stock.Volume, t.Filling.Volume)
}

func (t *InTwo) strength(m Making) string { return m.Limits.beside(quantity.Percent(t.Share, 4)) }

func (t *InTwo) steps(m Making) []string {
	return []string{
		"Stock: " + t.StockVessel.firstWater(t.Stock.Water, t.Stock.Volume),
		fmt.Sprintf("Measure %s of %s with the %s%s, pour it in and rinse the %s into the stock vessel; water to the %v mark; close and agitate. Write on it: stock, %s, %v in %v.",
			Fraction(t.Stock.Concentrate), m.Product.Name, t.Stock.Measure, t.Stock.measures(), t.Stock.Measure, t.Stock.Volume, m.Product.Name, t.Stock.Concentrate, t.Stock.Volume),
		m.Vessel.firstWater(t.Filling.Water, t.Filling.Volume),
		fmt.Sprintf("Measure %s of the stock with the %s%s and pour it in.", Fraction(t.Filling.Concentrate), t.Filling.Measure, t.Filling.measures()),
		fmt.Sprintf("Water to the %v mark.", t.Filling.Volume),
		agitate,
	}
}

func (t *InTwo) leftover(m Making) string {
	rest := t.Stock.Volume.Sub(t.Filling.Concentrate)
	return fmt.Sprintf("%v of the stock is left: it is stronger than the mix, goes on no plant as it is, and is used within the mix life for another filling or goes home in its labelled vessel. %s",
		rest, m.leftover(t.Filling.Volume, t.Filling.Need))
}
