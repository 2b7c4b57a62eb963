package planning

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Compare says what differs between two kept plans, item by item in order of time, for whom, and what that costs by part. Without
// a plan before, it is what is published now on the days of the later one, and nothing is said of the cost.
//
// Fails with NotFound.
func Compare(tx *store.Tx, before, after string) (firm.Comparison, error) {
	b, err := tx.Plan(after)
	if err != nil {
		return firm.Comparison{}, err
	}
	if before == "" {
		return besidePublished(tx, b)
	}
	a, err := tx.Plan(before)
	if err != nil {
		return firm.Comparison{}, err
	}
	comparison := compare(placements(a.Plan), placements(b.Plan), max(a.MadeAt, b.MadeAt))
	comparison.Before, comparison.After = a.ID, b.ID
	for _, part := range scheduler.CostParts {
		comparison.Cost.Add(part, b.Plan.Cost.Parts[part]-a.Plan.Cost.Parts[part])
	}
	return comparison, nil
}

// besidePublished compares a plan with the visits as they are published from its first day on, or from now on if that is later, so
// that what is over is no difference.
func besidePublished(tx *store.Tx, after firm.KeptPlan) (firm.Comparison, error) {
	business, err := tx.Business()
	if err != nil {
		return firm.Comparison{}, err
	}
	days := Gathered{Problem: scheduler.Problem{Zone: business.Zone, FirstDay: after.FirstDay, Days: after.Days}}.horizon()
	visits, err := tx.Visits(store.VisitFilter{From: days.From, To: days.To})
	if err != nil {
		return firm.Comparison{}, err
	}
	was, is := scheduler.Plan{Routes: make([]scheduler.DayRoute, len(visits))}, placements(after.Plan)
	for i, v := range visits {
		was.Routes[i] = scheduler.DayRoute{Technician: v.Technician, Visits: []scheduler.Visit{v}}
	}
	comparison := compare(placements(was), is, after.MadeAt)
	comparison.After = after.ID
	return comparison, nil
}

// compare says what differs between two placings of items, as it is seen from an instant on: what had begun before and stands in
// one of them only is over, and no difference.
func compare(was, is map[scheduler.ItemID]firm.Placement, from civil.Instant) firm.Comparison {
	comparison := firm.Comparison{}
	was, wasCalled := counted(was, from)
	is, called := counted(is, from)
	for _, both := range [][2]map[scheduler.ItemID]firm.Placement{{was, is}, {is, was}} {
		maps.DeleteFunc(both[0], func(item scheduler.ItemID, at firm.Placement) bool {
			_, other := both[1][item]
			return !other && at.Begins < from
		})
	}
	for item, old := range was {
		if now, ok := is[item]; !ok {
			comparison.Differences = append(comparison.Differences, firm.Difference{Item: item, Before: &old})
		} else if now != old {
			comparison.Differences = append(comparison.Differences, firm.Difference{Item: item, Before: &old, After: &now})
		} else {
			comparison.Same++
		}
	}
	for item, now := range is {
		if _, ok := was[item]; !ok {
			comparison.Differences = append(comparison.Differences, firm.Difference{Item: item, After: &now})
		}
	}
	for i := range comparison.Differences { // each as the plan that holds it calls it, the later one first
		d := &comparison.Differences[i]
		d.Item = cmp.Or(called[d.Item], wasCalled[d.Item])
	}
	slices.SortFunc(comparison.Differences, func(x, y firm.Difference) int {
		return cmp.Or(cmp.Compare(when(x), when(y)), strings.Compare(string(x.Item), string(y.Item)))
	})
	comparison.Technicians = affected(comparison.Differences, func(p firm.Placement) string { return string(p.Technician) })
	comparison.Sites = affected(comparison.Differences, func(p firm.Placement) string { return string(p.Site) })
	return comparison
}

// counted names the occurrences of services by their order in time from an instant on, so that one is called alike in plans made
// before and after another of its service was done. Those before it are over. called is what each was called.
func counted(placed map[scheduler.ItemID]firm.Placement, from civil.Instant) (named map[scheduler.ItemID]firm.Placement, called map[scheduler.ItemID]scheduler.ItemID) {
	named, called = map[scheduler.ItemID]firm.Placement{}, map[scheduler.ItemID]scheduler.ItemID{}
	number := map[string]int{}
	items := slices.SortedFunc(maps.Keys(placed), func(a, b scheduler.ItemID) int {
		return cmp.Or(cmp.Compare(placed[a].Begins, placed[b].Begins), strings.Compare(string(a), string(b)))
	})
	for _, item := range items {
		name := item
		if service := serviceOf(item); service != string(item) {
			if placed[item].Begins < from {
				continue
			}
			number[service]++
			name = scheduler.ItemID(fmt.Sprintf("%s#%d", service, number[service]))
		}
		named[name], called[name] = placed[item], item
	}
	return named, called
}

// affected counts what changes for each of those that placements name, by id.
func affected(differences []firm.Difference, who func(firm.Placement) string) []firm.Affected {
	by := map[string]*firm.Affected{}
	of := func(p firm.Placement) *firm.Affected {
		id := who(p)
		if by[id] == nil {
			by[id] = &firm.Affected{ID: id}
		}
		return by[id]
	}
	for _, d := range differences {
		switch {
		case d.Before == nil:
			of(*d.After).Added++
		case d.After == nil:
			of(*d.Before).Removed++
		case who(*d.Before) == who(*d.After):
			of(*d.After).Moved++
		default:
			of(*d.Before).Removed++
			of(*d.After).Added++
		}
	}
	list := make([]firm.Affected, 0, len(by))
	for _, id := range slices.Sorted(maps.Keys(by)) {
		list = append(list, *by[id])
	}
	return list
}

// when an item begins: in the later plan, else in the one before.
func when(d firm.Difference) civil.Instant {
	if d.After != nil {
		return d.After.Begins
	}
	return d.Before.Begins
}

// placements says where each item begins.
func placements(p scheduler.Plan) map[scheduler.ItemID]firm.Placement {
	at := map[scheduler.ItemID]firm.Placement{}
	for _, route := range p.Routes {
		for _, visit := range route.Visits {
			for _, work := range visit.Work {
				if first, ok := at[work.Item]; !ok || work.Begins < first.Begins {
					at[work.Item] = firm.Placement{Technician: route.Technician, Site: visit.Site, Begins: work.Begins, Way: work.Way}
				}
			}
		}
	}
	return at
}
