package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/dispatch"
	"vernation/server/internal/store"
)

// DayRoutes serves DayRouteService.
func DayRoutes(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterDayRouteServiceServer(r, &dayRouteService{store: kept})
	}
}

type dayRouteService struct {
	vernationv1.UnimplementedDayRouteServiceServer
	store *store.Store
}

// GetDayRoute gives a technician's published day.
func (s *dayRouteService) GetDayRoute(ctx context.Context, request *vernationv1.GetDayRouteRequest) (*vernationv1.DayRoute, error) {
	technician, day, err := convert.DayOf(request)
	if err != nil {
		return nil, err
	}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.DayRoute, error) {
		route, err := dispatch.DayRoute(tx, technician, day)
		if err != nil {
			return nil, err
		}
		return convert.DayRoute(convert.NamesOf(tx.Caller().Business), route), nil
	})
}
