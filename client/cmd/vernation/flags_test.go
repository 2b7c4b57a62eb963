package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/servertest"
)

// Errors are one sentence with the flag and what would be right, and the code says of which kind they are.
func TestErrors_NameTheFlagAndWhatWouldBeRight(t *testing.T) {
	told(t)
	for _, c := range []struct {
		args string
		code int
		says []string
	}{
		{"office plan create --days 99", exitFields, []string{"--days: ", "56"}},
		{"office plan create --days many", exitUsage, []string{`--days: "many": want a number`}},
		{"office plan create --days 3 --time-limit soon", exitUsage, []string{"--time-limit: ", "want a duration such as 90m"}},
		{"office finding create --certainty sure", exitUsage, []string{`--certainty: "sure": want one of confirmed, suspected, client-call`}},
		{"office finding create --pest citrus-mealybug --certainty confirmed --life dead --plants pothos-stairs --seen-time noon", exitUsage, []string{"--seen-time: ", "want an instant such as"}},
		{"office finding create --pest citrus-mealybug --certainty confirmed --life dead --plants pothos-stairs --seen-time 2026-03-02T09:00", exitUsage, []string{"of no zone", "--zone"}},
		{"office site get nowhere", exitNotFound, []string{`"nowhere"`}},
		{"office site get a/b/c", exitFields, []string{"<site>: want a name of the form businesses/{business}/sites/{site}"}},
		{"office site update offices-alder-row --display-name X --etag W/\"77\"", exitStale, []string{"changed"}},
		{"office site create --site-id offices-alder-row --request missing.yaml", exitUsage, []string{"missing.yaml"}},
		{"office replan", exitUsage, []string{"replan"}},
		{"technician day-route get tech-b/2026-03-03", exitNoRight, []string{"tech-a"}},
		{"technician day-route get 2026-03-04", exitNotFound, []string{"Wed 4 Mar"}},
		{"integration plan publish x", exitUsage, []string{"publish"}},
		{"office plan replan --days 3 --absent-technicians technician=tech-a,whence=now", exitUsage, []string{"whence=now", "technician"}},
		{"office case list --output xml", exitUsage, []string{"--output", "csv"}},
		{"office case list --zone Nowhere/None", exitUsage, []string{"--zone", "America/New_York"}},
		{"office case list --profile nobody", exitUsage, []string{`no profile "nobody"`, "profile write nobody"}},
		{"office case list --server unix:/nowhere/at/all --timeout 100ms", exitAway, []string{"/nowhere/at/all"}},
	} {
		got := vernation(t, strings.Fields(c.args)...)
		if got.code != c.code {
			t.Errorf("%s: code %d, want %d: %s", c.args, got.code, c.code, got.err)
		}
		for _, want := range c.says {
			if !strings.Contains(got.err, want) {
				t.Errorf("%s says %q, want %q in it", c.args, got.err, want)
			}
		}
	}
}

// A change says only what was given as flags, and --dry-run leaves everything as it was.
func TestUpdate_ChangesWhatTheFlagsNameAndNothingElse(t *testing.T) {
	before := read(t, "office", "site", "get", "bistro-canal-steps")
	if done(t, "office", "site", "update", "bistro-canal-steps", "--access-notes", "By the canal.", "--dry-run"); read(t, "office", "site", "get", "bistro-canal-steps")["etag"] != before["etag"] {
		t.Error("--dry-run changed the site")
	}
	done(t, "office", "site", "update", "bistro-canal-steps", "--access-notes", "By the canal.", "--sign-in", "4m", "--etag", before["etag"].(string))
	after := read(t, "office", "site", "get", "bistro-canal-steps")
	if after["accessNotes"] != "By the canal." || after["signIn"] != "240s" || after["displayName"] != before["displayName"] || after["clientId"] != before["clientId"] {
		t.Errorf("the site is now %v", after)
	}
}

// A request may come from a file in JSON or YAML; flags come before it; clock times are read in the zone.
func TestRequest_ComesFromAFileAndFlags(t *testing.T) {
	file := filepath.Join(t.TempDir(), "finding.yaml")
	text := "findingId: scale-in-file\nfinding:\n  pest: citrus-mealybug\n  certainty: CERTAINTY_SUSPECTED\n  life: LIFE_NOT_SURE\n  severity: 3\n  plants: [businesses/demo-rounds/plants/fig-window]\n"
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	got := read(t, "office", "finding", "create", "--request", file, "--severity", "1", "--seen-time", "2026-03-02 09:30", "--zone", servertest.Zone)
	if got["severity"] != float64(1) || got["certainty"] != "CERTAINTY_SUSPECTED" || got["seenTime"] != "2026-03-02T14:30:00Z" {
		t.Errorf("the finding is %v", got)
	}
	// Messages within a request are pairs, JSON or a file.
	run := read(t, "office", "plan", "replan", "--days", "2", "--max-iterations", "10",
		"--absent-technicians", "technician=tech-b,from=2026-03-02T18:00:00-05:00,until=2026-03-03T18:00:00-05:00",
		"--shut-sites", `{"site":"businesses/demo-rounds/sites/shop-market-arcade","from":"2026-03-02T18:00:00Z","until":"2026-03-03T18:00:00Z"}`)
	if absent := run["absentTechnicians"].([]any); absent[0].(map[string]any)["technician"] != "businesses/demo-rounds/technicians/tech-b" || len(run["shutSites"].([]any)) != 1 {
		t.Errorf("the run is %v", run)
	}
}

