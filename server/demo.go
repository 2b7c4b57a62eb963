package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"vernation/scheduler/civil"
	"vernation/server/internal/app"
	"vernation/server/internal/demo"
	"vernation/server/internal/firm"
	"vernation/testdata"
)

// tokenLife is how long the demo's tokens count.
const tokenLife = 12 * time.Hour

// demoCommand acts out the main job on a private database.
type demoCommand struct {
	Exit       bool   `help:"End when the story is told, instead of serving on."`
	Listen     string `help:"Where to listen: host:port, or unix:PATH. Port 0 chooses a free one." default:"127.0.0.1:0"`
	HTTPListen string `name:"http-listen" help:"Where to serve the same API as JSON over HTTP." default:"127.0.0.1:0"`
}

// Run opens a server on a private database, loads the demo's business and tells the story.
func (c *demoCommand) Run(s *surroundings) (err error) {
	clock := &firm.Clock{}
	log := slog.New(warnings{s.log.Handler()})
	server, err := app.Open(s.ctx, app.Config{Listen: c.Listen, HTTPListen: c.HTTPListen, Planner: true, Clock: clock, Log: log})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, server.Close()) }()
	if _, err := app.Load(s.ctx, server.OwnerURL(), server.ServeURL(), "testdata/demo.yaml", testdata.DemoBusiness, log); err != nil {
		return err
	}
	serving, stop := context.WithCancel(s.ctx)
	defer stop()
	ended := make(chan error, 1)
	go func() { ended <- server.Run(serving) }()
	err = demo.Run(serving, demo.Stage{
		Target: server.Address(), Out: s.out,
		Token:    func(caller firm.Caller) (string, error) { return server.Keys().Issue(caller, tokenLife) },
		SetClock: func(to time.Time) { clock.Set(civil.InstantOf(to)) },
	})
	if err != nil {
		stop()
		return errors.Join(err, <-ended)
	}
	if !c.Exit {
		if err := c.invite(s, server); err != nil {
			return err
		}
		return <-ended
	}
	stop()
	return <-ended
}

// warnings keeps the log of every call out of a story that a person reads.
type warnings struct{ slog.Handler }

// Enabled says whether something is a warning or worse, and asked for at all.
func (w warnings) Enabled(ctx context.Context, level slog.Level) bool {
	return level >= slog.LevelWarn && w.Handler.Enabled(ctx, level)
}

// invite prints where the server goes on serving and what to try there.
func (c *demoCommand) invite(s *surroundings, server *app.App) error {
	token, err := server.Keys().Issue(demo.Office, tokenLife)
	if err != nil {
		return err
	}
	call := fmt.Sprintf("grpcurl -plaintext -H 'authorization: Bearer %s'", token)
	_, err = fmt.Fprintf(s.out, `
The server goes on at %[1]s, and over HTTP at %[4]s, until you end it (Ctrl-C). Three calls to try:

%[2]s -d '{"parent":"businesses/%[3]s"}' %[1]s vernation.v1.CaseService/ListCases

%[2]s -d '{"name":"businesses/%[3]s/technicians/tech-a/dayRoutes/2026-03-03"}' %[1]s vernation.v1.DayRouteService/GetDayRoute

curl -H 'authorization: Bearer %[5]s' http://%[4]s/v1/businesses/%[3]s/applicationRecords
`, server.Address(), call, demo.Business, server.HTTPAddress(), token)
	return err
}
