package main_test

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler"
	"vernation/scheduler/exchange"
)

var update = flag.Bool("update", false, "rewrite golden files")

const (
	examples = "../../exchange/testdata/"
	problem  = examples + "paper-week.problem.json"
	planned  = examples + "paper-week.plan.json"
)

var command string

// TestMain builds the command once; the tests run it as people do.
func TestMain(m *testing.M) {
	flag.Parse()
	folder, err := os.MkdirTemp("", "plan")
	if err != nil {
		panic(err)
	}
	command = filepath.Join(folder, "plan")
	if text, err := exec.Command("go", "build", "-o", command, ".").CombinedOutput(); err != nil {
		panic(fmt.Sprintf("%v\n%s", err, text))
	}
	code := m.Run()
	os.RemoveAll(folder)
	os.Exit(code)
}

// run runs the command and returns what it says and its exit code.
func run(t *testing.T, stdin string, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	c := exec.CommandContext(t.Context(), command, args...)
	var out, errs bytes.Buffer
	c.Stdin, c.Stdout, c.Stderr = strings.NewReader(stdin), &out, &errs
	var exit *exec.ExitError
	if err := c.Run(); err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return out.String(), errs.String(), c.ProcessState.ExitCode()
}

// golden compares a text that people read with its file.
func golden(t *testing.T, name, text string) {
	t.Helper()
	name = filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), text); diff != "" {
		t.Errorf("%s: run with -update and look at the difference (-want +got)\n%s", name, diff)
	}
}

func file(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func written(t *testing.T, text string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "file.json")
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return name
}

func TestHelp_SaysFlagsFilesAndExitCodes(t *testing.T) {
	t.Parallel()
	stdout, stderr, code := run(t, "", "--help")
	if code != 0 || stderr != "" {
		t.Errorf("--help ends with %d and says %q", code, stderr)
	}
	golden(t, "help.txt", stdout)
}

func TestFormat_PrintsTheDocument(t *testing.T) {
	t.Parallel()
	if stdout, _, code := run(t, "", "--format"); code != 0 || stdout != exchange.Document || stdout == "" {
		t.Errorf("--format ends with %d and prints %d bytes, want FORMAT.md", code, len(stdout))
	}
}

// The plan goes to standard output, what it comes to to standard error; the same seed and iterations give the same plan.
func TestSolve_WritesAPlanThatTheCommandItselfJudgesGood(t *testing.T) {
	t.Parallel()
	first, stderr, code := run(t, "", "--iterations", "50", "--seed", "7", problem)
	if code != 0 || !strings.Contains(stderr, "50 iterations, seed 7, ") || !strings.HasPrefix(stderr, "14 days from Mon 2 Mar: 2 technicians, 3 sites, 5 follow-ups.\n") {
		t.Fatalf("solving ends with %d and says\n%s", code, stderr)
	}
	again, _, _ := run(t, file(t, problem), "--iterations", "50", "--seed", "7", "-")
	elapsed := regexp.MustCompile(`"elapsed": "[^"]*"`)
	if diff := cmp.Diff(elapsed.ReplaceAllString(first, ""), elapsed.ReplaceAllString(again, "")); diff != "" {
		t.Error("two plans of one seed differ:", diff)
	}
	stdout, stderr, code := run(t, "", "--check", problem, written(t, first))
	if code != 0 || stderr != "" || stdout != "The plan keeps the eight rules.\n" {
		t.Errorf("--check ends with %d and says %s%s", code, stdout, stderr)
	}
}

func TestSolve_StopsAtItsTime(t *testing.T) {
	t.Parallel()
	stdout, stderr, code := run(t, "", "--time", "100ms", problem)
	plan, err := exchange.ReadPlan(strings.NewReader(stdout))
	if err != nil || code != 0 || plan.Iterations == 0 {
		t.Errorf("--time 100ms ends with %d after %d iterations (%v): %s", code, plan.Iterations, err, stderr)
	}
}

func TestCheck_NamesEachBreachAndExitsWithOne(t *testing.T) {
	t.Parallel()
	good := file(t, planned)
	for name, change := range map[string][2]string{
		"strong": {`"concentrate": "0.625 US fl oz"`, `"concentrate": "0.75 US fl oz"`},
		"early":  {`"departs": "2026-03-03T23:53:00Z"`, `"departs": "2026-03-03T23:59:00Z"`},
	} {
		broken := strings.Replace(good, change[0], change[1], 1)
		if broken == good {
			t.Fatalf("%s: the example's plan has no %s", name, change[0])
		}
		stdout, stderr, code := run(t, "", "--check", problem, written(t, broken))
		if code != 1 || stderr != "" {
			t.Errorf("%s: --check ends with %d and says %s", name, code, stderr)
		}
		golden(t, "check-"+name+".txt", stdout)
	}
}

