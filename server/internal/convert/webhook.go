package convert

import (
	"encoding/base64"
	"fmt"

	"google.golang.org/protobuf/encoding/protojson"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
)

var deliveryStates = tableOf(map[vernationv1.DeliveryState]firm.DeliveryState{
	vernationv1.DeliveryState_DELIVERY_STATE_PENDING:   firm.DeliveryPending,
	vernationv1.DeliveryState_DELIVERY_STATE_DELIVERED: firm.DeliveryDone,
	vernationv1.DeliveryState_DELIVERY_STATE_GIVEN_UP:  firm.DeliveryGivenUp,
})

const (
	webhookCollection  = "webhooks"
	deliveryCollection = "deliveries"
)

// Webhook names a webhook.
func (n Names) Webhook(id string) string { return n.name(webhookCollection, id) }

// Delivery names a delivery of a webhook.
func (n Names) Delivery(webhook string, first int64) string {
	return fmt.Sprintf("%s/%s/%016d", n.Webhook(webhook), deliveryCollection, first)
}

// WebhookOfDelivery reads whose delivery a name speaks of; Position gives its first change.
func WebhookOfDelivery(name string) string { return above(name, deliveryCollection) }

// WebhookFrom reads a webhook that is to be made; id is the one that the caller gave it.
func WebhookFrom(id string, m *vernationv1.Webhook) firm.Webhook {
	return firm.Webhook{ID: id, URL: m.GetUrl(), Nouns: Nouns(m.GetNouns())}
}

// Webhook writes a webhook without its secret.
func Webhook(names Names, w firm.Webhook) *vernationv1.Webhook {
	return &vernationv1.Webhook{
		Name: names.Webhook(w.ID), Url: w.URL, Nouns: changeNouns.enums(w.Nouns),
		CreateTime: Timestamp(w.CreatedAt), DeleteTime: Timestamp(w.DeletedAt),
	}
}

// WebhookWithSecret writes a webhook for whoever has just made its secret.
func WebhookWithSecret(names Names, w firm.Webhook) *vernationv1.Webhook {
	m := Webhook(names, w)
	m.Secret = base64.RawURLEncoding.EncodeToString(w.Secret)
	return m
}

// Delivery writes a delivery.
func Delivery(names Names, d firm.Delivery) *vernationv1.WebhookDelivery {
	m := &vernationv1.WebhookDelivery{
		Name:         names.Delivery(d.Webhook, d.First),
		FirstChange:  names.Change(d.First),
		LastChange:   names.Change(d.Last),
		State:        deliveryStates.enum(d.State),
		AttemptCount: int32(d.Attempts),
		LastError:    d.LastError,
		CreateTime:   Timestamp(d.CreatedAt),
		AttemptTime:  Timestamp(d.AttemptedAt),
		SettleTime:   Timestamp(d.SettledAt),
	}
	if d.State == firm.DeliveryPending {
		m.NextAttemptTime = Timestamp(max(d.NextAt, civil.Instant(0)))
	}
	return m
}

// Deliveries writes deliveries in order.
func Deliveries(names Names, list []firm.Delivery) []*vernationv1.WebhookDelivery {
	return each(list, func(d firm.Delivery) *vernationv1.WebhookDelivery { return Delivery(names, d) })
}

// DeliveryStateFrom reads a state that is asked for; "" is every one.
func DeliveryStateFrom(state vernationv1.DeliveryState) firm.DeliveryState {
	return deliveryStates.word(state)
}

// DeliveryBody writes what a delivery says as JSON, with its name.
func DeliveryBody(of firm.BusinessID, d firm.Delivery, changes []firm.Change) (name string, body []byte, err error) {
	names := NamesOf(of)
	name = names.Delivery(d.Webhook, d.First)
	body, err = protojson.Marshal(&vernationv1.WebhookBody{Delivery: name, Changes: Changes(names, changes)})
	return name, body, err
}
