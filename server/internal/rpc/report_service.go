package rpc

import (
	"context"
	"slices"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/course"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
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
	report := convert.Report(convert.NamesOf(tx.Caller().Business), told)
	report.Consequences = convert.Consequences(told.Report.Items)
	return report, nil
}

// ListDeviations gives a page of the facts that broke rules.
func (s *reportService) ListDeviations(ctx context.Context, request *vernationv1.ListDeviationsRequest) (*vernationv1.ListDeviationsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListDeviationsResponse, error) {
		report := convert.ID[string](request.GetReport())
		if report != "" {
			if _, err := tx.Report(report); err != nil {
				return nil, err
			}
		}
		page, next, err := answered(convert.DeviationList, request, func(asked listing.Question) ([]store.Listed[firm.Deviation], error) {
			return tx.ListDeviations(asked.Only("report", report))
		})
		if err != nil {
			return nil, err
		}
		return &vernationv1.ListDeviationsResponse{Deviations: convert.Deviations(namesOf(ctx), page), NextPageToken: next}, nil
	})
}

// ListReports gives a page of reports as told; a technician's own only.
func (s *reportService) ListReports(ctx context.Context, request *vernationv1.ListReportsRequest) (*vernationv1.ListReportsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListReportsResponse, error) {
		own := ""
		if caller := tx.Caller(); caller.Role == firm.Technician {
			own = string(caller.Technician)
		}
		reports, next, err := answered(convert.ReportList, request, func(asked listing.Question) ([]store.Listed[firm.Report], error) {
			return tx.ListReports(asked.Only("technician", own))
		})
		response := &vernationv1.ListReportsResponse{NextPageToken: next}
		for _, one := range reports {
			response.Reports = append(response.Reports, convert.Report(namesOf(ctx), firm.Told{Report: one, Cases: one.Cases}))
		}
		return response, err
	})
}

// AcknowledgeDeviation notes that the office looked at a deviation.
func (s *reportService) AcknowledgeDeviation(ctx context.Context, request *vernationv1.AcknowledgeDeviationRequest) (*vernationv1.Deviation, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Deviation, error) {
		looked, err := casework.LookAtDeviation(tx, convert.ID[string](request.GetName()), request.GetNote())
		if err != nil {
			return nil, err
		}
		return convert.Deviation(namesOf(ctx), looked), nil
	})
}

// ListOutcomes gives the outcomes that a work item may have, with what follows from each.
func (s *reportService) ListOutcomes(_ context.Context, request *vernationv1.ListOutcomesRequest) (*vernationv1.ListOutcomesResponse, error) {
	kind := convert.FollowUpKindFrom(request.GetKind())
	page, next, err := paged(request, func(page store.Page) ([]course.Outcome, error) {
		all := course.Outcomes()
		from := slices.Index(all, course.Outcome(page.After)) + 1
		return all[from:min(len(all), from+page.Size)], nil
	}, func(o course.Outcome) string { return string(o) })
	response := &vernationv1.ListOutcomesResponse{NextPageToken: next}
	for _, outcome := range page {
		if follows, ok := course.Consequences(outcome, kind); ok {
			response.Outcomes = append(response.Outcomes, convert.Consequence(outcome, follows))
		}
	}
	return response, err
}
