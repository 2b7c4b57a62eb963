package casework

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/server/internal/firm"
)

// keepRecords stores the legal record of each application that the report tells.
func (t *telling) keepRecords() error {
	client, err := t.tx.Client(string(t.site.Client))
	if err != nil {
		return err
	}
	for i, item := range t.report.Items {
		if item.Application != nil {
			t.records = append(t.records, t.record(i, item, client))
		}
	}
	return t.tx.InsertRecords(t.records)
}

func (t *telling) record(i int, item firm.ReportItem, client firm.Client) firm.Record {
	made := item.Application
	product, _ := t.product(made.Product)
	rule := catalogue.Shipped().RecordRule(t.site.Jurisdiction)
	on := t.site.Zone.DateOf(item.Began)
	year, month, day := on.YearMonthDay()
	r := firm.Record{
		ID: recordID(t.report.ID, i), Report: t.report.ID, Case: caseOf(item), Client: client.Name,
		Site: t.site.ID, SiteName: t.site.Name, Area: t.areaOf(item), Pest: string(t.pestOf(item)),
		Product: product.ID, ProductName: product.Name, Registration: product.Registration, LabelVersion: product.LabelVersion,
		CatalogueVersion: catalogue.Shipped().Version, Applied: made.Applied, RatePercent: "undiluted",
		Began: item.Began, Ended: item.Ended, EntryFrom: item.Ended, Technician: t.report.Technician,
		KeepUntil: civil.NewDate(year+int(rule.KeepYears.Value), month, day), Elements: rule.Elements, Jurisdiction: t.site.Jurisdiction,
	}
	r.Corrects = t.recordBefore(item)
	if !made.Volume.IsZero() {
		share := dilution.Strength(made.Concentrate, made.Volume)
		r.Concentrate, r.RatePercent = made.Applied.Times(share).As(made.Concentrate.Unit()), quantity.Percent(share, 4)
	}
	if licence, ok := t.licenceFor(product, on); ok {
		r.Licence, r.Supervisor = licence.Number, licence.Under
	}
	if made.LicenceNumber != "" && made.LicenceNumber != r.Licence {
		r.Licence, r.Supervisor = made.LicenceNumber, "" // as told; whose it is the report does not say
	}
	for _, k := range t.keepOuts(item) {
		r.EntryFrom = max(r.EntryFrom, k.During.To)
	}
	for _, id := range t.plantsOf(item) {
		if plant, ok := t.plant(id); ok {
			r.Plants = append(r.Plants, firm.RecordedPlant{Plant: id, Species: plant.Species, Count: plant.Count})
		}
	}
	for _, d := range t.deviations {
		if d.Item == item.Item {
			r.Deviations = append(r.Deviations, fmt.Sprintf("%s: %s", d.Rule, d.Text))
		}
	}
	return r
}

// recordBefore names the record that one of an item corrects: that of the same work in the report that is corrected.
// It is "" where that report told of no such application.
func (t *telling) recordBefore(item firm.ReportItem) string {
	for i, old := range t.first.Items {
		if old.Application != nil && old.Item == item.Item && caseOf(old) == caseOf(item) {
			return recordID(t.first.ID, i)
		}
	}
	return ""
}

// recordID names the record of a report's item.
func recordID(report string, item int) string { return fmt.Sprintf("%s-%d", report, item+1) }

func (t *telling) pestOf(item firm.ReportItem) catalogue.PestID {
	i := slices.IndexFunc(t.histories, func(h course.History) bool { return h.Case == caseOf(item) })
	if i < 0 {
		return ""
	}
	return t.histories[i].Pest
}
