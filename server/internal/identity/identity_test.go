package identity_test

import (
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/identity"
)

// The key of RFC 8037, appendix A.1: never a key of ours.
const (
	rfcPrivate = "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A"
	rfcPublic  = "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
)

var office = firm.Caller{Business: "demo", Subject: "office-1", Role: firm.Office, ResponsibleApplicator: true}

func rfcKey(t *testing.T) ed25519.PrivateKey {
	t.Helper()
	seed, err := base64.RawURLEncoding.DecodeString(rfcPrivate)
	if err != nil {
		t.Fatal(err)
	}
	return ed25519.NewKeyFromSeed(seed)
}

func pemOf(t *testing.T, key any) []byte {
	t.Helper()
	switch key := key.(type) {
	case ed25519.PublicKey, *ecdsa.PublicKey:
		der, err := x509.MarshalPKIXPublicKey(key)
		if err != nil {
			t.Fatal(err)
		}
		return pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: der})
	default:
		der, err := x509.MarshalPKCS8PrivateKey(key)
		if err != nil {
			t.Fatal(err)
		}
		return pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der})
	}
}

func generate(t testing.TB) *identity.Keys {
	t.Helper()
	keys, err := identity.GenerateKeys()
	if err != nil {
		t.Fatal(err)
	}
	return keys
}

