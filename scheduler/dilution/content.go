package dilution

import (
	"fmt"
	"math/big"
	"strings"

	"vernation/scheduler/quantity"
)

// content is what a sheet is about: one of the kinds of filling.
type content interface {
	make(Making) string     // what comes together, in one sentence
	strength(Making) string // beside the label's limits
	steps(Making) []string
	holds() string // on the vessel
	leftover(Making) string
	record(*Sheet) // the exact numbers
}

func (m Making) content() content {
	switch {
	case m.Powder != nil:
		return m.Powder
	case m.Organisms != nil:
		return m.Organisms
	case m.Ready != nil:
		return m.Ready
	case m.InTwo != nil:
		return m.InTwo
	}
	return m.Filling
}

func (f Filling) make(m Making) string {
	return fmt.Sprintf("%v: %s of %s and %v of water.", f.Volume, Fraction(f.Concentrate), m.Product.Name, f.Water)
}

func (f Filling) record(s *Sheet) { s.Filling = f }

func (f Filling) holds() string { return fmt.Sprintf("%v in %v", f.Concentrate, f.Volume) }

func (f Filling) strength(m Making) string { return m.Limits.beside(quantity.Percent(f.Share, 3)) }

// beside writes a strength in percent beside the label's limits.
func (l Limits) beside(percent string) string {
	label := fmt.Sprintf("the label's greatest is %v (%s %%)", *l.Max, quantity.Percent(l.Max.Share(), 3))
	least := fmt.Sprintf("its least %v (%s %%)", *l.Min, quantity.Percent(l.Min.Share(), 3))
	if l.LeastIsOurs {
		label = fmt.Sprintf("the label's one rate is %v (%s %%), taken as the greatest", *l.Max, quantity.Percent(l.Max.Share(), 3))
		least = fmt.Sprintf("the least by the business's policy is %s %%", quantity.Percent(l.Min.Share(), 3))
	}
	return fmt.Sprintf("%s %% of the mix is concentrate; %s, %s.", percent, label, least)
}

func (f Filling) steps(m Making) []string {
	return []string{
		m.Vessel.firstWater(f.Water, f.Volume),
		fmt.Sprintf("Measure %s of %s with the %s%s and pour it in.", Fraction(f.Concentrate), m.Product.Name, f.Measure, f.measures()),
		fmt.Sprintf("Water to the %v mark; %v of water in all.", f.Volume, f.Water),
		agitate,
	}
}

const agitate = "Close the vessel and agitate; agitate again before each use."

// firstWater fills to a mark below the final one, as long as what is added still fits between the two.
func (v Vessel) firstWater(water, volume quantity.Volume) string {
	if below := markBelow(water, v.Marks); below > 0 && atMark(below, v.Marks).Cmp(volume) < 0 {
		return fmt.Sprintf("Water first: fill %s to the %v mark.", v.Name, atMark(below, v.Marks))
	}
	return fmt.Sprintf("Water first: a part of the water into %s, well below the %v mark.", v.Name, volume)
}

// measures says how often the measure is filled, where once is not enough.
func (f Filling) measures() string {
	if f.FullMeasures == 0 || f.FullMeasures == 1 && f.LastMeasure.IsZero() {
		return ""
	}
	full := f.Concentrate.Sub(f.LastMeasure).Times(big.NewRat(1, f.FullMeasures))
	text := fmt.Sprintf(" (%d times to the %s mark", f.FullMeasures, Fraction(full))
	if f.FullMeasures == 1 {
		text = fmt.Sprintf(" (once to the %s mark", Fraction(full))
	}
	if !f.LastMeasure.IsZero() {
		text += fmt.Sprintf(", once to %s", Fraction(f.LastMeasure))
	}
	return text + ")"
}

func (m Making) write(c content) string {
	parts := []string{m.Product.Name}
	if m.Product.Registration != "" {
		parts = append(parts, "registration "+m.Product.Registration)
	}
	if m.Product.Label.SignalWord != "" {
		parts = append(parts, m.Product.Label.SignalWord)
	}
	if _, ready := c.(*Ready); ready {
		return strings.Join(append(parts, m.Technician), "; ")
	}
	parts = append(parts,
		c.holds(),
		"mixed "+m.Zone.Format(m.Begins), "use by "+m.Zone.Format(m.UseBy), m.Technician)
	return strings.Join(parts, "; ")
}

func (f Filling) leftover(m Making) string { return m.leftover(f.Volume, f.Need) }

// leftover says what is left of a mix and where it goes.
func (m Making) leftover(made, need quantity.Volume) string {
	left := Balance(made, need.As(made.Unit()))
	text := fmt.Sprintf("About %s %s or more will be left, %v of it in pump and hose. ",
		quantity.Decimal(left.In(left.Unit()), 1), left.Unit(), m.Vessel.Dead)
	if m.Vessel.Dead.IsZero() {
		text = fmt.Sprintf("About %s %s or more will be left. ", quantity.Decimal(left.In(left.Unit()), 1), left.Unit())
	}
	if left.Sign() <= 0 {
		text = "By the marks nothing will be left; in pump and hose there always is some. "
	}
	if len(m.LeftoverOn) > 0 {
		text += fmt.Sprintf("It may go on %s, within the label's rate, or home in the labelled vessel, ", strings.Join(m.LeftoverOn, ", "))
	} else {
		text += "No plant of this visit is listed for it: it goes home in the labelled vessel, "
	}
	return text + "never back into the product's own container. Rinse water is mix and goes the same way. Nothing goes into a sink, a toilet or a drain."
}
