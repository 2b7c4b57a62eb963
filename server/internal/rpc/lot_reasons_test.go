package rpc_test

import (
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
)

// lot is one of soap that can be right, changed by a test: two bottles of 32 US fl oz.
func (w *works) lot(id string, change func(*vernationv1.Lot)) *vernationv1.CreateLotRequest {
	lot := &vernationv1.Lot{
		Product: w.name("products/soap"), LotNumber: "A-17", Pack: &vernationv1.StockAmount{Volume: "32 US fl oz"}, Packs: 2,
		ReceivedOn: "2026-02-01", ExpiresOn: "2027-01-31",
	}
	if change != nil {
		change(lot)
	}
	return &vernationv1.CreateLotRequest{Parent: w.name(""), LotId: id, Lot: lot, RequestId: request()}
}

// prepareLots makes what the refusals speak of.
func (d *desk) prepareLots() error {
	for _, id := range []string{"known", "left", "taken"} {
		if _, err := d.lots().CreateLot(d.office, d.lot(id, func(l *vernationv1.Lot) { l.ExternalId = id })); err != nil {
			return err
		}
	}
	_, err := d.lots().DeleteLot(d.office, &vernationv1.DeleteLotRequest{Name: d.name("lots/left"), RequestId: request()})
	return err
}

// wrongLots are lots that cannot be, by reason.
var wrongLots = map[string]func(*desk, *vernationv1.Lot){
	"INVALID_ARGUMENT AMOUNT_INVALID": func(_ *desk, l *vernationv1.Lot) { l.Pack = &vernationv1.StockAmount{Mass: "500 g"} },
	"INVALID_ARGUMENT CONTRADICTION":  func(_ *desk, l *vernationv1.Lot) { l.OpenedOn = "2026-01-31" },
	"INVALID_ARGUMENT IN_THE_FUTURE":  func(_ *desk, l *vernationv1.Lot) { l.ReceivedOn = "2026-03-03" },
	"NOT_FOUND NOT_FOUND":             func(d *desk, l *vernationv1.Lot) { l.Product = d.name("products/nothing") },
	"FAILED_PRECONDITION DELETED":     func(d *desk, l *vernationv1.Lot) { l.Product = d.name("products/left") },
}

