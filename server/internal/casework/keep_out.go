package casework

import (
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// interval is how long an application of a product keeps people out of an area, where the air is changed and where it is
// not, as its course counts it; known is false where nobody knows it.
func (t *telling) interval(product catalogue.Product, area site.AreaID) (aired, unaired time.Duration, known bool) {
	return course.KeepOut(catalogue.Shipped(), t.business.Policy, t.site, area, product)
}

// leastEntry is the least time that the law keeps people out of an area after an application that has an interval at
// all. A plant room in a school is in a school: of the kinds of area and site the longer time holds.
func (t *telling) leastEntry(area site.AreaID) time.Duration {
	least, _, _ := catalogue.Shipped().LeastEntry(t.site.Jurisdiction, t.placeKind(area), t.site.Kind)
	return least
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
		aired, unaired, ok := t.interval(product, area)
		if !ok || aired == 0 {
			continue
		}
		least := t.leastEntry(area)
		whole = reentry.Join(whole, reentry.Treatment{
			Area: area, Begins: other.Began, Ends: other.Ended, KeepOut: max(aired, least), Unventilated: max(unaired, least),
		})
	}
	return whole
}

// keepOuts returns the areas that an application as made shuts, and from when to when. An application whose interval
// nobody knows shuts nothing here, since no end can be given: its record says no time of entry, and it is a deviation.
func (t *telling) keepOuts(item firm.ReportItem) []firm.KeepOutFact {
	product, _ := t.product(item.Application.Product)
	area := t.areaOf(item)
	aired, _, known := t.interval(product, area)
	if !known || aired == 0 || area == "" {
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
	if _, _, known := t.interval(product, t.areaOf(item)); !known {
		return civil.Instant(0)
	}
	from := item.Ended
	for _, k := range t.keepOuts(item) {
		from = max(from, k.During.To)
	}
	return from
}
