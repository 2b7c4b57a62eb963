package store

import (
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

const insertClientsSQL = `
INSERT INTO client (business_id, client_id, name, detail)
SELECT $1, c ->> 'id', c ->> 'name', c - 'id' - 'name'
FROM jsonb_array_elements($2::jsonb) AS c`

// InsertClients adds clients; Exists when one is known already.
func (tx *Tx) InsertClients(clients []firm.Client) error {
	for _, c := range clients {
		tx.Tell(firm.Change{Noun: firm.NounClient, ID: c.ID, Kind: firm.Created})
	}
	return inserted(tx, insertClientsSQL, clients)
}

const clientSQL = `c.detail || jsonb_build_object('id', c.client_id, 'name', c.name)`

// Client returns a client, deleted or not.
func (tx *Tx) Client(id string) (firm.Client, error) {
	kept, err := tx.KeptClient(id)
	return kept.Value, err
}

var clientsListed = source{
	document: keptSQL("c", clientSQL), from: "FROM client c WHERE c.business_id = $1", deleted: "c.deleted_at",
	columns: map[string]string{
		"name": "c.client_id", "display_name": "c.name", "external_id": "coalesce(c.external_id, '')", "delete_time": "c.deleted_at",
	},
}

// KeptClients returns a page of clients as they are kept.
func (tx *Tx) KeptClients(asked listing.Question) ([]Listed[firm.Kept[firm.Client]], error) {
	return listed[firm.Kept[firm.Client]](tx, clientsListed, asked)
}

// KeptClient returns a client as it is kept, deleted or not.
func (tx *Tx) KeptClient(id string) (firm.Kept[firm.Client], error) {
	row, err := one[document[firm.Kept[firm.Client]]](tx, "client", id,
		selecting+keptSQL("c", clientSQL)+` FROM client c WHERE c.business_id = $1 AND c.client_id = $2`, id)
	return row.value, err
}

// LockClient keeps everybody else from changing a client until the transaction ends; NotFound for an unknown one.
func (tx *Tx) LockClient(id string) error {
	_, err := one[string](tx, "client", id, `SELECT client_id FROM client WHERE business_id = $1 AND client_id = $2 FOR NO KEY UPDATE`, id)
	return err
}

// SetClientExternalID writes what another system calls a client; Exists when another client in use has the name.
func (tx *Tx) SetClientExternalID(id, external string) error {
	tx.Tell(firm.Change{Noun: firm.NounClient, ID: id, Kind: firm.Changed})
	return changed("client", id)(tx.exec(`UPDATE client SET external_id = $3 WHERE business_id = $1 AND client_id = $2`, id, text(external)))
}

const updateClientSQL = `
UPDATE client
SET
	name = c ->> 'name',
	detail = c - 'id' - 'name',
	external_id = $3,
	revision = revision + 1
FROM jsonb_array_elements($2::jsonb) AS c
WHERE client.business_id = $1 AND client.client_id = c ->> 'id'`

// UpdateClient writes a client anew and raises its revision; Exists when another client in use has the external id.
func (tx *Tx) UpdateClient(c firm.Client, external string) error {
	tx.Tell(firm.Change{Noun: firm.NounClient, ID: c.ID, Kind: firm.Changed})
	return changed("client", c.ID)(tx.exec(updateClientSQL, jsonOf([]firm.Client{c}), text(external)))
}

// DeleteClient marks a client as deleted at the firm's present instant.
func (tx *Tx) DeleteClient(id string) error {
	tx.Tell(firm.Change{Noun: firm.NounClient, ID: id, Kind: firm.Deleted})
	return changed("client", id)(tx.exec(
		`UPDATE client SET deleted_at = $3, revision = revision + 1 WHERE business_id = $1 AND client_id = $2`, id, instant(tx.now)))
}

// SitesOfClient returns the sites in use of a client, by id.
func (tx *Tx) SitesOfClient(id string) ([]site.ID, error) {
	return list[site.ID](tx, `SELECT site_id FROM site WHERE business_id = $1 AND client_id = $2 AND deleted_at IS NULL ORDER BY site_id`, id)
}
