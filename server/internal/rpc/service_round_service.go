package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/site"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

type serviceRoundService struct {
	vernationv1.UnimplementedServiceRoundServiceServer
	store *store.Store
}

// ServiceRounds serves the routine work at the sites of a business.
func ServiceRounds(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterServiceRoundServiceServer(r, &serviceRoundService{store: kept})
	}
}

// CreateServiceRound adds a service round.
func (s *serviceRoundService) CreateServiceRound(ctx context.Context, request *vernationv1.CreateServiceRoundRequest) (*vernationv1.ServiceRound, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.ServiceRound, error) { return s.add(ctx, tx, request) })
}

// BatchCreateServiceRounds adds service rounds, all or none.
func (s *serviceRoundService) BatchCreateServiceRounds(ctx context.Context, request *vernationv1.BatchCreateServiceRoundsRequest) (*vernationv1.BatchCreateServiceRoundsResponse, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.BatchCreateServiceRoundsResponse, error) {
		added, err := batch(request.GetRequests(), func(one *vernationv1.CreateServiceRoundRequest) (*vernationv1.ServiceRound, error) {
			return s.add(ctx, tx, one)
		})
		return &vernationv1.BatchCreateServiceRoundsResponse{ServiceRounds: added}, err
	})
}

func (s *serviceRoundService) add(ctx context.Context, tx *store.Tx, request *vernationv1.CreateServiceRoundRequest) (*vernationv1.ServiceRound, error) {
	told, err := convert.ServiceRoundFrom("service_round", request.GetServiceRoundId(), request.GetServiceRound())
	if err != nil {
		return nil, err
	}
	added, err := premises.AddServiceRound(tx, told)
	if err != nil {
		return nil, convert.ContractPaths(err)
	}
	return convert.ServiceRound(namesOf(ctx), added), nil
}

// GetServiceRound gives one service round.
func (s *serviceRoundService) GetServiceRound(ctx context.Context, request *vernationv1.GetServiceRoundRequest) (*vernationv1.ServiceRound, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ServiceRound, error) {
		found, err := tx.KeptService(convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.ServiceRound(namesOf(ctx), found), nil
	})
}

// ListServiceRounds gives a page of service rounds.
func (s *serviceRoundService) ListServiceRounds(ctx context.Context, request *vernationv1.ListServiceRoundsRequest) (*vernationv1.ListServiceRoundsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListServiceRoundsResponse, error) {
		found, next, err := answered(convert.ServiceRoundList, request, tx.KeptServices)
		response := &vernationv1.ListServiceRoundsResponse{NextPageToken: next}
		for _, one := range found {
			response.ServiceRounds = append(response.ServiceRounds, convert.ServiceRound(namesOf(ctx), one))
		}
		return response, err
	})
}

// UpdateServiceRound changes what the mask names of a service round.
func (s *serviceRoundService) UpdateServiceRound(ctx context.Context, request *vernationv1.UpdateServiceRoundRequest) (*vernationv1.ServiceRound, error) {
	id, names := convert.ID[string](request.GetServiceRound().GetName()), namesOf(ctx)
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.ServiceRound, error) {
		changed, err := premises.ChangeServiceRound(tx, id, convert.VersionFrom(request.GetServiceRound().GetEtag()),
			func(standing firm.Kept[site.Service]) (firm.Kept[site.Service], error) {
				whole, err := merged(ctx, request, convert.ServiceRound(names, standing))
				if err != nil {
					return standing, err
				}
				return convert.ServiceRoundFrom("service_round", id, whole)
			})
		if err != nil {
			return nil, convert.ContractPaths(err)
		}
		return convert.ServiceRound(names, changed), nil
	})
}

// DeleteServiceRound deletes a service round.
func (s *serviceRoundService) DeleteServiceRound(ctx context.Context, request *vernationv1.DeleteServiceRoundRequest) (*vernationv1.ServiceRound, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.ServiceRound, error) {
		deleted, err := premises.DeleteServiceRound(tx, convert.ID[string](request.GetName()), convert.VersionFrom(request.GetEtag()))
		if err != nil {
			return nil, err
		}
		return convert.ServiceRound(namesOf(ctx), deleted), nil
	})
}
