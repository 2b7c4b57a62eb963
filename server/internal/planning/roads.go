package planning

import (
	"cmp"
	"context"
	"errors"
	"log/slog"
	"slices"
	"time"

	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
	"vernation/server/internal/roadtimes"
	"vernation/server/internal/store"
)

// Roads is where road times are asked for before a plan is made. The zero value asks nobody: the great circle estimates all
// ways.
type Roads struct {
	Service *roadtimes.Service
	// Within bounds the asking before one plan; 0 is 30 s. What is told by then is kept, and the next plan asks for the rest.
	Within time.Duration
	// RenewAfter is the age from which on road times are asked for again; 0 is 30 days.
	RenewAfter time.Duration
	// Log hears why a service failed; nil is nobody.
	Log *slog.Logger
}

const (
	usualWithin     = 30 * time.Second
	usualRenewAfter = 30 * 24 * time.Hour
)

// refresh asks for the road times between the business's places that are missing or old, outside of any transaction, and
// keeps them. A service that fails fails no plan: missed then says why in a sentence for people, and what was kept stays.
// Road times of another service, or of places that are there no longer, are forgotten.
func (r Roads) refresh(ctx context.Context, s *store.Store, caller firm.Caller) (missed string, err error) {
	var asked asking
	err = s.Reading(ctx, caller, func(tx *store.Tx) error {
		places, err := readPlacesOf(tx)
		if err != nil {
			return err
		}
		kept, err := tx.RoadTimes()
		if err != nil {
			return err
		}
		asked = r.asking(kept, tx.Now())
		for _, p := range places {
			asked.add(firm.RoadPointOf(p.Position))
		}
		return nil
	})
	if err != nil {
		return "", err
	}
	told := roadtimes.Told{}
	if wanted := asked.wanted(); len(wanted) > 0 {
		within, cancel := context.WithTimeout(ctx, cmp.Or(r.Within, usualWithin))
		defer cancel()
		var failed error
		if told, failed = r.Service.Tell(within, wanted); failed != nil {
			if ctx.Err() != nil {
				return "", ctx.Err()
			}
			missed = sentence(failed)
			if r.Log != nil {
				r.Log.WarnContext(ctx, "road times are missing and estimated", "business", caller.Business, "provider", r.Service.Provider(), "cause", failed)
			}
		}
	}
	rows, gone := asked.outcome(told)
	if len(rows) == 0 && len(gone) == 0 {
		return missed, nil
	}
	return missed, s.In(ctx, caller, func(tx *store.Tx) error {
		for _, row := range rows {
			if err := tx.PutRoadTimes(row); err != nil {
				return err
			}
		}
		return tx.DropRoadTimes(gone)
	})
}

// sentence is what people are told of a failure: nothing of addresses, nor of what another program wrote.
func sentence(failed error) string {
	for _, known := range []error{roadtimes.ErrSilent, roadtimes.ErrAway, roadtimes.ErrFails, roadtimes.ErrUnreadable, roadtimes.ErrRefusesAll} {
		if errors.Is(failed, known) {
			return known.Error()
		}
	}
	return "the matrix service could not be asked"
}

// asking is what a business's places need of a service, and what is kept already.
type asking struct {
	provider, attribution string // "" where nobody is asked
	now, fresh            civil.Instant
	kept                  map[firm.RoadPoint]firm.RoadTimes
	points                []firm.RoadPoint
	there                 map[firm.RoadPoint]bool
}

func (r Roads) asking(kept []firm.RoadTimes, now civil.Instant) asking {
	a := asking{now: now, fresh: now.Add(-cmp.Or(r.RenewAfter, usualRenewAfter)), kept: map[firm.RoadPoint]firm.RoadTimes{}, there: map[firm.RoadPoint]bool{}}
	if r.Service != nil {
		a.provider, a.attribution = r.Service.Provider(), r.Service.Attribution()
	}
	for _, row := range kept {
		a.kept[row.From] = row
	}
	return a
}

// add takes a point among those that the ways are wanted between, once.
func (a *asking) add(p firm.RoadPoint) {
	if !a.there[p] {
		a.there[p], a.points = true, append(a.points, p)
	}
}

// old says whether what is kept from a point is of no use, or is to be asked for again.
func (a *asking) old(row firm.RoadTimes) bool {
	return row.Provider != a.provider || row.AskedAt < a.fresh
}

// wanted are the ways that are missing or old, those of origins that miss the same next to one another. A way from a point to
// itself is wanted too, so that all new origins miss the same.
func (a *asking) wanted() []roadtimes.Wanted {
	if a.provider == "" || len(a.points) < 2 {
		return nil
	}
	var wanted []roadtimes.Wanted
	for _, from := range a.points {
		row := a.kept[from]
		missing := a.points
		if !a.old(row) {
			known := map[firm.RoadPoint]bool{}
			for _, to := range row.To {
				known[to] = true
			}
			missing = slices.DeleteFunc(slices.Clone(a.points), func(to firm.RoadPoint) bool { return known[to] })
		}
		if len(missing) > 0 {
			wanted = append(wanted, roadtimes.Wanted{From: from, To: missing})
		}
	}
	slices.SortStableFunc(wanted, func(x, y roadtimes.Wanted) int {
		return cmp.Or(len(y.To)-len(x.To), slices.CompareFunc(x.To, y.To, func(p, q firm.RoadPoint) int {
			return cmp.Or(cmp.Compare(p.Latitude, q.Latitude), cmp.Compare(p.Longitude, q.Longitude))
		}))
	})
	return wanted
}

// outcome lays what was told over what is kept: the rows that change, and the origins to forget.
func (a *asking) outcome(told roadtimes.Told) (rows []firm.RoadTimes, gone []firm.RoadPoint) {
	for from, row := range a.kept {
		if !a.there[from] || row.Provider != a.provider && len(told[from]) == 0 {
			gone = append(gone, from)
		}
	}
	for _, from := range a.points {
		if len(told[from]) == 0 {
			continue
		}
		row := firm.RoadTimes{From: from, Provider: a.provider, Attribution: a.attribution, AskedAt: a.now}
		for _, to := range a.points {
			if time, ok := told[from][to]; ok {
				row.To, row.Times = append(row.To, to), append(row.Times, time)
			}
		}
		before := a.kept[from]
		for i, to := range before.To {
			if _, again := told[from][to]; !again && a.there[to] && before.Provider == a.provider {
				// A time among newer ones keeps its date for all, so that all are asked for again once it is old.
				row.To, row.Times, row.AskedAt = append(row.To, to), append(row.Times, before.Times[i]), before.AskedAt
			}
		}
		rows = append(rows, row)
	}
	return rows, gone
}
