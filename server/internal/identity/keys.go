package identity

import (
	"bytes"
	"crypto"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/rand"
	_ "crypto/sha256" // of thumbprints
	"crypto/x509"
	"encoding/base64"
	"encoding/json"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"github.com/go-jose/go-jose/v4"
	"github.com/golang-jwt/jwt/v5"
)

// PEM block types, by RFC 7468: PKCS#8 private keys (section 10) and public keys (section 13).
const (
	privateBlock = "PRIVATE KEY"
	publicBlock  = "PUBLIC KEY"
)

// keyFileBytesMax bounds a key file: some hundred keys.
const keyFileBytesMax = 64 << 10

// Keys are the key that signs tokens and those that are trusted. They never change once made; what they remember of
// tokens changes no answer.
type Keys struct {
	signing crypto.Signer // nil in a file of public keys: such a server verifies only
	id      string        // of the signing key
	trusted map[string]crypto.PublicKey
	expects Expects
	seen    *verified
}

// GenerateKeys makes one new signing key, of Ed25519, from the machine's randomness.
func GenerateKeys() (*Keys, error) {
	public, private, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("generate signing key: %w", err)
	}
	id, err := KeyID(public)
	if err != nil {
		return nil, err
	}
	return &Keys{signing: private, id: id, trusted: map[string]crypto.PublicKey{id: public}, seen: newVerified()}, nil
}

// KeyID names a public key by its JSON Web Key thumbprint (RFC 7638; the members of an Ed25519 key by RFC 8037). It
// refuses what is no Ed25519 or P-256 key.
func KeyID(public crypto.PublicKey) (string, error) {
	if _, err := algorithmOf(public); err != nil {
		return "", err
	}
	key := jose.JSONWebKey{Key: public}
	sum, err := key.Thumbprint(crypto.SHA256)
	if err != nil {
		return "", fmt.Errorf("name the key: %w", err)
	}
	return base64.RawURLEncoding.EncodeToString(sum), nil
}

// algorithmOf is the one algorithm that a key signs with (RFC 8037, section 3.1; RFC 7518, section 3.4).
func algorithmOf(public crypto.PublicKey) (jwt.SigningMethod, error) {
	switch key := public.(type) {
	case ed25519.PublicKey:
		return jwt.SigningMethodEdDSA, nil
	case *ecdsa.PublicKey:
		if key.Curve == elliptic.P256() {
			return jwt.SigningMethodES256, nil
		}
		return nil, fmt.Errorf("want an Ed25519 or P-256 key, not one of %s", key.Params().Name)
	}
	return nil, fmt.Errorf("want an Ed25519 or P-256 key, not %T", public)
}

// LoadKeys reads a file of keys: PEM, or a JSON Web Key Set (RFC 7517, section 5) of public keys. A file that others than its owner may read is refused when it holds a private key.
func LoadKeys(path string) (*Keys, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("key file: %w", err)
	}
	if info.Size() > keyFileBytesMax {
		return nil, fmt.Errorf("key file %s: %d bytes; want a file of at most %d", path, info.Size(), keyFileBytesMax)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("key file: %w", err)
	}
	keys, err := ParseKeys(text)
	if err != nil {
		return nil, fmt.Errorf("key file %s: %w", path, err)
	}
	if keys.Signs() && info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("key file %s: others may read its private key; want mode 0600, not %04o", path, info.Mode().Perm())
	}
	return keys, nil
}

// ParseKeys reads a key file: a JSON Web Key Set, or PEM blocks of which the first private key signs. All are trusted.
func ParseKeys(text []byte) (*Keys, error) {
	keys := &Keys{trusted: map[string]crypto.PublicKey{}, seen: newVerified()}
	if bytes.HasPrefix(bytes.TrimSpace(text), []byte("{")) {
		return keys, keys.trustSet(text)
	}
	for number := 1; ; number++ {
		block, rest := pem.Decode(text)
		if block == nil {
			break
		}
		if err := keys.trustBlock(block); err != nil {
			return nil, fmt.Errorf("PEM block %d: %w", number, err)
		}
		text = rest
	}
	if len(bytes.TrimSpace(text)) > 0 {
		return nil, errors.New("there is text after the last PEM block; want PEM blocks only")
	}
	if len(keys.trusted) == 0 {
		return nil, errors.New("no key; want a PEM block of an Ed25519 or P-256 key, or a JSON Web Key Set")
	}
	return keys, nil
}

