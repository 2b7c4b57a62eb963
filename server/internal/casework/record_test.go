package casework_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/store"
)

// keepOutsOf lists what is shut at a site in March 2026, and by what was reported only.
func keepOutsOf(t *testing.T, w *firmtest.Works, at site.ID) (shut []firm.KeepOutFact) {
	t.Helper()
	w.In(t, w.Office, func(tx *store.Tx) (err error) {
		shut, err = tx.ReportedKeepOuts(at, civil.Interval{From: w.At(t, "2026-03-01 00:00"), To: w.At(t, "2026-04-01 00:00")})
		return err
	})
	return shut
}

// A time of entry is the label's, never an invention: where nobody knows the interval, none is written.
func TestAppendReport_TheTimeOfEntryIsTheLabelsOrNone(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		entry catalogue.Entry
		after time.Duration // the end of the application at 20:30; -1 is no time at all
	}{
		{"so many hours", catalogue.Entry{Kind: catalogue.EntryHours, Hours: 4 * time.Hour}, 4 * time.Hour},
		{"none needed", catalogue.Entry{Kind: catalogue.EntryNone, Reason: "the label says so"}, 0},
		{"unknown", catalogue.Entry{Kind: catalogue.EntryUnknown}, -1},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			w := firmtest.Open(t)
			soapLabel(t, w, func(l *catalogue.Label) { l.Entry = c.entry })
			w.MoveClock(t, "2026-03-07 09:00")
			r := w.Spray(t, "r", 1, "2026-03-03 20:00")
			record := w.Report(t, r).Records[0]
			want := civil.Instant(0)
			if c.after >= 0 {
				want = r.Items[0].Ended.Add(c.after)
			}
			if record.EntryFrom != want {
				t.Errorf("people may enter from %v: want %v", record.EntryFrom, want)
			}
			if shut := keepOutsOf(t, w, "offices-alder-row"); (len(shut) > 0) != (c.after > 0) {
				t.Errorf("shut is %+v: want something only where there is an interval", shut)
			}
		})
	}
}

// In a school in Pennsylvania pupils stay out for seven hours, whatever the label says (Act 36 of 2002, 24 P.S. 7-772.1);
// a label that says more holds, and one that says none is no exception.
func TestAppendReport_InASchoolTheLawsLeastTimeHolds(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		entry catalogue.Entry
		after time.Duration
	}{
		{"until dry", catalogue.Entry{Kind: catalogue.EntryUntilDry}, 7 * time.Hour},
		{"four hours", catalogue.Entry{Kind: catalogue.EntryHours, Hours: 4 * time.Hour}, 7 * time.Hour},
		{"twelve hours", catalogue.Entry{Kind: catalogue.EntryHours, Hours: 12 * time.Hour}, 12 * time.Hour},
		{"none needed", catalogue.Entry{Kind: catalogue.EntryNone, Reason: "the label says so"}, 7 * time.Hour},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			w := firmtest.New(t)
			soapLabel(t, w, func(l *catalogue.Label) { l.Entry = c.entry })
			w.Find(t, "school", "citrus-mealybug", "school-library-01")
			w.MoveClock(t, "2026-03-07 14:00")
			r := w.Spray(t, "r", 1, "2026-03-06 18:00")
			r.Site, r.Items[0].Item, r.Items[0].Case, r.Items[0].Plants = "school-brook-end", "", "school", []site.PlantID{"school-library-01"}
			record := w.Report(t, r).Records[0]
			if want := r.Items[0].Ended.Add(c.after); record.EntryFrom != want {
				t.Errorf("people may enter from %v: want %v, %v after the end", record.EntryFrom, want, c.after)
			}
			shut := keepOutsOf(t, w, "school-brook-end")
			if wrong := slices.ContainsFunc(shut, func(k firm.KeepOutFact) bool { return k.During.To != r.Items[0].Ended.Add(c.after) }); wrong || (len(shut) > 0) != (c.after > 0) {
				t.Errorf("shut is %+v: want it until %v after the end", shut, c.after)
			}
		})
	}
}

// The applications of a visit in one area are one treatment: the longest interval counts from the end of the last
// (40 CFR 170.112(a)(3), 1992 text).
func TestAppendReport_TwoApplicationsOfAVisitShutTogether(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-07 09:00")
	r, drench := w.Spray(t, "r", 1, "2026-03-03 18:30"), w.Spray(t, "r", 1, "2026-03-03 18:00")
	drench.Items[0].Item, drench.Items[0].Case, drench.Items[0].Application.Product = "", firmtest.Mealybugs, "bti" // 4 h
	r.Items = append(drench.Items, r.Items...)
	for _, record := range w.Report(t, r).Records {
		if want := w.At(t, "2026-03-03 23:30"); record.EntryFrom != want { // 19:00 and soap's 3 h x 1.5, for it dries slowly: longer than 4 h
			t.Errorf("after %s people may enter from %v: want %v", record.ProductName, record.EntryFrom, want)
		}
	}
}

