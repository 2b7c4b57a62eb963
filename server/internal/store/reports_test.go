package store_test

import (
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

func TestReport_ComesBackAsToldWithReceiptAndSender(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	in(t, d, func(tx *store.Tx) error { return tx.InsertReport(report("report-1", "")) })
	d.Clock.Set(at(12, 0))
	in(t, d, func(tx *store.Tx) error { return tx.InsertReport(report("report-2", "report-1")) })
	in(t, d, func(tx *store.Tx) error {
		told, err := tx.Report("report-1")
		want := report("report-1", "")
		want.ReceivedAt, want.Caller = at(7, 0), "office-1"
		same(t, "report", told, want)
		return err
	})
	refused(t, d, fault.Exists, "EXISTS_ALREADY", func(tx *store.Tx) error { return tx.InsertReport(report("report-1", "")) })
	refused(t, d, fault.NotFound, "PARENT_NOT_FOUND", func(tx *store.Tx) error { return tx.InsertReport(report("report-3", "report-9")) })
	turned := report("report-3", "")
	turned.Left = turned.Arrived.Add(-1e9)
	refused(t, d, fault.Invalid, "BROKEN_CONSTRAINT", func(tx *store.Tx) error { return tx.InsertReport(turned) })
}

func TestRecords_KeepExactAmountsAndDemandCompleteness(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	furnish(t, d, d.Office)
	record := firm.Record{
		ID: "record-1", Report: "report-1", Client: "Client 1, 1 Example Street", Site: "site-1", SiteName: "Site site-1", Area: "site-1-lobby",
		Plants:  []firm.RecordedPlant{{Plant: "plant-1", Species: "ficus-benjamina", Count: 3}},
		Product: "soap-1", ProductName: "Soap 1", LabelVersion: "1", CatalogueVersion: "2026-03",
		// A third of a US fluid ounce does not end as a decimal of millilitres.
		Concentrate: quantity.NewVolume(1, 3, quantity.USFluidOunce), Applied: quantity.NewVolume(16, 1, quantity.USFluidOunce),
		RatePercent: "2", Began: at(9, 0), Ended: at(9, 20), EntryFrom: at(13, 20), Technician: "tech-1", Licence: "1",
		KeepUntil: storetest.Epoch.AddDays(3 * 365), Elements: []string{"product"}, Jurisdiction: "US-PA",
	}
	deviation := firm.Deviation{
		ID: "deviation-1", Report: "report-1", Rule: scheduler.RuleLabel, Item: "service-1#1", Site: site.ID("site-1"), At: at(9, 0), Text: "twice the label's rate",
	}
	in(t, d, func(tx *store.Tx) error { return tx.InsertReport(report("report-1", "")) })
	in(t, d, func(tx *store.Tx) error { return tx.InsertRecords([]firm.Record{record}) })
	in(t, d, func(tx *store.Tx) error { return tx.InsertDeviations([]firm.Deviation{deviation}) })
	in(t, d, func(tx *store.Tx) error {
		records, errRecords := tx.RecordsOf("report-1")
		deviations, errDeviations := tx.DeviationsOf("report-1")
		same(t, "records", records, []firm.Record{record})
		same(t, "deviations", deviations, []firm.Deviation{deviation})
		if errRecords != nil {
			return errRecords
		}
		return errDeviations
	})
	nameless := record
	nameless.ID, nameless.Client = "record-2", ""
	refused(t, d, fault.Invalid, "BROKEN_CONSTRAINT", func(tx *store.Tx) error { return tx.InsertRecords([]firm.Record{nameless}) })
	ruleless := deviation
	ruleless.ID, ruleless.Rule = "deviation-2", "taste"
	refused(t, d, fault.Invalid, "BROKEN_CONSTRAINT", func(tx *store.Tx) error { return tx.InsertDeviations([]firm.Deviation{ruleless}) })
}
