package records_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/records"
	"vernation/server/internal/store"
)

// published makes a visit with the first spray of the mealybugs real, with its notice and what it shuts.
func published(t *testing.T, w *firmtest.Works, at site.ID, area site.AreaID, item scheduler.ItemID) {
	t.Helper()
	begins := w.At(t, "2026-03-05 20:00")
	ends := begins.Add(32 * time.Minute)
	w.In(t, w.Office, func(tx *store.Tx) error {
		visit := scheduler.Visit{
			ID: "visit", State: scheduler.Published, Technician: "tech-a", Site: at, Arrives: begins.Add(-10 * time.Minute), Leaves: ends,
			Work: []scheduler.WorkItem{{Item: item, Kind: course.KindApplication, Area: area, Begins: begins, Ends: ends, Use: &scheduler.Use{Product: "soap"}, MixIndex: -1}},
		}
		shut := firm.KeepOutFact{Visit: "visit", KeepOut: scheduler.KeepOut{
			Area: area, During: civil.Interval{From: begins, To: ends.Add(4*time.Hour + 30*time.Minute)}, Product: "soap", By: "tech-a", UntilDry: true, Item: item,
		}}
		if err := tx.ReplaceVisits(nil, []scheduler.Visit{visit}, nil, []firm.KeepOutFact{shut}, ""); err != nil {
			return err
		}
		return tx.InsertNotices([]firm.Notice{{ID: "n-1", Item: item, Site: at, Begins: begins, DueAt: begins.Add(-24 * time.Hour)}})
	})
}

// read is the notice with what it says.
func read(t *testing.T, w *firmtest.Works) (n firm.SentNotice, text firm.NoticeText) {
	t.Helper()
	w.In(t, w.Office, func(tx *store.Tx) (err error) {
		n, text, err = records.Notice(tx, "n-1")
		return err
	})
	return n, text
}

func written(text firm.NoticeText) string {
	return fmt.Sprintf("%s\nAsked for:\n%s\n\nUnknown:\n%s\n", text.Text, strings.Join(text.AskedFor, "\n"), strings.Join(text.Unknown, "\n"))
}

func TestNotice_SaysWhatWhereWhenAndUntilWhen(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	published(t, w, "offices-alder-row", "offices-floor", "mealybugs/application/1/1")
	n, text := read(t, w)
	if n.State != firm.NoticeDue || !n.Published || text.Wording != firm.OwnWording || len(text.AskedFor) != 0 {
		t.Errorf("notice %+v, %+v: want one due in our words, of which nothing is known to be asked", n, text)
	}
	golden(t, "notice.txt", written(text))
	w.In(t, w.Office, func(tx *store.Tx) error { return tx.ReplaceVisits([]scheduler.VisitID{"visit"}, nil, nil, nil, "") })
	if n, text := read(t, w); n.State != firm.NoticeWithdrawn || text.Text != "" || text.Wording != "" {
		t.Errorf("withdrawn it is %+v, %+v: want nothing to send", n, text)
	}
}

// Schools in Pennsylvania ask for 72 hours and a sign (Act 36 of 2002, 24 P.S. 7-772.1).
func TestNotice_NamesWhatTheJurisdictionAsksFor(t *testing.T) {
	t.Parallel()
	w := firmtest.New(t)
	w.Find(t, "school", "citrus-mealybug", "school-library-01")
	published(t, w, "school-brook-end", "school-library", "school/application/1/1")
	_, text := read(t, w)
	all := written(text)
	for _, want := range []string{"at least 72 hours before", "Notice: ", "Sign: ", "pa-act-36-2002", string(catalogue.Published)} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in\n%s", want, all)
		}
	}
}
