package store

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
)

const insertAbsencesSQL = `
INSERT INTO absence (business_id, absence_id, technician_id, from_on, to_on, detail)
SELECT
	$1,
	a ->> 'id',
	a ->> 'technician',
	(a ->> 'from')::date,
	(a ->> 'to')::date,
	a
FROM jsonb_array_elements($2::jsonb) AS a`

// InsertAbsences adds absences; Exists when one is known already. Their technicians get a new version.
func (tx *Tx) InsertAbsences(absences []firm.Absence) error {
	if err := inserted(tx, insertAbsencesSQL, absences); err != nil {
		return err
	}
	crew := make([]scheduler.TechnicianID, len(absences))
	for i, a := range absences {
		crew[i] = a.Technician
	}
	return tx.touchCrew(crew)
}

// Absences returns the absences that stand and reach from a day to a day, both included, by id.
func (tx *Tx) Absences(from, to civil.Date) ([]firm.Absence, error) {
	const query = `
SELECT detail
FROM absence
WHERE business_id = $1 AND to_on >= $2 AND from_on <= $3 AND deleted_at IS NULL
ORDER BY absence_id`
	return documents[firm.Absence](tx, query, date(from), date(to))
}

const insertHolidaysSQL = `
INSERT INTO holiday (business_id, holiday_id, from_on, to_on, detail)
SELECT
	$1,
	h ->> 'id',
	(h ->> 'from')::date,
	(h ->> 'to')::date,
	h
FROM jsonb_array_elements($2::jsonb) AS h`

// InsertHolidays adds holidays; Exists when one is known already. Every technician gets a new version.
func (tx *Tx) InsertHolidays(holidays []firm.Holiday) error {
	if err := inserted(tx, insertHolidaysSQL, holidays); err != nil {
		return err
	}
	return tx.touchAllCrew()
}

// Holidays returns the holidays that stand and reach from a day to a day, both included, by id.
func (tx *Tx) Holidays(from, to civil.Date) ([]firm.Holiday, error) {
	const query = `
SELECT detail
FROM holiday
WHERE business_id = $1 AND to_on >= $2 AND from_on <= $3 AND deleted_at IS NULL
ORDER BY holiday_id`
	return documents[firm.Holiday](tx, query, date(from), date(to))
}

// touchCrewSQL locks in the order of ids, so that two deeds do not wait for each other.
const touchCrewSQL = `
WITH locked AS (
	SELECT technician_id
	FROM technician
	WHERE business_id = $1 AND (cardinality($2::text[]) = 0 OR technician_id = ANY ($2))
	ORDER BY technician_id
	FOR UPDATE
)
UPDATE technician
SET version = version + 1
FROM locked
WHERE technician.business_id = $1 AND technician.technician_id = locked.technician_id`

// touchCrew raises the version of technicians: something that a plan was made from has changed with them.
func (tx *Tx) touchCrew(crew []scheduler.TechnicianID) error {
	if len(crew) == 0 {
		return nil
	}
	_, err := tx.exec(touchCrewSQL, ids(crew))
	return err
}

// touchAllCrew raises the version of every technician.
func (tx *Tx) touchAllCrew() error {
	_, err := tx.exec(touchCrewSQL, ids([]string{}))
	return err
}
