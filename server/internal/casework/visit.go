package casework

import (
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/store"
)

// PublishedVisit returns a visit as it is published; nil for one that was published once and withdrawn since. The id of such
// a one begins with that of the plan that named it, and published plans are kept.
//
// Fails with NotFound (VISIT_NOT_PUBLISHED).
func PublishedVisit(tx *store.Tx, id scheduler.VisitID) (*scheduler.Visit, error) {
	visit, err := tx.Visit(id)
	if err == nil {
		return &visit, nil
	}
	if !fault.Is(err, fault.NotFound) {
		return nil, err
	}
	never := fault.New(fault.NotFound, "VISIT_NOT_PUBLISHED", "visit %s was never published: leave the visit out to report work that no plan knows", id)
	never.Subject = string(id)
	named := scheduler.VisitID(strings.TrimSuffix(string(id), "-again")) // of one whose name an earlier visit bore
	end := strings.LastIndexByte(string(named), '-')
	if end < 0 {
		return nil, never
	}
	kept, err := tx.Plan(string(named)[:end])
	if fault.Is(err, fault.NotFound) {
		return nil, never
	}
	if err != nil {
		return nil, err
	}
	holds := slices.ContainsFunc(kept.Plan.Routes, func(route scheduler.DayRoute) bool {
		return slices.ContainsFunc(route.Visits, func(v scheduler.Visit) bool { return v.ID == named })
	})
	if !holds || kept.PublishedAt.IsZero() {
		return nil, never
	}
	return nil, nil
}

// OffPlan says whether somebody was at a site at an instant otherwise than a visit (nil is none) is published: somebody else,
// elsewhere or on another day.
func OffPlan(visit *scheduler.Visit, by scheduler.TechnicianID, at site.Site, when civil.Instant) bool {
	return visit == nil || visit.Technician != by || visit.Site != at.ID || at.Zone.DateOf(visit.Arrives) != at.Zone.DateOf(when)
}
