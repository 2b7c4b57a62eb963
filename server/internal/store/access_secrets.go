package store

import (
	"crypto/rand"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

type accessSecretsRow struct {
	Site      string `db:"site_id"`
	Version   int64
	UpdatedAt instant `db:"updated_at"`
	Secrets   document[firm.AccessSecrets]
}

// AccessSecrets returns the access secrets of some sites by site; a site of which none were ever set has no entry. Who reads
// them for somebody keeps that with InsertSecretReadings.
func (tx *Tx) AccessSecrets(of ...site.ID) (map[site.ID]firm.AccessSecrets, error) {
	const query = `
SELECT site_id, version, updated_at, secrets
FROM access_secrets
WHERE business_id = $1 AND site_id = ANY ($2)
ORDER BY site_id`
	rows, err := list[accessSecretsRow](tx, query, ids(of))
	found := make(map[site.ID]firm.AccessSecrets, len(rows))
	for _, row := range rows {
		secrets := row.Secrets.value
		secrets.Version, secrets.UpdatedAt = row.Version, civil.Instant(row.UpdatedAt)
		found[site.ID(row.Site)] = secrets
	}
	return found, err
}

// PutAccessSecrets puts secrets with their version in the place of those that the site had; NotFound for an unknown site.
func (tx *Tx) PutAccessSecrets(s firm.AccessSecrets) error {
	const statement = `
INSERT INTO access_secrets (business_id, site_id, version, updated_at, secrets)
VALUES ($1, $2, $3, $4, $5)
ON CONFLICT (business_id, site_id) DO UPDATE
SET
	version = excluded.version,
	updated_at = excluded.updated_at,
	secrets = excluded.secrets`
	_, err := tx.exec(statement, string(s.Site), s.Version, instant(s.UpdatedAt), jsonOf(s))
	return err
}

// InsertSecretReadings keeps that the transaction's caller reads the secrets of sites now: in the day route of a technician's
// day, or, where no technician is named, by the office's own method.
func (tx *Tx) InsertSecretReadings(of []site.ID, technician scheduler.TechnicianID, day civil.Date) error {
	const statement = `
INSERT INTO access_secrets_reading (business_id, reading_id, site_id, read_at, reader, role, technician_id, day_on)
SELECT $1, told.reading_id, told.site_id, $4, $5, $6, $7, $8
FROM unnest($2::text[], $3::text[]) AS told (reading_id, site_id)`
	names := make([]string, len(of))
	for i := range of {
		names[i] = rand.Text()
	}
	_, err := tx.exec(statement, ids(names), ids(of), instant(tx.now), tx.caller.Subject, string(tx.caller.Role), text(technician), date(day))
	return err
}

type secretReadingRow struct {
	ID         string  `db:"reading_id"`
	Site       string  `db:"site_id"`
	ReadAt     instant `db:"read_at"`
	Reader     string
	Role       string
	Technician text `db:"technician_id"`
	Day        date `db:"day_on"`
}

// NewestSecretReadings returns a page of the readings of a site's access secrets, the latest first; its keys are
// NewestKey(ReadAt, ID).
func (tx *Tx) NewestSecretReadings(of site.ID, page Page) ([]firm.SecretReading, error) {
	const query = `
SELECT reading_id, site_id, read_at, reader, role, technician_id, day_on
FROM access_secrets_reading
WHERE business_id = $1
	AND site_id = $4
	AND ($2::timestamptz IS NULL OR (read_at, reading_id) < ($2, $3))
ORDER BY read_at DESC, reading_id DESC
LIMIT $5`
	at, id, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	rows, err := list[secretReadingRow](tx, query, at, id, string(of), page.limit())
	readings := make([]firm.SecretReading, len(rows))
	for i, r := range rows {
		readings[i] = firm.SecretReading{
			ID: r.ID, Site: site.ID(r.Site), ReadAt: civil.Instant(r.ReadAt), Reader: r.Reader, Role: firm.Role(r.Role),
			Technician: scheduler.TechnicianID(r.Technician), Day: civil.Date(r.Day),
		}
	}
	return readings, err
}