// trustSet adds the keys of a JSON Web Key Set. Each has an id, by which tokens name it; keys of other kinds, or for
// something else than signatures, are passed over.
func (k *Keys) trustSet(text []byte) error {
	var set jose.JSONWebKeySet
	if err := json.Unmarshal(text, &set); err != nil {
		return fmt.Errorf("want a JSON Web Key Set: %w", err)
	}
	for i, key := range set.Keys {
		if !key.IsPublic() {
			return fmt.Errorf("key %d of the set is private: want public keys only, for the set is for those who verify", i+1)
		}
		method, err := algorithmOf(key.Key)
		if err != nil || key.Use != "" && key.Use != "sig" {
			continue
		}
		switch {
		case key.Algorithm != "" && key.Algorithm != method.Alg():
			return fmt.Errorf("key %d of the set: its alg is %q; want %s", i+1, key.Algorithm, method.Alg())
		case key.KeyID == "":
			return fmt.Errorf("key %d of the set has no kid: want one, by which tokens name it", i+1)
		case k.trusted[key.KeyID] != nil:
			return fmt.Errorf("key %d of the set: the kid %q is there twice", i+1, key.KeyID)
		}
		k.trusted[key.KeyID] = key.Key
	}
	if len(k.trusted) == 0 {
		return errors.New("the set has no key for signatures: want an Ed25519 or P-256 key")
	}
	return nil
}

// trustBlock adds the key of one PEM block; it signs if it is the first private one.
func (k *Keys) trustBlock(block *pem.Block) error {
	var public crypto.PublicKey
	var private crypto.Signer
	switch block.Type {
	case privateBlock:
		parsed, err := x509.ParsePKCS8PrivateKey(block.Bytes)
		if err != nil {
			return fmt.Errorf("want a private key as PKCS#8: %w", err)
		}
		signer, ok := parsed.(crypto.Signer)
		if !ok {
			return fmt.Errorf("want an Ed25519 or P-256 key, not %T", parsed)
		}
		private, public = signer, signer.Public()
	case publicBlock:
		parsed, err := x509.ParsePKIXPublicKey(block.Bytes)
		if err != nil {
			return fmt.Errorf("want a public key as PKIX: %w", err)
		}
		public = parsed
	default:
		return fmt.Errorf("want %s or %s, not %s", privateBlock, publicBlock, block.Type)
	}
	id, err := KeyID(public)
	if err != nil {
		return err
	}
	k.trusted[id] = public
	if private != nil && k.signing == nil {
		k.signing, k.id = private, id
	}
	return nil
}

// Signs says whether there is a private key to sign with.
func (k *Keys) Signs() bool { return k.signing != nil }

// ID names the signing key, "" when there is none.
func (k *Keys) ID() string { return k.id }

// WriteNew writes the signing key into a new file that only its owner may read. An existing file is never
// overwritten: the error then is fs.ErrExist.
func (k *Keys) WriteNew(path string) error {
	if !k.Signs() {
		return errors.New("write key file: there is no private key")
	}
	der, err := x509.MarshalPKCS8PrivateKey(k.signing)
	if err != nil {
		return fmt.Errorf("write key file: %w", err)
	}
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("write key file: %w", err)
	}
	err = pem.Encode(file, &pem.Block{Type: privateBlock, Bytes: der})
	return errors.Join(err, file.Close())
}

// LoadOrMakeKeys reads a key file and makes it first when there is none.
func LoadOrMakeKeys(path string) (*Keys, error) {
	keys, err := LoadKeys(path)
	if !errors.Is(err, fs.ErrNotExist) {
		return keys, err
	}
	if keys, err = GenerateKeys(); err != nil {
		return nil, err
	}
	return keys, keys.WriteNew(path)
}
