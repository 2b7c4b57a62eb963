package casework

import (
	"cmp"
	"fmt"
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// yearDays is the stretch in which the applications of a label's year are counted: so many days up to and with the last.
const yearDays = 365

// dated is one application to a plant in a series, by beginning.
type dated struct {
	product catalogue.Product
	began   civil.Instant
	on      civil.Date
	this    bool // the one that is judged
}

// labelOverTime judges, plant by plant over all its cases, what labels say of repeated applications: least days between
// two of one material, days between incompatible ones, most in a row and most a year. Reports come in any order: the
// others may have been made later. What is wrong in the same way on several plants is told once.
func (t *telling) labelOverTime(a application) {
	var told []string
	for _, plant := range a.plants {
		series := t.series(a, plant.ID)
		k := slices.IndexFunc(series, func(d dated) bool { return d.this })
		wrong := tooSoon(series, k)
		if most := a.product.Label.MostInRow; most > 0 {
			if row := inRow(series, k); row > most {
				wrong = append(wrong, fmt.Sprintf("%s makes %d applications in a row; its label allows %d: groups rotate", a.product.Name, row, most))
			}
		}
		if most := a.product.Label.MostAYear; most > 0 {
			if count := inYear(series, k); count > most {
				wrong = append(wrong, fmt.Sprintf("%s makes %d applications within %d days; its label allows %d a year", a.product.Name, count, yearDays, most))
			}
		}
		for _, text := range wrong {
			if !slices.Contains(told, text) {
				told = append(told, text)
				t.breach(a, scheduler.RuleLabel, "%s", text)
			}
		}
	}
}

// series lists the applications to a plant, over all cases of the site and with those of this report, by beginning. One
// that is told for two cases at once is one.
func (t *telling) series(a application, id site.PlantID) []dated {
	all := []dated{{a.product, a.Began, a.on, true}}
	add := func(product catalogue.ProductID, began civil.Instant) {
		p, known := t.product(product)
		told := slices.ContainsFunc(all, func(d dated) bool { return d.product.ID == product && d.began == began })
		if known && !told {
			all = append(all, dated{p, began, t.site.Zone.DateOf(began), false})
		}
	}
	for _, h := range t.around {
		for _, e := range h.Events {
			if made := e.Application; made != nil && t.met(made.Plants, made.Began, id, a.Began) {
				add(made.Product, made.Began)
			}
		}
	}
	for _, item := range t.report.Items {
		if item.Application != nil && slices.Contains(t.plantsOf(item), id) {
			add(item.Application.Product, item.Began)
		}
	}
	slices.SortStableFunc(all, func(x, y dated) int { return cmp.Compare(x.began, y.began) })
	return all
}

// ofThisReport says whether an event was told by this report or by the one that it corrects.
func (t *telling) ofThisReport(e course.Event) bool {
	from := reportOf(e.ID)
	return from != "" && (from == t.report.ID || from == t.report.Corrects)
}

// tooSoon says what lies too near to the k-th application of a series. Of one material the next before and the next
// after count; what is incompatible counts wherever it lies.
func tooSoon(series []dated, k int) []string {
	var wrong []string
	this := series[k]
	told := map[bool]bool{} // by whether the other is later
	for n := k - 1; n >= 0; n-- {
		wrong = append(wrong, tooNear(this, series[n], false, told)...)
	}
	for n := k + 1; n < len(series); n++ {
		wrong = append(wrong, tooNear(this, series[n], true, told)...)
	}
	return wrong
}

func tooNear(this, other dated, later bool, told map[bool]bool) (wrong []string) {
	days, which := this.on.DaysSince(other.on), "after the application before"
	if later {
		days, which = -days, "before the next application"
	}
	if same := this.product.Material == other.product.Material; same && !told[later] {
		told[later] = true
		if least := max(this.product.Label.LeastDays, other.product.Label.LeastDays); days < least {
			wrong = append(wrong, fmt.Sprintf("%s was applied %d days %s; its label asks for %d", this.product.Name, days, which, least))
		}
	}
	if apart := max(incompatibleDays(this.product, other.product), incompatibleDays(other.product, this.product)); days < apart {
		wrong = append(wrong, fmt.Sprintf("%s and %s of %s are incompatible within %d days; %d lie between", this.product.Name, other.product.Name, other.on.Short(), apart, days))
	}
	return wrong
}

// incompatibleDays is how many days the label of one product keeps another one's material away; 0 is not at all.
func incompatibleDays(of, other catalogue.Product) int {
	days := 0
	for _, i := range of.Label.Incompatible {
		if i.Material == other.Material {
			days = max(days, i.Days)
		}
	}
	return days
}

// inRow counts the applications in a row around the k-th. A row goes on with the same material or with another one of
// the same mode-of-action group; only another group, or an unclassified material, ends it. Devices, living things and
// physical work are not counted and do not end a row.
func inRow(series []dated, k int) int {
	this, row := series[k].product, 1
	for _, step := range []int{-1, 1} {
		for n := k + step; n >= 0 && n < len(series); n += step {
			other := series[n].product
			if putsNothing(catalogue.Shipped().Materials[other.Material]) {
				continue
			}
			if other.Material != this.Material && (this.Label.ModeOfAction == "" || other.Label.ModeOfAction != this.Label.ModeOfAction) {
				break
			}
			row++
		}
	}
	return row
}

// inYear is the most applications of the k-th one's material in any year's days that it lies in.
func inYear(series []dated, k int) int {
	this, most := series[k], 0
	for n := k; n < len(series) && series[n].on.DaysSince(this.on) < yearDays; n++ {
		last, count := series[n], 0
		for _, d := range series[:n+1] {
			if d.product.Material == this.product.Material && last.on.DaysSince(d.on) < yearDays {
				count++
			}
		}
		if last.product.Material == this.product.Material {
			most = max(most, count)
		}
	}
	return most
}

// tooEarly: before the earliest day that the course of that time allowed.
func (t *telling) tooEarly(a application) error {
	if a.Item == "" {
		return nil
	}
	then, err := courseAt(t.tx, caseOf(a.ReportItem), a.Began)
	if err != nil {
		return err
	}
	for _, f := range then.FollowUps {
		if f.ID == a.Item && f.Due.After == "" && !f.Due.EarliestOn.IsZero() && a.on < f.Due.EarliestOn {
			t.breach(a, scheduler.RuleTiming, "%s was applied on %s, before its earliest day %s", a.product.Name, a.on.Short(), f.Due.EarliestOn.Short())
		}
	}
	return nil
}
