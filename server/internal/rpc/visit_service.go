package rpc

import (
	"context"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

// Visits serves VisitService.
func Visits(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) { vernationv1.RegisterVisitServiceServer(r, &visitService{store: kept}) }
}

type visitService struct {
	vernationv1.UnimplementedVisitServiceServer
	store *store.Store
}

// GetVisit gives one visit.
func (s *visitService) GetVisit(ctx context.Context, request *vernationv1.GetVisitRequest) (*vernationv1.Visit, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Visit, error) {
		visit, err := tx.PublishedVisit(convert.ID[scheduler.VisitID](request.GetName()))
		return publishedVisit(tx, visit, err)
	})
}

// ListVisits gives a page of visits, by arrival where no order is asked for.
func (s *visitService) ListVisits(ctx context.Context, request *vernationv1.ListVisitsRequest) (*vernationv1.ListVisitsResponse, error) {
	if request.GetOrderBy() == "" {
		request = proto.CloneOf(request)
		request.OrderBy = "arrives"
	}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListVisitsResponse, error) {
		found, next, err := answered(convert.VisitList, request, tx.PublishedVisits)
		answer := &vernationv1.ListVisitsResponse{NextPageToken: next}
		for _, v := range found {
			visit, _ := publishedVisit(tx, v, nil)
			answer.Visits = append(answer.Visits, visit)
		}
		return answer, err
	})
}

// PinVisit holds a visit where it stands.
func (s *visitService) PinVisit(ctx context.Context, request *vernationv1.PinVisitRequest) (*vernationv1.Visit, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Visit, error) {
		visit, err := planning.Pin(tx, convert.ID[scheduler.VisitID](request.GetName()))
		return publishedVisit(tx, visit, err)
	})
}

// UnpinVisit lets a pinned visit go.
func (s *visitService) UnpinVisit(ctx context.Context, request *vernationv1.UnpinVisitRequest) (*vernationv1.Visit, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Visit, error) {
		visit, err := planning.Unpin(tx, convert.ID[scheduler.VisitID](request.GetName()))
		return publishedVisit(tx, visit, err)
	})
}

// publishedVisit answers with a visit, or with why there is none. The office alone sees what it costs.
func publishedVisit(tx *store.Tx, visit firm.PublishedVisit, err error) (*vernationv1.Visit, error) {
	if err != nil {
		return nil, err
	}
	return convert.PublishedVisit(convert.NamesOf(tx.Caller().Business), visit, tx.Caller().Role == firm.Office), nil
}
