package planning

import (
	"cmp"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Compare says what differs between two kept plans, item by item in order of time, and what that costs by part.
func Compare(tx *store.Tx, before, after string) (firm.Comparison, error) {
	a, err := tx.Plan(before)
	if err != nil {
		return firm.Comparison{}, err
	}
	b, err := tx.Plan(after)
	if err != nil {
		return firm.Comparison{}, err
	}
	return compare(a, b), nil
}

func compare(a, b firm.KeptPlan) firm.Comparison {
	was, is := placements(a.Plan), placements(b.Plan)
	comparison := firm.Comparison{Before: a.ID, After: b.ID}
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
	slices.SortFunc(comparison.Differences, func(x, y firm.Difference) int {
		return cmp.Or(cmp.Compare(when(x), when(y)), strings.Compare(string(x.Item), string(y.Item)))
	})
	for _, part := range scheduler.CostParts {
		comparison.Cost.Add(part, b.Plan.Cost.Parts[part]-a.Plan.Cost.Parts[part])
	}
	return comparison
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
