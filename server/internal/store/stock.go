package store

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

const insertLotsSQL = `
INSERT INTO lot (business_id, lot_id, product_id, received_on, expires_on, opened_on, detail)
SELECT
	$1,
	l ->> 'id',
	l ->> 'product',
	(l ->> 'received_on')::date,
	nullif(l ->> 'expires_on', '')::date,
	nullif(l ->> 'opened_on', '')::date,
	l - 'base'
FROM jsonb_array_elements($2::jsonb) AS l`

// InsertLots adds lots; Exists when one is known already. What they hold is told by movements.
func (tx *Tx) InsertLots(lots []firm.Lot) error { return inserted(tx, insertLotsSQL, lots) }

// lotSQL is a lot with what it holds: what was counted last, and what happened since.
const lotSQL = `l.detail || jsonb_build_object('base', (
	SELECT (coalesce(counted.amount, 0) + coalesce((
		SELECT sum(m.amount)
		FROM stock_movement m
		WHERE m.business_id = $1 AND m.lot_id = l.lot_id AND m.kind <> 'counted'
			AND (counted.happened_at IS NULL OR m.happened_at > counted.happened_at)
	), 0))::text
	FROM (SELECT 1) AS lone
	LEFT JOIN LATERAL (
		SELECT c.amount, c.happened_at
		FROM stock_movement c
		WHERE c.business_id = $1 AND c.lot_id = l.lot_id AND c.kind = 'counted'
		ORDER BY c.happened_at DESC, c.told_at DESC, c.movement_id DESC
		LIMIT 1
	) AS counted ON true
))`

var lotsListed = source{
	document: keptSQL("l", lotSQL), from: "FROM lot l WHERE l.business_id = $1", deleted: "l.deleted_at",
	columns: map[string]string{
		"name": "l.lot_id", "product": "l.product_id", "lot_number": "coalesce(l.detail ->> 'number', '')", "received_on": "l.received_on",
		"expires_on": "l.expires_on", "opened_on": "l.opened_on", "place": "coalesce(l.detail ->> 'place', '')",
		"external_id": "coalesce(l.external_id, '')", "delete_time": "l.deleted_at",
	},
}

// KeptLots returns a page of lots as they are kept, with what they hold.
func (tx *Tx) KeptLots(asked listing.Question) ([]Listed[firm.Kept[firm.Lot]], error) {
	return listed[firm.Kept[firm.Lot]](tx, lotsListed, asked)
}

// KeptLot returns a lot as it is kept, with what it holds, one that was taken off the list too.
func (tx *Tx) KeptLot(id string) (firm.Kept[firm.Lot], error) {
	row, err := one[document[firm.Kept[firm.Lot]]](tx, "lot", id, selecting+keptSQL("l", lotSQL)+` FROM lot l WHERE l.business_id = $1 AND l.lot_id = $2`, id)
	return row.value, err
}

// Lots returns the lots of some products, of all when none is named, that are on the list, by id, with what they hold.
func (tx *Tx) Lots(of ...catalogue.ProductID) ([]firm.Lot, error) {
	const rest = `
FROM lot l
WHERE l.business_id = $1 AND l.deleted_at IS NULL AND (cardinality($2::text[]) = 0 OR l.product_id = ANY ($2))
ORDER BY l.lot_id`
	return documents[firm.Lot](tx, selecting+lotSQL+rest, ids(of))
}

// LockLots keeps others from drawing on the lots of products until the transaction ends.
func (tx *Tx) LockLots(of []catalogue.ProductID) error {
	_, err := list[string](tx, `SELECT lot_id FROM lot WHERE business_id = $1 AND product_id = ANY ($2) ORDER BY lot_id FOR NO KEY UPDATE`, ids(of))
	return err
}

// LockLot keeps others from changing a lot until the transaction ends; NotFound for an unknown one.
func (tx *Tx) LockLot(id string) error {
	_, err := one[string](tx, "lot", id, `SELECT lot_id FROM lot WHERE business_id = $1 AND lot_id = $2 FOR NO KEY UPDATE`, id)
	return err
}

// SetLotExternalID writes what another system calls a lot; Exists when another lot has the name.
func (tx *Tx) SetLotExternalID(id, external string) error {
	return changed("lot", id)(tx.exec(`UPDATE lot SET external_id = $3 WHERE business_id = $1 AND lot_id = $2`, id, text(external)))
}

