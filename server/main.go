// Command server runs the scheduling server, and prepares what it needs: schema, businesses, keys, tokens.
package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // the zone database travels in the binary

	"github.com/alecthomas/kong"

	"vernation/server/internal/app"
)

// Exit codes.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2 // the command line cannot be understood
)

const description = `Scheduling of treatments against pests of indoor plants, for firms that look after plants at their clients' sites.

What it plans and prints never stands above a product's label, local law or the judgement of a licensed applicator.`

// grammar is the command line: a field for each command.
type grammar struct {
	LogFormat string     `help:"How the log is written: ${enum}." enum:"text,json" default:"text" env:"VERNATION_LOG_FORMAT"`
	LogLevel  slog.Level `help:"The least that is logged: debug, info, warn or error." default:"info" env:"VERNATION_LOG_LEVEL"`

	Demo     demoCommand     `cmd:"" help:"Act out the main job on a private PostgreSQL and print it for a person to read."`
	Serve    serveCommand    `cmd:"" help:"Serve the contract over gRPC, on DATABASE_URL or on a private PostgreSQL."`
	Migrate  migrateCommand  `cmd:"" help:"Bring the schema of a database up to date. Several may do so at once."`
	Business businessCommand `cmd:"" help:"Make businesses; no call over the network can."`
	Load     loadCommand     `cmd:"" help:"Store the business of a file with its sites, plants, products, crew and services."`
	Problem  problemCommand  `cmd:"" help:"Write what a plan run had to plan, or its plan, as a file that the plan command replays and judges."`
	Key      keyCommand      `cmd:"" help:"Make a key file that tokens are signed with."`
	Token    tokenCommand    `cmd:"" help:"Print a token for one caller of one business."`
	Version  versionCommand  `cmd:"" help:"Print what this binary was built from."`
}

// surroundings are what commands act upon, beside their own flags.
type surroundings struct {
	ctx context.Context // ends at the first signal
	out io.Writer       // for what was asked for
	log *slog.Logger    // for what happens
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second signal ends the process at once
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// run parses the arguments, runs the command and returns the exit code.
func run(ctx context.Context, args []string, out, errOut io.Writer) int {
	var line grammar
	helped := false
	parser := kong.Must(&line, kong.Name("server"), kong.Description(description), kong.Writers(out, errOut),
		kong.Exit(func(int) { helped = true }), kong.ConfigureHelp(kong.HelpOptions{Compact: true, NoExpandSubcommands: false}))
	parsed, err := parser.Parse(args)
	if helped {
		return exitDone
	}
	if err != nil {
		_, _ = fmt.Fprintf(errOut, "server: %v\nsee server --help\n", err)
		return exitUsage
	}
	err = parsed.Run(&surroundings{ctx: ctx, out: out, log: line.logger(errOut)})
	if err != nil {
		_, _ = fmt.Fprintf(errOut, "server: %s\n", app.Sentence(err))
		return exitFailed
	}
	return exitDone
}

// logger writes what happens in the format and from the level that were asked for.
func (g *grammar) logger(to io.Writer) *slog.Logger {
	options := &slog.HandlerOptions{Level: g.LogLevel}
	if g.LogFormat == "json" {
		return slog.New(slog.NewJSONHandler(to, options))
	}
	return slog.New(slog.NewTextHandler(to, options))
}
