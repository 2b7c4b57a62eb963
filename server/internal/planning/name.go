package planning

import (
	"fmt"

	"vernation/scheduler"
)

// nameVisits names the visits of a plan: each gets the id of the visit published before at its site that shares most
// work with it, so that a visit keeps its id when it moves; fixed ones keep theirs; the rest are named by plan and order.
func nameVisits(plan *scheduler.Plan, planID string, before []scheduler.Visit) {
	taken := map[scheduler.VisitID]bool{} // those that the plan itself carries on first: nobody else gets them
	for _, route := range plan.Routes {
		for _, visit := range route.Visits {
			taken[visit.ID] = true
		}
	}
	next := 0
	for r := range plan.Routes {
		for v := range plan.Routes[r].Visits {
			visit := &plan.Routes[r].Visits[v]
			if visit.ID == "" {
				visit.ID = oldVisit(*visit, before, taken)
			}
			if visit.ID == "" {
				next++
				visit.ID = scheduler.VisitID(fmt.Sprintf("%s-%03d", planID, next))
			}
			taken[visit.ID] = true
		}
	}
}

func oldVisit(visit scheduler.Visit, before []scheduler.Visit, taken map[scheduler.VisitID]bool) scheduler.VisitID {
	items := map[scheduler.ItemID]bool{}
	for _, work := range visit.Work {
		items[work.Item] = true
	}
	var best scheduler.VisitID
	most := 0
	for _, old := range before {
		if old.Site != visit.Site || taken[old.ID] {
			continue
		}
		shared := 0
		for _, work := range old.Work {
			if items[work.Item] {
				shared++
			}
		}
		if shared > most {
			best, most = old.ID, shared
		}
	}
	return best
}
