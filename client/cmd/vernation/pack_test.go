package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"vernation/server/servertest"
)

// away runs a command of the pack as where nothing can be reached, on the evening of the day route.
func away(t *testing.T, at time.Time, args ...string) ended {
	t.Helper()
	var out, errOut bytes.Buffer
	s := &surroundings{ctx: t.Context(), out: &out, errOut: &errOut, now: func() time.Time { return at }}
	code := run(s, append([]string{"--server", "unix:/nowhere", "--timeout", "50ms", "--zone", servertest.Zone, "technician", "pack"}, args...))
	return ended{code, out.String(), errOut.String()}
}

// A technician takes the day along as one file, works where there is no network, and posts it later, once.
func TestPack_CarriesTheDayWithoutNetwork(t *testing.T) {
	told(t)
	file := filepath.Join(t.TempDir(), "tuesday.pack")
	evening := time.Date(2026, time.March, 3, 19, 35, 0, 0, location(t))
	if got := done(t, "technician", "pack", "take", file); !strings.Contains(got, "1 day route with 2 visits") {
		t.Errorf("take says %q", got)
	}
	visits := read(t, "office", "visit", "list")["visits"].([]any)
	clinic, offices := id(visits[0].(map[string]any)["name"].(string)), id(visits[1].(map[string]any)["name"].(string))
	for _, step := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"may-apply", file, "--product", "soap", "--plants", "pothos-stairs"}, exitDone, "Without network: as it was known at 2026-03-02 12:00 EST"},
		{[]string{"may-apply", file, "--product", "soap", "--plants", "no-such-plant"}, exitUsage, "want plants of one of its sites"},
		{[]string{"may-apply", file, "--product", "no-such-product", "--plants", "pothos-stairs"}, exitUsage, "no-such-product"},
		{[]string{"leave", file, offices}, exitUsage, "pack arrive"},
		{[]string{"arrive", file, "no-such-visit"}, exitUsage, offices},
		{[]string{"arrive", file, offices, "--at", "2026-03-03 18:51"}, exitDone, ""},
		{[]string{"tick", file, offices, "mealybugs/inspect-neighbours/1/1", "--severity", "0"}, exitDone, ""},
		{[]string{"tick", file, offices, "mealybugs/inspect-infested/1/1", "--found", "pothos-stairs", "--severity", "2"}, exitDone, ""},
		{[]string{"tick", file, offices, "no/such-item/1/1"}, exitUsage, "mealybugs/application/1/1"},
		{[]string{"tick", file, offices, "mealybugs/application/1/1", "--product", "soap"}, exitUsage, "--applied"},
		{[]string{"tick", file, offices, "mealybugs/application/1/1", "--outcome", "nearly"}, exitUsage, "want one of done,"},
		{[]string{"tick", file, offices, "mealybugs/application/1/1", "--began", "2026-03-03 19:30", "--ended", "2026-03-03 20:01", "--product", "soap",
			"--vessel", "sprayer", "--concentrate", "0.625 US fl oz", "--volume", "32 US fl oz", "--applied", "20 US fl oz", "--left", "12 US fl oz", "--left-went", "taken-home"}, exitDone, ""},
		{[]string{"find", file, offices, "--pest", "fungus-gnat", "--plants", "fig-window", "--certainty", "suspected", "--life", "living"}, exitDone, ""},
		{[]string{"leave", file, offices, "--at", "2026-03-03 20:07"}, exitDone, ""},
		{[]string{"arrive", file, clinic, "--at", "2026-03-03 18:24"}, exitDone, ""},
		{[]string{"apply", file, clinic, "--case", "mealybugs", "--plants", "pothos-stairs", "--began", "2026-03-03 18:30"}, exitUsage, "--product and --applied"},
		{[]string{"post", file}, exitAway, "/nowhere"},
	} {
		got := away(t, evening, step.args...)
		if got.code != step.code || !strings.Contains(strings.Join(strings.Fields(got.out+got.err), " "), step.says) {
			t.Fatalf("pack %q: code %d, %q%q; want code %d and %q", step.args, got.code, got.out, got.err, step.code, step.says)
		}
	}
	shown := away(t, evening, "show", file, "--on", "2026-03-03").out
	if !strings.Contains(shown, "[x] 19:30-20:02 application") || !strings.Contains(shown, "[ ] 18:30-18:38 watering") {
		t.Errorf("show prints\n%s", shown)
	}
	golden(t, "pack", shown)
	server.SetClock(evening.Add(time.Hour)) // back at the base
	posted := done(t, "technician", "pack", "post", file)
	if !strings.Contains(posted, offices+": posted as ") || !strings.Contains(posted, clinic+": not posted, it is still going on") {
		t.Errorf("post says %q", posted)
	}
	if again := done(t, "technician", "pack", "post", file); strings.Contains(again, ": posted as") {
		t.Errorf("posted again it says %q", again)
	}
	records := read(t, "integration", "record", "list-application-records")["applicationRecords"].([]any)
	if len(records) != 1 || records[0].(map[string]any)["applied"] == "" {
		t.Errorf("the records are %v: want the one application", records)
	}
	if got := vernation(t, "technician", "pack", "take", file); got.code != exitUsage || !strings.Contains(got.err, "not posted") {
		t.Errorf("taking over reports that are not posted: code %d, %s", got.code, got.err)
	}
}

// Every line of a technician's day fits a terminal of 80 columns.
func TestDayRoute_FitsEightyColumns(t *testing.T) {
	told(t)
	for _, line := range strings.Split(done(t, "technician", "day-route", "get", "2026-03-03"), "\n") {
		if utf8.RuneCountInString(line) > 80 {
			t.Errorf("%d columns: %s", utf8.RuneCountInString(line), line)
		}
	}
}

// The file of a day pack is its owner's alone, and holds nothing that opens a site unless that was asked for.
func TestPack_HoldsNoSecretsUnlessAsked(t *testing.T) {
	told(t)
	done(t, "office", "access-secrets", "update", "offices-alder-row", "--key-place", "Behind the third brick")
	server.SetClock(time.Date(2026, time.March, 3, 17, 0, 0, 0, location(t)))
	for output, want := range map[string]bool{"table": true, "csv": false} {
		if got := strings.Contains(done(t, "technician", "day-route", "get", "2026-03-03", "--output", output), "third brick"); got != want {
			t.Errorf("the day route as %s has the secrets: %t, want %t", output, got, want)
		}
	}
	for args, want := range map[string]bool{"": false, "--with-secrets": true} {
		file := filepath.Join(t.TempDir(), "tuesday.pack")
		done(t, append([]string{"technician", "pack", "take", file}, strings.Fields(args)...)...)
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if got := bytes.Contains(text, []byte("third brick")); got != want {
			t.Errorf("take %s: the secrets are in it: %t, want %t", args, got, want)
		}
		if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("the file has mode %v, %v: want it for its owner alone", info.Mode(), err)
		}
	}
}

func location(t *testing.T) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation(servertest.Zone)
	if err != nil {
		t.Fatal(err)
	}
	return zone
}
