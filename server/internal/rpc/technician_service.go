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
	"vernation/server/internal/premises"
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

// CreateTechnician takes a technician into the crew.
func (s *technicianService) CreateTechnician(ctx context.Context, request *vernationv1.CreateTechnicianRequest) (*vernationv1.Technician, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Technician, error) { return s.add(ctx, tx, request) })
}

// BatchCreateTechnicians takes technicians into the crew, all or none.
func (s *technicianService) BatchCreateTechnicians(ctx context.Context, request *vernationv1.BatchCreateTechniciansRequest) (*vernationv1.BatchCreateTechniciansResponse, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.BatchCreateTechniciansResponse, error) {
		added, err := batch(request.GetRequests(), func(one *vernationv1.CreateTechnicianRequest) (*vernationv1.Technician, error) {
			return s.add(ctx, tx, one)
		})
		return &vernationv1.BatchCreateTechniciansResponse{Technicians: added}, err
	})
}

func (s *technicianService) add(ctx context.Context, tx *store.Tx, request *vernationv1.CreateTechnicianRequest) (*vernationv1.Technician, error) {
	told, err := convert.TechnicianFrom("technician", scheduler.TechnicianID(request.GetTechnicianId()), request.GetTechnician())
	if err != nil {
		return nil, err
	}
	added, err := premises.AddCrewMember(tx, told)
	if err != nil {
		return nil, convert.ContractPaths(err)
	}
	return convert.Technician(namesOf(ctx), added), nil
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
		found, err := tx.KeptCrewMember(id)
		if err != nil {
			return nil, err
		}
		return write(namesOf(ctx), found), nil
	})
}

// ListTechnicians gives a page of technicians.
func (s *technicianService) ListTechnicians(ctx context.Context, request *vernationv1.ListTechniciansRequest) (*vernationv1.ListTechniciansResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListTechniciansResponse, error) {
		found, next, err := answered(convert.TechnicianList, request, tx.KeptCrew)
		response := &vernationv1.ListTechniciansResponse{NextPageToken: next}
		for _, one := range found {
			response.Technicians = append(response.Technicians, convert.Technician(namesOf(ctx), one))
		}
		return response, err
	})
}

// UpdateTechnician changes what the mask names of a technician.
func (s *technicianService) UpdateTechnician(ctx context.Context, request *vernationv1.UpdateTechnicianRequest) (*vernationv1.Technician, error) {
	told, names := request.GetTechnician(), namesOf(ctx)
	id := convert.ID[scheduler.TechnicianID](told.GetName())
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Technician, error) {
		changed, err := premises.ChangeCrewMember(tx, id, convert.VersionFrom(told.GetEtag()), func(standing firm.Kept[firm.CrewMember]) (firm.Kept[firm.CrewMember], error) {
			whole, err := merged(ctx, request, convert.Technician(names, standing))
			if err != nil {
				return standing, err
			}
			return convert.TechnicianFrom("technician", id, whole)
		})
		if err != nil {
			return nil, convert.ContractPaths(err)
		}
		return convert.Technician(names, changed), nil
	})
}

// DeleteTechnician takes a technician out of the crew.
func (s *technicianService) DeleteTechnician(ctx context.Context, request *vernationv1.DeleteTechnicianRequest) (*vernationv1.Technician, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Technician, error) {
		deleted, err := premises.DeleteCrewMember(tx, convert.ID[scheduler.TechnicianID](request.GetName()), convert.VersionFrom(request.GetEtag()))
		if err != nil {
			return nil, err
		}
		return convert.Technician(namesOf(ctx), deleted), nil
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
