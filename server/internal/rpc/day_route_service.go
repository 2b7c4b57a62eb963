package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/dispatch"
	"vernation/server/internal/firm"
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

// GetDayRoute gives a technician's published day. What opens its sites is read in a transaction of its own, which keeps that it
// was read.
func (s *dayRouteService) GetDayRoute(ctx context.Context, request *vernationv1.GetDayRouteRequest) (*vernationv1.DayRoute, error) {
	technician, day, err := convert.DayOf(request)
	if err != nil {
		return nil, err
	}
	var route firm.DayRoute
	caller := CallerOf(ctx)
	err = s.store.Reading(ctx, caller, func(tx *store.Tx) (err error) {
		route, err = dispatch.DayRoute(tx, technician, day)
		return err
	})
	if err == nil && caller.Role == firm.Technician {
		read := route
		err = s.store.In(ctx, caller, func(tx *store.Tx) (err error) {
			route, err = dispatch.WithSecrets(tx, read)
			return err
		})
	}
	if err != nil {
		return nil, err
	}
	return convert.DayRoute(namesOf(ctx), route), nil
}
