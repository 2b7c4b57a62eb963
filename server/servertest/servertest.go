package servertest

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/app"
	"vernation/server/internal/firm"
	"vernation/testdata"
)

// Of the business that every Server holds.
const (
	// Business is its id.
	Business = "demo-rounds"
	// Zone is its time zone.
	Zone = "America/New_York"

	tokenLife = time.Hour
)

// Noon is when the firm's clock stands at first: Monday 2 March 2026, 12:00 in the business's zone.
var Noon = time.Date(2026, time.March, 2, 17, 0, 0, 0, time.UTC)

// Server is a running server.
type Server struct {
	app   *app.App
	clock *firm.Clock
	stop  context.CancelFunc
	ended chan error
}

// Open starts a server and returns once it listens; client.Dial waits until it serves.
func Open(ctx context.Context) (*Server, error) {
	s := &Server{clock: &firm.Clock{}, ended: make(chan error, 1)}
	s.SetClock(Noon)
	var err error
	if s.app, err = app.Open(ctx, app.Config{HTTPListen: "", Planner: true, Clock: s.clock}); err != nil {
		return nil, fmt.Errorf("open a server to test against: %w", err)
	}
	_, err = app.Load(ctx, s.app.OwnerURL(), s.app.ServeURL(), "testdata/demo.yaml", testdata.DemoBusiness, slog.New(slog.DiscardHandler))
	if err != nil {
		return nil, errors.Join(err, s.app.Close())
	}
	serving, stop := context.WithCancel(context.WithoutCancel(ctx))
	s.stop = stop
	go func() { s.ended <- s.app.Run(serving) }()
	return s, nil
}

// Close ends the server and its PostgreSQL, and returns what went wrong while it served.
func (s *Server) Close() error {
	s.stop()
	return errors.Join(<-s.ended, s.app.Close())
}

// Target is where it listens, for client.Dial.
func (s *Server) Target() string { return s.app.Address() }

// SetClock moves the firm's clock. That of the machine, which tokens and leases go by, is never moved.
func (s *Server) SetClock(to time.Time) { s.clock.Set(civil.InstantOf(to)) }

// OfficeToken is a token of the office.
func (s *Server) OfficeToken() (string, error) {
	return s.token(firm.Caller{Subject: "office", Role: firm.Office})
}

// TechnicianToken is a token of a technician of the business, tech-a or tech-b, with the right of the responsible
// applicator or without.
func (s *Server) TechnicianToken(id string, responsibleApplicator bool) (string, error) {
	return s.token(firm.Caller{
		Subject: id, Role: firm.Technician, Technician: scheduler.TechnicianID(id), ResponsibleApplicator: responsibleApplicator,
	})
}

// IntegrationToken is a token of a program of the business's own.
func (s *Server) IntegrationToken() (string, error) {
	return s.token(firm.Caller{Subject: "site-system", Role: firm.Integration})
}

func (s *Server) token(caller firm.Caller) (string, error) {
	caller.Business = Business
	return s.app.Keys().Issue(caller, tokenLife)
}