func lotRefusals() []refusal {
	create := func(id string, change func(*desk, *vernationv1.Lot)) func(*desk) error {
		return func(d *desk) error {
			_, err := d.lots().CreateLot(d.office, d.lot(id, func(l *vernationv1.Lot) { change(d, l) }))
			return err
		}
	}
	many := func(id string, change func(*desk, *vernationv1.Lot)) func(*desk) error {
		return func(d *desk) error {
			one := d.lot(id, func(l *vernationv1.Lot) { change(d, l) })
			_, err := d.lots().BatchCreateLots(d.office, &vernationv1.BatchCreateLotsRequest{Parent: d.name(""), RequestId: request(), Requests: []*vernationv1.CreateLotRequest{one}})
			return err
		}
	}
	update := func(id string, paths []string, change func(*desk, *vernationv1.Lot)) func(*desk) error {
		return func(d *desk) error {
			told := &vernationv1.Lot{Name: d.name("lots/" + id)}
			change(d, told)
			_, err := d.lots().UpdateLot(d.office, &vernationv1.UpdateLotRequest{Lot: told, UpdateMask: mask(paths...), RequestId: request()})
			return err
		}
	}
	remove := func(id, etag string) func(*desk) error {
		return func(d *desk) error {
			_, err := d.lots().DeleteLot(d.office, &vernationv1.DeleteLotRequest{Name: d.name("lots/" + id), Etag: etag, RequestId: request()})
			return err
		}
	}
	list := func(ask *vernationv1.ListLotsRequest) func(*desk) error {
		return func(d *desk) error {
			ask.Parent = d.name("")
			_, err := d.lots().ListLots(d.office, ask)
			return err
		}
	}
	count := func(id string, change func(*desk, *vernationv1.CountLotRequest)) func(*desk) error {
		return func(d *desk) error {
			ask := &vernationv1.CountLotRequest{Name: d.name("lots/" + id), RequestId: request()}
			change(d, ask)
			_, err := d.lots().CountLot(d.office, ask)
			return err
		}
	}
	as := func(external string) func(*desk, *vernationv1.Lot) {
		return func(_ *desk, l *vernationv1.Lot) { l.ExternalId = external }
	}
	nothing := func(*desk, *vernationv1.CountLotRequest) {}
	refusals := []refusal{
		{"CreateLot", "ALREADY_EXISTS EXISTS_ALREADY", create("known", as(""))},
		{"CreateLot", "ALREADY_EXISTS EXISTS_ALREADY", create("new", as("taken"))},
		{"BatchCreateLots", "ALREADY_EXISTS EXISTS_ALREADY", many("known", as(""))},
		{"GetLot", "NOT_FOUND NOT_FOUND", func(d *desk) error {
			_, err := d.lots().GetLot(d.techB, &vernationv1.GetLotRequest{Name: d.name("lots/none")})
			return err
		}},
		{"UpdateLot", "INVALID_ARGUMENT MASK_PATH_UNKNOWN", update("known", []string{"colour"}, as(""))},
		{"UpdateLot", "INVALID_ARGUMENT MASK_PATH_READ_ONLY", update("known", []string{"packs"}, as(""))},
		{"UpdateLot", "INVALID_ARGUMENT CONTRADICTION", update("known", []string{"opened_on"}, wrongLots["INVALID_ARGUMENT CONTRADICTION"])},
		{"UpdateLot", "NOT_FOUND NOT_FOUND", update("none", []string{"external_id"}, as("x"))},
		{"UpdateLot", "ALREADY_EXISTS EXISTS_ALREADY", update("known", []string{"external_id"}, as("taken"))},
		{"UpdateLot", "ABORTED ETAG_STALE", update("known", []string{"place"}, func(_ *desk, l *vernationv1.Lot) { l.Etag = "nonsense" })},
		{"UpdateLot", "FAILED_PRECONDITION DELETED", update("left", []string{"place"}, as(""))},
		{"DeleteLot", "NOT_FOUND NOT_FOUND", remove("none", "")},
		{"DeleteLot", "ABORTED ETAG_STALE", remove("known", "nonsense")},
		{"DeleteLot", "FAILED_PRECONDITION DELETED", remove("left", "")},
		{"ListLots", "INVALID_ARGUMENT FILTER_INVALID", list(&vernationv1.ListLotsRequest{Filter: `colour = "green"`})},
		{"ListLots", "INVALID_ARGUMENT ORDER_INVALID", list(&vernationv1.ListLotsRequest{OrderBy: "colour"})},
		{"ListLots", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", list(&vernationv1.ListLotsRequest{PageToken: "page-2"})},
		{"CountLot", "NOT_FOUND NOT_FOUND", count("none", nothing)},
		{"CountLot", "FAILED_PRECONDITION DELETED", count("left", nothing)},
		{"CountLot", "INVALID_ARGUMENT AMOUNT_INVALID", count("known", func(_ *desk, r *vernationv1.CountLotRequest) {
			r.Found = &vernationv1.StockAmount{Organisms: 12}
		})},
		{"CountLot", "INVALID_ARGUMENT IN_THE_FUTURE", count("known", func(d *desk, r *vernationv1.CountLotRequest) {
			r.CountTime = timestamppb.New(d.Clock.Now().Add(6 * time.Minute).Time())
		})},
		{"ListStockMovements", "NOT_FOUND NOT_FOUND", func(d *desk) error {
			_, err := d.lots().ListStockMovements(d.office, &vernationv1.ListStockMovementsRequest{Parent: d.name("lots/none")})
			return err
		}},
		{"ListStockMovements", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
			_, err := d.lots().ListStockMovements(d.office, &vernationv1.ListStockMovementsRequest{Parent: d.name("lots/known"), PageToken: "page-2"})
			return err
		}},
		{"ListStockLevels", "NOT_FOUND NOT_FOUND", func(d *desk) error {
			_, err := d.lots().ListStockLevels(d.office, &vernationv1.ListStockLevelsRequest{Parent: d.name(""), Plan: d.name("plans/none")})
			return err
		}},
		{"ListStockLevels", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
			_, err := d.lots().ListStockLevels(d.office, &vernationv1.ListStockLevelsRequest{Parent: d.name(""), PageToken: "page-2"})
			return err
		}},
	}
	for reason, change := range wrongLots {
		refusals = append(refusals, refusal{"CreateLot", reason, create("new", change)}, refusal{"BatchCreateLots", reason, many("new", change)})
	}
	return refusals
}
