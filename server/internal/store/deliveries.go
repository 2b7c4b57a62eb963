package store

import (
	"context"
	"time"

	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// deliveredKeptFor is how long a delivered delivery stays listed.
const deliveredKeptFor = 30 * 24 * time.Hour

// Sending is one worker's hold on a webhook: nobody else sends to it meanwhile.
type Sending struct {
	Business firm.BusinessID
	Webhook  string
	Attempt  int64 // that fences: a later holder has another
}

// takeSendingsSQL takes webhooks that have something to send from nobody, or from a holder whose time is over. Workers of
// other servers pass over locked rows.
const takeSendingsSQL = `
UPDATE queue.webhook_lease AS l
SET
	holder = $2,
	attempt = l.attempt + 1,
	lease_until = $3
FROM (
	SELECT w.business_id, w.webhook_id
	FROM queue.webhook_lease w
	JOIN queue.change_count c ON c.business_id = w.business_id
	WHERE w.due_at <= $1
		AND (w.holder IS NULL OR w.lease_until < $1)
		AND (w.waiting > 0 OR c.last_position > w.last_position)
	ORDER BY w.due_at, w.business_id, w.webhook_id
	LIMIT $4
	FOR UPDATE OF w SKIP LOCKED
) AS due
WHERE l.business_id = due.business_id AND l.webhook_id = due.webhook_id
RETURNING l.business_id AS business, l.webhook_id AS webhook, l.attempt`

// TakeSendings gives a worker webhooks of any business that have something to send, at most so many, each until its lease
// ends or the worker settles it.
func (s *Store) TakeSendings(ctx context.Context, holder string, lease time.Duration, most int) ([]Sending, error) {
	rows := []Sending{}
	now := time.Now()
	err := s.across(ctx, &rows, takeSendingsSQL, now, holder, now.Add(lease), most)
	return rows, err
}

// Caller is who a worker is to the business whose webhook it sends to.
func (s Sending) Caller() firm.Caller {
	return firm.Caller{Business: s.Business, Subject: "webhooks", Role: firm.Office}
}

const (
	pendingSQL = `AND d.state = 'pending' ORDER BY d.first_position LIMIT 1`

	insertDeliverySQL = `
INSERT INTO webhook_delivery (business_id, webhook_id, first_position, last_position, state, attempts, last_error, created_at)
VALUES ($1, $2, $3, $4, 'pending', 0, '', $5)`

	cutSQL = `
UPDATE queue.webhook_lease
SET
	last_position = $4,
	waiting = waiting + $5
WHERE business_id = $1 AND webhook_id = $2 AND attempt = $3`

	dropDeliveredSQL = `
DELETE FROM webhook_delivery
WHERE business_id = $1 AND webhook_id = $2 AND state = 'delivered' AND settled_at < $3`

	releaseSQL = `UPDATE queue.webhook_lease SET holder = NULL WHERE business_id = $1 AND webhook_id = $2 AND attempt = $3`
)

// NextDelivery returns what a webhook is to be sent next with its changes: the oldest delivery that waits, else one that
// is put together of the changes that came since, at most so many. found is false when there is nothing; the webhook is
// then nobody's again.
func (tx *Tx) NextDelivery(s Sending, most int) (w firm.Webhook, d firm.Delivery, changes []firm.Change, found bool, err error) {
	if w, err = tx.Webhook(s.Webhook); err != nil {
		return w, d, nil, false, err
	}
	waiting, err := list[deliveryRow](tx, deliveryColumnsSQL+pendingSQL, s.Webhook)
	if err != nil {
		return w, d, nil, false, err
	}
	if len(waiting) > 0 {
		d = waiting[0].value()
		changes, err = tx.Changes(d.First-1, ChangeFilter{Nouns: w.Nouns}, most)
		for i, change := range changes {
			if change.Position > d.Last {
				changes = changes[:i]
				break
			}
		}
		return w, d, changes, true, err
	}
	return tx.cutDelivery(s, w, most)
}

// cutDelivery puts the next delivery together.
func (tx *Tx) cutDelivery(s Sending, w firm.Webhook, most int) (_ firm.Webhook, d firm.Delivery, changes []firm.Change, found bool, err error) {
	upTo, err := tx.LastChange() // before the changes are read: what comes between is the next delivery's
	if err != nil {
		return w, d, nil, false, err
	}
	const sentSQL = `SELECT last_position FROM queue.webhook_lease WHERE business_id = $1 AND webhook_id = $2 AND attempt = $3 ORDER BY webhook_id`
	sent, err := list[int64](tx, sentSQL, s.Webhook, s.Attempt)
	if err != nil || len(sent) == 0 { // another has it, or it was deleted
		return w, d, nil, false, err
	}
	if changes, err = tx.Changes(sent[0], ChangeFilter{Nouns: w.Nouns}, most); err != nil {
		return w, d, nil, false, err
	}
	now := time.Now()
	if len(changes) > 0 {
		d = firm.Delivery{Webhook: w.ID, First: changes[0].Position, Last: changes[len(changes)-1].Position, State: firm.DeliveryPending, CreatedAt: civil.InstantOf(now)}
		upTo = d.Last
		if _, err := tx.exec(insertDeliverySQL, w.ID, d.First, d.Last, now); err != nil {
			return w, d, nil, false, err
		}
	}
	cut, err := tx.exec(cutSQL, s.Webhook, s.Attempt, upTo, min(len(changes), 1))
	if err == nil && cut == 0 {
		err = sendingOver(s)
	}
	if err != nil {
		return w, d, nil, false, err
	}
	if _, err := tx.exec(dropDeliveredSQL, w.ID, now.Add(-deliveredKeptFor)); err != nil {
		return w, d, nil, false, err
	}
	if len(changes) == 0 {
		_, err = tx.exec(releaseSQL, s.Webhook, s.Attempt)
	}
	return w, d, changes, len(changes) > 0, err
}

// sendingOver is the failure of a worker that lost its webhook.
func sendingOver(s Sending) error {
	return fault.New(fault.Stale, "SENDING_OVER", "webhook %q was taken up by another worker, or deleted", s.Webhook)
}

const (
	settleLeaseSQL = `
UPDATE queue.webhook_lease
SET
	holder = NULL,
	due_at = $4,
	waiting = waiting - $5
WHERE business_id = $1 AND webhook_id = $2 AND attempt = $3`

	settleDeliverySQL = `
UPDATE webhook_delivery
SET
	state = $4,
	attempts = attempts + 1,
	last_error = $5,
	attempted_at = $6,
	settled_at = $7
WHERE business_id = $1 AND webhook_id = $2 AND first_position = $3 AND state = 'pending'`
)

// SettleDelivery writes down what came of an attempt, by its state, its error ("" when it succeeded) and when the next
// thing may be tried, and gives the webhook back. Stale when another worker has it, or when it was deleted.
func (tx *Tx) SettleDelivery(s Sending, d firm.Delivery, next time.Time) error {
	settled := 1
	var at any = time.Now()
	if d.State == firm.DeliveryPending {
		settled, at = 0, nil
	}
	held, err := tx.exec(settleLeaseSQL, s.Webhook, s.Attempt, next, settled)
	if err != nil {
		return err
	}
	if held == 0 {
		return sendingOver(s)
	}
	_, err = tx.exec(settleDeliverySQL, s.Webhook, d.First, string(d.State), d.LastError, time.Now(), at)
	return err
}
