package identity_test

import (
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/rand"
	"encoding/base64"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"

	"vernation/server/internal/fault"
	"vernation/server/internal/identity"
)

// The P-256 key of RFC 7515, appendix A.3.1: never a key of ours.
const (
	rfcX = "f83OJ3D2xF1Bg8vub9tLe1gHMzV76e8Tus9uPHvRVEU"
	rfcY = "x_FEzRu9m36HLN_tue659LNpXW6pCyStikYjKIWI5a0"
	rfcD = "jpsQnnGQmL-YBIffH1136cspYG6-0iY7X1fCE9-E9LI"
)

const (
	ecKey   = `{"kty":"EC","crv":"P-256","x":"` + rfcX + `","y":"` + rfcY + `","use":"sig","kid":"spring"}`
	okpKey  = `{"kty":"OKP","crv":"Ed25519","x":"` + rfcPublic + `","alg":"EdDSA","kid":"autumn"}`
	otherEC = `{"kty":"EC","crv":"P-256","x":"` + rfcX + `","y":"` + rfcY + `","use":"enc","kid":"sealed"}`
)

func rfcP256(t *testing.T) *ecdsa.PrivateKey {
	t.Helper()
	number, err := base64.RawURLEncoding.DecodeString(rfcD)
	if err != nil {
		t.Fatal(err)
	}
	key, err := ecdsa.ParseRawPrivateKey(elliptic.P256(), number)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func set(keys ...string) []byte { return []byte(`{"keys":[` + strings.Join(keys, ",") + `]}`) }

// said are the claims of a token of the office.
func said(change func(jwt.MapClaims)) jwt.MapClaims {
	claims := jwt.MapClaims{
		"iss": "https://login.example", "aud": "plants", "sub": "office-1", "business": "demo", "role": "office", "responsible_applicator": true,
		"exp": time.Now().Add(time.Minute).Unix(), "iat": time.Now().Unix(),
	}
	if change != nil {
		change(claims)
	}
	return claims
}

func signed(t *testing.T, method jwt.SigningMethod, key any, id string, claims jwt.MapClaims) string {
	t.Helper()
	token := jwt.NewWithClaims(method, claims)
	token.Header["kid"] = id
	text, err := token.SignedString(key)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestKeySet_VerifiesWhatItsKeysSigned(t *testing.T) {
	t.Parallel()
	keys, err := identity.ParseKeys(set(ecKey, okpKey, otherEC))
	if err != nil {
		t.Fatal(err)
	}
	keys = keys.Expecting(identity.Expects{Issuer: "https://login.example", Audience: "plants"})
	ec, okp := rfcP256(t), rfcKey(t)
	for name, token := range map[string]string{
		"ES256": signed(t, jwt.SigningMethodES256, ec, "spring", said(nil)),
		"EdDSA": signed(t, jwt.SigningMethodEdDSA, okp, "autumn", said(nil)),
	} {
		if caller, err := keys.Verify(token, time.Now()); err != nil || caller != office {
			t.Errorf("%s: %+v, %v; want %+v", name, caller, err, office)
		}
	}
	another, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ name, token, want string }{
		{"another key by the same name", signed(t, jwt.SigningMethodES256, another, "spring", said(nil)), identity.ReasonSignature},
		{"a key for something else", signed(t, jwt.SigningMethodES256, ec, "sealed", said(nil)), identity.ReasonSignature},
		{"the other algorithm under a key's name", signed(t, jwt.SigningMethodEdDSA, okp, "spring", said(nil)), identity.ReasonSignature},
		{"a public key as a shared secret", signed(t, jwt.SigningMethodHS256, []byte(rfcX), "spring", said(nil)), identity.ReasonSignature},
		{"no key's name", signed(t, jwt.SigningMethodES256, ec, "", said(nil)), identity.ReasonSignature},
		{"another issuer", signed(t, jwt.SigningMethodES256, ec, "spring", said(func(c jwt.MapClaims) { c["iss"] = "vernation" })), identity.ReasonAudience},
		{"another audience", signed(t, jwt.SigningMethodES256, ec, "spring", said(func(c jwt.MapClaims) { c["aud"] = "vernation" })), identity.ReasonAudience},
		{"no end", signed(t, jwt.SigningMethodES256, ec, "spring", said(func(c jwt.MapClaims) { delete(c, "exp") })), identity.ReasonMalformed},
	} {
		if caller, err := keys.Verify(tt.token, time.Now()); fault.Of(err).Reason != tt.want {
			t.Errorf("%s: %+v, %v; want %s", tt.name, caller, err, tt.want)
		}
	}
}

func TestKeySet_SaysWhatWouldBeRight(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name, want string
		text       []byte
	}{
		{"no JSON", "want a JSON Web Key Set", []byte(`{"keys":`)},
		{"no key for signatures", "no key for signatures", set(otherEC)},
		{"a private key", "want public keys only", set(strings.Replace(ecKey, `"use"`, `"d":"`+rfcD+`","use"`, 1))},
		{"no name", "has no kid", set(strings.Replace(ecKey, `"kid":"spring"`, `"kid":""`, 1))},
		{"a name twice", "there twice", set(ecKey, strings.Replace(okpKey, "autumn", "spring", 1))},
		{"an algorithm that is not the key's", "want ES256", set(strings.Replace(ecKey, `"use"`, `"alg":"EdDSA","use"`, 1))},
		{"a point beside the curve", "want a JSON Web Key Set", set(strings.Replace(ecKey, "f83O", "f84O", 1))},
	} {
		if _, err := identity.ParseKeys(tt.text); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want an error that says %q", tt.name, err, tt.want)
		}
	}
}

