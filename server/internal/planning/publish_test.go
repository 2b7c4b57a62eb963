package planning_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/planning"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

const (
	firstDrench = "gnats/application/1/1"
	firstSpray  = "mealybugs/application/1/1"
)

func TestPublish_MakesThePlansVisitsReal(t *testing.T) {
	t.Parallel()
	o := open(t)
	kept := o.plan(t, 14)
	o.publish(t, kept)
	var want []scheduler.VisitID
	for _, route := range kept.Plan.Routes {
		for _, v := range route.Visits {
			want = append(want, v.ID)
		}
	}
	var got []scheduler.VisitID
	for _, v := range o.visits(t) {
		got = append(got, v.ID)
		if v.State != scheduler.Published {
			t.Errorf("visit %s is %s", v.ID, v.State)
		}
	}
	slices.Sort(want)
	slices.Sort(got)
	if !slices.Equal(got, want) || len(slices.Compact(got)) != len(want) {
		t.Errorf("published are %v: want the plan's, %v", got, want)
	}
	spray := planned(kept, firstSpray)
	o.In(t, o.Office, func(tx *store.Tx) error {
		keepOuts, err := tx.KeepOuts(civil.Interval{From: spray.Arrives, To: spray.Leaves})
		if !slices.ContainsFunc(keepOuts, func(k firm.KeepOutFact) bool { return k.Visit == spray.ID && k.Area == "offices-floor" && k.UntilDry }) {
			t.Errorf("keep-outs %+v: want the open floor's until it is dry", keepOuts)
		}
		if err != nil {
			return err
		}
		notices, err := tx.Notices(civil.Interval{From: spray.Arrives, To: spray.Leaves})
		if len(notices) != 1 || notices[0].Item != firstSpray || notices[0].DueAt != notices[0].Begins.Add(-24*time.Hour) {
			t.Errorf("notices %+v: want the offices', due the agreed 24 hours before", notices)
		}
		return err
	})
	before := o.head(t)
	again, err := planning.Publish(t.Context(), o.Store, o.Office, planning.Publication{Plan: kept.ID, Head: before.Version - 1})
	if err != nil || again != before || o.head(t) != before {
		t.Errorf("the same publication again = %+v, %v: want the head that it made, %+v", again, err, before)
	}
	_, err = planning.Publish(t.Context(), o.Store, o.Office, planning.Publication{Plan: kept.ID, Head: before.Version - 2})
	firmtest.Refused(t, err, fault.Stale, "PLAN_HEAD_MOVED")
	_, err = planning.Publish(t.Context(), o.Store, o.Office, planning.Publication{Plan: "none", Head: before.Version})
	firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
}

func TestPublish_RefusesFollowUpsThatNoCaseNeedsAnyMore(t *testing.T) {
	t.Parallel()
	o := open(t)
	kept := o.plan(t, 7)
	o.Report(t, o.Spray(t, "done", 1, "2026-03-02 11:00"))
	if f := firmtest.Refused(t, o.try(t, kept), fault.Refused, "FOLLOW_UPS_GONE"); !strings.Contains(f.Message, firstSpray) {
		t.Errorf("%q does not name %s", f.Message, firstSpray)
	}
	if len(o.visits(t)) != 0 || o.head(t).Plan != "" {
		t.Error("a refused publication publishes")
	}
}

func TestPublish_RefusesWhatIsNotApproved(t *testing.T) {
	t.Parallel()
	o := open(t)
	kept := o.plan(t, 7)
	o.In(t, o.TechA, func(tx *store.Tx) error {
		_, _, err := casework.Approve(tx, casework.Decision{ID: "no", Case: firmtest.Mealybugs, Approval: course.Approval{Product: "soap", Withdrawn: true}})
		return err
	})
	f := firmtest.Refused(t, o.try(t, kept), fault.Refused, "PLAN_BREAKS_RULES")
	if len(f.Violations) == 0 || f.Violations[0].Rule != scheduler.RuleLicence || f.Violations[0].Item != firstSpray {
		t.Errorf("violations %v: want the spray that is not approved", f.Violations)
	}
}

