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

type holidayService struct {
	vernationv1.UnimplementedHolidayServiceServer
	store *store.Store
}

// Holidays serves the holidays of a business.
func Holidays(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterHolidayServiceServer(r, &holidayService{store: kept})
	}
}

// CreateHoliday records a holiday.
func (s *holidayService) CreateHoliday(ctx context.Context, request *vernationv1.CreateHolidayRequest) (*vernationv1.Holiday, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Holiday, error) { return s.add(ctx, tx, request) })
}

// BatchCreateHolidays records holidays, all or none.
func (s *holidayService) BatchCreateHolidays(ctx context.Context, request *vernationv1.BatchCreateHolidaysRequest) (*vernationv1.BatchCreateHolidaysResponse, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.BatchCreateHolidaysResponse, error) {
		added, err := batch(request.GetRequests(), func(one *vernationv1.CreateHolidayRequest) (*vernationv1.Holiday, error) { return s.add(ctx, tx, one) })
		return &vernationv1.BatchCreateHolidaysResponse{Holidays: added}, err
	})
}

func (s *holidayService) add(ctx context.Context, tx *store.Tx, request *vernationv1.CreateHolidayRequest) (*vernationv1.Holiday, error) {
	told, err := convert.HolidayFrom("holiday", request.GetHolidayId(), request.GetHoliday())
	if err != nil {
		return nil, err
	}
	added, err := premises.AddHoliday(tx, told)
	if err != nil {
		return nil, convert.ContractPaths(err)
	}
	return convert.Holiday(namesOf(ctx), added), nil
}

// GetHoliday gives a holiday.
func (s *holidayService) GetHoliday(ctx context.Context, request *vernationv1.GetHolidayRequest) (*vernationv1.Holiday, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Holiday, error) {
		found, err := tx.KeptHoliday(convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Holiday(namesOf(ctx), found), nil
	})
}

// ListHolidays gives a page of holidays.
func (s *holidayService) ListHolidays(ctx context.Context, request *vernationv1.ListHolidaysRequest) (*vernationv1.ListHolidaysResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListHolidaysResponse, error) {
		found, next, err := answered(convert.HolidayList, request, tx.KeptHolidays)
		if err != nil {
			return nil, err
		}
		response := &vernationv1.ListHolidaysResponse{NextPageToken: next}
		for _, one := range found {
			response.Holidays = append(response.Holidays, convert.Holiday(namesOf(ctx), one))
		}
		return response, nil
	})
}

// UpdateHoliday changes what the mask names of a holiday.
func (s *holidayService) UpdateHoliday(ctx context.Context, request *vernationv1.UpdateHolidayRequest) (*vernationv1.Holiday, error) {
	id, names := convert.ID[string](request.GetHoliday().GetName()), namesOf(ctx)
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Holiday, error) {
		version := convert.VersionFrom(request.GetHoliday().GetEtag())
		changed, err := premises.ChangeHoliday(tx, id, version, func(standing firm.Kept[firm.Holiday]) (firm.Kept[firm.Holiday], error) {
			whole, err := merged(ctx, request, convert.Holiday(names, standing))
			if err != nil {
				return standing, err
			}
			return convert.HolidayFrom("holiday", id, whole)
		})
		if err != nil {
			return nil, convert.ContractPaths(err)
		}
		return convert.Holiday(namesOf(ctx), changed), nil
	})
}

// DeleteHoliday takes a holiday back.
func (s *holidayService) DeleteHoliday(ctx context.Context, request *vernationv1.DeleteHolidayRequest) (*vernationv1.Holiday, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Holiday, error) {
		deleted, err := premises.DeleteHoliday(tx, convert.ID[string](request.GetName()), convert.VersionFrom(request.GetEtag()))
		if err != nil {
			return nil, err
		}
		return convert.Holiday(namesOf(ctx), deleted), nil
	})
}
