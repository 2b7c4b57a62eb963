package casework_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/listing"
	"vernation/server/internal/store"
)

func rate(t *testing.T, concentrate, per string) *quantity.Rate {
	t.Helper()
	return &quantity.Rate{Concentrate: firmtest.Volume(t, concentrate), Per: firmtest.Volume(t, per), Convention: quantity.MadeUpTo}
}

var errRolledBack = errors.New("this order was tried")

// Reports come late, twice and in any order: whatever the order, the course says the same, with the same ids.
func TestAppendReport_AnyOrderGivesTheSameCourseAndTheSameIDs(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-20 09:00")
	second := w.Spray(t, "second", 2, "2026-03-12 20:00")
	notDone := w.Spray(t, "not-done", 2, "2026-03-10 20:00")
	notDone.Items[0] = firm.ReportItem{Item: second.Items[0].Item, Outcome: course.PeoplePresent}
	reports := []firm.Report{
		w.Spray(t, "first", 1, "2026-03-04 20:00"), second, notDone,
		w.Look(t, "look", 1, "2026-03-11 20:00"), w.Spray(t, "third", 3, "2026-03-19 20:00"),
	}
	reports[4].Findings = []course.Finding{firmtest.Finding("citrus-mealybug", "pothos-stairs")}
	want := tell(t, w, reports)
	if next := firmtest.Next(t, want, course.KindApplication); next.ID != course.NewItemID(firmtest.Mealybugs, course.KindApplication, 1, 4) {
		t.Fatalf("after three applications the next is %s: want the fourth", next.ID)
	}
	const orders = 10 // each stores six reports: few, and the same ones each time
	for seed := range orders {
		twice := append(slices.Clone(reports), reports[seed%len(reports)])
		order := rapid.Permutation(twice).Example(seed)
		if got := tell(t, w, order); got.Version() != want.Version() {
			t.Errorf("told as %v the course is\n%s\nwant\n%s", ids(order), summary(got), summary(want))
		}
	}
}

// tell stores reports in an order, reads the course, and undoes it all.
func tell(t *testing.T, w *firmtest.Works, reports []firm.Report) (present course.Course) {
	t.Helper()
	err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) (err error) {
		for _, report := range reports {
			if _, err := casework.AppendReport(tx, report); err != nil {
				return err
			}
		}
		if _, present, err = casework.Course(tx, firmtest.Mealybugs); err != nil {
			return err
		}
		return errRolledBack
	})
	if !errors.Is(err, errRolledBack) {
		t.Fatal(err)
	}
	return present
}

// A day's reports, delivered in any order and some of them twice, leave the same behind: courses, records, deviations, and
// what is shut.
func TestAppendReport_ADayInAnyOrderLeavesTheSame(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-06 09:00")
	strong := w.Spray(t, "strong", 1, "2026-03-04 20:00")
	strong.Items[0].Application.Concentrate = firmtest.Volume(t, "5/4 US fl oz") // twice the label's rate
	inside := w.Look(t, "inside", 1, "2026-03-04 21:00")                         // in what the spray shut
	inside.Technician = "tech-b"
	locked := firm.Report{ID: "locked", Technician: "tech-b", Site: "hotel-quarry-square", Arrived: w.At(t, "2026-03-04 09:00"), Left: w.At(t, "2026-03-04 09:10"),
		Items: []firm.ReportItem{{Item: course.NewItemID(firmtest.Gnats, course.KindTrapChange, 1, 1), Outcome: course.LockedOut}}}
	drench := w.Drench(t, "drench", 1, "2026-03-04 14:00")
	drench.Items[0].Application.LeftWent = firm.IntoDrain
	drench.Findings = []course.Finding{firmtest.Finding("fungus-gnat", "lily-reading")}
	dry := firm.Report{ID: "dry", Technician: "tech-b", Site: "offices-alder-row", Arrived: w.At(t, "2026-03-05 08:00"), Left: w.At(t, "2026-03-05 08:30"),
		DryConfirmed: []firm.DryConfirmation{{Area: "offices-floor", Dry: true, At: w.At(t, "2026-03-05 08:05")}}}
	again := w.Spray(t, "again", 2, "2026-03-04 17:00") // on the same plants, some hours before: the strong one comes too soon
	again.Items[0].Plants = []site.PlantID{"pothos-stairs", "pothos-printer"}
	day := []firm.Report{strong, inside, locked, drench, dry, again}
	want := left(t, w, day)
	if len(want.Deviations) < 4 || len(want.Records) != 3 || len(want.Awaiting) != 0 {
		t.Fatalf("the day leaves %+v: want several deviations, two records, and the open floor found dry", want)
	}
	const orders = 6 // each stores eight reports
	for seed := range orders {
		twice := append(slices.Clone(day), day[seed%len(day)], day[(seed+2)%len(day)])
		order := rapid.Permutation(twice).Example(seed)
		if diff := cmp.Diff(want, left(t, w, order)); diff != "" {
			t.Errorf("told as %v the day leaves something else (-as it was +as told):\n%s", ids(order), diff)
		}
	}
}

