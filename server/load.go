package main

import (
	"errors"
	"fmt"
	"os"

	"vernation/server/internal/app"
)

// loadCommand stores the business of a file.
type loadCommand struct {
	File        string `arg:"" help:"Business file (YAML); testdata/demo.yaml is one. The strict reader names file, line and field of a mistake, and then stores nothing." type:"path"`
	DatabaseURL string `name:"database-url" help:"Address of the login that serves; goes with --owner-url." env:"DATABASE_URL" placeholder:"URL"`
	OwnerURL    string `name:"owner-url" help:"Address of the schema's owner, who makes the business." env:"VERNATION_OWNER_URL" placeholder:"URL" xor:"database"`
	Data        string `help:"Folder of a private database that no server runs on just now." type:"path" env:"VERNATION_DATA" placeholder:"DIR" xor:"database"`
}

// Run loads the file and prints the business's resource name.
func (c *loadCommand) Run(s *surroundings) (err error) {
	text, err := os.ReadFile(c.File)
	if err != nil {
		return err
	}
	ownerURL, serveURL := c.OwnerURL, c.DatabaseURL
	switch {
	case c.Data != "":
		private, err := app.OpenPrivate(s.ctx, app.Config{DataDir: c.Data, Log: s.log})
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, private.Close()) }()
		ownerURL, serveURL = private.OwnerURL, private.ServeURL
	case ownerURL == "" || serveURL == "":
		return errors.New("no database is named: want --owner-url and --database-url (or VERNATION_OWNER_URL and DATABASE_URL), or --data of a private one")
	}
	business, err := app.Load(s.ctx, ownerURL, serveURL, c.File, text, s.log)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "businesses/%s\n", business)
	return err
}
