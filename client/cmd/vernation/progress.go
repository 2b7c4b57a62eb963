package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	vernationv1 "vernation/proto/vernation/v1"
)

// progress shows how far a plan is: on a terminal as one line that is written anew, else only the end.
type progress struct {
	out      io.Writer
	terminal bool
	began    time.Time
	now      func() time.Time
	last     string
}

const barCells = 24

// show hears of the run.
func (p *progress) show(run *vernationv1.PlanRun) {
	share := 0.0
	if most := run.GetMaxIterations(); most > 0 {
		share = float64(run.GetIteration()) / float64(most)
	}
	if limit := run.GetTimeLimit().AsDuration(); limit > 0 {
		share = max(share, float64(p.now().Sub(p.began))/float64(limit))
	}
	if run.GetState() == vernationv1.PlanRunState_PLAN_RUN_STATE_DONE {
		share = 1
	}
	cells := int(barCells * min(share, 1))
	p.last = fmt.Sprintf("%s, %d rounds", enumText(run, "state"), run.GetIteration())
	if run.GetBest() != nil {
		p.last += fmt.Sprintf(", cost %s, none below %s", money(run.GetBest().GetTotalMinor()), money(run.GetBoundMinor()))
	}
	if p.terminal {
		_, _ = fmt.Fprintf(p.out, "\r\x1b[K[%s%s] %s", strings.Repeat("#", cells), strings.Repeat(".", barCells-cells), p.last)
	}
}

// end leaves what was shown last.
func (p *progress) end() {
	if p.terminal {
		_, _ = fmt.Fprintln(p.out)
		return
	}
	_, _ = fmt.Fprintf(p.out, "plan run: %s\n", p.last)
}
