package main_test

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler/internal/vrptw"
)

var update = flag.Bool("update", false, "rewrite golden files")

// The published instances; their sources are named in package vrptw's tests. Beside them lies best_known.csv: for R101, C101, RC105
// and C1_4_1 the least vehicles and their distance from the tables kept by SINTEF, the distance alone in double precision from the
// same list, and in the convention of the 12th DIMACS Implementation Challenge.
const instances = "../../internal/vrptw/testdata/"

var command string

// TestMain builds the command once; the tests run it as people do.
func TestMain(m *testing.M) {
	flag.Parse()
	folder, err := os.MkdirTemp("", "vrptw")
	if err != nil {
		panic(err)
	}
	command = filepath.Join(folder, "vrptw")
	if text, err := exec.Command("go", "build", "-o", command, ".").CombinedOutput(); err != nil {
		panic(fmt.Sprintf("%v\n%s", err, text))
	}
	code := m.Run()
	os.RemoveAll(folder)
	os.Exit(code)
}

// run runs the command and returns what it says and its exit code.
func run(t *testing.T, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	c := exec.CommandContext(t.Context(), command, args...)
	var out, errs bytes.Buffer
	c.Stdout, c.Stderr = &out, &errs
	var exit *exec.ExitError
	if err := c.Run(); err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return out.String(), errs.String(), c.ProcessState.ExitCode()
}

// golden compares a text that people read with its file.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", path, diff)
	}
}

