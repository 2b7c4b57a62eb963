package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"reflect"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // the zone database travels in the binary

	"github.com/alecthomas/kong"
	"golang.org/x/term"
)

const description = `Scheduling of treatments against pests of indoor plants: for the office, technicians, and programs beside them.

What it prints never stands above a product's label, local law or the judgement of a licensed applicator.

Names are short: a site is offices-alder-row, an area offices-alder-row/offices-floor; the token tells the business. Fields that hold more than a value are given as field=value pairs between commas, as JSON, or as @FILE.

It ends with 0 done, 1 failed otherwise, 2 the command line cannot be understood, 3 a field is wrong, 4 something named does not exist, 5 a rule or a state forbids it, 6 no right to it, 7 changed meanwhile or there already, 8 the server is away or asks to wait.`

// surroundings are what commands act upon, beside their own flags.
type surroundings struct {
	ctx      context.Context // ends at the first signal
	out      io.Writer       // for what was asked for
	errOut   io.Writer       // for how it goes
	terminal bool            // whether out is one
	progress bool            // whether errOut is one
	now      func() time.Time
	common   *common
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second signal ends the process at once
	os.Exit(run(&surroundings{
		ctx: ctx, out: os.Stdout, errOut: os.Stderr, now: time.Now,
		terminal: term.IsTerminal(int(os.Stdout.Fd())), progress: term.IsTerminal(int(os.Stderr.Fd())),
	}, os.Args[1:]))
}

// run parses the arguments, runs the command and returns the exit code.
func run(s *surroundings, args []string) int {
	g := newGrammar(args...)
	helped := false
	s.common = &common{}
	options := []kong.Option{
		kong.Name("vernation"), kong.Description(description), kong.Writers(s.out, s.errOut), kong.Embed(s.common, `group:"For every command:"`),
		kong.Exit(func(int) { helped = true }), kong.ConfigureHelp(kong.HelpOptions{Compact: true, NoExpandSubcommands: true}),
	}
	if asksForHelp(args) {
		options = append(options, kong.PostBuild(g.explain))
	}
	parser := kong.Must(g.root.Interface(), options...)
	g.model = parser.Model
	parsed, err := parser.Parse(args)
	if helped {
		return exitDone
	}
	if err != nil {
		_, _ = fmt.Fprintf(s.errOut, "vernation: %v\nsee vernation --help\n", err)
		return exitUsage
	}
	var called *method
	if m := g.methods[commandPath(parsed.Selected())]; m != nil {
		called = m
		err = m.run(s, parsed.Selected().Target)
	} else {
		err = parsed.Run(s, g)
	}
	if err != nil {
		_, _ = fmt.Fprintf(s.errOut, "vernation: %s\n", called.sentence(err))
	}
	return exitCode(err)
}

// asksForHelp says whether comments must be read.
func asksForHelp(args []string) bool {
	for _, arg := range args {
		if arg == "--help" || arg == "-h" {
			return true
		}
	}
	return len(args) == 0
}

// commandPath is the words of a command: office case list.
func commandPath(node *kong.Node) string {
	var words []string
	for ; node != nil && node.Type != kong.ApplicationNode; node = node.Parent {
		if node.Type == kong.CommandNode {
			words = append([]string{node.Name}, words...)
		}
	}
	return strings.Join(words, " ")
}

// run asks the server and prints its answer.
func (m *method) run(s *surroundings, filled reflect.Value) error {
	settled, err := s.common.settle()
	if err != nil {
		return err
	}
	request, err := m.request(settled.reader, filled)
	if err != nil {
		return err
	}
	ctx, cancel := settled.bounded(s.ctx)
	defer cancel()
	c, err := settled.dial(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = c.Close() }() // all is told by then
	return m.call(ctx, s, settled, c, request, filled)
}
