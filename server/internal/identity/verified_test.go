package identity_test

import (
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"

	"vernation/server/internal/fault"
	"vernation/server/internal/identity"
)

// A token that was found true is not judged by its signature again, but by the clock it is.
func TestVerify_ARememberedTokenStillEndsAndBegins(t *testing.T) {
	t.Parallel()
	keys := generate(t)
	token, err := keys.Issue(office, time.Hour)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	for _, at := range []time.Time{now, now.Add(59 * time.Minute)} {
		if caller, err := keys.Verify(token, at); err != nil || caller != office {
			t.Errorf("at %s: %+v, %v; want the caller", at, caller, err)
		}
	}
	if _, err := keys.Verify(token, now.Add(time.Hour)); fault.Of(err).Reason != identity.ReasonExpired {
		t.Errorf("an hour later: %v; want %s", err, identity.ReasonExpired)
	}
	if caller, err := keys.Verify(token, now); err != nil || caller != office {
		t.Errorf("within its time again: %+v, %v; want the caller", caller, err)
	}

	key := rfcKey(t)
	own, err := identity.ParseKeys(pemOf(t, key))
	if err != nil {
		t.Fatal(err)
	}
	early := sign(t, key, own.ID(), jwt.MapClaims{
		"iss": "vernation", "aud": "vernation", "sub": "office-1", "business": "demo", "role": "office",
		"nbf": now.Add(time.Minute).Unix(), "exp": now.Add(time.Hour).Unix(),
	})
	for range 2 {
		if _, err := own.Verify(early, now.Add(2*time.Minute)); err != nil {
			t.Errorf("after its beginning: %v; want the caller", err)
		}
		if _, err := own.Verify(early, now); fault.Of(err).Reason != identity.ReasonExpired {
			t.Errorf("before its beginning: %v; want %s", err, identity.ReasonExpired)
		}
	}
}

// What one set of keys found true counts for no other: of another audience, or without the key.
func TestVerify_WhatIsRememberedBelongsToItsKeys(t *testing.T) {
	t.Parallel()
	keys := generate(t)
	token, err := keys.Issue(office, time.Hour)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := keys.Verify(token, time.Now()); err != nil {
		t.Fatal(err)
	}
	if _, err := keys.Expecting(identity.Expects{Audience: "somebody-else"}).Verify(token, time.Now()); fault.Of(err).Reason != identity.ReasonAudience {
		t.Errorf("for another audience: %v; want %s", err, identity.ReasonAudience)
	}
	if _, err := generate(t).Verify(token, time.Now()); fault.Of(err).Reason != identity.ReasonSignature {
		t.Errorf("without the key: %v; want %s", err, identity.ReasonSignature)
	}
	if _, err := keys.Verify(token+"A", time.Now()); err == nil {
		t.Error("a token that was lengthened counts")
	}
}