// What is pinned and breaks a rule is told, and is no fault of the plan.
func TestCheck_ExitsWithNoughtWhereOnlyFactsBreakARule(t *testing.T) {
	t.Parallel()
	fixed := `"fixed": [{"id": "V", "state": "pinned", "technician": "T2", "site": "home", "arrives": "2026-03-04T15:00:00-05:00", "leaves": "2026-03-04T15:04:00-05:00", "sign_in": "2 min",
		"work": [{"item": "water-home#1", "service": "watering", "area": "living-room", "plants": ["H-a"], "begins": "2026-03-04T15:02:00-05:00", "ends": "2026-03-04T15:03:00-05:00"}]}], "links": [`
	text := strings.Replace(file(t, problem), `"links": [`, fixed, 1)
	name := written(t, text)
	plan, stderr, code := run(t, "", "--iterations", "0", name)
	if code != 0 {
		t.Fatal(stderr)
	}
	stdout, _, code := run(t, "", "--check", name, written(t, plan))
	if code != 0 || !strings.Contains(stdout, "(in what is done or pinned, which no plan changes)") || !strings.HasSuffix(stdout, "The plan keeps the eight rules.\n") {
		t.Errorf("--check ends with %d and says %s", code, stdout)
	}
}

func TestWeek_DrawsTheSameProblemForASeed(t *testing.T) {
	t.Parallel()
	first, _, code := run(t, "", "--week", "tight-mix", "--seed", "3")
	again, _, _ := run(t, "", "--week", "tight-mix", "--seed", "3")
	other, _, _ := run(t, "", "--week", "tight-mix", "--seed", "4")
	if code != 0 || first != again || first == other {
		t.Errorf("--week ends with %d, twice the same: %v, for another seed the same: %v", code, first == again, first == other)
	}
	p, o, err := exchange.ReadProblem(strings.NewReader(first))
	if err != nil || o.Seed != 3 || len(p.FollowUps) == 0 {
		t.Errorf("the week does not read: %v", err)
	}
	if plan, err := scheduler.Solve(t.Context(), scheduler.Problem{}, o); err == nil {
		t.Errorf("an empty Problem is solved: %v", plan)
	}
}

func TestErrors_SayWhatWouldBeRightInASentence(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		args []string
		want string
	}{
		{"no file", nil, "plan: 0 files: want one file, a Problem; see --help\n"},
		{"two files", []string{problem, planned}, "plan: 2 files: want one file, a Problem; see --help\n"},
		{"one file to check", []string{"--check", problem}, "plan: 1 files: want two files, a Problem and a plan; see --help\n"},
		{"a file and a week", []string{"--week", "small", problem}, "plan: 1 files: want no file; see --help\n"},
		{"two deeds", []string{"--week", "small", "--check"}, "plan: --check and --week can't be used together; see --help\n"},
		{"unknown flag", []string{"--quick", problem}, "plan: unknown flag --quick; see --help\n"},
		{"unknown week", []string{"--week", "tiny"}, `plan: no week of kind "tiny": want one of small, middle, large,`},
		{"time without a unit", []string{"--time", "20", problem}, "plan: --time: "},
		{"negative iterations", []string{"--iterations=-1", problem}, "plan: --iterations -1: want 0 or more; see --help\n"},
		{"no such file", []string{"nowhere.json"}, "plan: nowhere.json: no such file or directory\n"},
		{"a plan for a Problem", []string{planned}, "plan: " + planned + `: not a vernation-problem file: format: "vernation-plan": want "vernation-problem"` + "\n"},
		{"a Problem for a plan", []string{"--check", problem, problem}, "plan: " + problem + `: not a vernation-plan file: format: "vernation-problem": want "vernation-plan"` + "\n"},
		{"no JSON", []string{"run.go"}, "plan: run.go: not a vernation-problem file: line 1, column 1: invalid character 'p' looking for beginning of value"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			stdout, stderr, code := run(t, "", c.args...)
			if code != 2 || stdout != "" || !strings.HasPrefix(stderr, c.want) || strings.Count(stderr, "\n") != 1 {
				t.Errorf("ends with %d and says %q on standard output,\n%q on standard error,\nwant 2 and %q", code, stdout, stderr, c.want)
			}
		})
	}
}

// What is wrong with the shape of a file is said first, then everything that is wrong with what it says, a line each.
func TestErrors_NameEveryWrongFieldOfAFile(t *testing.T) {
	t.Parallel()
	text := strings.NewReplacer(`"sign_in": "2 min"`, `"sign_in": 120`, `"days": 14`, `"days": 140`, `"plants": ["H-a"]`, `"plants": ["H-z"]`).Replace(file(t, problem))
	_, stderr, code := run(t, "", written(t, text))
	if code != 2 || strings.Count(stderr, "\n") != 1 || !strings.Contains(stderr, `problem.sites[2].sign_in: 120: want text such as "90 min"`) {
		t.Errorf("ends with %d and says\n%s", code, stderr)
	}
	text = strings.NewReplacer(`"days": 14`, `"days": 140`, `"plants": ["H-a"]`, `"plants": ["H-z"]`).Replace(file(t, problem))
	_, stderr, code = run(t, "", written(t, text))
	if code != 2 || !strings.Contains(stderr, "problem.days: 140: want 1 to 56\n") || !strings.Contains(stderr, `problem.follow_ups[4].plants[0]: plant "H-z" is not in the Problem`) {
		t.Errorf("ends with %d and says\n%s", code, stderr)
	}
}
