// Package firmtest gives tests a firm at work: the demo's business, all of it, in a real PostgreSQL.
//
// It is Monday 2 March 2026, 12:00 in the firm's zone, until a test moves the firm's clock. Reports are told in
// the words of package firm; Spray, Drench and Look make the usual ones, for a test to change.
package firmtest

import (
	"sync"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/load"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
	"vernation/testdata"
)

// The cases that Open finds, named after the findings that open them.
const (
	Mealybugs course.CaseID = "mealybugs" // on pothos-stairs and pothos-printer, in an office that is empty at night
	Gnats     course.CaseID = "gnats"     // on lily-reading, in a reading room that is empty from 11:00
)

// Works is the demo's business at work, with its callers.
type Works struct {
	*storetest.Database
	// TechA is the responsible applicator and holds the licence for the products of both cases; TechB holds another one.
	TechA, TechB firm.Caller
}

// New gives the demo's business in a database of the test's own. No case is open.
func New(t testing.TB) *Works {
	t.Helper()
	return works(t, storetest.NewFrom(t, "demo", func(t testing.TB, d *storetest.Database) { fill(t, d) }))
}

// Open is New with the two cases found and approved.
func Open(t testing.TB) *Works {
	t.Helper()
	return works(t, storetest.NewFrom(t, "demo_with_cases", func(t testing.TB, d *storetest.Database) {
		w := fill(t, d)
		w.Find(t, Mealybugs, "citrus-mealybug", "pothos-stairs", "pothos-printer")
		w.Find(t, Gnats, "fungus-gnat", "lily-reading")
		w.Approve(t, Mealybugs)
		w.Approve(t, Gnats)
	}))
}

// demo reads the demo's business file once.
var demo = sync.OnceValues(func() (*load.File, error) { return load.Read("testdata/demo.yaml", testdata.DemoBusiness) })

// fill stores the demo's business in a database.
func fill(t testing.TB, d *storetest.Database) *Works {
	t.Helper()
	w := works(t, d)
	file, err := demo()
	if err != nil {
		t.Fatal(err)
	}
	w.Add(t, w.Business)
	w.In(t, w.Office, file.Store)
	return w
}

// works are the demo's business and its callers on a database, on the Monday.
func works(t testing.TB, d *storetest.Database) *Works {
	t.Helper()
	file, err := demo()
	if err != nil {
		t.Fatal(err)
	}
	w := &Works{Database: d}
	if w.Business, err = file.Firm(); err != nil {
		t.Fatal(err)
	}
	id := w.Business.ID
	w.Office.Business = id
	w.TechA = firm.Caller{Business: id, Subject: "tech-a", Role: firm.Technician, Technician: "tech-a", ResponsibleApplicator: true}
	w.TechB = firm.Caller{Business: id, Subject: "tech-b", Role: firm.Technician, Technician: "tech-b"}
	w.MoveClock(t, "2026-03-02 12:00")
	return w
}

// At reads a wall-clock time of the firm's zone, such as "2026-03-02 12:00".
func (w *Works) At(t testing.TB, text string) civil.Instant {
	t.Helper()
	when, err := time.ParseInLocation("2006-01-02 15:04", text, w.Business.Zone.Location())
	if err != nil {
		t.Fatal(err)
	}
	return civil.InstantOf(when)
}

// MoveClock sets the firm's clock to a wall-clock time of its zone.
func (w *Works) MoveClock(t testing.TB, text string) {
	t.Helper()
	w.Clock.Set(w.At(t, text))
}

// In does a deed that must succeed.
func (w *Works) In(t testing.TB, caller firm.Caller, do func(tx *store.Tx) error) {
	t.Helper()
	if err := w.Store.In(t.Context(), caller, do); err != nil {
		t.Fatal(err)
	}
}

// Find records a living, confirmed finding of severity 2, which must succeed, and returns its case and course.
func (w *Works) Find(t testing.TB, id course.CaseID, pest catalogue.PestID, plants ...site.PlantID) (c firm.Case, present course.Course) {
	t.Helper()
	w.In(t, w.Office, func(tx *store.Tx) (err error) {
		c, present, err = casework.RecordFinding(tx, casework.NewFinding{ID: string(id), Finding: Finding(pest, plants...)})
		return err
	})
	return c, present
}

// Finding is a living, confirmed one of severity 2.
func Finding(pest catalogue.PestID, plants ...site.PlantID) course.Finding {
	return course.Finding{Pest: pest, Certainty: course.Confirmed, Life: course.Living, Severity: 2, Plants: plants, By: "somebody on the round"}
}

// Approve approves the product that a case's course has chosen, at up to its label's rate and by every way.
func (w *Works) Approve(t testing.TB, id course.CaseID) {
	t.Helper()
	w.In(t, w.TechA, func(tx *store.Tx) error {
		_, present, err := casework.Course(tx, id)
		if err != nil {
			return err
		}
		decision := casework.Decision{ID: string(id) + "-" + tx.Now().String(), Case: id, Approval: course.Approval{
			Product: present.Chosen, Ways: []course.WayKind{course.InPlace, course.AtTreatmentPlace, course.ShutsNothing},
		}}
		_, _, err = casework.Approve(tx, decision)
		return err
	})
}

