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
	this    bool   // the one that is judged
	report  string // that told it
	item    scheduler.ItemID
}

// labelOverTime judges, plant by plant over all its cases, what labels say of repeated applications: least days between
// two of one material, days between incompatible ones, most in a row and most a year. Reports come in any order: the
// others may have been made later. What is wrong in the same way on several plants is told once. Of two that are too near it
// is a deviation of the later one, whichever was told first.
func (t *telling) labelOverTime(a application) {
	var told []string
	for _, plant := range a.plants {
		series := t.series(a, plant.ID)
		k := slices.IndexFunc(series, func(d dated) bool { return d.this })
		t.tooNear(a, series, k)
		var wrong []string
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
	all := []dated{{a.product, a.Began, a.on, true, t.report.ID, a.Item}}
	add := func(product catalogue.ProductID, began civil.Instant, report string, item scheduler.ItemID) {
		p, known := t.product(product)
		told := slices.ContainsFunc(all, func(d dated) bool { return d.product.ID == product && d.began == began })
		if known && !told {
			all = append(all, dated{p, began, t.site.Zone.DateOf(began), false, report, item})
		}
	}
	for _, h := range t.around {
		for _, e := range h.Events {
			if made := e.Application; made != nil && t.met(made.Plants, made.Began, id, a.Began) {
				add(made.Product, made.Began, reportOf(e.ID), made.FollowUp)
			}
		}
	}
	for _, item := range t.report.Items {
		if item.Application != nil && slices.Contains(t.plantsOf(item), id) {
			add(item.Application.Product, item.Began, t.report.ID, item.Item)
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

// tooNear tells which applications of a series lie too near to the k-th: of each two it is a deviation of the later one, which
// another report may have told. It stands in no record, because it may be known later than the record.
func (t *telling) tooNear(a application, series []dated, k int) {
	this := series[k]
	for n, other := range series {
		switch {
		case n < k:
			for _, text := range betweenDays(this, other) {
				if !t.toldOf(t.report.ID, text) {
					t.deviate(visitWide, scheduler.RuleLabel, a.Item, a.Began, text)
				}
			}
		case n > k && other.report != t.report.ID && other.report != "":
			for _, text := range betweenDays(other, this) {
				if !t.toldOf(other.report, text) {
					t.deviateOther(other.report, scheduler.RuleLabel, other.item, other.began, text)
				}
			}
		}
	}
}

// betweenDays says what the labels of an application and of an earlier one ask for between them and was not kept.
func betweenDays(later, earlier dated) (wrong []string) {
	days := later.on.DaysSince(earlier.on)
	if later.product.Material == earlier.product.Material {
		if least := max(later.product.Label.LeastDays, earlier.product.Label.LeastDays); days < least {
			wrong = append(wrong, fmt.Sprintf("%s was applied %d days after the application of %s; its label asks for %d", later.product.Name, days, earlier.on.Short(), least))
		}
	}
	if apart := max(incompatibleDays(later.product, earlier.product), incompatibleDays(earlier.product, later.product)); days < apart {
		wrong = append(wrong, fmt.Sprintf("%s and %s of %s are incompatible within %d days; %d lie between", later.product.Name, earlier.product.Name, earlier.on.Short(), apart, days))
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

// tooEarly: before the earliest day that the course of that time allowed. It stands in no record, because it may be known
// later than the record.
func (t *telling) tooEarly(a application) error {
	text, early, err := t.earlyText(caseOf(a.ReportItem), a.Item, a.made.Product, a.Began)
	if early {
		t.deviate(visitWide, scheduler.RuleTiming, a.Item, a.Began, text)
	}
	return err
}

// othersTooEarly: applications to the same cases that were reported before and made later than something that this report
// tells, and that turn out to have come too early. Each is a deviation of the report that told it.
func (t *telling) othersTooEarly() error {
	from := t.report.Arrived
	for _, item := range t.report.Items {
		from = min(from, beganAt(t.report, item))
	}
	for _, h := range corrected(t.histories) {
		for _, e := range h.Events {
			made, report := e.Application, reportOf(e.ID)
			if made == nil || made.Began <= from || report == "" || t.ofThisReport(e) {
				continue
			}
			text, early, err := t.earlyText(h.Case, made.FollowUp, made.Product, made.Began)
			if err != nil {
				return err
			}
			if early {
				t.deviateOther(report, scheduler.RuleTiming, made.FollowUp, made.Began, text)
			}
		}
	}
	return nil
}

// earlyText says of an application of a follow-up that it came before the earliest day that the course of that time allowed;
// early is false where it did not.
func (t *telling) earlyText(of course.CaseID, item scheduler.ItemID, made catalogue.ProductID, began civil.Instant) (text string, early bool, err error) {
	if item == "" {
		return "", false, nil
	}
	then, err := courseAt(t.tx, of, began)
	if err != nil {
		return "", false, err
	}
	on := t.site.Zone.DateOf(began)
	product, _ := t.product(made)
	for _, f := range then.FollowUps {
		if f.ID == item && f.Due.After == "" && !f.Due.EarliestOn.IsZero() && on < f.Due.EarliestOn {
			return fmt.Sprintf("%s was applied on %s, before its earliest day %s", product.Name, on.Short(), f.Due.EarliestOn.Short()), true, nil
		}
	}
	return "", false, nil
}
