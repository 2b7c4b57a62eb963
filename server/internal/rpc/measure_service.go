package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/records"
	"vernation/server/internal/store"
)

// Measures serves MeasureService.
func Measures(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterMeasureServiceServer(r, &measureService{store: kept})
	}
}

type measureService struct {
	vernationv1.UnimplementedMeasureServiceServer
	store *store.Store
}

// GetMeasures gives the measures of a span of days.
func (s *measureService) GetMeasures(ctx context.Context, request *vernationv1.GetMeasuresRequest) (*vernationv1.Measures, error) {
	wish, err := convert.MeasureWishFrom(request)
	if err != nil {
		return nil, err
	}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Measures, error) {
		measured, err := records.Measure(tx, wish)
		if err != nil {
			return nil, err
		}
		return convert.Measures(namesOf(ctx), measured), nil
	})
}
