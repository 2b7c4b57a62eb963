package rpc

import (
	"context"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
	"vernation/server/internal/records"
	"vernation/server/internal/store"
)

// Notices serves NoticeService.
func Notices(kept *store.Store) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterNoticeServiceServer(r, &noticeService{store: kept})
	}
}

type noticeService struct {
	vernationv1.UnimplementedNoticeServiceServer
	store *store.Store
}

// GetNotice gives a notice with its text and to whom it goes.
func (s *noticeService) GetNotice(ctx context.Context, request *vernationv1.GetNoticeRequest) (*vernationv1.Notice, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Notice, error) { return wholeNotice(ctx, tx, request.GetName()) })
}

// ListNotices gives a page of notices.
func (s *noticeService) ListNotices(ctx context.Context, request *vernationv1.ListNoticesRequest) (*vernationv1.ListNoticesResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListNoticesResponse, error) {
		found, next, err := answered(convert.NoticeList, usually(request, "due_time"),
			func(asked listing.Question) ([]store.Listed[firm.SentNotice], error) {
				return records.Notices(tx, asked)
			})
		if err != nil {
			return nil, err
		}
		response := &vernationv1.ListNoticesResponse{NextPageToken: next}
		for _, one := range found {
			response.Notices = append(response.Notices, convert.Notice(namesOf(ctx), one))
		}
		return response, nil
	})
}

// MarkNoticeSent appends that a notice was sent.
func (s *noticeService) MarkNoticeSent(ctx context.Context, request *vernationv1.MarkNoticeSentRequest) (*vernationv1.Notice, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Notice, error) {
		if err := records.MarkSent(tx, convert.NoticeSendingFrom(idOf(ctx, request), request)); err != nil {
			return nil, err
		}
		return wholeNotice(ctx, tx, request.GetName())
	})
}

// WithdrawNoticeSending appends that a sending was told wrongly.
func (s *noticeService) WithdrawNoticeSending(ctx context.Context, request *vernationv1.WithdrawNoticeSendingRequest) (*vernationv1.Notice, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Notice, error) {
		err := records.WithdrawSending(tx, idOf(ctx, request), convert.ID[string](request.GetName()), request.GetSendingId(), request.GetNote())
		if err != nil {
			return nil, err
		}
		return wholeNotice(ctx, tx, request.GetName())
	})
}

// wholeNotice is a notice with its text.
func wholeNotice(ctx context.Context, tx *store.Tx, name string) (*vernationv1.Notice, error) {
	notice, text, err := records.Notice(tx, convert.ID[string](name))
	if err != nil {
		return nil, err
	}
	return convert.WholeNotice(namesOf(ctx), notice, text), nil
}
