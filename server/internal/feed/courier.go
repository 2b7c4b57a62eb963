package feed

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

const (
	mostChanges     = 100 // in one delivery
	mostAnswerBytes = 64 << 10
	mostErrorBytes  = 200 // of a receiver's failure that are kept for people
)

// CourierOptions steer a courier. Zero values are the usual ones.
type CourierOptions struct {
	Name  string // of this server among those that send; required
	Reach Reach
	// Poll is how often it is looked whether there is something to send; 1 s.
	Poll time.Duration
	// Lease is how long a courier may take over one attempt before another one tries; 30 s, more than a receiver has.
	Lease time.Duration
	// AnswerWithin is how long a receiver may take; 10 s.
	AnswerWithin time.Duration
	// FirstPause is that after the first failed attempt, and doubles with each up to MostPause; 5 s and 1 h.
	FirstPause, MostPause time.Duration
	// Attempts are how often a delivery is tried before it is given up; 20, which takes some 11 hours.
	Attempts int
	// Together is how many webhooks are sent to at one time; 8.
	Together int
	Log      *slog.Logger // nil is nobody
}

func (o CourierOptions) usual() CourierOptions {
	unset := func(value *time.Duration, usual time.Duration) {
		if *value <= 0 {
			*value = usual
		}
	}
	unset(&o.Poll, time.Second)
	unset(&o.AnswerWithin, answerWithin)
	unset(&o.Lease, 3*o.AnswerWithin)
	unset(&o.FirstPause, 5*time.Second)
	unset(&o.MostPause, time.Hour)
	if o.Attempts <= 0 {
		o.Attempts = 20
	}
	if o.Together <= 0 {
		o.Together = 8
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return o
}

// Body writes what a delivery says, always the same of the same changes, and its resource name.
type Body func(of firm.BusinessID, d firm.Delivery, changes []firm.Change) (name string, body []byte, err error)

// Deliver sends changes to the webhooks of all businesses until the context ends. Each webhook gets its deliveries one
// after the other, in the order of their changes: the next is sent when the one before was answered with 2xx or given up.
// A courier that dies loses its hold after the lease, and any other goes on; so a delivery may come twice.
func Deliver(ctx context.Context, kept *store.Store, body Body, options CourierOptions) error {
	options = options.usual()
	c := courier{store: kept, body: body, options: options, client: options.Reach.client(options.AnswerWithin)}
	defer c.client.CloseIdleConnections()
	var sending sync.WaitGroup
	defer sending.Wait()
	free, again := make(chan struct{}, options.Together), make(chan struct{}, 1)
	for {
		due, err := kept.TakeSendings(ctx, options.Name, options.Lease, options.Together-len(free))
		if err != nil && ctx.Err() == nil {
			options.Log.Warn("webhooks could not be looked at", "err", err)
		}
		for _, s := range due {
			free <- struct{}{} // does not wait: no more are taken than are free
			sending.Go(func() {
				c.sendLogged(ctx, s)
				<-free
				select {
				case again <- struct{}{}: // there may be more
				default:
				}
			})
		}
		select {
		case <-ctx.Done():
			return nil
		case <-again:
		case <-time.After(options.Poll):
		}
	}
}

// courier sends.
type courier struct {
	store   *store.Store
	body    Body
	options CourierOptions
	client  *http.Client
}

// sendLogged sends; a failure of the store's is logged, and the lease gives the webhook to the next who asks.
func (c courier) sendLogged(ctx context.Context, s store.Sending) {
	err := c.send(ctx, s)
	if err != nil && ctx.Err() == nil && !fault.Is(err, fault.Stale) { // stale: another has it, or it was deleted meanwhile
		c.options.Log.Warn("a webhook could not be sent to", "business", s.Business, "webhook", s.Webhook, "err", err)
	}
}

// send makes one attempt at the next delivery of a webhook.
func (c courier) send(ctx context.Context, s store.Sending) error {
	var (
		w       firm.Webhook
		d       firm.Delivery
		changes []firm.Change
		found   bool
	)
	err := c.store.In(ctx, s.Caller(), func(tx *store.Tx) (err error) {
		w, d, changes, found, err = tx.NextDelivery(s, mostChanges)
		return err
	})
	if err != nil || !found {
		return err
	}
	failed := c.attempt(ctx, s.Business, w, d, changes)
	if ctx.Err() != nil { // the server ends: nothing is known of the attempt, and another server makes it
		return ctx.Err()
	}
	next := time.Now()
	d.Attempts++
	d.State, d.LastError = firm.DeliveryDone, ""
	if failed != nil {
		d.State, d.LastError = firm.DeliveryPending, failed.Error()
		next = next.Add(c.pause(d.Attempts))
	}
	if failed != nil && d.Attempts >= c.options.Attempts {
		d.State, next = firm.DeliveryGivenUp, time.Now()
		c.options.Log.Warn("a delivery was given up", "business", s.Business, "webhook", w.ID, "first_position", d.First, "attempts", d.Attempts)
	}
	return c.store.In(ctx, s.Caller(), func(tx *store.Tx) error { return tx.SettleDelivery(s, d, next) })
}

// pause is how long after so many failed attempts the next one is made: twice as long each time, a fifth more or less, so
// that receivers which failed together are not called together.
func (c courier) pause(attempts int) time.Duration {
	pause := c.options.FirstPause
	for i := 1; i < attempts && pause < c.options.MostPause; i++ {
		pause *= 2
	}
	pause = min(pause, c.options.MostPause)
	return pause*4/5 + rand.N(pause*2/5+1)
}

// attempt posts a delivery; nil when the receiver took it. Its error is a sentence for the business's people.
func (c courier) attempt(ctx context.Context, of firm.BusinessID, w firm.Webhook, d firm.Delivery, changes []firm.Change) error {
	if err := c.options.Reach.JudgeURL("url", w.URL); err != nil {
		return errors.New(fault.Of(err).Message)
	}
	name, body, err := c.body(of, d, changes)
	if err != nil {
		return fmt.Errorf("write the delivery: %w", err)
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, w.URL, bytes.NewReader(body))
	if err != nil {
		return fmt.Errorf("ask %s: %w", w.URL, err)
	}
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("User-Agent", "Vernation")
	request.Header.Set(HeaderDelivery, name)
	request.Header.Set(HeaderAttempt, strconv.Itoa(d.Attempts+1))
	sign(request.Header, w, time.Now(), body)
	answer, err := c.client.Do(request)
	if err != nil {
		return c.whyNot(err)
	}
	defer answer.Body.Close()
	_, _ = io.Copy(io.Discard, io.LimitReader(answer.Body, mostAnswerBytes)) // what it says is nobody's business
	switch {
	case answer.StatusCode >= 200 && answer.StatusCode < 300:
		return nil
	case answer.StatusCode >= 300 && answer.StatusCode < 400:
		return fmt.Errorf("the receiver answered %d %s: redirects are not followed; want 2xx", answer.StatusCode, http.StatusText(answer.StatusCode))
	default:
		return fmt.Errorf("the receiver answered %d %s; want 2xx", answer.StatusCode, http.StatusText(answer.StatusCode))
	}
}

// whyNot says shortly why no answer came.
func (c courier) whyNot(err error) error {
	var timeout interface{ Timeout() bool }
	switch {
	case errors.Is(err, errNotPublic):
		return errNotPublic
	case errors.As(err, &timeout) && timeout.Timeout():
		return fmt.Errorf("the receiver did not answer within %v", c.options.AnswerWithin)
	}
	text := err.Error()
	if inner := errors.Unwrap(err); inner != nil { // without the verb and the address
		text = inner.Error()
	}
	return errors.New("the receiver cannot be reached: " + strings.ToValidUTF8(text[:min(len(text), mostErrorBytes)], ""))
}
