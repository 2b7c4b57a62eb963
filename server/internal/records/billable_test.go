package records

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// What a visit's outcome says of the rest is billed as what was told by itself; what was not done is not.
func TestBillable_TermsFollowTheAgreementAndTheKindOfWork(t *testing.T) {
	t.Parallel()
	visit := scheduler.Visit{ID: "v", Work: []scheduler.WorkItem{
		{Item: "case/application/1/1", Kind: course.KindApplication}, {Item: "water#1", Service: site.WateringService}, {Item: "case/isolation/1/1", Kind: course.KindIsolation},
	}}
	report := firm.Report{ID: "r", Visit: "v", Site: "hall", Technician: "ann", Arrived: at(3, 9, 0), Left: at(3, 10, 0), RestOutcome: course.OutcomeDone, Items: []firm.ReportItem{
		{Item: "case/isolation/1/1", Outcome: course.LockedOut},
		{Item: "case/application/1/1", Outcome: course.OutcomeDone, Began: at(3, 9, 5), Ended: at(3, 9, 25)},
	}}
	for included, want := range map[bool]map[scheduler.ItemID]firm.BillTerms{
		false: {"case/application/1/1": firm.BilledWork, "water#1": firm.RoutineService},
		true:  {"case/application/1/1": firm.IncludedWork, "water#1": firm.RoutineService},
	} {
		a := &around{
			visits: map[scheduler.VisitID]scheduler.Visit{"v": visit},
			sites:  map[site.ID]site.Site{"hall": {ID: "hall", Agreement: site.Agreement{FollowUpsIncluded: included}}},
		}
		got := map[scheduler.ItemID]firm.BillTerms{}
		for _, b := range a.billable(report, civil.Zone{}) {
			got[b.Item] = b.Terms
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("included %t (-want +got):\n%s", included, diff)
		}
	}
}
