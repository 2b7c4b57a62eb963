package rpc

import (
	"fmt"
	"testing"
	"time"

	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

func TestPace_RefusesWhatIsTooOftenAndSaysWhenAgain(t *testing.T) {
	t.Parallel()
	p, now := newPace(2), time.Now()
	one := firm.Caller{Business: "demo", Subject: "a", Role: firm.Technician}
	for i := range 2 * burstSeconds {
		if err := p.allow(one, now); err != nil {
			t.Fatalf("call %d at once: %v", i+1, err)
		}
	}
	for range 3 { // refused calls cost nothing
		f := fault.Of(p.allow(one, now))
		if f.Kind != fault.Spent || f.Reason != "TOO_MANY_CALLS" || f.RetryAfter != time.Second/2 {
			t.Fatalf("one too many: %v, again after %s; want half a second", f, f.RetryAfter)
		}
	}
	if err := p.allow(firm.Caller{Business: "other", Subject: "a", Role: firm.Technician}, now); err != nil {
		t.Errorf("somebody else: %v", err)
	}
	if err := p.allow(one, now.Add(time.Second/2)); err != nil {
		t.Errorf("when it was told to: %v", err)
	}
}

func TestPace_RemembersABoundedNumberAndThoseThatCallMuch(t *testing.T) {
	t.Parallel()
	p, now := newPace(1), time.Now()
	busy := firm.Caller{Business: "demo", Subject: "busy"}
	for range burstSeconds {
		if err := p.allow(busy, now); err != nil {
			t.Fatal(err)
		}
	}
	for i := range 3 * pacedMost {
		if err := p.allow(firm.Caller{Business: "demo", Subject: fmt.Sprint(i)}, now); err != nil {
			t.Fatal(err)
		}
		if i%(pacedMost/2) == 0 && p.allow(busy, now) == nil {
			t.Fatalf("after %d others it is forgotten", i)
		}
	}
	if known := len(p.young) + len(p.older); known > 2*pacedMost {
		t.Errorf("it remembers %d, want %d at most", known, 2*pacedMost)
	}
}
