package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

type speciesToleranceService struct {
	vernationv1.UnimplementedSpeciesToleranceServiceServer
	store *store.Store
}

// SpeciesTolerances serves the business's own records of what its plants stood.
func SpeciesTolerances(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterSpeciesToleranceServiceServer(r, &speciesToleranceService{store: kept})
	}
}

// CreateSpeciesTolerance adds a tolerance.
func (s *speciesToleranceService) CreateSpeciesTolerance(ctx context.Context, request *vernationv1.CreateSpeciesToleranceRequest) (*vernationv1.SpeciesTolerance, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.SpeciesTolerance, error) { return s.add(ctx, tx, request) })
}

// BatchCreateSpeciesTolerances adds tolerances, all or none.
func (s *speciesToleranceService) BatchCreateSpeciesTolerances(ctx context.Context, request *vernationv1.BatchCreateSpeciesTolerancesRequest) (*vernationv1.BatchCreateSpeciesTolerancesResponse, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.BatchCreateSpeciesTolerancesResponse, error) {
		added, err := batch(request.GetRequests(), func(one *vernationv1.CreateSpeciesToleranceRequest) (*vernationv1.SpeciesTolerance, error) {
			return s.add(ctx, tx, one)
		})
		return &vernationv1.BatchCreateSpeciesTolerancesResponse{SpeciesTolerances: added}, err
	})
}

func (s *speciesToleranceService) add(ctx context.Context, tx *store.Tx, request *vernationv1.CreateSpeciesToleranceRequest) (*vernationv1.SpeciesTolerance, error) {
	added, err := premises.AddSpeciesTolerance(tx, convert.SpeciesToleranceFrom(request.GetSpeciesToleranceId(), request.GetSpeciesTolerance()))
	if err != nil {
		return nil, err
	}
	return convert.SpeciesTolerance(namesOf(ctx), added), nil
}

// GetSpeciesTolerance gives one tolerance.
func (s *speciesToleranceService) GetSpeciesTolerance(ctx context.Context, request *vernationv1.GetSpeciesToleranceRequest) (*vernationv1.SpeciesTolerance, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.SpeciesTolerance, error) {
		found, err := tx.KeptSpeciesTolerance(convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.SpeciesTolerance(namesOf(ctx), found), nil
	})
}

// ListSpeciesTolerances gives a page of tolerances.
func (s *speciesToleranceService) ListSpeciesTolerances(ctx context.Context, request *vernationv1.ListSpeciesTolerancesRequest) (*vernationv1.ListSpeciesTolerancesResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListSpeciesTolerancesResponse, error) {
		found, next, err := answered(convert.SpeciesToleranceList, request, tx.KeptSpeciesTolerances)
		response := &vernationv1.ListSpeciesTolerancesResponse{NextPageToken: next}
		for _, one := range found {
			response.SpeciesTolerances = append(response.SpeciesTolerances, convert.SpeciesTolerance(namesOf(ctx), one))
		}
		return response, err
	})
}

// UpdateSpeciesTolerance changes what the mask names of a tolerance.
func (s *speciesToleranceService) UpdateSpeciesTolerance(ctx context.Context, request *vernationv1.UpdateSpeciesToleranceRequest) (*vernationv1.SpeciesTolerance, error) {
	id, names := convert.ID[string](request.GetSpeciesTolerance().GetName()), namesOf(ctx)
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.SpeciesTolerance, error) {
		changed, err := premises.ChangeSpeciesTolerance(tx, id, convert.VersionFrom(request.GetSpeciesTolerance().GetEtag()),
			func(standing firm.Kept[catalogue.SpeciesTolerance]) (firm.Kept[catalogue.SpeciesTolerance], error) {
				whole, err := merged(ctx, request, convert.SpeciesTolerance(names, standing))
				if err != nil {
					return standing, err
				}
				return convert.SpeciesToleranceFrom(id, whole), nil
			})
		if err != nil {
			return nil, err
		}
		return convert.SpeciesTolerance(names, changed), nil
	})
}

// DeleteSpeciesTolerance deletes a tolerance.
func (s *speciesToleranceService) DeleteSpeciesTolerance(ctx context.Context, request *vernationv1.DeleteSpeciesToleranceRequest) (*vernationv1.SpeciesTolerance, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.SpeciesTolerance, error) {
		deleted, err := premises.DeleteSpeciesTolerance(tx, convert.ID[string](request.GetName()), convert.VersionFrom(request.GetEtag()))
		if err != nil {
			return nil, err
		}
		return convert.SpeciesTolerance(namesOf(ctx), deleted), nil
	})
}
