package rpc

import (
	"context"
	"fmt"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/fault"
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

// BatchCreateReports stores reports one by one, each in a transaction of its own.
func (s *reportService) BatchCreateReports(ctx context.Context, request *vernationv1.BatchCreateReportsRequest) (*vernationv1.BatchCreateReportsResponse, error) {
	if err := namedOnce(request.GetReports()); err != nil {
		return nil, err
	}
	if err := s.sameBatch(ctx, request); err != nil {
		return nil, err
	}
	answer := &vernationv1.BatchCreateReportsResponse{}
	for i, item := range request.GetReports() {
		result := &vernationv1.ReportResult{Index: int32(i)}
		stored, err := s.storeOne(ctx, item)
		switch {
		case ctx.Err() != nil: // what was stored is stored; the batch is sent again
			return nil, ctx.Err()
		case err != nil:
			answer.RefusedCount++
			result.Error = refusalOf(ctx, err)
		default:
			result.Report = stored
		}
		answer.Results = append(answer.Results, result)
	}
	return answer, nil
}

// namedOnce refuses a batch in which two reports have one id: which of them was stored would not be known.
func namedOnce(reports []*vernationv1.ReportToCreate) error {
	var wrong []catalogue.FieldError
	seen := map[string]int{}
	for i, item := range reports {
		if first, twice := seen[item.GetReportId()]; twice {
			wrong = append(wrong, catalogue.FieldError{Path: fmt.Sprintf("reports[%d].report_id", i), Reason: "DUPLICATE",
				Text: fmt.Sprintf("reports[%d] has the same id: want an id of its own for each report", first)})
			continue
		}
		seen[item.GetReportId()] = i
	}
	return fault.InvalidFields(wrong)
}

// sameBatch refuses a request id that was used for another batch. What came of an earlier sending is not taken from
// memory: each report knows whether it was stored, and one that was refused may have become right.
func (s *reportService) sameBatch(ctx context.Context, request *vernationv1.BatchCreateReportsRequest) error {
	_, err := Deed(ctx, s.store, request, func(*store.Tx) (*vernationv1.BatchCreateReportsResponse, error) {
		return &vernationv1.BatchCreateReportsResponse{}, nil
	})
	return err
}

// storeOne stores one report of a batch. A report that is known already, word for word, gives its first answer.
func (s *reportService) storeOne(ctx context.Context, item *vernationv1.ReportToCreate) (stored *vernationv1.Report, err error) {
	report, err := convert.ReportFrom(item.GetReportId(), item.GetReport())
	if err != nil {
		return nil, err
	}
	err = s.store.In(ctx, CallerOf(ctx), func(tx *store.Tx) error {
		told, err := casework.AppendReport(tx, report)
		stored, err = toldReport(tx, told, err)
		return err
	})
	return stored, err
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
