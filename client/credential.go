package client

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"os"
	"strings"
)

// WithTokenFile sends the token, or the credential of an integration key, that stands in a file. The file is read for
// each call, so that whoever renews the token need only write it there.
func WithTokenFile(path string) Option {
	return WithTokens(func(context.Context) (string, error) {
		text, err := os.ReadFile(path)
		if err != nil {
			return "", err
		}
		if len(strings.TrimSpace(string(text))) == 0 {
			return "", fmt.Errorf("%s is empty: want a token or the credential of an integration key in it", path)
		}
		return strings.TrimSpace(string(text)), nil
	})
}

// WithTokenVariable sends the token, or the credential of an integration key, that an environment variable holds when
// the call is made.
func WithTokenVariable(name string) Option {
	return WithTokens(func(context.Context) (string, error) {
		token := strings.TrimSpace(os.Getenv(name))
		if token == "" {
			return "", fmt.Errorf("the environment variable %s is not set: want a token or the credential of an integration key in it", name)
		}
		return token, nil
	})
}

// Roots reads a PEM file of the certificates that vouch for a server, for WithTLS. serverName is the name that the
// server's certificate must bear; "" is the host that is dialled.
func Roots(path, serverName string) (*tls.Config, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("root certificates: %w", err)
	}
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(text) {
		return nil, fmt.Errorf("root certificates: %s holds none: want one or more in PEM", path)
	}
	return &tls.Config{RootCAs: roots, ServerName: serverName, MinVersion: tls.VersionTLS12}, nil
}
