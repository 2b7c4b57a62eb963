package casework_test

import (
	"slices"
	"testing"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/store"
)

func TestRecordFinding_OpensACaseOrJoinsTheOneThatSharesAPlant(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	opened, present := w.Find(t, "first", "citrus-mealybug", "pothos-stairs", "pothos-printer")
	if opened.ID != "first" || opened.Site != "offices-alder-row" || opened.RecurrenceOf != "" || len(present.FollowUps) == 0 {
		t.Errorf("the first finding opens %+v with %d follow-ups: want case first at the offices, and a course", opened, len(present.FollowUps))
	}
	joined, present := w.Find(t, "second", "citrus-mealybug", "pothos-printer", "fig-window")
	if joined.ID != "first" || !slices.Equal(joined.Plants, []string{"fig-window", "pothos-printer", "pothos-stairs"}) {
		t.Errorf("a finding on a shared plant goes to %+v: want case first with three plants", joined)
	}
	if plants := firmtest.Next(t, present, course.KindApplication).Plants; len(plants) != 3 {
		t.Errorf("the next application is on %v: want all three", plants)
	}
	for _, other := range []struct {
		name  string
		id    course.CaseID
		pest  catalogue.PestID
		plant site.PlantID
	}{
		{"another pest on the same plant", "third", "fungus-gnat", "pothos-stairs"},
		{"the same pest on another plant", "fourth", "citrus-mealybug", "offices-meeting-01"},
		{"the same pest at another site", "fifth", "citrus-mealybug", "hotel-gallery-01"},
	} {
		if c, _ := w.Find(t, other.id, other.pest, other.plant); c.ID != other.id {
			t.Errorf("%s goes to case %s: want one of its own", other.name, c.ID)
		}
	}
}

func TestRecordFinding_RefusesWhatCannotBe(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	now := w.At(t, "2026-03-02 12:00")
	finding := func(change func(*casework.NewFinding)) casework.NewFinding {
		n := casework.NewFinding{ID: "found", At: now, Finding: firmtest.Finding("citrus-mealybug", "pothos-stairs")}
		change(&n)
		return n
	}
	for _, c := range []struct {
		name         string
		change       func(*casework.NewFinding)
		path, reason string
	}{
		{"a pest unknown", func(n *casework.NewFinding) { n.Finding.Pest = "greenfly" }, "finding.pest", "UNKNOWN_PEST"},
		{"a stage that the pest does not have", func(n *casework.NewFinding) { n.Finding.Stages = []catalogue.StageID{"pupa"} }, "finding.stages[0]", "UNKNOWN_STAGE"},
		{"worse than the scale", func(n *casework.NewFinding) { n.Finding.Severity = 4 }, "finding.severity", "OUT_OF_RANGE"},
		{"better than the scale", func(n *casework.NewFinding) { n.Finding.Severity = -1 }, "finding.severity", "OUT_OF_RANGE"},
		{"no plant", func(n *casework.NewFinding) { n.Site, n.Finding.Plants = "offices-alder-row", nil }, "finding.plants", "REQUIRED"},
		{"a plant unknown", func(n *casework.NewFinding) { n.Finding.Plants = append(n.Finding.Plants, "cactus") }, "finding.plants[1]", "UNKNOWN_PLANT"},
		{"plants of two sites", func(n *casework.NewFinding) { n.Finding.Plants = append(n.Finding.Plants, "lily-lobby") }, "finding.plants[1]", "OTHER_SITE"},
		{"a plant of another site than the one named", func(n *casework.NewFinding) { n.Site = "hotel-quarry-square" }, "finding.plants[0]", "UNKNOWN_PLANT"},
		{"six minutes in the future", func(n *casework.NewFinding) { n.At = now.Add(6 * time.Minute) }, "finding.seen_time", "IN_THE_FUTURE"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
				_, _, err := casework.RecordFinding(tx, finding(c.change))
				return err
			})
			firmtest.Field(t, firmtest.Refused(t, err, fault.Invalid, "INVALID_FIELDS"), c.path, c.reason)
		})
	}
	err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
		_, _, err := casework.RecordFinding(tx, finding(func(n *casework.NewFinding) { n.Site = "nowhere" }))
		return err
	})
	firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
	w.In(t, w.Office, func(tx *store.Tx) error {
		cases, err := tx.Cases(store.CaseFilter{}, store.Page{})
		if len(cases) != 0 {
			t.Errorf("refused findings left %+v", cases)
		}
		return err
	})
	// A clock five minutes fast is no error.
	w.In(t, w.Office, func(tx *store.Tx) error {
		_, _, err := casework.RecordFinding(tx, finding(func(n *casework.NewFinding) { n.At = now.Add(5 * time.Minute) }))
		return err
	})
	err = w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
		_, _, err := casework.RecordFinding(tx, finding(func(n *casework.NewFinding) { n.Finding.Severity = 1 }))
		return err
	})
	firmtest.Refused(t, err, fault.Exists, "EXISTS_ALREADY")
}

