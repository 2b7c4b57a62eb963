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
	"vernation/server/internal/listing"
	"vernation/server/internal/store"
)

type caseService struct {
	vernationv1.UnimplementedCaseServiceServer
	store *store.Store
}

// Cases serves the cases of a business and their courses.
func Cases(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) { vernationv1.RegisterCaseServiceServer(r, &caseService{store: kept}) }
}

// GetCase gives one case with its history.
func (s *caseService) GetCase(ctx context.Context, request *vernationv1.GetCaseRequest) (*vernationv1.Case, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Case, error) {
		story, err := casework.Story(tx, convert.ID[course.CaseID](request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Case(namesOf(ctx), story), nil
	})
}

// ListCases gives a page of cases.
func (s *caseService) ListCases(ctx context.Context, request *vernationv1.ListCasesRequest) (*vernationv1.ListCasesResponse, error) {
	at := convert.ID[site.ID](request.GetSite())
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListCasesResponse, error) {
		if at != "" {
			if _, err := tx.Site(at); err != nil {
				return nil, err
			}
		}
		cases, next, err := answered(convert.CaseList, request, func(asked listing.Question) ([]store.Listed[firm.Case], error) {
			asked = asked.Only("site", string(at))
			if request.GetOpenOnly() {
				asked = asked.And(listing.Compare{Field: "open", Kind: listing.Truth, Operator: "=", Value: true})
			}
			return tx.ListCases(asked)
		})
		if err != nil {
			return nil, err
		}
		stories, err := casework.Stories(tx, cases)
		response := &vernationv1.ListCasesResponse{NextPageToken: next}
		for _, one := range stories {
			response.Cases = append(response.Cases, convert.Case(namesOf(ctx), one))
		}
		return response, err
	})
}

// GetCourse gives what a case still needs.
func (s *caseService) GetCourse(ctx context.Context, request *vernationv1.GetCourseRequest) (*vernationv1.Course, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Course, error) {
		of, needs, err := casework.Course(tx, convert.CaseOfCourse(request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Course(namesOf(ctx), of, needs), nil
	})
}

// ApproveCourse approves a product for the applications of a course.
func (s *caseService) ApproveCourse(ctx context.Context, request *vernationv1.ApproveCourseRequest) (*vernationv1.Course, error) {
	approval, err := convert.ApprovalFrom(request)
	if err != nil {
		return nil, err
	}
	return s.decide(ctx, request, casework.Decision{
		ID: idOf(ctx, request), Case: convert.CaseOfCourse(request.GetName()), Approval: approval, Course: request.GetEtag(),
	})
}

// WithdrawApproval withdraws the approval of a product.
func (s *caseService) WithdrawApproval(ctx context.Context, request *vernationv1.WithdrawApprovalRequest) (*vernationv1.Course, error) {
	return s.decide(ctx, request, casework.Decision{
		ID: idOf(ctx, request), Case: convert.CaseOfCourse(request.GetName()), Approval: convert.WithdrawalFrom(request),
	})
}

// DecideCase records what people decided about a case.
func (s *caseService) DecideCase(ctx context.Context, request *vernationv1.DecideCaseRequest) (*vernationv1.Course, error) {
	ruling := casework.Ruling{
		ID: idOf(ctx, request), Case: convert.ID[course.CaseID](request.GetName()), By: request.GetDecidedBy(), Reason: request.GetReason(),
		At: convert.InstantFrom(request.GetDecideTime()),
	}
	ruling.Decision, ruling.Plants = convert.DecisionFrom(request)
	if etag := request.GetEtag(); etag != "" {
		version, ok := convert.EtagFrom(etag)
		if !ok {
			version = -1 // which no case has
		}
		ruling.Version = &version
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Course, error) {
		of, needs, err := casework.DecideCase(tx, ruling)
		if err != nil {
			return nil, err
		}
		return convert.Course(namesOf(ctx), of, needs), nil
	})
}

// GetOutlook gives what the model expects of a case, day by day.
func (s *caseService) GetOutlook(ctx context.Context, request *vernationv1.GetOutlookRequest) (*vernationv1.Outlook, error) {
	of := convert.CaseOfOutlook(request.GetName())
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Outlook, error) {
		expects, err := casework.Outlook(tx, of)
		if err != nil {
			return nil, err
		}
		return convert.Outlook(namesOf(ctx), of, expects), nil
	})
}

// CompareCourse gives a course beside the one that would follow if something were otherwise.
func (s *caseService) CompareCourse(ctx context.Context, request *vernationv1.CompareCourseRequest) (*vernationv1.CourseComparison, error) {
	otherwise, err := convert.OtherwiseFrom(request)
	if err != nil {
		return nil, err
	}
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.CourseComparison, error) {
		compared, err := casework.CompareCourse(tx, convert.CaseOfCourse(request.GetName()), otherwise)
		if err != nil {
			return nil, err
		}
		return convert.CourseComparison(namesOf(ctx), compared), nil
	})
}

// ListAwaitedApprovals gives what waits for the responsible applicator, by case.
func (s *caseService) ListAwaitedApprovals(ctx context.Context, request *vernationv1.ListAwaitedApprovalsRequest) (*vernationv1.ListAwaitedApprovalsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListAwaitedApprovalsResponse, error) {
		cases, next, err := paged(request, func(page store.Page) ([]casework.AwaitedOf, error) { return casework.Awaited(tx, page) },
			func(of casework.AwaitedOf) string { return string(of.Case) })
		response := &vernationv1.ListAwaitedApprovalsResponse{NextPageToken: next}
		for _, of := range cases {
			for _, awaited := range of.Approvals {
				response.AwaitedApprovals = append(response.AwaitedApprovals, convert.AwaitedApproval(namesOf(ctx), awaited))
			}
		}
		return response, err
	})
}

// decide does the responsible applicator's decision and gives the course as it is then.
func (s *caseService) decide(ctx context.Context, request Repeatable, decision casework.Decision) (*vernationv1.Course, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Course, error) {
		of, needs, err := casework.Approve(tx, decision)
		if err != nil {
			return nil, err
		}
		return convert.Course(namesOf(ctx), of, needs), nil
	})
}
