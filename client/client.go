package client

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/status"
)

// Bounds of a connection.
const (
	receiveBytesMax = 16 << 20 // a plan of several weeks is some megabytes
	askAgainAfter   = 50 * time.Millisecond
	// ReadyWithin is how long Dial waits for the server when its context has no deadline.
	ReadyWithin = 10 * time.Second
)

// serviceConfig spreads calls over all addresses of a name and repeats those that met a server that is away.
// Repeating is safe: requests that change something carry a request id.
// See https://github.com/grpc/grpc/blob/master/doc/service_config.md.
const serviceConfig = `{
	"loadBalancingConfig": [{"round_robin": {}}],
	"methodConfig": [{
		"name": [{}],
		"retryPolicy": {"maxAttempts": 4, "initialBackoff": "0.1s", "maxBackoff": "2s", "backoffMultiplier": 2, "retryableStatusCodes": ["UNAVAILABLE"]}
	}]
}`

// Client calls a server as one caller. It may be used from several goroutines.
type Client struct{ conn *grpc.ClientConn }

// Option is a choice of Dial.
type Option func(*choices)

type choices struct {
	token     func(context.Context) (string, error)
	tls       *tls.Config
	plaintext bool
	within    time.Duration
}

// WithToken sends the same token with every call; it ends the calls when it expires.
func WithToken(token string) Option {
	return WithTokens(func(context.Context) (string, error) { return token, nil })
}

// WithTokens asks for the token of each call, so that an expiring one can be replaced.
func WithTokens(token func(context.Context) (string, error)) Option {
	return func(c *choices) { c.token = token }
}

// WithTLS sets how the server is recognised: root certificates, its name. Unset, a remote server must have a
// certificate that the machine trusts.
func WithTLS(config *tls.Config) Option { return func(c *choices) { c.tls = config } }

// WithPlaintext allows a remote server without TLS. The token and all that is said can then be read on the way:
// for a network that is protected otherwise.
func WithPlaintext() Option { return func(c *choices) { c.plaintext = true } }

// Dial connects to host:port, unix:PATH or any other target of gRPC, and waits until the server says that it
// serves, at most until the context ends (ReadyWithin when it has no deadline). It talks in plain text to this
// machine and over TLS to others.
func Dial(ctx context.Context, target string, options ...Option) (*Client, error) {
	chosen := choices{within: CallWithin}
	for _, option := range options {
		option(&chosen)
	}
	dialOptions := []grpc.DialOption{
		grpc.WithDefaultServiceConfig(serviceConfig),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(receiveBytesMax)),
		grpc.WithChainUnaryInterceptor(bounded(chosen.within), identified),
	}
	encrypted := chosen.tls != nil || !chosen.plaintext && !local(target)
	if encrypted {
		dialOptions = append(dialOptions, grpc.WithTransportCredentials(credentials.NewTLS(chosen.tls)))
	} else {
		dialOptions = append(dialOptions, grpc.WithTransportCredentials(insecure.NewCredentials()))
	}
	if chosen.token != nil {
		dialOptions = append(dialOptions, grpc.WithPerRPCCredentials(bearer{chosen.token, encrypted}))
	}
	conn, err := grpc.NewClient(target, dialOptions...)
	if err != nil {
		return nil, fmt.Errorf("dial %s: %w", target, err)
	}
	if err := awaitReady(ctx, conn); err != nil {
		return nil, errors.Join(fmt.Errorf("dial %s: %w", target, err), conn.Close())
	}
	return &Client{conn}, nil
}

// awaitReady asks the health service until it says that the server serves. A server that has no such service,
// behind a proxy perhaps, is taken to serve once it answers.
func awaitReady(ctx context.Context, conn *grpc.ClientConn) error {
	if _, ok := ctx.Deadline(); !ok {
		limited, cancel := context.WithTimeout(ctx, ReadyWithin)
		defer cancel()
		ctx = limited
	}
	for {
		answer, err := grpc_health_v1.NewHealthClient(conn).Check(ctx, &grpc_health_v1.HealthCheckRequest{}, grpc.WaitForReady(true))
		if err == nil && answer.GetStatus() == grpc_health_v1.HealthCheckResponse_SERVING || status.Code(err) == codes.Unimplemented {
			return nil
		}
		if err != nil && status.Code(err) != codes.Unavailable {
			return fmt.Errorf("ask whether the server serves: %w", err)
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("the server answers that it does not serve yet: %w", ctx.Err())
		case <-time.After(askAgainAfter):
		}
	}
}

// local says whether a target is on this machine: a unix socket or the loopback.
func local(target string) bool {
	if strings.HasPrefix(target, "unix:") {
		return true
	}
	if _, rest, ok := strings.Cut(target, ":///"); ok {
		target = rest
	}
	host, _, err := net.SplitHostPort(target)
	if err != nil {
		return false
	}
	address := net.ParseIP(host)
	return host == "localhost" || address != nil && address.IsLoopback()
}

// bearer puts the token into the metadata (RFC 6750, section 2.1).
type bearer struct {
	token     func(context.Context) (string, error)
	encrypted bool
}

// GetRequestMetadata is asked by gRPC before each call.
func (b bearer) GetRequestMetadata(ctx context.Context, _ ...string) (map[string]string, error) {
	token, err := b.token(ctx)
	if err != nil {
		return nil, fmt.Errorf("token: %w", err)
	}
	return map[string]string{"authorization": "Bearer " + token}, nil
}

// RequireTransportSecurity keeps the token off an unencrypted connection unless that was chosen.
func (b bearer) RequireTransportSecurity() bool { return b.encrypted }

// Close ends the connection and the calls in flight.
func (c *Client) Close() error { return c.conn.Close() }

// Conn is the connection, for services beside the contract such as health and reflection.
func (c *Client) Conn() grpc.ClientConnInterface { return c.conn }
