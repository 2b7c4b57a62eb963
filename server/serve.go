package main

import (
	"errors"
	"fmt"
	"time"

	"vernation/scheduler/civil"
	"vernation/server/internal/app"
	"vernation/server/internal/firm"
	"vernation/server/internal/planning"
	"vernation/server/internal/roadtimes"
)

// roadFlags name the matrix service that road times are asked of.
type roadFlags struct {
	URL         string        `name:"url" help:"Base address of a matrix service that is asked for road times, such as http://127.0.0.1:5000; positions of sites and bases, and nothing else, are sent there. Unset, and where it does not answer or knows no road, the great circle estimates, and the plan says so." env:"VERNATION_ROADS_URL" placeholder:"URL"`
	Format      string        `help:"How it is asked: osrm (GET /table/v1/...) or valhalla (POST /sources_to_targets)." default:"osrm" enum:"osrm,valhalla" env:"VERNATION_ROADS_FORMAT"`
	Profile     string        `help:"The kind of vehicle in the service's own words. Unset, driving for osrm and auto for valhalla." env:"VERNATION_ROADS_PROFILE" placeholder:"NAME"`
	Attribution string        `help:"Notice that the service's data ask for; plans bear it." default:"© OpenStreetMap contributors" env:"VERNATION_ROADS_ATTRIBUTION" placeholder:"TEXT"`
	EachWithin  time.Duration `name:"each-within" help:"How long one request may take." default:"10s" env:"VERNATION_ROADS_EACH_WITHIN" placeholder:"DURATION"`
	Within      time.Duration `help:"How long a plan may wait for road times; the next plan asks for the rest." default:"30s" env:"VERNATION_ROADS_WITHIN" placeholder:"DURATION"`
	RenewAfter  time.Duration `name:"renew-after" help:"Age from which on kept road times are asked for again." default:"720h" env:"VERNATION_ROADS_RENEW_AFTER" placeholder:"DURATION"`
}

// open returns where road times are asked for; nowhere without an address.
func (f roadFlags) open() (planning.Roads, error) {
	if f.URL == "" {
		return planning.Roads{}, nil
	}
	if f.EachWithin <= 0 || f.Within <= 0 || f.RenewAfter <= 0 {
		return planning.Roads{}, fmt.Errorf("--roads-each-within %v, --roads-within %v, --roads-renew-after %v: want more than 0", f.EachWithin, f.Within, f.RenewAfter)
	}
	service, err := roadtimes.Open(roadtimes.Config{
		URL: f.URL, Format: roadtimes.Format(f.Format), Profile: f.Profile, Attribution: f.Attribution, EachWithin: f.EachWithin,
	})
	return planning.Roads{Service: service, Within: f.Within, RenewAfter: f.RenewAfter}, err
}

// serveCommand runs a server until a signal ends it.
type serveCommand struct {
	DatabaseURL    string        `name:"database-url" help:"Address of the login that serves: one that owns nothing and cannot bypass row security. Unset, a private PostgreSQL is started from the binaries of this machine." env:"DATABASE_URL" placeholder:"URL"`
	OwnerURL       string        `name:"owner-url" help:"Address of the schema's owner; with it the schema is brought up to date first. Unset, it must be so already (see migrate)." env:"VERNATION_OWNER_URL" placeholder:"URL"`
	Data           string        `help:"Folder that keeps a private database and its signing key. Unset, both go when the server ends." type:"path" env:"VERNATION_DATA" placeholder:"DIR"`
	KeyFile        string        `help:"Keys that tokens are judged by: a PEM file (see key) or a JSON Web Key Set of Ed25519 and P-256 keys; read again when it changes. Required with a database of your own; a private one makes its own." type:"path" env:"VERNATION_KEY_FILE" placeholder:"FILE"`
	TokenIssuer    string        `help:"Issuer that tokens must name." default:"vernation" env:"VERNATION_TOKEN_ISSUER" placeholder:"NAME"`
	TokenAudience  string        `help:"Audience that tokens must name." default:"vernation" env:"VERNATION_TOKEN_AUDIENCE" placeholder:"NAME"`
	Listen         string        `help:"Where to listen: host:port, or unix:PATH. Port 0 chooses a free one." default:"127.0.0.1:50051" env:"VERNATION_LISTEN"`
	HTTPListen     string        `name:"http-listen" help:"Where to serve the same API as JSON over HTTP, with /openapi.json, /livez, /readyz and /metrics; empty for not at all." default:"127.0.0.1:50080" env:"VERNATION_HTTP_LISTEN" placeholder:"ADDRESS"`
	HTTPOrigin     []string      `name:"http-origin" help:"Origin whose pages may call the HTTP port from a browser, such as https://office.example; may be named several times. Unset, none may." env:"VERNATION_HTTP_ORIGINS" placeholder:"ORIGIN"`
	CallsPerSecond int           `name:"calls-per-second" help:"Most calls a second of one credential, five seconds' worth of them at once; 0 for no bound." default:"100" env:"VERNATION_CALLS_PER_SECOND" placeholder:"COUNT"`
	TLSCert        string        `name:"tls-cert" help:"PEM file of the certificate to serve TLS with; read again when it changes." type:"path" env:"VERNATION_TLS_CERT" placeholder:"FILE"`
	TLSKey         string        `name:"tls-key" help:"PEM file of the certificate's key." type:"path" env:"VERNATION_TLS_KEY" placeholder:"FILE"`
	InsecureListen bool          `help:"Listen without TLS where other machines can reach: only behind a proxy that ends TLS." env:"VERNATION_INSECURE_LISTEN"`
	WebhooksInside bool          `help:"Let webhooks call this machine, over plain HTTP too, and private networks: to try them out, or for a receiver next door. Otherwise only public addresses over HTTPS are called, because callers choose them." env:"VERNATION_WEBHOOKS_INSIDE"`
	FirmClock      civil.Instant `help:"Stop the firm's clock at an instant such as 2026-03-02T17:00:00Z: findings, plans, notices and records follow it; tokens and leases never do. Unset, it follows the machine." env:"VERNATION_FIRM_CLOCK" placeholder:"INSTANT"`
	Roads          roadFlags     `embed:"" prefix:"roads-"`
	Planner        bool          `help:"Make plans in this process; without it another server on the same database must." default:"true" negatable:"" env:"VERNATION_PLANNER"`
}

// Run serves until the context ends.
func (c *serveCommand) Run(s *surroundings) (err error) {
	clock := &firm.Clock{}
	clock.Set(c.FirmClock)
	roads, err := c.Roads.open()
	if err != nil {
		return err
	}
	server, err := app.Open(s.ctx, app.Config{
		DatabaseURL: c.DatabaseURL, OwnerURL: c.OwnerURL, DataDir: c.Data, KeyFile: c.KeyFile, TokenIssuer: c.TokenIssuer, TokenAudience: c.TokenAudience,
		Listen: c.Listen, TLSCert: c.TLSCert, TLSKey: c.TLSKey, InsecureListen: c.InsecureListen,
		HTTPListen: c.HTTPListen, HTTPOrigins: c.HTTPOrigin, CallsPerSecond: c.CallsPerSecond,
		WebhooksInside: c.WebhooksInside, Roads: roads, Planner: c.Planner, Clock: clock, Log: s.log,
	})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, server.Close()) }()
	if c.DatabaseURL == "" {
		s.log.Info("on a private database: make businesses with `server business create`, tokens with `server token`",
			"owner_url", server.OwnerURL(), "key_file", server.KeyFile())
	}
	return server.Run(s.ctx)
}
