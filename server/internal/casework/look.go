package casework

import (
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Deviations returns a page of deviations, of one report or of all (""), the latest happening first.
//
// Fails with NotFound for a report that is not known.
func Deviations(tx *store.Tx, report string, page store.Page) ([]firm.Deviation, error) {
	if report != "" {
		if _, err := tx.Report(report); err != nil {
			return nil, err
		}
	}
	return tx.NewestDeviations(report, page)
}

// Records returns a page of application records, the latest application first.
//
// Fails with NotFound for a site or a case that is not known.
func Records(tx *store.Tx, filter store.RecordFilter, page store.Page) ([]firm.Record, error) {
	if filter.Site != "" {
		if _, err := tx.Site(filter.Site); err != nil {
			return nil, err
		}
	}
	if filter.Case != "" {
		if _, err := tx.Case(filter.Case); err != nil {
			return nil, err
		}
	}
	return tx.NewestRecords(filter, page)
}
