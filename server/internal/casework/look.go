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
