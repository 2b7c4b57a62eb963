package store

import (
	"slices"

	"vernation/scheduler"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

var visitsListed = source{
	document: "to_jsonb(v.visit_id)", from: "FROM visit v WHERE v.business_id = $1",
	columns: map[string]string{
		"name": "v.visit_id", "technician": "v.technician_id", "site": "v.site_id", "state": "v.state", "arrives": "lower(v.during)", "leaves": "upper(v.during)",
		"off_plan": "EXISTS (SELECT FROM report r WHERE r.business_id = $1 AND r.visit_id = v.visit_id AND r.off_plan)",
	},
}

// PublishedVisits returns a page of visits with their work and what reports say of them.
func (tx *Tx) PublishedVisits(asked listing.Question) ([]Listed[firm.PublishedVisit], error) {
	named, err := listed[scheduler.VisitID](tx, visitsListed, asked)
	if err != nil {
		return nil, err
	}
	found, err := visits(tx, `AND visit_id = ANY ($2) ORDER BY visit_id`, ids(valuesOf(named)))
	if err != nil {
		return nil, err
	}
	known, err := tx.asReported(found)
	if err != nil {
		return nil, err
	}
	visits := map[scheduler.VisitID]firm.PublishedVisit{}
	for _, v := range known {
		visits[v.ID] = v
	}
	return inOrder(named, visits), nil
}

const offPlanSQL = `
SELECT DISTINCT visit_id
FROM report
WHERE business_id = $1 AND visit_id = ANY ($2) AND off_plan
ORDER BY visit_id`

// asReported says of visits which of them were reported off plan.
func (tx *Tx) asReported(visits []scheduler.Visit) ([]firm.PublishedVisit, error) {
	names := make([]string, len(visits))
	for i, v := range visits {
		names[i] = string(v.ID)
	}
	off, err := list[string](tx, offPlanSQL, ids(names))
	if err != nil {
		return nil, err
	}
	known := make([]firm.PublishedVisit, len(visits))
	for i, v := range visits {
		known[i] = firm.PublishedVisit{Visit: v, OffPlan: slices.Contains(off, string(v.ID))}
	}
	return known, nil
}

// PublishedVisit returns a visit with its work and what reports say of it; NotFound where there is none.
func (tx *Tx) PublishedVisit(id scheduler.VisitID) (firm.PublishedVisit, error) {
	visit, err := tx.Visit(id)
	if err != nil {
		return firm.PublishedVisit{}, err
	}
	known, err := tx.asReported([]scheduler.Visit{visit})
	if err != nil {
		return firm.PublishedVisit{}, err
	}
	return known[0], nil
}
