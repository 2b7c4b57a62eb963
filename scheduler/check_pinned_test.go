package scheduler_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
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

// On 1 November 2026 New York puts its clocks back from 02:00 EDT to 01:00 EST (15 U.S.C. 260a): from 05:00Z to 07:00Z
// every reading comes twice.
func TestCheckPinned_TheHourThatComesTwice(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ name, fixed, planned, want string }{
		{"an hour later reads alike", "05:30:00", "06:30:00", "arrives Sun 1 Nov 01:30 EST instead of Sun 1 Nov 01:30 EDT; leaves"},
		{"an hour earlier reads alike", "06:59:59", "05:59:59", "arrives Sun 1 Nov 01:59:59 EDT instead of Sun 1 Nov 01:59:59 EST; leaves"},
		{"the second before it and its first", "04:59:59", "05:00:00", "arrives Sun 1 Nov 01:00 EDT instead of Sun 1 Nov 00:59:59; leaves"},
		{"its last second and the one after it", "07:00:00", "06:59:59", "arrives Sun 1 Nov 01:59:59 EST instead of Sun 1 Nov 02:00; leaves"},
		{"the same instant", "05:30:00", "05:30:00", ""},
	} {
		s := newStory()
		instant := func(clock string) civil.Instant {
			at, err := time.Parse(time.RFC3339, "2026-11-01T"+clock+"Z")
			if err != nil {
				t.Fatal(err)
			}
			return civil.Instant(at.Unix())
		}
		place := func(v *scheduler.Visit, arrives civil.Instant) {
			by := arrives.Sub(v.Arrives)
			v.Arrives, v.Leaves = v.Arrives.Add(by), v.Leaves.Add(by)
			v.Work = slices.Clone(v.Work)
			v.Work[0].Begins, v.Work[0].Ends = v.Work[0].Begins.Add(by), v.Work[0].Ends.Add(by)
		}
		place(&s.Problem.Fixed[0], instant(tc.fixed))
		place(&s.Plan.Routes[1].Visits[0], instant(tc.planned))
		var said []string
		for _, v := range s.check() {
			if v.Rule == scheduler.RulePinned {
				said = append(said, v.Text)
			}
		}
		if got := strings.Join(said, "\n"); (got == "") != (tc.want == "") || !strings.Contains(got, tc.want) {
			t.Errorf("%s: said %q, want %q", tc.name, got, tc.want)
		}
	}
}
