package planning

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// BookOpening makes an opening real that Openings told of, and whose token is given: the visit that holds the follow-up is
// pinned, and the one that carries plants back; what the opening moves moves, and nothing else. It is looked for again in one
// state of the store and judged there; then the plan head is locked, and when what it touches has moved meanwhile it is looked
// for once more. A visit that is made for it is called id.
//
// Fails with Invalid (OPENING_UNKNOWN), NotFound (FOLLOW_UP_UNKNOWN), Stale (OPENING_STALE), Refused (BOOKING_BREAKS_RULES with
// every violation) and Conflict (HELD_ALREADY, CASES_KEEP_MOVING).
func BookOpening(ctx context.Context, s *store.Store, caller firm.Caller, id scheduler.VisitID, token string, within Within[firm.BookedOpening]) (firm.BookedOpening, error) {
	mark, ok := firm.ReadOpeningMark(token)
	if !ok {
		return firm.BookedOpening{}, wrongField("token", "OPENING_UNKNOWN", "no opening has such a token: want one as FindOpenings gave it")
	}
	for range publishTries {
		var p *placing
		err := s.Reading(ctx, caller, func(tx *store.Tx) (err error) {
			p, err = place(ctx, tx, id, mark)
			return err
		})
		if err != nil {
			return firm.BookedOpening{}, err
		}
		var booked firm.BookedOpening
		err = s.In(ctx, caller, func(tx *store.Tx) error {
			return within.run(tx, func() (firm.BookedOpening, error) {
				var err error
				booked, err = p.keep(tx)
				return booked, err
			})
		})
		switch {
		case errors.Is(err, errMoved):
		case err != nil && fault.Of(err).Reason == heldAlready:
			return firm.BookedOpening{}, p.held(ctx, s, caller, mark.Item, err)
		default:
			return booked, err
		}
	}
	return firm.BookedOpening{}, keepsMoving("what a visit for " + string(mark.Item) + " touches")
}

// placing is an opening on its way to become real.
type placing struct {
	checked // the day routes that change, as a plan
	desk    *desk
	opening scheduler.Opening
	changed []scheduler.DayRoute // technician-days that become another; those of the opening first
	moved   []scheduler.VisitID  // published visits of the days that change
	holds   []scheduler.VisitID
}

// place finds an opening again, puts it into what is published, and judges that.
func place(ctx context.Context, tx *store.Tx, id scheduler.VisitID, mark firm.OpeningMark) (*placing, error) {
	desk, err := openDesk(tx, mark.Item, mark.Days)
	if err != nil {
		return nil, err
	}
	p := &placing{desk: desk}
	if p.opening, err = desk.find(ctx, mark); err != nil {
		return nil, err
	}
	booked, err := desk.prepared.Book(desk.plan, p.opening)
	if err != nil {
		return nil, fmt.Errorf("booking %s at %s: %w", mark.Item, desk.site.Zone.Format(p.opening.Begins), err)
	}
	p.changed = slices.Clone(p.opening.Routes)
	for _, route := range booked.Routes {
		if desk.otherWork(route) {
			p.changed = append(p.changed, route)
		}
	}
	p.name(&booked, id, mark.Item)
	if err := p.judge(booked, mark.Item); err != nil {
		return nil, err
	}
	p.kept = firm.KeptPlan{FirstDay: desk.problem.FirstDay, Days: desk.problem.Days, Plan: scheduler.Plan{KeepOuts: booked.KeepOuts}}
	p.gathered = desk.gathered
	for _, route := range booked.Routes {
		if p.changes(route) {
			p.kept.Plan.Routes = append(p.kept.Plan.Routes, route)
		}
	}
	return p, nil
}

// find looks for the opening that a mark names: among the ranked ones, and at its own beginning.
func (d *desk) find(ctx context.Context, mark firm.OpeningMark) (scheduler.Opening, error) {
	asked := scheduler.Asked{Most: scheduler.MaxOpenings, Still: mark.Still}
	if slices.ContainsFunc(d.problem.Technicians, func(t scheduler.Technician) bool { return t.ID == mark.Slot.Technician }) {
		for _, way := range []scheduler.WayID{"", mark.Slot.Way} { // it may have been asked for by either
			slot := mark.Slot
			slot.Way = way
			asked.Slots = append(asked.Slots, slot)
		}
	}
	ranked, err := scheduler.Openings(ctx, d.prepared, d.plan, mark.Item, asked)
	if invalid := (*scheduler.InvalidQuestion)(nil); err != nil && !errors.As(err, &invalid) {
		return scheduler.Opening{}, fmt.Errorf("openings of %s: %w", mark.Item, err)
	}
	candidates := ranked.Openings
	for _, answer := range ranked.Asked {
		if answer.Opening != nil {
			candidates = append(candidates, *answer.Opening)
		}
	}
	wish := firm.OpeningWish{Item: mark.Item, Days: mark.Days, Asked: asked}
	for _, o := range candidates {
		if bytes.Equal(firm.MarkOf(wish, o).Is, mark.Is) {
			return o, nil
		}
	}
	f := fault.New(fault.Stale, "OPENING_STALE", "the opening for %s at %s is not what it was: what is published or known has changed since, look for openings again",
		mark.Item, d.site.Zone.Format(mark.Slot.Begins))
	f.Subject = string(mark.Item)
	return scheduler.Opening{}, f
}

