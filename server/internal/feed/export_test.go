package feed

import (
	"net/http"
	"net/netip"
)

// Public is public.
func Public(address netip.Addr) bool { return public(address) }

// Client is client, with the usual time for an answer.
func Client(r Reach) *http.Client { return r.client(answerWithin) }

// ErrNotPublic is errNotPublic.
var ErrNotPublic = errNotPublic
