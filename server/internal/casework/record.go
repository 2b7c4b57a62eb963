package casework

import (
	"fmt"
	"math/big"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/server/internal/firm"
)

// keepRecords stores the legal record of each application that the report tells. A report that corrects another one
// follows each record of that one with a record of its own: of the application as it was, or that it was not made.
func (t *telling) keepRecords() error {
	client, err := t.tx.Client(string(t.site.Client))
	if err != nil {
		return err
	}
	var before []firm.Record
	if t.report.Corrects != "" {
		if before, err = t.tx.RecordsOf(t.report.Corrects); err != nil {
			return err
		}
	}
	for _, a := range t.applications() {
		record := t.record(a, client)
		if i := slices.IndexFunc(before, func(old firm.Record) bool { return old.Item == a.Item && old.Case == record.Case }); i >= 0 {
			record.Corrects = before[i].ID
			before = slices.Delete(before, i, i+1)
		}
		t.records = append(t.records, record)
	}
	for _, old := range before {
		t.records = append(t.records, t.notMade(old, client))
	}
	return t.tx.InsertRecords(t.records)
}

func (t *telling) record(a application, client firm.Client) firm.Record {
	rule := catalogue.Shipped().RecordRule(t.site.Jurisdiction)
	year, month, day := a.on.YearMonthDay()
	r := firm.Record{
		ID: recordID(t.report.ID, a.index), Report: t.report.ID, Item: a.Item, Case: caseOf(a.ReportItem), Client: client.Name,
		Site: t.site.ID, SiteName: t.site.Name, Area: a.area, Pest: string(t.pestOf(a.ReportItem)),
		Product: a.product.ID, ProductName: a.product.Name, Registration: a.product.Registration, LabelVersion: a.product.LabelVersion,
		CatalogueVersion: catalogue.Shipped().Version, Applied: a.made.Applied, RatePercent: "undiluted",
		Began: a.Began, Ended: a.Ended, EntryFrom: t.entryFrom(a.ReportItem), Technician: t.report.Technician,
		KeepUntil: civil.NewDate(year+int(rule.KeepYears.Value), month, day), Elements: rule.Elements, Jurisdiction: t.site.Jurisdiction,
		Deviations: t.broke[a.index],

		ClientAddress: client.PostalAddress, AreaName: nameOf(t.site, a.area), PlaceKind: a.kind, TechnicianName: t.nameOfTechnician(t.report.Technician),
		Material: a.material.ID, ActiveIngredient: a.material.ActiveIngredient, Method: a.material.Method, Form: a.product.Form, Vessel: a.made.Vessel,
		Zone: t.site.Zone.Name(),
	}
	portion := a.product.Label.MaxPortion
	switch {
	case a.product.Form != catalogue.Concentrate && portion != nil:
		recordPortion(&r, a.made, *portion)
	case !a.made.Volume.IsZero():
		share := dilution.Strength(a.made.Concentrate, a.made.Volume)
		r.Concentrate, r.RatePercent = a.made.Applied.Times(share).As(a.made.Concentrate.Unit()), quantity.Percent(share, 4)
	}
	if licence, ok := t.licenceHeld(a); ok {
		r.Licence, r.Supervisor = licence.Number, licence.Under
	}
	if a.made.LicenceNumber != "" && a.made.LicenceNumber != r.Licence {
		r.Licence, r.Supervisor = a.made.LicenceNumber, "" // as told; whose it is the report does not say
	}
	r.SupervisorName = t.nameOfTechnician(r.Supervisor)
	for _, plant := range a.plants {
		r.Plants = append(r.Plants, firm.RecordedPlant{Plant: plant.ID, Species: plant.Species, Count: plant.Count})
	}
	return r
}

// recordPortion records what came onto the plants of what is weighed or counted, and how strong the mix was.
func recordPortion(r *firm.Record, made firm.Applied, label quantity.PortionRate) {
	dosed := made.Dosed()
	onPlants := dosed.OnPlants(label)
	mix, unit := new(big.Rat).Set(made.Mass.Grams()), "g/L"
	if label.Counted() {
		r.Organisms = new(big.Int).Quo(onPlants.Num(), onPlants.Denom()).Int64()
		mix, unit = new(big.Rat).SetInt64(made.Organisms), "organisms/L"
	} else {
		r.Mass = quantity.NewMass(1, 1, quantity.Gram).Times(onPlants).As(made.Mass.Unit())
	}
	if !made.Volume.IsZero() {
		r.RatePercent = quantity.Decimal(mix.Quo(mix, made.Volume.In(quantity.Litre)), 3) + " " + unit
	}
}

// notMade follows the record of an application that, as the correcting report says, was not made. What it was to be, and
// for whom, stays; nothing was applied and nobody need keep out.
func (t *telling) notMade(old firm.Record, client firm.Client) firm.Record {
	r := old
	r.ID = fmt.Sprintf("%s-not-made-%d", t.report.ID, len(t.records)+1)
	r.Report, r.Corrects, r.Client = t.report.ID, old.ID, client.Name
	r.Applied, r.Concentrate, r.RatePercent = quantity.Volume{}, quantity.Volume{}, "not made"
	r.Mass, r.Organisms = quantity.Mass{}, 0
	r.EntryFrom, r.Plants, r.Deviations = civil.Instant(0), nil, nil
	r.NotMade = fmt.Sprintf("not made: report %s, which corrects report %s, tells of no such application", t.report.ID, old.Report)
	return r
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
