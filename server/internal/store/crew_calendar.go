package store

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
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
	for _, a := range absences {
		tx.Tell(firm.Change{Noun: firm.NounTechnician, ID: string(a.Technician), Kind: firm.Changed})
	}
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

var absencesListed = source{
	document: keptSQL("x", "x.detail"), from: "FROM absence x WHERE x.business_id = $1", deleted: "x.deleted_at",
	columns: map[string]string{
		"name": "x.absence_id", "from_on": "x.from_on", "to_on": "x.to_on", "external_id": "coalesce(x.external_id, '')",
		"technician": "x.technician_id", "delete_time": "x.deleted_at",
	},
}

// KeptAbsences returns a page of absences as they are kept.
func (tx *Tx) KeptAbsences(asked listing.Question) ([]Listed[firm.Kept[firm.Absence]], error) {
	return listed[firm.Kept[firm.Absence]](tx, absencesListed, asked)
}

// KeptAbsence returns an absence as it is kept, one that was taken back too.
func (tx *Tx) KeptAbsence(id string) (firm.Kept[firm.Absence], error) {
	row, err := one[document[firm.Kept[firm.Absence]]](tx, "absence", id,
		selecting+keptSQL("x", "x.detail")+` FROM absence x WHERE x.business_id = $1 AND x.absence_id = $2`, id)
	return row.value, err
}

// LockAbsence keeps others from changing an absence until the transaction ends; NotFound for an unknown one.
func (tx *Tx) LockAbsence(id string) error {
	_, err := one[string](tx, "absence", id, `SELECT absence_id FROM absence WHERE business_id = $1 AND absence_id = $2 FOR UPDATE`, id)
	return err
}

// SetAbsenceExternalID writes what another system calls an absence; Exists when another one has the name.
func (tx *Tx) SetAbsenceExternalID(id, external string) error {
	const statement = `UPDATE absence SET external_id = $3 WHERE business_id = $1 AND absence_id = $2`
	return changed("absence", id)(tx.exec(statement, id, text(external)))
}

const updateAbsenceSQL = `
UPDATE absence
SET
	technician_id = x ->> 'technician',
	from_on = (x ->> 'from')::date,
	to_on = (x ->> 'to')::date,
	detail = x,
	external_id = $3,
	revision = revision + 1
FROM jsonb_array_elements($2::jsonb) AS x
WHERE absence.business_id = $1 AND absence.absence_id = x ->> 'id'`

// UpdateAbsence writes an absence anew. Whose it was and whose it is get a new version.
func (tx *Tx) UpdateAbsence(a firm.Absence, external string, was scheduler.TechnicianID) error {
	tx.Tell(firm.Change{Noun: firm.NounTechnician, ID: string(was), Kind: firm.Changed})
	tx.Tell(firm.Change{Noun: firm.NounTechnician, ID: string(a.Technician), Kind: firm.Changed})
	if err := changed("absence", a.ID)(tx.exec(updateAbsenceSQL, jsonOf([]firm.Absence{a}), text(external))); err != nil {
		return err
	}
	return tx.touchCrew([]scheduler.TechnicianID{was, a.Technician})
}

// DeleteAbsence takes an absence back at the firm's present instant. Its technician gets a new version.
func (tx *Tx) DeleteAbsence(a firm.Absence) error {
	tx.Tell(firm.Change{Noun: firm.NounTechnician, ID: string(a.Technician), Kind: firm.Changed})
	const statement = `UPDATE absence SET deleted_at = $3, revision = revision + 1 WHERE business_id = $1 AND absence_id = $2`
	if err := changed("absence", a.ID)(tx.exec(statement, a.ID, instant(tx.now))); err != nil {
		return err
	}
	return tx.touchCrew([]scheduler.TechnicianID{a.Technician})
}

var holidaysListed = source{
	document: keptSQL("x", "x.detail"), from: "FROM holiday x WHERE x.business_id = $1", deleted: "x.deleted_at",
	columns: map[string]string{
		"name": "x.holiday_id", "from_on": "x.from_on", "to_on": "x.to_on", "external_id": "coalesce(x.external_id, '')",
		"display_name": "x.detail ->> 'name'", "delete_time": "x.deleted_at",
	},
}

// KeptHolidays returns a page of holidays as they are kept.
func (tx *Tx) KeptHolidays(asked listing.Question) ([]Listed[firm.Kept[firm.Holiday]], error) {
	return listed[firm.Kept[firm.Holiday]](tx, holidaysListed, asked)
}

// KeptHoliday returns a holiday as it is kept, one that was taken back too.
func (tx *Tx) KeptHoliday(id string) (firm.Kept[firm.Holiday], error) {
	row, err := one[document[firm.Kept[firm.Holiday]]](tx, "holiday", id,
		selecting+keptSQL("x", "x.detail")+` FROM holiday x WHERE x.business_id = $1 AND x.holiday_id = $2`, id)
	return row.value, err
}

// LockHoliday keeps others from changing a holiday until the transaction ends; NotFound for an unknown one.
func (tx *Tx) LockHoliday(id string) error {
	_, err := one[string](tx, "holiday", id, `SELECT holiday_id FROM holiday WHERE business_id = $1 AND holiday_id = $2 FOR UPDATE`, id)
	return err
}

// SetHolidayExternalID writes what another system calls a holiday; Exists when another one has the name.
func (tx *Tx) SetHolidayExternalID(id, external string) error {
	const statement = `UPDATE holiday SET external_id = $3 WHERE business_id = $1 AND holiday_id = $2`
	return changed("holiday", id)(tx.exec(statement, id, text(external)))
}

const updateHolidaySQL = `
UPDATE holiday
SET
	from_on = (x ->> 'from')::date,
	to_on = (x ->> 'to')::date,
	detail = x,
	external_id = $3,
	revision = revision + 1
FROM jsonb_array_elements($2::jsonb) AS x
WHERE holiday.business_id = $1 AND holiday.holiday_id = x ->> 'id'`

// UpdateHoliday writes a holiday anew. Every technician gets a new version.
func (tx *Tx) UpdateHoliday(h firm.Holiday, external string) error {
	if err := changed("holiday", h.ID)(tx.exec(updateHolidaySQL, jsonOf([]firm.Holiday{h}), text(external))); err != nil {
		return err
	}
	return tx.touchAllCrew()
}

// DeleteHoliday takes a holiday back at the firm's present instant. Every technician gets a new version.
func (tx *Tx) DeleteHoliday(id string) error {
	const statement = `UPDATE holiday SET deleted_at = $3, revision = revision + 1 WHERE business_id = $1 AND holiday_id = $2`
	if err := changed("holiday", id)(tx.exec(statement, id, instant(tx.now))); err != nil {
		return err
	}
	return tx.touchAllCrew()
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
