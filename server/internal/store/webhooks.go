package store

import (
	"time"

	"github.com/lib/pq"

	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

const (
	insertWebhookSQL = `
INSERT INTO webhook (business_id, webhook_id, url, nouns, secret, created_at)
VALUES ($1, $2, $3, $4, $5, $6)`

	// A webhook begins with the changes after its making.
	insertWebhookLeaseSQL = `
INSERT INTO queue.webhook_lease (business_id, webhook_id, last_position, waiting, due_at, attempt, lease_until)
VALUES ($1, $2, $3, 0, $4, 0, $4)`
)

// InsertWebhook adds a webhook, which hears of every later change; Exists when one of that id is known.
func (tx *Tx) InsertWebhook(w firm.Webhook) error {
	last, err := tx.LastChange()
	if err != nil {
		return err
	}
	if _, err := tx.exec(insertWebhookSQL, w.ID, w.URL, ids(w.Nouns), w.Secret, instant(w.CreatedAt)); err != nil {
		return err
	}
	_, err = tx.exec(insertWebhookLeaseSQL, w.ID, last, time.Now())
	return err
}

type webhookRow struct {
	ID             string `db:"webhook_id"`
	URL            string
	Nouns          pq.StringArray
	Secret         []byte
	OldSecret      []byte  `db:"old_secret"`
	OldSecretUntil instant `db:"old_secret_until_at"`
	CreatedAt      instant `db:"created_at"`
	DeletedAt      instant `db:"deleted_at"`
}

func (r webhookRow) value() firm.Webhook {
	w := firm.Webhook{
		ID: r.ID, URL: r.URL, Secret: r.Secret, OldSecret: r.OldSecret, OldSecretUntil: civil.Instant(r.OldSecretUntil),
		CreatedAt: civil.Instant(r.CreatedAt), DeletedAt: civil.Instant(r.DeletedAt),
	}
	for _, noun := range r.Nouns {
		w.Nouns = append(w.Nouns, firm.Noun(noun))
	}
	return w
}

const webhookColumnsSQL = `
SELECT webhook_id, url, nouns, secret, old_secret, old_secret_until_at, created_at, deleted_at
FROM webhook
WHERE business_id = $1 `

// Webhook returns a webhook, a deleted one too.
func (tx *Tx) Webhook(id string) (firm.Webhook, error) {
	row, err := one[webhookRow](tx, "webhook", id, webhookColumnsSQL+`AND webhook_id = $2`, id)
	return row.value(), err
}

// Webhooks returns a page of webhooks by id; deleted ones only where they are asked for.
func (tx *Tx) Webhooks(deleted bool, page Page) ([]firm.Webhook, error) {
	rows, err := list[webhookRow](tx, webhookColumnsSQL+`AND ($2 OR deleted_at IS NULL) AND webhook_id > $3 ORDER BY webhook_id LIMIT $4`,
		deleted, page.After, page.limit())
	found := make([]firm.Webhook, len(rows))
	for i, row := range rows {
		found[i] = row.value()
	}
	return found, err
}

// StandingWebhooks counts the webhooks that are not deleted.
func (tx *Tx) StandingWebhooks() (int64, error) {
	return first64(list[int64](tx, `SELECT count(*) FROM webhook WHERE business_id = $1 AND deleted_at IS NULL`))
}

// SetWebhookSecret gives a webhook another key and keeps the one before for a while.
func (tx *Tx) SetWebhookSecret(w firm.Webhook) error {
	const statement = `
UPDATE webhook
SET
	secret = $3,
	old_secret = $4,
	old_secret_until_at = $5
WHERE business_id = $1 AND webhook_id = $2`
	return changed("webhook", w.ID)(tx.exec(statement, w.ID, w.Secret, w.OldSecret, instant(w.OldSecretUntil)))
}

// DeleteWebhook ends the sending to a webhook; what was sent stays listed.
func (tx *Tx) DeleteWebhook(id string, at civil.Instant) error {
	if _, err := tx.exec(`DELETE FROM queue.webhook_lease WHERE business_id = $1 AND webhook_id = $2`, id); err != nil {
		return err
	}
	return changed("webhook", id)(tx.exec(`UPDATE webhook SET deleted_at = $3 WHERE business_id = $1 AND webhook_id = $2`, id, instant(at)))
}

type deliveryRow struct {
	Webhook     string `db:"webhook_id"`
	First       int64  `db:"first_position"`
	Last        int64  `db:"last_position"`
	State       string
	Attempts    int
	LastError   string  `db:"last_error"`
	CreatedAt   instant `db:"created_at"`
	AttemptedAt instant `db:"attempted_at"`
	SettledAt   instant `db:"settled_at"`
	NextAt      instant `db:"next_at"`
}

func (r deliveryRow) value() firm.Delivery {
	return firm.Delivery{
		Webhook: r.Webhook, First: r.First, Last: r.Last, State: firm.DeliveryState(r.State), Attempts: r.Attempts, LastError: r.LastError,
		CreatedAt: civil.Instant(r.CreatedAt), AttemptedAt: civil.Instant(r.AttemptedAt), SettledAt: civil.Instant(r.SettledAt), NextAt: civil.Instant(r.NextAt),
	}
}

const deliveryColumnsSQL = `
SELECT
	d.webhook_id,
	d.first_position,
	d.last_position,
	d.state,
	d.attempts,
	d.last_error,
	d.created_at,
	d.attempted_at,
	d.settled_at,
	CASE WHEN d.state = 'pending' THEN l.due_at END AS next_at
FROM webhook_delivery d
LEFT JOIN queue.webhook_lease l ON l.business_id = $1 AND l.webhook_id = d.webhook_id
WHERE d.business_id = $1 AND d.webhook_id = $2 `

// Delivery returns a delivery by the position of its first change.
func (tx *Tx) Delivery(webhook string, first int64) (firm.Delivery, error) {
	found, err := list[deliveryRow](tx, deliveryColumnsSQL+`AND d.first_position = $3 ORDER BY d.first_position`, webhook, first)
	if err != nil {
		return firm.Delivery{}, err
	}
	if len(found) == 0 {
		return firm.Delivery{}, fault.New(fault.NotFound, "NOT_FOUND", "webhook %s has no delivery that begins with change %d; delivered ones are kept 30 days", webhook, first)
	}
	return found[0].value(), nil
}

// Deliveries returns a page of a webhook's deliveries, the newest first, before a position (0 is the newest); "" is every
// state.
func (tx *Tx) Deliveries(webhook string, state firm.DeliveryState, before int64, most int) ([]firm.Delivery, error) {
	const rest = `
	AND ($3 = 0 OR d.first_position < $3)
	AND ($4 = '' OR d.state = $4)
ORDER BY d.first_position DESC
LIMIT $5`
	rows, err := list[deliveryRow](tx, deliveryColumnsSQL+rest, webhook, before, string(state), most)
	found := make([]firm.Delivery, len(rows))
	for i, row := range rows {
		found[i] = row.value()
	}
	return found, err
}

const (
	redeliverSQL = `
UPDATE webhook_delivery
SET
	state = 'pending',
	attempts = 0,
	settled_at = NULL
WHERE business_id = $1 AND webhook_id = $2 AND first_position = $3 AND state <> 'pending'`

	waitsAgainSQL = `
UPDATE queue.webhook_lease
SET
	waiting = waiting + $3,
	due_at = $4
WHERE business_id = $1 AND webhook_id = $2`
)

// Redeliver lets a delivery wait again, to be tried at once; one that waits is tried at once too. NotFound for a webhook
// that sends no more.
func (tx *Tx) Redeliver(webhook string, first int64) error {
	again, err := tx.exec(redeliverSQL, webhook, first)
	if err != nil {
		return err
	}
	return changed("webhook that sends", webhook)(tx.exec(waitsAgainSQL, webhook, again, time.Now()))
}
