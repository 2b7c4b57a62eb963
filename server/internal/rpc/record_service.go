package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
	"vernation/server/internal/records"
	"vernation/server/internal/store"
)

// Records serves RecordService.
func Records(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterRecordServiceServer(r, &recordService{store: kept})
	}
}

type recordService struct {
	vernationv1.UnimplementedRecordServiceServer
	store *store.Store
}

// GetApplicationRecord gives an application record.
func (s *recordService) GetApplicationRecord(ctx context.Context, request *vernationv1.GetApplicationRecordRequest) (*vernationv1.ApplicationRecord, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ApplicationRecord, error) {
		found, err := records.Record(tx, convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Record(namesOf(ctx), found), nil
	})
}

// ListApplicationRecords gives a page of the legal records of applications.
func (s *recordService) ListApplicationRecords(ctx context.Context, request *vernationv1.ListApplicationRecordsRequest) (*vernationv1.ListApplicationRecordsResponse, error) {
	of := records.Of{Site: convert.ID[site.ID](request.GetSite()), Case: convert.ID[course.CaseID](request.GetCase())}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListApplicationRecordsResponse, error) {
		found, next, err := answered(convert.RecordList, usually(request, "began desc, name desc"),
			func(asked listing.Question) ([]store.Listed[firm.Record], error) {
				return records.Records(tx, of, asked)
			})
		if err != nil {
			return nil, err
		}
		response := &vernationv1.ListApplicationRecordsResponse{NextPageToken: next}
		for _, one := range found {
			response.ApplicationRecords = append(response.ApplicationRecords, convert.Record(namesOf(ctx), one))
		}
		return response, nil
	})
}

// ExportApplicationRecords gives a page of them as comma-separated text.
func (s *recordService) ExportApplicationRecords(ctx context.Context, request *vernationv1.ExportApplicationRecordsRequest) (*vernationv1.ExportApplicationRecordsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ExportApplicationRecordsResponse, error) {
		found, next, err := answered(convert.RecordList, usually(request, "began"),
			func(asked listing.Question) ([]store.Listed[firm.Record], error) {
				return records.Records(tx, records.Of{}, asked)
			})
		if err != nil {
			return nil, err
		}
		text := records.RecordText(found, request.GetPageToken() == "")
		return &vernationv1.ExportApplicationRecordsResponse{Csv: text, Records: int32(len(found)), NextPageToken: next}, nil
	})
}

// usually is a request for a page of a list whose usual order is not by name.
func usually(request convert.Listed, order string) convert.Listed {
	if request.GetOrderBy() != "" {
		return request
	}
	return inOrder{request, order}
}

type inOrder struct {
	convert.Listed
	order string
}

// GetOrderBy is the usual order.
func (r inOrder) GetOrderBy() string { return r.order }

// ExportBillableWork gives a page of the work done at visits as comma-separated text.
func (s *recordService) ExportBillableWork(ctx context.Context, request *vernationv1.ExportBillableWorkRequest) (*vernationv1.ExportBillableWorkResponse, error) {
	wish, err := convert.MeasureWishFrom(request)
	if err != nil {
		return nil, err
	}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ExportBillableWorkResponse, error) {
		found, next, err := paged(request, func(page store.Page) ([]records.BillableVisit, error) { return records.Billable(tx, wish, page) },
			func(b records.BillableVisit) string { return b.Key })
		if err != nil {
			return nil, err
		}
		text := records.BillableText(found, request.GetPageToken() == "")
		return &vernationv1.ExportBillableWorkResponse{Csv: text, Stays: int32(len(found)), NextPageToken: next}, nil
	})
}