// behind is what reports leave behind, in a sequence that does not depend on theirs.
type behind struct {
	Courses    map[course.CaseID]string // their versions
	Records    []string
	Deviations []string
	Awaiting   []string // areas that nobody has found dry
}

// left tells reports in an order, reads what they leave behind, and undoes it all.
func left(t *testing.T, w *firmtest.Works, reports []firm.Report) behind {
	t.Helper()
	found := behind{Courses: map[course.CaseID]string{}}
	err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
		for _, report := range reports {
			if _, err := casework.AppendReport(tx, report); err != nil {
				return err
			}
		}
		for _, id := range []course.CaseID{firmtest.Mealybugs, firmtest.Gnats} {
			_, present, err := casework.Course(tx, id)
			if err != nil {
				return err
			}
			found.Courses[id] = present.Version()
		}
		for _, report := range reports {
			records, err := tx.RecordsOf(report.ID)
			if err != nil {
				return err
			}
			deviations, err := tx.DeviationsOf(report.ID)
			if err != nil {
				return err
			}
			for _, r := range records {
				found.Records = append(found.Records, fmt.Sprintf("%+v", r))
			}
			for _, d := range deviations {
				found.Deviations = append(found.Deviations, fmt.Sprintf("%s %s %s %v %s", d.Report, d.Rule, d.Item, d.At, d.Text))
			}
		}
		awaiting, err := tx.AwaitingDry()
		for _, k := range awaiting {
			found.Awaiting = append(found.Awaiting, string(k.Area))
		}
		if err != nil {
			return err
		}
		return errRolledBack
	})
	if !errors.Is(err, errRolledBack) {
		t.Fatal(err)
	}
	for _, list := range []*[]string{&found.Records, &found.Deviations, &found.Awaiting} {
		slices.Sort(*list)
		*list = slices.Compact(*list) // a report that was told twice was read twice
	}
	return found
}

func ids(reports []firm.Report) (list []string) {
	for _, r := range reports {
		list = append(list, r.ID)
	}
	return list
}

func summary(c course.Course) string {
	var lines []string
	for _, f := range c.FollowUps {
		lines = append(lines, fmt.Sprintf("%s %v %v %v", f.ID, f.Expected, f.Plants, f.Due))
	}
	return strings.Join(lines, "\n") + fmt.Sprintf("\nleft %v, free %v, looks %+v", c.ExpectedLeft, c.ChanceFree, c.Looks)
}

func TestAppendReport_WhatCouldNotBeDoneIsDueAgainUnderItsID(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-03 21:00")
	report := w.Spray(t, "meeting", 1, "2026-03-03 20:00")
	item := report.Items[0].Item
	report.Items[0] = firm.ReportItem{Item: item, Outcome: course.PeoplePresent, Note: "a late meeting"}
	told := w.Report(t, report)
	if len(told.Records) != 0 || len(told.Deviations) != 0 || !slices.Equal(told.Cases, []course.CaseID{firmtest.Mealybugs}) {
		t.Errorf("told %+v: want no record, no deviation, the mealybugs' case", told)
	}
	next := firmtest.Next(t, w.Course(t, firmtest.Mealybugs), course.KindApplication)
	if next.ID != item || !next.Approved || next.Due.EarliestOn < w.Business.Zone.DateOf(w.At(t, "2026-03-03 20:00")) {
		t.Errorf("the next application is %s from %v, approved %v: want %s again, still approved", next.ID, next.Due.EarliestOn, next.Approved, item)
	}
}