// Course returns the present course of a case.
func (w *Works) Course(t testing.TB, id course.CaseID) course.Course {
	t.Helper()
	var present course.Course
	w.In(t, w.Office, func(tx *store.Tx) (err error) {
		_, present, err = casework.Course(tx, id)
		return err
	})
	return present
}

// Case returns a case as it stands.
func (w *Works) Case(t testing.TB, id course.CaseID) firm.Case {
	t.Helper()
	var c firm.Case
	w.In(t, w.Office, func(tx *store.Tx) (err error) {
		c, err = tx.Case(id)
		return err
	})
	return c
}

// Report stores a report that must be taken.
func (w *Works) Report(t testing.TB, report firm.Report) firm.Told {
	t.Helper()
	told, err := w.TryReport(t, report)
	if err != nil {
		t.Fatal(err)
	}
	return told
}

// TryReport stores a report as the office.
func (w *Works) TryReport(t testing.TB, report firm.Report) (told firm.Told, err error) {
	t.Helper()
	err = w.Store.In(t.Context(), w.Office, func(tx *store.Tx) (err error) {
		told, err = casework.AppendReport(tx, report)
		return err
	})
	return told, err
}

// Spray reports an application to the mealybugs' plants by tech-a, of half an hour from an instant, at a visit that no plan knows, at
// the label's greatest rate: 2.5 US fl oz made up to 128 US fl oz (1 US gal), so 0.625 to 32.
func (w *Works) Spray(t testing.TB, id string, ordinal int, began string) firm.Report {
	t.Helper()
	return w.made(t, id, "offices-alder-row", began, firm.ReportItem{
		Item: course.NewItemID(Mealybugs, course.KindApplication, 1, ordinal),
		Application: &firm.Applied{Product: "soap", Vessel: "sprayer", Concentrate: Volume(t, "5/8 US fl oz"), Volume: Volume(t, "32 US fl oz"),
			Applied: Volume(t, "28 US fl oz"), LeftWent: firm.TakenHome},
	})
}

// Drench is like Spray for the gnats' plants, within the label's rates of 0.64 to 2.56 US fl oz in 128 US fl oz: 1.375 to 72.
func (w *Works) Drench(t testing.TB, id string, ordinal int, began string) firm.Report {
	t.Helper()
	return w.made(t, id, "hotel-quarry-square", began, firm.ReportItem{
		Item: course.NewItemID(Gnats, course.KindApplication, 1, ordinal),
		Application: &firm.Applied{Product: "bti", Vessel: "can", Concentrate: Volume(t, "11/8 US fl oz"), Volume: Volume(t, "72 US fl oz"),
			Applied: Volume(t, "65 US fl oz"), LeftWent: firm.TakenHome},
	})
}

// Look reports an inspection of the mealybugs' plants without a find.
func (w *Works) Look(t testing.TB, id string, ordinal int, began string) firm.Report {
	t.Helper()
	return w.made(t, id, "offices-alder-row", began, firm.ReportItem{
		Item: course.NewItemID(Mealybugs, course.KindInspectInfested, 1, ordinal), Inspection: &firm.Inspected{},
	})
}

// made reports one item that was done in half an hour, at a visit of an hour.
func (w *Works) made(t testing.TB, id string, at site.ID, began string, item firm.ReportItem) firm.Report {
	t.Helper()
	from := w.At(t, began)
	item.Outcome, item.Began, item.Ended = course.OutcomeDone, from, from.Add(30*time.Minute)
	return firm.Report{
		ID: id, Technician: "tech-a", Site: at, Arrived: from.Add(-15 * time.Minute), Left: from.Add(45 * time.Minute),
		SentAt: from.Add(50 * time.Minute), Items: []firm.ReportItem{item},
	}
}

// Volume reads an amount such as "5/8 US fl oz".
func Volume(t testing.TB, text string) quantity.Volume {
	t.Helper()
	volume, err := quantity.ParseVolume(text)
	if err != nil {
		t.Fatal(err)
	}
	return volume
}

// Refused wants a deed to have failed with a kind and a reason, and returns the fault.
func Refused(t testing.TB, err error, kind fault.Kind, reason string) *fault.Fault {
	t.Helper()
	if err == nil {
		t.Fatalf("nothing was refused: want %s", reason)
	}
	f := fault.Of(err)
	if f.Kind != kind || f.Reason != reason {
		t.Fatalf("refused with kind %d, %v: want kind %d, %s", f.Kind, err, kind, reason)
	}
	return f
}

// Field wants a fault to name a field with a reason.
func Field(t testing.TB, f *fault.Fault, path, reason string) {
	t.Helper()
	for _, field := range f.Fields {
		if field.Path == path && field.Reason == reason {
			return
		}
	}
	t.Errorf("the fields %+v do not name %s with %s", f.Fields, path, reason)
}

// Next returns the first follow-up of a kind in a course, which must be there.
func Next(t testing.TB, c course.Course, kind course.FollowUpKind) scheduler.FollowUp {
	t.Helper()
	for _, f := range c.FollowUps {
		if f.Kind == kind {
			return f
		}
	}
	t.Fatalf("the course of %s holds no %s", c.Case, kind)
	return scheduler.FollowUp{}
}
