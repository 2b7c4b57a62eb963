package rpc

import (
	"context"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/server/internal/convert"
	"vernation/server/internal/dispatch"
	"vernation/server/internal/firm"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

// Plans serves PlanService.
func Plans(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) { vernationv1.RegisterPlanServiceServer(r, &planService{store: kept}) }
}

type planService struct {
	vernationv1.UnimplementedPlanServiceServer
	store *store.Store
}

// CreatePlan puts the making of a plan on the queue.
func (s *planService) CreatePlan(ctx context.Context, request *vernationv1.CreatePlanRequest) (*vernationv1.PlanRun, error) {
	asked, err := convert.PlanRunFrom(idOf(ctx, request), request)
	if err != nil {
		return nil, err
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.PlanRun, error) {
		run, err := planning.StartRun(tx, asked)
		return planRun(tx, run, err)
	})
}

// Replan puts the making of a plan on the queue that begins from what is published, around what has happened.
func (s *planService) Replan(ctx context.Context, request *vernationv1.ReplanRequest) (*vernationv1.PlanRun, error) {
	asked := convert.ReplanFrom(idOf(ctx, request), request)
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.PlanRun, error) {
		run, err := planning.Replan(tx, asked)
		return planRun(tx, run, err)
	})
}

// newestFirst is the order of plans and runs where none is asked for.
const newestFirst = "create_time desc"

// ListPlanRuns gives a page of runs with their progress.
func (s *planService) ListPlanRuns(ctx context.Context, request *vernationv1.ListPlanRunsRequest) (*vernationv1.ListPlanRunsResponse, error) {
	if request.GetOrderBy() == "" {
		request = proto.CloneOf(request)
		request.OrderBy = newestFirst
	}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListPlanRunsResponse, error) {
		found, next, err := answered(convert.PlanRunList, request, tx.PlanRuns)
		answer := &vernationv1.ListPlanRunsResponse{NextPageToken: next}
		for _, run := range found {
			answer.PlanRuns = append(answer.PlanRuns, convert.PlanRun(convert.NamesOf(tx.Caller().Business), run))
		}
		return answer, err
	})
}

// GetPlanRun gives a run with its progress.
func (s *planService) GetPlanRun(ctx context.Context, request *vernationv1.GetPlanRunRequest) (*vernationv1.PlanRun, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.PlanRun, error) {
		run, err := tx.PlanRun(convert.ID[string](request.GetName()))
		return planRun(tx, run, err)
	})
}

// CancelPlanRun asks the worker of a run to stop.
func (s *planService) CancelPlanRun(ctx context.Context, request *vernationv1.CancelPlanRunRequest) (*vernationv1.PlanRun, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.PlanRun, error) {
		run, err := planning.CancelRun(tx, convert.ID[string](request.GetName()))
		return planRun(tx, run, err)
	})
}

// planRun answers with a run, or with why there is none.
func planRun(tx *store.Tx, run firm.PlanRun, err error) (*vernationv1.PlanRun, error) {
	if err != nil {
		return nil, err
	}
	return convert.PlanRun(convert.NamesOf(tx.Caller().Business), run), nil
}

// GetPlan gives a whole plan.
func (s *planService) GetPlan(ctx context.Context, request *vernationv1.GetPlanRequest) (*vernationv1.Plan, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Plan, error) {
		return plan(tx, convert.ID[string](request.GetName()))
	})
}

// plan answers with a whole plan.
func plan(tx *store.Tx, id string) (*vernationv1.Plan, error) {
	shown, err := dispatch.Plan(tx, id)
	if err != nil {
		return nil, err
	}
	return convert.Plan(convert.NamesOf(tx.Caller().Business), shown), nil
}

