package feed_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"vernation/server/internal/convert"
	"vernation/server/internal/feed"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// received is a request as the receiver got it.
type received struct {
	header http.Header
	body   []byte
}

// receiver answers by a script, one step a request, and with 200 when it is over.
type receiver struct {
	*httptest.Server
	mutex sync.Mutex
	got   []received
}

func newReceiver(t *testing.T, script ...func(http.ResponseWriter, *http.Request)) *receiver {
	t.Helper()
	r := &receiver{}
	r.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, request *http.Request) {
		body, err := io.ReadAll(request.Body)
		if err != nil {
			t.Error(err)
		}
		r.mutex.Lock()
		step := len(r.got)
		r.got = append(r.got, received{request.Header.Clone(), body})
		r.mutex.Unlock()
		if step < len(script) {
			script[step](w, request)
		}
	}))
	t.Cleanup(r.Close)
	return r
}

func (r *receiver) all() []received {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	return slices.Clone(r.got)
}

func answering(code int) func(http.ResponseWriter, *http.Request) {
	return func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(code) }
}

// hanging does not answer before the caller has left.
func hanging(_ http.ResponseWriter, request *http.Request) { <-request.Context().Done() }

// subjects lists what the changes of a delivery are about.
func (r received) subjects(t *testing.T) (subjects []string) {
	t.Helper()
	var body struct {
		Delivery string
		Changes  []struct{ Subject string }
	}
	if err := json.Unmarshal(r.body, &body); err != nil {
		t.Fatal(err)
	}
	if body.Delivery == "" || body.Delivery != r.header.Get(feed.HeaderDelivery) {
		t.Errorf("the body is of delivery %q, the header of %q", body.Delivery, r.header.Get(feed.HeaderDelivery))
	}
	for _, change := range body.Changes {
		subjects = append(subjects, change.Subject)
	}
	return subjects
}

// signed says whether one of the signatures is that of a secret.
func (r received) signed(secret []byte) bool {
	want := feed.Signature(secret, r.header.Get(feed.HeaderSentAt), r.body)
	return slices.Contains(strings.Split(r.header.Get(feed.HeaderSignature), ", "), want)
}

func in(t *testing.T, d *storetest.Database, do func(*store.Tx) error) {
	t.Helper()
	if err := d.Store.In(t.Context(), d.Office, do); err != nil {
		t.Fatal(err)
	}
}

// hook makes a webhook.
func hook(t *testing.T, d *storetest.Database, url string, nouns ...firm.Noun) (w firm.Webhook) {
	t.Helper()
	in(t, d, func(tx *store.Tx) (err error) {
		w, err = feed.AddWebhook(tx, feed.Reach{Inside: true}, firm.Webhook{ID: "hook", URL: url, Nouns: nouns})
		return err
	})
	return w
}

// tell changes something.
func tell(t *testing.T, d *storetest.Database, noun firm.Noun, id string) {
	t.Helper()
	in(t, d, func(tx *store.Tx) error {
		tx.Tell(firm.Change{Noun: noun, ID: id, Kind: firm.Changed})
		return nil
	})
}

// deliver runs a courier until the test ends.
func deliver(t *testing.T, d *storetest.Database, options feed.CourierOptions) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.WithoutCancel(t.Context()))
	ended := make(chan error, 1)
	go func() { ended <- feed.Deliver(ctx, d.Store, convert.DeliveryBody, options) }()
	stop = sync.OnceFunc(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("the courier ended with %v", err)
		}
	})
	t.Cleanup(stop)
	return stop
}

// deliveries reads those of the webhook, the newest first.
func deliveries(t *testing.T, d *storetest.Database) (found []firm.Delivery) {
	t.Helper()
	in(t, d, func(tx *store.Tx) (err error) {
		found, err = feed.Deliveries(tx, "hook", "", 0, 100)
		return err
	})
	return found
}

func eventually(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for until := time.Now().Add(20 * time.Second); !holds(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(until) {
			t.Fatalf("it does not come true that %s", what)
		}
	}
}

