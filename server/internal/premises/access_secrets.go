package premises

import (
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
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

// SetAccessSecrets puts what opens a site in the place of all that it had. Version is the one that the caller saw where
// conditional, and is ignored else.
//
// Fails with NotFound for the site and Stale (ETAG_STALE) when the secrets were changed since.
func SetAccessSecrets(tx *store.Tx, secrets firm.AccessSecrets, conditional bool) (firm.AccessSecrets, error) {
	if err := tx.LockSite(secrets.Site); err != nil {
		return firm.AccessSecrets{}, err
	}
	before, err := tx.AccessSecrets(secrets.Site)
	if err != nil {
		return firm.AccessSecrets{}, err
	}
	present := before[secrets.Site].Version
	if conditional && secrets.Version != present {
		f := fault.New(fault.Stale, "ETAG_STALE", "the access secrets of %s were changed since they were read: read them again", secrets.Site)
		f.Subject = string(secrets.Site)
		return firm.AccessSecrets{}, f
	}
	secrets.Version, secrets.UpdatedAt = present+1, tx.Now()
	return secrets, tx.PutAccessSecrets(secrets)
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