// sign makes a token by the library alone, so that Verify meets ones that Issue would never write.
func sign(t *testing.T, key ed25519.PrivateKey, id string, claims jwt.MapClaims) string {
	t.Helper()
	token := jwt.NewWithClaims(jwt.SigningMethodEdDSA, claims)
	token.Header["kid"] = id
	text, err := token.SignedString(key)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// RFC 8037, appendix A.3: the thumbprint of the key of appendix A.2.
func TestKeyID_IsTheThumbprintOfRFC8037(t *testing.T) {
	t.Parallel()
	public, err := base64.RawURLEncoding.DecodeString(rfcPublic)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := identity.KeyID(ed25519.PublicKey(public)); err != nil || got != "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k" {
		t.Errorf("KeyID = %s, %v; want kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k (RFC 8037, A.3)", got, err)
	}
}

func TestIssue_TokenComesBackAsTheSameCaller(t *testing.T) {
	t.Parallel()
	keys := generate(t)
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[a-z][a-z0-9-]{0,30}`)
		want := firm.Caller{
			Business: firm.BusinessID(name.Draw(t, "business")), Subject: name.Draw(t, "subject"),
			Role: rapid.SampledFrom([]firm.Role{firm.Office, firm.Technician, firm.Integration}).Draw(t, "role"),
		}
		if want.Role == firm.Technician {
			want.Technician = scheduler.TechnicianID(name.Draw(t, "technician"))
		}
		want.ResponsibleApplicator = want.Role != firm.Integration && rapid.Bool().Draw(t, "applicator")
		token, err := keys.Issue(want, time.Minute)
		if err != nil {
			t.Fatal(err)
		}
		got, err := keys.Verify(token, time.Now())
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("caller changed (-issued +verified):\n%s", diff)
		}
	})
}

func TestIssue_RefusesACallerThatCannotBe(t *testing.T) {
	t.Parallel()
	keys := generate(t)
	tests := []struct {
		name   string
		caller firm.Caller
		life   time.Duration
		want   string
	}{
		{"no business", firm.Caller{Subject: "a", Role: firm.Office}, time.Hour, "no business"},
		{"no subject", firm.Caller{Business: "demo", Role: firm.Office}, time.Hour, "no subject"},
		{"unknown role", firm.Caller{Business: "demo", Subject: "a", Role: "root"}, time.Hour, `role "root"`},
		{"technician without a name", firm.Caller{Business: "demo", Subject: "a", Role: firm.Technician}, time.Hour, "names the technician"},
		{"office that names a technician", firm.Caller{Business: "demo", Subject: "a", Role: firm.Office, Technician: "t"}, time.Hour, "names the technician"},
		{"integration that would approve", firm.Caller{Business: "demo", Subject: "a", Role: firm.Integration, ResponsibleApplicator: true}, time.Hour, "must be a person"},
		{"no life", office, 0, "a life of 0s"},
		{"too long a life", office, identity.LifeMax + time.Second, "a life of"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if _, err := keys.Issue(tt.caller, tt.life); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("Issue = %v, want an error that says %q", err, tt.want)
			}
		})
	}
}

func TestVerify_EachWrongTokenHasItsReason(t *testing.T) {
	t.Parallel()
	now := time.Unix(1_800_000_000, 0)
	key := rfcKey(t)
	id, err := identity.KeyID(key.Public().(ed25519.PublicKey))
	if err != nil {
		t.Fatal(err)
	}
	keys, err := identity.ParseKeys(pemOf(t, key))
	if err != nil {
		t.Fatal(err)
	}
	with := func(change func(jwt.MapClaims)) string {
		claims := jwt.MapClaims{"iss": "vernation", "aud": "vernation", "sub": "office-1", "exp": now.Unix() + 60,
			"business": "demo", "role": "office"}
		change(claims)
		return sign(t, key, id, claims)
	}
	good := with(func(jwt.MapClaims) {})
	if _, err := keys.Verify(good, now); err != nil {
		t.Fatalf("the unchanged token is refused: %v", err)
	}
	other := generate(t)
	foreign, err := other.Issue(office, time.Hour)
	if err != nil {
		t.Fatal(err)
	}
	none, err := jwt.NewWithClaims(jwt.SigningMethodNone, jwt.MapClaims{"sub": "office-1"}).SignedString(jwt.UnsafeAllowNoneSignatureType)
	if err != nil {
		t.Fatal(err)
	}
	// The public key used as the secret of a symmetric method: RFC 8725, section 2.1.
	confused := jwt.NewWithClaims(jwt.SigningMethodHS256, jwt.MapClaims{"iss": "vernation", "aud": "vernation", "exp": now.Unix() + 60})
	confused.Header["kid"] = id
	symmetric, err := confused.SignedString([]byte(key.Public().(ed25519.PublicKey)))
	if err != nil {
		t.Fatal(err)
	}
	head, rest, _ := strings.Cut(good, ".")
	body, signature, _ := strings.Cut(rest, ".")
	changed := base64.RawURLEncoding.EncodeToString([]byte(`{"iss":"vernation","aud":"vernation","sub":"x","exp":1900000000,"business":"other","role":"office"}`))

	tests := []struct{ name, token, want string }{
		{"empty", "", identity.ReasonMissing},
		{"text", "let me in", identity.ReasonMalformed},
		{"two parts", head + "." + body, identity.ReasonMalformed},
		{"too long", good + strings.Repeat("a", 5000), identity.ReasonMalformed},
		{"other key", foreign, identity.ReasonSignature},
		{"method none", none, identity.ReasonSignature},
		{"symmetric method with the public key", symmetric, identity.ReasonSignature},
		{"changed body", head + "." + changed + "." + signature, identity.ReasonSignature},
		{"expired", with(func(c jwt.MapClaims) { c["exp"] = now.Unix() - 1 }), identity.ReasonExpired},
		{"expires this second", with(func(c jwt.MapClaims) { c["exp"] = now.Unix() }), identity.ReasonExpired},
		{"not yet", with(func(c jwt.MapClaims) { c["nbf"] = now.Unix() + 30 }), identity.ReasonExpired},
		{"never expires", with(func(c jwt.MapClaims) { delete(c, "exp") }), identity.ReasonMalformed},
		{"other audience", with(func(c jwt.MapClaims) { c["aud"] = "elsewhere" }), identity.ReasonAudience},
		{"other issuer", with(func(c jwt.MapClaims) { c["iss"] = "elsewhere" }), identity.ReasonAudience},
		{"no business", with(func(c jwt.MapClaims) { delete(c, "business") }), identity.ReasonMalformed},
		{"unknown role", with(func(c jwt.MapClaims) { c["role"] = "root" }), identity.ReasonMalformed},
		{"technician without a name", with(func(c jwt.MapClaims) { c["role"] = "technician" }), identity.ReasonMalformed},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			caller, err := keys.Verify(tt.token, now)
			f := fault.Of(err)
			if err == nil || f.Kind != fault.Anonymous || f.Reason != tt.want {
				t.Errorf("Verify = %+v, %v; want an Anonymous fault %s", caller, err, tt.want)
			}
			if caller != (firm.Caller{}) {
				t.Errorf("a refused token names a caller: %+v", caller)
			}
		})
	}
}

func TestKeys_RotationTrustsTheOldKeyAndSignsWithTheNew(t *testing.T) {
	t.Parallel()
	oldKey, newKey := rfcKey(t), ed25519.NewKeyFromSeed([]byte(strings.Repeat("n", 32)))
	before, err := identity.ParseKeys(pemOf(t, oldKey))
	if err != nil {
		t.Fatal(err)
	}
	after, err := identity.ParseKeys(append(pemOf(t, newKey), pemOf(t, oldKey.Public())...))
	if err != nil {
		t.Fatal(err)
	}
	token, err := before.Issue(office, time.Hour)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := after.Verify(token, time.Now()); err != nil {
		t.Errorf("a token of the old key no longer counts: %v", err)
	}
	if id, err := identity.KeyID(newKey.Public()); err != nil || after.ID() != id {
		t.Errorf("the first private key does not sign: %s", after.ID())
	}
	token, err = after.Issue(office, time.Hour)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := before.Verify(token, time.Now()); fault.Of(err).Reason != identity.ReasonSignature {
		t.Errorf("the old file trusts the new key: %v", err)
	}
}

func TestKeys_PublicKeysAloneVerifyAndDoNotSign(t *testing.T) {
	t.Parallel()
	keys, err := identity.ParseKeys(pemOf(t, rfcKey(t).Public()))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := keys.Issue(office, time.Hour); err == nil || !strings.Contains(err.Error(), "public keys only") {
		t.Errorf("Issue = %v, want a refusal", err)
	}
}

func TestKeyFile_IsMadeOnceAndReadByItsOwnerOnly(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "key.pem")
	made, err := identity.LoadOrMakeKeys(path)
	if err != nil {
		t.Fatal(err)
	}
	again, err := identity.LoadOrMakeKeys(path)
	if err != nil {
		t.Fatal(err)
	}
	if made.ID() != again.ID() {
		t.Errorf("the key changed from %s to %s", made.ID(), again.ID())
	}
	if err := made.WriteNew(path); !errors.Is(err, fs.ErrExist) {
		t.Errorf("WriteNew over a file = %v, want fs.ErrExist", err)
	}
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := identity.LoadKeys(path); err == nil || !strings.Contains(err.Error(), "0600") {
		t.Errorf("LoadKeys of a file that all may read = %v, want a refusal that names mode 0600", err)
	}
}

func TestParseKeys_SaysWhatWouldBeRight(t *testing.T) {
	t.Parallel()
	good := pemOf(t, rfcKey(t))
	tests := []struct {
		name string
		text []byte
		want string
	}{
		{"empty", nil, "want a PEM block"},
		{"no PEM", []byte("secret"), "want PEM blocks only"},
		{"text behind", append(append([]byte{}, good...), "more"...), "want PEM blocks only"},
		{"a certificate", pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: []byte{1}}), "not CERTIFICATE"},
		{"torn", pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: []byte{1, 2}}), "PKCS#8"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if _, err := identity.ParseKeys(tt.text); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("ParseKeys = %v, want an error that says %q", err, tt.want)
			}
		})
	}
}

func FuzzVerify(f *testing.F) {
	keys := generate(f)
	good, err := keys.Issue(office, time.Hour)
	if err != nil {
		f.Fatal(err)
	}
	for _, seed := range []string{"", "a.b.c", good, good[:len(good)-1], strings.ToUpper(good), good + "."} {
		f.Add(seed)
	}
	// No text that the fuzzer can find speaks for anybody but the caller that a key of ours signed for.
	f.Fuzz(func(t *testing.T, token string) {
		caller, err := keys.Verify(token, time.Now())
		if err == nil && caller != office {
			t.Errorf("Verify(%q) = %+v", token, caller)
		}
		if err != nil && (fault.Of(err).Kind != fault.Anonymous || caller != (firm.Caller{})) {
			t.Errorf("Verify(%q) = %+v, %v; want an Anonymous fault and nobody", token, caller, err)
		}
	})
}
