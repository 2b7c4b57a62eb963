package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/server/internal/convert"
	"vernation/server/internal/dispatch"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

type technicianService struct {
	vernationv1.UnimplementedTechnicianServiceServer
	store *store.Store
}

// Technicians serves the crew of a business.
func Technicians(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterTechnicianServiceServer(r, &technicianService{store: kept})
	}
}

// GetTechnician gives one technician; to a technician the own record only, without pay.
func (s *technicianService) GetTechnician(ctx context.Context, request *vernationv1.GetTechnicianRequest) (*vernationv1.Technician, error) {
	id := convert.ID[scheduler.TechnicianID](request.GetName())
	write := convert.Technician
	if caller := CallerOf(ctx); caller.Role == firm.Technician {
		if caller.Technician != id {
			return nil, fault.New(fault.Forbidden, "OTHER_TECHNICIAN", "a technician may ask for the own record only, not for %s", request.GetName())
		}
		write = convert.WithoutPay
	}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Technician, error) {
		found, err := tx.CrewMember(id)
		if err != nil {
			return nil, err
		}
		return write(namesOf(ctx), found), nil
	})
}

// CheckApplication answers whether a technician may apply a product to plants at a time; a technician asks for oneself.
func (s *technicianService) CheckApplication(ctx context.Context, request *vernationv1.CheckApplicationRequest) (*vernationv1.ApplicationAnswer, error) {
	wish := convert.WishFrom(request)
	if caller := CallerOf(ctx); caller.Role == firm.Technician && caller.Technician != wish.Technician {
		return nil, fault.New(fault.Forbidden, "OTHER_TECHNICIAN", "a technician may ask for oneself only, not for %s", request.GetName())
	}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ApplicationAnswer, error) {
		told, err := dispatch.MayApply(tx, wish)
		if err != nil {
			return nil, err
		}
		return convert.ApplicationAnswer(namesOf(ctx), told), nil
	})
}

// ListTechnicians gives a page of technicians by name.
func (s *technicianService) ListTechnicians(ctx context.Context, request *vernationv1.ListTechniciansRequest) (*vernationv1.ListTechniciansResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListTechniciansResponse, error) {
		found, next, err := paged(request, tx.CrewPage, func(m firm.CrewMember) string { return string(m.ID) })
		response := &vernationv1.ListTechniciansResponse{NextPageToken: next}
		for _, one := range found {
			response.Technicians = append(response.Technicians, convert.Technician(namesOf(ctx), one))
		}
		return response, err
	})
}