// Something unrelated that changes between planning and publishing never refuses a plan.
func TestPublish_NothingUnrelatedRefusesIt(t *testing.T) {
	t.Parallel()
	o := open(t)
	kept := o.plan(t, 2)
	for _, route := range kept.Plan.Routes {
		if slices.ContainsFunc(route.Visits, func(v scheduler.Visit) bool { return v.Site == "school-brook-end" }) {
			t.Fatal("the plan visits the school: want something that has nothing to do with it")
		}
	}
	o.In(t, o.Office, func(tx *store.Tx) error {
		plant := site.Plant{ID: "new", Name: "New fern", Site: "school-brook-end", Area: "school-staff", Species: "adiantum-raddianum", Count: 1,
			PotVolume: firmtest.Volume(t, "1 L"), HeightCM: 30, Planter: "drained", Owner: "client"}
		return premises.AddPlants(tx, []site.Plant{plant})
	})
	o.Find(t, "elsewhere", "citrus-mealybug", "school-staff-01")
	o.publish(t, kept)
}

// The window of the race: a report is stored after the plan was checked and before its visits are swapped.
func TestPublish_ChecksAgainWhenAReportCameBetween(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		change  func(*firm.ReportItem)
		refused bool
	}{
		{"of work that is still needed", func(item *firm.ReportItem) {
			*item = firm.ReportItem{Item: item.Item, Outcome: course.RanOutOfTime}
		}, false},
		{"of work that is done", func(*firm.ReportItem) {}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			o := open(t)
			kept := o.plan(t, 7)
			report := o.Spray(t, "between", 1, "2026-03-02 11:00")
			c.change(&report.Items[0])
			stored, commit, reported := make(chan struct{}), make(chan struct{}), make(chan error, 1)
			go func() {
				reported <- o.Store.In(t.Context(), o.Office, func(tx *store.Tx) error {
					_, err := casework.AppendReport(tx, report)
					close(stored)
					<-commit
					return err
				})
			}()
			<-stored
			published := make(chan error, 1)
			go func() { published <- o.try(t, kept) }()
			select {
			case err := <-published:
				t.Errorf("publishing did not wait for the report: %v", err)
			case <-time.After(700 * time.Millisecond): // longer than the check takes: it waits for the head
			}
			close(commit)
			if err := <-reported; err != nil {
				t.Fatal(err)
			}
			err := <-published
			if c.refused {
				firmtest.Refused(t, err, fault.Refused, "FOLLOW_UPS_GONE")
			} else if err != nil {
				t.Errorf("%v: want it published", err)
			}
		})
	}
}

// A technician who is absent moves visits to other days or hands: they keep their ids.
func TestPublish_VisitsKeepTheirIDsWhenTheyMove(t *testing.T) {
	t.Parallel()
	o := open(t)
	first := o.plan(t, 14)
	o.publish(t, first)
	was := o.holding(t, firstSpray)
	day := o.Business.Zone.DateOf(was.Arrives)
	storetest.Change(t, o.Database, "technician", string(was.Technician), func(m *firm.CrewMember) {
		m.Shifts.Exceptions = append(m.Shifts.Exceptions, civil.Exception{On: day})
	})
	second := o.plan(t, 14)
	o.publish(t, second)
	is := o.holding(t, firstSpray)
	if o.Business.Zone.DateOf(is.Arrives) == day || is.ID != was.ID {
		t.Errorf("visit %s of %v is %s of %v now: want another day and the same id", was.ID, was.Arrives, is.ID, is.Arrives)
	}
	names := map[scheduler.VisitID]bool{}
	for _, v := range o.visits(t) {
		if names[v.ID] {
			t.Errorf("two visits bear the id %s", v.ID)
		}
		names[v.ID] = true
	}
	var differs firm.Comparison
	o.In(t, o.Office, func(tx *store.Tx) (err error) {
		differs, err = planning.Compare(tx, first.ID, second.ID)
		return err
	})
	moved := slices.IndexFunc(differs.Differences, func(d firm.Difference) bool { return d.Item == firstSpray })
	if moved < 0 || differs.Differences[moved].Before.Begins >= differs.Differences[moved].After.Begins {
		t.Errorf("differences %+v: want the spray, later than before", differs.Differences)
	}
	if want := second.Plan.Cost.Total - first.Plan.Cost.Total; differs.Cost.Total != want {
		t.Errorf("the difference costs %v: want %v, the later plan less the one before", differs.Cost.Total, want)
	}
}

