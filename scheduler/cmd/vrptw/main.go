// Command vrptw solves published instances of vehicle routing with time windows from the shell, so that anybody's judge can
// read how good the scheduler's search is on known ground.
//
//	go run ./scheduler/cmd/vrptw --time 10s --objective distance --convention dimacs --seed 1 R101.txt
//	go run ./scheduler/cmd/vrptw --time 10s --all DIR --table
//
// It exits with 0 when an answer was printed that its judge accepts, 1 when something could not be read, written or served,
// 2 for flags that it does not understand.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"vernation/scheduler/internal/vrptw"
)

// settings are what the flags say.
type settings struct {
	options vrptw.Options
	all     string
	table   bool
	known   string
	files   []string
}

func main() {
	s, err := parse(os.Args[1:], os.Stderr)
	if errors.Is(err, flag.ErrHelp) {
		return
	}
	if err != nil {
		os.Exit(2)
	}
	if err := run(s, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "vrptw:", err)
		os.Exit(1)
	}
}

// parse reads the flags and says what is wrong with them.
func parse(args []string, stderr io.Writer) (settings, error) {
	var s settings
	flags := flag.NewFlagSet("vrptw", flag.ContinueOnError)
	flags.SetOutput(stderr)
	flags.DurationVar(&s.options.Time, "time", 10*time.Second, "time for each instance")
	flags.IntVar(&s.options.Iterations, "iterations", 0, "rounds of each island instead of a time, for an answer that repeats")
	flags.IntVar(&s.options.Islands, "islands", 2, "populations side by side")
	flags.Uint64Var(&s.options.Seed, "seed", 1, "seed of the search")
	objective := flags.String("objective", "distance", "distance, or vehicles: the fewest first, then the distance")
	convention := flags.String("convention", "dimacs", "dimacs: arcs cut to one decimal; double: double precision")
	flags.StringVar(&s.all, "all", "", "solve every .txt file of a folder and of those in it")
	flags.BoolVar(&s.table, "table", false, "print one row for each instance with its gap to the best known, not the routes")
	flags.StringVar(&s.known, "best-known", "", "file of best-known values; when not given, the nearest best_known.csv beside or above the instances")
	flags.Usage = func() {
		fmt.Fprintln(stderr, "vrptw [flags] FILE...: solves instances in Solomon's layout (flags before the files)")
		flags.PrintDefaults()
	}
	if err := flags.Parse(args); err != nil {
		return s, err
	}
	s.options.Fewest, s.options.Convention = *objective == "vehicles", vrptw.Convention(*convention)
	s.files = flags.Args()
	switch {
	case *objective != "distance" && *objective != "vehicles":
		return s, complain(stderr, "--objective %q: want distance or vehicles", *objective)
	case s.options.Convention != vrptw.Dimacs && s.options.Convention != vrptw.Double:
		return s, complain(stderr, "--convention %q: want dimacs or double", *convention)
	case s.options.Iterations < 0 || s.options.Islands < 1 || s.options.Iterations == 0 && s.options.Time <= 0:
		return s, complain(stderr, "--time, --islands: want more than 0; --iterations: want 0 or more")
	case (len(s.files) == 0) == (s.all == ""):
		return s, complain(stderr, "want instance files, or --all DIR, not both")
	}
	return s, nil
}

func complain(stderr io.Writer, format string, args ...any) error {
	err := fmt.Errorf(format, args...)
	fmt.Fprintln(stderr, "vrptw:", err)
	return err
}

// run solves what the settings name.
func run(s settings, stdout io.Writer) error {
	if s.all != "" {
		found, err := instances(s.all)
		if err != nil {
			return err
		}
		s.files = found
	}
	if s.table {
		return table(s, stdout)
	}
	for _, file := range s.files {
		in, answer, err := solve(file, s.options)
		if err != nil {
			return err
		}
		if len(s.files) > 1 {
			fmt.Fprintln(stdout, in.Name)
		}
		if err := answer.Write(stdout, s.options.Convention); err != nil {
			return err
		}
	}
	return nil
}

// solve reads one instance, solves it and has the answer judged.
func solve(file string, options vrptw.Options) (*vrptw.Instance, vrptw.Answer, error) {
	reader, err := os.Open(filepath.Clean(file))
	if err != nil {
		return nil, vrptw.Answer{}, err
	}
	defer func() { _ = reader.Close() }()
	in, err := vrptw.Read(reader)
	if err != nil {
		return nil, vrptw.Answer{}, fmt.Errorf("%s: %w", file, err)
	}
	answer := vrptw.Solve(in, options)
	if _, err := in.Judge(options.Convention, answer.Routes); err != nil {
		return nil, vrptw.Answer{}, fmt.Errorf("%s: no answer that holds was found: %w", file, err)
	}
	return in, answer, nil
}
