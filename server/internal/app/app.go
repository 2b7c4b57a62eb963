package app

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"
	"google.golang.org/grpc/health"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/test/bufconn"

	"vernation/server/internal/identity"
	"vernation/server/internal/rpc"
	"vernation/server/internal/store"
	"vernation/server/internal/telemetry"
)

// Times of the machine's clock.
const (
	askEvery     = time.Second      // how often the store is asked whether it answers
	askWithin    = 2 * time.Second  // how long it may take
	finishWithin = 15 * time.Second // how long calls in flight may take once the server ends
)

// App is a server: its parts, opened.
type App struct {
	cfg      Config
	ownerURL string
	serveURL string
	// runFolder is that of a private database's run; "" on a database of somebody's own.
	runFolder string
	keyFile   string
	keys      *identity.File
	store     *store.Store
	measures  *telemetry.Measures
	listener  net.Listener
	server    *grpc.Server
	health    *health.Server
	// The HTTP port; nil without one. Its calls reach the server over inside.
	httpListener net.Listener
	http         *http.Server
	inside       *bufconn.Listener
	ending       chan struct{}  // closes when the server ends
	closers      []func() error // in the order of opening
}

// Open opens the parts and the address; callers wait at it until Run. What it opened it closes when it fails.
func Open(ctx context.Context, cfg Config) (*App, error) {
	cfg, err := cfg.complete()
	if err != nil {
		return nil, err
	}
	a := &App{cfg: cfg, health: health.NewServer(), ending: make(chan struct{})}
	if err := a.open(ctx); err != nil {
		return nil, errors.Join(err, a.Close())
	}
	return a, nil
}

func (a *App) open(ctx context.Context) error {
	encryption, err := a.cfg.certificate()
	if err != nil {
		return err
	}
	if err := a.openDatabase(ctx); err != nil {
		return err
	}
	if err := a.openKeys(); err != nil {
		return err
	}
	a.measures = telemetry.NewMeasures(a.store)
	if a.listener, err = listen(ctx, a.cfg.Listen, encryption, "h2"); err != nil {
		return err
	}
	a.closeLast(closing(a.listener))
	options, err := a.openTraces(ctx)
	if err != nil {
		return err
	}
	frame := rpc.Frame{
		Keys: a.keys, Ring: a.store, Clock: a.cfg.Clock, Log: a.cfg.Log, CallsPerSecond: a.cfg.CallsPerSecond,
		RowSecurityAlone: a.cfg.RowSecurityAlone, Unary: a.measures.Unary(), Stream: a.measures.Stream(),
	}
	a.server = rpc.NewServer(frame, a.services(), options...)
	grpc_health_v1.RegisterHealthServer(a.server, a.health)
	reflection.Register(a.server)
	a.announce(grpc_health_v1.HealthCheckResponse_NOT_SERVING)
	return a.openHTTP(ctx, encryption)
}

// openTraces begins to trace where the environment says where to.
func (a *App) openTraces(ctx context.Context) ([]grpc.ServerOption, error) {
	traces, err := telemetry.OpenTraces(ctx)
	if err != nil || traces == nil {
		return nil, err
	}
	a.closeLast(func() error {
		within, cancel := context.WithTimeout(context.WithoutCancel(ctx), askWithin)
		defer cancel()
		if err := traces.Close(within); err != nil { // a collector that is away must not fail the end of the server
			a.cfg.Log.WarnContext(within, "the last traces are lost", "cause", err)
		}
		return nil
	})
	return []grpc.ServerOption{traces.Option()}, nil
}

// closing closes a listener that Run may have closed already.
func closing(listener net.Listener) func() error {
	return func() error {
		if err := listener.Close(); !errors.Is(err, net.ErrClosed) {
			return err
		}
		return nil
	}
}

// closeLast adds something to close, before all that was added earlier.
func (a *App) closeLast(closer func() error) { a.closers = append(a.closers, closer) }

// Close closes what is open, the latest first. It may be called more than once.
func (a *App) Close() error {
	var errs []error
	for _, closer := range slices.Backward(a.closers) {
		errs = append(errs, closer())
	}
	a.closers = nil
	return errors.Join(errs...)
}

