package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"

	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

const (
	// queueSchema holds the queue library's tables and the leases.
	queueSchema = "queue"
	// queueWait is how long a queued run is the queue's before it is queued again.
	queueWait = 20 * time.Second
	// mostAttempts bounds how many workers may be lost over one run.
	mostAttempts = 5
	// mostSwept bounds how many runs one sweep queues again.
	mostSwept = 100
	// jobTimeout and rescueAfter are the queue library's own bounds; the lease acts long before them.
	jobTimeout  = 30 * time.Minute
	rescueAfter = 35 * time.Minute
)

// runArgs is all that the queue carries: which run of which business.
type runArgs struct {
	Business string `json:"business_id"`
	Run      string `json:"plan_run_id"`
}

// Kind names the kind of job for the queue.
func (runArgs) Kind() string { return "plan_run" }

const insertLeaseSQL = `INSERT INTO queue.plan_run_lease (business_id, plan_run_id, attempt, lease_until) VALUES ($1, $2, 0, $3)`

// EnqueueRun queues a run in the transaction that wrote it down: both come true or neither does.
func (tx *Tx) EnqueueRun(id string) error {
	if _, err := tx.exec(insertLeaseSQL, id, time.Now().Add(queueWait)); err != nil {
		return err
	}
	_, err := tx.store.queue.InsertTx(tx.ctx, tx.sql.Tx, runArgs{Business: string(tx.caller.Business), Run: id}, nil)
	return failure(tx.ctx, err)
}

// WorkOptions steer a worker. Zero values are the usual ones.
type WorkOptions struct {
	Name        string        // of this server among those that work; required
	Lease       time.Duration // a run is another worker's when its lease was not renewed so long, by the servers' clocks; 15 s
	Renew       time.Duration // how often a lease is renewed, and lost ones are looked for; 5 s
	Poll        time.Duration // how often the queue is looked at; 1 s
	Concurrency int           // runs at one time; 1
}

// usual fills in what is not set. A killed worker's run begins elsewhere after at most Lease + Renew + Poll, 21 s.
func (o WorkOptions) usual() WorkOptions {
	if o.Lease <= 0 {
		o.Lease = 15 * time.Second
	}
	if o.Renew <= 0 {
		o.Renew = 5 * time.Second
	}
	if o.Poll <= 0 {
		o.Poll = time.Second
	}
	if o.Concurrency <= 0 {
		o.Concurrency = 1
	}
	return o
}

// Worker works on one attempt of a run. Its context ends when the lease is lost or the server stops. It ends the run
// itself with FinishRun; an error, or coming back without having ended it, fails the run with what the error may tell.
type Worker = func(ctx context.Context, business firm.BusinessID, runID string, attempt int) error

// Work works on queued runs of all businesses until the context ends, one run of a business at a time. A worker that
// dies loses its lease, and any other takes its run up with the next attempt. At the end running workers are told to
// stop and their runs are handed on.
func (s *Store) Work(ctx context.Context, worker Worker, options WorkOptions) error {
	options = options.usual()
	workers := river.NewWorkers()
	if err := river.AddWorkerSafely(workers, &runWorker{store: s, work: worker, options: options, stopping: ctx}); err != nil {
		return fmt.Errorf("naming the worker to the queue: %w", err)
	}
	client, err := river.NewClient(riverdatabasesql.New(s.loose.DB), &river.Config{
		ID:                   options.Name,
		Schema:               queueSchema,
		Queues:               map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: options.Concurrency}},
		Workers:              workers,
		PollOnly:             true, // the driver hears no notifications
		FetchPollInterval:    options.Poll,
		FetchCooldown:        min(options.Poll, river.FetchCooldownDefault),
		JobTimeout:           jobTimeout,
		RescueStuckJobsAfter: rescueAfter,
		ReindexerIndexNames:  []string{}, // only an owner can reindex
		Logger:               s.log,
	})
	if err != nil {
		return fmt.Errorf("opening the queue: %w", err)
	}
	// The queue is stopped below, after its workers have handed on what they had; not by the context under them.
	if err := client.Start(context.WithoutCancel(ctx)); err != nil {
		return fmt.Errorf("starting on the queue: %w", err)
	}
	s.sweepUntil(ctx, options)
	stopCtx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 30*time.Second)
	defer cancel()
	if err := client.StopAndCancel(stopCtx); err != nil {
		return fmt.Errorf("stopping the queue: %w", err)
	}
	return nil
}

// sweepUntil queues lost runs again, now and then, until the context ends.
func (s *Store) sweepUntil(ctx context.Context, options WorkOptions) {
	ticker := time.NewTicker(options.Renew)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
		if swept, err := s.sweep(ctx); err != nil && ctx.Err() == nil {
			s.log.Warn("lost plan runs could not be looked for", "err", err)
		} else if swept > 0 {
			s.log.Info("plan runs whose worker was lost were queued again", "runs", swept)
		}
	}
}

