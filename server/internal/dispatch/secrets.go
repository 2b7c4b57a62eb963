package dispatch

import (
	"slices"

	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// WithSecrets adds to a day route what opens its sites, for the technician whose day it is and on that day, until the return
// to the base; for anybody else and on any other day it adds nothing. Each reading is kept. It looks at the visits anew: a
// site that moved to somebody else since the day route was read is not opened any more.
func WithSecrets(tx *store.Tx, route firm.DayRoute) (firm.DayRoute, error) {
	caller, r := tx.Caller(), route.Route
	if caller.Role != firm.Technician || caller.Technician != r.Technician {
		return route, nil
	}
	business, err := tx.Business()
	if err != nil {
		return route, err
	}
	now := tx.Now()
	onTheDay := business.Zone.DateOf(now) == r.Day || r.Departs <= now && now < r.Returns // a shift may end after midnight
	if !onTheDay {
		return route, nil
	}
	visits, err := tx.Visits(store.VisitFilter{From: r.Departs, To: r.Returns, Technician: r.Technician})
	if err != nil {
		return route, err
	}
	var at []site.ID
	for _, v := range visits {
		at = append(at, v.Site)
	}
	secrets, err := tx.AccessSecrets(at...)
	if err != nil {
		return route, err
	}
	var read []site.ID
	route.Visits = slices.Clone(route.Visits)
	for i, v := range route.Visits {
		found, set := secrets[v.Visit.Site]
		if !set {
			continue
		}
		route.Visits[i].Secrets = &found
		if !slices.Contains(read, found.Site) {
			read = append(read, found.Site)
		}
	}
	if len(read) == 0 {
		return route, nil
	}
	return route, tx.InsertSecretReadings(read, r.Technician, r.Day)
}
