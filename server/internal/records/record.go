package records

import (
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
	"vernation/server/internal/store"
)

// Record returns an application record with what it lacks and what corrects it.
//
// Fails with NotFound.
func Record(tx *store.Tx, id string) (firm.Record, error) {
	r, err := tx.Record(id)
	r.Missing = Missing(r)
	return r, err
}

// Of narrows a list of application records to one site, one case, or both; "" is every one.
type Of struct {
	Site site.ID
	Case course.CaseID
}

// Records returns a page of application records, each with what it lacks and what corrects it.
//
// Fails with NotFound for a site or a case that is not known.
func Records(tx *store.Tx, of Of, asked listing.Question) ([]store.Listed[firm.Record], error) {
	var narrowed listing.All
	if asked.Where != nil {
		narrowed = append(narrowed, asked.Where)
	}
	if of.Site != "" {
		if _, err := tx.Site(of.Site); err != nil {
			return nil, err
		}
		narrowed = append(narrowed, listing.Compare{Field: "site", Operator: "=", Value: string(of.Site)})
	}
	if of.Case != "" {
		if _, err := tx.Case(of.Case); err != nil {
			return nil, err
		}
		narrowed = append(narrowed, listing.Compare{Field: "case", Operator: "=", Value: string(of.Case)})
	}
	if len(narrowed) > 0 {
		asked.Where = narrowed
	}
	found, err := tx.ListedRecords(asked)
	for i := range found {
		found[i].Value.Missing = Missing(found[i].Value)
	}
	return found, err
}
