package planning

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// heldAlready is the reason with which the store refuses a technician at two places, or work in a keep-out.
const heldAlready = "HELD_ALREADY"

// held says what stands in the way of a plan whose visits the store refused: what holds the time of its technicians or
// the areas of its work, and does not move.
func (c checked) held(ctx context.Context, s *store.Store, caller firm.Caller, cause error) error {
	var visits []scheduler.Visit
	for _, route := range c.kept.Plan.Routes {
		visits = append(visits, slices.DeleteFunc(slices.Clone(route.Visits), fixed)...)
	}
	first := c.gathered.Problem.Zone.At(c.kept.FirstDay, 0)
	return held(ctx, s, caller, c.gathered.Problem, "plan "+c.kept.ID, visits, c.kept.Plan.KeepOuts, func(v scheduler.Visit, now civil.Instant) bool {
		return !fixed(v) && v.Arrives >= max(now, first) // it makes room
	}, cause)
}

// held names the visits and keep-outs that hold what some new visits need; moves says which stored visits make room.
func held(ctx context.Context, s *store.Store, caller firm.Caller, p scheduler.Problem, what string, visits []scheduler.Visit,
	keepOuts []scheduler.KeepOut, moves func(v scheduler.Visit, now civil.Instant) bool, cause error) error {
	h := holding{problem: p, visits: visits, keepOuts: keepOuts}
	err := s.Reading(ctx, caller, func(tx *store.Tx) error {
		span := civil.Interval{From: tx.Now(), To: p.Zone.At(p.FirstDay.AddDays(p.Days+2), 0)}
		stored, err := tx.Visits(store.VisitFilter{From: span.From, To: span.To})
		if err != nil {
			return err
		}
		moving := map[scheduler.VisitID]bool{}
		for _, v := range visits {
			moving[v.ID] = true
		}
		for _, v := range stored {
			if moving[v.ID] = moving[v.ID] || moves(v, tx.Now()); !moving[v.ID] {
				h.look(v)
			}
		}
		shut, err := tx.KeepOuts(span)
		for _, k := range shut {
			if k.Visit == "" || !moving[k.Visit] {
				h.lookIn(k.KeepOut)
			}
		}
		return err
	})
	if err != nil {
		return err
	}
	if len(h.told) == 0 {
		f := keepsMoving("what " + what + " needs")
		f.Err = cause
		return f
	}
	f := fault.New(fault.Conflict, heldAlready, "%s cannot stand beside what does not move: %s; plan again around it, or choose another time", what, strings.Join(h.told, "; "))
	f.Subject, f.Err = string(h.first), cause
	return f
}

// holding gathers what stands in the way of new visits.
type holding struct {
	problem  scheduler.Problem
	visits   []scheduler.Visit
	keepOuts []scheduler.KeepOut
	told     []string
	first    scheduler.VisitID // of those told
}

// look tells of a stored visit that holds the time of a technician, or works in an area that a new keep-out shuts.
func (h *holding) look(v scheduler.Visit) {
	zone := zoneIn(h.problem, v.Site)
	during := civil.Interval{From: v.Arrives, To: v.Leaves}
	for _, other := range h.visits {
		if other.Technician == v.Technician && during.Overlaps(civil.Interval{From: other.Arrives, To: other.Leaves}) {
			h.tell(v.ID, "visit %s (%s) keeps %s at %s from %s to %s", v.ID, v.State, v.Technician, v.Site, zone.Format(v.Arrives), zone.FormatClock(v.Leaves))
			return
		}
	}
	for _, k := range h.keepOuts {
		for _, w := range v.Work {
			if w.Area == k.Area && w.Use == nil && k.During.Overlaps(civil.Interval{From: w.Begins, To: w.Ends}) {
				h.tell(v.ID, "visit %s (%s) works in %s at %s", v.ID, v.State, k.Area, zone.Format(w.Begins))
				return
			}
		}
	}
}

// lookIn tells of a stored keep-out in which new work would be done.
func (h *holding) lookIn(k scheduler.KeepOut) {
	for _, v := range h.visits {
		zone := zoneIn(h.problem, v.Site)
		for _, w := range v.Work {
			if w.Area == k.Area && w.Use == nil && k.During.Overlaps(civil.Interval{From: w.Begins, To: w.Ends}) {
				h.tell(v.ID, "%s is shut after %s from %s to %s", k.Area, k.Item, zone.Format(k.During.From), zone.Format(k.During.To))
				return
			}
		}
	}
}

func (h *holding) tell(id scheduler.VisitID, text string, args ...any) {
	if h.first == "" {
		h.first = id
	}
	h.told = append(h.told, fmt.Sprintf(text, args...))
}

func zoneIn(p scheduler.Problem, id site.ID) civil.Zone {
	for _, s := range p.Sites {
		if s.ID == id {
			return s.Zone
		}
	}
	return p.Zone
}
