package casework_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/server/internal/casework"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/listing"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

// booked is a firm whose first spray is booked for Thursday 5 March, 19:45, by tech-a.
func booked(t *testing.T) (w *firmtest.Works, visit scheduler.Visit) {
	t.Helper()
	w = firmtest.Open(t)
	visit, err := planning.Book(t.Context(), w.Store, w.Office,
		firm.Booking{Visit: "booked", Item: "mealybugs/application/1/1", Technician: "tech-a", Begins: w.At(t, "2026-03-05 19:45")}, nil)
	if err != nil {
		t.Fatal(err)
	}
	w.MoveClock(t, "2026-03-05 22:00")
	return w, visit
}

func TestAppendReport_OfAVisitEndsIt(t *testing.T) {
	t.Parallel()
	w, visit := booked(t)
	report := w.Spray(t, "spray", 1, "2026-03-05 19:50")
	report.Visit = visit.ID
	told := w.Report(t, report)
	if told.Report.OffPlan || len(told.Deviations) != 0 {
		t.Errorf("off plan %v, deviations %+v: want neither", told.Report.OffPlan, told.Deviations)
	}
	w.In(t, w.Office, func(tx *store.Tx) error {
		now, err := tx.Visit(visit.ID)
		if err != nil || now.State != scheduler.Done {
			t.Errorf("the visit is %s, %v: want it done", now.State, err)
		}
		// The keep-out follows the application as made: 19:50 to 20:20, and the policy's time of drying as where the air is off,
		// since soap wants to dry slowly.
		dry := w.Business.Policy.UntilDry[catalogue.WholePlantSpray] * time.Duration(w.Business.Policy.UnventilatedFactorPercent) / 100
		want := civil.Interval{From: w.At(t, "2026-03-05 19:50"), To: w.At(t, "2026-03-05 20:20").Add(dry)}
		keepOuts, err := tx.KeepOuts(civil.Interval{From: visit.Arrives, To: visit.Leaves})
		if !slices.ContainsFunc(keepOuts, func(k firm.KeepOutFact) bool { return k.During == want && k.Area == "offices-floor" && k.UntilDry }) {
			t.Errorf("keep-outs %+v: want the open floor's as made, %v, until dry", keepOuts, want)
		}
		return err
	})
}

// Somebody else made it, on another day: told all the same, off plan.
func TestAppendReport_OfAVisitThatWentOtherwiseIsOffPlan(t *testing.T) {
	t.Parallel()
	w, visit := booked(t)
	report := w.Spray(t, "spray", 1, "2026-03-04 20:00")
	report.Visit, report.Technician = visit.ID, "tech-b"
	told := w.Report(t, report)
	if !told.Report.OffPlan || len(told.Records) != 1 {
		t.Errorf("off plan %v, %d records: want it off plan, with its record", told.Report.OffPlan, len(told.Records))
	}
	if !slices.ContainsFunc(told.Deviations, func(d firm.Deviation) bool { return d.Rule == scheduler.RuleLicence }) {
		t.Errorf("deviations %+v: want the licence that the stand-in lacks", told.Deviations)
	}
}

// An outcome of the visit holds for each of its items: the door was locked.
func TestAppendReport_AnOutcomeOfTheVisitHoldsForItsItems(t *testing.T) {
	t.Parallel()
	w, visit := booked(t)
	w.Report(t, firm.Report{
		ID: "locked", Visit: visit.ID, Technician: "tech-a", Site: "offices-alder-row", Arrived: visit.Arrives, Left: visit.Arrives.Add(1e9 * 600),
		RestOutcome: course.LockedOut,
	})
	next := firmtest.Next(t, w.Course(t, firmtest.Mealybugs), course.KindApplication)
	if next.ID != "mealybugs/application/1/1" {
		t.Errorf("the next application is %s: want the first again", next.ID)
	}
	var story firm.CaseStory
	w.In(t, w.Office, func(tx *store.Tx) (err error) {
		if story, err = casework.Story(tx, firmtest.Mealybugs); err != nil {
			return err
		}
		keepOuts, err := tx.KeepOuts(civil.Interval{From: visit.Arrives, To: visit.Leaves})
		if len(keepOuts) != 0 {
			t.Errorf("the area is still shut: %+v", keepOuts)
		}
		return err
	})
	last := story.Events[len(story.Events)-1]
	if !strings.Contains(last.Text, "locked out") || last.Report != "locked" || last.Item != next.ID {
		t.Errorf("the story ends %+v: want that it was locked out", last)
	}
}

