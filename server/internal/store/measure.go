package store

import (
	"context"
	"database/sql"
	"sync"
	"time"
)

// Waiting is what waits and is worked on in the queue, over all servers and businesses: numbers only.
type Waiting struct {
	RunsWaiting int // plan runs that nobody works on
	RunsWorking int
	RunsLost    int           // plan runs whose worker is gone and that no sweep has found yet
	LatestBy    time.Duration // how long past its time the run that waits longest has waited; 0 when none is late
	Queue       []QueueDepth
}

// QueueDepth counts what stands in the queue of one kind in one state, the finished left out.
type QueueDepth struct {
	Kind, State string
	Count       int
}

const runsWaitingSQL = `
SELECT
	count(*) FILTER (WHERE holder IS NULL)                            AS waiting,
	count(*) FILTER (WHERE holder IS NOT NULL AND lease_until >= $1)  AS working,
	count(*) FILTER (WHERE holder IS NOT NULL AND lease_until < $1)   AS lost,
	coalesce(greatest(extract(epoch FROM $1 - min(lease_until) FILTER (WHERE holder IS NULL)), 0), 0)::double precision AS late
FROM queue.plan_run_lease`

const queueDepthSQL = `
SELECT kind, state::text AS state, count(*) AS count
FROM queue.river_job
WHERE state IN ('available', 'pending', 'retryable', 'running', 'scheduled')
GROUP BY kind, state
ORDER BY kind, state`

// Waiting counts what waits and is worked on.
func (s *Store) Waiting(ctx context.Context) (Waiting, error) {
	var counted struct {
		Waiting, Working, Lost int
		Late                   float64
	}
	tx, err := s.db.BeginTxx(ctx, &sql.TxOptions{ReadOnly: true}) // one connection for both, behind a pooler too
	if err != nil {
		return Waiting{}, failure(ctx, err)
	}
	defer tx.Rollback()
	if err := tx.GetContext(ctx, &counted, runsWaitingSQL, time.Now()); err != nil {
		return Waiting{}, failure(ctx, err)
	}
	waiting := Waiting{
		RunsWaiting: counted.Waiting, RunsWorking: counted.Working, RunsLost: counted.Lost,
		LatestBy: time.Duration(counted.Late * float64(time.Second)),
	}
	if err := tx.SelectContext(ctx, &waiting.Queue, queueDepthSQL); err != nil {
		return Waiting{}, failure(ctx, err)
	}
	return waiting, failure(ctx, tx.Commit())
}

// Pool counts the connections to the database.
func (s *Store) Pool() sql.DBStats { return s.db.Stats() }

// Ready says why the store cannot do its work: the database does not answer, its schema is older than this server, or
// the queue cannot be read. It names no detail of the database's, for probes of anybody's may ask.
func (s *Store) Ready(ctx context.Context) error {
	if err := s.Ping(ctx); err != nil {
		s.log.WarnContext(ctx, "not ready", "cause", err)
		return notReady("the database does not answer")
	}
	if err := s.refuseOldSchema(ctx); err != nil {
		s.log.WarnContext(ctx, "not ready", "cause", err)
		return notReady("the schema of the database is older than this server")
	}
	if _, err := s.Waiting(ctx); err != nil {
		s.log.WarnContext(ctx, "not ready", "cause", err)
		return notReady("the queue does not answer")
	}
	return nil
}

// notReady is why a server is not ready.
type notReady string

// Error says it.
func (n notReady) Error() string { return string(n) }

// searched counts the rounds of the plan runs that this process works on.
type searched struct {
	mu    sync.Mutex
	total int64
	known map[string]int // rounds of each run in work
}

// told takes the rounds that a run has done so far.
func (s *searched) told(run string, rounds int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.known == nil {
		s.known = map[string]int{}
	}
	s.total += int64(max(0, rounds-s.known[run]))
	s.known[run] = rounds
}

// over forgets a run.
func (s *searched) over(run string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.known, run)
}

// Rounds counts the rounds that this process has searched since it began.
func (s *Store) Rounds() int64 {
	s.rounds.mu.Lock()
	defer s.rounds.mu.Unlock()
	return s.rounds.total
}
