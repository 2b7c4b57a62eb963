package rpc_test

import (
	"encoding/base64"
	"fmt"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
)

// hook asks for a webhook.
func (w *works) hook(id, url string) (*vernationv1.Webhook, error) {
	return w.webhooks().CreateWebhook(w.office, &vernationv1.CreateWebhookRequest{
		Parent: w.name(""), WebhookId: id, RequestId: request(),
		Webhook: &vernationv1.Webhook{Url: url, Nouns: []vernationv1.ChangeNoun{vernationv1.ChangeNoun_CHANGE_NOUN_VISIT}},
	})
}

func TestWebhooks_TheirSecretIsToldOnceAndChanged(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	asked := &vernationv1.CreateWebhookRequest{Parent: w.name(""), WebhookId: "ledger", RequestId: request(), Webhook: &vernationv1.Webhook{Url: "https://receiver.example/changes"}}
	made, err := w.webhooks().CreateWebhook(w.office, asked)
	if err != nil {
		t.Fatal(err)
	}
	if secret, err := base64.RawURLEncoding.DecodeString(made.GetSecret()); err != nil || len(secret) != 32 {
		t.Errorf("the secret %q is not of 32 bytes", made.GetSecret())
	}
	if again, err := w.webhooks().CreateWebhook(w.office, asked); err != nil || !proto.Equal(again, made) {
		t.Errorf("the same request again gives %v, %v; want the first answer", again, err)
	}
	read, err := w.webhooks().GetWebhook(w.office, &vernationv1.GetWebhookRequest{Name: made.GetName()})
	if err != nil || read.GetSecret() != "" || read.GetUrl() != made.GetUrl() {
		t.Errorf("read again it is %v, %v; want it without its secret", read, err)
	}
	rotated, err := w.webhooks().RotateWebhookSecret(w.office, &vernationv1.RotateWebhookSecretRequest{Name: made.GetName(), RequestId: request()})
	if err != nil || rotated.GetSecret() == "" || rotated.GetSecret() == made.GetSecret() {
		t.Errorf("rotated it is %v, %v; want another secret", rotated, err)
	}
	if _, err := w.hook("other", "https://receiver.example/"); err != nil {
		t.Fatal(err)
	}
	gone, err := w.webhooks().DeleteWebhook(w.office, &vernationv1.DeleteWebhookRequest{Name: made.GetName(), RequestId: request()})
	if err != nil || gone.GetDeleteTime() == nil {
		t.Errorf("deleted it is %v, %v", gone, err)
	}
	count := func(deleted bool) (names []string) {
		for token := ""; ; {
			page, err := w.webhooks().ListWebhooks(w.office, &vernationv1.ListWebhooksRequest{Parent: w.name(""), PageSize: 1, PageToken: token, ShowDeleted: deleted})
			if err != nil {
				t.Fatal(err)
			}
			for _, listed := range page.GetWebhooks() {
				if listed.GetSecret() != "" {
					t.Error("a list tells a secret")
				}
				names = append(names, listed.GetName())
			}
			if token = page.GetNextPageToken(); token == "" {
				return names
			}
		}
	}
	if standing, all := count(false), count(true); len(standing) != 1 || len(all) != 2 {
		t.Errorf("%v stand, %v are listed with the deleted ones; want one and two", standing, all)
	}
	_, err = w.webhooks().GetWebhook(w.integration, &vernationv1.GetWebhookRequest{Name: made.GetName()})
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}

var webhookRefusals = []workRefusal{
	{"CreateWebhook", "INVALID_ARGUMENT URL_FORM", hooking("https://user@receiver.example/")},
	{"CreateWebhook", "INVALID_ARGUMENT URL_NOT_HTTPS", hooking("http://receiver.example/")},
	{"CreateWebhook", "INVALID_ARGUMENT URL_NOT_PUBLIC", hooking("https://192.168.0.10/")},
	{"CreateWebhook", "ALREADY_EXISTS EXISTS_ALREADY", func(t *testing.T, w *works, _ *vernationv1.Visit) error {
		if _, err := w.hook("twice", "https://receiver.example/"); err != nil {
			t.Fatal(err)
		}
		_, err := w.hook("twice", "https://receiver.example/")
		return err
	}},
	{"CreateWebhook", "FAILED_PRECONDITION TOO_MANY_WEBHOOKS", func(t *testing.T, _ *works, _ *vernationv1.Visit) error {
		w := openWorks(t)
		for i := range 20 {
			if _, err := w.hook(fmt.Sprint("hook-", i), "https://receiver.example/"); err != nil {
				t.Fatal(err)
			}
		}
		_, err := w.hook("one-more", "https://receiver.example/")
		return err
	}},
	{"GetWebhook", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.webhooks().GetWebhook(w.office, &vernationv1.GetWebhookRequest{Name: w.name("webhooks/none")})
		return err
	}},
	{"ListWebhooks", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.webhooks().ListWebhooks(w.office, &vernationv1.ListWebhooksRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
	{"DeleteWebhook", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.webhooks().DeleteWebhook(w.office, &vernationv1.DeleteWebhookRequest{Name: w.name("webhooks/none"), RequestId: request()})
		return err
	}},
	{"RotateWebhookSecret", "NOT_FOUND NOT_FOUND", rotating("none")},
	{"RotateWebhookSecret", "FAILED_PRECONDITION WEBHOOK_DELETED", func(t *testing.T, w *works, visit *vernationv1.Visit) error {
		w.deletedHook(t, "deleted-1")
		return rotating("deleted-1")(t, w, visit)
	}},
	{"ListWebhookDeliveries", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", listingDeliveries("none", "page-2")},
	{"ListWebhookDeliveries", "NOT_FOUND NOT_FOUND", listingDeliveries("none", "")},
	{"RedeliverWebhookDelivery", "NOT_FOUND NOT_FOUND", redelivering("twice")},
	{"RedeliverWebhookDelivery", "FAILED_PRECONDITION WEBHOOK_DELETED", func(t *testing.T, w *works, visit *vernationv1.Visit) error {
		w.deletedHook(t, "deleted-2")
		return redelivering("deleted-2")(t, w, visit)
	}},
}

func (w *works) deletedHook(t *testing.T, id string) {
	t.Helper()
	made, err := w.hook(id, "https://receiver.example/")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.webhooks().DeleteWebhook(w.office, &vernationv1.DeleteWebhookRequest{Name: made.GetName(), RequestId: request()}); err != nil {
		t.Fatal(err)
	}
}

func hooking(url string) func(*testing.T, *works, *vernationv1.Visit) error {
	return func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.hook("refused", url)
		return err
	}
}

func rotating(id string) func(*testing.T, *works, *vernationv1.Visit) error {
	return func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.webhooks().RotateWebhookSecret(w.office, &vernationv1.RotateWebhookSecretRequest{Name: w.name("webhooks/" + id), RequestId: request()})
		return err
	}
}

func listingDeliveries(id, token string) func(*testing.T, *works, *vernationv1.Visit) error {
	return func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.webhooks().ListWebhookDeliveries(w.office, &vernationv1.ListWebhookDeliveriesRequest{Parent: w.name("webhooks/" + id), PageToken: token})
		return err
	}
}

func redelivering(id string) func(*testing.T, *works, *vernationv1.Visit) error {
	return func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		name := w.name("webhooks/" + id + "/deliveries/" + strings.Repeat("0", 15) + "1")
		_, err := w.webhooks().RedeliverWebhookDelivery(w.office, &vernationv1.RedeliverWebhookDeliveryRequest{Name: name, RequestId: request()})
		return err
	}
}
