package scheduler_test

import (
	"testing"

	"vernation/scheduler"
)

func TestCheckPinned_FixedVisitsStayAsTheyAre(t *testing.T) {
	t.Parallel()
	pinned := func(s *story) *scheduler.Visit { return &s.Plan.Routes[1].Visits[0] }
	expectBreaches(t, scheduler.RulePinned, []breachCase{
		{name: "left out", change: func(s *story) { s.Plan.Routes = s.Plan.Routes[:1] }, want: "is not in the plan"},
		{name: "moved", change: func(s *story) { pinned(s).Arrives = at(4, "08:39") }, want: "arrives Wed 4 Mar 08:39 instead of Wed 4 Mar 08:40"},
		{name: "work left out", change: func(s *story) { pinned(s).Work = nil }, want: "number of work items 0 instead of 1"},
		{name: "longer", change: func(s *story) { pinned(s).Leaves, s.Plan.Routes[1].Returns = at(4, "08:49"), at(4, "09:04") }, want: "leaves Wed 4 Mar 08:49 instead of"},
		{name: "its id alone is enough to find it", change: func(s *story) { s.Problem.Fixed[0].ID, pinned(s).ID = "", "" }},
		{name: "another id", change: func(s *story) { pinned(s).ID = "v2" }, want: "is not in the plan"},
	})
}
