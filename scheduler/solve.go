package scheduler

import (
	"context"
	"time"

	"vernation/scheduler/internal/bound"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/internal/search"
	"vernation/scheduler/quantity"
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
	if err := p.Validate(); err != nil {
		return Plan{}, err
	}
	began := time.Now()
	if o.Limit > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, o.Limit)
		defer cancel()
	}
	c := compile(&p, &o.Rates)
	least := quantity.Money(bound.Of(c.in))
	limits := search.Limits{Seed: o.Seed, Iterations: o.Iterations, Stop: func() bool { return ctx.Err() != nil }}
	if o.Report != nil {
		limits.Report = func(iteration int, state *schedule.State, cost search.Cost) {
			best := c.cost(state)
			o.Report(Progressed{Iteration: iteration, Best: best, Bound: least})
		}
	}
	answer := search.Run(c.in, limits)
	plan := c.assemble(answer)
	plan.Bound = least
	plan.Gap = plan.Cost.Total - least
	plan.Iterations = answer.Iterations
	plan.Seed = o.Seed
	plan.Elapsed = time.Since(began)
	return plan, nil
}