// sweepSQL takes runs whose time is over from whoever had them. Sweepers of other servers pass over locked rows.
const sweepSQL = `
UPDATE queue.plan_run_lease AS l
SET
	holder = NULL,
	lease_until = $2
FROM (
	SELECT business_id, plan_run_id
	FROM queue.plan_run_lease
	WHERE lease_until < $1
	ORDER BY lease_until, business_id, plan_run_id
	LIMIT $3
	FOR UPDATE SKIP LOCKED
) AS lost
WHERE l.business_id = lost.business_id AND l.plan_run_id = lost.plan_run_id
RETURNING l.business_id AS business, l.plan_run_id AS run`

// sweep queues again the runs whose lease has passed and returns how many.
func (s *Store) sweep(ctx context.Context) (int, error) {
	tx, err := s.db.BeginTxx(ctx, nil)
	if err != nil {
		return 0, failure(ctx, err)
	}
	defer tx.Rollback()
	var lost []runArgs
	now := time.Now()
	rows := []struct{ Business, Run string }{}
	if err := tx.SelectContext(ctx, &rows, sweepSQL, now, now.Add(queueWait), mostSwept); err != nil {
		return 0, failure(ctx, err)
	}
	for _, row := range rows {
		lost = append(lost, runArgs{Business: row.Business, Run: row.Run})
	}
	jobs := make([]river.InsertManyParams, len(lost))
	for i, args := range lost {
		jobs[i].Args = args
	}
	if len(jobs) > 0 {
		if _, err := s.queue.InsertManyTx(ctx, tx.Tx, jobs); err != nil {
			return 0, failure(ctx, err)
		}
	}
	return len(lost), failure(ctx, tx.Commit())
}

// runWorker is what the queue calls.
type runWorker struct {
	river.WorkerDefaults[runArgs]
	store    *Store
	work     Worker
	options  WorkOptions
	stopping context.Context // ends when the server stops
}

// Work takes one run up, unless it is finished or held; one that must wait for another of its business comes again.
func (w *runWorker) Work(ctx context.Context, job *river.Job[runArgs]) error {
	l := lease{store: w.store, caller: workerOf(job.Args.Business), run: job.Args.Run, holder: w.options.Name, lasts: w.options.Lease}
	claim, err := l.take(ctx)
	if err != nil {
		return err
	}
	switch claim {
	case claimWaits:
		return river.JobSnooze(w.options.Poll)
	case claimGone:
		return nil
	}
	working, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	defer context.AfterFunc(w.stopping, func() { stop(errStopping) })()
	renewed := make(chan struct{})
	go func() { defer close(renewed); l.keep(working, stop, w.options.Renew) }()
	failed := guarded(working, w.work, l)
	cause := context.Cause(working)
	stop(nil)
	<-renewed
	cleaning, cancel := context.WithTimeout(context.WithoutCancel(ctx), l.lasts)
	defer cancel()
	switch {
	case errors.Is(cause, errLeaseLost):
		return nil
	case cause != nil:
		return l.handOn(cleaning)
	}
	return l.failUnfinished(cleaning, failed)
}

var (
	errLeaseLost = errors.New("the lease of the plan run was lost")
	errStopping  = errors.New("the server stops")
)

// workerOf is the caller that a worker is to the business whose run it has.
func workerOf(business string) firm.Caller {
	return firm.Caller{Business: firm.BusinessID(business), Subject: "planning", Role: firm.Office}
}

// guarded works and turns a panic into an error: the run must end.
func guarded(ctx context.Context, work Worker, l lease) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the worker panicked: %v", r)
		}
	}()
	return work(ctx, l.caller.Business, l.run, l.attempt)
}

// claim is what came of asking for a run.
type claim int

const (
	claimTaken claim = iota // it is this worker's
	claimWaits              // another run of the business is worked on
	claimGone               // it is finished, or another worker has it
)

// lease is one worker's hold on one run.
type lease struct {
	store   *Store
	caller  firm.Caller
	run     string
	holder  string
	lasts   time.Duration
	attempt int
}

// lockLeasesSQL locks all unfinished runs of the business, so that two workers never choose at the same time.
const lockLeasesSQL = `
SELECT plan_run_id AS run, attempt, (holder IS NOT NULL AND lease_until >= $2) AS held
FROM queue.plan_run_lease
WHERE business_id = $1
ORDER BY plan_run_id
FOR UPDATE`

const (
	freeLeasesSQL = `
UPDATE queue.plan_run_lease
SET holder = NULL
WHERE business_id = $1 AND holder IS NOT NULL AND lease_until < $2`

	waitLeaseSQL = `UPDATE queue.plan_run_lease SET lease_until = $3 WHERE business_id = $1 AND plan_run_id = $2`

	takeLeaseSQL = `
UPDATE queue.plan_run_lease
SET
	holder = $3,
	attempt = $4,
	lease_until = $5
WHERE business_id = $1 AND plan_run_id = $2`

	beginAttemptSQL = `
UPDATE plan_run
SET
	state = 'running',
	attempt = $3
WHERE business_id = $1 AND plan_run_id = $2 AND state IN ('pending', 'running')`
)

