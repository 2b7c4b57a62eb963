package rpc

import (
	"context"
	"fmt"
	"slices"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/fault"
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
			response.Outcomes = append(response.Outcomes, convert.Consequence(firm.Follows{Outcome: outcome, Consequence: follows}))
		}
	}
	return response, err
}
