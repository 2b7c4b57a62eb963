package planning_test

import (
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

// book asks for the gnats' first drench by tech-a at an instant.
func (o *office) book(t *testing.T, begins string, change func(*firm.Booking)) (visit scheduler.Visit, err error) {
	t.Helper()
	wish := firm.Booking{Visit: scheduler.VisitID("booked-" + begins), Item: firstDrench, Technician: "tech-a", Begins: o.At(t, begins)}
	if change != nil {
		change(&wish)
	}
	return planning.Book(t.Context(), o.Store, o.Office, wish, nil)
}

func TestBook_RefusesByTheRuleThatItBreaks(t *testing.T) {
	t.Parallel()
	o := open(t)
	for _, c := range []struct {
		name, begins string
		change       func(*firm.Booking)
		rule         scheduler.Rule
	}{
		{"guests have breakfast", "2026-03-04 09:00", nil, scheduler.RuleReentry},
		{"nobody works", "2026-03-04 05:00", nil, scheduler.RuleShift},
		{"the past", "2026-03-02 11:15", nil, scheduler.RuleShift},
		{"the licence is another one", "2026-03-04 12:00", func(b *firm.Booking) { b.Technician = "tech-b" }, scheduler.RuleLicence},
		{"one that others come before", "2026-03-09 12:00", func(b *firm.Booking) { b.Item = "gnats/application/1/2" }, scheduler.RuleTiming},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := o.book(t, c.begins, c.change)
			f := firmtest.Refused(t, err, fault.Refused, "BOOKING_BREAKS_RULES")
			for _, v := range f.Violations {
				if v.Rule == c.rule {
					return
				}
			}
			t.Errorf("violations %v: want one of %s", f.Violations, c.rule)
		})
	}
	if visits := o.visits(t); len(visits) != 0 {
		t.Errorf("refused bookings left %+v", visits)
	}
}

func TestBook_PinsAVisitThatPlansKeep(t *testing.T) {
	t.Parallel()
	o := open(t)
	booked, err := o.book(t, "2026-03-04 12:00", nil)
	if err != nil {
		t.Fatalf("%v: %+v", err, fault.Of(err).Violations)
	}
	// 5 minutes of sign-in and the mixing lie before the work.
	if want := o.At(t, "2026-03-04 12:00").Add(-5*time.Minute - o.Business.Rules.Mixing); booked.State != scheduler.Pinned || booked.Arrives != want {
		t.Errorf("booked %+v: want it pinned, arriving at %v", booked, want)
	}
	o.hasMix(t, booked)
	kept := o.plan(t, 7)
	if visit := planned(kept, firstDrench); visit == nil || visit.ID != booked.ID || visit.Arrives != booked.Arrives {
		t.Fatalf("the plan has the drench on %+v: want the booked visit as it is", visit)
	}
	o.publish(t, kept)
	if visit := o.holding(t, firstDrench); visit.ID != booked.ID || visit.State != scheduler.Pinned || visit.Arrives != booked.Arrives {
		t.Errorf("published it is %+v: want it pinned as booked", visit)
	} else {
		o.hasMix(t, visit)
	}
}

// hasMix wants the day route of a visit of tech-a to hold the mix of Bti that its first work draws on.
func (o *office) hasMix(t *testing.T, visit scheduler.Visit) {
	t.Helper()
	o.In(t, o.Office, func(tx *store.Tx) error {
		day := o.Business.Zone.DateOf(visit.Arrives)
		routes, err := tx.Routes(store.RouteFilter{From: day, To: day, Technician: "tech-a"})
		if err != nil {
			return err
		}
		drawn := visit.Work[0].MixIndex
		if len(routes) != 1 || routes[0].Departs >= visit.Arrives || drawn < 0 || drawn >= len(routes[0].Mixes) || routes[0].Mixes[drawn].Product != "bti" {
			t.Errorf("%s draws on mix %d of routes %+v: want one of Bti", visit.Work[0].Item, drawn, routes)
		}
		keepOuts, err := tx.KeepOuts(civil.Interval{From: visit.Arrives, To: visit.Leaves})
		if len(keepOuts) != 1 || keepOuts[0].Area != "hotel-reading" || keepOuts[0].Visit != visit.ID {
			t.Errorf("keep-outs %+v: want the reading room's, once", keepOuts)
		}
		return err
	})
}

func TestBook_MovesTheFollowUpFromWhereItWasPublished(t *testing.T) {
	t.Parallel()
	o := open(t)
	o.publish(t, o.plan(t, 7))
	booked, err := o.book(t, "2026-03-06 13:00", nil)
	if f := fault.Of(err); err != nil && f.Reason == "TECHNICIAN_BUSY" {
		booked, err = o.book(t, "2026-03-06 14:30", nil)
	}
	if err != nil {
		t.Fatalf("%v: %+v", err, fault.Of(err).Violations)
	}
	if held := o.holding(t, firstDrench); held.ID != booked.ID {
		t.Errorf("visit %s holds the drench: want the booked one alone", held.ID)
	}
}

// Booked again, a follow-up is not on two visits.
func TestBook_OneThatIsPinnedAlreadyIsNotPinnedTwice(t *testing.T) {
	t.Parallel()
	o := open(t)
	if _, err := o.book(t, "2026-03-04 12:00", nil); err != nil {
		t.Fatal(err)
	}
	again, err := o.book(t, "2026-03-06 12:00", nil)
	if err != nil {
		t.Fatalf("%v: %+v", err, fault.Of(err).Violations)
	}
	if held := o.holding(t, firstDrench); held.ID != again.ID {
		t.Errorf("visit %s holds the drench: want the one booked last", held.ID)
	}
}

// What a pinned visit ahead is mixed in holds its vessel: the Problem knows the mix, and the visit draws on it.
func TestGather_KnowsTheMixOfAPinnedVisitAhead(t *testing.T) {
	t.Parallel()
	o := open(t)
	o.publish(t, o.plan(t, 7))
	booked, err := o.book(t, "2026-03-06 13:00", nil)
	if err != nil {
		t.Fatalf("%v: %+v", err, fault.Of(err).Violations)
	}
	o.In(t, o.Office, func(tx *store.Tx) error {
		gathered, err := planning.Gather(tx, o.Business.Zone.DateOf(o.Clock.Now()), 7)
		if err != nil {
			return err
		}
		mixes := gathered.Problem.Mixes
		if len(mixes) != 1 || mixes[0].Product != "bti" || mixes[0].Begins < booked.Arrives || mixes[0].LastUse > booked.Leaves {
			t.Fatalf("the Problem has mixes %+v: want the one of the pinned drench", mixes)
		}
		for _, v := range gathered.Problem.Fixed {
			if v.ID == booked.ID && v.Work[0].MixIndex != 0 {
				t.Errorf("the pinned visit draws on mix %d: want the first of its day", v.Work[0].MixIndex)
			}
		}
		return nil
	})
	kept := o.plan(t, 7)
	for _, route := range kept.Plan.Routes {
		for i, m := range route.Mixes {
			if route.Day == o.Business.Zone.DateOf(booked.Arrives) && m.Vessel == "can" && i > 0 && route.Technician == "tech-a" {
				t.Errorf("%s is filled again beside the pinned visit: %+v", m.Vessel, m)
			}
		}
	}
	o.publish(t, kept)
	o.hasMix(t, o.holding(t, firstDrench))
}
