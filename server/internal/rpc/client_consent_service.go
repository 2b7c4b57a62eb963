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

type clientConsentService struct {
	vernationv1.UnimplementedClientConsentServiceServer
	store *store.Store
}

// ClientConsents serves what clients are asked for, and their answers.
func ClientConsents(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterClientConsentServiceServer(r, &clientConsentService{store: kept})
	}
}

// CreateClientConsent stores what a client was asked for.
func (s *clientConsentService) CreateClientConsent(ctx context.Context, request *vernationv1.CreateClientConsentRequest) (*vernationv1.ClientConsent, error) {
	id := request.GetClientConsentId()
	if id == "" {
		id = idOf(ctx, request)
	}
	asked := convert.ClientConsentFrom(id, request.GetClientConsent())
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.ClientConsent, error) {
		kept, err := casework.AskClient(tx, asked)
		return writtenConsent(ctx, kept, err)
	})
}

// GetClientConsent gives one consent with its answers.
func (s *clientConsentService) GetClientConsent(ctx context.Context, request *vernationv1.GetClientConsentRequest) (*vernationv1.ClientConsent, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ClientConsent, error) {
		found, err := tx.ClientConsent(convert.ID[string](request.GetName()))
		return writtenConsent(ctx, found, err)
	})
}

// ListClientConsents gives a page of what clients were asked for.
func (s *clientConsentService) ListClientConsents(ctx context.Context, request *vernationv1.ListClientConsentsRequest) (*vernationv1.ListClientConsentsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListClientConsentsResponse, error) {
		found, next, err := answered(convert.ClientConsentList, request, tx.ListClientConsents)
		response := &vernationv1.ListClientConsentsResponse{NextPageToken: next}
		for _, one := range found {
			response.ClientConsents = append(response.ClientConsents, convert.ClientConsent(namesOf(ctx), one))
		}
		return response, err
	})
}

// AnswerClientConsent records what a client answered.
func (s *clientConsentService) AnswerClientConsent(ctx context.Context, request *vernationv1.AnswerClientConsentRequest) (*vernationv1.ClientConsent, error) {
	answer, err := convert.AnswerFrom(request)
	if err != nil {
		return nil, err
	}
	return s.answer(ctx, request, convert.ID[string](request.GetName()), answer)
}

// WithdrawClientConsent records that a client withdrew a consent.
func (s *clientConsentService) WithdrawClientConsent(ctx context.Context, request *vernationv1.WithdrawClientConsentRequest) (*vernationv1.ClientConsent, error) {
	return s.answer(ctx, request, convert.ID[string](request.GetName()), convert.WithdrawalOfConsentFrom(request))
}

func (s *clientConsentService) answer(ctx context.Context, request Repeatable, id string, answer firm.ConsentAnswer) (*vernationv1.ClientConsent, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.ClientConsent, error) {
		answered, err := casework.AnswerConsent(tx, id, answer)
		return writtenConsent(ctx, answered, err)
	})
}

// ListNeededConsents gives what open cases wait for until the client consents, by case.
func (s *clientConsentService) ListNeededConsents(ctx context.Context, request *vernationv1.ListNeededConsentsRequest) (*vernationv1.ListNeededConsentsResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListNeededConsentsResponse, error) {
		cases, next, err := paged(request, func(page store.Page) ([]casework.AwaitedOf, error) { return casework.Awaited(tx, page) },
			func(of casework.AwaitedOf) string { return string(of.Case) })
		response := &vernationv1.ListNeededConsentsResponse{NextPageToken: next}
		for _, of := range cases {
			for _, needed := range of.Consents {
				response.NeededConsents = append(response.NeededConsents, convert.NeededConsent(namesOf(ctx), needed))
			}
		}
		return response, err
	})
}

// writtenConsent answers with what a client was asked for, or with why there is none.
func writtenConsent(ctx context.Context, c firm.ClientConsent, err error) (*vernationv1.ClientConsent, error) {
	if err != nil {
		return nil, err
	}
	return convert.ClientConsent(namesOf(ctx), c), nil
}
