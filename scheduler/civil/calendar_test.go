package civil_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler/civil"
)

// The changes of clocks in New York in 2026: 8 March at 2:00 (EST = UTC-5) to 3:00 (EDT = UTC-4), and
// 1 November at 2:00 (EDT) back to 1:00 (EST): 15 U.S.C. 260a, IANA time zone database.
func TestRuns_OverChangesOfClocks(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, zone, date, opens, closes string
		want                            [][2]string // instants
		hours                           float64
	}{
		{
			"night that loses an hour", "America/New_York", "2026-03-07", "20:00", "32:00",
			// 20:00 EST = 01:00Z, 08:00 EDT = 12:00Z: 11 hours of the 12 on the dial
			[][2]string{{"2026-03-08T01:00:00Z", "2026-03-08T12:00:00Z"}}, 11,
		},
		{
			"night that gains an hour", "America/New_York", "2026-10-31", "20:00", "32:00",
			// 20:00 EDT = 00:00Z, 08:00 EST = 13:00Z
			[][2]string{{"2026-11-01T00:00:00Z", "2026-11-01T13:00:00Z"}}, 13,
		},
		{
			"night of another week", "America/New_York", "2026-03-14", "20:00", "32:00",
			// both in EDT: 00:00Z to 12:00Z
			[][2]string{{"2026-03-15T00:00:00Z", "2026-03-15T12:00:00Z"}}, 12,
		},
		{"window in the skipped hour", "America/New_York", "2026-03-08", "02:00", "03:00", nil, 0},
		{
			"window that reaches into the skipped hour", "America/New_York", "2026-03-08", "01:30", "02:30",
			// 01:30 EST = 06:30Z; the hand jumps at 07:00Z
			[][2]string{{"2026-03-08T06:30:00Z", "2026-03-08T07:00:00Z"}}, 0.5,
		},
		{
			"window in the repeated hour is met twice", "America/New_York", "2026-11-01", "01:15", "01:45",
			// 01:15 EDT = 05:15Z and 01:15 EST = 06:15Z
			[][2]string{{"2026-11-01T05:15:00Z", "2026-11-01T05:45:00Z"}, {"2026-11-01T06:15:00Z", "2026-11-01T06:45:00Z"}}, 1,
		},
		{
			"the whole repeated hour is one run", "America/New_York", "2026-11-01", "01:00", "02:00",
			[][2]string{{"2026-11-01T05:00:00Z", "2026-11-01T07:00:00Z"}}, 2,
		},
		{
			"London goes forward", "Europe/London", "2026-03-28", "22:00", "30:00",
			// 29 March 01:00 GMT to 02:00 BST (Summer Time Order 2002): 22:00Z to 05:00Z
			[][2]string{{"2026-03-28T22:00:00Z", "2026-03-29T05:00:00Z"}}, 7,
		},
		{"Apia skipped a day", "Pacific/Apia", "2011-12-30", "08:00", "18:00", nil, 0},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			var want []civil.Interval
			for _, w := range tc.want {
				want = append(want, spanOf(t, w[0], w[1]))
			}
			got := mustZone(t, tc.zone).Runs(mustDate(t, tc.date), window(t, tc.opens, tc.closes))
			if !slices.Equal(got, want) {
				t.Errorf("runs %v, want %v", got, want)
			}
			var open time.Duration
			for _, run := range got {
				open += run.Length()
			}
			if open.Hours() != tc.hours {
				t.Errorf("%v hours, want %v", open.Hours(), tc.hours)
			}
		})
	}
}

var zones = []string{
	"America/New_York", "Europe/London", "Australia/Lord_Howe" /* half an hour of summer time */, "Asia/Kathmandu",
	"Pacific/Apia" /* skipped 30 December 2011 */, "UTC",
}

