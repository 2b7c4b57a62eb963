package planning

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// MaxIterations bounds what one run may ask for.
const MaxIterations = 10_000_000

// StartRun stores a run and puts it on the queue, in the caller's transaction. An unset first day is today.
//
// Fails with Invalid (INVALID_FIELDS: OUT_OF_RANGE) for a horizon of 0 or more than scheduler.MaxHorizonDays days, a
// first day before today, or neither iterations nor a limit of time.
func StartRun(tx *store.Tx, run firm.PlanRun) (firm.PlanRun, error) {
	var fields []catalogue.FieldError
	wrong := func(path, text string, args ...any) {
		fields = append(fields, catalogue.FieldError{Path: path, Reason: "OUT_OF_RANGE", Text: fmt.Sprintf(text, args...)})
	}
	business, err := tx.Business()
	if err != nil {
		return firm.PlanRun{}, err
	}
	today := business.Zone.DateOf(tx.Now())
	if run.FirstDay.IsZero() {
		run.FirstDay = today
	}
	if run.FirstDay < today {
		wrong("first_on", "%s lies before today, %s: want today or a later day", run.FirstDay, today)
	}
	if run.Days < 1 || run.Days > scheduler.MaxHorizonDays {
		wrong("days", "a horizon of %d days: want 1 to %d", run.Days, scheduler.MaxHorizonDays)
	}
	if run.Iterations < 0 || run.Iterations > MaxIterations || (run.Iterations == 0 && run.Limit <= 0) {
		wrong("max_iterations", "%d iterations and a limit of %v: want 1 to %d iterations, or a limit of time", run.Iterations, run.Limit, MaxIterations)
	}
	if err := fault.InvalidFields(fields); err != nil {
		return firm.PlanRun{}, err
	}
	run.State, run.CreatedAt, run.CreatedBy = firm.RunPending, tx.Now(), tx.Caller().Subject
	if err := tx.InsertPlanRun(run); err != nil {
		return firm.PlanRun{}, err
	}
	return run, tx.EnqueueRun(run.ID)
}

// CancelRun asks the worker of a run to stop. A run that ended stays as it is.
func CancelRun(tx *store.Tx, id string) (firm.PlanRun, error) {
	if err := tx.AskCancel(id); err != nil {
		return firm.PlanRun{}, err
	}
	return tx.PlanRun(id)
}

// lookEvery is how often a working run writes its progress and looks whether it is to stop.
const lookEvery = 500 * time.Millisecond

// Worker carries out runs: ask for road times that are missing, gather, solve, check, keep. It is fenced by attempt: one that
// lost its lease keeps no plan.
func Worker(s *store.Store, roads Roads) func(ctx context.Context, business firm.BusinessID, runID string, attempt int) error {
	return func(ctx context.Context, business firm.BusinessID, runID string, attempt int) error {
		w := work{store: s, roads: roads, caller: firm.Caller{Business: business, Subject: "planner", Role: firm.Office}, run: runID, attempt: attempt}
		return w.carryOut(ctx)
	}
}

type work struct {
	store   *store.Store
	roads   Roads
	caller  firm.Caller
	run     string
	attempt int

	mu        sync.Mutex
	progress  store.RunProgress
	cancelled bool
}

func (w *work) carryOut(ctx context.Context) error {
	var run firm.PlanRun
	var gathered Gathered
	missed, err := w.roads.refresh(ctx, w.store, w.caller)
	if err != nil {
		return w.fail(ctx, err)
	}
	err = w.store.Reading(ctx, w.caller, func(tx *store.Tx) (err error) {
		if run, err = tx.PlanRun(w.run); err != nil || run.CancelAsked {
			return err
		}
		gathered, err = Gather(tx, run.FirstDay, run.Days)
		return err
	})
	if err != nil {
		return w.fail(ctx, err)
	}
	gathered = gathered.with(run.Events)
	gathered.Travel.Failure = missed
	if run.CancelAsked {
		return w.finish(ctx, firm.RunCancelled, nil, "")
	}
	options := optionsOf(run, gathered.Rates)
	if err := w.keepProblem(ctx, gathered.Problem, options); err != nil {
		return w.fail(ctx, err)
	}
	plan, err := w.solve(ctx, gathered.Problem, options)
	switch {
	case w.cancelled:
		return w.finish(ctx, firm.RunCancelled, nil, "")
	case ctx.Err() != nil:
		return ctx.Err() // the lease is lost or the server stops: somebody else goes on
	case err != nil:
		return w.fail(ctx, err)
	}
	if broken := decided(scheduler.Check(gathered.Problem, plan)); len(broken) > 0 {
		return w.fail(ctx, fmt.Errorf("the plan breaks its own rules, which is an error of the program: %v", broken))
	}
	nameVisits(&plan, run.ID, gathered.Problem.Before)
	kept := firm.KeptPlan{
		ID: run.ID, Run: run.ID, FirstDay: run.FirstDay, Days: run.Days, MadeAt: gathered.Problem.Now,
		Plan: plan, Versions: gathered.Versions, Travel: gathered.Travel, FollowUps: gathered.Problem.FollowUps,
	}
	return w.finish(ctx, firm.RunDone, &kept, "")
}

