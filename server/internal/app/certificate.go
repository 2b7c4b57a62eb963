package app

import (
	"crypto/tls"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"time"
)

// certificate is a pair of files that may be replaced while the server runs.
type certificate struct {
	certFile, keyFile string
	every             time.Duration
	log               *slog.Logger

	mu      sync.Mutex
	pair    *tls.Certificate
	changed [2]time.Time // when the files were last written, as far as they are read
	looked  time.Time
}

// openCertificate reads the pair; nil without one.
func openCertificate(cfg Config) (*tls.Config, error) {
	if cfg.TLSCert == "" {
		return nil, nil
	}
	c := &certificate{certFile: cfg.TLSCert, keyFile: cfg.TLSKey, every: cfg.LookEvery, log: cfg.Log}
	if err := c.read(); err != nil {
		return nil, err
	}
	return &tls.Config{GetCertificate: c.current, MinVersion: tls.VersionTLS12}, nil
}

// read takes the pair from its files.
func (c *certificate) read() error {
	changed, err := c.written()
	if err != nil {
		return err
	}
	pair, err := tls.LoadX509KeyPair(c.certFile, c.keyFile)
	if err != nil {
		return fmt.Errorf("TLS certificate %s with key %s: %w", c.certFile, c.keyFile, err)
	}
	c.pair, c.changed, c.looked = &pair, changed, time.Now()
	return nil
}

// written says when the two files were last written.
func (c *certificate) written() (at [2]time.Time, err error) {
	for i, path := range []string{c.certFile, c.keyFile} {
		info, err := os.Stat(path)
		if err != nil {
			return at, fmt.Errorf("TLS certificate: %w", err)
		}
		at[i] = info.ModTime()
	}
	return at, nil
}

// current is the pair of a new connection. Files that are half written or wrong leave the pair before in force.
func (c *certificate) current(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if time.Since(c.looked) < c.every {
		return c.pair, nil
	}
	c.looked = time.Now()
	if changed, err := c.written(); err == nil && changed == c.changed {
		return c.pair, nil
	}
	if err := c.read(); err != nil {
		c.log.Error("the TLS certificate cannot be read again; the one before stays in force", "cause", err)
	} else {
		c.log.Info("the TLS certificate was read again", "file", c.certFile)
	}
	return c.pair, nil
}
