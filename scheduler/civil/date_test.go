package civil_test

import (
	"encoding/json"
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler/civil"
)

func TestDate_CountsDaysAndKnowsTheWeek(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, date string
		weekday    string
		sinceEpoch int
		source     string
	}{
		{"day after the epoch", "1970-01-02", "fri", 1, "POSIX: 1970-01-01 was a Thursday"},
		{"leap day of a century", "2000-02-29", "tue", 11016, "30*365 + 7 leap days + 31 + 28 = 11016"},
		{"before the epoch", "1969-12-31", "wed", -1, "POSIX"},
		{"clocks go forward", "2026-03-08", "sun", 20520, "second Sunday of March, 15 U.S.C. 260a"},
		{"clocks go back", "2026-11-01", "sun", 20758, "first Sunday of November, 15 U.S.C. 260a"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			d := mustDate(t, tc.date)
			if got := d.Weekday().String(); got != tc.weekday {
				t.Errorf("weekday %s, want %s (%s)", got, tc.weekday, tc.source)
			}
			if int(d) != tc.sinceEpoch {
				t.Errorf("%d days since 1970-01-01, want %d (%s)", d, tc.sinceEpoch, tc.source)
			}
			if d.String() != tc.date {
				t.Errorf("written %q, want %q", d, tc.date)
			}
		})
	}
}

func TestDate_AddDaysUndoesDaysSince(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := civil.Date(rapid.Int32Range(-100_000, 100_000).Draw(t, "a"))
		days := rapid.IntRange(-5000, 5000).Draw(t, "days")
		b := a.AddDays(days)
		if b.DaysSince(a) != days {
			t.Fatalf("%d days after %v lies %d days after it", days, a, b.DaysSince(a))
		}
		if want := (int(a.Weekday()) + days%7 + 7) % 7; int(b.Weekday()) != want {
			t.Fatalf("%d days after a %v is a %v", days, a.Weekday(), b.Weekday())
		}
		year, month, day := a.YearMonthDay()
		if civil.NewDate(year, month, day) != a {
			t.Fatalf("%v from its parts is %v", a, civil.NewDate(year, month, day))
		}
	})
}

func TestNewDate_DaysPastTheEndOfAMonthRunOn(t *testing.T) {
	t.Parallel()
	if got, want := civil.NewDate(2026, time.February, 30), mustDate(t, "2026-03-02"); got != want {
		t.Errorf("30 February 2026 is %v, want %v", got, want)
	}
}

func TestParseDate_RefusesWhatIsNoDay(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"", "2026-02-30", "2026-2-3", "02/03/2026", "2026-13-01", "2026-03-02T00:00:00Z", " 2026-03-02"} {
		if d, err := civil.ParseDate(text); err == nil {
			t.Errorf("%q was read as %v", text, d)
		}
	}
}

func TestParseClock_ReadsWhatItWrites(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := civil.Clock(rapid.Int32Range(0, int32(civil.MaxClock)).Draw(t, "clock"))
		got, err := civil.ParseClock(c.String())
		if err != nil || got != c {
			t.Fatalf("%d seconds, written %q, read as %d, %v", c, c, got, err)
		}
	})
}

func TestParseClock_RefusesWhatIsNoClockTime(t *testing.T) {
	t.Parallel()
	for _, text := range []string{
		"", "7:30", "07:60", "07:30:60", "48:00:01", "49:00", "-1:30", "+7:30", " 7:30", "07: 3", "07:3a", "07-30",
		"07:30:", "07:30:1", "0a:30", "07:30:15 ", "0７:30",
	} {
		if c, err := civil.ParseClock(text); err == nil {
			t.Errorf("%q was read as %v", text, c)
		}
	}
}

func TestText_RoundTripsThroughJSON(t *testing.T) {
	t.Parallel()
	type all struct {
		Date     civil.Date     `json:"date"`
		Unset    civil.Date     `json:"unset"`
		Never    civil.Instant  `json:"never"`
		Instant  civil.Instant  `json:"instant"`
		Zone     civil.Zone     `json:"zone"`
		Calendar civil.Calendar `json:"calendar"`
	}
	in := all{
		Date: mustDate(t, "2026-03-08"), Instant: mustInstant(t, "2026-03-08T06:28:00Z"), Zone: mustZone(t, "America/New_York"),
		Calendar: civil.Calendar{
			Weekly:     []civil.Weekly{{Days: []civil.Weekday{6}, Window: window(t, "20:00", "32:00")}},
			Exceptions: []civil.Exception{{On: mustDate(t, "2026-03-09")}},
		},
	}
	text, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	const want = `{"date":"2026-03-08","unset":"","never":"","instant":"2026-03-08T06:28:00Z","zone":"America/New_York",` +
		`"calendar":{"weekly":[{"days":["sat"],"opens":"20:00","closes":"32:00"}],"exceptions":[{"on":"2026-03-09"}]}}`
	if string(text) != want {
		t.Errorf("written\n%s\nwant\n%s", text, want)
	}
	var out all
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	again, err := json.Marshal(out)
	if err != nil || string(again) != want {
		t.Errorf("read and written again\n%s, %v", again, err)
	}
	if !out.Zone.Equal(in.Zone) || out.Instant != in.Instant || !out.Unset.IsZero() || !out.Never.IsZero() {
		t.Errorf("read %+v, want %+v", out, in)
	}
}

func TestUnmarshalText_NamesWhatWouldBeRight(t *testing.T) {
	t.Parallel()
	for _, text := range []string{
		`{"date":"yesterday"}`, `{"instant":"2026-03-08"}`, `{"zone":"America/Nowhere"}`, `{"zone":"Local"}`, `{"zone":""}`,
		`{"weekday":"monday"}`, `{"clock":"7"}`,
	} {
		var into struct {
			Date    civil.Date
			Instant civil.Instant
			Zone    civil.Zone
			Weekday civil.Weekday
			Clock   civil.Clock
		}
		if err := json.Unmarshal([]byte(text), &into); err == nil {
			t.Errorf("%s was read as %+v", text, into)
		}
	}
}