// A plan that begins later leaves alone what is published before its first day, and does not plan it twice.
func TestPublish_APlanOfLaterDaysLeavesEarlierVisitsAlone(t *testing.T) {
	t.Parallel()
	o := open(t)
	o.publish(t, o.plan(t, 7))
	was := o.visits(t)
	later := o.planFrom(t, o.Business.Zone.DateOf(o.Clock.Now())+7, 7)
	o.publish(t, later)
	is := o.visits(t)
	items := map[scheduler.ItemID]scheduler.VisitID{}
	for _, v := range is {
		for _, w := range v.Work {
			if first, twice := items[w.Item]; twice && first != v.ID && w.Service == "" {
				t.Errorf("%s is on visits %s and %s", w.Item, first, v.ID)
			}
			items[w.Item] = v.ID
		}
	}
	for _, old := range was {
		i := slices.IndexFunc(is, func(v scheduler.Visit) bool { return v.ID == old.ID })
		if i < 0 || is[i].Arrives != old.Arrives || len(is[i].Work) != len(old.Work) {
			t.Errorf("visit %s of %v, before the later plan's first day, is gone or another now", old.ID, old.Arrives)
		}
	}
}

// A booking that is made after the plan was checked and before its visits are swapped stands.
func TestPublish_ABookingThatCameBetweenStands(t *testing.T) {
	t.Parallel()
	o := open(t)
	kept := o.plan(t, 7)
	err := o.tryWith(t, kept, func(try int) {
		if try > 1 {
			return
		}
		wish := firm.Booking{Visit: "booked", Item: firstDrench, Technician: "tech-a", Begins: o.At(t, "2026-03-04 12:00")}
		if _, err := planning.Book(t.Context(), o.Store, o.Office, wish, nil); err != nil {
			t.Fatalf("%v: %+v", err, fault.Of(err).Violations)
		}
	})
	f := firmtest.Refused(t, err, fault.Refused, "PLAN_BREAKS_RULES")
	if !slices.ContainsFunc(f.Violations, func(v scheduler.Violation) bool { return v.Rule == scheduler.RulePinned }) {
		t.Errorf("violations %v: want that a pinned visit does not move", f.Violations)
	}
	if held := o.holding(t, firstDrench); held.ID != "booked" {
		t.Errorf("visit %s holds the drench: want the booked one", held.ID)
	}
}

// What is pinned beyond a plan's days is not planned within them.
func TestPublish_WhatIsPinnedBeyondThePlansDaysIsNotPlannedTwice(t *testing.T) {
	t.Parallel()
	o := open(t)
	_, err := o.book(t, "2026-03-16 12:00", nil)
	if err != nil {
		t.Fatalf("%v: %+v", err, fault.Of(err).Violations)
	}
	o.publish(t, o.plan(t, 7))
	if held := o.holding(t, firstDrench); held.State != scheduler.Pinned {
		t.Errorf("the drench is on visit %s: want the pinned one alone", held.ID)
	}
}

// A plan that lay about until some of its visits should have been made is refused, naming them.
func TestPublish_RefusesVisitsThatWouldLieInThePast(t *testing.T) {
	t.Parallel()
	o := open(t)
	kept := o.plan(t, 7)
	o.MoveClock(t, "2026-03-04 06:00") // the spray was planned for Tuesday evening
	f := firmtest.Refused(t, o.try(t, kept), fault.Refused, "PLAN_BREAKS_RULES")
	if !slices.ContainsFunc(f.Violations, func(v scheduler.Violation) bool {
		return v.Rule == scheduler.RuleShift && strings.Contains(v.Text, "before now")
	}) {
		t.Errorf("violations %v: want that its visits begin before now", f.Violations)
	}
}
