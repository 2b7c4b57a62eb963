package premises

import (
	"errors"
	"fmt"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// AddClient stores a client.
//
// Fails with Invalid (INVALID_FIELDS: UNKNOWN_SITE for a contact that speaks for a site which is not the client's,
// WINDOW_INVALID) and Exists for its id or external id.
func AddClient(tx *store.Tx, told firm.Kept[firm.Client]) (firm.Kept[firm.Client], error) {
	c := told.Value
	if err := clientRight(tx, c); err != nil {
		return told, err
	}
	if err := tx.InsertClients([]firm.Client{c}); err != nil {
		return told, err
	}
	if err := tx.SetClientExternalID(c.ID, told.ExternalID); err != nil {
		return told, err
	}
	return tx.KeptClient(c.ID)
}

// clientRight says what is wrong with a client's contacts.
func clientRight(tx *store.Tx, c firm.Client) error {
	var fields catalogue.FieldErrors
	for i, contact := range c.Contacts {
		path := fmt.Sprintf("client.contacts[%d]", i)
		for _, wrong := range contact.Reachable.Faults() {
			fields.Add(strings.TrimSuffix(path+".reachable."+wrong.Entry, "."), catalogue.ReasonWindow, "%v", errors.Unwrap(wrong))
		}
		for j, id := range contact.Sites {
			s, err := tx.KeptSite(id)
			if err != nil && !fault.Is(err, fault.NotFound) {
				return err
			}
			if err != nil || s.DeletedAt != 0 || s.Value.Client != site.ClientID(c.ID) {
				fields.Add(fmt.Sprintf("%s.sites[%d]", path, j), "UNKNOWN_SITE", "%q is no site in use of this client: want one of the client's, or none for all", id)
			}
		}
	}
	return fault.InvalidFields(fields)
}

// ChangeClient changes a client: change gives it as it shall be from what stands. A nil version is whatever it is.
//
// Fails with NotFound, Refused (DELETED), Stale (ETAG_STALE), Exists for an external id that is taken, Invalid as
// AddClient does, and as change does.
func ChangeClient(tx *store.Tx, id string, version *int64, change func(standing firm.Kept[firm.Client]) (firm.Kept[firm.Client], error)) (firm.Kept[firm.Client], error) {
	standing, err := lockedClient(tx, id, version)
	if err != nil {
		return standing, err
	}
	told, err := change(standing)
	if err != nil {
		return standing, err
	}
	if err := clientRight(tx, told.Value); err != nil {
		return standing, err
	}
	if err := tx.UpdateClient(told.Value, told.ExternalID); err != nil {
		return standing, err
	}
	return tx.KeptClient(id)
}

// lockedClient returns a client in use that nobody else changes until the transaction ends.
func lockedClient(tx *store.Tx, id string, version *int64) (firm.Kept[firm.Client], error) {
	if err := tx.LockClient(id); err != nil {
		return firm.Kept[firm.Client]{}, err
	}
	standing, err := tx.KeptClient(id)
	if err != nil {
		return standing, err
	}
	if err := standing.InUse("client", id); err != nil {
		return standing, err
	}
	return standing, standing.Fresh(version)
}

// DeleteClient marks a client as deleted. A nil version is whatever it is.
//
// Fails with NotFound, Stale (ETAG_STALE) and Refused: DELETED when it is already, STILL_USED when a site in use is its.
func DeleteClient(tx *store.Tx, id string, version *int64) (firm.Kept[firm.Client], error) {
	standing, err := lockedClient(tx, id, version)
	if err != nil {
		return standing, err
	}
	sites, err := tx.SitesOfClient(id)
	if err != nil {
		return standing, err
	}
	if len(sites) > 0 {
		f := fault.New(fault.Refused, "STILL_USED", "the site %q is this client's: delete it first, or give it to another client", sites[0])
		f.Subject = id
		return standing, f
	}
	if err := tx.DeleteClient(id); err != nil {
		return standing, err
	}
	return tx.KeptClient(id)
}
