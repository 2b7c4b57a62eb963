package feed

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"syscall"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/server/internal/fault"
)

// Reach says which addresses may be sent to. The zero value is the public internet over HTTPS.
//
// An address of a caller's choice that the server calls from inside its own network is a way around every wall that
// stands before that network: to the metadata of a cloud's machine, to a database without a password, to this server.
// So private addresses are refused, by the address that a name really leads to, at the moment of the connection (a name
// may lead elsewhere a second later), and an answer that sends on to another address is not followed.
type Reach struct {
	// Inside allows this machine, over plain HTTP too, and private networks: for trying out, and for a receiver next door.
	Inside bool
}

// The times that a receiver has.
const (
	connectWithin = 5 * time.Second
	answerWithin  = 10 * time.Second // in all
)

// JudgeURL says why an address cannot be sent to, or nil.
//
// Fails with Invalid: URL_FORM, URL_NOT_HTTPS, URL_NOT_PUBLIC.
func (r Reach) JudgeURL(path, text string) error {
	wrong := func(reason, message string, args ...any) error {
		return fault.InvalidFields([]catalogue.FieldError{{Path: path, Reason: reason, Text: fmt.Sprintf(message, args...)}})
	}
	u, err := url.Parse(text)
	if err != nil || u.Hostname() == "" || u.User != nil || u.Fragment != "" || u.Scheme != "https" && u.Scheme != "http" {
		return wrong("URL_FORM", "%q is no address of a receiver: want https://host/path, without a user and without #", text)
	}
	address, err := netip.ParseAddr(u.Hostname())
	loopback := u.Hostname() == "localhost" || err == nil && address.Unmap().IsLoopback()
	if u.Scheme == "http" && (!r.Inside || !loopback) {
		return wrong("URL_NOT_HTTPS", "changes tell of clients and would cross the network unprotected: want https")
	}
	if !r.Inside && (loopback || err == nil && !public(address)) {
		return wrong("URL_NOT_PUBLIC", "%s is an address of this machine or of a private network, which this server does not call: want a public one", u.Hostname())
	}
	return nil
}

// notPublic are the ranges beside those that package netip knows: shared and reserved ones, and those that lead to an
// IPv4 address inside (IANA special-purpose address registries).
var notPublic = []netip.Prefix{
	netip.MustParsePrefix("0.0.0.0/8"), netip.MustParsePrefix("100.64.0.0/10"), netip.MustParsePrefix("192.0.0.0/24"),
	netip.MustParsePrefix("192.0.2.0/24"), netip.MustParsePrefix("198.18.0.0/15"), netip.MustParsePrefix("198.51.100.0/24"),
	netip.MustParsePrefix("203.0.113.0/24"), netip.MustParsePrefix("240.0.0.0/4"),
	netip.MustParsePrefix("64:ff9b::/96"), netip.MustParsePrefix("64:ff9b:1::/48"), netip.MustParsePrefix("100::/64"),
	netip.MustParsePrefix("2001::/23"), netip.MustParsePrefix("2001:db8::/32"), netip.MustParsePrefix("2002::/16"), netip.MustParsePrefix("fec0::/10"),
}

// public says whether an address is one of the internet's.
func public(address netip.Addr) bool {
	address = address.Unmap()
	if !address.IsGlobalUnicast() || address.IsPrivate() {
		return false
	}
	for _, prefix := range notPublic {
		if prefix.Contains(address) {
			return false
		}
	}
	return true
}

var errNotPublic = errors.New("the name leads to an address of this machine or of a private network, which this server does not call")

// control looks at the address that a connection is about to be made to, after the name was looked up.
func (r Reach) control(_ context.Context, _, address string, _ syscall.RawConn) error {
	to, err := netip.ParseAddrPort(address)
	if err != nil {
		return fmt.Errorf("read the address %q: %w", address, err)
	}
	if !r.Inside && !public(to.Addr()) {
		return errNotPublic
	}
	return nil
}

// client makes the only client that sends to receivers. It uses no proxy, for that would connect in its stead.
func (r Reach) client(within time.Duration) *http.Client {
	dialer := &net.Dialer{Timeout: connectWithin, ControlContext: r.control}
	return &http.Client{
		Timeout: within,
		Transport: &http.Transport{
			DialContext: dialer.DialContext, TLSHandshakeTimeout: connectWithin, ResponseHeaderTimeout: within,
			MaxIdleConns: 20, MaxIdleConnsPerHost: 1, IdleConnTimeout: time.Minute, MaxResponseHeaderBytes: 16 << 10, ForceAttemptHTTP2: true,
		},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}
