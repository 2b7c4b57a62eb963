package main_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// workplace makes a folder for the temporary files of one run; the path is short enough for a unix socket, and the
// account that PostgreSQL runs as can pass through.
func workplace(t *testing.T) string {
	t.Helper()
	folder, err := os.MkdirTemp("", "v-")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(folder, 0o711); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(folder) })
	return folder
}

// processes lists the command lines of running processes that name a text; "" where there is no /proc.
func processes(t *testing.T, text string) (found []string) {
	t.Helper()
	files, err := filepath.Glob("/proc/[0-9]*/cmdline")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		line, err := os.ReadFile(file)
		if err == nil && bytes.Contains(line, []byte(text)) { // a process may end meanwhile
			found = append(found, strings.ReplaceAll(string(line), "\x00", " "))
		}
	}
	return found
}

// The README's first command, twice at the same time: it ends well, says the same, and leaves nothing behind.
func TestDemo_TellsTheWholeJobTheSameEachTime(t *testing.T) {
	t.Parallel()
	var outputs [2]string
	var told sync.WaitGroup
	for i := range outputs {
		folder := workplace(t)
		cmd, out, log := command(t, "demo", "--exit")
		cmd.Env = append(cmd.Env, "TMPDIR="+folder)
		told.Go(func() {
			began := time.Now()
			if err := cmd.Run(); err != nil {
				t.Errorf("the demo ended with %v\n%s", err, log)
			}
			t.Logf("it took %v", time.Since(began))
			outputs[i] = out.String()
			if left, err := os.ReadDir(folder); err != nil || len(left) != 0 {
				t.Errorf("the demo leaves %v behind, %v", left, err)
			}
			if left := processes(t, folder); len(left) != 0 {
				t.Errorf("processes go on after the demo: %q", left)
			}
		})
	}
	told.Wait()
	if outputs[0] != outputs[1] {
		t.Errorf("the demo says first\n%s\nand then\n%s", outputs[0], outputs[1])
	}
	said := strings.Join(strings.Fields(outputs[0]), " ") // whatever the line breaks
	for _, want := range []string{
		// the office
		"citrus mealybug, severity 2", "opens case mealybugs-alder-row", "opens case gnats-reading-room",
		"7 applications every 7 days, the last on day 42", "it holds the fungus gnat down", "Spared: egg.", "none is left with a chance of",
		// the responsible applicator
		"Approved for case mealybugs-alder-row", "and refused (FailedPrecondition): Rubbing alcohol", "a household remedy",
		// the plan
		"eaves the base", "ride on a visit", "Shut: Offices, 4 Alder Row, Open floor: nobody in from", "Cost ", "people are always in Lobby", "Published: these visits are real now.",
		// the technician
		"the technician pulls tomorrow", "Sign in at the porter's desk", "Mix sheet 1:", "Measure 5/8 US fl oz of Soap concentrate of the demo",
		"nobody enters from", "The label in hand, local codes and the responsible applicator outrank this day route.",
		// the integration
		"The same report again", "people were present", "out of order", "Deviation, rule label", "2.000 times the label's greatest rate",
		// the office again
		"the approval is to be given again", "a new plan follows", "plan before", "has ended clear", "chance that it is free",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("the demo does not say %q", want)
		}
	}
	for _, claim := range []string{"harmless", "non-toxic", "safe for"} {
		if strings.Contains(strings.ToLower(said), claim) {
			t.Errorf("the demo claims %q", claim)
		}
	}
}

// However the demo ends, its database ends with it.
func TestDemo_KilledItTakesItsDatabaseWithIt(t *testing.T) {
	t.Parallel()
	if _, err := os.Stat("/proc/self/cmdline"); err != nil {
		t.Skip("this machine does not list its processes in /proc")
	}
	folder := workplace(t)
	cmd, _, _ := command(t, "demo")
	cmd.Env = append(cmd.Env, "TMPDIR="+folder)
	told := &lines{}
	cmd.Stdout = told
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = cmd.Process.Kill() // it may have ended
		_ = cmd.Wait()         // killed
	}()
	wait(t, time.Minute, "the demo does not begin", func() bool { return told.count() > 5 })
	if len(processes(t, folder)) == 0 {
		t.Fatal("no process of the demo's database is found while it runs")
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	wait(t, 10*time.Second, "the database goes on after its parent was killed", func() bool { return len(processes(t, folder)) == 0 })
}

// wait looks until something holds, and fails when it takes longer than it may.
func wait(t *testing.T, within time.Duration, complaint string, holds func() bool) {
	t.Helper()
	for deadline := time.Now().Add(within); !holds(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal(complaint)
		}
	}
}

// lines counts the lines that a running process writes.
type lines struct {
	mu sync.Mutex
	n  int
}

// Write counts.
func (l *lines) Write(text []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.n += bytes.Count(text, []byte("\n"))
	return len(text), nil
}

func (l *lines) count() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.n
}