func TestKeys_P256SignsES256(t *testing.T) {
	t.Parallel()
	keys, err := identity.ParseKeys(pemOf(t, rfcP256(t)))
	if err != nil {
		t.Fatal(err)
	}
	token, err := keys.Issue(office, time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	public, err := identity.ParseKeys(set(strings.Replace(ecKey, "spring", keys.ID(), 1)))
	if err != nil {
		t.Fatal(err)
	}
	if caller, err := public.Verify(token, time.Now()); err != nil || caller != office {
		t.Errorf("%+v, %v; want %+v", caller, err, office)
	}
	long, err := ecdsa.GenerateKey(elliptic.P384(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := identity.ParseKeys(pemOf(t, long)); err == nil || !strings.Contains(err.Error(), "P-384") {
		t.Errorf("a P-384 key: %v, want a refusal that names it", err)
	}
}

func TestFile_ARotatedKeyCountsWhileTheServerRuns(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "keys.pem")
	write := func(blocks ...[]byte) {
		t.Helper()
		if err := os.WriteFile(path, blocks[0], 0o600); err != nil {
			t.Fatal(err)
		}
		for _, block := range blocks[1:] {
			file, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0o600)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := file.Write(block); err != nil {
				t.Fatal(err)
			}
			if err := file.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
	oldKey, newKey := rfcKey(t), ed25519.NewKeyFromSeed([]byte(strings.Repeat("n", 32)))
	write(pemOf(t, oldKey))
	file, err := identity.OpenFile(path, identity.Expects{}, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	issue := func() string {
		t.Helper()
		token, err := file.Current().Issue(office, time.Hour)
		if err != nil {
			t.Fatal(err)
		}
		return token
	}
	before := issue()
	write(pemOf(t, newKey), pemOf(t, oldKey.Public()))
	after := issue()
	for name, token := range map[string]string{"before": before, "after": after} {
		if _, err := file.Verify(token, time.Now()); err != nil {
			t.Errorf("with both keys the token of %s does not count: %v", name, err)
		}
	}
	write(pemOf(t, newKey.Public()))
	if _, err := file.Verify(before, time.Now()); fault.Of(err).Reason != identity.ReasonSignature {
		t.Errorf("the key was taken out, and its token says %v", err)
	}
	if _, err := file.Verify(after, time.Now()); err != nil {
		t.Errorf("the key that stays: %v", err)
	}
}