func TestDeliver_AReceiverThatFailsAndHangsGetsItInTheEnd(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	redirect := func(w http.ResponseWriter, request *http.Request) {
		http.Redirect(w, request, "/elsewhere", http.StatusFound)
	}
	r := newReceiver(t, answering(500), hanging, redirect)
	w := hook(t, d, r.URL, firm.NounPlant)
	tell(t, d, firm.NounPlant, "fern")
	tell(t, d, firm.NounSite, "hotel") // not asked for
	tell(t, d, firm.NounPlant, "palm")
	deliver(t, d, options("one"))
	eventually(t, "the first delivery is taken", func() bool { return len(r.all()) == 4 })
	tell(t, d, firm.NounPlant, "aloe")
	eventually(t, "the second is taken", func() bool { found := deliveries(t, d); return len(found) == 2 && found[0].State == firm.DeliveryDone })
	got := r.all()
	if len(got) != 5 {
		t.Fatalf("%d requests came, want 5", len(got))
	}
	for i, request := range got[:4] {
		if want := []string{"businesses/alpha/plants/fern", "businesses/alpha/plants/palm"}; !slices.Equal(request.subjects(t), want) {
			t.Errorf("attempt %d told of %v, want %v", i+1, request.subjects(t), want)
		}
		if request.header.Get(feed.HeaderAttempt) != fmt.Sprint(i+1) || !request.signed(w.Secret) {
			t.Errorf("attempt %d has headers %v: want its count and a signature of the secret", i+1, request.header)
		}
	}
	if want := []string{"businesses/alpha/plants/aloe"}; !slices.Equal(got[4].subjects(t), want) {
		t.Errorf("the second delivery told of %v, want %v", got[4].subjects(t), want)
	}
	if first := deliveries(t, d)[1]; first.State != firm.DeliveryDone || first.Attempts != 4 || first.LastError != "" || first.SettledAt.IsZero() {
		t.Errorf("the first delivery is listed as %+v: want it delivered at the fourth attempt", first)
	}
}

func TestDeliver_WhatNobodyTakesIsGivenUpVisiblyAndCanBeSentAgain(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	r := newReceiver(t, answering(503), answering(503), answering(503), answering(503))
	hook(t, d, r.URL)
	tell(t, d, firm.NounPlant, "fern")
	deliver(t, d, options("one"))
	eventually(t, "it is given up", func() bool {
		found := deliveries(t, d)
		return len(found) == 1 && found[0].State == firm.DeliveryGivenUp
	})
	given := deliveries(t, d)[0]
	if given.Attempts != 4 || given.LastError != "the receiver answered 503 Service Unavailable; want 2xx" {
		t.Errorf("given up is %+v: want four attempts and what the receiver said", given)
	}
	tell(t, d, firm.NounPlant, "palm")
	eventually(t, "the next one is taken", func() bool { return deliveries(t, d)[0].State == firm.DeliveryDone })
	in(t, d, func(tx *store.Tx) error {
		again, err := feed.Redeliver(tx, "hook", given.First)
		if again.State != firm.DeliveryPending || again.Attempts != 0 {
			t.Errorf("sent again it is %+v, want it waiting and not tried", again)
		}
		return err
	})
	eventually(t, "it is taken at last", func() bool { return deliveries(t, d)[1].State == firm.DeliveryDone })
	got := r.all()
	if want := []string{"businesses/alpha/plants/fern"}; !slices.Equal(got[len(got)-1].subjects(t), want) {
		t.Errorf("sent again it told of %v, want %v", got[len(got)-1].subjects(t), want)
	}
}

func TestDeliver_NobodyListensAtAll(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	r := newReceiver(t)
	r.Close()
	hook(t, d, r.URL)
	tell(t, d, firm.NounPlant, "fern")
	deliver(t, d, options("one"))
	eventually(t, "it is given up", func() bool {
		found := deliveries(t, d)
		return len(found) == 1 && found[0].State == firm.DeliveryGivenUp
	})
	if text := deliveries(t, d)[0].LastError; !strings.HasPrefix(text, "the receiver cannot be reached: ") {
		t.Errorf("the error is %q", text)
	}
}

