package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/store"
)

type findingService struct {
	vernationv1.UnimplementedFindingServiceServer
	store *store.Store
}

// Findings serves what was seen.
func Findings(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterFindingServiceServer(r, &findingService{store: kept})
	}
}

// CreateFinding stores a finding, which opens a case or joins one.
func (s *findingService) CreateFinding(ctx context.Context, request *vernationv1.CreateFindingRequest) (*vernationv1.Finding, error) {
	id := request.GetFindingId()
	if id == "" {
		id = idOf(ctx, request)
	}
	finding, seen := convert.FindingFrom(request.GetFinding())
	if finding.By == "" {
		finding.By = CallerOf(ctx).Subject
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Finding, error) {
		if seen.IsZero() {
			seen = tx.Now()
		}
		of, _, err := casework.RecordFinding(tx, casework.NewFinding{ID: id, At: seen, Finding: finding})
		if err != nil {
			return nil, err
		}
		names := namesOf(ctx)
		written := convert.Finding(names, finding, seen)
		written.Name, written.CreateTime = names.Finding(id), convert.Timestamp(tx.Now())
		written.Case, written.Site = names.Case(of.ID), names.Site(site.ID(of.Site))
		written.OpenedCase = of.ID == course.CaseID(id)
		return written, nil
	})
}

// GetFinding gives one finding.
func (s *findingService) GetFinding(ctx context.Context, request *vernationv1.GetFindingRequest) (*vernationv1.Finding, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Finding, error) {
		found, err := tx.Finding(convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.FindingTold(namesOf(ctx), found), nil
	})
}

// ListFindings gives a page of findings.
func (s *findingService) ListFindings(ctx context.Context, request *vernationv1.ListFindingsRequest) (*vernationv1.ListFindingsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListFindingsResponse, error) {
		found, next, err := answered(convert.FindingList, request, tx.ListFindings)
		response := &vernationv1.ListFindingsResponse{NextPageToken: next}
		for _, one := range found {
			response.Findings = append(response.Findings, convert.FindingTold(namesOf(ctx), one))
		}
		return response, err
	})
}
