package app

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"

	"vernation/server/internal/gateway"
)

// Bounds of the HTTP port.
const (
	headWithin    = 10 * time.Second // a caller may take so long over the head of a request
	requestWithin = time.Minute      // and over all of it
	answerWithin  = 3 * time.Minute  // an answer may take so long; streams as long as they like
	idleWithin    = 2 * time.Minute
	headBytesMax  = 32 << 10
	answerBytes   = 64 << 20 // the greatest answer that is passed on; a plan of several weeks is some megabytes
	pipeBytes     = 1 << 20  // of the connection inside the process
)

// openHTTP opens the HTTP port, whose calls go on to the gRPC server over a connection inside the process.
func (a *App) openHTTP(ctx context.Context, encryption *tls.Config) error {
	if a.cfg.HTTPListen == "" {
		return nil
	}
	a.inside = bufconn.Listen(pipeBytes)
	a.closeLast(a.inside.Close)
	conn, err := grpc.NewClient("passthrough:inside",
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return a.inside.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()), // nothing leaves the process
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(answerBytes)))
	if err != nil {
		return fmt.Errorf("connect the HTTP port: %w", err)
	}
	a.closeLast(conn.Close)
	if a.httpListener, err = listen(ctx, a.cfg.HTTPListen, encryption, "h2", "http/1.1"); err != nil {
		return err
	}
	a.closeLast(closing(a.httpListener))
	ending, end := context.WithCancel(context.WithoutCancel(ctx))
	a.http = &http.Server{
		Handler: gateway.New(gateway.Options{
			Conn: conn, Ready: a.ready, Ending: ending, Metrics: a.measures.Handler(), Origins: a.cfg.HTTPOrigins,
		}),
		ReadHeaderTimeout: headWithin, ReadTimeout: requestWithin, WriteTimeout: answerWithin, IdleTimeout: idleWithin,
		MaxHeaderBytes: headBytesMax, ErrorLog: slog.NewLogLogger(a.cfg.Log.Handler(), slog.LevelDebug),
	}
	a.http.RegisterOnShutdown(end)
	a.closeLast(func() error {
		end() // of a server that never ran
		return nil
	})
	return nil
}

// serveHTTP serves until finish shuts the port down.
func (a *App) serveHTTP() error {
	if err := a.http.Serve(a.httpListener); err != nil && !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve %s: %w", a.HTTPAddress(), err)
	}
	return nil
}

// HTTPAddress is where the HTTP port listens, host:port or unix:PATH; "" when there is none.
func (a *App) HTTPAddress() string { return addressOf(a.httpListener) }

// ready says why the server cannot do its work.
func (a *App) ready(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, askWithin)
	defer cancel()
	select {
	case <-a.ending:
		return errors.New("the server is ending")
	default:
	}
	return a.store.Ready(ctx)
}
