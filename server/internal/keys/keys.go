// Package keys answers: by what may a program of the business say who it is?
//
// A key is made, given a new secret and revoked by the office; the secret is told once and kept as a hash. Times are of
// the machine's clock, as those of tokens are.
package keys

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/identity"
	"vernation/server/internal/store"
)

// Wish is what is asked of a new key.
type Wish struct {
	ID, Name  string
	Scopes    []string
	ExpiresAt civil.Instant // unset is never
}

// Issue makes a key and returns it with its credential, which is told nowhere else. offered are the scopes that there
// are.
//
// Fails with Invalid (UNKNOWN_SCOPE, OUT_OF_RANGE) and Exists.
func Issue(tx *store.Tx, wish Wish, offered []string) (firm.IntegrationKey, string, error) {
	now := civil.InstantOf(time.Now())
	if err := check(wish, offered, now); err != nil {
		return firm.IntegrationKey{}, "", err
	}
	text, hash := identity.NewCredential(tx.Caller().Business, wish.ID)
	k := firm.IntegrationKey{
		ID: wish.ID, Name: wish.Name, Scopes: wish.Scopes, Hash: hash,
		ExpiresAt: wish.ExpiresAt, CreatedAt: now, CreatedBy: tx.Caller().Subject, RotatedAt: now,
	}
	return k, text, tx.InsertIntegrationKey(k)
}

// check says what cannot be of a wish.
func check(wish Wish, offered []string, now civil.Instant) error {
	var wrong []catalogue.FieldError
	for i, scope := range wish.Scopes {
		if !slices.Contains(offered, scope) {
			wrong = append(wrong, catalogue.FieldError{Path: fmt.Sprintf("integration_key.scopes[%d]", i), Reason: "UNKNOWN_SCOPE",
				Text: "integrations call no method of " + scope + ": want some of " + strings.Join(offered, ", ")})
		}
	}
	if !wish.ExpiresAt.IsZero() && wish.ExpiresAt <= now {
		wrong = append(wrong, catalogue.FieldError{Path: "integration_key.expire_time", Reason: "OUT_OF_RANGE", Text: "the key would have ended: want an instant after now"})
	}
	return fault.InvalidFields(wrong)
}

// Rotate gives a key a new secret and returns it with the credential. The secret before counts for the overlap.
//
// Fails with NotFound and Refused (KEY_REVOKED).
func Rotate(tx *store.Tx, id string, overlap time.Duration) (firm.IntegrationKey, string, error) {
	k, err := tx.IntegrationKey(id)
	if err != nil {
		return k, "", err
	}
	if !k.RevokedAt.IsZero() {
		f := fault.New(fault.Refused, "KEY_REVOKED", "integration key %q was revoked, for ever: want a new one", id)
		f.Thing, f.Subject = "integration key", id
		return k, "", f
	}
	now := civil.InstantOf(time.Now())
	text, hash := identity.NewCredential(tx.Caller().Business, id)
	k.EarlierHash, k.EarlierUntil = nil, 0
	if overlap > 0 {
		k.EarlierHash, k.EarlierUntil = k.Hash, now.Add(overlap)
	}
	k.Hash, k.RotatedAt = hash, now
	return k, text, tx.SetIntegrationKey(k)
}

// Revoke ends a key for ever; one that has ended so is returned as it is.
//
// Fails with NotFound.
func Revoke(tx *store.Tx, id string) (firm.IntegrationKey, error) {
	k, err := tx.IntegrationKey(id)
	if err != nil || !k.RevokedAt.IsZero() {
		return k, err
	}
	k.RevokedAt = civil.InstantOf(time.Now())
	return k, tx.SetIntegrationKey(k)
}
