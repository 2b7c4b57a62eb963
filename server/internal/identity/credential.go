package identity

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"strings"

	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// The reasons of an Anonymous fault that integration keys add.
const (
	ReasonKeyUnknown = "KEY_UNKNOWN"
	ReasonKeyEnded   = "KEY_ENDED"
)

// Form of the credential of an integration key: mark, business, key and secret with a sign between them that a bearer
// token may hold (RFC 6750, section 2.1) and no id does. The mark lets scanners of leaked secrets find one.
const (
	keyMark     = "vernation-key"
	keySeparate = "~"
	secretBytes = 32
)

// Credential is what a program sends to say who it is.
type Credential struct {
	Business firm.BusinessID
	Key      string // id of the integration key
	secret   string
}

// NewCredential makes a secret for a key from the machine's randomness. The text is for its bearer and the hash is
// what may be kept.
func NewCredential(business firm.BusinessID, key string) (text string, hash []byte) {
	random := make([]byte, secretBytes)
	_, _ = rand.Read(random) // never fails
	secret := base64.RawURLEncoding.EncodeToString(random)
	return strings.Join([]string{keyMark, string(business), key, secret}, keySeparate), hashOf(secret)
}

// ParseCredential reads the credential of a key; false for anything else, such as a token.
func ParseCredential(text string) (Credential, bool) {
	parts := strings.Split(text, keySeparate)
	if len(parts) != 4 || parts[0] != keyMark || len(text) > tokenBytesMax {
		return Credential{}, false
	}
	return Credential{Business: firm.BusinessID(parts[1]), Key: parts[2], secret: parts[3]}, true
}

// Judge says whether the credential counts for the key that it names, by the machine's clock. The secret is judged
// before anything is told of the key, in a time that does not depend on it.
func (c Credential) Judge(k firm.IntegrationKey, now civil.Instant) error {
	hash := hashOf(c.secret)
	fits := subtle.ConstantTimeCompare(hash, k.Hash)
	if len(k.EarlierHash) > 0 && now < k.EarlierUntil {
		fits |= subtle.ConstantTimeCompare(hash, k.EarlierHash)
	}
	switch {
	case fits != 1:
		return Unknown()
	case !k.RevokedAt.IsZero():
		return fault.New(fault.Anonymous, ReasonKeyEnded, "the integration key was revoked: want another from the office")
	case !k.ExpiresAt.IsZero() && now >= k.ExpiresAt:
		return fault.New(fault.Anonymous, ReasonKeyEnded, "the time of the integration key has passed: want another from the office")
	}
	return nil
}

// Unknown is the failure of a credential that fits no key; whether there is a key of that id is not told.
func Unknown() error {
	return fault.New(fault.Anonymous, ReasonKeyUnknown, "no integration key has this credential: want one that the office made and did not rotate since")
}

// Caller is whom the credential speaks for, with the scopes of its key.
func (c Credential) Caller(k firm.IntegrationKey) firm.Caller {
	return firm.Caller{Business: c.Business, Subject: "key:" + c.Key, Role: firm.Integration, Scopes: strings.Join(k.Scopes, " ")}
}

func hashOf(secret string) []byte {
	sum := sha256.Sum256([]byte(secret))
	return sum[:]
}
