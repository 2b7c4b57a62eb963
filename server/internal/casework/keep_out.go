package casework

import (
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// term is how long an application of a product keeps people out of an area; known is false where nobody knows it.
func (t *telling) term(product catalogue.Product, area site.AreaID) (term reentry.Term, known bool) {
	policy := reentry.Policy{UntilDry: t.business.Policy.UntilDry, UnventilatedFactorPercent: t.business.Policy.UnventilatedFactorPercent}
	term, err := reentry.Needed(catalogue.Shipped(), policy, t.site, area, product)
	return term, err == nil
}

// treatment is what the report applied in the area of an item, all of it together: the longest interval, of the labels
// or of the law, counts from the end of the last.
func (t *telling) treatment(item firm.ReportItem) reentry.Treatment {
	area := t.areaOf(item)
	whole := reentry.Treatment{Area: area, Begins: item.Began, Ends: item.Ended}
	for _, other := range t.report.Items {
		if other.Application == nil || t.areaOf(other) != area {
			continue
		}
		product, _ := t.product(other.Application.Product)
		term, known := t.term(product, area)
		if !known || term.KeepOut == 0 {
			continue
		}
		whole = reentry.Join(whole, reentry.Treatment{
			Area: area, Begins: other.Began, Ends: other.Ended, KeepOut: term.KeepOut, Unventilated: term.Unventilated,
		})
	}
	return whole
}

// keepOuts returns the areas that an application as made shuts, and from when to when. An application whose interval
// nobody knows shuts nothing here, since no end can be given: its record says no time of entry, and it is a deviation.
func (t *telling) keepOuts(item firm.ReportItem) []firm.KeepOutFact {
	product, _ := t.product(item.Application.Product)
	area := t.areaOf(item)
	term, known := t.term(product, area)
	if !known || term.KeepOut == 0 || area == "" {
		return nil
	}
	var facts []firm.KeepOutFact
	for _, k := range reentry.KeepOuts(t.site, t.treatment(item)) {
		fact := firm.KeepOutFact{KeepOut: scheduler.KeepOut{
			Area: k.Area, During: civil.Interval{From: item.Began, To: k.During.To}, Product: product.ID, By: t.report.Technician, Item: item.Item,
			UntilDry: product.Label.Entry.Kind == catalogue.EntryUntilDry,
		}}
		if t.visit != nil {
			fact.Visit = t.visit.ID
		}
		facts = append(facts, fact)
	}
	return facts
}

// entryFrom is when people may enter after an application; unset where nobody knows it. One that needs no interval lets
// them in at its end.
func (t *telling) entryFrom(item firm.ReportItem) civil.Instant {
	product, _ := t.product(item.Application.Product)
	if _, known := t.term(product, t.areaOf(item)); !known {
		return civil.Instant(0)
	}
	from := item.Ended
	for _, k := range t.keepOuts(item) {
		from = max(from, k.During.To)
	}
	return from
}
