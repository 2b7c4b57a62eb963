package demo

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"vernation/client"
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/firm"
)

// Stage is what the story is acted out on: a server that holds the demo's business.
type Stage struct {
	Target string // address of the server
	// Token signs a token for a caller.
	Token func(firm.Caller) (string, error)
	// SetClock moves the firm's clock.
	SetClock func(time.Time)
	Out      io.Writer
}

// The demo's business and the people of its story.
const (
	Business   = firm.BusinessID("demo-rounds")
	zoneName   = "America/New_York"
	horizon    = 14
	iterations = 2000 // of the plans that are told
	quickly    = 80   // of those that only go on from week to week
)

// Callers of the story, each with a token of its own.
var (
	Office      = firm.Caller{Business: Business, Subject: "office", Role: firm.Office}
	Applicator  = firm.Caller{Business: Business, Subject: "tech-a", Role: firm.Technician, Technician: "tech-a", ResponsibleApplicator: true}
	Integration = firm.Caller{Business: Business, Subject: "site-system", Role: firm.Integration}
)

// story is the demo under way.
type story struct {
	stage       Stage
	zone        *time.Location
	now         time.Time
	office      *client.Client
	technician  *client.Client // the responsible applicator, who also works
	integration *client.Client

	places   places
	mealybug string // case names
	gnats    string
	lobby    string
	plan     *vernationv1.Plan // published last
	reports  int
	said     map[string]bool // cautions of this scene
}

// Run acts out the story and returns when it is told.
func Run(ctx context.Context, stage Stage) error {
	s := &story{stage: stage}
	if err := s.enter(ctx); err != nil {
		return err
	}
	defer s.leave()
	for _, scene := range []struct {
		title string
		play  func(context.Context) error
	}{
		{"The business", s.describePremises},
		{"The office: what was found", s.findings},
		{"The office: the course of each case", s.courses},
		{"The responsible applicator: what may be applied", s.approvals},
		{"The office: a plan over two weeks", s.firstPlan},
		{"A technician: the day route of Tuesday 3 March", s.dayRoute},
		{"An integration: what really happened", s.reality},
		{"The office: the courses have changed, a new plan follows", s.secondPlan},
		{"The weeks after: the rest of the course, and the end of the case", s.ending},
	} {
		s.heading(scene.title)
		if err := scene.play(ctx); err != nil {
			return fmt.Errorf("scene %q: %w", scene.title, err)
		}
	}
	return nil
}

func (s *story) enter(ctx context.Context) (err error) {
	if s.zone, err = time.LoadLocation(zoneName); err != nil {
		return err
	}
	for _, who := range []struct {
		caller firm.Caller
		into   **client.Client
	}{{Office, &s.office}, {Applicator, &s.technician}, {Integration, &s.integration}} {
		token, err := s.stage.Token(who.caller)
		if err != nil {
			return err
		}
		if *who.into, err = client.Dial(ctx, s.stage.Target, client.WithToken(token)); err != nil {
			return err
		}
	}
	s.moveClock(time.Date(2026, time.March, 2, 12, 0, 0, 0, s.zone))
	return nil
}

func (s *story) leave() {
	for _, c := range []*client.Client{s.office, s.technician, s.integration} {
		if c != nil {
			_ = c.Close() // the story is told: nothing hangs on it
		}
	}
}

func (s *story) moveClock(to time.Time) {
	s.now = to
	s.stage.SetClock(to)
}

// at is a wall-clock time of the business's zone in March to June 2026.
func (s *story) at(month time.Month, day, hour, minute int) time.Time {
	return time.Date(2026, month, day, hour, minute, 0, 0, s.zone)
}

func stamp(t time.Time) *timestamppb.Timestamp { return timestamppb.New(t) }

// requestID is the same for the same words, so that the demo sends the same requests each time.
func requestID(words ...any) string {
	sum := sha256.Sum256([]byte(fmt.Sprintln(words...)))
	return fmt.Sprintf("%x-%x-%x-%x-%x", sum[0:4], sum[4:6], sum[6:8], sum[8:10], sum[10:16])
}

// name builds a resource name of the demo's business.
func name(parts ...string) string {
	full := "businesses/" + string(Business)
	for _, part := range parts {
		full += "/" + part
	}
	return full
}