func TestRuns_HoldExactlyTheInstantsWhoseWallClockReadsInside(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		zone, err := civil.LoadZone(rapid.SampledFrom(zones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		// 2011 to 2027, so that every rule above is met.
		d := civil.NewDate(2011, time.January, 1).AddDays(rapid.IntRange(0, 16*365).Draw(t, "day"))
		opens := civil.Clock(rapid.Int32Range(0, 24*3600-1).Draw(t, "opens"))
		w := civil.Window{Opens: opens, Closes: civil.Clock(rapid.Int32Range(int32(opens)+1, int32(civil.MaxClock)).Draw(t, "closes"))}
		runs := zone.Runs(d, w)
		noon := civil.Instant(int64(d)*24*3600 + 12*3600)
		for i := noon.Add(-40 * time.Hour); i < noon.Add(90*time.Hour); i = i.Add(10*time.Minute + 7*time.Second) {
			wall := civil.Clock(zone.DateOf(i).DaysSince(d)*24*3600) + zone.ClockOf(i)
			if inside := wall >= w.Opens && wall < w.Closes; inside != in(runs, i) {
				t.Fatalf("%v in %v at %v: the wall clock reads %v, in the runs %v is %v", w, zone, d, wall, runs, in(runs, i))
			}
		}
	})
}

func TestOpen_IsTheUnionOfTheWindowsClippedToTheSpan(t *testing.T) {
	t.Parallel()
	zone := mustZone(t, "America/New_York")
	office := civil.Calendar{
		Weekly: []civil.Weekly{
			{Days: []civil.Weekday{1, 2, 3, 4, 5}, Window: window(t, "08:00", "18:00")},
			{Days: []civil.Weekday{1, 2, 3, 4, 5}, Window: window(t, "17:30", "19:30")},
			{Days: []civil.Weekday{6}, Window: window(t, "20:00", "32:00")},
		},
		Exceptions: []civil.Exception{
			{On: mustDate(t, "2026-03-09")}, // shut
			{On: mustDate(t, "2026-03-10"), Windows: []civil.Window{window(t, "06:00", "10:00")}},
		},
	}
	// Sat 7 March 21:00 EST to Wed 11 March 09:00 EDT.
	got := office.Open(zone, spanOf(t, "2026-03-08T02:00:00Z", "2026-03-11T13:00:00Z"))
	want := []civil.Interval{
		spanOf(t, "2026-03-08T02:00:00Z", "2026-03-08T12:00:00Z"), // Saturday's night, clipped at its begin
		spanOf(t, "2026-03-10T10:00:00Z", "2026-03-10T14:00:00Z"), // the exception replaces Tuesday
		spanOf(t, "2026-03-11T12:00:00Z", "2026-03-11T13:00:00Z"), // Wednesday, clipped at its end
	}
	if !slices.Equal(got, want) {
		t.Errorf("open %v\nwant %v", got, want)
	}
	// Fri 6 March: staff and cleaners overlap and make one run 08:00 to 19:30 EST.
	got = office.Open(zone, spanOf(t, "2026-03-06T05:00:00Z", "2026-03-07T05:00:00Z"))
	if want := []civil.Interval{spanOf(t, "2026-03-06T13:00:00Z", "2026-03-07T00:30:00Z")}; !slices.Equal(got, want) {
		t.Errorf("open %v\nwant %v", got, want)
	}
}

func TestOpen_AWindowOfTwoDaysStillReachesTheSpan(t *testing.T) {
	t.Parallel()
	zone := mustZone(t, "Europe/London")
	monday := civil.Calendar{Weekly: []civil.Weekly{{Days: []civil.Weekday{1}, Window: window(t, "00:00", "48:00")}}}
	// Tuesday 3 March 2026 23:00 to 24:00, in GMT.
	span := spanOf(t, "2026-03-03T23:00:00Z", "2026-03-04T01:00:00Z")
	if got, want := monday.Open(zone, span), []civil.Interval{spanOf(t, "2026-03-03T23:00:00Z", "2026-03-04T00:00:00Z")}; !slices.Equal(got, want) {
		t.Errorf("open %v, want %v", got, want)
	}
}