// A list is whole, however many pages it has, unless a page is asked for.
func TestList_GoesOverAllPages(t *testing.T) {
	all := read(t, "office", "plant", "list")
	if n := len(all["plants"].([]any)); n <= 50 || all["nextPageToken"] != nil {
		t.Errorf("%d plants and token %v: want all of them, more than one page", n, all["nextPageToken"])
	}
	page := read(t, "office", "plant", "list", "--page-size", "7")
	if n := len(page["plants"].([]any)); n != 7 || page["nextPageToken"] == nil {
		t.Errorf("%d plants and token %v: want a page of 7", n, page["nextPageToken"])
	}
	if got := done(t, "office", "plant", "list", "--filter", `display_name:"nothing of the kind"`); got != "none\n" {
		t.Errorf("an empty list prints %q", got)
	}
}

// What is kept under a name is used until a flag says otherwise; a token is never kept.
func TestProfile_IsUsedWhereFlagsAreSilent(t *testing.T) {
	folder := t.TempDir()
	token := filepath.Join(folder, "token")
	if err := os.WriteFile(token, []byte(tokens["office"]+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	kept := filepath.Join(folder, "kept", "profiles.yaml")
	call := func(args ...string) ended {
		var out, errOut bytes.Buffer
		s := &surroundings{ctx: t.Context(), out: &out, errOut: &errOut, now: time.Now}
		code := run(s, append([]string{"--config", kept}, args...))
		return ended{code, out.String(), errOut.String()}
	}
	for _, step := range []struct {
		args string
		code int
		says string
	}{
		{"profile list", exitDone, "PROFILE"},
		{"profile write desk --token abc", exitUsage, "keeps no token"},
		{"profile write desk --server " + server.Target() + " --token-file " + token + " --zone " + servertest.Zone, exitDone, ""},
		{"profile write other --server 127.0.0.1:1", exitDone, ""},
		{"profile use nobody", exitUsage, "want one of desk, other"},
		{"profile use desk", exitDone, ""},
		{"profile list", exitDone, "*  desk"},
		{"office site get offices-alder-row", exitDone, "Offices, 4 Alder Row"},
		{"office site get offices-alder-row --profile other --timeout 200ms", exitAway, "127.0.0.1:1"},
		{"profile remove other", exitDone, ""},
		{"profile remove other", exitUsage, "no profile"},
	} {
		got := call(strings.Fields(step.args)...)
		if got.code != step.code || !strings.Contains(got.out+got.err, step.says) {
			t.Errorf("%s: code %d, %q%q; want code %d and %q", step.args, got.code, got.out, got.err, step.code, step.says)
		}
	}
	info, err := os.Stat(kept)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the profiles have mode %v, %v: want them for their owner alone", info.Mode(), err)
	}
}

func TestCompletion_OffersWhatMayComeNext(t *testing.T) {
	for _, c := range []struct{ words, want string }{
		{"", "office technician integration profile completion"},
		{"off", "office"},
		{"office ca", "case"},
		{"office case approve", "approve-course"},
		{"technician pack may", "may-apply"},
		{"office case approve-course --way", "--way-kinds"},
		{"office case nonsense --zo", "--zone"},
	} {
		args := append([]string{"complete", "--"}, strings.Split(c.words, " ")...)
		if got := strings.Join(strings.Fields(done(t, args...)), " "); got != c.want {
			t.Errorf("after %q: %q, want %q", c.words, got, c.want)
		}
	}
	for _, shell := range []string{"bash", "zsh", "fish"} {
		if got := done(t, "completion", shell); !strings.Contains(got, "vernation complete --") {
			t.Errorf("%s: %q", shell, got)
		}
	}
}

// A terminal sees how far the plan is, with cost and bound; a file gets the end alone.
func TestProgress_ShowsCostAndBound(t *testing.T) {
	run := &vernationv1.PlanRun{
		State: vernationv1.PlanRunState_PLAN_RUN_STATE_RUNNING, Iteration: 500, MaxIterations: 1000,
		Best: &vernationv1.Cost{TotalMinor: 123456}, BoundMinor: 100000,
	}
	for terminal, want := range map[bool]string{
		true:  "\r\x1b[K[############............] running, 500 rounds, cost 1234.56, none below 1000.00\n",
		false: "plan run: running, 500 rounds, cost 1234.56, none below 1000.00\n",
	} {
		var out bytes.Buffer
		bar := &progress{out: &out, terminal: terminal, now: time.Now}
		bar.show(run)
		bar.end()
		if out.String() != want {
			t.Errorf("on a terminal %t: %q, want %q", terminal, out.String(), want)
		}
	}
}

// Colours are for terminals, or where they are asked for.
func TestColour_IsForTerminals(t *testing.T) {
	if got := done(t, "office", "site", "list"); strings.Contains(got, "\x1b") {
		t.Errorf("a file gets colours: %q", got)
	}
	if got := done(t, "office", "site", "list", "--colour", "always"); !strings.HasPrefix(got, bold) {
		t.Errorf("no colours where they are asked for: %q", got)
	}
}

// Who stops waiting is told that the run goes on, and how to end it.
func TestWait_SaysThatTheRunGoesOn(t *testing.T) {
	got := vernation(t, "office", "plan", "create", "--days", "2", "--time-limit", "20s", "--max-iterations", "10000000", "--wait", "--timeout", "300ms")
	_, rest, ok := strings.Cut(got.err, "`vernation ")
	command, _, closed := strings.Cut(rest, "`")
	if got.code != exitAway || !ok || !closed {
		t.Fatalf("code %d, %s: want how to end the run", got.code, got.err)
	}
	done(t, strings.Fields(command)...)
}
