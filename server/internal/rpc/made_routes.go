package rpc

import (
	"context"

	lru "github.com/hashicorp/golang-lru/v2"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/convert"
	"vernation/server/internal/dispatch"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// madeRoutesMost bounds how many day routes a server remembers; one takes some hundred kilobytes.
const madeRoutesMost = 500

// madeRoutes remembers day routes as they were made. One is given again only while the business stands at the version at
// which it was made, which the database is asked for each time, and while the clock changes nothing in it: no server gives
// one that a deed on another server has changed. What opens sites is never in it.
type madeRoutes struct {
	store *store.Store
	kept  *lru.Cache[routeAsked, *madeRoute]
}

// routeAsked is all that a day route depends on beside the business's version and the clock; the business leads.
type routeAsked struct {
	business   firm.BusinessID
	role       firm.Role
	caller     scheduler.TechnicianID // who asks, of a technician: their own only
	technician scheduler.TechnicianID
	day        civil.Date
}

// madeRoute is a day route with the message that says it; whoever has it changes neither.
type madeRoute struct {
	dispatch.MadeDayRoute
	answer *vernationv1.DayRoute
}

// good says whether the clock has changed nothing by an instant; one that was set back makes it anew.
func (m *madeRoute) good(at civil.Instant) bool { return m.Good.From <= at && at < m.Good.To }

func newMadeRoutes(kept *store.Store) *madeRoutes {
	cache, err := lru.New[routeAsked, *madeRoute](madeRoutesMost)
	if err != nil {
		panic(err) // of a size below 1
	}
	return &madeRoutes{store: kept, kept: cache}
}

// dayRoute gives the day route that a caller asks for, without what opens its sites.
func (m *madeRoutes) dayRoute(ctx context.Context, technician scheduler.TechnicianID, day civil.Date) (*madeRoute, error) {
	caller := CallerOf(ctx)
	asked := routeAsked{business: caller.Business, role: caller.Role, caller: caller.Technician, technician: technician, day: day}
	if kept, ok := m.kept.Get(asked); ok && kept.good(m.store.Now()) {
		version, err := m.store.Version(ctx, caller.Business)
		if err != nil {
			return nil, err
		}
		if version == kept.Version {
			return kept, nil
		}
	}
	made := &madeRoute{}
	err := m.store.Reading(ctx, caller, func(tx *store.Tx) (err error) {
		made.MadeDayRoute, err = dispatch.MakeDayRoute(tx, technician, day)
		return err
	})
	if err != nil {
		return nil, err
	}
	made.answer = convert.DayRoute(namesOf(ctx), made.Route)
	m.kept.Add(asked, made)
	return made, nil
}
