package store

import (
	"strings"

	"github.com/lib/pq"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// CaseFilter narrows a list of cases.
type CaseFilter struct {
	Open *bool   // nil is both open and ended ones
	Site site.ID // "" is every site
}

type caseRow struct {
	ID           string `db:"case_id"`
	Site         string `db:"site_id"`
	Pest         string `db:"pest_id"`
	Plants       pq.StringArray
	OpenedAt     instant `db:"opened_at"`
	Ending       document[*course.Ending]
	EndedAt      instant `db:"ended_at"`
	RecurrenceOf text    `db:"recurrence_of"`
	Recurrences  pq.StringArray
	Version      int64
}

// value is the row as the firm speaks of it.
func (r caseRow) value() firm.Case {
	var recurrences []course.CaseID
	for _, id := range r.Recurrences {
		recurrences = append(recurrences, course.CaseID(id))
	}
	return firm.Case{
		ID: course.CaseID(r.ID), Site: r.Site, Pest: catalogue.PestID(r.Pest), Plants: r.Plants,
		OpenedAt: civil.Instant(r.OpenedAt), Ending: r.Ending.value, EndedAt: civil.Instant(r.EndedAt),
		RecurrenceOf: course.CaseID(r.RecurrenceOf), Recurrences: recurrences, Version: r.Version,
	}
}

// recurrencesSQL are the cases of which a case c is an earlier one.
const recurrencesSQL = `ARRAY(
		SELECT r.case_id
		FROM infestation r
		WHERE r.business_id = $1 AND r.recurrence_of = c.case_id
		ORDER BY r.opened_at, r.case_id
	)`

const caseColumnsSQL = `
SELECT
	c.case_id,
	c.site_id,
	c.pest_id,
	ARRAY(
		SELECT p.plant_id
		FROM infestation_plant p
		WHERE p.business_id = $1 AND p.case_id = c.case_id
		ORDER BY p.plant_id
	) AS plants,
	c.opened_at,
	c.ending,
	c.ended_at,
	c.recurrence_of,
	` + recurrencesSQL + ` AS recurrences,
	c.version
FROM infestation c
WHERE c.business_id = $1 `

// cases reads cases by a predicate, an order and perhaps a limit.
func cases(tx *Tx, rest string, args ...any) ([]firm.Case, error) {
	rows, err := list[caseRow](tx, caseColumnsSQL+rest, args...)
	found := make([]firm.Case, len(rows))
	for i, row := range rows {
		found[i] = row.value()
	}
	return found, err
}

const insertCaseSQL = `
INSERT INTO infestation (business_id, case_id, site_id, pest_id, opened_at, recurrence_of)
VALUES ($1, $2, $3, $4, $5, $6)`

// InsertCase opens a case with its plants; its version begins at 0, whatever is given.
func (tx *Tx) InsertCase(c firm.Case) error {
	if _, err := tx.exec(insertCaseSQL, string(c.ID), c.Site, string(c.Pest), instant(c.OpenedAt), text(c.RecurrenceOf)); err != nil {
		return err
	}
	tx.Tell(firm.Change{Noun: firm.NounCase, ID: string(c.ID), Kind: firm.Created, Case: c.ID})
	return tx.addCasePlants(c.ID, c.Plants)
}

const addCasePlantsSQL = `
INSERT INTO infestation_plant (business_id, case_id, plant_id)
SELECT $1, $2, plant_id
FROM unnest($3::text[]) AS plant_id
ON CONFLICT (business_id, case_id, plant_id) DO NOTHING`

// AddCasePlants adds plants to a case and raises its version when one is new to it.
func (tx *Tx) AddCasePlants(id course.CaseID, plants []site.PlantID) error {
	plain := make([]string, len(plants))
	for i, plant := range plants {
		plain[i] = string(plant)
	}
	return tx.addCasePlants(id, plain)
}

func (tx *Tx) addCasePlants(id course.CaseID, plants []string) error {
	added, err := tx.exec(addCasePlantsSQL, string(id), pq.Array(plants))
	if err != nil || added == 0 {
		return err
	}
	return tx.touchCase(id)
}

// TouchCases raises the versions of cases to whose histories something was added that is not theirs alone.
func (tx *Tx) TouchCases(of []course.CaseID) error {
	for _, id := range of {
		if err := tx.touchCase(id); err != nil {
			return err
		}
	}
	return nil
}

const touchCaseSQL = `UPDATE infestation SET version = version + 1 WHERE business_id = $1 AND case_id = $2`

func (tx *Tx) touchCase(id course.CaseID) error {
	tx.Tell(firm.Change{Noun: firm.NounCase, ID: string(id), Kind: firm.Changed, Case: id})
	return changed("case", string(id))(tx.exec(touchCaseSQL, string(id)))
}

// Case returns a case.
func (tx *Tx) Case(id course.CaseID) (firm.Case, error) {
	row, err := one[caseRow](tx, "case", string(id), caseColumnsSQL+`AND c.case_id = $2`, string(id))
	return row.value(), err
}

const lockCaseSQL = `SELECT version FROM infestation WHERE business_id = $1 AND case_id = $2 FOR UPDATE`

// LockCase returns a case that nobody else appends to until the transaction ends. The row is locked first and read
// afterwards, so that what a forerunner wrote is seen.
func (tx *Tx) LockCase(id course.CaseID) (firm.Case, error) {
	if _, err := one[int64](tx, "case", string(id), lockCaseSQL, string(id)); err != nil {
		return firm.Case{}, err
	}
	return tx.Case(id)
}

const lockSiteSQL = `SELECT site_id FROM site WHERE business_id = $1 AND site_id = $2 FOR NO KEY UPDATE`

// LockSite keeps everybody else from opening cases at a site and from appending to its cases until the transaction
// ends: whoever looks for a case, finds none and opens one does so alone. It is taken before any case of the site is
// looked for or locked. Rows that merely name the site can be written meanwhile. NotFound for an unknown site.
func (tx *Tx) LockSite(id site.ID) error {
	_, err := one[string](tx, "site", string(id), lockSiteSQL, string(id))
	return err
}

// Cases returns a page of cases, newest first. The key of a page is a case's id.
func (tx *Tx) Cases(filter CaseFilter, page Page) ([]firm.Case, error) {
	const rest = `
	AND ($2::boolean IS NULL OR (c.ended_at IS NULL) = $2)
	AND ($3 = '' OR c.site_id = $3)
	AND ($4 = '' OR (c.opened_at, c.case_id) < (
		SELECT last.opened_at, last.case_id FROM infestation last WHERE last.business_id = $1 AND last.case_id = $4
	))
ORDER BY c.opened_at DESC, c.case_id DESC
LIMIT $5`
	return cases(tx, rest, filter.Open, string(filter.Site), page.After, page.limit())
}

// GoingCases returns every case that still needs something, by id: those that have not ended, and those that are kept
// low under watch.
func (tx *Tx) GoingCases() ([]firm.Case, error) {
	return cases(tx, `AND (c.ended_at IS NULL OR c.ending ->> 'kind' = $2) ORDER BY c.case_id`, string(course.KeptLow))
}

// GoingCasesAfter returns a page of the cases that still need something, by id.
func (tx *Tx) GoingCasesAfter(page Page) ([]firm.Case, error) {
	const rest = `AND (c.ended_at IS NULL OR c.ending ->> 'kind' = $2) AND c.case_id > $3 ORDER BY c.case_id LIMIT $4`
	return cases(tx, rest, string(course.KeptLow), page.After, page.limit())
}

// CasesOfSite returns the ids of the cases of a site, open and ended, in order.
func (tx *Tx) CasesOfSite(at site.ID) ([]course.CaseID, error) {
	return list[course.CaseID](tx, `SELECT case_id FROM infestation WHERE business_id = $1 AND site_id = $2 ORDER BY case_id`, string(at))
}

// CasesOfPlants returns the cases, open and ended, that one of the plants belongs to, by id.
func (tx *Tx) CasesOfPlants(plants []site.PlantID) ([]firm.Case, error) {
	const rest = `
	AND c.case_id IN (SELECT p.case_id FROM infestation_plant p WHERE p.business_id = $1 AND p.plant_id = ANY ($2))
ORDER BY c.case_id`
	return cases(tx, rest, ids(plants))
}

const appendEventsSQL = `
INSERT INTO history (business_id, case_id, event_id, happened_at, told_at, event)
SELECT $1, $2, e ->> 'id', (e ->> 'at')::timestamptz, $3, e
FROM jsonb_array_elements($4::jsonb) AS e
ON CONFLICT (business_id, case_id, event_id) DO NOTHING -- an event counts once, however often it is told`

// AppendEvents adds events to a case's history and returns how many were new; the version rises when one was.
func (tx *Tx) AppendEvents(id course.CaseID, events []course.Event) (int, error) {
	if len(events) == 0 {
		return 0, nil
	}
	added, err := tx.exec(appendEventsSQL, string(id), instant(tx.now), jsonOf(events))
	if err != nil || added == 0 {
		return 0, err
	}
	for _, e := range events {
		if finding, is := strings.CutPrefix(e.ID, "finding/"); is && e.Finding != nil {
			tx.Tell(firm.Change{Noun: firm.NounFinding, ID: finding, Kind: firm.Created, Case: id})
		}
	}
	return added, tx.touchCase(id)
}

const eventsSQL = `
SELECT case_id, event
FROM history
WHERE business_id = $1 AND case_id = ANY ($2)
ORDER BY case_id, happened_at, event_id`

// Histories returns the histories of cases by case id, events in the order in which they happened. A case that is not
// known has none.
func (tx *Tx) Histories(of []course.CaseID) ([]course.History, error) {
	known, err := cases(tx, `AND c.case_id = ANY ($2) ORDER BY c.case_id`, ids(of))
	if err != nil {
		return nil, err
	}
	events, err := list[struct {
		Case  string `db:"case_id"`
		Event document[course.Event]
	}](tx, eventsSQL, ids(of))
	if err != nil {
		return nil, err
	}
	histories := make([]course.History, len(known))
	at := make(map[string]int, len(known))
	for i, c := range known {
		plants := make([]site.PlantID, len(c.Plants))
		for j, plant := range c.Plants {
			plants[j] = site.PlantID(plant)
		}
		histories[i] = course.History{Case: c.ID, Site: site.ID(c.Site), Pest: c.Pest, Plants: plants}
		at[string(c.ID)] = i
	}
	for _, row := range events {
		h := &histories[at[row.Case]]
		h.Events = append(h.Events, row.Event.value)
	}
	return histories, nil
}

const endCaseSQL = `
UPDATE infestation
SET
	ending = $3,
	ended_at = $4,
	version = version + 1
WHERE business_id = $1 AND case_id = $2`

// EndCase closes a case; a case that had ended already takes the new ending.
func (tx *Tx) EndCase(id course.CaseID, ending course.Ending, at civil.Instant) error {
	tx.Tell(firm.Change{Noun: firm.NounCase, ID: string(id), Kind: firm.Ended, Case: id})
	return changed("case", string(id))(tx.exec(endCaseSQL, string(id), jsonOf(ending), instant(at)))
}

// ReopenCase takes the ending of a case back, as when a late report shows that it had not ended.
func (tx *Tx) ReopenCase(id course.CaseID) error {
	tx.Tell(firm.Change{Noun: firm.NounCase, ID: string(id), Kind: firm.Reopened, Case: id})
	const statement = `
UPDATE infestation
SET
	ending = NULL,
	ended_at = NULL,
	version = version + 1
WHERE business_id = $1 AND case_id = $2`
	return changed("case", string(id))(tx.exec(statement, string(id)))
}

const saveCourseSQL = `
INSERT INTO course (business_id, case_id, key, computed_at, course)
VALUES ($1, $2, $3, $4, $5)
ON CONFLICT (business_id, case_id) DO UPDATE
SET
	key = excluded.key,
	computed_at = excluded.computed_at,
	course = excluded.course`

// SaveCourse keeps a course under the hash of what it was computed from, in place of the one before.
func (tx *Tx) SaveCourse(id course.CaseID, key string, c course.Course) error {
	tx.Tell(firm.Change{Noun: firm.NounCourse, ID: string(id), Kind: firm.Changed, Case: id})
	_, err := tx.exec(saveCourseSQL, string(id), key, instant(tx.now), jsonOf(c))
	return err
}

// Course returns the course kept for a case; found is false when there is none. Its Key tells whether it still holds.
func (tx *Tx) Course(id course.CaseID) (c course.Course, found bool, err error) {
	rows, err := documents[course.Course](tx, `SELECT course FROM course WHERE business_id = $1 AND case_id = $2 ORDER BY case_id`, string(id))
	if err != nil || len(rows) == 0 {
		return course.Course{}, false, err
	}
	return rows[0], true, nil
}
