package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

type absenceService struct {
	vernationv1.UnimplementedAbsenceServiceServer
	store *store.Store
}

// Absences serves the absences of a business.
func Absences(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterAbsenceServiceServer(r, &absenceService{store: kept})
	}
}

// CreateAbsence records an absence.
func (s *absenceService) CreateAbsence(ctx context.Context, request *vernationv1.CreateAbsenceRequest) (*vernationv1.Absence, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Absence, error) { return s.add(ctx, tx, request) })
}

// BatchCreateAbsences records absences, all or none.
func (s *absenceService) BatchCreateAbsences(ctx context.Context, request *vernationv1.BatchCreateAbsencesRequest) (*vernationv1.BatchCreateAbsencesResponse, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.BatchCreateAbsencesResponse, error) {
		added, err := batch(request.GetRequests(), func(one *vernationv1.CreateAbsenceRequest) (*vernationv1.Absence, error) { return s.add(ctx, tx, one) })
		return &vernationv1.BatchCreateAbsencesResponse{Absences: added}, err
	})
}

func (s *absenceService) add(ctx context.Context, tx *store.Tx, request *vernationv1.CreateAbsenceRequest) (*vernationv1.Absence, error) {
	told, err := convert.AbsenceFrom("absence", request.GetAbsenceId(), request.GetAbsence())
	if err != nil {
		return nil, err
	}
	added, err := premises.AddAbsence(tx, told)
	if err != nil {
		return nil, convert.ContractPaths(err)
	}
	return s.written(ctx, tx, added)
}

// GetAbsence gives an absence.
func (s *absenceService) GetAbsence(ctx context.Context, request *vernationv1.GetAbsenceRequest) (*vernationv1.Absence, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Absence, error) {
		found, err := tx.KeptAbsence(convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return s.written(ctx, tx, found)
	})
}

// ListAbsences gives a page of absences.
func (s *absenceService) ListAbsences(ctx context.Context, request *vernationv1.ListAbsencesRequest) (*vernationv1.ListAbsencesResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListAbsencesResponse, error) {
		found, next, err := answered(convert.AbsenceList, request, tx.KeptAbsences)
		if err != nil {
			return nil, err
		}
		response := &vernationv1.ListAbsencesResponse{NextPageToken: next}
		for _, one := range found {
			response.Absences = append(response.Absences, convert.Absence(namesOf(ctx), one, nil))
		}
		return response, nil
	})
}

// UpdateAbsence changes what the mask names of an absence.
func (s *absenceService) UpdateAbsence(ctx context.Context, request *vernationv1.UpdateAbsenceRequest) (*vernationv1.Absence, error) {
	id, names := convert.ID[string](request.GetAbsence().GetName()), namesOf(ctx)
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Absence, error) {
		version := convert.VersionFrom(request.GetAbsence().GetEtag())
		changed, err := premises.ChangeAbsence(tx, id, version, func(standing firm.Kept[firm.Absence]) (firm.Kept[firm.Absence], error) {
			whole, err := merged(ctx, request, convert.Absence(names, standing, nil))
			if err != nil {
				return standing, err
			}
			return convert.AbsenceFrom("absence", id, whole)
		})
		if err != nil {
			return nil, convert.ContractPaths(err)
		}
		return s.written(ctx, tx, changed)
	})
}

// DeleteAbsence takes an absence back.
func (s *absenceService) DeleteAbsence(ctx context.Context, request *vernationv1.DeleteAbsenceRequest) (*vernationv1.Absence, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Absence, error) {
		deleted, err := premises.DeleteAbsence(tx, convert.ID[string](request.GetName()), convert.VersionFrom(request.GetEtag()))
		if err != nil {
			return nil, err
		}
		return s.written(ctx, tx, deleted)
	})
}

// written writes an absence with the visits that lie in it.
func (s *absenceService) written(ctx context.Context, tx *store.Tx, kept firm.Kept[firm.Absence]) (*vernationv1.Absence, error) {
	visits, err := premises.VisitsIn(tx, kept)
	if err != nil {
		return nil, err
	}
	return convert.Absence(namesOf(ctx), kept, visits), nil
}
