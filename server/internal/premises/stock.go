package premises

import (
	"math/big"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// AddLot records containers that came in.
//
// Fails with Invalid (CONTRADICTION, AMOUNT_INVALID, IN_THE_FUTURE), NotFound for the product, Refused (DELETED) for one that
// was withdrawn and Exists for its id or external id.
func AddLot(tx *store.Tx, told firm.Kept[firm.Lot]) (firm.Kept[firm.Lot], error) {
	l := told.Value
	product, err := tx.KeptProduct(l.Product)
	if err != nil {
		return told, err
	}
	business, err := tx.Business()
	if err != nil {
		return told, err
	}
	if err := lotRight(l, product.Value, business.Zone.DateOf(tx.Now())); err != nil {
		return told, err
	}
	if err := product.InUse("product", string(l.Product)); err != nil {
		return told, err
	}
	if err := tx.InsertLots([]firm.Lot{l}); err != nil {
		return told, err
	}
	received := firm.Movement{
		ID: l.ID + "/received", Product: l.Product, Lot: l.ID, Kind: firm.StockReceived, At: business.Zone.At(l.ReceivedOn, 0),
		Amount: l.Pack.Times(big.NewRat(int64(l.Packs), 1)),
	}
	if err := tx.InsertMovements([]firm.Movement{received}); err != nil {
		return told, err
	}
	if err := tx.SetLotExternalID(l.ID, told.ExternalID); err != nil {
		return told, err
	}
	return tx.KeptLot(l.ID)
}

// lotRight says what is wrong with a lot.
func lotRight(l firm.Lot, product catalogue.Product, today civil.Date) error {
	var fields catalogue.FieldErrors
	if err := l.Pack.Check(product.Form); err != nil {
		fields.Add("lot.pack", "AMOUNT_INVALID", "%v", err)
	}
	if l.Packs < 1 {
		fields.Add("lot.packs", catalogue.ReasonOutOfRange, "%d packs: want at least one", l.Packs)
	}
	if l.ReceivedOn > today {
		fields.Add("lot.received_on", "IN_THE_FUTURE", "received on %v, today is %v: want the day on which it came in", l.ReceivedOn, today)
	}
	if !l.OpenedOn.IsZero() && l.OpenedOn < l.ReceivedOn {
		fields.Add("lot.opened_on", catalogue.ReasonContradiction, "opened on %v, received on %v: want the days in sequence", l.OpenedOn, l.ReceivedOn)
	}
	return fault.InvalidFields(fields)
}

// ChangeLot changes a lot: change gives it as told from what stands. A nil version is whatever it is.
//
// Fails with NotFound, Refused (DELETED), Stale (ETAG_STALE), Exists for an external id, Invalid (CONTRADICTION), and as
// change does.
func ChangeLot(tx *store.Tx, id string, version *int64, change func(firm.Kept[firm.Lot]) (firm.Kept[firm.Lot], error)) (firm.Kept[firm.Lot], error) {
	standing, err := standing("lot", id, version, tx.LockLot, tx.KeptLot)
	if err != nil {
		return standing, err
	}
	told, err := change(standing)
	if err != nil {
		return standing, err
	}
	product, err := tx.KeptProduct(standing.Value.Product)
	if err != nil {
		return standing, err
	}
	if err := lotRight(told.Value, product.Value, standing.Value.ReceivedOn); err != nil {
		return standing, err
	}
	if err := tx.UpdateLot(told.Value, told.ExternalID); err != nil {
		return standing, err
	}
	return tx.KeptLot(id)
}

// DeleteLot takes a lot off the list: it is used up, or was brought to a lawful disposal. A nil version is whatever it is.
//
// Fails with NotFound, Refused (DELETED) and Stale (ETAG_STALE).
func DeleteLot(tx *store.Tx, id string, version *int64) (firm.Kept[firm.Lot], error) {
	standing, err := standing("lot", id, version, tx.LockLot, tx.KeptLot)
	if err != nil {
		return standing, err
	}
	if err := tx.DeleteLot(id); err != nil {
		return standing, err
	}
	return tx.KeptLot(id)
}

// clockTolerance is how fast a client's clock may be.
const clockTolerance = 5 * time.Minute

// Count is what somebody found of a lot.
type Count struct {
	ID    string // of the movement
	Lot   string
	At    civil.Instant // unset is now
	Found dilution.Amount
	Note  string
}

// CountLot records what was found of a lot: it holds that, whatever was booked before.
//
// Fails with NotFound, Refused (DELETED), and Invalid (AMOUNT_INVALID, IN_THE_FUTURE).
func CountLot(tx *store.Tx, c Count) (firm.Kept[firm.Lot], error) {
	standing, err := standing("lot", c.Lot, nil, tx.LockLot, tx.KeptLot)
	if err != nil {
		return standing, err
	}
	if c.At.IsZero() {
		c.At = tx.Now()
	}
	var fields catalogue.FieldErrors
	if c.At > tx.Now().Add(clockTolerance) {
		fields.Add("count_time", "IN_THE_FUTURE", "counted at %v, now is %v: want when it was counted", c.At, tx.Now())
	}
	if c.Found.Sign() < 0 || c.Found.Sign() > 0 && c.Found.Kind() != standing.Value.Pack.Kind() {
		fields.Add("found", "AMOUNT_INVALID", "%v: the lot is told by %s, such as its pack of %v", c.Found, standing.Value.Pack.Kind(), standing.Value.Pack)
	}
	if err := fault.InvalidFields(fields); err != nil {
		return standing, err
	}
	counted := firm.Movement{ID: c.ID, Product: standing.Value.Product, Lot: c.Lot, Kind: firm.StockCounted, At: c.At, Amount: c.Found, Note: c.Note}
	if err := tx.InsertMovements([]firm.Movement{counted}); err != nil {
		return standing, err
	}
	return tx.KeptLot(c.Lot)
}
