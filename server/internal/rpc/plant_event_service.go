package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

type plantEventService struct {
	vernationv1.UnimplementedPlantEventServiceServer
	store *store.Store
}

// PlantEvents serves what happened to plants outside the work items of a visit.
func PlantEvents(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterPlantEventServiceServer(r, &plantEventService{store: kept})
	}
}

// CreatePlantEvent stores an event of plants.
func (s *plantEventService) CreatePlantEvent(ctx context.Context, request *vernationv1.CreatePlantEventRequest) (*vernationv1.PlantEvent, error) {
	told, err := convert.PlantEventFrom("plant_event", request.GetPlantEventId(), request.GetPlantEvent())
	if err != nil {
		return nil, err
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.PlantEvent, error) {
		kept, err := casework.TellPlantEvent(tx, told)
		if err != nil {
			return nil, err
		}
		return convert.PlantEvent(namesOf(ctx), kept), nil
	})
}

// GetPlantEvent gives one event of plants.
func (s *plantEventService) GetPlantEvent(ctx context.Context, request *vernationv1.GetPlantEventRequest) (*vernationv1.PlantEvent, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.PlantEvent, error) {
		found, err := tx.PlantEvent(convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.PlantEvent(namesOf(ctx), found), nil
	})
}

// ListPlantEvents gives a page of events, the latest happening first, of one plant or of all.
func (s *plantEventService) ListPlantEvents(ctx context.Context, request *vernationv1.ListPlantEventsRequest) (*vernationv1.ListPlantEventsResponse, error) {
	plant := convert.ID[site.PlantID](request.GetPlant())
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListPlantEventsResponse, error) {
		found, next, err := paged(request, func(page store.Page) ([]firm.PlantEvent, error) { return casework.PlantEvents(tx, plant, page) },
			func(e firm.PlantEvent) string { return store.NewestKey(e.At, e.ID) })
		response := &vernationv1.ListPlantEventsResponse{NextPageToken: next}
		for _, one := range found {
			response.PlantEvents = append(response.PlantEvents, convert.PlantEvent(namesOf(ctx), one))
		}
		return response, err
	})
}

// WithdrawPlantEvent withdraws an event that was told wrongly.
func (s *plantEventService) WithdrawPlantEvent(ctx context.Context, request *vernationv1.WithdrawPlantEventRequest) (*vernationv1.PlantEvent, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.PlantEvent, error) {
		withdrawn, err := casework.WithdrawPlantEvent(tx, convert.ID[string](request.GetName()), request.GetReason())
		if err != nil {
			return nil, err
		}
		return convert.PlantEvent(namesOf(ctx), withdrawn), nil
	})
}
