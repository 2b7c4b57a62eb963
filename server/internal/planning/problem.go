package planning

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"

	"vernation/scheduler"
	"vernation/scheduler/exchange"
	"vernation/server/internal/store"
)

// keepProblem keeps what a run has to plan, with the options of its search, so that it can be replayed and judged later, when
// the business has moved on. What is no valid Problem is not kept: the run fails of it and says why.
func (w *work) keepProblem(ctx context.Context, problem scheduler.Problem, options scheduler.Options) error {
	var document bytes.Buffer
	packed := gzip.NewWriter(&document)
	err := errors.Join(exchange.WriteProblem(packed, problem, options), packed.Close())
	if invalid := (*scheduler.InvalidProblem)(nil); errors.As(err, &invalid) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("write the problem of plan run %s: %w", w.run, err)
	}
	return w.store.In(ctx, w.caller, func(tx *store.Tx) error { return tx.KeepProblem(w.run, w.attempt, document.Bytes()) })
}

// WriteProblem writes what a run had to plan as a Problem file (package exchange), with the options of its search.
//
// NotFound where no worker has taken the run up yet, and of a run that failed for its Problem was not valid.
func WriteProblem(tx *store.Tx, run string, to io.Writer) error {
	document, err := tx.Problem(run)
	if err != nil {
		return err
	}
	unpacked, err := gzip.NewReader(bytes.NewReader(document))
	if err != nil {
		return fmt.Errorf("the problem of plan run %s: %w", run, err)
	}
	if _, err = io.Copy(to, unpacked); err != nil {
		return fmt.Errorf("the problem of plan run %s: %w", run, err)
	}
	return nil
}

// WritePlan writes the plan that a run made as a plan file (package exchange). NotFound where it made none.
func WritePlan(tx *store.Tx, run string, to io.Writer) error {
	kept, err := tx.PlanRun(run)
	if err != nil {
		return err
	}
	plan, err := tx.Plan(kept.Plan)
	if err != nil {
		return err
	}
	return exchange.WritePlan(to, plan.Plan)
}
