package app

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/url"
	"strings"
	"time"

	"vernation/server/internal/firm"
	"vernation/server/internal/planning"
	"vernation/server/internal/reload"
)

// Config says what to open. The zero value of each field is a working choice except where it says otherwise.
type Config struct {
	// DatabaseURL is the address of the login that serves; "" starts a private PostgreSQL.
	DatabaseURL string
	// OwnerURL is the address of the schema's owner. With it the schema is brought up to date before the store
	// opens; "" leaves the schema as it is. A private database has its own.
	OwnerURL string
	// DataDir keeps a private database and its signing key; "" throws both away at the end.
	DataDir string
	// TokenIssuer and TokenAudience are what tokens must name; "" is vernation.
	TokenIssuer, TokenAudience string
	// KeyFile holds the keys of tokens, as PEM or as a JSON Web Key Set; it is read again when it changes. A DatabaseURL requires it; a private database makes one where none is named.
	KeyFile string
	// Listen is host:port or unix:PATH; "" is a free port of the loopback. Port 0 chooses a free one.
	Listen string
	// HTTPListen is where the HTTP port listens, as Listen is; "" leaves it out.
	HTTPListen string
	// HTTPOrigins are those whose pages may call the HTTP port from a browser; none by default.
	HTTPOrigins []string
	// TLSCert and TLSKey are PEM files of both ports, both or neither. They are read again when they change.
	TLSCert, TLSKey string
	// LookEvery is how often the two files, and those of keys, are looked at again; 0 is every 10 s.
	LookEvery time.Duration
	// InsecureListen allows an address that others reach without TLS: for a proxy that ends TLS in front.
	InsecureListen bool
	// WebhooksInside lets webhooks reach this machine, over plain HTTP too, and private networks.
	WebhooksInside bool
	// CallsPerSecond bounds the calls of each credential; 0 bounds nothing.
	CallsPerSecond int
	// Planner makes plans in this process; without it another process must.
	Planner bool
	// Roads is where road times are asked for; its zero value leaves all ways to the great circle.
	Roads planning.Roads
	// RowSecurityAlone leaves out the check that names are of the caller's business: for tests of row security.
	RowSecurityAlone bool
	// Clock is the firm's; nil follows the machine.
	Clock *firm.Clock
	// Log hears of calls and failures; nil is nobody.
	Log *slog.Logger
}

// ErrNeedsKey says that a server on a database of somebody's own has no keys to judge tokens by.
var ErrNeedsKey = errors.New("a server on DATABASE_URL needs a key file for its tokens: make one with `server key FILE` and name it with --key-file or VERNATION_KEY_FILE")

// complete fills what is unset and says what does not fit together.
func (c Config) complete() (Config, error) {
	if c.Clock == nil {
		c.Clock = &firm.Clock{}
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	c.Roads.Log = c.Log
	if c.LookEvery == 0 {
		c.LookEvery = 10 * time.Second
	}
	if c.Listen == "" {
		c.Listen = "127.0.0.1:0"
	}
	switch {
	case c.DatabaseURL != "" && c.DataDir != "":
		return c, errors.New("a data folder is for a private database; want DATABASE_URL or a data folder, not both")
	case c.DatabaseURL == "" && c.OwnerURL != "":
		return c, errors.New("an owner's address goes with DATABASE_URL; a private database has its own")
	case c.DatabaseURL != "" && c.KeyFile == "":
		return c, ErrNeedsKey
	case (c.TLSCert == "") != (c.TLSKey == ""):
		return c, errors.New("TLS needs both a certificate and its key; one of them is not named")
	case c.CallsPerSecond < 0:
		return c, fmt.Errorf("%d calls a second; want 1 or more, or 0 for no bound", c.CallsPerSecond)
	}
	for _, listen := range []string{c.Listen, c.HTTPListen} {
		if listen != "" && c.TLSCert == "" && !c.InsecureListen && !local(listen) {
			return c, fmt.Errorf("others than this machine reach %s, and tokens would cross the network unprotected: "+
				"name --tls-cert and --tls-key, listen on 127.0.0.1, or say --insecure-listen where a proxy in front ends TLS", listen)
		}
	}
	return c, c.checkOrigins()
}

// checkOrigins says what is no origin of a web page.
func (c Config) checkOrigins() error {
	for _, origin := range c.HTTPOrigins {
		at, err := url.Parse(origin)
		if err != nil || at.Host == "" || at.Scheme != "https" && at.Scheme != "http" || at.Scheme+"://"+at.Host != origin {
			return fmt.Errorf("origin %q: want scheme, host and port of the page alone, such as https://office.example", origin)
		}
	}
	return nil
}

// local says whether only this machine reaches an address.
func local(listen string) bool {
	if strings.HasPrefix(listen, unixScheme) {
		return true
	}
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		return false
	}
	address := net.ParseIP(host)
	return host == "localhost" || address != nil && address.IsLoopback()
}

const unixScheme = "unix:"

// listen opens an address; with encryption it speaks TLS, and one of the protocols above it.
func listen(ctx context.Context, at string, encryption *tls.Config, protocols ...string) (net.Listener, error) {
	network, address := "tcp", at
	if path, ok := strings.CutPrefix(at, unixScheme); ok {
		network, address = "unix", path
	}
	listener, err := new(net.ListenConfig).Listen(ctx, network, address)
	if err != nil {
		return nil, fmt.Errorf("listen on %s: %w", at, err)
	}
	if encryption == nil {
		return listener, nil
	}
	spoken := encryption.Clone()
	spoken.NextProtos = protocols
	return tls.NewListener(listener, spoken), nil
}

// certificate is what both ports speak TLS with, read again when its files change; nil without one.
func (c Config) certificate() (*tls.Config, error) {
	if c.TLSCert == "" {
		return nil, nil
	}
	pair, err := reload.Open(func() (*tls.Certificate, error) {
		pair, err := tls.LoadX509KeyPair(c.TLSCert, c.TLSKey)
		if err != nil {
			return nil, fmt.Errorf("TLS certificate %s with key %s: %w", c.TLSCert, c.TLSKey, err)
		}
		return &pair, nil
	}, c.LookEvery, c.Log, c.TLSCert, c.TLSKey)
	if err != nil {
		return nil, err
	}
	return &tls.Config{
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return pair.Current(), nil },
		MinVersion:     tls.VersionTLS12,
	}, nil
}
