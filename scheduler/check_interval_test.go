package scheduler_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/civil"
)

// The checker reads intervals and calendars by itself. Two independent readings of one rule must agree: these
// properties hold them against civil's, in zones with and without daylight saving, the southern half and half hours too.

var zoneNames = []string{"America/New_York", "Europe/London", "Australia/Lord_Howe", "Asia/Kolkata", "UTC"}

func drawCalendar(t *rapid.T) civil.Calendar {
	var c civil.Calendar
	for range rapid.IntRange(0, 3).Draw(t, "weekly") {
		var days []civil.Weekday
		for d := range 7 {
			if rapid.Bool().Draw(t, "day") {
				days = append(days, civil.Weekday(d))
			}
		}
		c.Weekly = append(c.Weekly, civil.Weekly{Days: days, Window: drawWindow(t)})
	}
	for range rapid.IntRange(0, 2).Draw(t, "exceptions") {
		e := civil.Exception{On: march(rapid.IntRange(-2, 40).Draw(t, "on"))}
		for range rapid.IntRange(0, 2).Draw(t, "windows") {
			e.Windows = append(e.Windows, drawWindow(t))
		}
		c.Exceptions = append(c.Exceptions, e)
	}
	return c
}

func drawWindow(t *rapid.T) civil.Window {
	opens := rapid.IntRange(0, 24*60-1).Draw(t, "opens")
	return civil.Window{Opens: civil.NewClock(0, opens), Closes: civil.NewClock(0, rapid.IntRange(opens+1, 48*60).Draw(t, "closes"))}
}

func TestOpenRuns_AgreeWithCivil(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		calendar, zone := drawCalendar(t), mustZone(rapid.SampledFrom(zoneNames).Draw(t, "zone"))
		from := at(1, "00:00").Add(minutes(rapid.IntRange(0, 35*24*60).Draw(t, "from")))
		v := civil.Interval{From: from, To: from.Add(minutes(rapid.IntRange(1, 5*24*60).Draw(t, "length")))}
		var cut []civil.Interval
		for _, run := range scheduler.OpenRunsForTest(calendar, zone, v) {
			run = civil.Interval{From: max(run.From, v.From), To: min(run.To, v.To)}
			if run.From < run.To {
				cut = append(cut, run)
			}
		}
		if want := calendar.Open(zone, v); !slices.Equal(cut, want) {
			t.Fatalf("the checker reads %v, civil %v", cut, want)
		}
	})
}

func TestIntervals_AgreeWithCivil(t *testing.T) {
	t.Parallel()
	drawn := func(t *rapid.T, name string) []civil.Interval {
		return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) civil.Interval {
			return civil.Interval{From: civil.Instant(rapid.IntRange(0, 30).Draw(t, "from")), To: civil.Instant(rapid.IntRange(0, 30).Draw(t, "to"))}
		}), 0, 6).Draw(t, name)
	}
	rapid.Check(t, func(t *rapid.T) {
		runs, v := drawn(t, "runs"), drawn(t, "span")
		joined := scheduler.JoinedForTest(runs)
		if want := civil.Merge(runs); !slices.Equal(joined, want) {
			t.Fatalf("joined %v, merged %v", joined, want)
		}
		for _, s := range civil.Merge(v) {
			if got, want := scheduler.OutsideForTest(s, joined), civil.Subtract([]civil.Interval{s}, joined); !slices.Equal(got, want) {
				t.Fatalf("%v outside %v: %v, subtracted %v", s, joined, got, want)
			}
		}
	})
}
