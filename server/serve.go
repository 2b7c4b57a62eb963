package main

import (
	"errors"

	"vernation/scheduler/civil"
	"vernation/server/internal/app"
	"vernation/server/internal/firm"
)

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
	Planner        bool          `help:"Make plans in this process; without it another server on the same database must." default:"true" negatable:"" env:"VERNATION_PLANNER"`
}

// Run serves until the context ends.
func (c *serveCommand) Run(s *surroundings) (err error) {
	clock := &firm.Clock{}
	clock.Set(c.FirmClock)
	server, err := app.Open(s.ctx, app.Config{
		DatabaseURL: c.DatabaseURL, OwnerURL: c.OwnerURL, DataDir: c.Data, KeyFile: c.KeyFile, TokenIssuer: c.TokenIssuer, TokenAudience: c.TokenAudience,
		Listen: c.Listen, TLSCert: c.TLSCert, TLSKey: c.TLSKey, InsecureListen: c.InsecureListen,
		HTTPListen: c.HTTPListen, HTTPOrigins: c.HTTPOrigin, CallsPerSecond: c.CallsPerSecond,
		WebhooksInside: c.WebhooksInside, Planner: c.Planner, Clock: clock, Log: s.log,
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
