package store

import (
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// plantSQL takes the last watering from its column, which reports move on.
const plantSQL = `jsonb_set(p.detail, '{watering,last}', to_jsonb(coalesce(to_char(p.last_watered_on, 'YYYY-MM-DD'), '')))`

var plantsListed = source{
	document: keptSQL("p", plantSQL), from: "FROM plant p WHERE p.business_id = $1", deleted: "p.deleted_at",
	columns: map[string]string{
		"name": "p.plant_id", "display_name": "(p.detail ->> 'name')", "external_id": "coalesce(p.external_id, '')",
		"site": "p.site_id", "area": "p.area_id", "species": "p.species_id", "count": "p.plant_count", "height_cm": "p.height_cm",
		"planter": "(p.detail ->> 'planter')", "owner": "(p.detail ->> 'owner')",
		"in_flower": truthSQL("in_flower"), "edible": truthSQL("edible"), "not_in_care": truthSQL("not_in_care"),
		"guaranteed": truthSQL("guaranteed"), "new": truthSQL("new"),
		"gone_on": "nullif(p.detail ->> 'gone_on', '')::date", "delete_time": "p.deleted_at",
	},
}

// truthSQL is a member of a plant's document that is left out where it is false.
func truthSQL(member string) string {
	return "coalesce((p.detail ->> '" + member + "')::boolean, false)"
}

// KeptPlants returns a page of plants as they are kept, of one site or, when none is named, of all.
func (tx *Tx) KeptPlants(at site.ID, asked listing.Question) ([]Listed[firm.Kept[site.Plant]], error) {
	if at != "" {
		here := listing.Compare{Field: "site", Operator: "=", Value: string(at)}
		if asked.Where == nil {
			asked.Where = here
		} else {
			asked.Where = listing.All{here, asked.Where}
		}
	}
	return listed[firm.Kept[site.Plant]](tx, plantsListed, asked)
}

// KeptPlant returns a plant as it is kept, deleted or not.
func (tx *Tx) KeptPlant(id site.PlantID) (firm.Kept[site.Plant], error) {
	row, err := one[document[firm.Kept[site.Plant]]](tx, "plant", string(id),
		selecting+keptSQL("p", plantSQL)+` FROM plant p WHERE p.business_id = $1 AND p.plant_id = $2`, string(id))
	return row.value, err
}

// SetPlantExternalID writes what another system calls a plant; Exists when another plant in use has the name.
func (tx *Tx) SetPlantExternalID(id site.PlantID, external string) error {
	tx.Tell(firm.Change{Noun: firm.NounPlant, ID: string(id), Kind: firm.Changed})
	return changed("plant", string(id))(tx.exec(`UPDATE plant SET external_id = $3 WHERE business_id = $1 AND plant_id = $2`, string(id), text(external)))
}

const rewritePlantSQL = `
UPDATE plant
SET
	area_id = p ->> 'area',
	species_id = p ->> 'species',
	plant_count = (p ->> 'count')::integer,
	height_cm = (p ->> 'height_cm')::integer,
	watering_earliest_days = (p #>> '{watering,earliest}')::integer,
	watering_ideal_days = (p #>> '{watering,ideal}')::integer,
	watering_latest_days = (p #>> '{watering,latest}')::integer,
	last_watered_on = nullif(p #>> '{watering,last}', '')::date,
	detail = p,
	external_id = $3,
	revision = revision + 1
FROM jsonb_array_elements($2::jsonb) AS p
WHERE plant.business_id = $1 AND plant.plant_id = p ->> 'id'`

// RewritePlant sets the whole record of a plant right, but for its site, and raises its revision and the version of its
// site. Exists when another plant in use has the external id.
func (tx *Tx) RewritePlant(p site.Plant, external string) error {
	tx.Tell(firm.Change{Noun: firm.NounPlant, ID: string(p.ID), Kind: firm.Changed, Site: p.Site})
	if err := changed("plant", string(p.ID))(tx.exec(rewritePlantSQL, jsonOf([]site.Plant{p}), text(external))); err != nil {
		return err
	}
	return tx.touchSites([]site.ID{p.Site})
}

// DeletePlant marks a plant as deleted at the firm's present instant; its record has been written with the day on which
// it went.
func (tx *Tx) DeletePlant(id site.PlantID) error {
	tx.Tell(firm.Change{Noun: firm.NounPlant, ID: string(id), Kind: firm.Deleted})
	return changed("plant", string(id))(tx.exec(
		`UPDATE plant SET deleted_at = $3 WHERE business_id = $1 AND plant_id = $2`, string(id), instant(tx.now)))
}