func TestAppendReport_WhatWasFoundOnTheWayOpensACase(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-03 21:00")
	report := w.Spray(t, "round", 1, "2026-03-03 20:00")
	report.Findings = []course.Finding{firmtest.Finding("fungus-gnat", "fig-window")}
	told := w.Report(t, report)
	if want := course.CaseID("round-finding-1"); !slices.Contains(told.Cases, want) || !slices.Contains(told.Cases, firmtest.Mealybugs) {
		t.Errorf("cases %v: want the mealybugs' and %s", told.Cases, want)
	}
	if c := w.Case(t, "round-finding-1"); c.Pest != "fungus-gnat" || c.OpenedAt != report.Arrived || len(w.Course(t, c.ID).FollowUps) == 0 {
		t.Errorf("case %+v: want one of fungus gnats from the arrival, with a course", c)
	}
	if again := w.Report(t, report); len(again.Cases) != len(told.Cases) {
		t.Errorf("told again it concerns %v", again.Cases)
	}
}

// One report of a case that shares a plant with another one counts for both: retreatment belongs to the plant.
func TestAppendReport_ACaseThatSharesAPlantIsComputedAnew(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.Find(t, "gnats-too", "fungus-gnat", "pothos-stairs")
	w.MoveClock(t, "2026-03-03 21:00")
	told := w.Report(t, w.Spray(t, "spray", 1, "2026-03-03 20:00"))
	if !slices.Equal(told.Cases, []course.CaseID{"gnats-too", firmtest.Mealybugs}) {
		t.Errorf("cases %v: want both of the shared plant", told.Cases)
	}
	report := w.Spray(t, "unknown-case", 2, "2026-03-03 20:00")
	report.Items[0].Item, report.Items[0].Case = "", "nobody"
	_, err := w.TryReport(t, report)
	firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
}

// Twins at the same moment count once and get one answer; reports of other work wait for each other and all count.
func TestAppendReport_TwinsAtTheSameMomentCountOnce(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.Find(t, "gnats-too", "fungus-gnat", "pothos-stairs") // shares a plant, and so a lock, with the mealybugs' case
	w.MoveClock(t, "2026-03-11 09:00")
	reports := []firm.Report{w.Spray(t, "spray-1", 1, "2026-03-03 20:00"), w.Spray(t, "spray-2", 2, "2026-03-10 20:00"), w.Drench(t, "drench", 1, "2026-03-03 12:00")}
	var told errgroup.Group
	for range 3 {
		for _, report := range reports {
			told.Go(func() error {
				answer, err := w.TryReport(t, report)
				if err == nil && len(answer.Records) != 1 {
					t.Errorf("%s is answered with %d records: want its one", report.ID, len(answer.Records))
				}
				return err
			})
		}
	}
	if err := told.Wait(); err != nil {
		t.Fatal(err)
	}
	w.In(t, w.Office, func(tx *store.Tx) error {
		records, err := tx.ListedRecords(listing.Question{Order: []listing.Key{{Field: listing.NameField}}})
		if len(records) != len(reports) {
			t.Errorf("%d records: want %d", len(records), len(reports))
		}
		return err
	})
	if next := firmtest.Next(t, w.Course(t, firmtest.Mealybugs), course.KindApplication); next.ID != "mealybugs/application/1/3" {
		t.Errorf("the next application is %s: want the third", next.ID)
	}
}

// A correction that tells the finding otherwise leaves one finding; one that tells none leaves the last that was told.
func TestAppendReport_ACorrectionReplacesWhatWasFound(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-03 21:00")
	tell := func(id, corrects string, severity int) {
		report := firm.Report{ID: id, Corrects: corrects, Technician: "tech-b", Site: "offices-alder-row", Arrived: w.At(t, "2026-03-03 10:00"), Left: w.At(t, "2026-03-03 11:00")}
		if severity > 0 {
			found := firmtest.Finding("fungus-gnat", "fig-window")
			found.Severity = severity
			report.Findings = []course.Finding{found}
		}
		w.Report(t, report)
	}
	standing := func() (severities []int) {
		w.In(t, w.Office, func(tx *store.Tx) error {
			histories, err := casework.Histories(tx, []course.CaseID{"first-finding-1"})
			for _, e := range histories[0].Events {
				severities = append(severities, e.Finding.Severity)
			}
			return err
		})
		return severities
	}
	tell("first", "", 1)
	tell("second", "first", 3)
	if got := standing(); !slices.Equal(got, []int{3}) {
		t.Errorf("after the correction findings of severity %v stand: want the one of 3", got)
	}
	tell("third", "second", 0)
	if got := standing(); !slices.Equal(got, []int{3}) {
		t.Errorf("after a correction without a finding those of severity %v stand: want the one of 3, by which the case lives", got)
	}
}
