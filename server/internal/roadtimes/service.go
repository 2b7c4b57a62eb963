package roadtimes

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"time"

	"vernation/server/internal/firm"
)

// Format is how a service is asked and answers.
type Format string

// The formats.
const (
	OSRM     Format = "osrm"     // GET /table/v1/{profile}/{coordinates}
	Valhalla Format = "valhalla" // POST /sources_to_targets
)

// Config says which service is asked, and how.
type Config struct {
	// URL is the service's base address, without the part that the format adds. A user and password in it go as basic
	// authentication.
	URL    string
	Format Format
	// Profile is the kind of vehicle in the service's own words; "" is driving for OSRM and auto for Valhalla.
	Profile string
	// Attribution is the notice that the service's data ask for.
	Attribution string
	// EachWithin bounds one request; 0 is 10 s.
	EachWithin time.Duration
	// Side is the most points on either side of one request; 0 is 50, which both kinds of service allow as they come
	// (100 points in one request of the first, 2,500 pairs in one of the second).
	Side int
}

// Service is a matrix service. It is safe for concurrent use.
type Service struct {
	cfg  Config
	base *url.URL
	http *http.Client
}

// Open checks what was configured; it asks nothing yet.
func Open(cfg Config) (*Service, error) {
	base, err := url.Parse(cfg.URL)
	if err != nil || base.Host == "" || base.Scheme != "http" && base.Scheme != "https" || base.RawQuery != "" || base.Fragment != "" {
		return nil, fmt.Errorf("address of the matrix service %q: want scheme and host, such as http://127.0.0.1:5000, and no query", redacted(base, cfg.URL))
	}
	usual := map[Format]string{OSRM: "driving", Valhalla: "auto"}
	if usual[cfg.Format] == "" {
		return nil, fmt.Errorf("format of the matrix service %q: want %s or %s", cfg.Format, OSRM, Valhalla)
	}
	if cfg.Profile == "" {
		cfg.Profile = usual[cfg.Format]
	}
	if cfg.EachWithin == 0 {
		cfg.EachWithin = 10 * time.Second
	}
	if cfg.Side == 0 {
		cfg.Side = 50
	}
	if cfg.Side < 0 {
		return nil, fmt.Errorf("%d points on a side of one request: want 1 or more", cfg.Side)
	}
	return &Service{cfg: cfg, base: base, http: &http.Client{Timeout: cfg.EachWithin}}, nil
}

// redacted hides a password.
func redacted(parsed *url.URL, raw string) string {
	if parsed == nil {
		return raw[:min(len(raw), strings.Index(raw+":", ":"))] + ":..."
	}
	return parsed.Redacted()
}

// Provider names the service and how it is asked, without credentials: times of one provider are comparable.
func (s *Service) Provider() string {
	return fmt.Sprintf("%s %s at %s%s", s.cfg.Format, s.cfg.Profile, s.base.Host, strings.TrimSuffix(s.base.Path, "/"))
}

// Attribution is the notice that the service's data ask for.
func (s *Service) Attribution() string { return s.cfg.Attribution }

// errRefused says that the service does not take this request: another one may do.
var errRefused = errors.New("the matrix service refuses the request")

// Failures of a service as people are told them; what it said besides is for the log.
var (
	ErrSilent     = errors.New("the matrix service did not answer in time")
	ErrAway       = errors.New("the matrix service cannot be reached")
	ErrFails      = errors.New("the matrix service answers with an error of its own")
	ErrUnreadable = errors.New("the matrix service's answer cannot be read")
	ErrRefusesAll = errors.New("the matrix service refuses what it is asked")
)

// mostAnswer bounds what is read of one answer: 2,500 pairs take a quarter of a megabyte.
const mostAnswer = 16 << 20

// block is one request: all ways from some points to some others.
type block struct{ from, to []firm.RoadPoint }

// ask makes one request and returns the times row by row. errRefused is among its failures.
func (s *Service) ask(ctx context.Context, b block) ([]firm.RoadTime, error) {
	build, read := s.osrmRequest, readOSRM
	if s.cfg.Format == Valhalla {
		build, read = s.valhallaRequest, readValhalla
	}
	request, err := build(ctx, b)
	if err != nil {
		return nil, err
	}
	answer, err := s.http.Do(request)
	if err != nil {
		return nil, unanswered(ctx, err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(io.LimitReader(answer.Body, mostAnswer+1))
	switch {
	case err != nil:
		return nil, unanswered(ctx, err)
	case len(body) > mostAnswer:
		return nil, fmt.Errorf("%w: more than %d bytes", ErrUnreadable, mostAnswer)
	}
	switch answer.StatusCode {
	case http.StatusOK:
	case http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusRequestURITooLong:
		return nil, fmt.Errorf("%w: %s: %s", errRefused, answer.Status, beginning(body))
	default:
		return nil, fmt.Errorf("%w: %s: %s", ErrFails, answer.Status, beginning(body))
	}
	times, err := read(body, b)
	if err != nil && !errors.Is(err, errRefused) {
		return nil, fmt.Errorf("%w: %w", ErrUnreadable, err)
	}
	return times, err
}

// unanswered tells a service that is slow from one that is away. The address stays out: it may bear a password.
func unanswered(ctx context.Context, err error) error {
	var failed *url.Error
	if errors.As(err, &failed) {
		err = failed.Err
	}
	var slow interface{ Timeout() bool }
	if ctx.Err() != nil || errors.As(err, &slow) && slow.Timeout() {
		return fmt.Errorf("%w: %w", ErrSilent, err)
	}
	return fmt.Errorf("%w: %w", ErrAway, err)
}

// beginning is enough of an answer for a log.
func beginning(body []byte) string {
	const enough = 200
	return strings.ToValidUTF8(string(body[:min(len(body), enough)]), "?")
}
