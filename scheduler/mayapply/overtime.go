package mayapply

import (
	"cmp"
	"math"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// daysOfYear is the stretch in which the applications of a year are counted, up to and with the one asked for.
const daysOfYear = 365

// askOverTime compares with what was applied to a plant before: least days, incompatible materials, most in a row, most a
// year. Days are civil ones of the site.
func (a *asking) askOverTime(p Plant) {
	earlier := slices.Clone(p.Applied)
	slices.SortStableFunc(earlier, func(x, y Applied) int { return cmp.Compare(x.Began, y.Began) })
	for _, past := range earlier {
		a.askApart(p, past)
	}
	id, label := []site.PlantID{p.ID}, a.Product.Label
	if !a.onPlants() {
		return
	}
	if row := a.inRow(earlier) + 1; label.MostInRow > 0 && row > label.MostInRow {
		a.say(RuleCaps, Refuses, id, "it would be number %d in a row; the label allows %d: groups rotate", row, label.MostInRow)
	}
	if year := a.inYear(earlier) + 1; label.MostAYear > 0 && year > label.MostAYear {
		a.say(RuleCaps, Refuses, id, "it would be number %d within %d days; the label allows %d a year", year, daysOfYear, label.MostAYear)
	}
}

// askApart: the days between this application and another, whichever comes first.
func (a *asking) askApart(p Plant, past Applied) {
	id, on := []site.PlantID{p.ID}, a.Site.Zone.DateOf(past.Began)
	apart, first, second := a.day.DaysSince(on), past.Material, a.material.ID
	if past.Began > a.Begins {
		apart, first, second = -apart, second, first
	}
	from := func(days int) civil.Date { return on.AddDays(days) }
	if past.Material == a.material.ID {
		least := max(a.Product.Label.LeastDays, a.label(past.Product).LeastDays)
		if apart < least {
			a.say(RuleRetreatment, Refuses, id, "%s was applied on %v, %d days apart; the label asks for %d: from %v on", a.material.Name, on, apart, least, from(least))
		}
	}
	other := a.Catalogue.Materials[past.Material]
	for _, bad := range a.Product.Label.Incompatible {
		if bad.Material == past.Material && apart < bad.Days {
			a.say(RuleIncompatible, Refuses, id, "%s on %v is incompatible within %d days by the label: from %v on", other.Name, on, bad.Days, from(bad.Days))
		}
	}
	for _, bad := range a.label(past.Product).Incompatible {
		if bad.Material == a.material.ID && apart < bad.Days {
			a.say(RuleIncompatible, Refuses, id, "%s on %v is incompatible within %d days by its label: from %v on", other.Name, on, bad.Days, from(bad.Days))
		}
	}
	days, known, why := a.Catalogue.Apart(first, second)
	// Nought days that are known forbid the same day.
	if least := max(1, int(math.Ceil(days))); known && apart < least {
		a.say(RuleIncompatible, Refuses, id, "%s on %v stands within %d days: %s", other.Name, on, least, why)
	}
}

// label is that of a product of the business; an unknown one says nothing.
func (a *asking) label(id catalogue.ProductID) catalogue.Label {
	if id == a.Product.ID {
		return a.Product.Label
	}
	i := slices.IndexFunc(a.Products, func(p catalogue.Product) bool { return p.ID == id })
	if i < 0 {
		return catalogue.Label{}
	}
	return a.Products[i].Label
}

// inRow counts the last applications of the same material or mode-of-action group without another between them. Devices, living
// things and physical work are not counted and do not end a row.
func (a *asking) inRow(earlier []Applied) int {
	row, group := 0, a.Product.Label.ModeOfAction
	for _, past := range slices.Backward(earlier) {
		law := a.Catalogue.Materials[past.Material].Law
		switch {
		case past.Began > a.Begins || law == catalogue.PhysicalWork || law == catalogue.DeviceOrOrganism:
		case past.Material != a.material.ID && (group == "" || past.Group != group):
			return row
		default:
			row++
		}
	}
	return row
}

func (a *asking) inYear(earlier []Applied) int {
	n := 0
	for _, past := range earlier {
		days := a.day.DaysSince(a.Site.Zone.DateOf(past.Began))
		if past.Material == a.material.ID && past.Began <= a.Begins && days < daysOfYear {
			n++
		}
	}
	return n
}