// A finding id is the business's: it cannot be used again, whatever the second one is about.
func TestRecordFinding_AnIDNamesOneFinding(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	w.Find(t, "found", "citrus-mealybug", "pothos-stairs")
	for _, c := range []struct {
		name  string
		pest  catalogue.PestID
		plant site.PlantID
	}{{"another pest", "fungus-gnat", "pothos-stairs"}, {"another plant", "citrus-mealybug", "fig-window"}} {
		err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
			_, _, err := casework.RecordFinding(tx, casework.NewFinding{ID: "found", Finding: firmtest.Finding(c.pest, c.plant)})
			return err
		})
		if f := fault.Of(err); f.Kind != fault.Exists {
			t.Errorf("%s under the same id: %v, want it refused as existing", c.name, err)
		}
	}
}

func TestApprove_IsTheResponsibleApplicatorsAndWithinTheCourse(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	w.Find(t, firmtest.Mealybugs, "citrus-mealybug", "pothos-stairs")
	approve := func(caller firm.Caller, d casework.Decision) (present course.Course, err error) {
		d.ID, d.Case = "decision", firmtest.Mealybugs
		err = w.Store.In(t.Context(), caller, func(tx *store.Tx) (err error) {
			_, present, err = casework.Approve(tx, d)
			return err
		})
		return present, err
	}
	soap := course.Approval{Product: "soap", Ways: []course.WayKind{course.InPlace}}
	_, err := approve(w.TechB, casework.Decision{Approval: soap})
	firmtest.Refused(t, err, fault.Forbidden, "RIGHT_NEEDED")
	_, err = approve(w.TechA, casework.Decision{Approval: course.Approval{Product: "alcohol", Ways: soap.Ways}})
	if f := firmtest.Refused(t, err, fault.Refused, "PRODUCT_NOT_LAWFUL"); f.Subject != "alcohol" {
		t.Errorf("the refusal names %q", f.Subject)
	}
	_, err = approve(w.TechA, casework.Decision{Approval: course.Approval{Product: "bti", Ways: soap.Ways}})
	firmtest.Refused(t, err, fault.Refused, "PRODUCT_NOT_LAWFUL")
	strong := soap
	strong.MaxRate = rate(t, "2.6 US fl oz", "1 US gal") // the label: 2.5 US fl oz in 1 US gal
	_, err = approve(w.TechA, casework.Decision{Approval: strong})
	firmtest.Refused(t, err, fault.Refused, "RATE_ABOVE_LABEL")
	_, err = approve(w.TechA, casework.Decision{Approval: soap, Course: "read last week"})
	firmtest.Refused(t, err, fault.Stale, "COURSE_MOVED")
	if firmtest.Next(t, w.Course(t, firmtest.Mealybugs), course.KindApplication).Approved {
		t.Error("refused approvals approve")
	}
	full := soap
	full.MaxRate = rate(t, "2.5 US fl oz", "1 US gal")
	present, err := approve(w.TechA, casework.Decision{Approval: full, Course: w.Course(t, firmtest.Mealybugs).Version()})
	if err != nil || !firmtest.Next(t, present, course.KindApplication).Approved {
		t.Errorf("an approval at the label's rate: %v", err)
	}
	withdrawn := soap
	withdrawn.Withdrawn = true
	err = w.Store.In(t.Context(), w.TechA, func(tx *store.Tx) (err error) {
		_, present, err = casework.Approve(tx, casework.Decision{ID: "withdrawal", Case: firmtest.Mealybugs, Approval: withdrawn})
		return err
	})
	if err != nil || firmtest.Next(t, present, course.KindApplication).Approved {
		t.Errorf("after the withdrawal it is still approved: %v", err)
	}
}
