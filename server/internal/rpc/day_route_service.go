package rpc

import (
	"context"
	"slices"

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
		vernationv1.RegisterDayRouteServiceServer(r, &dayRouteService{store: kept, routes: newMadeRoutes(kept)})
	}
}

type dayRouteService struct {
	vernationv1.UnimplementedDayRouteServiceServer
	store  *store.Store
	routes *madeRoutes
}

// GetDayPack gives what a technician carries where there is no signal.
func (s *dayRouteService) GetDayPack(ctx context.Context, request *vernationv1.GetDayPackRequest) (*vernationv1.DayPack, error) {
	var pack firm.DayPack
	caller := CallerOf(ctx)
	err := s.store.Reading(ctx, caller, func(tx *store.Tx) (err error) {
		pack, err = dispatch.DayPack(tx, convert.TechnicianOfDayPack(request.GetName()))
		return err
	})
	for i := range pack.Routes {
		if err == nil {
			pack.Routes[i], err = s.opened(ctx, pack.Routes[i])
		}
	}
	if err != nil {
		return nil, err
	}
	return convert.DayPack(namesOf(ctx), pack), nil
}

// opened adds what opens the sites of a day route, for a technician on the day. It is read in a transaction of its own, which
// keeps that it was read.
func (s *dayRouteService) opened(ctx context.Context, route firm.DayRoute) (opened firm.DayRoute, err error) {
	caller := CallerOf(ctx)
	if caller.Role != firm.Technician {
		return route, nil
	}
	err = s.store.In(ctx, caller, func(tx *store.Tx) (err error) {
		opened, err = dispatch.WithSecrets(tx, route)
		return err
	})
	return opened, err
}

// GetDayRoute gives a technician's published day.
func (s *dayRouteService) GetDayRoute(ctx context.Context, request *vernationv1.GetDayRouteRequest) (*vernationv1.DayRoute, error) {
	technician, day, err := convert.DayOf(request)
	if err != nil {
		return nil, err
	}
	made, err := s.routes.dayRoute(ctx, technician, day)
	if err != nil {
		return nil, err
	}
	opened, err := s.opened(ctx, made.Route)
	if err != nil {
		return nil, err
	}
	if slices.ContainsFunc(opened.Visits, func(v firm.DayVisit) bool { return v.Secrets != nil }) {
		return convert.DayRoute(namesOf(ctx), opened), nil
	}
	return made.answer, nil
}
