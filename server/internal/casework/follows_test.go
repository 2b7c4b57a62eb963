package casework_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// Each outcome of the table leads where the table says: the item due again on its day or not, the notice spent or not, in
// the report's answer, and in the course.
func TestAppendReport_EachOutcomeLeadsWhereTheTableSays(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-03 22:00")
	today := w.Business.Zone.DateOf(w.At(t, "2026-03-03 20:00"))
	item := course.NewItemID(firmtest.Mealybugs, course.KindApplication, 1, 1)
	for _, outcome := range course.Outcomes() {
		report := w.Spray(t, "told", 1, "2026-03-03 20:00")
		report.Items[0].Outcome = outcome
		want, _ := course.Consequences(outcome, course.KindApplication)
		if !want.CountsAsApplication {
			report.Items[0].Application = nil
		}
		if outcome == course.OutcomeInPart {
			report.Items[0].Plants = []site.PlantID{"pothos-stairs"}
		}
		err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
			notice := firm.Notice{ID: "n", Item: item, Site: "offices-alder-row", Begins: w.At(t, "2026-03-03 20:00"), DueAt: w.At(t, "2026-03-02 20:00"), SentAt: w.At(t, "2026-03-02 18:00")}
			if err := tx.InsertNotices([]firm.Notice{notice}); err != nil {
				return err
			}
			told, err := casework.AppendReport(tx, report)
			if err != nil {
				return err
			}
			dueOn := civil.Date(0)
			if want.DueAgain {
				dueOn = today.AddDays(want.AfterDays)
			}
			if got := told.Report.Follows; len(got) != 1 || got[0].Consequence != want || got[0].Item != item || got[0].DueOn != dueOn {
				t.Errorf("%s: follows %+v, want %+v on %v", outcome, got, want, dueOn)
			}
			notices, err := tx.Notices(civil.Interval{})
			if err != nil {
				return err
			}
			if spent := want.NoticeAgain || !want.DueAgain; notices[0].Used != spent {
				t.Errorf("%s: the notice is spent %v, want %v", outcome, notices[0].Used, spent)
			}
			_, present, err := casework.Course(tx, firmtest.Mealybugs)
			if err != nil {
				return err
			}
			next := firmtest.Next(t, present, course.KindApplication)
			if again := next.ID == item; !want.CountsAsApplication && (!again || next.Due.EarliestOn < dueOn) || outcome == course.OutcomeDone && again {
				t.Errorf("%s: the next application is %s from %v: want what the table says, %+v on %v", outcome, next.ID, next.Due.EarliestOn, want, dueOn)
			}
			return errRolledBack
		})
		if !errors.Is(err, errRolledBack) {
			t.Fatalf("%s: %v", outcome, err)
		}
	}
}

// The label's limit of humidity, and of temperature, is held against what was measured, where something was.
func TestAppendReport_AMeasuredClimateComesBeforeTheRecord(t *testing.T) {
	t.Parallel()
	humid := func(greatest float64) *site.Humidity { return &site.Humidity{Least: 30, Usual: 45, Greatest: greatest} }
	number := func(v float64) *float64 { return &v }
	for name, c := range map[string]struct {
		limit    catalogue.Label
		air      *site.Humidity
		humidity *float64
		celsius  *float64
		word     string // of the deviation; "" is none
	}{
		"measured above":                   {limit: catalogue.Label{MaxHumidity: number(80)}, air: humid(60), humidity: number(85), word: "was 85 %; the label"},
		"measured within":                  {limit: catalogue.Label{MaxHumidity: number(80)}, humidity: number(80)},
		"not measured, not known":          {limit: catalogue.Label{MaxHumidity: number(80)}, word: "nobody measured the relative humidity of Open floor, which is not known"},
		"not measured, may be above":       {limit: catalogue.Label{MaxHumidity: number(80)}, air: humid(85), word: "which may be 85 %"},
		"not measured, never above":        {limit: catalogue.Label{MaxHumidity: number(80)}, air: humid(60)},
		"no limit":                         {humidity: number(99)},
		"measured warmer than the label":   {limit: catalogue.Label{MaxCelsius: number(29)}, celsius: number(30), word: "it was 30 °C in Open floor"},
		"measured colder than the label":   {limit: catalogue.Label{MinCelsius: number(10)}, celsius: number(9.5), word: "asks for 10 °C at least"},
		"measured within, season may pass": {limit: catalogue.Label{MaxCelsius: number(15)}, celsius: number(14)},
	} {
		w := firmtest.Open(t)
		storetest.Change(t, w.Database, "area", "offices-floor", func(a *site.Area) { a.Humidity = c.air })
		soapLabel(t, w, func(l *catalogue.Label) {
			l.MaxHumidity, l.MaxCelsius, l.MinCelsius = c.limit.MaxHumidity, c.limit.MaxCelsius, c.limit.MinCelsius
		})
		w.MoveClock(t, "2026-03-07 09:00")
		r := w.Spray(t, "r", 1, "2026-03-03 20:00")
		r.Items[0].Application.HumidityPercent, r.Items[0].Application.Celsius = c.humidity, c.celsius
		told := w.Report(t, r)
		texts := of(told, scheduler.RuleLabel)
		if flagged := len(texts) == 1 && c.word != "" && strings.Contains(texts[0], c.word); !flagged && (c.word != "" || len(texts) > 0) {
			t.Errorf("%s: deviations %q, want %q", name, texts, c.word)
		}
		if asked := casework.Readings(site.Site{Areas: []site.Area{{ID: "a", Name: "Hall", Humidity: c.air}}}, "a", civil.NewDate(2026, 3, 3), catalogue.Product{Label: c.limit}); c.limit.MaxHumidity != nil {
			mayPass := c.air == nil || c.air.Greatest > *c.limit.MaxHumidity
			if got := slices.ContainsFunc(asked, func(s string) bool { return strings.HasPrefix(s, "the relative humidity of Hall") }); got != mayPass {
				t.Errorf("%s: %q are to be measured, want the humidity %v", name, asked, mayPass)
			}
		}
	}
}
