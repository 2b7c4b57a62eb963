package store

import (
	"vernation/scheduler"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

var crewListed = source{
	document: keptSQL("t", "t.detail"), from: "FROM technician t WHERE t.business_id = $1", deleted: "t.deleted_at",
	columns: map[string]string{
		"name": "t.technician_id", "display_name": "t.name", "external_id": "coalesce(t.external_id, '')",
		"responsible_applicator": "t.responsible_applicator", "delete_time": "t.deleted_at",
	},
}

// KeptCrew returns a page of technicians as they are kept.
func (tx *Tx) KeptCrew(asked listing.Question) ([]Listed[firm.Kept[firm.CrewMember]], error) {
	return listed[firm.Kept[firm.CrewMember]](tx, crewListed, asked)
}

// KeptCrewMember returns a technician as kept, one who left too.
func (tx *Tx) KeptCrewMember(id scheduler.TechnicianID) (firm.Kept[firm.CrewMember], error) {
	row, err := one[document[firm.Kept[firm.CrewMember]]](tx, "technician", string(id),
		selecting+keptSQL("t", "t.detail")+` FROM technician t WHERE t.business_id = $1 AND t.technician_id = $2`, string(id))
	return row.value, err
}

// LockCrewMember keeps others from changing a technician until the transaction ends; NotFound for an unknown one.
func (tx *Tx) LockCrewMember(id scheduler.TechnicianID) error {
	_, err := one[string](tx, "technician", string(id),
		`SELECT technician_id FROM technician WHERE business_id = $1 AND technician_id = $2 FOR NO KEY UPDATE`, string(id))
	return err
}

// SetCrewMemberExternalID writes what another system calls a technician; Exists when another member has the name.
func (tx *Tx) SetCrewMemberExternalID(id scheduler.TechnicianID, external string) error {
	tx.Tell(firm.Change{Noun: firm.NounTechnician, ID: string(id), Kind: firm.Changed})
	const statement = `UPDATE technician SET external_id = $3 WHERE business_id = $1 AND technician_id = $2`
	return changed("technician", string(id))(tx.exec(statement, string(id), text(external)))
}

const updateCrewMemberSQL = `
UPDATE technician
SET
	name = t ->> 'name',
	base_latitude = (t ->> 'base_latitude')::double precision,
	base_longitude = (t ->> 'base_longitude')::double precision,
	paid_per_minute_minor = (t ->> 'paid_per_minute')::numeric,
	speed_percent = (t ->> 'speed_percent')::integer,
	responsible_applicator = coalesce((t ->> 'responsible_applicator')::boolean, false),
	detail = t,
	external_id = $3,
	revision = revision + 1,
	version = version + 1
FROM jsonb_array_elements($2::jsonb) AS t
WHERE technician.business_id = $1 AND technician.technician_id = t ->> 'id'`

// UpdateCrewMember writes a technician anew. The revision rises, and the version that publishing compares.
func (tx *Tx) UpdateCrewMember(m firm.CrewMember, external string) error {
	tx.Tell(firm.Change{Noun: firm.NounTechnician, ID: string(m.ID), Kind: firm.Changed})
	return changed("technician", string(m.ID))(tx.exec(updateCrewMemberSQL, jsonOf([]firm.CrewMember{m}), text(external)))
}

const deleteCrewMemberSQL = `
UPDATE technician
SET
	deleted_at = $3,
	revision = revision + 1,
	version = version + 1
WHERE business_id = $1 AND technician_id = $2`

// DeleteCrewMember marks a technician as having left at the firm's present instant.
func (tx *Tx) DeleteCrewMember(id scheduler.TechnicianID) error {
	tx.Tell(firm.Change{Noun: firm.NounTechnician, ID: string(id), Kind: firm.Deleted})
	return changed("technician", string(id))(tx.exec(deleteCrewMemberSQL, string(id), instant(tx.now)))
}
