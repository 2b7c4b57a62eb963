package store

import (
	"context"
	"time"

	"github.com/lib/pq"

	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
)

// usedToThe is how exactly the last use of a key is known: so that a busy one is not written at each call.
const usedToThe = time.Minute

// integrationKeyRow is a row of integration_key.
type integrationKeyRow struct {
	ID           string         `db:"integration_key_id"`
	Name         string         `db:"name"`
	Scopes       pq.StringArray `db:"scopes"`
	Hash         []byte         `db:"secret_hash"`
	EarlierHash  []byte         `db:"earlier_secret_hash"`
	EarlierUntil instant        `db:"earlier_until_at"`
	ExpiresAt    instant        `db:"expires_at"`
	CreatedAt    instant        `db:"created_at"`
	CreatedBy    string         `db:"created_by"`
	RotatedAt    instant        `db:"rotated_at"`
	LastUsedAt   instant        `db:"last_used_at"`
	RevokedAt    instant        `db:"revoked_at"`
}

func (r integrationKeyRow) key() firm.IntegrationKey {
	return firm.IntegrationKey{
		ID: r.ID, Name: r.Name, Scopes: r.Scopes, Hash: r.Hash, EarlierHash: r.EarlierHash, EarlierUntil: civil.Instant(r.EarlierUntil),
		ExpiresAt: civil.Instant(r.ExpiresAt), CreatedAt: civil.Instant(r.CreatedAt), CreatedBy: r.CreatedBy,
		RotatedAt: civil.Instant(r.RotatedAt), LastUsedAt: civil.Instant(r.LastUsedAt), RevokedAt: civil.Instant(r.RevokedAt),
	}
}

const insertIntegrationKeySQL = `
INSERT INTO integration_key (business_id, integration_key_id, name, scopes, secret_hash, expires_at, created_at, created_by, rotated_at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`

// InsertIntegrationKey adds a key; Exists when one of that id is or was known.
func (tx *Tx) InsertIntegrationKey(k firm.IntegrationKey) error {
	scopes := pq.StringArray(k.Scopes)
	if scopes == nil {
		scopes = pq.StringArray{}
	}
	_, err := tx.exec(insertIntegrationKeySQL, k.ID, k.Name, scopes, k.Hash, instant(k.ExpiresAt), instant(k.CreatedAt), k.CreatedBy, instant(k.RotatedAt))
	return err
}

// IntegrationKey returns a key.
func (tx *Tx) IntegrationKey(id string) (firm.IntegrationKey, error) {
	row, err := one[integrationKeyRow](tx, "integration key", id, `
SELECT
	integration_key_id, name, scopes, secret_hash, earlier_secret_hash, earlier_until_at, expires_at, created_at, created_by,
	rotated_at, last_used_at, revoked_at
FROM integration_key
WHERE business_id = $1 AND integration_key_id = $2`, id)
	return row.key(), err
}

// IntegrationKeys returns a page of keys by id.
func (tx *Tx) IntegrationKeys(page Page) ([]firm.IntegrationKey, error) {
	rows, err := list[integrationKeyRow](tx, `
SELECT
	integration_key_id, name, scopes, secret_hash, earlier_secret_hash, earlier_until_at, expires_at, created_at, created_by,
	rotated_at, last_used_at, revoked_at
FROM integration_key
WHERE business_id = $1 AND integration_key_id > $2
ORDER BY integration_key_id
LIMIT $3`, page.After, page.limit())
	keys := make([]firm.IntegrationKey, len(rows))
	for i, row := range rows {
		keys[i] = row.key()
	}
	return keys, err
}

const setIntegrationKeySQL = `
UPDATE integration_key
SET
	secret_hash = $3,
	earlier_secret_hash = $4,
	earlier_until_at = $5,
	rotated_at = $6,
	revoked_at = $7
WHERE business_id = $1 AND integration_key_id = $2 AND revoked_at IS NULL`

// SetIntegrationKey keeps the secrets of a key and whether it is revoked; a revoked one is absent.
func (tx *Tx) SetIntegrationKey(k firm.IntegrationKey) error {
	return changed("integration key", k.ID)(tx.exec(setIntegrationKeySQL,
		k.ID, k.Hash, k.EarlierHash, instant(k.EarlierUntil), instant(k.RotatedAt), instant(k.RevokedAt)))
}

const usedIntegrationKeySQL = `
UPDATE integration_key
SET last_used_at = $3
WHERE business_id = $1 AND integration_key_id = $2`

// UseIntegrationKey lets judge say whether a key counts, and writes down that it was used; at is of the machine's clock.
// It is how a caller is known: the business is the one that the credential claims. NotFound when there is no such key.
func (s *Store) UseIntegrationKey(ctx context.Context, business firm.BusinessID, id string, at civil.Instant, judge func(firm.IntegrationKey) error) error {
	return s.In(ctx, firm.Caller{Business: business, Subject: "identity"}, func(tx *Tx) error {
		k, err := tx.IntegrationKey(id)
		if err != nil {
			return err
		}
		if err := judge(k); err != nil {
			return err
		}
		if !k.LastUsedAt.IsZero() && at < k.LastUsedAt.Add(usedToThe) {
			return nil
		}
		_, err = tx.exec(usedIntegrationKeySQL, id, instant(at))
		return err
	})
}
