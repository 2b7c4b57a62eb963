package civil_test

import (
	"flag"
	"os"
	"testing"

	"vernation/scheduler/civil"
)

// TestMain runs every property 200 times; -rapid.checks says otherwise.
func TestMain(m *testing.M) {
	if err := flag.Set("rapid.checks", "200"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

func mustZone(t testing.TB, name string) civil.Zone {
	t.Helper()
	zone, err := civil.LoadZone(name)
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

func mustInstant(t testing.TB, text string) civil.Instant {
	t.Helper()
	instant, err := civil.ParseInstant(text)
	if err != nil {
		t.Fatal(err)
	}
	return instant
}

func mustDate(t testing.TB, text string) civil.Date {
	t.Helper()
	date, err := civil.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return date
}

func mustClock(t testing.TB, text string) civil.Clock {
	t.Helper()
	clock, err := civil.ParseClock(text)
	if err != nil {
		t.Fatal(err)
	}
	return clock
}

func window(t testing.TB, opens, closes string) civil.Window {
	t.Helper()
	return civil.Window{Opens: mustClock(t, opens), Closes: mustClock(t, closes)}
}

// spanOf reads "2026-03-08T01:00:00Z/2026-03-08T12:00:00Z".
func spanOf(t testing.TB, from, to string) civil.Interval {
	t.Helper()
	return civil.Interval{From: mustInstant(t, from), To: mustInstant(t, to)}
}
