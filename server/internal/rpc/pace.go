package rpc

import (
	"context"
	"math"
	"sync"
	"time"

	"golang.org/x/time/rate"
	"google.golang.org/grpc"

	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

const (
	// burstSeconds is for how many seconds' calls a credential may come at once: a technician's app after a day without signal.
	burstSeconds = 5
	// pacedMost bounds how many credentials one generation remembers; there are two.
	pacedMost = 10_000
)

// pace bounds the calls of each credential. It remembers those that called lately: when a generation is full the one
// before is forgotten, so that memory is bounded and whoever calls much is never forgotten.
type pace struct {
	perSecond int

	mu           sync.Mutex
	young, older map[credential]*rate.Limiter
}

// credential tells callers apart: two tokens of one person are one.
type credential struct {
	business firm.BusinessID
	role     firm.Role
	subject  string
}

// newPace makes a pace; nil for 0 bounds nothing.
func newPace(perSecond int) *pace {
	if perSecond == 0 {
		return nil
	}
	return &pace{perSecond: perSecond, young: map[credential]*rate.Limiter{}}
}

// allow is nil when the caller may call now, else a Spent fault that says when.
func (p *pace) allow(caller firm.Caller, now time.Time) error {
	if p == nil {
		return nil
	}
	place := p.limiter(credential{caller.Business, caller.Role, caller.Subject}).ReserveN(now, 1)
	wait := place.DelayFrom(now)
	if wait <= 0 {
		return nil
	}
	place.CancelAt(now)
	f := fault.New(fault.Spent, "TOO_MANY_CALLS", "this credential calls more than %d times a second: want the next call after %s",
		p.perSecond, time.Duration(math.Ceil(wait.Seconds()*1000))*time.Millisecond)
	f.RetryAfter = wait
	return f
}

// limiter is that of a credential.
func (p *pace) limiter(of credential) *rate.Limiter {
	p.mu.Lock()
	defer p.mu.Unlock()
	if known, ok := p.young[of]; ok {
		return known
	}
	known, ok := p.older[of]
	if !ok {
		known = rate.NewLimiter(rate.Limit(p.perSecond), burstSeconds*p.perSecond)
	}
	if len(p.young) >= pacedMost {
		p.young, p.older = map[credential]*rate.Limiter{}, p.young
	}
	p.young[of] = known
	return known
}

// bounded gives a call an end where its caller gave none, so that nothing runs for nobody.
func bounded(ctx context.Context, request any, _ *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	ctx, cancel := context.WithTimeout(ctx, callWithin)
	defer cancel()
	return next(ctx, request)
}
