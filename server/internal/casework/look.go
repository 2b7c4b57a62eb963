package casework

import (
	"fmt"

	"vernation/scheduler/catalogue"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Deviations returns a page of deviations, the latest happening first.
//
// Fails with NotFound for a report or a site that is not known.
func Deviations(tx *store.Tx, filter store.DeviationFilter, page store.Page) ([]firm.Deviation, error) {
	if filter.Report != "" {
		if _, err := tx.Report(filter.Report); err != nil {
			return nil, err
		}
	}
	if filter.Site != "" {
		if _, err := tx.Site(filter.Site); err != nil {
			return nil, err
		}
	}
	return tx.NewestDeviations(filter, page)
}

// LookAtDeviation notes that the caller looked at a deviation for the office, and what was made of it.
//
// Fails with NotFound and Refused (ACKNOWLEDGED_ALREADY).
func LookAtDeviation(tx *store.Tx, id, note string) (firm.Deviation, error) {
	d, err := tx.Deviation(id)
	if err != nil {
		return firm.Deviation{}, err
	}
	look := firm.DeviationLook{At: tx.Now(), By: tx.Caller().Subject, Note: note}
	if d.Look == nil {
		err = tx.LookAtDeviation(id, look)
	}
	if d.Look != nil || fault.Is(err, fault.Exists) {
		return d, fault.New(fault.Refused, "ACKNOWLEDGED_ALREADY", "somebody of the office has looked at deviation %s already", id)
	}
	d.Look = &look
	return d, err
}

// Findings returns a page of findings, the latest seen first.
//
// Fails with NotFound for a site or a case that is not known.
func Findings(tx *store.Tx, filter store.FindingFilter, page store.Page) ([]firm.FindingTold, error) {
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
	return tx.NewestFindings(filter, page)
}

// Reports returns a page of reports as told, the latest arrival first; a technician's own only.
//
// Fails with NotFound for a site or a technician that is not known, and Invalid (OUT_OF_RANGE) for a span that ends before it begins.
func Reports(tx *store.Tx, filter store.ReportFilter, page store.Page) ([]firm.Report, error) {
	if filter.Site != "" {
		if _, err := tx.Site(filter.Site); err != nil {
			return nil, err
		}
	}
	if filter.Technician != "" {
		if _, err := tx.CrewMember(filter.Technician); err != nil {
			return nil, err
		}
	}
	if span := filter.During; !span.From.IsZero() && !span.To.IsZero() && span.To < span.From {
		return nil, fault.InvalidFields([]catalogue.FieldError{{Path: "to_time", Reason: catalogue.ReasonOutOfRange,
			Text: fmt.Sprintf("%v lies before %v: want the span to end after it begins", span.To, span.From)}})
	}
	if caller := tx.Caller(); caller.Role == firm.Technician {
		if filter.Technician != "" && filter.Technician != caller.Technician {
			return nil, nil
		}
		filter.Technician = caller.Technician
	}
	return tx.NewestReports(filter, page)
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
