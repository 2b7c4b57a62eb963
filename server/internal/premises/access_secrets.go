package premises

import (
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// AccessSecrets returns what opens a site, and keeps that the caller read it; nothing is read where none were ever set.
//
// Fails with NotFound for the site.
func AccessSecrets(tx *store.Tx, of site.ID) (firm.AccessSecrets, error) {
	if _, err := tx.Site(of); err != nil {
		return firm.AccessSecrets{}, err
	}
	found, err := tx.AccessSecrets(of)
	if err != nil {
		return firm.AccessSecrets{}, err
	}
	secrets, set := found[of]
	if !set {
		return firm.AccessSecrets{Site: of}, nil
	}
	return secrets, tx.InsertSecretReadings([]site.ID{of}, "", 0)
}

// ChangeAccessSecrets changes what opens a site: change says what it shall be from what it is. A nil version is whatever it is.
// The secrets that stand are read for the change and told to nobody, so that no reading is kept.
//
// Fails with NotFound for the site, Refused (DELETED) for one that was deleted, and Stale (ETAG_STALE).
func ChangeAccessSecrets(tx *store.Tx, of site.ID, version *int64, change func(standing firm.AccessSecrets) (firm.AccessSecrets, error)) (firm.AccessSecrets, error) {
	if _, err := lockedSite(tx, of, nil); err != nil {
		return firm.AccessSecrets{}, err
	}
	before, err := tx.AccessSecrets(of)
	if err != nil {
		return firm.AccessSecrets{}, err
	}
	standing := before[of]
	standing.Site = of
	if err := (firm.Kept[firm.AccessSecrets]{Revision: standing.Version}).Fresh(version); err != nil {
		return firm.AccessSecrets{}, err
	}
	told, err := change(standing)
	if err != nil {
		return firm.AccessSecrets{}, err
	}
	told.Site, told.Version, told.UpdatedAt = of, standing.Version+1, tx.Now()
	return told, tx.PutAccessSecrets(told)
}

// SecretReadings returns a page of who read what opens a site, the latest first.
//
// Fails with NotFound for the site.
func SecretReadings(tx *store.Tx, of site.ID, page store.Page) ([]firm.SecretReading, error) {
	if _, err := tx.Site(of); err != nil {
		return nil, err
	}
	return tx.NewestSecretReadings(of, page)
}
