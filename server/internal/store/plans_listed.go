package store

import (
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

var plansListed = source{
	document: "to_jsonb(p.plan_id)", from: "FROM plan p WHERE p.business_id = $1",
	columns: map[string]string{
		"name": "p.plan_id", "first_on": "p.first_day_on", "days": "p.days", "create_time": "p.made_at",
		"publish_time": "(SELECT min(b.published_at) FROM publication b WHERE b.business_id = $1 AND b.plan_id = p.plan_id)",
	},
}

// KeptPlans returns a page of plans.
func (tx *Tx) KeptPlans(asked listing.Question) ([]Listed[firm.KeptPlan], error) {
	named, err := listed[string](tx, plansListed, asked)
	if err != nil {
		return nil, err
	}
	rows, err := list[planRow](tx, planColumnsSQL+`AND p.plan_id = ANY ($2) ORDER BY p.plan_id`, ids(valuesOf(named)))
	if err != nil {
		return nil, err
	}
	plans := map[string]firm.KeptPlan{}
	for _, row := range rows {
		plans[row.ID] = row.value()
	}
	return inOrder(named, plans), nil
}

var planRunsListed = source{
	document: "to_jsonb(r.plan_run_id)", from: "FROM plan_run r WHERE r.business_id = $1",
	columns: map[string]string{
		"name": "r.plan_run_id", "state": "r.state", "first_on": "r.first_day_on", "days": "r.days", "create_time": "r.created_at",
	},
}

// PlanRuns returns a page of runs.
func (tx *Tx) PlanRuns(asked listing.Question) ([]Listed[firm.PlanRun], error) {
	named, err := listed[string](tx, planRunsListed, asked)
	if err != nil {
		return nil, err
	}
	rows, err := list[planRunRow](tx, planRunColumnsSQL+`AND plan_run_id = ANY ($2) ORDER BY plan_run_id`, ids(valuesOf(named)))
	if err != nil {
		return nil, err
	}
	runs := map[string]firm.PlanRun{}
	for _, row := range rows {
		runs[row.ID] = row.value()
	}
	return inOrder(named, runs), nil
}

// valuesOf are the values of listed rows, in order.
func valuesOf[T any](rows []Listed[T]) []T {
	values := make([]T, len(rows))
	for i, row := range rows {
		values[i] = row.Value
	}
	return values
}

// inOrder gives listed ids what they name.
func inOrder[ID comparable, T any](named []Listed[ID], of map[ID]T) []Listed[T] {
	rows := make([]Listed[T], len(named))
	for i, row := range named {
		rows[i] = Listed[T]{Value: of[row.Value], After: row.After}
	}
	return rows
}
