package course

import (
	"fmt"
	"math"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// What a plant got in any case counts for it: caps, lags, rotation and incompatibility are the plant's, not the case's.

const daysOfYear = 365

// group is a candidate's mode-of-action group: the label's, else the material's; "" does not rotate.
func (p *candidate) group() string {
	if p.product.Label.ModeOfAction != "" {
		return p.product.Label.ModeOfAction
	}
	return p.material.ModeOfAction
}

// groupOf is the mode-of-action group of an application, "" where it has none.
func (s *story) groupOf(m made) string {
	if product, ok := s.productOf(m.product); ok && product.Label.ModeOfAction != "" {
		return product.Label.ModeOfAction
	}
	return s.in.Catalogue.Materials[m.material].ModeOfAction
}

// isOf says whether an application counts in a row with a candidate: it is of its material or of its group.
func (s *story) isOf(m made, p *candidate) bool {
	group := p.group()
	return m.material == p.material.ID && m.material != "" || group != "" && s.groupOf(m) == group
}

// inRow counts the latest of some applications of a candidate's group to a plant without another product between them; work
// without a product does not break a row.
func (s *story) inRow(uses []made, p *candidate, plant site.PlantID) int {
	n := 0
	for _, m := range slices.Backward(uses) {
		if m.product == "" || !slices.Contains(m.plants, plant) {
			continue
		}
		if !s.isOf(m, p) {
			break
		}
		n++
	}
	return n
}

// inYear counts those of some applications that put a candidate's material on a plant in the year that ends on a day.
func inYear(uses []made, p *candidate, plant site.PlantID, on civil.Date) int {
	n := 0
	for _, m := range uses {
		if m.product != "" && m.material == p.material.ID && slices.Contains(m.plants, plant) && on.DaysSince(m.on) < daysOfYear {
			n++
		}
	}
	return n
}

// capsBar says why the label's caps keep a candidate off a plant on a day after some applications, or "".
func (s *story) capsBar(uses []made, p *candidate, plant site.PlantID, on civil.Date) string {
	label := p.product.Label
	if p.product.ID == "" {
		return ""
	}
	if n := s.inRow(uses, p, plant); label.MostInRow > 0 && n >= label.MostInRow {
		return fmt.Sprintf("the label allows %s in a row and %d were made", plural(label.MostInRow, "application"), n)
	}
	if n := inYear(uses, p, plant, on); label.MostAYear > 0 && n >= label.MostAYear {
		return fmt.Sprintf("the label allows %s a year and %d were made", plural(label.MostAYear, "application"), n)
	}
	return ""
}

// generation is how many days a brood takes from egg to egg at the usual temperature.
func (s *story) generation() int {
	days := 0.0
	for _, stretch := range s.known.pacesOf(s.pest)(s.season().Usual, usual) {
		if !stretch.lays {
			days += stretch.days
		}
	}
	if days < 1 || math.IsInf(days, 1) || math.IsNaN(days) {
		return daysOfYear
	}
	return int(math.Ceil(days))
}

// turn is when a group was used on the plants of the case: groups alternate between generations.
type turn struct {
	began civil.Date // of the generation in which it was used
	ends  civil.Date // first day of the next generation, in which another group should be used
	until civil.Date // first day of the generation after that
}

// turnOf is the latest turn of a candidate's group on some plants; ok is false where it has no group or was not used.
func (s *story) turnOf(uses []made, p *candidate, plants []site.Plant) (t turn, ok bool) {
	if p.group() == "" {
		return turn{}, false
	}
	days := s.generation()
	for _, m := range uses {
		if s.groupOf(m) != p.group() || !meetsPlants(m, plants) {
			continue
		}
		if !ok || m.on >= t.ends {
			t, ok = turn{m.on, m.on.AddDays(days), m.on.AddDays(2 * days)}, true
		}
	}
	return t, ok
}

// rests says whether a candidate's group was used on some plants in the generation before a day, so that another should be used.
func (s *story) rests(uses []made, p *candidate, plants []site.Plant, on civil.Date) bool {
	t, ok := s.turnOf(uses, p, plants)
	return ok && t.ends <= on && on < t.until
}

// rest marks the candidates whose group was used in the generation before their next application and beside which another
// that suits as well is lawful.
func (s *story) rest(lawful []*candidate) {
	for _, p := range lawful {
		p.resting = s.rests(s.made, p, s.plants, p.next) && s.alternate(p, lawful) != nil
	}
}

// alternate is the first of some candidates that may take a turn of another one's, nil without any.
func (s *story) alternate(p *candidate, others []*candidate) *candidate {
	for _, other := range others {
		if s.mayTurn(p, p, other) {
			return other
		}
	}
	return nil
}

// adviseRotation says what rotation asks for, and whether it can be kept.
func (s *story) adviseRotation(c *Course, p *candidate, others []*candidate) {
	if p.group() == "" {
		return
	}
	other := s.alternate(p, others)
	switch {
	case slices.ContainsFunc(p.sequences, func(q *sequence) bool { return len(q.turns()) > 0 }):
		// The sequence turns by itself, and says where.
	case s.rests(s.made, p, s.plants, p.next):
		t, _ := s.turnOf(s.made, p, s.plants)
		c.Advice = append(c.Advice, fmt.Sprintf("group %s was used in the generation from %s: another should be used until %s, and none is lawful here; the responsible applicator decides",
			p.group(), t.began.Short(), t.until.Short()))
	case other == nil:
		c.Advice = append(c.Advice, fmt.Sprintf("%s is of group %s; groups rotate between generations (%s at the usual temperature) and no other that suits is lawful here: record another product",
			p.material.Name, p.group(), plural(s.generation(), "day")))
	default:
		from := s.today().AddDays(s.generation())
		if t, used := s.turnOf(s.made, p, s.plants); used && t.ends > s.today() {
			from = t.ends
		}
		c.Advice = append(c.Advice, fmt.Sprintf("%s is of group %s; groups rotate between generations (%s at the usual temperature): if it goes on beyond %s, next would be %s",
			p.material.Name, p.group(), plural(s.generation(), "day"), from.Short(), other.material.Name))
	}
}

// apart is how many days a candidate keeps from an application, whichever came first: the label's least days of the same
// material, and what either label asks for between the two.
func (s *story) apart(p *candidate, m made) (days int, why string) {
	if m.material == p.material.ID {
		days = p.leastDays()
	}
	worse := func(all []catalogue.Incompatible, other catalogue.MaterialID, by string) {
		for _, bad := range all {
			if bad.Material == other && other != "" && bad.Days > days {
				days = bad.Days
				why = fmt.Sprintf("%s and %s keep %s apart, %s", p.material.Name, s.in.Catalogue.Materials[m.material].Name, plural(bad.Days, "day"), by)
			}
		}
	}
	for _, c := range p.material.Incompatible {
		if c.Material == m.material && c.Order != catalogue.Before {
			worse([]catalogue.Incompatible{{Material: m.material, Days: wholeDays(c.Days.Value)}}, m.material, c.Why)
		}
	}
	used := s.in.Catalogue.Materials[m.material]
	for _, c := range used.Incompatible {
		if c.Material == p.material.ID && c.Order != catalogue.After {
			worse([]catalogue.Incompatible{{Material: p.material.ID, Days: wholeDays(c.Days.Value)}}, p.material.ID, c.Why)
		}
	}
	if used.ResidualDays != nil && p.isLiving() {
		worse([]catalogue.Incompatible{{Material: m.material, Days: wholeDays(used.ResidualDays.Far)}}, m.material, "what is left of it harms what is released")
	}
	worse(p.product.Label.Incompatible, m.material, "by the label")
	if product, ok := s.productOf(m.product); ok {
		worse(product.Label.Incompatible, p.material.ID, "by the label")
		if m.material == p.material.ID {
			days = max(days, product.Label.LeastDays)
		}
	}
	return days, why
}

// wholeDays rounds a length in days up: a wait is never cut short.
func wholeDays(days float64) int { return int(math.Ceil(days)) }

// isLiving says whether a candidate's goods are alive when they are used.
func (p *candidate) isLiving() bool {
	return p.material.Living != nil || p.product.Form == catalogue.Living
}

// adviseApart says which earlier application holds the next one up, where it is more than the label's own lag.
func (s *story) adviseApart(c *Course, p *candidate) {
	for _, m := range s.made {
		days, why := s.apart(p, m)
		if why != "" && m.on.AddDays(days) > s.today() && meetsPlants(m, s.plants) {
			c.Advice = append(c.Advice, fmt.Sprintf("not before %s: %s, and it was used on %s", m.on.AddDays(days).Short(), why, m.on.Short()))
		}
	}
}
