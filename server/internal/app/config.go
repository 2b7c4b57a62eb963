package app

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"strings"

	"vernation/server/internal/firm"
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
	// KeyFile holds the keys of tokens. A DatabaseURL requires it; a private database makes one where none is named.
	KeyFile string
	// Listen is host:port or unix:PATH; "" is a free port of the loopback. Port 0 chooses a free one.
	Listen string
	// TLSCert and TLSKey are PEM files, both or neither.
	TLSCert, TLSKey string
	// InsecureListen allows an address that others reach without TLS: for a proxy that ends TLS in front.
	InsecureListen bool
	// WebhooksInside lets webhooks reach this machine, over plain HTTP too, and private networks.
	WebhooksInside bool
	// Planner makes plans in this process; without it another process must.
	Planner bool
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
	case c.TLSCert == "" && !c.InsecureListen && !local(c.Listen):
		return c, fmt.Errorf("others than this machine reach %s, and tokens would cross the network unprotected: "+
			"name --tls-cert and --tls-key, listen on 127.0.0.1, or say --insecure-listen where a proxy in front ends TLS", c.Listen)
	}
	return c, nil
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

// listen opens the address.
func (c Config) listen(ctx context.Context) (net.Listener, error) {
	network, address := "tcp", c.Listen
	if path, ok := strings.CutPrefix(c.Listen, unixScheme); ok {
		network, address = "unix", path
	}
	listener, err := new(net.ListenConfig).Listen(ctx, network, address)
	if err != nil {
		return nil, fmt.Errorf("listen on %s: %w", c.Listen, err)
	}
	return listener, nil
}

// tls reads certificate and key; nil without them.
func (c Config) tls() (*tls.Config, error) {
	if c.TLSCert == "" {
		return nil, nil
	}
	pair, err := tls.LoadX509KeyPair(c.TLSCert, c.TLSKey)
	if err != nil {
		return nil, fmt.Errorf("TLS certificate %s with key %s: %w", c.TLSCert, c.TLSKey, err)
	}
	return &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}, nil
}
