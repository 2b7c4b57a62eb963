package identity

import (
	"crypto/sha256"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"

	"vernation/server/internal/firm"
)

// verifiedMost bounds how many tokens are remembered.
const verifiedMost = 10_000

// verified remembers whom tokens speak for whose signature has been found true, by the hash of the whole token: a
// signature costs more than all the rest of a call, and a technician's app comes with one token all day. It belongs to
// one set of keys, so that a token of a key that is taken out is judged anew.
type verified struct {
	tokens *lru.Cache[[sha256.Size]byte, verifiedToken]
}

// verifiedToken is what a token said, and the instants between which it counts: from one, until before another.
type verifiedToken struct {
	caller      firm.Caller
	from, until time.Time
}

func newVerified() *verified {
	tokens, err := lru.New[[sha256.Size]byte, verifiedToken](verifiedMost)
	if err != nil {
		panic(err) // of a size below 1
	}
	return &verified{tokens}
}

// caller returns whom a token speaks for; known is false for one that was not seen, or does not count now.
func (v *verified) caller(token string, now time.Time) (caller firm.Caller, known bool) {
	found, known := v.tokens.Get(sha256.Sum256([]byte(token)))
	return found.caller, known && !now.Before(found.from) && now.Before(found.until)
}

// add remembers a token that was found true.
func (v *verified) add(token string, said claims, caller firm.Caller) {
	found := verifiedToken{caller: caller, until: said.ExpiresAt.Time}
	if said.NotBefore != nil {
		found.from = said.NotBefore.Time
	}
	v.tokens.Add(sha256.Sum256([]byte(token)), found)
}
