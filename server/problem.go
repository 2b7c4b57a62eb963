package main

import (
	"errors"
	"fmt"

	"vernation/server/internal/app"
	"vernation/server/internal/firm"
)

// problemCommand writes what a plan run had to plan, or what it made of it, for anybody to replay and judge.
type problemCommand struct {
	ID          string `arg:"" name:"run" help:"Id of the plan run: the last part of its resource name."`
	Business    string `help:"The business whose run it is." required:"" placeholder:"ID"`
	Plan        bool   `help:"Write the plan that the run made, not its problem."`
	DatabaseURL string `name:"database-url" help:"Address of the login that serves." env:"DATABASE_URL" placeholder:"URL" xor:"database"`
	Data        string `help:"Folder of a private database that no server runs on just now." type:"path" env:"VERNATION_DATA" placeholder:"DIR" xor:"database"`
}

// Run writes the file to standard output.
func (c *problemCommand) Run(s *surroundings) (err error) {
	if err := app.CheckID(c.Business); err != nil {
		return fmt.Errorf("--business: %w", err)
	}
	serveURL := c.DatabaseURL
	switch {
	case c.Data != "":
		private, err := app.OpenPrivate(s.ctx, app.Config{DataDir: c.Data, Log: s.log})
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, private.Close()) }()
		serveURL = private.ServeURL
	case serveURL == "":
		return errors.New("no database is named: want --database-url (or DATABASE_URL), or --data of a private one")
	}
	write := app.WriteProblem
	if c.Plan {
		write = app.WritePlan
	}
	return write(s.ctx, serveURL, firm.BusinessID(c.Business), c.ID, s.out, s.log)
}