// One application at twice the label's rate counts once, and kills as at the label's rate.
func TestAppendReport_DoubleRateIsStoredFlaggedAndCountedOnce(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-03 21:00")
	report := w.Spray(t, "strong", 1, "2026-03-03 20:00")
	report.Items[0].Application.Concentrate = firmtest.Volume(t, "5/4 US fl oz")
	told := w.Report(t, report)
	// 1.25 in 32 is 3.90625 %; the label's 2.5 in 128 is half of it.
	if len(told.Records) != 1 || told.Records[0].RatePercent != "3.9063" || len(told.Records[0].Deviations) != 1 {
		t.Errorf("records %+v: want one at the true rate, 3.9063 %%, with its deviation", told.Records)
	}
	if want := firmtest.Volume(t, "35/32 US fl oz"); !told.Records[0].Concentrate.Equal(want) { // 28 x 1.25/32
		t.Errorf("concentrate on the plants %v: want %v", told.Records[0].Concentrate.Exact(), want)
	}
	if len(told.Deviations) != 1 || told.Deviations[0].Rule != scheduler.RuleLabel || !strings.Contains(told.Deviations[0].Text, "2.000 times") {
		t.Errorf("deviations %+v: want one of the label, 2.000 times its rate", told.Deviations)
	}
	present := w.Course(t, firmtest.Mealybugs)
	next := firmtest.Next(t, present, course.KindApplication)
	if next.ID != course.NewItemID(firmtest.Mealybugs, course.KindApplication, 1, 2) || next.Approved {
		t.Errorf("next is %s, approved %v: want the second application, to be approved again", next.ID, next.Approved)
	}
	if got, want := next.Due.EarliestOn, w.Business.Zone.DateOf(w.At(t, "2026-03-10 12:00")); got != want {
		t.Errorf("the second application is due from %v: want %v, the label's 7 days later", got, want)
	}
	look := firmtest.Next(t, present, course.KindInspectInfested)
	if tomorrow := w.Business.Zone.DateOf(w.At(t, "2026-03-04 12:00")); look.Due.After == "" && look.Due.EarliestOn < tomorrow {
		t.Errorf("a look at the plants is due from %v: want not before the next day", look.Due.EarliestOn)
	}
	w.Approve(t, firmtest.Mealybugs)
	if !firmtest.Next(t, w.Course(t, firmtest.Mealybugs), course.KindApplication).Approved {
		t.Error("the application is not approved after it was approved again")
	}
}

func TestAppendReport_ACorrectionTakesThePlaceOfTheFirst(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-05 09:00")
	wrong := w.Spray(t, "wrong", 1, "2026-03-03 20:00")
	wrong.Items[0].Application.Concentrate = firmtest.Volume(t, "5/4 US fl oz")
	w.Report(t, wrong)
	right := w.Spray(t, "right", 1, "2026-03-04 20:00")
	_, err := w.TryReport(t, right)
	if f := firmtest.Refused(t, err, fault.Exists, "ALREADY_REPORTED"); f.Subject != "wrong" {
		t.Errorf("a second report of the application names %q as the first: want wrong", f.Subject)
	}
	right.Corrects = "wrong"
	told := w.Report(t, right)
	if len(told.Records) != 1 || told.Records[0].Corrects != "wrong-1" {
		t.Errorf("records %+v: want one that corrects wrong-1", told.Records)
	}
	corrected := w.Course(t, firmtest.Mealybugs)
	fresh := firmtest.Open(t)
	fresh.MoveClock(t, "2026-03-05 09:00")
	fresh.Report(t, fresh.Spray(t, "right", 1, "2026-03-04 20:00"))
	if want := fresh.Course(t, firmtest.Mealybugs); corrected.Version() != want.Version() {
		t.Errorf("after the correction the course is\n%s\nwant that of the right report alone\n%s", summary(corrected), summary(want))
	}
}

// A correction that tells less than the first report leaves nothing of the first behind.
func TestAppendReport_ACorrectionThatTellsLessLeavesNothingOfTheFirst(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-05 09:00")
	both := w.Spray(t, "both", 1, "2026-03-03 20:00")
	look := w.Look(t, "look", 1, "2026-03-03 19:45")
	both.Items = append(look.Items, both.Items...)
	w.Report(t, both)
	spray := w.Spray(t, "spray", 1, "2026-03-03 20:00")
	spray.Corrects = "both"
	w.Report(t, spray)
	fresh := firmtest.Open(t)
	fresh.MoveClock(t, "2026-03-05 09:00")
	fresh.Report(t, fresh.Spray(t, "spray", 1, "2026-03-03 20:00"))
	if got, want := w.Course(t, firmtest.Mealybugs), fresh.Course(t, firmtest.Mealybugs); got.Version() != want.Version() {
		t.Errorf("after the correction the course is\n%s\nwant that of the spray alone\n%s", summary(got), summary(want))
	}
}

