package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/server/internal/convert"
	"vernation/server/internal/dispatch"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Stamps serves when visits and work items were begun and ended.
func Stamps(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterStampServiceServer(r, &stampService{store: kept})
	}
}

type stampService struct {
	vernationv1.UnimplementedStampServiceServer
	store *store.Store
}

// CreateStamp takes down that something was begun or ended.
func (s *stampService) CreateStamp(ctx context.Context, request *vernationv1.CreateStampRequest) (*vernationv1.Stamp, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Stamp, error) { return s.add(ctx, tx, request) })
}

// BatchCreateStamps takes down stamps, all or none.
func (s *stampService) BatchCreateStamps(ctx context.Context, request *vernationv1.BatchCreateStampsRequest) (*vernationv1.BatchCreateStampsResponse, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.BatchCreateStampsResponse, error) {
		added, err := batch(request.GetRequests(), func(one *vernationv1.CreateStampRequest) (*vernationv1.Stamp, error) { return s.add(ctx, tx, one) })
		return &vernationv1.BatchCreateStampsResponse{Stamps: added}, err
	})
}

func (s *stampService) add(ctx context.Context, tx *store.Tx, request *vernationv1.CreateStampRequest) (*vernationv1.Stamp, error) {
	kept, err := dispatch.Stamp(tx, convert.StampFrom(request.GetStampId(), request.GetStamp()))
	if err != nil {
		return nil, err
	}
	return convert.Stamp(namesOf(ctx), kept), nil
}

// ListStamps gives a page of stamps, the latest first.
func (s *stampService) ListStamps(ctx context.Context, request *vernationv1.ListStampsRequest) (*vernationv1.ListStampsResponse, error) {
	visit := convert.ID[scheduler.VisitID](request.GetVisit())
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListStampsResponse, error) {
		found, next, err := paged(request,
			func(page store.Page) ([]firm.Stamp, error) { return tx.NewestStamps(visit, page) },
			func(s firm.Stamp) string { return store.NewestKey(s.At, s.ID) })
		response := &vernationv1.ListStampsResponse{NextPageToken: next}
		for _, one := range found {
			response.Stamps = append(response.Stamps, convert.Stamp(namesOf(ctx), one))
		}
		return response, err
	})
}
