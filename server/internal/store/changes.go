package store

import (
	"github.com/lib/pq"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// Tell adds changes to what the transaction tells at its end; one that it tells already is told once. Position and At
// are not the caller's to say.
func (tx *Tx) Tell(changes ...firm.Change) {
	if tx.told == nil {
		tx.told = map[firm.Change]bool{}
	}
	for _, change := range changes {
		if !tx.told[change] {
			tx.told[change] = true
			tx.changes = append(tx.changes, change)
		}
	}
}

const (
	// checkNowSQL judges what is judged at commit before the count is locked: whoever waits for somebody else's visit
	// while holding the count would be waited for in turn.
	checkNowSQL = `SET CONSTRAINTS ALL IMMEDIATE`

	// The count's row stays locked until the commit, so that whoever sees a position sees all before it.
	tellSQL = `
WITH counted AS (
	INSERT INTO queue.change_count (business_id, last_position, version)
	VALUES ($1, jsonb_array_length($2::jsonb), 1)
	ON CONFLICT (business_id) DO UPDATE
	SET
		last_position = change_count.last_position + excluded.last_position,
		version = change_count.version + 1
	RETURNING last_position
)
INSERT INTO change (
	business_id, position, changed_at, noun, subject_id, kind, case_id, site_id, technician_id, day_on, begins_at, safety
)
SELECT
	$1,
	counted.last_position - jsonb_array_length($2::jsonb) + c.ordinal,
	$3,
	c.change ->> 'noun',
	c.change ->> 'id',
	c.change ->> 'kind',
	coalesce(c.change ->> 'case', ''),
	coalesce(
		nullif(c.change ->> 'site', ''),
		(SELECT i.site_id FROM infestation i WHERE i.business_id = $1 AND i.case_id = c.change ->> 'case'),
		''
	),
	coalesce(c.change ->> 'technician', ''),
	CASE WHEN c.change ->> 'technician' <> '' THEN coalesce(
		nullif(c.change ->> 'day', '')::date,
		(
			SELECT r.day_on
			FROM day_route r
			WHERE r.business_id = $1
				AND r.technician_id = c.change ->> 'technician'
				AND nullif(c.change ->> 'begins', '')::timestamptz BETWEEN r.departs_at AND r.returns_at
			ORDER BY r.day_on
			LIMIT 1
		),
		(nullif(c.change ->> 'begins', '')::timestamptz AT TIME ZONE b.zone)::date
	) END,
	nullif(c.change ->> 'begins', '')::timestamptz,
	coalesce((c.change ->> 'safety')::boolean, false)
FROM counted
JOIN business b ON b.business_id = $1
CROSS JOIN jsonb_array_elements($2::jsonb) WITH ORDINALITY AS c (change, ordinal)`
)

// raiseVersionSQL is for what changed and is no noun of the feed.
const raiseVersionSQL = `
INSERT INTO queue.change_count (business_id, last_position, version)
VALUES ($1, 0, 1)
ON CONFLICT (business_id) DO UPDATE
SET version = change_count.version + 1`

// tellChanges writes down what the transaction changed, as the last thing before it commits, and raises the version.
func (tx *Tx) tellChanges() error {
	if len(tx.changes) == 0 && !tx.wrote {
		return nil
	}
	if _, err := tx.sql.ExecContext(tx.ctx, checkNowSQL); err != nil {
		return failure(tx.ctx, err)
	}
	if len(tx.changes) == 0 {
		_, err := tx.exec(raiseVersionSQL)
		return err
	}
	_, err := tx.exec(tellSQL, jsonOf(tx.changes), instant(tx.now))
	return err
}

// ChangeFilter narrows a list of changes; the zero value is all of them.
type ChangeFilter struct {
	Nouns      []firm.Noun
	Case       course.CaseID
	Technician scheduler.TechnicianID
}

type changeRow struct {
	Position       int64
	At             instant `db:"changed_at"`
	Noun           string
	ID             string `db:"subject_id"`
	Kind           string
	Case           string  `db:"case_id"`
	Site           string  `db:"site_id"`
	Technician     string  `db:"technician_id"`
	Day            date    `db:"day_on"`
	Begins         instant `db:"begins_at"`
	Safety         bool
	AcknowledgedAt instant `db:"acknowledged_at"`
}

func (r changeRow) value() firm.Change {
	return firm.Change{
		Position: r.Position, At: civil.Instant(r.At), Noun: firm.Noun(r.Noun), ID: r.ID, Kind: firm.ChangeKind(r.Kind),
		Case: course.CaseID(r.Case), Site: site.ID(r.Site), Technician: scheduler.TechnicianID(r.Technician),
		Day: civil.Date(r.Day), Begins: civil.Instant(r.Begins), Safety: r.Safety,
	}
}

const changesSQL = `
SELECT position, changed_at, noun, subject_id, kind, case_id, site_id, technician_id, day_on, begins_at, safety
FROM change
WHERE business_id = $1
	AND position > $2
	AND (cardinality($3::text[]) = 0 OR noun = ANY ($3)) `

// Changes returns the changes after a position in their order, at most so many. What is not there yet is committed later
// and has a greater position than all that is there.
func (tx *Tx) Changes(after int64, filter ChangeFilter, most int) ([]firm.Change, error) {
	// Each question has its index; $4 and $5 stand in all of them.
	const rest = ` ORDER BY position LIMIT $6`
	narrowed := ` AND ($4 = '' OR case_id = $4) AND ($5 = '' OR technician_id = $5)`
	switch {
	case filter.Technician != "":
		narrowed = ` AND ($4 = '' OR case_id = $4) AND technician_id = $5 AND technician_id <> ''`
	case filter.Case != "":
		narrowed = ` AND case_id = $4 AND case_id <> '' AND ($5 = '' OR technician_id = $5)`
	}
	rows, err := list[changeRow](tx, changesSQL+narrowed+rest, after, ids(filter.Nouns), string(filter.Case), string(filter.Technician), most)
	changes := make([]firm.Change, len(rows))
	for i, row := range rows {
		changes[i] = row.value()
	}
	return changes, err
}

// LastChange returns the position of the last change; 0 before the first.
func (tx *Tx) LastChange() (int64, error) {
	return first64(list[int64](tx, `SELECT last_position FROM queue.change_count WHERE business_id = $1 ORDER BY business_id`))
}

// first64 returns the only number of a list that may be empty.
func first64(numbers []int64, err error) (int64, error) {
	if err != nil || len(numbers) == 0 {
		return 0, err
	}
	return numbers[0], nil
}

const acknowledgeSQL = `
INSERT INTO acknowledgement (business_id, position, acknowledged_at, caller)
SELECT c.business_id, c.position, $4, $5
FROM change c
WHERE c.business_id = $1 AND c.position = ANY ($2::bigint[]) AND c.technician_id = $3
ON CONFLICT (business_id, position) DO NOTHING`

const ofTechnicianSQL = `
SELECT c.position, c.changed_at, c.noun, c.subject_id, c.kind, c.case_id, c.site_id, c.technician_id, c.day_on, c.begins_at,
	c.safety, a.acknowledged_at
FROM change c
LEFT JOIN acknowledgement a ON a.business_id = $1 AND a.position = c.position
WHERE c.business_id = $1 `

func acknowledged(tx *Tx, rest string, args ...any) ([]firm.Acknowledged, error) {
	rows, err := list[changeRow](tx, ofTechnicianSQL+rest, args...)
	found := make([]firm.Acknowledged, len(rows))
	for i, row := range rows {
		found[i] = firm.Acknowledged{Change: row.value(), AcknowledgedAt: civil.Instant(row.AcknowledgedAt)}
	}
	return found, err
}

// Acknowledge writes down that a technician has seen changes that concern them, and returns those of the positions that
// do, in order: the first acknowledgement of each stays.
func (tx *Tx) Acknowledge(technician scheduler.TechnicianID, positions []int64) ([]firm.Acknowledged, error) {
	_, err := tx.exec(acknowledgeSQL, pq.Array(positions), string(technician), instant(tx.now), tx.caller.Subject)
	if err != nil {
		return nil, err
	}
	return acknowledged(tx, `AND c.position = ANY ($2::bigint[]) AND c.technician_id = $3 ORDER BY c.position`, pq.Array(positions), string(technician))
}

// Unacknowledged returns the changes for safety that nobody has acknowledged and that came before an instant, or of which
// the visit or keep-out has begun since: by position after one, at most so many; "" is every technician.
func (tx *Tx) Unacknowledged(technician scheduler.TechnicianID, before civil.Instant, after int64, most int) ([]firm.Acknowledged, error) {
	const rest = `
	AND c.safety
	AND c.position > $2
	AND (c.changed_at <= $3 OR c.begins_at > c.changed_at AND c.begins_at <= $6) -- it is not told too late to call
	AND ($4 = '' OR c.technician_id = $4)
	AND a.position IS NULL
ORDER BY c.position
LIMIT $5`
	return acknowledged(tx, rest, after, instant(before), string(technician), most, instant(tx.now))
}

const concernedBySQL = `
SELECT v.technician_id AS technician, v.site_id AS site, lower(v.during) AS arrives
FROM visit v
WHERE v.business_id = $1
	AND v.state <> 'done'
	AND upper(v.during) > $2
	AND EXISTS (SELECT FROM visit_work w WHERE w.business_id = $1 AND w.visit_id = v.visit_id AND `

// concerning makes of a change one for each technician and day whose visits ahead it concerns.
func (tx *Tx) concerning(change firm.Change, which string, args ...any) error {
	rows, err := list[struct {
		Technician string
		Site       string
		Arrives    instant
	}](tx, concernedBySQL+which+`) ORDER BY lower(v.during), v.visit_id`, append([]any{instant(tx.now)}, args...)...)
	if err != nil {
		return err
	}
	for _, row := range rows {
		told := change
		told.Technician, told.Site, told.Safety = scheduler.TechnicianID(row.Technician), site.ID(row.Site), true
		if told.Begins.IsZero() {
			told.Begins = civil.Instant(row.Arrives)
		}
		tx.Tell(told)
	}
	return nil
}

// TellOfProduct tells a change for safety to the technicians whose visits ahead use a product, as when it is stopped: at the
// change's site, or anywhere where that is unset.
func (tx *Tx) TellOfProduct(change firm.Change) error {
	return tx.concerning(change, `w.detail #>> '{use,product}' = $3 AND ($4 = '' OR v.site_id = $4)`, change.ID, string(change.Site))
}

// TellOfApplications tells a change for safety to the technicians whose visits ahead apply a product for the change's
// case, as when its approval is withdrawn.
func (tx *Tx) TellOfApplications(change firm.Change, product catalogue.ProductID) error {
	return tx.concerning(change, `w.detail #>> '{use,product}' = $3 AND starts_with(w.item_id, $4)`, string(product), string(change.Case)+"/")
}

const inAreaSQL = `
SELECT v.technician_id AS technician, v.site_id AS site
FROM visit v
JOIN area a ON a.business_id = $1 AND a.site_id = v.site_id AND a.area_id = $2
WHERE v.business_id = $1
	AND v.state <> 'done'
	AND v.during && tstzrange($3, $4)
	AND v.technician_id <> $5
ORDER BY v.technician_id`

// tellOfKeepOuts tells the keep-outs of applications that were really made, for safety to those who come to the site
// while they last.
func (tx *Tx) tellOfKeepOuts(facts []firm.KeepOutFact) error {
	for _, k := range facts {
		change := firm.Change{Noun: firm.NounKeepOut, Kind: firm.Created, ID: string(k.Area), Begins: k.During.From}
		rows, err := list[struct{ Technician, Site string }](tx, inAreaSQL, string(k.Area), instant(k.During.From), instant(k.During.To), string(k.By))
		if err != nil {
			return err
		}
		tx.Tell(change)
		for _, row := range rows {
			change.Technician, change.Site, change.Safety = scheduler.TechnicianID(row.Technician), site.ID(row.Site), true
			tx.Tell(change)
		}
	}
	return nil
}
