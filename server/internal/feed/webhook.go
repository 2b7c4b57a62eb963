package feed

import (
	"crypto/rand"
	"time"

	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

const (
	secretBytes  = 32 // as long as the hash, as RFC 2104 advises
	mostWebhooks = 20 // of a business
)

// AddWebhook makes a webhook with a secret of its own. It hears of every change after this one.
//
// Fails with Invalid (see Reach.JudgeURL), Exists (EXISTS_ALREADY) and Refused (TOO_MANY_WEBHOOKS).
func AddWebhook(tx *store.Tx, reach Reach, w firm.Webhook) (firm.Webhook, error) {
	if err := reach.JudgeURL("webhook.url", w.URL); err != nil {
		return firm.Webhook{}, err
	}
	standing, err := tx.StandingWebhooks()
	if err != nil {
		return firm.Webhook{}, err
	}
	if standing >= mostWebhooks {
		return firm.Webhook{}, fault.New(fault.Refused, "TOO_MANY_WEBHOOKS", "the business has %d webhooks, the most there may be: delete one first", standing)
	}
	w.Secret, w.CreatedAt = newSecret(), civil.InstantOf(time.Now())
	return w, tx.InsertWebhook(w)
}

// newSecret makes a key; the system's source of randomness does not fail (crypto/rand).
func newSecret() []byte {
	secret := make([]byte, secretBytes)
	_, _ = rand.Read(secret) // it never fails
	return secret
}

// RotateSecret gives a webhook a new secret; the one before signs too for a while.
//
// Fails with NotFound and Refused (WEBHOOK_DELETED).
func RotateSecret(tx *store.Tx, id string, oldLasts time.Duration) (firm.Webhook, error) {
	w, err := standing(tx, id)
	if err != nil {
		return firm.Webhook{}, err
	}
	w.OldSecret, w.OldSecretUntil, w.Secret = w.Secret, civil.InstantOf(time.Now().Add(oldLasts)), newSecret()
	return w, tx.SetWebhookSecret(w)
}

// RemoveWebhook ends the sending to a webhook; it stays listed among the deleted ones. One that was deleted stays so.
//
// Fails with NotFound.
func RemoveWebhook(tx *store.Tx, id string) (firm.Webhook, error) {
	w, err := tx.Webhook(id)
	if err != nil || !w.DeletedAt.IsZero() {
		return w, err
	}
	w.DeletedAt = civil.InstantOf(time.Now())
	return w, tx.DeleteWebhook(id, w.DeletedAt)
}

// Deliveries returns a page of a webhook's deliveries, the newest first, before the position of a first change; 0 is
// from the newest on, "" every state.
//
// Fails with NotFound for an unknown webhook.
func Deliveries(tx *store.Tx, webhook string, state firm.DeliveryState, before int64, most int) ([]firm.Delivery, error) {
	if _, err := tx.Webhook(webhook); err != nil {
		return nil, err
	}
	return tx.Deliveries(webhook, state, before, most)
}

// Redeliver sends a delivery again, whatever came of it; its attempts are counted anew.
//
// Fails with NotFound and Refused (WEBHOOK_DELETED).
func Redeliver(tx *store.Tx, webhook string, first int64) (firm.Delivery, error) {
	if _, err := standing(tx, webhook); err != nil {
		return firm.Delivery{}, err
	}
	if _, err := tx.Delivery(webhook, first); err != nil {
		return firm.Delivery{}, err
	}
	if err := tx.Redeliver(webhook, first); err != nil {
		return firm.Delivery{}, err
	}
	return tx.Delivery(webhook, first)
}

// standing returns a webhook that is not deleted.
func standing(tx *store.Tx, id string) (firm.Webhook, error) {
	w, err := tx.Webhook(id)
	if err == nil && !w.DeletedAt.IsZero() {
		err = fault.New(fault.Refused, "WEBHOOK_DELETED", "webhook %s was deleted: make a new one", id)
	}
	return w, err
}
