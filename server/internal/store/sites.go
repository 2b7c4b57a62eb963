package store

import (
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// keptSQL is the JSON of a firm.Kept of a row: its value with external_id, revision and deleted_at of its table.
func keptSQL(table, value string) string {
	return `jsonb_build_object('value', ` + value + `, 'external_id', coalesce(` + table + `.external_id, ''), 'revision', ` + table +
		`.revision, 'deleted_at', to_jsonb(` + table + `.deleted_at))`
}

var sitesListed = source{
	document: keptSQL("s", siteSQL), from: "FROM site s WHERE s.business_id = $1", deleted: "s.deleted_at",
	columns: map[string]string{
		"name": "s.site_id", "display_name": "s.name", "external_id": "coalesce(s.external_id, '')", "client_id": "s.client_id",
		"jurisdiction": "s.jurisdiction", "place_kind": "s.kind", "time_zone": "s.zone", "delete_time": "s.deleted_at",
	},
}

// KeptSites returns a page of sites as they are kept.
func (tx *Tx) KeptSites(asked listing.Question) ([]Listed[firm.Kept[site.Site]], error) {
	return listed[firm.Kept[site.Site]](tx, sitesListed, asked)
}

// KeptSite returns a site as it is kept, deleted or not.
func (tx *Tx) KeptSite(id site.ID) (firm.Kept[site.Site], error) {
	row, err := one[document[firm.Kept[site.Site]]](tx, "site", string(id),
		selecting+keptSQL("s", siteSQL)+` FROM site s WHERE s.business_id = $1 AND s.site_id = $2`, string(id))
	return row.value, err
}

// SetSiteExternalID writes what another system calls a site; Exists when another site in use has the name.
func (tx *Tx) SetSiteExternalID(id site.ID, external string) error {
	tx.Tell(firm.Change{Noun: firm.NounSite, ID: string(id), Kind: firm.Changed, Site: id})
	return changed("site", string(id))(tx.exec(`UPDATE site SET external_id = $3 WHERE business_id = $1 AND site_id = $2`, string(id), text(external)))
}

const updateSiteSQL = `
UPDATE site
SET
	client_id = s ->> 'client',
	name = s ->> 'name',
	zone = s ->> 'zone',
	jurisdiction = s ->> 'jurisdiction',
	kind = s ->> 'kind',
	detail = s - 'areas',
	external_id = $3,
	revision = revision + 1,
	version = version + 1
FROM jsonb_array_elements($2::jsonb) AS s
WHERE site.business_id = $1 AND site.site_id = s ->> 'id'`

const dropAreasSQL = `
DELETE FROM area
WHERE business_id = $1 AND site_id = $2 AND area_id <> ALL ($3)`

// UpdateSite writes a site anew, with its areas: those that it has no longer go. Its revision rises, and the version
// that publishing compares.
//
// Fails with NotFound for an unknown site, Exists for an external id that another site in use has or an area's id that
// another site has, and Refused (AREA_STILL_USED) for an area that something on record stands in.
func (tx *Tx) UpdateSite(s site.Site, external string) error {
	tx.Tell(firm.Change{Noun: firm.NounSite, ID: string(s.ID), Kind: firm.Changed, Site: s.ID})
	if err := changed("site", string(s.ID))(tx.exec(updateSiteSQL, jsonOf([]site.Site{s}), text(external))); err != nil {
		return err
	}
	areas := make([]site.AreaID, len(s.Areas))
	for i, area := range s.Areas {
		areas[i] = area.ID
	}
	_, err := tx.exec(dropAreasSQL, string(s.ID), ids(areas))
	if refused := fault.Of(err); err != nil && refused.Reason == "STILL_USED" {
		return fault.New(fault.Refused, "AREA_STILL_USED", "an area that is left out has plants, work or records: keep it, or move the plants first")
	}
	if err != nil {
		return err
	}
	return tx.putAreas([]site.Site{s})
}

const toldOfSQL = `
SELECT named.id
FROM unnest($3::text[]) AS named (id)
WHERE
	EXISTS (
		SELECT
		FROM history h
		JOIN infestation i ON h.business_id = i.business_id AND h.case_id = i.case_id AND i.business_id = $1
		WHERE h.business_id = $1 AND i.site_id = $2
			AND jsonb_path_exists(h.event, '$.** ? (@ == $id)', jsonb_build_object('id', named.id))
	)
	OR EXISTS (
		SELECT
		FROM plant_event e
		WHERE e.business_id = $1 AND e.site_id = $2 AND e.plant_event_id <> $4
			AND jsonb_path_exists(e.event, '$.** ? (@ == $id)', jsonb_build_object('id', named.id))
			AND NOT EXISTS (
				SELECT
				FROM plant_event_withdrawal w
				WHERE w.business_id = $1 AND w.plant_event_id = e.plant_event_id
			)
	)
	OR EXISTS (
		SELECT
		FROM report r
		WHERE r.business_id = $1 AND r.site_id = $2
			AND jsonb_path_exists(r.detail, '$.** ? (@ == $id)', jsonb_build_object('id', named.id))
	)
ORDER BY named.id`

// ToldOf returns those of some areas or plants of a site that the histories of its cases name, the reports of visits to
// it, or the events of its plants that count, but for one event ("" is none).
func ToldOf[ID site.AreaID | site.PlantID](tx *Tx, at site.ID, named []ID, butFor string) ([]ID, error) {
	return list[ID](tx, toldOfSQL, string(at), ids(named), butFor)
}

const deleteSiteSQL = `
UPDATE site
SET
	deleted_at = $3,
	revision = revision + 1,
	version = version + 1
WHERE business_id = $1 AND site_id = $2`

// DeleteSite marks a site as deleted at the firm's present instant.
func (tx *Tx) DeleteSite(id site.ID) error {
	tx.Tell(firm.Change{Noun: firm.NounSite, ID: string(id), Kind: firm.Deleted, Site: id})
	return changed("site", string(id))(tx.exec(deleteSiteSQL, string(id), instant(tx.now)))
}
