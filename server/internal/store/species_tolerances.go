package store

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// speciesToleranceSQL is a record as JSON; its standing is always the business's own records.
const speciesToleranceSQL = `jsonb_build_object('id', t.species_tolerance_id, 'species', t.species_id, 'material', t.material_id,
	'verdict', t.verdict, 'source', t.source, 'standing', 'own-records')`

var speciesTolerancesListed = source{
	document: keptSQL("t", speciesToleranceSQL), from: "FROM species_tolerance t WHERE t.business_id = $1", deleted: "t.deleted_at",
	columns: map[string]string{
		"name": "t.species_tolerance_id", "external_id": "coalesce(t.external_id, '')", "species": "t.species_id", "material": "t.material_id",
		"verdict": "t.verdict", "delete_time": "t.deleted_at",
	},
}

// KeptSpeciesTolerances returns a page of the business's own tolerances as they are kept.
func (tx *Tx) KeptSpeciesTolerances(asked listing.Question) ([]Listed[firm.Kept[catalogue.SpeciesTolerance]], error) {
	return listed[firm.Kept[catalogue.SpeciesTolerance]](tx, speciesTolerancesListed, asked)
}

// KeptSpeciesTolerance returns a tolerance as it is kept, deleted or not.
func (tx *Tx) KeptSpeciesTolerance(id string) (firm.Kept[catalogue.SpeciesTolerance], error) {
	row, err := one[document[firm.Kept[catalogue.SpeciesTolerance]]](tx, "species tolerance", id,
		selecting+keptSQL("t", speciesToleranceSQL)+` FROM species_tolerance t WHERE t.business_id = $1 AND t.species_tolerance_id = $2`, id)
	return row.value, err
}

// SpeciesTolerances returns every tolerance in use of the business, by species and material.
func (tx *Tx) SpeciesTolerances() ([]catalogue.SpeciesTolerance, error) {
	return documents[catalogue.SpeciesTolerance](tx,
		selecting+speciesToleranceSQL+` FROM species_tolerance t WHERE t.business_id = $1 AND t.deleted_at IS NULL ORDER BY t.species_id, t.material_id`)
}

const insertSpeciesToleranceSQL = `
INSERT INTO species_tolerance (business_id, species_tolerance_id, species_id, material_id, verdict, source, external_id)
SELECT $1, t ->> 'id', t ->> 'species', t ->> 'material', t ->> 'verdict', t ->> 'source', $3
FROM jsonb_array_elements($2::jsonb) AS t`

// InsertSpeciesTolerance adds a tolerance; Exists when its id, its external id or one in use of its species and material
// is known already. The sites with plants of the species get a new version.
func (tx *Tx) InsertSpeciesTolerance(t catalogue.SpeciesTolerance, external string) error {
	if _, err := tx.exec(insertSpeciesToleranceSQL, jsonOf([]catalogue.SpeciesTolerance{t}), text(external)); err != nil {
		return err
	}
	return tx.touchSitesOfSpecies(t.Species)
}

// LockSpeciesTolerance keeps everybody else from changing a tolerance until the transaction ends; NotFound for an unknown
// one.
func (tx *Tx) LockSpeciesTolerance(id string) error {
	_, err := one[string](tx, "species tolerance", id,
		`SELECT species_tolerance_id FROM species_tolerance WHERE business_id = $1 AND species_tolerance_id = $2 FOR NO KEY UPDATE`, id)
	return err
}

const updateSpeciesToleranceSQL = `
UPDATE species_tolerance
SET
	verdict = $3,
	source = $4,
	external_id = $5,
	revision = revision + 1
WHERE business_id = $1 AND species_tolerance_id = $2`

// UpdateSpeciesTolerance writes verdict, source and external id anew. The sites with plants of the species get a new
// version.
func (tx *Tx) UpdateSpeciesTolerance(t catalogue.SpeciesTolerance, external string) error {
	if err := changed("species tolerance", t.ID)(tx.exec(updateSpeciesToleranceSQL, t.ID, string(t.Verdict), t.Source, text(external))); err != nil {
		return err
	}
	return tx.touchSitesOfSpecies(t.Species)
}

const deleteSpeciesToleranceSQL = `
UPDATE species_tolerance
SET
	deleted_at = $3,
	revision = revision + 1
WHERE business_id = $1 AND species_tolerance_id = $2`

// DeleteSpeciesTolerance marks a tolerance as deleted at the firm's present instant. The sites with plants of the species
// get a new version.
func (tx *Tx) DeleteSpeciesTolerance(t catalogue.SpeciesTolerance) error {
	if err := changed("species tolerance", t.ID)(tx.exec(deleteSpeciesToleranceSQL, t.ID, instant(tx.now))); err != nil {
		return err
	}
	return tx.touchSitesOfSpecies(t.Species)
}

// touchSitesOfSpecies raises the version of the sites where plants of a species stand.
func (tx *Tx) touchSitesOfSpecies(species catalogue.SpeciesID) error {
	sites, err := list[site.ID](tx, `SELECT DISTINCT site_id FROM plant WHERE business_id = $1 AND species_id = $2 ORDER BY site_id`, string(species))
	if err != nil {
		return err
	}
	return tx.touchSites(sites)
}
