package planning

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// defaultLookDays is how many days are looked at where nobody says how many: the horizon of a usual plan.
const defaultLookDays = 14

// Openings finds the free slots of a follow-up beside everything that is published, and judges the slots that were asked for.
// It wants a transaction that sees one state of the store, and writes nothing. Booking one judges again.
//
// Fails with NotFound (FOLLOW_UP_UNKNOWN) and Invalid (UNKNOWN_TECHNICIAN).
func Openings(ctx context.Context, tx *store.Tx, wish firm.OpeningWish) (firm.FoundOpenings, error) {
	desk, err := openDesk(tx, wish.Item, wish.Days)
	if err != nil {
		return firm.FoundOpenings{}, err
	}
	for i, slot := range wish.Asked.Slots {
		if !slices.ContainsFunc(desk.problem.Technicians, func(t scheduler.Technician) bool { return t.ID == slot.Technician }) {
			return firm.FoundOpenings{}, wrongField(fmt.Sprintf("slots[%d].technician", i), "UNKNOWN_TECHNICIAN", "technician %q is not of this business", slot.Technician)
		}
	}
	ranked, err := scheduler.Openings(ctx, desk.prepared, desk.plan, wish.Item, wish.Asked)
	if err != nil {
		return firm.FoundOpenings{}, fmt.Errorf("openings of %s: %w", wish.Item, err)
	}
	return firm.FoundOpenings{Ranked: ranked, Wish: wish, Zone: desk.site.Zone, Names: desk.names()}, nil
}

// Explain says what keeps a follow-up out beside everything that is published, and what would let it in.
//
// Fails with NotFound (FOLLOW_UP_UNKNOWN).
func Explain(ctx context.Context, tx *store.Tx, wish firm.OpeningWish) (firm.Explained, error) {
	desk, err := openDesk(tx, wish.Item, wish.Days)
	if err != nil {
		return firm.Explained{}, err
	}
	explanation, err := scheduler.Explain(ctx, desk.prepared, desk.plan, wish.Item)
	if err != nil {
		return firm.Explained{}, fmt.Errorf("explaining %s: %w", wish.Item, err)
	}
	return firm.Explained{Explanation: explanation, Zone: desk.site.Zone, Names: desk.names()}, nil
}

// desk is the Problem of the days from today on with what is published as its plan, under one plan head.
type desk struct {
	gathered Gathered
	head     firm.Head
	problem  scheduler.Problem
	prepared *scheduler.Prepared
	plan     scheduler.Plan
	site     site.Site
}

// openDesk gathers and prepares, and reads what is published.
func openDesk(tx *store.Tx, item scheduler.ItemID, days int) (*desk, error) {
	business, err := tx.Business()
	if err != nil {
		return nil, err
	}
	if days == 0 {
		days = defaultLookDays
	}
	b := &booking{}
	if b.gathered, err = Gather(tx, business.Zone.DateOf(tx.Now()), days); err != nil {
		return nil, err
	}
	b.problem = b.gathered.Problem
	at := slices.IndexFunc(b.problem.FollowUps, func(f scheduler.FollowUp) bool { return f.ID == item })
	if at < 0 {
		return nil, fault.New(fault.NotFound, "FOLLOW_UP_UNKNOWN", "no open case needs %q within %d days: look at the case's course", item, days)
	}
	if err := b.readDays(tx); err != nil {
		return nil, err
	}
	d := &desk{gathered: b.gathered, head: b.head, problem: b.problem, plan: scheduler.Plan{Routes: b.routes()}}
	d.site = d.problem.Sites[slices.IndexFunc(d.problem.Sites, func(s site.Site) bool { return s.ID == d.problem.FollowUps[at].Site })]
	if d.prepared, err = scheduler.Prepare(d.problem, b.gathered.Rates); err != nil {
		return nil, fmt.Errorf("preparing the days from today on: %w", err)
	}
	return d, nil
}

// names are those of the crew.
func (d *desk) names() map[scheduler.TechnicianID]string {
	names := map[scheduler.TechnicianID]string{}
	for _, t := range d.problem.Technicians {
		names[t.ID] = t.Name
	}
	return names
}