// Looks after the last application end the case; what comes back at the site within policy's months is a recurrence.
func TestAppendReport_LooksWithoutAFindEndTheCaseClear(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	began := w.At(t, "2026-03-03 20:00")
	for ordinal := 1; ordinal <= 7; ordinal++ { // weekly, the last on day 42
		at := began.Add(time.Duration(7*(ordinal-1)) * 24 * time.Hour).Time().In(w.Business.Zone.Location()).Format("2006-01-02")
		w.MoveClock(t, at+" 22:00")
		w.Report(t, w.Spray(t, fmt.Sprint("spray-", ordinal), ordinal, at+" 20:00"))
	}
	present := w.Course(t, firmtest.Mealybugs)
	if slices.ContainsFunc(present.FollowUps, func(f scheduler.FollowUp) bool { return f.Kind == course.KindApplication }) || present.Looks.Needed != 2 {
		t.Fatalf("after seven applications:\n%s\nwant no more of them, and two looks", summary(present))
	}
	for looks := 1; w.Case(t, firmtest.Mealybugs).Ending == nil; looks++ {
		if looks > 10 {
			t.Fatalf("after ten looks the case has not ended: %+v", present.Looks)
		}
		look := firmtest.Next(t, present, course.KindInspectInfested)
		day := max(look.Expected, w.Business.Zone.DateOf(w.Clock.Now()))
		w.MoveClock(t, day.String()+" 22:00")
		report := w.Look(t, fmt.Sprint("look-", looks), 1, day.String()+" 20:00")
		report.Items[0].Item = look.ID
		w.Report(t, report)
		present = w.Course(t, firmtest.Mealybugs)
	}
	ended := w.Case(t, firmtest.Mealybugs)
	if ended.Ending.Kind != course.Clear || ended.Ending.Chance < w.Business.Policy.ClearBound || ended.EndedAt != w.Clock.Now() {
		t.Errorf("the case ended %+v at %v: want clear, by a chance of policy's bound %v or more, now", ended.Ending, ended.EndedAt, w.Business.Policy.ClearBound)
	}
	if day := w.Business.Zone.DateOf(ended.EndedAt); day <= present.Looks.FirstOn {
		t.Errorf("ended on %v: want after the first look that counts, %v", day, present.Looks.FirstOn)
	}
	again, _ := w.Find(t, "again", "citrus-mealybug", "offices-meeting-01")
	if again.ID != "again" || again.RecurrenceOf != firmtest.Mealybugs {
		t.Errorf("a find at the site afterwards: %+v, want a recurrence of the case that ended", again)
	}
	same, _ := w.Find(t, "same", "citrus-mealybug", "pothos-stairs")
	if same.ID != "same" || same.RecurrenceOf == "" || w.Case(t, firmtest.Mealybugs).Ending == nil {
		t.Errorf("a find on one of its plants: %+v, want a recurrence, and the case ended as it was", same)
	}
	other, _ := w.Find(t, "other", "citrus-mealybug", "hotel-gallery-02")
	if other.RecurrenceOf != "" {
		t.Errorf("a find at another site is a recurrence of %s", other.RecurrenceOf)
	}
}

// A find that is reported late, from before the looks that ended the case, opens it again: the order does not matter.
func TestAppendReport_ALateFindOpensAgainWhatHadEnded(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	w.In(t, w.Office, func(tx *store.Tx) error {
		suspected := firmtest.Finding("citrus-mealybug", "pothos-stairs")
		suspected.Certainty = course.Suspected
		_, _, err := casework.RecordFinding(tx, casework.NewFinding{ID: string(firmtest.Mealybugs), Finding: suspected})
		return err
	})
	for looks := 1; w.Case(t, firmtest.Mealybugs).Ending == nil; looks++ {
		if looks > 6 {
			t.Fatal("six looks without a find do not end a suspicion")
		}
		look := firmtest.Next(t, w.Course(t, firmtest.Mealybugs), course.KindInspectInfested)
		day := max(look.Expected, w.Business.Zone.DateOf(w.Clock.Now()))
		w.MoveClock(t, day.String()+" 22:00")
		report := w.Look(t, fmt.Sprint("look-", looks), 1, day.String()+" 20:00")
		report.Items[0].Item = look.ID
		w.Report(t, report)
	}
	if kind := w.Case(t, firmtest.Mealybugs).Ending.Kind; kind != course.NotFoundPest {
		t.Errorf("the suspicion ended %s: want not found", kind)
	}
	late := w.Look(t, "late", 9, "2026-03-03 20:00")
	late.Items[0].Item, late.Items[0].Case = "", firmtest.Mealybugs
	late.Items[0].Inspection = &firm.Inspected{Found: []site.PlantID{"pothos-stairs"}, Severity: 2}
	late.Items[0].Plants = []site.PlantID{"pothos-stairs"}
	w.Report(t, late)
	if c, present := w.Case(t, firmtest.Mealybugs), w.Course(t, firmtest.Mealybugs); (c.Ending == nil) != (present.Ended == nil) {
		t.Errorf("the case has ended: %+v, its course: %+v; want the two to agree", c.Ending, present.Ended)
	} else if c.Ending != nil {
		t.Errorf("after a late find the case is still ended: %+v", c.Ending)
	}
}

