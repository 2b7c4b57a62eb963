package store

import (
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// barredSQL are the products that open incidents bar from a site s.
const barredSQL = `(
	SELECT jsonb_agg(jsonb_build_object('product', i.product_id, 'incident', i.incident_id, 'since', i.detail -> 'at') ORDER BY i.incident_id)
	FROM incident i
	WHERE i.business_id = $1
		AND i.site_id = s.site_id
		AND i.product_id IS NOT NULL
		AND NOT EXISTS (SELECT FROM incident_release r WHERE r.business_id = $1 AND r.incident_id = i.incident_id)
)`

const insertIncidentSQL = `
INSERT INTO incident (business_id, incident_id, site_id, kind, product_id, happened_at, told_at, detail)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`

// InsertIncident stores an incident as told; Exists when one of that id is known. The site gets a new version.
func (tx *Tx) InsertIncident(i firm.Incident) error {
	i.Release = nil
	if _, err := tx.exec(insertIncidentSQL, i.ID, string(i.Site), string(i.Kind), text(i.Product), instant(i.At), instant(i.ReceivedAt), jsonOf(i)); err != nil {
		return err
	}
	tx.Tell(firm.Change{Noun: firm.NounIncident, ID: i.ID, Kind: firm.Created, Case: i.Case, Site: i.Site})
	if i.Product != "" {
		if err := tx.TellOfProduct(firm.Change{Noun: firm.NounProduct, ID: string(i.Product), Kind: firm.ProductStopped, Site: i.Site}); err != nil {
			return err
		}
	}
	return tx.touchSites([]site.ID{i.Site})
}

// incidentSQL is the JSON of an incident with its release.
const incidentSQL = `i.detail || jsonb_build_object('release', (
	SELECT jsonb_build_object('at', to_char(r.released_at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS"Z"'), 'by', r.released_by, 'reason', r.reason)
	FROM incident_release r
	WHERE r.business_id = $1 AND r.incident_id = i.incident_id
))`

const incidentColumnsSQL = selecting + incidentSQL + ` FROM incident i WHERE i.business_id = $1 `

// Incident returns an incident with its release.
func (tx *Tx) Incident(id string) (firm.Incident, error) {
	row, err := one[document[firm.Incident]](tx, "incident", id, incidentColumnsSQL+`AND i.incident_id = $2`, id)
	return row.value, err
}

// IncidentsOf returns the incidents of a site, open and released, in the order in which they happened.
func (tx *Tx) IncidentsOf(at site.ID) ([]firm.Incident, error) {
	return documents[firm.Incident](tx, incidentColumnsSQL+`AND i.site_id = $2 ORDER BY i.happened_at, i.incident_id`, string(at))
}

const releaseIncidentSQL = `
INSERT INTO incident_release (business_id, incident_id, released_at, released_by, reason)
VALUES ($1, $2, $3, $4, $5)`

// ReleaseIncident ends an incident; Exists when it is released already. The site gets a new version.
func (tx *Tx) ReleaseIncident(i firm.Incident, r firm.IncidentRelease) error {
	if _, err := tx.exec(releaseIncidentSQL, i.ID, instant(r.At), r.By, r.Reason); err != nil {
		return err
	}
	tx.Tell(firm.Change{Noun: firm.NounIncident, ID: i.ID, Kind: firm.Ended, Case: i.Case, Site: i.Site})
	if i.Product != "" {
		tx.Tell(firm.Change{Noun: firm.NounProduct, ID: string(i.Product), Kind: firm.ProductAllowed, Site: i.Site})
	}
	return tx.touchSites([]site.ID{i.Site})
}
