package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/exchange"
	"vernation/scheduler/week"
)

// The exit codes, as --help states them.
const (
	exitDone   = 0
	exitBroken = 1
	exitWrong  = 2
)

const description = `Plan solves the Problem in a file and writes the plan to standard output, a summary to standard error:

	plan --time 20s PROBLEM.json > PLAN.json

With --check it judges a plan by the eight hard rules and prints each breach:

	plan --check PROBLEM.json PLAN.json

With --week it draws a Problem, invented, and writes it to standard output:

	plan --week small --seed 1 > PROBLEM.json

Flags stand before files; a file "-" is standard input. An interrupt ends the search, and the plan in hand is written.
A plan defers to the label in hand, local codes and licensed practice.

Exit codes: 0 done; 1 the judged plan breaks a rule; 2 wrong flags, a file that cannot be read or written or is not valid.`

// mostIslands is as many searches side by side as a large machine has use for, usualIslands what is taken where nobody says.
const mostIslands, usualIslands = 64, 2

// flags are the command line. What is not given is taken from the Problem file.
type flags struct {
	Time       time.Duration `placeholder:"DURATION" help:"Search so long, such as 20s. Alone, iterations are not bounded."`
	Iterations *int          `placeholder:"N" help:"Search so many rounds; for a seed the plan is then always the same. 0 is one construction only."`
	Islands    int           `placeholder:"N" help:"Searches side by side (default: the file's, else 2)."`
	Seed       *uint64       `placeholder:"N" help:"Where the search begins, or what a week is drawn from (default: the file's; 1 for a week)."`
	Check      bool          `xor:"deed" help:"Judge the plan of a second file instead of making one."`
	Week       string        `xor:"deed" placeholder:"KIND" help:"Draw a Problem instead of reading one: ${kinds}."`
	Format     bool          `xor:"deed" help:"Print the document of the file format."`
	Files      []string      `arg:"" optional:"" help:"PROBLEM.json, and PLAN.json with --check."`
}

// run does what the command line asks for and returns the exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	f, code, done := parse(args, stdout, stderr)
	if done {
		return code
	}
	out := bufio.NewWriter(stdout)
	code, err := f.deed(ctx, out, stderr)
	if err == nil {
		err = out.Flush()
	}
	if err != nil {
		fmt.Fprintf(stderr, "plan: %v\n", err)
		return exitWrong
	}
	return code
}

// parse reads the command line; done says that there is nothing left to do.
func parse(args []string, stdout, stderr io.Writer) (f flags, code int, done bool) {
	kinds := make([]string, len(week.Kinds()))
	for i, kind := range week.Kinds() {
		kinds[i] = string(kind)
	}
	parser := kong.Must(&f, kong.Name("plan"), kong.Description(description), kong.Writers(stdout, stderr),
		kong.Vars{"kinds": strings.Join(kinds, ", ")}, kong.Exit(func(int) { done = true }), kong.ConfigureHelp(kong.HelpOptions{Compact: true}))
	_, err := parser.Parse(args)
	if done { // --help
		return f, exitDone, true
	}
	if err == nil {
		err = f.wrong()
	}
	if err != nil {
		fmt.Fprintf(stderr, "plan: %v; see --help\n", err)
		return f, exitWrong, true
	}
	return f, exitDone, false
}

// wrong says what does not go together, or nil.
func (f flags) wrong() error {
	want := 1
	switch {
	case f.Week != "" || f.Format:
		want = 0
	case f.Check:
		want = 2
	}
	names := []string{"no file", "one file, a Problem", "two files, a Problem and a plan"}
	switch {
	case len(f.Files) != want:
		return fmt.Errorf("%d files: want %s", len(f.Files), names[want])
	case f.Time < 0:
		return fmt.Errorf("--time %v: want more than nothing", f.Time)
	case f.Islands < 0 || f.Islands > mostIslands:
		return fmt.Errorf("--islands %d: want 1 to %d", f.Islands, mostIslands)
	case f.Iterations != nil && *f.Iterations < 0:
		return fmt.Errorf("--iterations %d: want 0 or more", *f.Iterations)
	}
	return nil
}

func (f flags) deed(ctx context.Context, stdout, stderr io.Writer) (code int, err error) {
	switch {
	case f.Format:
		_, err := io.WriteString(stdout, exchange.Document)
		return exitDone, err
	case f.Week != "":
		return exitDone, f.draw(stdout)
	case f.Check:
		return f.judge(stdout)
	}
	return exitDone, f.solve(ctx, stdout, stderr)
}

func (f flags) draw(stdout io.Writer) error {
	options := scheduler.Options{Seed: 1, Rates: scheduler.DefaultRates(catalogue.Shipped())}
	if f.Seed != nil {
		options.Seed = *f.Seed
	}
	if f.Iterations != nil {
		options.Iterations = *f.Iterations
	}
	options.Limit = f.Time
	problem, err := week.New(week.Kind(f.Week), options.Seed)
	if err != nil {
		return err
	}
	return exchange.WriteProblem(stdout, problem, options)
}

// problem reads the first file and lets the flags speak over its options.
func (f flags) problem() (scheduler.Problem, scheduler.Options, error) {
	var options scheduler.Options
	problem, err := read(f.Files[0], func(from io.Reader) (p scheduler.Problem, err error) {
		p, options, err = exchange.ReadProblem(from)
		return p, err
	})
	if f.Seed != nil {
		options.Seed = *f.Seed
	}
	switch {
	case f.Iterations != nil:
		options.Iterations, options.Limit = *f.Iterations, f.Time
	case f.Time > 0:
		options.Iterations, options.Limit = 0, f.Time
	}
	switch {
	case f.Islands > 0:
		options.Islands = f.Islands
	case options.Islands == 0:
		options.Islands = usualIslands
	}
	return problem, options, err
}

func (f flags) solve(ctx context.Context, stdout, stderr io.Writer) error {
	problem, options, err := f.problem()
	if err != nil {
		return err
	}
	plan, err := scheduler.Solve(ctx, problem, options)
	if err != nil {
		return err
	}
	if err := exchange.WritePlan(stdout, plan); err != nil {
		return err
	}
	_, err = io.WriteString(stderr, summary(problem, plan))
	return err
}

func (f flags) judge(stdout io.Writer) (code int, err error) {
	problem, _, err := f.problem()
	if err != nil {
		return exitWrong, err
	}
	plan, err := read(f.Files[1], exchange.ReadPlan)
	if err != nil {
		return exitWrong, err
	}
	text, broken := verdict(problem, scheduler.Check(problem, plan))
	if broken {
		code = exitBroken
	}
	_, err = io.WriteString(stdout, text)
	return code, err
}

// read opens a file, or standard input for "-", and says its name in errors.
func read[T any](name string, reader func(io.Reader) (T, error)) (T, error) {
	from := os.Stdin
	if name != "-" {
		file, err := os.Open(name)
		if err != nil {
			var none T
			var path *os.PathError
			if errors.As(err, &path) {
				err = path.Err
			}
			return none, fmt.Errorf("%s: %w", name, err)
		}
		defer file.Close()
		from = file
	}
	value, err := reader(bufio.NewReader(from))
	if err != nil {
		return value, fmt.Errorf("%s: %w", name, err)
	}
	return value, nil
}