// held says what stands in the way of the days that the store refused.
func (p *placing) held(ctx context.Context, s *store.Store, caller firm.Caller, item scheduler.ItemID, cause error) error {
	var visits []scheduler.Visit
	for _, route := range p.kept.Plan.Routes {
		visits = append(visits, slices.DeleteFunc(slices.Clone(route.Visits), fixed)...)
	}
	return held(ctx, s, caller, p.gathered.Problem, "the opening for "+string(item), visits, p.kept.Plan.KeepOuts, func(v scheduler.Visit, _ civil.Instant) bool {
		return slices.Contains(p.moved, v.ID)
	}, cause)
}

// otherWork says whether a day route does other work than is published, as a watering does whose plants nothing replaces any more
// because that was moved to another day.
func (d *desk) otherWork(route scheduler.DayRoute) bool {
	at := slices.IndexFunc(d.plan.Routes, func(r scheduler.DayRoute) bool { return r.Technician == route.Technician && r.Day == route.Day })
	if at < 0 {
		return false
	}
	plants := func(r scheduler.DayRoute) (n int) {
		for _, v := range r.Visits {
			for _, w := range v.Work {
				n += len(w.Plants)
			}
		}
		return n
	}
	return plants(d.plan.Routes[at]) != plants(route)
}

// changes says whether a day route is one that the opening changes.
func (p *placing) changes(route scheduler.DayRoute) bool {
	return slices.ContainsFunc(p.changed, func(r scheduler.DayRoute) bool { return r.Technician == route.Technician && r.Day == route.Day })
}

// name gives the visits that hold the item their ids, that of the published visit where it was alone before, and makes visits
// that were planned published ones.
func (p *placing) name(booked *scheduler.Plan, id scheduler.VisitID, item scheduler.ItemID) {
	taken := map[scheduler.VisitID]bool{}
	for _, route := range booked.Routes {
		for _, v := range route.Visits {
			taken[v.ID] = true
		}
	}
	fresh := []scheduler.VisitID{}
	for _, route := range p.desk.plan.Routes {
		if !p.changes(route) {
			continue
		}
		for _, v := range route.Visits {
			p.moved = append(p.moved, v.ID)
			if !taken[v.ID] && !fixed(v) {
				fresh = append(fresh, v.ID)
			}
		}
	}
	fresh = append(fresh, id, id+"-back")
	for r := range booked.Routes {
		for v := range booked.Routes[r].Visits {
			visit := &booked.Routes[r].Visits[v]
			if visit.ID == "" {
				visit.ID, fresh = fresh[0], fresh[1:]
			}
			if visit.State == scheduler.Planned {
				visit.State = scheduler.Published
			}
			if slices.ContainsFunc(visit.Work, func(w scheduler.WorkItem) bool { return w.Item == item }) {
				p.holds = append(p.holds, visit.ID)
			}
		}
	}
}

// judge checks what is published with the opening and without it: what is wrong only with it is this booking's.
func (p *placing) judge(booked scheduler.Plan, item scheduler.ItemID) error {
	without, err := p.desk.prepared.Book(p.desk.plan, scheduler.Opening{})
	if err != nil {
		return fmt.Errorf("what is published: %w", err)
	}
	before := scheduler.Check(p.desk.problem, without)
	own := slices.DeleteFunc(decided(scheduler.Check(p.desk.problem, booked)), func(v scheduler.Violation) bool { return slices.Contains(before, v) })
	if len(own) == 0 {
		return nil
	}
	f := fault.New(fault.Refused, "BOOKING_BREAKS_RULES", "%s cannot be booked at %s: %s", item, p.desk.site.Zone.Format(p.opening.Begins), own[0])
	f.Subject, f.Violations = string(item), own
	return f
}

// keep writes the days that change, where nothing has moved since they were judged.
func (p *placing) keep(tx *store.Tx) (firm.BookedOpening, error) {
	head, err := tx.LockHead()
	if err != nil {
		return firm.BookedOpening{}, err
	}
	if head.Version != p.desk.head.Version {
		return firm.BookedOpening{}, errMoved
	}
	for _, unmoved := range []func(*store.Tx) error{p.versionsUnmoved, p.gathered.fixedUnmoved} {
		if err := unmoved(tx); err != nil {
			return firm.BookedOpening{}, err
		}
	}
	s := swapping{checked: p.checked, tx: tx, holds: p.holds, gives: func(v scheduler.Visit) bool { return slices.Contains(p.moved, v.ID) }}
	written, err := s.run()
	if err != nil {
		return firm.BookedOpening{}, err
	}
	booked := firm.BookedOpening{Moves: p.opening.Moves}
	for _, v := range written {
		if !slices.Contains(p.holds, v.ID) {
			continue
		}
		if v.Technician == p.opening.Technician && v.Arrives <= p.opening.Begins && p.opening.Begins < v.Leaves {
			booked.Visit = v
		} else {
			booked.Back = &v
		}
	}
	return booked, nil
}