// take claims the run; attempt is set when it is taken.
func (l *lease) take(ctx context.Context) (claim, error) {
	result := claimGone
	err := l.store.In(ctx, l.caller, func(tx *Tx) error {
		now := time.Now()
		rows, err := list[struct {
			Run     string
			Attempt int
			Held    bool
		}](tx, lockLeasesSQL, now)
		if err != nil {
			return err
		}
		result = claimGone
		othersHeld := false
		for _, row := range rows {
			switch {
			case row.Run != l.run:
				othersHeld = othersHeld || row.Held
			case !row.Held:
				result, l.attempt = claimTaken, row.Attempt+1
			}
		}
		if result == claimTaken && othersHeld {
			result = claimWaits
			_, err := tx.exec(waitLeaseSQL, l.run, now.Add(queueWait))
			return err
		}
		if result == claimTaken {
			result, err = l.begin(tx, now)
		}
		return err
	})
	return result, err
}

// begin makes the run this worker's, or gives it up when too many were lost over it.
func (l *lease) begin(tx *Tx, now time.Time) (claim, error) {
	if _, err := tx.exec(freeLeasesSQL, now); err != nil {
		return claimGone, err
	}
	if l.attempt > mostAttempts {
		err := tx.FinishRun(l.run, l.attempt-1, firm.RunFailed, "", fmt.Sprintf("given up after %d attempts: each worker that took the run up was lost before it had a plan", mostAttempts))
		return claimGone, err
	}
	begun, err := tx.exec(beginAttemptSQL, l.run, l.attempt)
	if err != nil {
		return claimGone, err
	}
	if begun == 0 { // finished meanwhile
		_, err := tx.exec(dropLeaseSQL, l.run)
		return claimGone, err
	}
	_, err = tx.exec(takeLeaseSQL, l.run, l.holder, l.attempt, now.Add(l.lasts))
	return claimTaken, err
}

const renewLeaseSQL = `
UPDATE queue.plan_run_lease
SET lease_until = $4
WHERE business_id = $1 AND plan_run_id = $2 AND attempt = $3 AND holder = $5`

// keep renews the lease until the context ends, and stops the worker when it is lost: taken by another, the run ended
// from elsewhere, or not renewed in time because the database was away.
func (l *lease) keep(ctx context.Context, stop context.CancelCauseFunc, every time.Duration) {
	ticker := time.NewTicker(every)
	defer ticker.Stop()
	holds := time.Now().Add(l.lasts)
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
		until := time.Now().Add(l.lasts)
		held, err := l.hold(ctx, until)
		switch {
		case ctx.Err() != nil:
			return
		case err == nil && held:
			holds = until
		case err == nil, time.Now().After(holds):
			stop(errLeaseLost)
			return
		default:
			l.store.log.Warn("the lease of a plan run could not be renewed", "run", l.run, "err", err)
		}
	}
}

// hold sets until when the lease lasts; false when it is not this worker's any more.
func (l *lease) hold(ctx context.Context, until time.Time) (bool, error) {
	held := 0
	err := l.store.In(ctx, l.caller, func(tx *Tx) (err error) {
		held, err = tx.exec(renewLeaseSQL, l.run, l.attempt, until, l.holder)
		return err
	})
	return held > 0, err
}

const handOnSQL = `
UPDATE queue.plan_run_lease
SET
	holder = NULL,
	lease_until = $4
WHERE business_id = $1 AND plan_run_id = $2 AND attempt = $3 AND holder = $5`

// handOn gives the run back, so that another server takes it up at once.
func (l *lease) handOn(ctx context.Context) error {
	return l.store.In(ctx, l.caller, func(tx *Tx) error {
		now := time.Now()
		given, err := tx.exec(handOnSQL, l.run, l.attempt, now.Add(queueWait), l.holder)
		if err != nil || given == 0 {
			return err
		}
		_, err = tx.store.queue.InsertTx(tx.ctx, tx.sql.Tx, runArgs{Business: string(l.caller.Business), Run: l.run}, nil)
		return failure(tx.ctx, err)
	})
}

// failUnfinished fails a run that its worker came back from without an end.
func (l *lease) failUnfinished(ctx context.Context, why error) error {
	sentence := "the run ended without a plan"
	if why != nil {
		l.store.log.Error("a plan run failed", "run", l.run, "attempt", l.attempt, "err", why)
		sentence = fault.Of(why).Message
	}
	err := l.store.In(ctx, l.caller, func(tx *Tx) error {
		return tx.FinishRun(l.run, l.attempt, firm.RunFailed, "", sentence)
	})
	if fault.Of(err).Kind == fault.Stale { // it had ended it, as it should
		return nil
	}
	return err
}