// A courier that is killed in the middle of an attempt loses its hold, and another one makes the attempt again.
func TestDeliver_AKilledCouriersDeliveryIsMadeByAnother(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	r := newReceiver(t, hanging)
	hook(t, d, r.URL)
	tell(t, d, firm.NounPlant, "fern")
	killed := exec.CommandContext(t.Context(), os.Args[0]) //nolint:gosec // the test's own program
	killed.Env = append(os.Environ(), courierAt+"="+d.ServeURL)
	if err := killed.Start(); err != nil {
		t.Fatal(err)
	}
	eventually(t, "the courier is at it", func() bool { return len(r.all()) == 1 })
	if err := killed.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = killed.Wait() // it was killed
	deliver(t, d, options("heir"))
	eventually(t, "the other delivers it", func() bool { found := deliveries(t, d); return len(found) == 1 && found[0].State == firm.DeliveryDone })
	if got := r.all(); len(got) != 2 || string(got[0].body) != string(got[1].body) {
		t.Errorf("%d requests came: want two of the same body", len(got))
	}
}

func TestDeliver_ForAWhileBothSecretsSign(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	r := newReceiver(t)
	old := hook(t, d, r.URL)
	var rotated firm.Webhook
	in(t, d, func(tx *store.Tx) (err error) {
		rotated, err = feed.RotateSecret(tx, "hook", time.Hour)
		return err
	})
	tell(t, d, firm.NounPlant, "fern")
	deliver(t, d, options("one"))
	eventually(t, "it comes", func() bool { return len(r.all()) == 1 })
	if got := r.all()[0]; !got.signed(old.Secret) || !got.signed(rotated.Secret) || got.signed([]byte("another")) {
		t.Errorf("signatures %q: want those of both secrets and no other", got.header.Get(feed.HeaderSignature))
	}
	in(t, d, func(tx *store.Tx) (err error) {
		rotated, err = feed.RotateSecret(tx, "hook", 0)
		return err
	})
	tell(t, d, firm.NounPlant, "palm")
	eventually(t, "the next one comes", func() bool { return len(r.all()) == 2 })
	if got := r.all()[1]; !got.signed(rotated.Secret) || strings.Contains(got.header.Get(feed.HeaderSignature), ",") {
		t.Errorf("signatures %q: want that of the new secret alone", got.header.Get(feed.HeaderSignature))
	}
}

// Two couriers share the webhooks; none sends what the other has, and a deleted one is sent to no more.
func TestDeliver_TwoCouriersSendEachChangeOnceInOrder(t *testing.T) {
	t.Parallel()
	d := storetest.New(t)
	r := newReceiver(t)
	hook(t, d, r.URL)
	deliver(t, d, options("one"))
	deliver(t, d, options("two"))
	var want []string
	for i := range 30 {
		id := fmt.Sprintf("plant-%02d", i)
		tell(t, d, firm.NounPlant, id)
		want = append(want, "businesses/alpha/plants/"+id)
	}
	told := func() (all []string) {
		for _, request := range r.all() {
			all = append(all, request.subjects(t)...)
		}
		return all
	}
	eventually(t, "all have come", func() bool { return len(told()) >= len(want) })
	if got := told(); !slices.Equal(got, want) {
		t.Errorf("the receiver heard of %v, want each plant once in order", got)
	}
	in(t, d, func(tx *store.Tx) error {
		_, err := feed.RemoveWebhook(tx, "hook")
		return err
	})
	before := len(r.all())
	tell(t, d, firm.NounPlant, "after")
	time.Sleep(100 * time.Millisecond)
	if after := len(r.all()); after != before {
		t.Errorf("%d requests came after the webhook was deleted", after-before)
	}
}
