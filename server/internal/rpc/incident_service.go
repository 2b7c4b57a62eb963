package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

type incidentService struct {
	vernationv1.UnimplementedIncidentServiceServer
	store *store.Store
}

// Incidents serves what went wrong at sites, and what it bars.
func Incidents(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterIncidentServiceServer(r, &incidentService{store: kept})
	}
}

// CreateIncident stores an incident; its product is barred from its site.
func (s *incidentService) CreateIncident(ctx context.Context, request *vernationv1.CreateIncidentRequest) (*vernationv1.Incident, error) {
	id := request.GetIncidentId()
	if id == "" {
		id = idOf(ctx, request)
	}
	told, err := convert.IncidentFrom(id, request.GetIncident())
	if err != nil {
		return nil, err
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Incident, error) {
		kept, err := casework.TellIncident(tx, told)
		return writtenIncident(tx, kept, err)
	})
}

// GetIncident gives one incident.
func (s *incidentService) GetIncident(ctx context.Context, request *vernationv1.GetIncidentRequest) (*vernationv1.Incident, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Incident, error) {
		found, err := tx.Incident(convert.ID[string](request.GetName()))
		return writtenIncident(tx, found, err)
	})
}

// ListIncidents gives a page of incidents.
func (s *incidentService) ListIncidents(ctx context.Context, request *vernationv1.ListIncidentsRequest) (*vernationv1.ListIncidentsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListIncidentsResponse, error) {
		business, err := tx.Business()
		if err != nil {
			return nil, err
		}
		found, next, err := answered(convert.IncidentList, request, tx.ListIncidents)
		response := &vernationv1.ListIncidentsResponse{NextPageToken: next}
		for _, one := range found {
			response.Incidents = append(response.Incidents, convert.Incident(namesOf(ctx), business, one))
		}
		return response, err
	})
}

// ReleaseIncident lets the product of an incident be used at its site again.
func (s *incidentService) ReleaseIncident(ctx context.Context, request *vernationv1.ReleaseIncidentRequest) (*vernationv1.Incident, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Incident, error) {
		released, err := casework.ReleaseIncident(tx, convert.ID[string](request.GetName()), request.GetReason())
		return writtenIncident(tx, released, err)
	})
}

// writtenIncident answers with an incident, or with why there is none.
func writtenIncident(tx *store.Tx, i firm.Incident, err error) (*vernationv1.Incident, error) {
	if err != nil {
		return nil, err
	}
	business, err := tx.Business()
	if err != nil {
		return nil, err
	}
	return convert.Incident(convert.NamesOf(tx.Caller().Business), business, i), nil
}