// A correction that says that nothing was applied: the record stays, a second one says that it is not true, and the room
// is no longer shut.
func TestAppendReport_ACorrectionThatItWasNotMadeCorrectsRecordAndKeepOut(t *testing.T) {
	t.Parallel()
	for name, items := range map[string][]firm.ReportItem{
		"not done":     {{Item: "mealybugs/application/1/1", Outcome: course.PeoplePresent}},
		"no such item": nil,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			w := firmtest.Open(t)
			w.MoveClock(t, "2026-03-03 22:00")
			first := w.Spray(t, "first", 1, "2026-03-03 20:00")
			w.Report(t, first)
			if len(keepOutsOf(t, w, first.Site)) == 0 {
				t.Fatal("the first report shuts nothing")
			}
			second := first
			second.ID, second.Corrects, second.Items = "second", "first", items
			told := w.Report(t, second)
			if len(told.Records) != 1 || told.Records[0].Corrects != "first-1" || !told.Records[0].Applied.IsZero() || !told.Records[0].Concentrate.IsZero() ||
				!strings.Contains(told.Records[0].NotMade, "not made") || told.Records[0].RatePercent != "not made" || !told.Records[0].EntryFrom.IsZero() {
				t.Errorf("records %+v: want one that corrects first-1, of nothing, saying that it was not made", told.Records)
			}
			if shut := keepOutsOf(t, w, first.Site); len(shut) != 0 {
				t.Errorf("still shut is %+v", shut)
			}
			// It was made after all: the third follows the second, and shuts again.
			third := first
			third.ID, third.Corrects = "third", "second"
			again := w.Report(t, third)
			if len(again.Records) != 1 || again.Records[0].Corrects != told.Records[0].ID || again.Records[0].NotMade != "" || again.Records[0].Applied.IsZero() {
				t.Errorf("records %+v: want one as made that corrects %s", again.Records, told.Records[0].ID)
			}
			if len(keepOutsOf(t, w, first.Site)) == 0 {
				t.Error("what was made after all shuts nothing")
			}
		})
	}
}

// A correction of the time moves the keep-out; that somebody found it dry stays known.
func TestAppendReport_ACorrectedTimeMovesTheKeepOut(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-05 09:00")
	w.Report(t, w.Spray(t, "first", 1, "2026-03-03 20:00"))
	dry := w.At(t, "2026-03-04 08:00")
	w.In(t, w.Office, func(tx *store.Tx) error { return tx.ConfirmDryAfter("", "offices-floor", dry) })
	second := w.Spray(t, "second", 1, "2026-03-03 19:45")
	second.Corrects = "first"
	w.Report(t, second)
	shut := keepOutsOf(t, w, "offices-alder-row")
	if len(shut) == 0 {
		t.Fatal("nothing is shut")
	}
	for _, k := range shut {
		if k.During.From != second.Items[0].Began || k.Area == "offices-floor" && k.ConfirmedDryAt != dry {
			t.Errorf("shut is %+v: want it from %v, found dry at %v", k, second.Items[0].Began, dry)
		}
	}
}

// What people read names products and plants as they know them.
func TestStory_SpeaksInNames(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-11 21:00")
	w.Report(t, w.Spray(t, "spray", 1, "2026-03-03 20:00"))
	look := w.Look(t, "look", 1, "2026-03-11 20:00")
	look.Items[0].Inspection = &firm.Inspected{Found: []site.PlantID{"pothos-printer"}, Severity: 1}
	w.Report(t, look)
	var story firm.CaseStory
	w.In(t, w.Office, func(tx *store.Tx) (err error) {
		story, err = casework.Story(tx, firmtest.Mealybugs)
		return err
	})
	var texts []string
	for _, e := range story.Events {
		texts = append(texts, e.Text)
	}
	const plants = "Pothos by the printers, Pothos at the stairs"
	for i, want := range []string{
		"citrus mealybug found, confirmed, living, severity 2, on Pothos at the stairs, Pothos by the printers",
		"Soap concentrate of the demo approved by Technician A, at the label's rate, ",
		"Soap concentrate of the demo applied to " + plants,
		plants + " looked at, living insects on Pothos by the printers, severity 1",
	} {
		if i >= len(texts) || !strings.HasPrefix(texts[i], want) {
			t.Errorf("the story reads\n%s\nwant as number %d: %s", strings.Join(texts, "\n"), i+1, want)
		}
	}
}
