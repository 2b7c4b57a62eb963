package store

import (
	"strconv"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

const insertPlanRunSQL = `
INSERT INTO plan_run (
	business_id, plan_run_id, state, first_day_on, days, seed, iterations, limit_ms, iterations_done, best, bound_minor,
	cancel_asked, attempt, failure, created_at, created_by, events
) VALUES ($1, $2, 'pending', $3, $4, $5, $6, $7, 0, $8, 0, false, 0, '', $9, $10, $11)`

// InsertPlanRun writes down that a plan is asked for; the run is pending, with no progress and attempt 0, whatever is given.
func (tx *Tx) InsertPlanRun(run firm.PlanRun) error {
	created, by := run.CreatedAt, run.CreatedBy
	if created.IsZero() {
		created = tx.now
	}
	if by == "" {
		by = tx.caller.Subject
	}
	_, err := tx.exec(insertPlanRunSQL, run.ID, date(run.FirstDay), run.Days, strconv.FormatUint(run.Seed, 10),
		run.Iterations, run.Limit.Milliseconds(), jsonOf(scheduler.Cost{}), instant(created), by, jsonOf(run.Events))
	return err
}

type planRunRow struct {
	ID             string `db:"plan_run_id"`
	State          string
	FirstDay       date `db:"first_day_on"`
	Days           int
	Seed           uint64
	Iterations     int
	LimitMS        int64 `db:"limit_ms"`
	IterationsDone int   `db:"iterations_done"`
	Best           document[scheduler.Cost]
	Bound          int64 `db:"bound_minor"`
	CancelAsked    bool  `db:"cancel_asked"`
	Attempt        int
	Plan           text `db:"plan_id"`
	Failure        string
	CreatedAt      instant `db:"created_at"`
	CreatedBy      string  `db:"created_by"`
	Events         document[firm.Events]
}

// value is the row as the firm speaks of it.
func (r planRunRow) value() firm.PlanRun {
	return firm.PlanRun{
		ID: r.ID, State: firm.RunState(r.State), FirstDay: civil.Date(r.FirstDay), Days: r.Days, Seed: r.Seed,
		Iterations: r.Iterations, Limit: time.Duration(r.LimitMS) * time.Millisecond,
		IterationsDone: r.IterationsDone, Best: r.Best.value, Bound: quantity.Money(r.Bound), CancelAsked: r.CancelAsked,
		Attempt: r.Attempt, Plan: string(r.Plan), Failure: r.Failure, CreatedAt: civil.Instant(r.CreatedAt), CreatedBy: r.CreatedBy,
		Events: r.Events.value,
	}
}

const planRunColumnsSQL = `
SELECT
	plan_run_id,
	state,
	first_day_on,
	days,
	seed,
	iterations,
	limit_ms,
	iterations_done,
	best,
	bound_minor,
	cancel_asked,
	attempt,
	plan_id,
	failure,
	created_at,
	created_by,
	events
FROM plan_run
WHERE business_id = $1 `

// PlanRun returns a run.
func (tx *Tx) PlanRun(id string) (firm.PlanRun, error) {
	row, err := one[planRunRow](tx, "plan run", id, planRunColumnsSQL+`AND plan_run_id = $2`, id)
	return row.value(), err
}

// RunProgress is how far a run has come.
type RunProgress struct {
	IterationsDone int
	Best           scheduler.Cost
	Bound          quantity.Money
}

const updateRunProgressSQL = `
UPDATE plan_run
SET
	iterations_done = $4,
	best = $5,
	bound_minor = $6
WHERE business_id = $1 AND plan_run_id = $2 AND attempt = $3 AND state IN ('pending', 'running')
RETURNING cancel_asked`

// UpdateRunProgress writes down how far a run has come and says whether the office asked for its end. Stale when the
// attempt is no longer the run's: another worker has it, or it is finished.
func (tx *Tx) UpdateRunProgress(id string, attempt int, p RunProgress) (cancelAsked bool, err error) {
	rows, err := list[bool](tx, updateRunProgressSQL, id, attempt, p.IterationsDone, jsonOf(p.Best), int64(p.Bound))
	if err != nil {
		return false, err
	}
	if len(rows) == 0 {
		tx.store.rounds.over(tx.runKey(id))
		return false, attemptOver(id, attempt)
	}
	tx.store.rounds.told(tx.runKey(id), p.IterationsDone)
	return rows[0], nil
}

// runKey names a run among those of all businesses.
func (tx *Tx) runKey(id string) string { return string(tx.caller.Business) + "/" + id }

const keepProblemSQL = `
INSERT INTO plan_run_problem (business_id, plan_run_id, document)
SELECT business_id, plan_run_id, $4
FROM plan_run
WHERE business_id = $1 AND plan_run_id = $2 AND attempt = $3 AND state IN ('pending', 'running')
ON CONFLICT (business_id, plan_run_id) DO UPDATE SET document = EXCLUDED.document`

// KeepProblem keeps what an attempt at a run has to plan, in the place of what an earlier one had. Stale when the attempt is no
// longer the run's.
func (tx *Tx) KeepProblem(id string, attempt int, document []byte) error {
	kept, err := tx.exec(keepProblemSQL, id, attempt, document)
	if err == nil && kept == 0 {
		return attemptOver(id, attempt)
	}
	return err
}

const problemSQL = `SELECT document FROM plan_run_problem WHERE business_id = $1 AND plan_run_id = $2`

// Problem returns what KeepProblem has kept; NotFound before a worker has taken the run up.
func (tx *Tx) Problem(run string) (document []byte, err error) {
	return one[[]byte](tx, "problem of plan run", run, problemSQL, run)
}

const finishRunSQL = `
UPDATE plan_run
SET
	state = $4,
	plan_id = $5,
	failure = $6
WHERE business_id = $1 AND plan_run_id = $2 AND attempt = $3 AND state IN ('pending', 'running')`

const dropLeaseSQL = `DELETE FROM queue.plan_run_lease WHERE business_id = $1 AND plan_run_id = $2`

// FinishRun ends a run: done with a plan, failed with a sentence, or cancelled. Stale when the attempt is no longer the
// run's; the transaction is then to be left without a trace, the plan that it was about to keep included.
func (tx *Tx) FinishRun(id string, attempt int, state firm.RunState, plan, failure string) error {
	tx.store.rounds.over(tx.runKey(id))
	finished, err := tx.exec(finishRunSQL, id, attempt, string(state), text(plan), failure)
	if err != nil {
		return err
	}
	if finished == 0 {
		return attemptOver(id, attempt)
	}
	_, err = tx.exec(dropLeaseSQL, id)
	return err
}

// attemptOver is the failure of a worker that lost its run.
func attemptOver(id string, attempt int) error {
	f := fault.New(fault.Stale, "ATTEMPT_OVER", "attempt %d of plan run %q is over: another worker has taken it up, or it is finished", attempt, id)
	f.Subject = id
	return f
}

const askCancelSQL = `
UPDATE plan_run
SET
	cancel_asked = true,
	state = CASE state WHEN 'pending' THEN 'cancelled' ELSE state END -- nobody works on it yet
WHERE business_id = $1 AND plan_run_id = $2 AND state IN ('pending', 'running')
RETURNING state`

// AskCancel asks for a run's end: a pending one is cancelled at once, a running one by its worker at the next look, a
// finished one stays as it is. NotFound when there is none.
func (tx *Tx) AskCancel(id string) error {
	states, err := list[string](tx, askCancelSQL, id)
	if err != nil {
		return err
	}
	if len(states) == 0 {
		_, err := tx.PlanRun(id)
		return err
	}
	if states[0] == string(firm.RunCancelled) {
		_, err = tx.exec(dropLeaseSQL, id)
	}
	return err
}

const insertPlanSQL = `
INSERT INTO plan (business_id, plan_id, plan_run_id, first_day_on, days, made_at, plan, versions, follow_ups, travel)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`

// InsertPlan keeps a plan for good; PublishedAt is not its to say.
func (tx *Tx) InsertPlan(p firm.KeptPlan) error {
	made := p.MadeAt
	if made.IsZero() {
		made = tx.now
	}
	_, err := tx.exec(insertPlanSQL, p.ID, text(p.Run), date(p.FirstDay), p.Days, instant(made),
		jsonOf(p.Plan), jsonOf(p.Versions), jsonOf(p.FollowUps), jsonOf(p.Travel))
	return err
}

type planRow struct {
	ID          string  `db:"plan_id"`
	Run         text    `db:"plan_run_id"`
	FirstDay    date    `db:"first_day_on"`
	Days        int     `db:"days"`
	MadeAt      instant `db:"made_at"`
	Plan        document[scheduler.Plan]
	Versions    document[firm.Versions]
	Travel      document[firm.TravelSource]
	FollowUps   document[[]scheduler.FollowUp] `db:"follow_ups"`
	PublishedAt instant                        `db:"published_at"`
}

// value is the row as the firm speaks of it.
func (r planRow) value() firm.KeptPlan {
	return firm.KeptPlan{
		ID: r.ID, Run: string(r.Run), FirstDay: civil.Date(r.FirstDay), Days: r.Days, MadeAt: civil.Instant(r.MadeAt),
		Plan: r.Plan.value, Versions: r.Versions.value, Travel: r.Travel.value, FollowUps: r.FollowUps.value, PublishedAt: civil.Instant(r.PublishedAt),
	}
}

const planColumnsSQL = `
SELECT
	p.plan_id,
	p.plan_run_id,
	p.first_day_on,
	p.days,
	p.made_at,
	p.plan,
	p.versions,
	p.travel,
	p.follow_ups,
	(SELECT min(b.published_at) FROM publication b WHERE b.business_id = $1 AND b.plan_id = p.plan_id) AS published_at
FROM plan p
WHERE p.business_id = $1 `

// Plan returns a plan; PublishedAt is its first publishing.
func (tx *Tx) Plan(id string) (firm.KeptPlan, error) {
	row, err := one[planRow](tx, "plan", id, planColumnsSQL+`AND p.plan_id = $2`, id)
	return row.value(), err
}

const headSQL = `SELECT version, plan_id, published_at FROM plan_head WHERE business_id = $1`

// Head returns what is published now; version 0 before the first publishing.
func (tx *Tx) Head() (firm.Head, error) { return tx.head(headSQL) }

// LockHead returns the head; nobody else publishes, begins, ends or reports until the transaction ends.
func (tx *Tx) LockHead() (firm.Head, error) { return tx.head(headSQL + ` FOR UPDATE`) }

// ShareHead returns the head; nobody publishes until the transaction ends.
func (tx *Tx) ShareHead() (firm.Head, error) { return tx.head(headSQL + ` FOR SHARE`) }

func (tx *Tx) head(query string) (firm.Head, error) {
	row, err := one[struct {
		Version     int64
		Plan        text    `db:"plan_id"`
		PublishedAt instant `db:"published_at"`
	}](tx, "business", string(tx.caller.Business), query)
	return firm.Head{Version: row.Version, Plan: string(row.Plan), PublishedAt: civil.Instant(row.PublishedAt)}, err
}

const setHeadSQL = `
UPDATE plan_head
SET
	version = $2,
	plan_id = $3,
	published_at = $4
WHERE business_id = $1 AND version = $2 - 1`

const insertPublicationSQL = `INSERT INTO publication (business_id, version, plan_id, published_at) VALUES ($1, $2, $3, $4)`

// SetHead publishes a plan as the version that follows the present one; Stale when it does not follow.
// An unset PublishedAt becomes now.
func (tx *Tx) SetHead(h firm.Head) error {
	if h.PublishedAt.IsZero() {
		h.PublishedAt = tx.now
	}
	set, err := tx.exec(setHeadSQL, h.Version, text(h.Plan), instant(h.PublishedAt))
	if err != nil {
		return err
	}
	if set == 0 {
		return fault.New(fault.Stale, "HEAD_MOVED", "another plan was published meanwhile, so that version %d does not follow the present one; look at what is published now and publish again", h.Version)
	}
	if h.Plan != "" {
		tx.Tell(firm.Change{Noun: firm.NounPlan, ID: h.Plan, Kind: firm.PlanMadeReal})
	}
	_, err = tx.exec(insertPublicationSQL, h.Version, h.Plan, instant(h.PublishedAt))
	return err
}

const versionsSQL = `
SELECT 'case' AS kind, case_id AS id, version FROM infestation WHERE business_id = $1 AND case_id = ANY ($2)
UNION ALL
SELECT 'site', site_id, version FROM site WHERE business_id = $1 AND site_id = ANY ($3)
UNION ALL
SELECT 'technician', technician_id, version FROM technician WHERE business_id = $1 AND technician_id = ANY ($4)
UNION ALL
SELECT 'business', business_id, version FROM business WHERE business_id = $1
UNION ALL
SELECT 'products', '', count(*) + coalesce(sum(revision), 0)::bigint FROM product WHERE business_id = $1
ORDER BY kind, id`

// VersionsOf returns the present versions of rows, and that of the policy; one that is not known is left out.
func (tx *Tx) VersionsOf(cases []course.CaseID, sites []site.ID, technicians []scheduler.TechnicianID) (firm.Versions, error) {
	versions := firm.Versions{
		Cases:       map[course.CaseID]int64{},
		Sites:       map[site.ID]int64{},
		Technicians: map[scheduler.TechnicianID]int64{},
	}
	rows, err := list[struct {
		Kind, ID string
		Version  int64
	}](tx, versionsSQL, ids(cases), ids(sites), ids(technicians))
	for _, row := range rows {
		switch row.Kind {
		case "case":
			versions.Cases[course.CaseID(row.ID)] = row.Version
		case "site":
			versions.Sites[site.ID(row.ID)] = row.Version
		case "technician":
			versions.Technicians[scheduler.TechnicianID(row.ID)] = row.Version
		case "business":
			versions.Policy = row.Version
		case "products":
			versions.Products = row.Version
		}
	}
	return versions, err
}
