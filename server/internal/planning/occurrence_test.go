package planning_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/course"
	"vernation/server/internal/firm"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

// Once a watering is done the next one is the first of its service, also where it was published or pinned as the second: a plan
// keeps it where it stands, asks for it once, and says that nothing changes.
func TestGather_CallsWhatIsPublishedAsTheProblemDoes(t *testing.T) {
	t.Parallel()
	o := open(t)
	o.publish(t, o.plan(t, 14))
	done, next := o.wateredTwice(t)
	o.Clock.Set(done.Leaves.Add(-30 * time.Second))
	o.In(t, o.Office, func(tx *store.Tx) error {
		_, err := planning.Pin(tx, next.ID)
		return err
	})
	o.Report(t, firm.Report{
		ID: "watered", Visit: done.ID, Technician: done.Technician, Site: done.Site, Arrived: done.Arrives, Left: o.Clock.Now(), SentAt: o.Clock.Now(), RestOutcome: course.OutcomeDone,
	})
	o.Clock.Set(o.At(t, "2026-03-04 05:00"))
	service := scheduler.ItemID(serviceName(next))
	o.In(t, o.Office, func(tx *store.Tx) error {
		gathered, err := planning.Gather(tx, o.Business.Zone.DateOf(o.Clock.Now()), 12)
		for _, v := range gathered.Problem.Fixed {
			if v.ID == next.ID && !holds(v, service+"#1") {
				t.Errorf("visit %s was published with %s#2, and is %+v: want it the first of its service", v.ID, service, v.Work)
			}
		}
		return err
	})
	again := o.plan(t, 12)
	for _, route := range again.Plan.Routes {
		for _, v := range route.Visits {
			if v.ID != next.ID && v.Arrives < next.Arrives && slices.ContainsFunc(v.Work, func(w scheduler.WorkItem) bool { return serviceOf(w) == string(service) }) {
				t.Errorf("%s is planned at %v too, before the pinned visit at %v", service, v.Arrives, next.Arrives)
			}
		}
	}
	o.In(t, o.Office, func(tx *store.Tx) error {
		changes, err := planning.Compare(tx, "", again.ID)
		if slices.ContainsFunc(changes.Differences, func(d firm.Difference) bool { return d.After == nil && d.Before.Site == next.Site }) {
			t.Errorf("changes %+v: want the pinned watering unchanged", changes.Differences)
		}
		return err
	})
	o.publish(t, again)
}

func serviceOf(w scheduler.WorkItem) string {
	if w.Service == "" {
		return ""
	}
	name, _, _ := strings.Cut(string(w.Item), "#")
	return name
}

func serviceName(v scheduler.Visit) string {
	for _, w := range v.Work {
		if name := serviceOf(w); name != "" {
			return name
		}
	}
	return ""
}

// wateredTwice returns two published visits with the first and second occurrence of one service and nothing but services.
func (o *office) wateredTwice(t *testing.T) (first, second scheduler.Visit) {
	t.Helper()
	visits := o.visits(t)
	for _, v := range visits {
		only := !slices.ContainsFunc(v.Work, func(w scheduler.WorkItem) bool { return w.Service == "" })
		for _, later := range visits {
			name := serviceName(later)
			if only && name != "" && holds(v, scheduler.ItemID(name+"#1")) && holds(later, scheduler.ItemID(name+"#2")) && v.Arrives < o.At(t, "2026-03-04 00:00") {
				return v, later
			}
		}
	}
	t.Fatal("no service is published twice: want a plan with two waterings of one site")
	return first, second
}
