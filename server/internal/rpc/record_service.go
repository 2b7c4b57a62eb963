package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
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

// ListApplicationRecords gives a page of the legal records of applications.
func (s *recordService) ListApplicationRecords(ctx context.Context, request *vernationv1.ListApplicationRecordsRequest) (*vernationv1.ListApplicationRecordsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListApplicationRecordsResponse, error) {
		filter := store.RecordFilter{Site: convert.ID[site.ID](request.GetSite()), Case: convert.ID[course.CaseID](request.GetCase())}
		page, next, err := paged(request,
			func(page store.Page) ([]firm.Record, error) { return casework.Records(tx, filter, page) },
			func(r firm.Record) string { return store.NewestKey(r.Began, r.ID) })
		if err != nil {
			return nil, err
		}
		records := convert.Records(convert.NamesOf(tx.Caller().Business), page)
		return &vernationv1.ListApplicationRecordsResponse{ApplicationRecords: records, NextPageToken: next}, nil
	})
}
