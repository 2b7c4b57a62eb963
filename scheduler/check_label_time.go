package scheduler

import (
	"cmp"
	"fmt"
	"slices"

	"vernation/scheduler/civil"
)

// applied is one application to one plant, real or planned; work is nil for those of the plant's history.
type applied struct {
	product  *Product // nil when the Problem does not hold it
	material MaterialID
	group    string
	on       civil.Date // in the site's zone
	began    civil.Instant
	work     *placed
	fact     bool
}

// yearDays is the stretch in which the applications of a year are counted: so many days up to and with the last one.
const yearDays = 365

// labelOverTime judges, plant by plant over all its cases, what a label says of repeated applications: least days
// between two of one material, most in a row, most a year, and the days between incompatible materials. Breaches of
// one application are told once with all their plants.
func (c *checker) labelOverTime() {
	type telling struct {
		work *placed
		text string
	}
	var order []telling
	plants, standing := map[telling][]PlantID{}, map[telling]bool{}
	for i := range c.p.Plants {
		series := c.seriesOf(&c.p.Plants[i])
		for k := range series {
			for _, wrong := range overTime(series, k) {
				t := telling{series[k].work, wrong.text}
				if plants[t] == nil {
					order = append(order, t)
					standing[t] = true
				}
				plants[t] = append(plants[t], c.p.Plants[i].Plant.ID)
				standing[t] = standing[t] && wrong.standing
			}
		}
	}
	for _, t := range order {
		at := t.work.where()
		at.Standing = standing[t]
		c.report(RuleLabel, at, "%s on %s: %s", t.work.Item, list(plants[t]), t.text)
	}
}

// seriesOf lists the applications to a plant by beginning: those of its history, and those of the plan but what the
// history already tells of a visit that was begun or done.
func (c *checker) seriesOf(plant *PlantState) []applied {
	var series []applied
	zone := c.zoneOf(c.sites[plant.Plant.Site])
	for _, a := range plant.Applied {
		series = append(series, applied{c.products[a.Product], a.Material, a.Group, zone.DateOf(a.Began), a.Began, nil, true})
	}
	for _, w := range c.work {
		if !w.applies() || !slices.Contains(w.Plants, plant.Plant.ID) {
			continue
		}
		product := c.products[w.Use.Product]
		if product == nil || w.visit.fact && toldOf(plant, w) {
			continue
		}
		series = append(series, applied{product, product.Material, product.Label.ModeOfAction, zone.DateOf(w.Begins), w.Begins, w, w.visit.fact})
	}
	slices.SortStableFunc(series, func(a, b applied) int { return cmp.Compare(a.began, b.began) })
	return series
}

// toldOf says whether the plant's history holds the application of a fixed visit.
func toldOf(plant *PlantState, w *placed) bool {
	visit := span{From: w.visit.Arrives, To: w.visit.Leaves}
	return slices.ContainsFunc(plant.Applied, func(a Applied) bool {
		return a.Product == w.Use.Product && overlap(visit, span{From: a.Began, To: max(a.Ended, a.Began+1)})
	})
}

// wrongOverTime is what is wrong with an application in view of others; standing when all of them are facts.
type wrongOverTime struct {
	text     string
	standing bool
}

// overTime says what is wrong with the k-th application of a series in view of the others. A breach is told at the later
// of two planned ones; where the later is history it is told at the planned one. History alone is not judged here.
func overTime(series []applied, k int) []wrongOverTime {
	this := series[k]
	if this.work == nil || this.product == nil {
		return nil
	}
	var wrong []wrongOverTime
	for n, other := range series {
		if n == k || n > k && other.work != nil {
			continue
		}
		first, second := other, this
		if n > k {
			first, second = this, other
		}
		for _, text := range tooSoon(first, second) {
			wrong = append(wrong, wrongOverTime{text, this.fact && other.fact})
		}
	}
	if row, facts := inRow(series, k); this.product.Label.MostInRow > 0 && row > this.product.Label.MostInRow {
		wrong = append(wrong, wrongOverTime{fmt.Sprintf("it is number %d in a row of %s, whose label allows %d: groups rotate", row, this.product.Name, this.product.Label.MostInRow), facts})
	}
	if count, facts := inYear(series, k); this.product.Label.MostAYear > 0 && count > this.product.Label.MostAYear {
		wrong = append(wrong, wrongOverTime{fmt.Sprintf("it is number %d of %s within %d days, whose label allows %d a year", count, this.product.Name, yearDays, this.product.Label.MostAYear), facts})
	}
	return wrong
}

// tooSoon compares two applications, the earlier first: the least days of the label of one material, and the days that
// either label asks for between incompatible ones.
func tooSoon(first, second applied) []string {
	days := second.on.DaysSince(first.on)
	var wrong []string
	if first.material == second.material {
		least := 0
		for _, p := range []*Product{first.product, second.product} {
			if p != nil {
				least = max(least, p.Label.LeastDays)
			}
		}
		if days < least {
			wrong = append(wrong, fmt.Sprintf("%d days lie between the applications of %s on %v and %v, the label asks for %d", days, second.material, first.on, second.on, least))
		}
	}
	apart := max(incompatible(first.product, second.material), incompatible(second.product, first.material))
	if days < apart {
		wrong = append(wrong, fmt.Sprintf("%s on %v and %s on %v are incompatible within %d days, %d lie between", first.material, first.on, second.material, second.on, apart, days))
	}
	return wrong
}

func incompatible(p *Product, with MaterialID) int {
	days := 0
	if p != nil {
		for _, i := range p.Label.Incompatible {
			if i.Material == with {
				days = max(days, i.Days)
			}
		}
	}
	return days
}

// inRow counts the applications in a row up to the k-th, and says whether all of them are facts. Groups rotate: a row
// goes on with the same material or with another one of the same mode-of-action group, and only another group (or an
// unclassified material) ends it. It is never counted by product: another product of the material or of the group goes
// on with the row, for resistance is to the mode of action and not to the name on the container. Devices, living things
// and physical work are not counted and do not end a row.
func inRow(series []applied, k int) (row int, facts bool) {
	this, facts := series[k], true
	for n := k; n >= 0; n-- {
		a := series[n]
		if n < k && a.product != nil && !onPlants(a.product) {
			continue
		}
		if a.material != this.material && (this.group == "" || a.group != this.group) {
			break
		}
		row++
		facts = facts && a.fact
	}
	return row, facts
}

// inYear counts the applications of the material within a year's days up to the k-th, and says whether all are facts.
func inYear(series []applied, k int) (count int, facts bool) {
	this, facts := series[k], true
	for _, a := range series[:k+1] {
		if a.material == this.material && this.on.DaysSince(a.on) < yearDays {
			count++
			facts = facts && a.fact
		}
	}
	return count, facts
}