func TestOpen_AlwaysAndNever(t *testing.T) {
	t.Parallel()
	zone := mustZone(t, "Europe/London")
	span := spanOf(t, "2026-03-28T00:00:00Z", "2026-03-30T00:00:00Z")
	if got := (civil.Calendar{Always: true}).Open(zone, span); !slices.Equal(got, []civil.Interval{span}) {
		t.Errorf("always open: %v", got)
	}
	if got := (civil.Calendar{}).Open(zone, span); len(got) != 0 {
		t.Errorf("never open: %v", got)
	}
	if got := (civil.Calendar{Always: true}).Open(zone, civil.Interval{From: span.To, To: span.From}); got != nil {
		t.Errorf("open in no time: %v", got)
	}
}

func TestAt_IsTheFirstInstantThatReadsThatTimeOrLater(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ name, zone, date, clock, want string }{
		{"plain", "America/New_York", "2026-03-02", "12:00", "2026-03-02T17:00:00Z"},
		{"skipped: the instant of the change", "America/New_York", "2026-03-08", "02:30", "2026-03-08T07:00:00Z"},
		{"repeated: the first", "America/New_York", "2026-11-01", "01:30", "2026-11-01T05:30:00Z"},
		{"past midnight", "America/New_York", "2026-03-07", "32:00", "2026-03-08T12:00:00Z"},
		{"end of the next day", "Europe/London", "2026-07-01", "48:00", "2026-07-02T23:00:00Z"},
		{"skipped day", "Pacific/Apia", "2011-12-30", "09:00", "2011-12-30T10:00:00Z"}, // 31 December 00:00 at UTC+14
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			if got := mustZone(t, tc.zone).At(mustDate(t, tc.date), mustClock(t, tc.clock)); got.String() != tc.want {
				t.Errorf("%v, want %v", got, tc.want)
			}
		})
	}
}

func TestZone_WritesForPeople(t *testing.T) {
	t.Parallel()
	zone := mustZone(t, "America/New_York")
	at := mustInstant(t, "2026-03-04T00:30:00Z")
	if got := zone.Format(at); got != "Tue 3 Mar 19:30" {
		t.Errorf("written %q", got)
	}
	if got := zone.FormatClock(at); got != "19:30" {
		t.Errorf("written %q", got)
	}
	if got := zone.DateOf(at); got != mustDate(t, "2026-03-03") || got.Short() != "Tue 3 Mar" {
		t.Errorf("the date there is %v, %q", got, got.Short())
	}
	if name := (civil.Zone{}).String(); name != "UTC" {
		t.Errorf("the zero zone is %q", name)
	}
}

func TestLoadZone_RefusesWhatDependsOnTheMachine(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"", "Local", "America/Nowhere", "../etc/passwd"} {
		if zone, err := civil.LoadZone(name); err == nil {
			t.Errorf("%q was loaded as %v", name, zone)
		}
	}
}

func TestFaults_NameEveryEntry(t *testing.T) {
	t.Parallel()
	broken := civil.Calendar{
		Always: true,
		Weekly: []civil.Weekly{
			{Days: []civil.Weekday{1}, Window: window(t, "08:00", "18:00")},
			{Window: window(t, "08:00", "08:00")},
			{Days: []civil.Weekday{7}, Window: civil.Window{Opens: -1, Closes: 10}},
		},
		Exceptions: []civil.Exception{
			{On: mustDate(t, "2026-03-09")},
			{On: mustDate(t, "2026-03-09"), Windows: []civil.Window{{Opens: 0, Closes: civil.MaxClock + 1}}},
			{},
		},
	}
	var entries []string
	for _, fault := range broken.Faults() {
		entries = append(entries, fault.Entry)
		if !strings.HasPrefix(fault.Error(), fault.Entry) {
			t.Errorf("%q does not begin with its entry %q", fault, fault.Entry)
		}
	}
	want := []string{"", "weekly[1]", "weekly[1]", "weekly[2]", "weekly[2]", "exceptions[1]", "exceptions[1]", "exceptions[2]"}
	if !slices.Equal(entries, want) {
		t.Errorf("faults at %q, want %q", entries, want)
	}
	if err := broken.Validate(); err == nil || !strings.Contains(err.Error(), "always") {
		t.Errorf("first fault %v", err)
	}
	if err := (civil.Calendar{Weekly: broken.Weekly[:1]}).Validate(); err != nil {
		t.Errorf("sound calendar refused: %v", err)
	}
}
