package firm

import (
	"math/big"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
)

// Lot is containers of one product that came in together, with one date on them.
type Lot struct {
	ID      string              `json:"id"`
	Product catalogue.ProductID `json:"product"`
	Number  string              `json:"number,omitempty"` // on the container
	Pack    dilution.Amount     `json:"pack"`             // in one container
	Packs   int                 `json:"packs"`            // that came in
	// ReceivedOn is when it came in; ExpiresOn the last day printed on it, unset where nobody has read it.
	ReceivedOn civil.Date `json:"received_on"`
	ExpiresOn  civil.Date `json:"expires_on"`
	// OpenedOn and KeepsOpenDays shorten that; unset while it is shut, 0 where no limit is stated.
	OpenedOn      civil.Date `json:"opened_on"`
	KeepsOpenDays int        `json:"keeps_open_days,omitempty"`
	Place         string     `json:"place,omitempty"` // where it stands
	// Base is what it holds now, in millilitres, grams or organisms, as the store reckons it.
	Base string `json:"base,omitempty"`
}

// LastDay is the last day on which the lot may be used; unset where that is not known.
func (l Lot) LastDay() civil.Date {
	return dilution.Container{ExpiresOn: l.ExpiresOn, OpenedOn: l.OpenedOn, KeepsOpenDays: l.KeepsOpenDays}.LastDay()
}

// Left is what the lot holds now, in the unit of its packs.
func (l Lot) Left() dilution.Amount { return l.Pack.Of(l.Held().Left) }

// Held is the lot as draws see it.
func (l Lot) Held() dilution.Held {
	left, ok := new(big.Rat).SetString(l.Base)
	if !ok {
		left = new(big.Rat)
	}
	last := civil.Date(0)
	if !l.ExpiresOn.IsZero() {
		last = l.LastDay()
	}
	return dilution.Held{Lot: l.ID, Left: left, From: l.ReceivedOn, Last: last}
}

// MovementKind is what happened on the shelf.
type MovementKind string

// The kinds of movement.
const (
	StockReceived MovementKind = "received"
	StockUsed     MovementKind = "used"
	StockCounted  MovementKind = "counted"
)

// Movement is what was put on the shelf, taken from it or found there.
type Movement struct {
	ID      string              `json:"id"`
	Product catalogue.ProductID `json:"product"`
	Lot     string              `json:"lot,omitempty"` // "" for a use that no lot on record could give
	Kind    MovementKind        `json:"kind"`
	At      civil.Instant       `json:"at"`
	ToldAt  civil.Instant       `json:"told_at"`
	// Amount is what came in or, where Out, went out; of a count what was found there.
	Amount dilution.Amount `json:"amount"`
	Out    bool            `json:"out,omitempty"`
	Record string          `json:"record,omitempty"` // of a use
	Note   string          `json:"note,omitempty"`
}

// StockLevel is what there is of a product beside what is to come.
type StockLevel struct {
	Product catalogue.Product
	// Usable may be used today; Unusable is past its day, or of a date that nobody has read.
	Usable, Unusable dilution.Amount
	NextExpiry       civil.Date      // of what is usable; unset where nothing is
	Unbooked         dilution.Amount // used, and in no lot on record; since the last count of any lot
	// Needed is what the plan takes, reserve included, from FirstUse to LastUse.
	Needed            dilution.Amount
	FirstUse, LastUse civil.Date
	// Short is what of that the lots cannot give on the days of use; After what is usable once the plan is done.
	Short dilution.Amount
	After dilution.Amount
	// RunsLow says that the plan could not be served twice.
	RunsLow bool
	// Living goods are delivered on DeliverOn at the latest, so that they are ordered on OrderBy; set where something is short.
	Living             bool
	DeliverOn, OrderBy civil.Date
}
