package client

import (
	"context"
	"errors"
	"fmt"
	"time"

	vernationv1 "vernation/proto/vernation/v1"
)

// How often a plan run is asked how far it is: often at first, for short ones.
const (
	askRunAfter    = 20 * time.Millisecond
	askRunAfterMax = time.Second
)

// The ends of a plan run without a plan.
var (
	ErrPlanRunFailed    = errors.New("the plan run failed")
	ErrPlanRunCancelled = errors.New("the plan run was cancelled")
)

// AwaitPlan waits until a run has made its plan and gives it. progress, nil or not, hears of the run each time that it
// was asked for, the last time included: its iteration, the best cost so far and the bound. A run that ends without a
// plan is ErrPlanRunFailed, with its reason, or ErrPlanRunCancelled. When the context ends the run goes on; CancelPlanRun
// ends it.
func (c *Client) AwaitPlan(ctx context.Context, run string, progress func(*vernationv1.PlanRun)) (*vernationv1.Plan, error) {
	for pause := askRunAfter; ; pause = min(pause*3/2, askRunAfterMax) {
		at, err := c.Plans().GetPlanRun(ctx, &vernationv1.GetPlanRunRequest{Name: run})
		if err != nil {
			return nil, wrapped("wait for "+run, err)
		}
		if progress != nil {
			progress(at)
		}
		switch at.GetState() {
		case vernationv1.PlanRunState_PLAN_RUN_STATE_DONE:
			return c.Plans().GetPlan(ctx, &vernationv1.GetPlanRequest{Name: at.GetPlan()})
		case vernationv1.PlanRunState_PLAN_RUN_STATE_FAILED:
			return nil, fmt.Errorf("%w: %s", ErrPlanRunFailed, at.GetFailure())
		case vernationv1.PlanRunState_PLAN_RUN_STATE_CANCELLED:
			return nil, ErrPlanRunCancelled
		}
		if !slept(ctx, pause) {
			return nil, wrapped("wait for "+run, ctx.Err())
		}
	}
}