const updateLotSQL = `
UPDATE lot
SET
	expires_on = nullif(l ->> 'expires_on', '')::date,
	opened_on = nullif(l ->> 'opened_on', '')::date,
	detail = l - 'base',
	external_id = $3,
	revision = revision + 1
FROM jsonb_array_elements($2::jsonb) AS l
WHERE lot.business_id = $1 AND lot.lot_id = l ->> 'id'`

// UpdateLot writes a lot anew, but for its product and when it came in.
func (tx *Tx) UpdateLot(l firm.Lot, external string) error {
	return changed("lot", l.ID)(tx.exec(updateLotSQL, jsonOf([]firm.Lot{l}), text(external)))
}

// DeleteLot takes a lot off the list at the firm's present instant.
func (tx *Tx) DeleteLot(id string) error {
	const statement = `UPDATE lot SET deleted_at = $3, revision = revision + 1 WHERE business_id = $1 AND lot_id = $2`
	return changed("lot", id)(tx.exec(statement, id, instant(tx.now)))
}

// amountDecimals is how exactly the store keeps amounts in millilitres, grams or organisms: a fluid ounce halved eight times is
// still exact.
const amountDecimals = 18

// writtenMovement is a movement with its amount in the unit that all are added up in.
type writtenMovement struct {
	firm.Movement
	Base string `json:"base"`
}

const insertMovementsSQL = `
INSERT INTO stock_movement (business_id, movement_id, product_id, lot_id, kind, happened_at, told_at, amount, record_id, detail)
SELECT
	$1,
	m ->> 'id',
	m ->> 'product',
	nullif(m ->> 'lot', ''),
	m ->> 'kind',
	(m ->> 'at')::timestamptz,
	(m ->> 'told_at')::timestamptz,
	(m ->> 'base')::numeric,
	nullif(m ->> 'record', ''),
	m - 'base'
FROM jsonb_array_elements($2::jsonb) AS m`

// InsertMovements adds movements, told now; Exists when one is known already.
func (tx *Tx) InsertMovements(movements []firm.Movement) error {
	written := make([]writtenMovement, len(movements))
	for i, m := range movements {
		m.ToldAt = tx.now
		base := quantity.Decimal(m.Amount.Base(), amountDecimals)
		if m.Out {
			base = "-" + base
		}
		written[i] = writtenMovement{m, base}
	}
	return inserted(tx, insertMovementsSQL, written)
}

// Movements returns a page of the movements of a lot, the latest first; its keys are NewestKey(At, ID).
func (tx *Tx) Movements(lot string, page Page) ([]firm.Movement, error) {
	const query = `
SELECT detail
FROM stock_movement
WHERE business_id = $1 AND lot_id = $2
	AND ($3::timestamptz IS NULL OR (happened_at, movement_id) < ($3, $4))
ORDER BY happened_at DESC, movement_id DESC
LIMIT $5`
	at, id, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	return documents[firm.Movement](tx, query, lot, at, id, page.limit())
}

// UsesOf returns what was taken from the shelf for application records, by id.
func (tx *Tx) UsesOf(records []string) ([]firm.Movement, error) {
	return documents[firm.Movement](tx, `
SELECT detail
FROM stock_movement
WHERE business_id = $1 AND record_id = ANY ($2) AND amount < 0
ORDER BY movement_id`, ids(records))
}

// Unbooked returns what was used of each product and could be taken from no lot, since the last count of one of its lots, by product.
func (tx *Tx) Unbooked() (map[catalogue.ProductID][]dilution.Amount, error) {
	const query = `
SELECT m.detail
FROM stock_movement m
WHERE m.business_id = $1 AND m.lot_id IS NULL AND m.kind = 'used'
	AND NOT EXISTS (
		SELECT FROM stock_movement c
		WHERE c.business_id = $1 AND c.product_id = m.product_id AND c.kind = 'counted' AND c.happened_at > m.happened_at
	)
ORDER BY m.happened_at, m.movement_id`
	movements, err := documents[firm.Movement](tx, query)
	unbooked := map[catalogue.ProductID][]dilution.Amount{}
	for _, m := range movements {
		unbooked[m.Product] = append(unbooked[m.Product], m.Amount)
	}
	return unbooked, err
}