func TestAppendReport_RefusesWhatCannotBeUnderstoodAndStoresNothing(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-03 21:00")
	before := w.Course(t, firmtest.Mealybugs)
	for _, c := range []struct {
		name         string
		change       func(*firm.Report)
		path, reason string
	}{
		{"a plant unknown", func(r *firm.Report) { r.Items[0].Plants = []site.PlantID{"pothos-stairs", "cactus"} }, "report.items[0].plants[1]", "UNKNOWN_PLANT"},
		{"a product unknown", func(r *firm.Report) { r.Items[0].Application.Product = "brew" }, "report.items[0].application.product", "UNKNOWN_PRODUCT"},
		{"somebody unknown", func(r *firm.Report) { r.Technician = "tech-z" }, "report.technician", "UNKNOWN_TECHNICIAN"},
		{"a visit in the future", func(r *firm.Report) { r.Left = w.At(t, "2026-03-03 21:06") }, "report.left", "IN_THE_FUTURE"},
		{"an application in the future", func(r *firm.Report) { r.Items[0].Ended = w.At(t, "2026-03-03 21:06") }, "report.items[0].ended", "IN_THE_FUTURE"},
		{"an application that begins in the future", func(r *firm.Report) {
			r.Items[0].Began, r.Items[0].Ended = w.At(t, "2026-03-09 20:00"), w.At(t, "2026-03-09 20:30")
		}, "report.items[0].ended", "IN_THE_FUTURE"},
		{"found on a plant unknown", func(r *firm.Report) {
			r.Items[0].Application, r.Items[0].Inspection = nil, &firm.Inspected{Found: []site.PlantID{"cactus"}}
			r.Items[0].Item = course.NewItemID(firmtest.Mealybugs, course.KindInspectInfested, 1, 1)
		}, "report.items[0].inspection.found[0]", "UNKNOWN_PLANT"},
		{"a finding of a pest unknown", func(r *firm.Report) { r.Findings = []course.Finding{firmtest.Finding("greenfly", "pothos-stairs")} }, "report.findings[0].pest", "UNKNOWN_PEST"},
		{"dry in an area unknown", func(r *firm.Report) {
			r.DryConfirmed = []firm.DryConfirmation{{Area: "attic", Dry: true, At: r.Arrived}}
		}, "report.dry_confirmations[0].area", "UNKNOWN_AREA"},
		{"no outcome", func(r *firm.Report) { r.Items[0].Outcome = "" }, "report.items[0].outcome", "REQUIRED"},
	} {
		t.Run(c.name, func(t *testing.T) {
			report := w.Spray(t, "r", 1, "2026-03-03 20:00")
			c.change(&report)
			_, err := w.TryReport(t, report)
			firmtest.Field(t, firmtest.Refused(t, err, fault.Invalid, "INVALID_FIELDS"), c.path, c.reason)
		})
	}
	if after := w.Course(t, firmtest.Mealybugs); after.Version() != before.Version() {
		t.Error("refused reports change the course")
	}
	w.In(t, w.Office, func(tx *store.Tx) error {
		_, err := casework.Report(tx, "r")
		firmtest.Refused(t, err, fault.NotFound, "NOT_FOUND")
		records, err := tx.ListedRecords(listing.Question{Order: []listing.Key{{Field: listing.NameField}}})
		if len(records) != 0 {
			t.Errorf("refused reports left %d records", len(records))
		}
		return err
	})
	// A clock five minutes fast is no error.
	late := w.Spray(t, "r", 1, "2026-03-03 20:20") // left 21:05
	w.Report(t, late)
}
