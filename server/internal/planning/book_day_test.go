package planning_test

import (
	"slices"
	"strings"
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

// stand publishes visits of tech-a on a day route, which must be taken.
func (o *office) stand(t *testing.T, day civil.Date, departs, returns civil.Instant, visits ...scheduler.Visit) {
	t.Helper()
	o.In(t, o.Office, func(tx *store.Tx) error {
		route := firm.Route{Technician: "tech-a", Day: day, Departs: departs, Returns: returns}
		return tx.ReplaceVisits(nil, visits, []firm.Route{route}, nil, "")
	})
}

// at is a visit of tech-a without work.
func (o *office) at(t *testing.T, id scheduler.VisitID, site scheduler.SiteID, arrives, leaves string) scheduler.Visit {
	t.Helper()
	return scheduler.Visit{ID: id, State: scheduler.Published, Technician: "tech-a", Site: site, SignIn: o.signIn(t, site),
		Arrives: o.At(t, arrives), Leaves: o.At(t, leaves)}
}

func (o *office) signIn(t *testing.T, id scheduler.SiteID) (takes time.Duration) {
	t.Helper()
	o.In(t, o.Office, func(tx *store.Tx) error {
		s, err := tx.Site(id)
		takes = s.SignIn
		return err
	})
	return takes
}

// The technician must come from the published visit before and get to the one after.
func TestBook_BetweenTwoPublishedVisits(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name          string
		before, after string // the first leaves at, the other arrives at
		busy          bool
	}{
		{"fits", "11:00", "14:00", false},
		{"too late from the one before", "11:44", "14:00", true}, // sign-in and mixing begin at 11:45 or before
		{"too late for the one after", "11:00", "12:18", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			o := open(t)
			day := civil.NewDate(2026, 3, 4)
			o.stand(t, day, o.At(t, "2026-03-04 09:30"), o.At(t, "2026-03-04 15:30"),
				o.at(t, "one", "clinic-fern-lane", "2026-03-04 10:00", "2026-03-04 "+c.before),
				o.at(t, "two", "shop-market-arcade", "2026-03-04 "+c.after, "2026-03-04 15:00"))
			booked, err := o.book(t, "2026-03-04 12:00", nil)
			if !c.busy {
				if err != nil {
					t.Fatalf("%v: %+v", err, fault.Of(err).Violations)
				}
				o.hasMix(t, booked)
				return
			}
			f := firmtest.Refused(t, err, fault.Conflict, "TECHNICIAN_BUSY")
			if !strings.Contains(f.Message, "visit one") || !strings.Contains(f.Message, "visit two") {
				t.Errorf("%q: want both visits named", f.Message)
			}
		})
	}
}

// The whole day counts: 10 hours are the longest work time of a day by the catalogue's policy.
func TestBook_CountsTheWholeDay(t *testing.T) {
	t.Parallel()
	o := open(t)
	day := civil.NewDate(2026, 3, 4)
	most := o.Business.Rules.MostWork
	departs := o.At(t, "2026-03-04 12:40").Add(-most)
	o.stand(t, day, departs, o.At(t, "2026-03-04 09:00"),
		scheduler.Visit{ID: "early", State: scheduler.Published, Technician: "tech-a", Site: "bench-tannery-yard", SignIn: o.signIn(t, "bench-tannery-yard"),
			Arrives: departs, Leaves: departs.Add(time.Hour)})
	_, err := o.book(t, "2026-03-04 13:30", nil)
	f := firmtest.Refused(t, err, fault.Refused, "BOOKING_BREAKS_RULES")
	if !slices.ContainsFunc(f.Violations, func(v scheduler.Violation) bool { return strings.Contains(v.Text, "longest work time") }) {
		t.Errorf("violations %v: want the longest work time of a day", f.Violations)
	}
}

// A keep-out of a published visit shuts the area for a booking too.
func TestBook_IsKeptOutByPublishedApplications(t *testing.T) {
	t.Parallel()
	o := open(t)
	drench, err := o.book(t, "2026-03-04 12:00", nil)
	if err != nil {
		t.Fatal(err)
	}
	o.In(t, o.Office, func(tx *store.Tx) error { return tx.SetVisitState(drench.ID, scheduler.Published) })
	// An inspection in the reading room at that time, by somebody else.
	_, err = o.book(t, "2026-03-04 12:05", func(b *firm.Booking) { b.Item, b.Technician = "gnats/inspect-infested/1/1", "tech-b" })
	if err == nil {
		t.Fatal("work is booked in an area that is shut")
	}
	f := firmtest.Refused(t, err, fault.Refused, "BOOKING_BREAKS_RULES")
	if !slices.ContainsFunc(f.Violations, func(v scheduler.Violation) bool { return v.Rule == scheduler.RuleReentry }) {
		t.Errorf("violations %v: want one of re-entry", f.Violations)
	}
}