// ListPlans gives a page of plans without their parts.
func (s *planService) ListPlans(ctx context.Context, request *vernationv1.ListPlansRequest) (*vernationv1.ListPlansResponse, error) {
	if request.GetOrderBy() == "" {
		request = proto.CloneOf(request)
		request.OrderBy = newestFirst
	}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListPlansResponse, error) {
		found, next, err := answered(convert.PlanList, request, tx.KeptPlans)
		if err != nil {
			return nil, err
		}
		shown, err := dispatch.Plans(tx, found)
		answer := &vernationv1.ListPlansResponse{NextPageToken: next}
		for _, p := range shown {
			answer.Plans = append(answer.Plans, convert.PlanHeading(convert.NamesOf(tx.Caller().Business), p))
		}
		return answer, err
	})
}

// PublishPlan makes a plan's visits real.
func (s *planService) PublishPlan(ctx context.Context, request *vernationv1.PublishPlanRequest) (*vernationv1.Plan, error) {
	id := convert.ID[string](request.GetName())
	head := convert.HeadFrom(request.GetEtag())
	return Judged(ctx, s.store, request, func(within planning.Within[firm.Head]) error {
		_, err := planning.Publish(ctx, s.store, CallerOf(ctx), planning.Publication{Plan: id, Head: head, Within: within})
		return err
	}, func(tx *store.Tx, _ firm.Head) (*vernationv1.Plan, error) { return plan(tx, id) })
}

// ComparePlans says what differs between two plans.
func (s *planService) ComparePlans(ctx context.Context, request *vernationv1.ComparePlansRequest) (*vernationv1.ComparePlansResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ComparePlansResponse, error) {
		comparison, err := planning.Compare(tx, convert.ID[string](request.GetBefore()), convert.ID[string](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Comparison(convert.NamesOf(tx.Caller().Business), comparison), nil
	})
}

// BookFollowUp pins a follow-up as a visit.
func (s *planService) BookFollowUp(ctx context.Context, request *vernationv1.BookFollowUpRequest) (*vernationv1.Visit, error) {
	wish, err := convert.BookingFrom(scheduler.VisitID(idOf(ctx, request)), request)
	if err != nil {
		return nil, err
	}
	return Judged(ctx, s.store, request, func(within planning.Within[scheduler.Visit]) error {
		_, err := planning.Book(ctx, s.store, CallerOf(ctx), wish, within)
		return err
	}, func(tx *store.Tx, visit scheduler.Visit) (*vernationv1.Visit, error) {
		return convert.Visit(convert.NamesOf(tx.Caller().Business), visit), nil
	})
}

// FindOpenings finds the free slots of a follow-up.
func (s *planService) FindOpenings(ctx context.Context, request *vernationv1.FindOpeningsRequest) (*vernationv1.FindOpeningsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.FindOpeningsResponse, error) {
		found, err := planning.Openings(ctx, tx, convert.OpeningWishFrom(request))
		if err != nil {
			return nil, err
		}
		return convert.Openings(convert.NamesOf(tx.Caller().Business), found), nil
	})
}

// BookOpening makes an opening real as it was told.
func (s *planService) BookOpening(ctx context.Context, request *vernationv1.BookOpeningRequest) (*vernationv1.BookOpeningResponse, error) {
	id := scheduler.VisitID(idOf(ctx, request))
	return Judged(ctx, s.store, request, func(within planning.Within[firm.BookedOpening]) error {
		_, err := planning.BookOpening(ctx, s.store, CallerOf(ctx), id, request.GetToken(), within)
		return err
	}, func(tx *store.Tx, booked firm.BookedOpening) (*vernationv1.BookOpeningResponse, error) {
		return convert.BookedOpening(convert.NamesOf(tx.Caller().Business), booked), nil
	})
}

// ExplainFollowUp says what keeps a follow-up out.
func (s *planService) ExplainFollowUp(ctx context.Context, request *vernationv1.ExplainFollowUpRequest) (*vernationv1.ExplainFollowUpResponse, error) {
	wish := firm.OpeningWish{Item: scheduler.ItemID(request.GetItem()), Days: int(request.GetDays())}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ExplainFollowUpResponse, error) {
		explained, err := planning.Explain(ctx, tx, wish)
		if err != nil {
			return nil, err
		}
		return convert.Explanation(convert.NamesOf(tx.Caller().Business), explained), nil
	})
}
