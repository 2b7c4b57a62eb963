package rpc

import (
	"context"
	"slices"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/planning"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

type lotService struct {
	vernationv1.UnimplementedLotServiceServer
	store *store.Store
}

// Lots serves the stock of a business.
func Lots(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterLotServiceServer(r, &lotService{store: kept})
	}
}

// CreateLot records a lot.
func (s *lotService) CreateLot(ctx context.Context, request *vernationv1.CreateLotRequest) (*vernationv1.Lot, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Lot, error) { return s.add(ctx, tx, request) })
}

// BatchCreateLots records lots, all or none.
func (s *lotService) BatchCreateLots(ctx context.Context, request *vernationv1.BatchCreateLotsRequest) (*vernationv1.BatchCreateLotsResponse, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.BatchCreateLotsResponse, error) {
		added, err := batch(request.GetRequests(), func(one *vernationv1.CreateLotRequest) (*vernationv1.Lot, error) { return s.add(ctx, tx, one) })
		return &vernationv1.BatchCreateLotsResponse{Lots: added}, err
	})
}

func (s *lotService) add(ctx context.Context, tx *store.Tx, request *vernationv1.CreateLotRequest) (*vernationv1.Lot, error) {
	told, err := convert.LotFrom("lot", request.GetLotId(), request.GetLot())
	if err != nil {
		return nil, err
	}
	added, err := premises.AddLot(tx, told)
	if err != nil {
		return nil, convert.ContractPaths(err)
	}
	return convert.Lot(namesOf(ctx), added), nil
}

// GetLot gives a lot.
func (s *lotService) GetLot(ctx context.Context, request *vernationv1.GetLotRequest) (*vernationv1.Lot, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Lot, error) {
		found, err := tx.KeptLot(convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Lot(namesOf(ctx), found), nil
	})
}

// ListLots gives a page of lots.
func (s *lotService) ListLots(ctx context.Context, request *vernationv1.ListLotsRequest) (*vernationv1.ListLotsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListLotsResponse, error) {
		found, next, err := answered(convert.LotList, request, tx.KeptLots)
		if err != nil {
			return nil, err
		}
		response := &vernationv1.ListLotsResponse{NextPageToken: next}
		for _, one := range found {
			response.Lots = append(response.Lots, convert.Lot(namesOf(ctx), one))
		}
		return response, nil
	})
}

// UpdateLot changes what the mask names of a lot.
func (s *lotService) UpdateLot(ctx context.Context, request *vernationv1.UpdateLotRequest) (*vernationv1.Lot, error) {
	id, names := convert.ID[string](request.GetLot().GetName()), namesOf(ctx)
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Lot, error) {
		version := convert.VersionFrom(request.GetLot().GetEtag())
		changed, err := premises.ChangeLot(tx, id, version, func(standing firm.Kept[firm.Lot]) (firm.Kept[firm.Lot], error) {
			whole, err := merged(ctx, request, convert.Lot(names, standing))
			if err != nil {
				return standing, err
			}
			return convert.LotFrom("lot", id, whole)
		})
		if err != nil {
			return nil, convert.ContractPaths(err)
		}
		return convert.Lot(namesOf(ctx), changed), nil
	})
}

// DeleteLot takes a lot back.
func (s *lotService) DeleteLot(ctx context.Context, request *vernationv1.DeleteLotRequest) (*vernationv1.Lot, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Lot, error) {
		deleted, err := premises.DeleteLot(tx, convert.ID[string](request.GetName()), convert.VersionFrom(request.GetEtag()))
		if err != nil {
			return nil, err
		}
		return convert.Lot(namesOf(ctx), deleted), nil
	})
}

// CountLot records what somebody found of a lot.
func (s *lotService) CountLot(ctx context.Context, request *vernationv1.CountLotRequest) (*vernationv1.Lot, error) {
	found, err := convert.StockAmountFrom("found", request.GetFound())
	if err != nil {
		return nil, err
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Lot, error) {
		counted, err := premises.CountLot(tx, premises.Count{
			ID: idOf(ctx, request), Lot: convert.ID[string](request.GetName()), At: convert.InstantFrom(request.GetCountTime()), Found: found, Note: request.GetNote(),
		})
		if err != nil {
			return nil, err
		}
		return convert.Lot(namesOf(ctx), counted), nil
	})
}

// ListStockMovements gives a page of what happened to a lot, the latest first.
func (s *lotService) ListStockMovements(ctx context.Context, request *vernationv1.ListStockMovementsRequest) (*vernationv1.ListStockMovementsResponse, error) {
	lot := convert.ID[string](request.GetParent())
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListStockMovementsResponse, error) {
		if _, err := tx.KeptLot(lot); err != nil {
			return nil, err
		}
		found, next, err := paged(request, func(page store.Page) ([]firm.Movement, error) { return tx.Movements(lot, page) },
			func(m firm.Movement) string { return store.NewestKey(m.At, m.ID) })
		response := &vernationv1.ListStockMovementsResponse{NextPageToken: next}
		for _, one := range found {
			response.Movements = append(response.Movements, convert.StockMovement(namesOf(ctx), one))
		}
		return response, err
	})
}

// ListStockLevels gives a page of what there is of each product and what a plan needs of it.
func (s *lotService) ListStockLevels(ctx context.Context, request *vernationv1.ListStockLevelsRequest) (*vernationv1.ListStockLevelsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListStockLevelsResponse, error) {
		all, err := planning.StockLevels(tx, convert.ID[string](request.GetPlan()))
		if err != nil {
			return nil, err
		}
		found, next, err := paged(request, func(page store.Page) ([]firm.StockLevel, error) {
			behind := slices.DeleteFunc(all, func(l firm.StockLevel) bool { return string(l.Product.ID) <= page.After })
			return behind[:min(len(behind), page.Size)], nil
		}, func(l firm.StockLevel) string { return string(l.Product.ID) })
		response := &vernationv1.ListStockLevelsResponse{NextPageToken: next}
		for _, one := range found {
			response.Levels = append(response.Levels, convert.StockLevel(namesOf(ctx), one))
		}
		return response, err
	})
}