// file writes a file of the test's own.
func file(t *testing.T, folder, name, text string) string {
	t.Helper()
	path := filepath.Join(folder, name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestVrptw_HelpTellsEveryFlag(t *testing.T) {
	t.Parallel()
	stdout, stderr, code := run(t, "--help")
	if code != 0 || stdout != "" {
		t.Errorf("exit %d, stdout %q", code, stdout)
	}
	golden(t, "help.txt", stderr)
}

func TestVrptw_RoutesAreThoseThatTheCostSays(t *testing.T) {
	t.Parallel()
	for _, convention := range []vrptw.Convention{vrptw.Dimacs, vrptw.Double} {
		stdout, stderr, code := run(t, "--iterations", "4000", "--convention", string(convention), instances+"C101.txt")
		if code != 0 {
			t.Fatalf("exit %d: %s", code, stderr)
		}
		reader, err := os.Open(instances + "C101.txt")
		if err != nil {
			t.Fatal(err)
		}
		defer reader.Close()
		in, err := vrptw.Read(reader)
		if err != nil {
			t.Fatal(err)
		}
		var routes [][]int
		lines := strings.Split(strings.TrimSpace(stdout), "\n")
		for r, line := range lines[:len(lines)-1] {
			numbers, found := strings.CutPrefix(line, fmt.Sprintf("Route #%d: ", r+1))
			if !found {
				t.Fatalf("line %q: want Route #%d", line, r+1)
			}
			var route []int
			for _, field := range strings.Fields(numbers) {
				var customer int
				if _, err := fmt.Sscan(field, &customer); err != nil {
					t.Fatal(err)
				}
				route = append(route, customer)
			}
			routes = append(routes, route)
		}
		cost, err := in.Judge(convention, routes)
		format := map[vrptw.Convention]string{vrptw.Dimacs: "Cost %.1f", vrptw.Double: "Cost %.2f"}[convention]
		if want := fmt.Sprintf(format, cost); err != nil || lines[len(lines)-1] != want {
			t.Errorf("%s: printed %q, the judge says %q, %v", convention, lines[len(lines)-1], want, err)
		}
	}
}

func TestVrptw_SameSeedAndIterationsPrintTheSame(t *testing.T) {
	t.Parallel()
	args := []string{"--iterations", "500", "--islands", "3", "--seed", "5", instances + "R101.txt", instances + "RC105.txt"}
	first, _, _ := run(t, args...)
	second, _, code := run(t, args...)
	if first != second || code != 0 {
		t.Errorf("exit %d, first %q, then %q", code, first, second)
	}
	if !strings.HasPrefix(first, "R101\nRoute #1: ") || !strings.Contains(first, "\nRC105\nRoute #1: ") {
		t.Errorf("two files are not told apart:\n%s", first)
	}
}

func TestVrptw_TimeAloneBoundsASearchToo(t *testing.T) {
	t.Parallel()
	if stdout, stderr, code := run(t, "--time", "50ms", instances+"C101.txt"); code != 0 || !strings.Contains(stdout, "\nCost ") {
		t.Errorf("exit %d: %s%s", code, stdout, stderr)
	}
}

func TestVrptw_TableComparesWithTheBestKnownOfItsObjective(t *testing.T) {
	t.Parallel()
	for _, objective := range []string{"distance", "vehicles"} {
		args := []string{"--iterations", "3000", "--objective", objective, "--all", instances, "--table"}
		if objective == "vehicles" {
			args = append(args, "--convention", "double")
		}
		stdout, stderr, code := run(t, args...)
		if code != 0 {
			t.Fatalf("exit %d: %s", code, stderr)
		}
		golden(t, "table-"+objective+".txt", stdout)
	}
}

func TestVrptw_BestKnownIsFoundBesideAboveOrWhereItIsNamed(t *testing.T) {
	t.Parallel()
	const small = "small\n1 9\n0 0 0 0 0 99 0\n1 3 4 1 0 99 1\n"
	const known = "instance,dimacs_vehicles,dimacs_distance\nsmall,,8.0\n"
	above, inside := t.TempDir(), "inside"
	if err := os.Mkdir(filepath.Join(above, inside), 0o700); err != nil {
		t.Fatal(err)
	}
	instance := file(t, filepath.Join(above, inside), "Small.TXT", small)
	args := []string{"--iterations", "64", "--table"}
	table := func(args ...string) {
		t.Helper()
		stdout, stderr, code := run(t, args...)
		if row := "Small               1      -        10.00         8.00   25.000\nmean gap 25.000 %, worst 25.000 %, of 1 compared\n"; code != 0 || !strings.HasSuffix(stdout, row) {
			t.Errorf("%v: exit %d: %s%s", args, code, stdout, stderr)
		}
	}
	if _, stderr, code := run(t, append(args, "--all", above)...); code != 1 || !strings.Contains(stderr, "no best_known.csv lies in "+above+" or above it: want it there, or named by --best-known") {
		t.Errorf("without the file: exit %d: %s", code, stderr)
	}
	elsewhere := file(t, t.TempDir(), "mine.csv", known)
	table(append(args, "--best-known", elsewhere, instance)...)
	file(t, above, "best_known.csv", known)
	table(append(args, "--all", above)...)
	table(append(args, "--all", filepath.Join(above, inside))...)
	table(append(args, instance)...)
}

func TestVrptw_FailuresSayWhatIsWrong(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	broken := file(t, folder, "broken.txt", "broken\n1 9\n0 0 0 0 0 99 0\n2 3 4 1 0 99 1\n")
	impossible := file(t, folder, "impossible.txt", "impossible\n1 9\n0 0 0 0 0 99 0\n1 30 40 1 0 49 1\n")
	noColumn := file(t, folder, "no-column.csv", "instance,distance\nbroken,1\n")
	noNumber := file(t, folder, "no-number.csv", "instance,dimacs_vehicles,dimacs_distance\nbroken,,x\n")
	empty := file(t, folder, "empty.csv", "")
	good := instances + "C101.txt"
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{nil, 2, "want instance files, or --all DIR"},
		{[]string{"--all", folder, good}, 2, "want instance files, or --all DIR, not both"},
		{[]string{"--nothing", good}, 2, "flag provided but not defined: -nothing"},
		{[]string{"--objective", "cost", good}, 2, `--objective "cost": want distance or vehicles`},
		{[]string{"--convention", "whole", good}, 2, `--convention "whole": want dimacs or double`},
		{[]string{"--time", "0s", good}, 2, "--time, --islands: want more than 0"},
		{[]string{"--islands", "0", good}, 2, "--time, --islands: want more than 0"},
		{[]string{"--iterations", "-1", good}, 2, "--iterations: want 0 or more"},
		{[]string{filepath.Join(folder, "none.txt")}, 1, "none.txt: no such file"},
		{[]string{"--all", t.TempDir()}, 1, "holds no .txt file"},
		{[]string{"--all", filepath.Join(folder, "none")}, 1, "no such file"},
		{[]string{broken}, 1, "broken.txt: line 4: customer 2: want 1 next"},
		{[]string{"--iterations", "64", impossible}, 1, "impossible.txt: no answer that holds was found: customer 1 is not served"},
		{[]string{"--table", "--best-known", noColumn, good}, 1, "no-column.csv: want columns dimacs_vehicles and dimacs_distance"},
		{[]string{"--table", "--best-known", noNumber, good}, 1, `no-number.csv: row 2: strconv.ParseFloat: parsing "x"`},
		{[]string{"--table", "--best-known", empty, good}, 1, "empty.csv is empty"},
	} {
		stdout, stderr, code := run(t, c.args...)
		if code != c.code || !strings.Contains(stderr, c.want) || stdout != "" {
			t.Errorf("%v: exit %d, want %d with %q: %s%s", c.args, code, c.code, c.want, stdout, stderr)
		}
	}
	// A table goes on past what fails, and says so at the end.
	known := file(t, folder, "known.csv", "instance,dimacs_vehicles,dimacs_distance\nC101,,827.3\n")
	stdout, stderr, code := run(t, "--table", "--iterations", "500", "--best-known", known, broken, good, impossible)
	if code != 1 || !strings.Contains(stdout, "C101 ") || !strings.Contains(stderr, "broken.txt: line 4") || !strings.Contains(stderr, "impossible.txt: no answer") {
		t.Errorf("exit %d: %s%s", code, stdout, stderr)
	}
}
