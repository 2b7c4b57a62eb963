package main

import (
	"bytes"
	"context"
	"encoding/json"
	goflag "flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"vernation/server/servertest"
)

var update = goflag.Bool("update", false, "write the golden files anew")

// server is one for all tests; its clock stands at noon of Monday 2 March 2026, or later where the story moved it.
var server *servertest.Server

// tokens are those of the callers.
var tokens = map[string]string{}

func TestMain(m *testing.M) { os.Exit(tests(m)) }

func tests(m *testing.M) int {
	goflag.Parse()
	folder, err := os.MkdirTemp("", "vernation-cli-")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(folder)
	os.Setenv("VERNATION_CONFIG", filepath.Join(folder, "profiles.yaml"))
	if server, err = servertest.Open(context.Background()); err != nil {
		panic(err)
	}
	defer func() {
		if err := server.Close(); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
	}()
	for who, token := range map[string]func() (string, error){
		"office": server.OfficeToken, "integration": server.IntegrationToken,
		"technician": func() (string, error) { return server.TechnicianToken("tech-a", true) },
	} {
		if tokens[who], err = token(); err != nil {
			panic(err)
		}
	}
	return m.Run()
}

// ended is what came of a command.
type ended struct {
	code     int
	out, err string
}

// vernation runs a command as the caller that its first word names, as on a terminal that shows no colours.
func vernation(t testing.TB, args ...string) ended {
	t.Helper()
	return as(t, tokens[args[0]], args...)
}

// as runs a command with a token.
func as(t testing.TB, token string, args ...string) ended {
	t.Helper()
	var out, errOut bytes.Buffer
	s := &surroundings{ctx: t.Context(), out: &out, errOut: &errOut, now: func() time.Time { return servertest.Noon }}
	code := run(s, append([]string{"--server", server.Target(), "--token", token}, args...))
	return ended{code, out.String(), errOut.String()}
}

// done runs a command that must succeed and returns what it prints.
func done(t testing.TB, args ...string) string {
	t.Helper()
	got := vernation(t, args...)
	if got.code != exitDone {
		t.Fatalf("vernation %s: code %d\n%s%s", strings.Join(args, " "), got.code, got.out, got.err)
	}
	return got.out
}

// read runs a command that must succeed and reads the JSON that it prints.
func read(t testing.TB, args ...string) map[string]any {
	t.Helper()
	var answer map[string]any
	if err := json.Unmarshal([]byte(done(t, append(args, "--output", "json")...)), &answer); err != nil {
		t.Fatal(err)
	}
	return answer
}

// golden compares a text with the file of that name.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name+".txt")
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s: run the test with -update and read the difference; got\n%s", path, got)
	}
}

// story is what the tests of daily commands act upon, done by commands too: mealybugs are found, approved, planned and
// published.
type story struct {
	prints map[string]string // what daily commands print at its end, by golden file; later tests change what they would
}

var told = sync.OnceValue(func() func(t *testing.T) story {
	var once sync.Once
	var s story
	return func(t *testing.T) story {
		t.Helper()
		once.Do(func() { s = tell(t) })
		if s.prints == nil {
			t.Fatal("the story failed in another test")
		}
		return s
	}
})()

func tell(t *testing.T) (s story) {
	t.Helper()
	done(t, "office", "finding", "create", "--finding-id", "mealybugs", "--pest", "citrus-mealybug", "--certainty", "confirmed", "--life", "living",
		"--severity", "2", "--plants", "pothos-stairs", "--plants", "pothos-printer")
	awaited := done(t, "office", "case", "list-awaited-approvals")
	course := read(t, "technician", "case", "get-course", "mealybugs")
	done(t, "technician", "case", "approve-course", "mealybugs", "--etag", course["etag"].(string), "--product", "soap", "--way-kinds", "in-place")
	planned := done(t, "office", "plan", "create", "--days", "5", "--max-iterations", "80", "--seed", "1", "--wait", "--request-id", "0191e1c2-7c1f-7b53-9c55-2f7ad1a0c3f4")
	plans := read(t, "office", "plan", "list")["plans"].([]any)
	name := id(plans[0].(map[string]any)["name"].(string))
	plan := read(t, "office", "plan", "get", name)
	done(t, "office", "plan", "publish", name, "--etag", plan["etag"].(string))
	return story{map[string]string{
		"awaited":   awaited,
		"plan":      planned,
		"plans":     done(t, "office", "plan", "list"),
		"runs":      done(t, "office", "plan", "list-plan-runs"),
		"cases":     done(t, "office", "case", "list"),
		"case":      done(t, "office", "case", "get", "mealybugs"),
		"course":    done(t, "office", "case", "get-course", "mealybugs"),
		"findings":  done(t, "office", "finding", "list"),
		"visits":    done(t, "office", "visit", "list"),
		"day_route": done(t, "technician", "day-route", "get", "2026-03-03"),
		"openings":  done(t, "office", "plan", "find-openings", "--item", "mealybugs/application/1/2", "--max-openings", "3"),
		"sites":     done(t, "office", "site", "list"),
		"plants":    done(t, "office", "plant", "list", "--filter", `area = "businesses/demo-rounds/sites/clinic-fern-lane/areas/clinic-corridor"`),
		"check":     done(t, "technician", "technician", "check-application", "--product", "soap", "--plants", "pothos-stairs", "--takes", "30m"),
	}}
}

func TestStory_IsPrintedForPeople(t *testing.T) {
	for name, text := range told(t).prints {
		golden(t, name, text)
	}
}
