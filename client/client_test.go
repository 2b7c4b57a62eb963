package client_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"math/big"
	"net"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/health"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	"vernation/client"
	vernationv1 "vernation/proto/vernation/v1"
)

// sites answers GetSite: away for so many calls, then the token that came.
type sites struct {
	vernationv1.UnimplementedSiteServiceServer
	away  atomic.Int32
	calls atomic.Int32
}

func (s *sites) GetSite(ctx context.Context, _ *vernationv1.GetSiteRequest) (*vernationv1.Site, error) {
	s.calls.Add(1)
	if s.away.Add(-1) >= 0 {
		return nil, status.Error(codes.Unavailable, "the store is away")
	}
	return &vernationv1.Site{DisplayName: strings.Join(metadata.ValueFromIncomingContext(ctx, "authorization"), "|")}, nil
}

// serve starts a server on an address and returns its health service and where it listens.
func serve(t *testing.T, network, address string, handler *sites, options ...grpc.ServerOption) (*health.Server, string) {
	t.Helper()
	listener, err := net.Listen(network, address)
	if err != nil {
		t.Fatal(err)
	}
	server := grpc.NewServer(options...)
	states := health.NewServer()
	grpc_health_v1.RegisterHealthServer(server, states)
	vernationv1.RegisterSiteServiceServer(server, handler)
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	t.Cleanup(func() {
		server.Stop()
		if err := <-served; err != nil {
			t.Errorf("Serve: %v", err)
		}
	})
	return states, listener.Addr().String()
}

func dial(t *testing.T, target string, options ...client.Option) *client.Client {
	t.Helper()
	c, err := client.Dial(t.Context(), target, options...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

func TestDial_SendsTheTokenWithEachCall(t *testing.T) {
	t.Parallel()
	socket := filepath.Join(t.TempDir(), "s")
	serve(t, "unix", socket, &sites{})
	_, address := serve(t, "tcp", "127.0.0.1:0", &sites{})
	for _, target := range []string{"unix:" + socket, address, "dns:///" + address} {
		c := dial(t, target, client.WithToken("a.b.c"))
		site, err := c.Sites().GetSite(t.Context(), &vernationv1.GetSiteRequest{})
		if err != nil || site.GetDisplayName() != "Bearer a.b.c" {
			t.Errorf("%s: the server saw %q, %v; want Bearer a.b.c", target, site.GetDisplayName(), err)
		}
	}
}

func TestDial_AsksForAFreshTokenForEachCall(t *testing.T) {
	t.Parallel()
	_, address := serve(t, "tcp", "127.0.0.1:0", &sites{})
	tokens := make(chan string, 3)
	tokens <- "of the health check"
	tokens <- "first"
	tokens <- "second"
	c := dial(t, address, client.WithTokens(func(context.Context) (string, error) { return <-tokens, nil }))
	for _, want := range []string{"Bearer first", "Bearer second"} {
		site, err := c.Sites().GetSite(t.Context(), &vernationv1.GetSiteRequest{})
		if err != nil || site.GetDisplayName() != want {
			t.Errorf("the server saw %q, %v; want %s", site.GetDisplayName(), err, want)
		}
	}
}

func TestClient_RepeatsACallToAServerThatIsAway(t *testing.T) {
	t.Parallel()
	handler := &sites{}
	_, address := serve(t, "tcp", "127.0.0.1:0", handler)
	c := dial(t, address)
	handler.away.Store(2)
	if _, err := c.Sites().GetSite(t.Context(), &vernationv1.GetSiteRequest{}); err != nil {
		t.Errorf("two failures were not outlasted: %v", err)
	}
	if calls := handler.calls.Load(); calls != 3 {
		t.Errorf("%d calls, want 3", calls)
	}
	// Not for ever: 4 attempts in all.
	handler.calls.Store(0)
	handler.away.Store(100)
	if _, err := c.Sites().GetSite(t.Context(), &vernationv1.GetSiteRequest{}); status.Code(err) != codes.Unavailable {
		t.Errorf("GetSite = %v, want UNAVAILABLE", err)
	}
	if calls := handler.calls.Load(); calls != 4 {
		t.Errorf("%d calls, want 4", calls)
	}
}

func TestDial_WaitsUntilTheServerServes(t *testing.T) {
	t.Parallel()
	states, address := serve(t, "tcp", "127.0.0.1:0", &sites{})
	states.SetServingStatus("", grpc_health_v1.HealthCheckResponse_NOT_SERVING)
	ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer cancel()
	if _, err := client.Dial(ctx, address); !errors.Is(err, context.DeadlineExceeded) && status.Code(err) != codes.DeadlineExceeded {
		t.Errorf("Dial to a server that does not serve = %v, want the deadline", err)
	}
	time.AfterFunc(100*time.Millisecond, func() { states.SetServingStatus("", grpc_health_v1.HealthCheckResponse_SERVING) })
	dial(t, address)
}

func TestDial_SaysWhereNobodyListens(t *testing.T) {
	t.Parallel()
	socket := "unix:" + filepath.Join(t.TempDir(), "nobody")
	ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer cancel()
	if _, err := client.Dial(ctx, socket); err == nil || !strings.Contains(err.Error(), socket) {
		t.Errorf("Dial = %v, want an error that names %s", err, socket)
	}
}

// certificate makes a certificate for 127.0.0.1 that signs itself.
func certificate(t *testing.T) (tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	parsed, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(parsed)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, pool
}

func TestDial_RecognisesTheServerOverTLS(t *testing.T) {
	t.Parallel()
	own, trusted := certificate(t)
	_, address := serve(t, "tcp", "127.0.0.1:0", &sites{}, grpc.Creds(credentials.NewServerTLSFromCert(&own)))
	c := dial(t, address, client.WithTLS(&tls.Config{RootCAs: trusted}), client.WithToken("a.b.c"))
	site, err := c.Sites().GetSite(t.Context(), &vernationv1.GetSiteRequest{})
	if err != nil || site.GetDisplayName() != "Bearer a.b.c" {
		t.Errorf("GetSite = %v, %v", site, err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	if _, err := client.Dial(ctx, address, client.WithTLS(&tls.Config{RootCAs: x509.NewCertPool()})); err == nil {
		t.Error("a server whose certificate nobody vouches for was believed")
	}
}
