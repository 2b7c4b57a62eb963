package app

import (
	"context"
	"errors"
	"fmt"
	"net"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/health"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/reflection"

	"vernation/server/internal/identity"
	"vernation/server/internal/rpc"
	"vernation/server/internal/store"
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
	keys      *identity.Keys
	store     *store.Store
	listener  net.Listener
	server    *grpc.Server
	health    *health.Server
	ending    chan struct{}  // closes when the server ends
	closers   []func() error // in the order of opening
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
	encryption, err := a.cfg.tls()
	if err != nil {
		return err
	}
	if err := a.openDatabase(ctx); err != nil {
		return err
	}
	if err := a.openKeys(); err != nil {
		return err
	}
	if a.listener, err = a.cfg.listen(ctx); err != nil {
		return err
	}
	a.closeLast(func() error {
		if err := a.listener.Close(); !errors.Is(err, net.ErrClosed) { // Run has closed it already
			return err
		}
		return nil
	})
	var options []grpc.ServerOption
	if encryption != nil {
		options = append(options, grpc.Creds(credentials.NewTLS(encryption)))
	}
	a.server = rpc.NewServer(rpc.Frame{Keys: a.keys, Clock: a.cfg.Clock, Log: a.cfg.Log}, a.services(), options...)
	grpc_health_v1.RegisterHealthServer(a.server, a.health)
	reflection.Register(a.server)
	a.announce(grpc_health_v1.HealthCheckResponse_NOT_SERVING)
	return nil
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
func (a *App) Address() string {
	if a.listener.Addr().Network() == "unix" {
		return unixScheme + a.listener.Addr().String()
	}
	return a.listener.Addr().String()
}

// Keys are those that the server judges tokens by.
func (a *App) Keys() *identity.Keys { return a.keys }

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
	group.Go(func() error {
		if err := a.server.Serve(a.listener); err != nil && !errors.Is(err, grpc.ErrServerStopped) {
			return fmt.Errorf("serve %s: %w", a.Address(), err)
		}
		return nil
	})
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
	a.cfg.Log.InfoContext(ctx, "serving", "address", a.Address(), "tls", a.cfg.TLSCert != "")
	return group.Wait()
}

// finish tells probes that the server goes, takes no new calls and waits for those in flight, but not for ever.
func (a *App) finish() {
	a.cfg.Log.Info("ending: no new calls, waiting for those in flight", "within", finishWithin.String())
	close(a.ending) // streams would never finish of themselves
	a.health.Shutdown()
	cut := time.AfterFunc(finishWithin, a.server.Stop)
	defer cut.Stop()
	a.server.GracefulStop()
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
