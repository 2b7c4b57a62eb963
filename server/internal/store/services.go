package store

import (
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// serviceSQL takes the last day from its column, which reports move on.
const serviceSQL = `jsonb_build_object(
	'id', s.service_id,
	'site', s.site_id,
	'kind', s.kind,
	'groups', s.groups,
	'earliest', s.earliest_days,
	'ideal', s.ideal_days,
	'latest', s.latest_days,
	'last', coalesce(to_char(s.last_done_on, 'YYYY-MM-DD'), '')
)`

// Services returns the services of some sites by id, but for deleted ones; of every site when none is named.
func (tx *Tx) Services(sites ...site.ID) ([]site.Service, error) {
	const rest = `
FROM service s
WHERE s.business_id = $1 AND s.deleted_at IS NULL AND (cardinality($2::text[]) = 0 OR s.site_id = ANY ($2))
ORDER BY s.service_id`
	return documents[site.Service](tx, selecting+serviceSQL+rest, ids(sites))
}

var servicesListed = source{
	document: keptSQL("s", serviceSQL), from: "FROM service s WHERE s.business_id = $1", deleted: "s.deleted_at",
	columns: map[string]string{
		"name": "s.service_id", "external_id": "coalesce(s.external_id, '')", "site": "s.site_id", "kind": "s.kind",
		"earliest_days": "s.earliest_days", "ideal_days": "s.ideal_days", "latest_days": "s.latest_days", "last_on": "s.last_done_on",
		"delete_time": "s.deleted_at",
	},
}

// KeptServices returns a page of services as they are kept.
func (tx *Tx) KeptServices(asked listing.Question) ([]Listed[firm.Kept[site.Service]], error) {
	return listed[firm.Kept[site.Service]](tx, servicesListed, asked)
}

// KeptService returns a service as it is kept, deleted or not.
func (tx *Tx) KeptService(id string) (firm.Kept[site.Service], error) {
	row, err := one[document[firm.Kept[site.Service]]](tx, "service round", id,
		selecting+keptSQL("s", serviceSQL)+` FROM service s WHERE s.business_id = $1 AND s.service_id = $2`, id)
	return row.value, err
}

// SetServiceExternalID writes what another system calls a service; Exists when another service in use has the name.
func (tx *Tx) SetServiceExternalID(id, external string) error {
	return changed("service round", id)(tx.exec(`UPDATE service SET external_id = $3 WHERE business_id = $1 AND service_id = $2`, id, text(external)))
}

const updateServiceSQL = `
UPDATE service
SET
	groups = s -> 'groups',
	earliest_days = (s ->> 'earliest')::integer,
	ideal_days = (s ->> 'ideal')::integer,
	latest_days = (s ->> 'latest')::integer,
	last_done_on = nullif(s ->> 'last', '')::date,
	external_id = $3,
	revision = revision + 1
FROM jsonb_array_elements($2::jsonb) AS s
WHERE service.business_id = $1 AND service.service_id = s ->> 'id'`

// UpdateService writes a service anew, but for its site and kind, and raises its revision and the version of its site.
func (tx *Tx) UpdateService(s site.Service, external string) error {
	if err := changed("service round", s.ID)(tx.exec(updateServiceSQL, jsonOf([]site.Service{s}), text(external))); err != nil {
		return err
	}
	return tx.touchSites([]site.ID{s.Site})
}

// DeleteService marks a service as deleted at the firm's present instant; its site gets a new version.
func (tx *Tx) DeleteService(s site.Service) error {
	err := changed("service round", s.ID)(tx.exec(
		`UPDATE service SET deleted_at = $3, revision = revision + 1 WHERE business_id = $1 AND service_id = $2`, s.ID, instant(tx.now)))
	if err != nil {
		return err
	}
	return tx.touchSites([]site.ID{s.Site})
}

const setPlantsRhythmSQL = `
UPDATE plant
SET
	watering_earliest_days = $3,
	watering_ideal_days = $4,
	watering_latest_days = $5,
	last_watered_on = greatest(last_watered_on, $6::date),
	detail = jsonb_set(detail, '{watering}', detail -> 'watering' || jsonb_build_object('earliest', $3::integer, 'ideal', $4::integer, 'latest', $5::integer)),
	revision = revision + 1
WHERE business_id = $1 AND plant_id = ANY ($2)`

// SetPlantsRhythm gives plants the rhythm of a watering, and moves their last one on where it is later.
func (tx *Tx) SetPlantsRhythm(plants []site.PlantID, w site.Watering) error {
	for _, id := range plants {
		tx.Tell(firm.Change{Noun: firm.NounPlant, ID: string(id), Kind: firm.Changed})
	}
	if len(plants) == 0 {
		return nil
	}
	_, err := tx.exec(setPlantsRhythmSQL, ids(plants), w.Earliest, w.Ideal, w.Latest, date(w.Last))
	return err
}
