package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/dilution"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

var movementKinds = tableOf(map[vernationv1.StockMovementKind]firm.MovementKind{
	vernationv1.StockMovementKind_STOCK_MOVEMENT_KIND_RECEIVED: firm.StockReceived,
	vernationv1.StockMovementKind_STOCK_MOVEMENT_KIND_USED:     firm.StockUsed,
	vernationv1.StockMovementKind_STOCK_MOVEMENT_KIND_COUNTED:  firm.StockCounted,
})

// stockAmount writes an amount; an empty message where it is nothing.
func stockAmount(a dilution.Amount) *vernationv1.StockAmount {
	return &vernationv1.StockAmount{Volume: volumeText(a.Volume), Mass: massText(a.Mass), Organisms: a.Organisms}
}

// reckonedAmount writes an amount that was added up, to the third decimal; an empty message where it is nothing.
func reckonedAmount(a dilution.Amount) *vernationv1.StockAmount {
	m := &vernationv1.StockAmount{Organisms: a.Organisms}
	if !a.Volume.IsZero() {
		m.Volume = a.Volume.String()
	}
	if !a.Mass.IsZero() {
		m.Mass = a.Mass.String()
	}
	return m
}

func (r *reading) stockAmount(path string, m *vernationv1.StockAmount) dilution.Amount {
	return dilution.Amount{Volume: r.volume(path+".volume", m.GetVolume()), Mass: r.mass(path+".mass", m.GetMass()), Organisms: m.GetOrganisms()}
}

// StockAmountFrom reads an amount; path is where the message stands in its request.
func StockAmountFrom(path string, m *vernationv1.StockAmount) (dilution.Amount, error) {
	r := &reading{}
	amount := r.stockAmount(path, m)
	return amount, fault.InvalidFields(r.wrong)
}

// Lot writes a lot as it is kept, with what it holds.
func Lot(names Names, kept firm.Kept[firm.Lot]) *vernationv1.Lot {
	l := kept.Value
	return &vernationv1.Lot{
		Name: names.Lot(l.ID), Product: names.Product(l.Product), LotNumber: l.Number, Pack: stockAmount(l.Pack), Packs: int32(l.Packs),
		ReceivedOn: l.ReceivedOn.String(), ExpiresOn: l.ExpiresOn.String(), OpenedOn: l.OpenedOn.String(), KeepsOpenDays: int32(l.KeepsOpenDays),
		Place: l.Place, Left: reckonedAmount(l.Left()), UseByOn: l.Held().Last.String(),
		ExternalId: kept.ExternalID, Etag: Etag(kept.Revision), DeleteTime: Timestamp(kept.DeletedAt),
	}
}

// LotFrom reads a lot that shall have an id; path is where the message stands in its request.
func LotFrom(path, id string, m *vernationv1.Lot) (firm.Kept[firm.Lot], error) {
	r := &reading{}
	l := firm.Lot{
		ID: id, Product: ID[catalogue.ProductID](m.GetProduct()), Number: m.GetLotNumber(), Pack: r.stockAmount(path+".pack", m.GetPack()), Packs: int(m.GetPacks()),
		ReceivedOn: r.date(path+".received_on", m.GetReceivedOn()), ExpiresOn: r.date(path+".expires_on", m.GetExpiresOn()),
		OpenedOn: r.date(path+".opened_on", m.GetOpenedOn()), KeepsOpenDays: int(m.GetKeepsOpenDays()), Place: m.GetPlace(),
	}
	return firm.Kept[firm.Lot]{Value: l, ExternalID: m.GetExternalId()}, fault.InvalidFields(r.wrong)
}

// LotList declares by what lots may be filtered and put in order.
var LotList = listing.Declare(
	named(listing.NameField), named("product"), text("lot_number"), listing.Field{Name: "received_on", Kind: listing.Day},
	listing.Field{Name: "expires_on", Kind: listing.Day, Unordered: true}, listing.Field{Name: "opened_on", Kind: listing.Day, Unordered: true},
	text("place"), text("external_id"), listing.Field{Name: "delete_time", Kind: listing.Instant, Unordered: true},
)

// StockMovement writes what happened to a lot.
func StockMovement(names Names, m firm.Movement) *vernationv1.StockMovement {
	return &vernationv1.StockMovement{
		Kind: movementKinds.enum(m.Kind), HappenTime: Timestamp(m.At), ToldTime: Timestamp(m.ToldAt), Amount: reckonedAmount(m.Amount), TakenOut: m.Out,
		Record: names.Record(m.Record), Note: m.Note,
	}
}

// StockLevel writes what there is of a product beside what is to come.
func StockLevel(names Names, l firm.StockLevel) *vernationv1.StockLevel {
	return &vernationv1.StockLevel{
		Product: names.Product(l.Product.ID), DisplayName: l.Product.Name, Usable: reckonedAmount(l.Usable), Unusable: reckonedAmount(l.Unusable),
		NextExpiryOn: l.NextExpiry.String(), Unbooked: reckonedAmount(l.Unbooked), Needed: reckonedAmount(l.Needed), FirstUseOn: l.FirstUse.String(),
		LastUseOn: l.LastUse.String(), Short: reckonedAmount(l.Short), After: reckonedAmount(l.After), RunsLow: l.RunsLow, Living: l.Living,
		DeliverOn: l.DeliverOn.String(), RequestOn: l.OrderBy.String(),
	}
}
