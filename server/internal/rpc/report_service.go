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

// Reports serves ReportService.
func Reports(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterReportServiceServer(r, &reportService{store: kept})
	}
}

type reportService struct {
	vernationv1.UnimplementedReportServiceServer
	store *store.Store
}

// CreateReport stores what really happened.
func (s *reportService) CreateReport(ctx context.Context, request *vernationv1.CreateReportRequest) (*vernationv1.Report, error) {
	report, err := convert.ReportFrom(request.GetReportId(), request.GetReport())
	if err != nil {
		return nil, err
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Report, error) {
		told, err := casework.AppendReport(tx, report)
		return toldReport(tx, told, err)
	})
}

// GetReport gives one report with what came of it.
func (s *reportService) GetReport(ctx context.Context, request *vernationv1.GetReportRequest) (*vernationv1.Report, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Report, error) {
		told, err := casework.Report(tx, convert.ID[string](request.GetName()))
		return toldReport(tx, told, err)
	})
}

// toldReport answers with a report, or with why there is none.
func toldReport(tx *store.Tx, told casework.Told, err error) (*vernationv1.Report, error) {
	if err != nil {
		return nil, err
	}
	return convert.Report(convert.NamesOf(tx.Caller().Business), told), nil
}

// ListDeviations gives a page of the facts that broke rules.
func (s *reportService) ListDeviations(ctx context.Context, request *vernationv1.ListDeviationsRequest) (*vernationv1.ListDeviationsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListDeviationsResponse, error) {
		report := convert.ID[string](request.GetReport())
		page, next, err := paged(request,
			func(page store.Page) ([]firm.Deviation, error) { return casework.Deviations(tx, report, page) },
			func(d firm.Deviation) string { return store.NewestKey(d.At, d.ID) })
		if err != nil {
			return nil, err
		}
		deviations := convert.Deviations(convert.NamesOf(tx.Caller().Business), page)
		return &vernationv1.ListDeviationsResponse{Deviations: deviations, NextPageToken: next}, nil
	})
}