// Address is where the server listens, as clients dial it: host:port or unix:PATH.
func (a *App) Address() string { return addressOf(a.listener) }

func addressOf(listener net.Listener) string {
	switch {
	case listener == nil:
		return ""
	case listener.Addr().Network() == "unix":
		return unixScheme + listener.Addr().String()
	}
	return listener.Addr().String()
}

// Keys are those that the server judges tokens by.
func (a *App) Keys() *identity.Keys { return a.keys.Current() }

// KeyFile is where the keys stand.
func (a *App) KeyFile() string { return a.keyFile }

// OwnerURL is the address of the schema's owner, "" when the server was not told.
func (a *App) OwnerURL() string { return a.ownerURL }

// ServeURL is the address of the login that serves.
func (a *App) ServeURL() string { return a.serveURL }

// Run serves until the context ends, then lets the calls in flight finish and returns nil. It returns an error
// when a part fails; then all others have ended too. It is called once.
func (a *App) Run(ctx context.Context) error {
	group, ctx := errgroup.WithContext(ctx)
	group.Go(func() error { return a.serve(a.listener) })
	if a.http != nil {
		group.Go(func() error { return a.serve(a.inside) })
		group.Go(a.serveHTTP)
	}
	group.Go(func() error {
		<-ctx.Done()
		a.finish()
		return nil
	})
	group.Go(func() error {
		a.watch(ctx)
		return nil
	})
	for _, work := range a.workers() {
		group.Go(func() error {
			if err := work(ctx); err != nil && ctx.Err() == nil {
				return err
			}
			return nil
		})
	}
	a.cfg.Log.InfoContext(ctx, "serving", "address", a.Address(), "http", a.HTTPAddress(), "tls", a.cfg.TLSCert != "")
	return group.Wait()
}

// serve takes calls until finish stops the server.
func (a *App) serve(listener net.Listener) error {
	if err := a.server.Serve(listener); err != nil && !errors.Is(err, grpc.ErrServerStopped) {
		return fmt.Errorf("serve %s: %w", addressOf(listener), err)
	}
	return nil
}

// finish tells probes that the server goes, takes no new calls and waits for those in flight, but not for ever.
func (a *App) finish() {
	a.cfg.Log.Info("ending: no new calls, waiting for those in flight", "within", finishWithin.String())
	close(a.ending) // streams would never finish of themselves
	a.health.Shutdown()
	cut := time.AfterFunc(finishWithin, a.server.Stop)
	defer cut.Stop()
	a.finishHTTP()
	a.server.GracefulStop()
}

// finishHTTP lets the calls of the HTTP port finish, and cuts those that do not.
func (a *App) finishHTTP() {
	if a.http == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), finishWithin)
	defer cancel()
	if err := a.http.Shutdown(ctx); err != nil {
		a.cfg.Log.Warn("calls over HTTP are cut", "cause", err)
		_ = a.http.Close() // its listener is closed already
	}
}

// watch keeps the health service true: serving means that the store answers.
func (a *App) watch(ctx context.Context) {
	ticker := time.NewTicker(askEvery)
	defer ticker.Stop()
	for answered := false; ; {
		err := a.askStore(ctx)
		if ctx.Err() != nil {
			return
		}
		if answers := err == nil; answers != answered {
			answered = answers
			if answers {
				a.announce(grpc_health_v1.HealthCheckResponse_SERVING)
			} else {
				a.announce(grpc_health_v1.HealthCheckResponse_NOT_SERVING)
				a.cfg.Log.ErrorContext(ctx, "the store does not answer", "cause", err)
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
	}
}

func (a *App) askStore(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, askWithin)
	defer cancel()
	return a.store.Ping(ctx)
}

// announce sets the state of the server as a whole ("") and of each of its services.
func (a *App) announce(state grpc_health_v1.HealthCheckResponse_ServingStatus) {
	a.health.SetServingStatus("", state)
	for name := range a.server.GetServiceInfo() {
		a.health.SetServingStatus(name, state)
	}
}
