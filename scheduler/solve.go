package scheduler

import (
	"context"
	"math"
	"time"

	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/internal/search"
)

// Solve plans: who does which follow-up and service, when, and by which way.
//
// It is anytime: it ends after Options.Iterations rounds, at Options.Limit, or when ctx is done, and the plan in hand is
// lawful whenever that is; stopping takes under 50 ms. For a seed and a number of iterations the plan is the same on every
// machine, Elapsed apart; where a limit or ctx strikes first it is not repeatable.
//
// What cannot be planned is in Plan.Unplanned with its reasons, never an error. The only errors are *InvalidProblem, for
// a Problem that Validate refuses, and that of a ctx that was done before anything was planned.
func Solve(ctx context.Context, p Problem, o Options) (Plan, error) {
	if err := ctx.Err(); err != nil {
		return Plan{}, err
	}
	began := time.Now()
	prepared, err := Prepare(p, o.Rates)
	if err != nil {
		return Plan{}, err
	}
	return prepared.solve(ctx, o, began)
}

// Solve is the function Solve on what was prepared: the same plan. Its prices are those of Prepare; Options.Rates is not read.
func (p *Prepared) Solve(ctx context.Context, o Options) (Plan, error) {
	if err := ctx.Err(); err != nil {
		return Plan{}, err
	}
	return p.solve(ctx, o, time.Now())
}

// forReasons is what a limit of time leaves to say why items are not planned, a tenth of it at most.
const forReasons = 150 * time.Millisecond

func (p *Prepared) solve(ctx context.Context, o Options, began time.Time) (Plan, error) {
	if o.Limit > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithDeadline(ctx, began.Add(o.Limit))
		defer cancel()
	}
	c := p.compiled
	limits := search.Limits{Seed: o.Seed, Iterations: o.Iterations, Islands: o.Islands}
	limits.Hurry = func() bool { return ctx.Err() != nil }
	limits.Stop = limits.Hurry
	if o.Limit > 0 {
		searched := o.Limit - min(o.Limit/10, forReasons)
		limits.Stop = func() bool { return ctx.Err() != nil || time.Since(began) >= searched }
		if o.Iterations == 0 {
			limits.Iterations = math.MaxInt / 64 // the time alone bounds it
			limits.Spent = func() float64 { return float64(time.Since(began)) / float64(searched) }
		}
	}
	if o.Report != nil {
		limits.Report = func(iteration int, state *schedule.State, cost search.Cost) {
			best := c.cost(state)
			o.Report(Progressed{Iteration: iteration, Best: best, Bound: p.bound})
		}
	}
	answer := search.Run(c.in, limits)
	plan := c.assemble(answer)
	plan.Bound = p.bound
	plan.Gap = plan.Cost.Total - p.bound
	plan.Iterations = answer.Iterations
	plan.Seed = o.Seed
	plan.Elapsed = time.Since(began)
	return plan, nil
}