// islands are the searches side by side of a run: a machine that serves has two cores at least, and on one it only takes longer.
const islands = 2

// optionsOf are those of a run. A limit without iterations is time alone.
func optionsOf(run firm.PlanRun, rates scheduler.Rates) scheduler.Options {
	return scheduler.Options{Seed: run.Seed, Iterations: run.Iterations, Limit: run.Limit, Islands: islands, Rates: rates}
}

// solve searches while a second goroutine writes the progress and looks whether the run is to stop.
func (w *work) solve(ctx context.Context, problem scheduler.Problem, options scheduler.Options) (scheduler.Plan, error) {
	searching, stop := context.WithCancel(ctx)
	var watching sync.WaitGroup
	watching.Go(func() { w.watch(searching, stop) })
	options.Report = func(p scheduler.Progressed) {
		w.mu.Lock()
		defer w.mu.Unlock()
		w.progress = store.RunProgress{IterationsDone: p.Iteration, Best: p.Best, Bound: p.Bound}
	}
	plan, err := scheduler.Solve(searching, problem, options)
	stop()
	watching.Wait()
	return plan, err
}

func (w *work) watch(ctx context.Context, stop func()) {
	ticker := time.NewTicker(lookEvery)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
		w.mu.Lock()
		progress := w.progress
		w.mu.Unlock()
		var cancelAsked bool
		err := w.store.In(ctx, w.caller, func(tx *store.Tx) (err error) {
			cancelAsked, err = tx.UpdateRunProgress(w.run, w.attempt, progress)
			return err
		})
		if cancelAsked || fault.Is(err, fault.Stale) {
			w.cancelled = cancelAsked
			stop()
			return
		}
	}
}

// finish ends the run and keeps its plan in one transaction.
func (w *work) finish(ctx context.Context, state firm.RunState, kept *firm.KeptPlan, failure string) error {
	return w.store.In(ctx, w.caller, func(tx *store.Tx) error {
		plan := ""
		if kept != nil {
			plan = kept.ID
			if err := tx.InsertPlan(*kept); err != nil {
				return err
			}
			w.mu.Lock()
			progress := w.progress
			w.mu.Unlock()
			progress.IterationsDone, progress.Best, progress.Bound = kept.Plan.Iterations, kept.Plan.Cost, kept.Plan.Bound
			if _, err := tx.UpdateRunProgress(w.run, w.attempt, progress); err != nil {
				return err
			}
		}
		// Every business plans, so this is where answers to repeated requests are forgotten in time.
		if _, err := tx.DropForgotten(); err != nil {
			return err
		}
		return tx.FinishRun(w.run, w.attempt, state, plan, failure)
	})
}

// fail ends the run with a sentence. What passes by itself (the store away, the lease lost) is left for another try.
func (w *work) fail(ctx context.Context, cause error) error {
	var invalid *scheduler.InvalidProblem
	f := fault.Of(cause)
	switch {
	case errors.As(cause, &invalid), f.Kind != fault.Internal && f.Kind != fault.Away:
		if err := w.finish(ctx, firm.RunFailed, nil, cause.Error()); err != nil {
			return err
		}
		return nil
	case f.Kind == fault.Away || ctx.Err() != nil:
		return cause
	}
	if err := w.finish(ctx, firm.RunFailed, nil, "the plan could not be made: an error of the program; the log has it"); err != nil {
		return err
	}
	return cause
}

// decided keeps the violations that a plan's own decisions make; standing facts never block it.
func decided(violations []scheduler.Violation) []scheduler.Violation {
	var own []scheduler.Violation
	for _, v := range violations {
		if !v.Standing {
			own = append(own, v)
		}
	}
	return own
}
