package identity

import (
	"cmp"
	"errors"
	"fmt"
	"time"

	"github.com/golang-jwt/jwt/v5"

	"vernation/scheduler"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// Bounds and names of a token.
const (
	usual         = "vernation" // issuer and audience
	tokenBytesMax = 4 << 10     // a token is some 400 bytes; a longer one is nothing of ours
	// LifeMax is the longest life of a token.
	LifeMax = 366 * 24 * time.Hour
)

// The stable reasons of an Anonymous fault.
const (
	ReasonMissing   = "TOKEN_MISSING"
	ReasonExpired   = "TOKEN_EXPIRED"
	ReasonSignature = "TOKEN_SIGNATURE"
	ReasonMalformed = "TOKEN_MALFORMED"
	ReasonAudience  = "TOKEN_AUDIENCE"
)

// Expects are what a token must name besides its caller; "" is vernation. Tokens are issued for the same.
type Expects struct{ Issuer, Audience string }

// complete fills in what is unset.
func (e Expects) complete() Expects {
	return Expects{cmp.Or(e.Issuer, usual), cmp.Or(e.Audience, usual)}
}

// Expecting are the same keys for tokens of an issuer to an audience.
func (k *Keys) Expecting(e Expects) *Keys {
	same := *k
	same.expects, same.seen = e, newVerified()
	return &same
}

// claims is the body of a token.
type claims struct {
	jwt.RegisteredClaims
	Business              string `json:"business"`
	Role                  string `json:"role"`
	Technician            string `json:"technician,omitempty"`
	ResponsibleApplicator bool   `json:"responsible_applicator,omitempty"`
}

// Issue signs a token for a caller that counts from now, by the machine's clock, for so long.
func (k *Keys) Issue(caller firm.Caller, life time.Duration) (string, error) {
	if !k.Signs() {
		return "", errors.New("issue token: the key file holds public keys only; want one with a private key")
	}
	if life < time.Second || life > LifeMax {
		return "", fmt.Errorf("issue token: a life of %s; want 1 s to %s", life, LifeMax)
	}
	if err := complete(caller); err != nil {
		return "", fmt.Errorf("issue token: %w", err)
	}
	method, err := algorithmOf(k.signing.Public())
	if err != nil {
		return "", fmt.Errorf("issue token: %w", err)
	}
	now, expects := time.Now(), k.expects.complete()
	token := jwt.NewWithClaims(method, claims{
		RegisteredClaims: jwt.RegisteredClaims{
			Issuer: expects.Issuer, Audience: jwt.ClaimStrings{expects.Audience}, Subject: caller.Subject,
			IssuedAt: jwt.NewNumericDate(now), ExpiresAt: jwt.NewNumericDate(now.Add(life)),
		},
		Business: string(caller.Business), Role: string(caller.Role), Technician: string(caller.Technician),
		ResponsibleApplicator: caller.ResponsibleApplicator,
	})
	token.Header["kid"] = k.id
	text, err := token.SignedString(k.signing)
	if err != nil {
		return "", fmt.Errorf("issue token: %w", err)
	}
	return text, nil
}

// Verify reads who a token speaks for at an instant of the machine's clock. Every error is an Anonymous
// fault with one of the reasons above; the signature is judged before anything that the token says.
func (k *Keys) Verify(token string, now time.Time) (firm.Caller, error) {
	if token == "" {
		return firm.Caller{}, fault.New(fault.Anonymous, ReasonMissing, "no credential; want authorization: Bearer <token> in the metadata, over HTTP in the header")
	}
	if len(token) > tokenBytesMax {
		return firm.Caller{}, fault.New(fault.Anonymous, ReasonMalformed, "the token has %d bytes; want at most %d", len(token), tokenBytesMax)
	}
	if caller, known := k.seen.caller(token, now); known {
		return caller, nil
	}
	var said claims
	expects := k.expects.complete()
	_, err := jwt.ParseWithClaims(token, &said, k.keyOf,
		jwt.WithValidMethods([]string{jwt.SigningMethodEdDSA.Alg(), jwt.SigningMethodES256.Alg()}),
		jwt.WithIssuer(expects.Issuer), jwt.WithAudience(expects.Audience), jwt.WithExpirationRequired(), jwt.WithStrictDecoding(),
		jwt.WithTimeFunc(func() time.Time { return now }))
	if err != nil {
		return firm.Caller{}, refusal(err, expects)
	}
	caller := firm.Caller{
		Business: firm.BusinessID(said.Business), Subject: said.Subject, Role: firm.Role(said.Role),
		Technician: scheduler.TechnicianID(said.Technician), ResponsibleApplicator: said.ResponsibleApplicator,
	}
	if err := complete(caller); err != nil {
		return firm.Caller{}, anonymous(ReasonMalformed, "the token is not one of ours: "+err.Error(), err)
	}
	k.seen.add(token, said, caller)
	return caller, nil
}

// keyOf finds the trusted key that a token names.
func (k *Keys) keyOf(token *jwt.Token) (any, error) {
	id, _ := token.Header["kid"].(string)
	public, ok := k.trusted[id]
	if !ok {
		return nil, errors.New("the token names no trusted key")
	}
	if method, err := algorithmOf(public); err != nil || method.Alg() != token.Method.Alg() {
		return nil, errors.New("the token's algorithm is not that of its key")
	}
	return public, nil
}

// refusal sorts the library's errors into our reasons. A token may be wrong in several ways at once:
// what makes it unreadable or untrue comes before what it says.
func refusal(err error, expects Expects) error {
	switch {
	case errors.Is(err, jwt.ErrTokenMalformed):
		return anonymous(ReasonMalformed, "the token cannot be read; want a JSON Web Token of three parts", err)
	case errors.Is(err, jwt.ErrTokenUnverifiable), errors.Is(err, jwt.ErrTokenSignatureInvalid):
		return anonymous(ReasonSignature, "no key that this server trusts signed the token; want one issued with its key file", err)
	case errors.Is(err, jwt.ErrTokenInvalidAudience), errors.Is(err, jwt.ErrTokenInvalidIssuer):
		return anonymous(ReasonAudience, "the token was issued by or for somebody else; want issuer "+expects.Issuer+" and audience "+expects.Audience, err)
	case errors.Is(err, jwt.ErrTokenExpired), errors.Is(err, jwt.ErrTokenNotValidYet):
		return anonymous(ReasonExpired, "the token does not count at this time; want a fresh one", err)
	default:
		return anonymous(ReasonMalformed, "the token lacks a claim; want issuer, audience, subject, expiry, business and role", err)
	}
}

// anonymous makes an Anonymous fault with its cause for the log.
func anonymous(reason, message string, cause error) error {
	return &fault.Fault{Kind: fault.Anonymous, Reason: reason, Message: message, Err: cause}
}

// complete says what is missing from a caller, or does not fit together.
func complete(caller firm.Caller) error {
	switch {
	case caller.Business == "":
		return errors.New("it names no business")
	case caller.Subject == "":
		return errors.New("it names no subject")
	case caller.Role != firm.Office && caller.Role != firm.Technician && caller.Role != firm.Integration:
		return fmt.Errorf("role %q; want %s, %s or %s", caller.Role, firm.Office, firm.Technician, firm.Integration)
	case (caller.Role == firm.Technician) != (caller.Technician != ""):
		return fmt.Errorf("a technician's token, and no other, names the technician")
	case caller.ResponsibleApplicator && caller.Role == firm.Integration:
		return errors.New("an integration is no responsible applicator: it must be a person")
	}
	return nil
}