// A watering that is published for the days before a spray waters the plants for it.
func TestBook_CountsPublishedWaterings(t *testing.T) {
	t.Parallel()
	o := open(t)
	dry := func(err error) bool {
		return err != nil && slices.ContainsFunc(fault.Of(err).Violations, func(v scheduler.Violation) bool { return strings.Contains(v.Text, "dry") })
	}
	// Watered on 2 March, dry from the 11th on: 9 days.
	spray := func(b *firm.Booking) { b.Item = firstSpray }
	if _, err := o.book(t, "2026-03-12 20:00", spray); !dry(err) {
		t.Fatalf("%v: want it refused, for nobody is to water the plants", err)
	}
	o.publish(t, o.plan(t, 10)) // with the first two sprays
	watered := false
	for _, v := range o.visits(t) {
		for _, w := range v.Work {
			watered = watered || w.Service == "watering" && slices.Contains(w.Plants, "pothos-stairs") && w.Ends < o.At(t, "2026-03-17 19:00")
		}
	}
	if !watered {
		t.Fatal("the plan waters nothing before the spray")
	}
	third := func(b *firm.Booking) { b.Item = "mealybugs/application/1/3" }
	if _, err := o.book(t, "2026-03-17 20:00", third); err != nil {
		t.Errorf("%v: %v; want the published watering counted", err, fault.Of(err).Violations)
	}
}

// A booking is judged by one state, and again when what it touches moves before it is kept.
func TestBook_JudgesAgainWhatHasMoved(t *testing.T) {
	t.Parallel()
	o := open(t)
	tries := 0
	within := func(_ *store.Tx, deed func() (scheduler.Visit, error)) error {
		if tries++; tries == 1 {
			report := o.Drench(t, "between", 1, "2026-03-02 11:20")
			report.Left, report.SentAt = o.Clock.Now(), o.Clock.Now()
			o.Report(t, report)
		}
		_, err := deed()
		return err
	}
	wish := firm.Booking{Visit: "booked", Item: firstDrench, Technician: "tech-a", Begins: o.At(t, "2026-03-04 12:00")}
	_, err := planning.Book(t.Context(), o.Store, o.Office, wish, within)
	firmtest.Refused(t, err, fault.NotFound, "FOLLOW_UP_UNKNOWN")
	if len(o.visits(t)) != 0 {
		t.Error("a drench that was made meanwhile is booked")
	}
}

// A booked application gives notice as a published one does, and publishing sends it once.
func TestBook_GivesNotice(t *testing.T) {
	t.Parallel()
	o := open(t)
	booked, err := o.book(t, "2026-03-05 20:00", func(b *firm.Booking) { b.Item = firstSpray })
	if err != nil {
		t.Fatalf("%v: %+v", err, fault.Of(err).Violations)
	}
	notices := func() (notices []firm.Notice) {
		o.In(t, o.Office, func(tx *store.Tx) (err error) {
			notices, err = tx.Notices(civil.Interval{From: booked.Arrives, To: booked.Leaves})
			return err
		})
		return notices
	}
	first := notices()
	begins := booked.Work[slices.IndexFunc(booked.Work, func(w scheduler.WorkItem) bool { return w.Use != nil })].Begins
	if len(first) != 1 || first[0].Item != firstSpray || first[0].Begins != begins || first[0].DueAt != begins.Add(-24*time.Hour) ||
		first[0].SentAt != o.Clock.Now().Add(o.Business.Rules.PublishingDelay) {
		t.Fatalf("notices %+v: want one of the offices, due the agreed 24 hours before, sent within the publishing delay", first)
	}
	o.publish(t, o.plan(t, 7))
	if again := notices(); len(again) != 1 || again[0] != first[0] {
		t.Errorf("notices are %+v after publishing: want the one as it was", again)
	}
}

// What the database refuses at last is told with what holds it.
func TestPublish_NamesTheVisitThatHoldsTheTechnician(t *testing.T) {
	t.Parallel()
	o := open(t)
	today := o.Business.Zone.DateOf(o.Clock.Now())
	kept := o.planFrom(t, today+1, 3)
	first := kept.Plan.Routes[0].Visits[0]
	// A visit of today that lasts into the first one of tomorrow: no plan of tomorrow moves it.
	o.In(t, o.Office, func(tx *store.Tx) error {
		long := scheduler.Visit{ID: "long", State: scheduler.Published, Technician: first.Technician, Site: "bench-tannery-yard",
			Arrives: o.At(t, "2026-03-02 23:00"), Leaves: first.Leaves}
		return tx.ReplaceVisits(nil, []scheduler.Visit{long}, nil, nil, "")
	})
	f := firmtest.Refused(t, o.try(t, kept), fault.Conflict, "HELD_ALREADY")
	if f.Subject != "long" || !strings.Contains(f.Message, "visit long") {
		t.Errorf("%q of %q: want the visit that holds the technician", f.Message, f.Subject)
	}
}
