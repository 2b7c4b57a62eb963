package rpc

import (
	"context"
	"time"

	"google.golang.org/grpc"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/feed"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// usualOverlap is how long an old secret signs beside the new one.
const usualOverlap = 24 * time.Hour

// Webhooks serves WebhookService; reach says which addresses may be sent to.
func Webhooks(kept *store.Store, reach feed.Reach) Service {
	return func(r grpc.ServiceRegistrar) {
		vernationv1.RegisterWebhookServiceServer(r, &webhookService{store: kept, reach: reach})
	}
}

type webhookService struct {
	vernationv1.UnimplementedWebhookServiceServer
	store *store.Store
	reach feed.Reach
}

// CreateWebhook makes a webhook and tells its secret.
func (s *webhookService) CreateWebhook(ctx context.Context, request *vernationv1.CreateWebhookRequest) (*vernationv1.Webhook, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Webhook, error) {
		made, err := feed.AddWebhook(tx, s.reach, convert.WebhookFrom(request.GetWebhookId(), request.GetWebhook()))
		return toldWebhook(ctx, made, err, convert.WebhookWithSecret)
	})
}

// GetWebhook gives a webhook.
func (s *webhookService) GetWebhook(ctx context.Context, request *vernationv1.GetWebhookRequest) (*vernationv1.Webhook, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.Webhook, error) {
		found, err := tx.Webhook(convert.ID[string](request.GetName()))
		return toldWebhook(ctx, found, err, convert.Webhook)
	})
}

// ListWebhooks gives a page of webhooks.
func (s *webhookService) ListWebhooks(ctx context.Context, request *vernationv1.ListWebhooksRequest) (*vernationv1.ListWebhooksResponse, error) {
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListWebhooksResponse, error) {
		page, next, err := paged(request,
			func(page store.Page) ([]firm.Webhook, error) { return tx.Webhooks(request.GetShowDeleted(), page) },
			func(w firm.Webhook) string { return w.ID })
		if err != nil {
			return nil, err
		}
		answer := &vernationv1.ListWebhooksResponse{NextPageToken: next}
		for _, w := range page {
			answer.Webhooks = append(answer.Webhooks, convert.Webhook(namesOf(ctx), w))
		}
		return answer, nil
	})
}

// DeleteWebhook ends the sending to a webhook.
func (s *webhookService) DeleteWebhook(ctx context.Context, request *vernationv1.DeleteWebhookRequest) (*vernationv1.Webhook, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Webhook, error) {
		gone, err := feed.RemoveWebhook(tx, convert.ID[string](request.GetName()))
		return toldWebhook(ctx, gone, err, convert.Webhook)
	})
}

// RotateWebhookSecret gives a webhook a new secret and tells it.
func (s *webhookService) RotateWebhookSecret(ctx context.Context, request *vernationv1.RotateWebhookSecretRequest) (*vernationv1.Webhook, error) {
	lasts := usualOverlap
	if request.GetOldLasts() != nil {
		lasts = request.GetOldLasts().AsDuration()
	}
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.Webhook, error) {
		rotated, err := feed.RotateSecret(tx, convert.ID[string](request.GetName()), lasts)
		return toldWebhook(ctx, rotated, err, convert.WebhookWithSecret)
	})
}

// toldWebhook answers with a webhook, or with why there is none.
func toldWebhook(ctx context.Context, w firm.Webhook, err error, write func(convert.Names, firm.Webhook) *vernationv1.Webhook) (*vernationv1.Webhook, error) {
	if err != nil {
		return nil, err
	}
	return write(namesOf(ctx), w), nil
}

// ListWebhookDeliveries gives a page of a webhook's deliveries.
func (s *webhookService) ListWebhookDeliveries(ctx context.Context, request *vernationv1.ListWebhookDeliveriesRequest) (*vernationv1.ListWebhookDeliveriesResponse, error) {
	before, err := positionAfter(request)
	if err != nil {
		return nil, err
	}
	webhook, state := convert.ID[string](request.GetParent()), convert.DeliveryStateFrom(request.GetState())
	return Look(ctx, s.store, func(tx *store.Tx) (*vernationv1.ListWebhookDeliveriesResponse, error) {
		page, next, err := paged(request,
			func(page store.Page) ([]firm.Delivery, error) {
				return feed.Deliveries(tx, webhook, state, before, page.Size)
			},
			func(d firm.Delivery) string { return positionKey(d.First) })
		if err != nil {
			return nil, err
		}
		return &vernationv1.ListWebhookDeliveriesResponse{Deliveries: convert.Deliveries(namesOf(ctx), page), NextPageToken: next}, nil
	})
}

// RedeliverWebhookDelivery sends a delivery again.
func (s *webhookService) RedeliverWebhookDelivery(ctx context.Context, request *vernationv1.RedeliverWebhookDeliveryRequest) (*vernationv1.WebhookDelivery, error) {
	return Deed(ctx, s.store, request, func(tx *store.Tx) (*vernationv1.WebhookDelivery, error) {
		again, err := feed.Redeliver(tx, convert.WebhookOfDelivery(request.GetName()), convert.Position(request.GetName()))
		if err != nil {
			return nil, err
		}
		return convert.Delivery(namesOf(ctx), again), nil
	})
}
