// Command plan solves a Problem file, judges a given plan, or draws a Problem. See --help.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	// The first signal ends the search, and the plan in hand is written; the second ends the program.
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop)
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}