// routes are what is published as day routes of a plan: one for each technician and day, with every visit that does not move,
// as the Problem has it, in order of time. Of what has passed only those are kept.
func (b *booking) routes() []scheduler.DayRoute {
	for _, fixed := range b.problem.Fixed {
		for d := range b.days {
			b.days[d].Visits = slices.DeleteFunc(slices.Clone(b.days[d].Visits), func(v scheduler.Visit) bool { return v.ID == fixed.ID })
		}
		b.putIntoDay(fixed)
	}
	var routes []scheduler.DayRoute
	for _, day := range b.days {
		if len(day.Visits) == 0 {
			continue
		}
		day = b.factsFirst(day)
		at := slices.IndexFunc(routes, func(r scheduler.DayRoute) bool { return r.Technician == day.Technician && r.Day == day.Day })
		if at < 0 {
			routes = append(routes, day)
			continue
		}
		for i := range day.Visits {
			for w := range day.Visits[i].Work {
				if work := &day.Visits[i].Work[w]; work.MixIndex >= 0 {
					work.MixIndex += len(routes[at].Mixes)
				}
			}
		}
		routes[at].Mixes = append(routes[at].Mixes, day.Mixes...)
		routes[at].Visits = append(routes[at].Visits, day.Visits...)
		routes[at].Departs, routes[at].Returns = min(routes[at].Departs, day.Departs), max(routes[at].Returns, day.Returns)
	}
	for r := range routes {
		slices.SortStableFunc(routes[r].Visits, func(x, y scheduler.Visit) int { return int(x.Arrives - y.Arrives) })
	}
	return routes
}

// factsFirst is a day with the mixes that no plan moves first, as the Problem has them, then those that other work draws on.
func (b *booking) factsFirst(day scheduler.DayRoute) scheduler.DayRoute {
	var mixes []scheduler.Mix
	for _, m := range b.problem.Mixes {
		if m.Technician == day.Technician && day.Departs <= m.Begins && m.Begins < day.Returns {
			mixes = append(mixes, m)
		}
	}
	facts := len(mixes)
	at := make([]int, len(day.Mixes))
	for i, m := range day.Mixes {
		at[i] = slices.IndexFunc(mixes[:facts], func(f scheduler.Mix) bool {
			return f.Vessel == m.Vessel && f.Begins == m.Begins && f.Product == m.Product
		})
		used := slices.ContainsFunc(day.Visits, func(v scheduler.Visit) bool {
			return !b.isFact(v) && slices.ContainsFunc(v.Work, func(w scheduler.WorkItem) bool { return w.MixIndex == i })
		})
		if at[i] < 0 && used {
			at[i] = len(mixes)
			mixes = append(mixes, m)
		}
	}
	day.Mixes, day.Visits = mixes, slices.Clone(day.Visits)
	for v := range day.Visits {
		visit := &day.Visits[v]
		if b.isFact(*visit) {
			continue // it draws on them as the Problem says
		}
		visit.Work = slices.Clone(visit.Work)
		for w := range visit.Work {
			if m := visit.Work[w].MixIndex; m >= 0 && m < len(at) {
				visit.Work[w].MixIndex = at[m]
			}
		}
	}
	return day
}

// isFact says whether a visit is one that the Problem holds as it is.
func (b *booking) isFact(v scheduler.Visit) bool {
	return slices.ContainsFunc(b.problem.Fixed, func(f scheduler.Visit) bool { return f.ID == v.ID })
}

// mostNamed is how many openings a refused booking is told of.
const mostNamed = 3

// withOpenings adds to a booking that was refused for its time the slots that are free instead, cheapest first: visits of
// their own that move nothing, as a booking is. Any other answer stays as it is.
func withOpenings(ctx context.Context, tx *store.Tx, wish firm.Booking, err error) error {
	var refused *fault.Fault
	if !errors.As(err, &refused) || refused.Reason != "BOOKING_BREAKS_RULES" && refused.Reason != "TECHNICIAN_BUSY" {
		return err
	}
	found, failed := Openings(ctx, tx, firm.OpeningWish{Item: wish.Item, Asked: scheduler.Asked{Still: true, Most: scheduler.MaxOpenings}})
	if failed != nil {
		return err // it stands on its own
	}
	var free []string
	for _, o := range found.Openings {
		if o.Bookable() && len(free) < mostNamed && (wish.Way == "" || wish.Way == o.WayKind) {
			slot := fmt.Sprintf("%s by %s", found.Zone.Format(o.Begins), found.Names[o.Technician])
			if wish.Way == "" && o.WayKind != scheduler.InPlace {
				slot += " (way " + string(o.WayKind) + ")"
			}
			free = append(free, slot)
		}
	}
	if len(free) == 0 {
		return err
	}
	told := *refused
	told.Message += "; free instead: " + strings.Join(free, ", ")
	return &told
}
