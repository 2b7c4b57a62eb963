package identity

import (
	"bytes"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// PEM block types, by RFC 7468: PKCS#8 private keys (section 10) and public keys (section 13).
const (
	privateBlock = "PRIVATE KEY"
	publicBlock  = "PUBLIC KEY"
)

// keyFileBytesMax bounds a key file: some hundred keys.
const keyFileBytesMax = 64 << 10

// Keys are the key that signs tokens and those that are trusted. They never change once made.
type Keys struct {
	signing ed25519.PrivateKey // nil in a file of public keys: such a server verifies only
	id      string             // of the signing key
	trusted map[string]ed25519.PublicKey
}

// GenerateKeys makes one new signing key from the machine's randomness.
func GenerateKeys() (*Keys, error) {
	public, private, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("generate signing key: %w", err)
	}
	id := KeyID(public)
	return &Keys{signing: private, id: id, trusted: map[string]ed25519.PublicKey{id: public}}, nil
}

// KeyID names a public key by its JSON Web Key thumbprint (RFC 7638; the members of an Ed25519 key by RFC 8037).
func KeyID(public ed25519.PublicKey) string {
	members := fmt.Sprintf(`{"crv":"Ed25519","kty":"OKP","x":"%s"}`, base64.RawURLEncoding.EncodeToString(public))
	sum := sha256.Sum256([]byte(members))
	return base64.RawURLEncoding.EncodeToString(sum[:])
}

// LoadKeys reads a PEM file of keys. A file that others than its owner may read is refused when it holds a private key.
func LoadKeys(path string) (*Keys, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("key file: %w", err)
	}
	if info.Size() > keyFileBytesMax {
		return nil, fmt.Errorf("key file %s: %d bytes; want a PEM file of at most %d", path, info.Size(), keyFileBytesMax)
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

// ParseKeys reads the PEM blocks of a key file; the first private key signs, all are trusted.
func ParseKeys(text []byte) (*Keys, error) {
	keys := &Keys{trusted: map[string]ed25519.PublicKey{}}
	for number := 1; ; number++ {
		block, rest := pem.Decode(text)
		if block == nil {
			break
		}
		if err := keys.trust(block); err != nil {
			return nil, fmt.Errorf("PEM block %d: %w", number, err)
		}
		text = rest
	}
	if len(bytes.TrimSpace(text)) > 0 {
		return nil, errors.New("there is text after the last PEM block; want PEM blocks only")
	}
	if len(keys.trusted) == 0 {
		return nil, errors.New("no key; want a PEM block of an Ed25519 key")
	}
	return keys, nil
}

// trust adds the key of one block; it signs if it is the first private one.
func (k *Keys) trust(block *pem.Block) error {
	switch block.Type {
	case privateBlock:
		parsed, err := x509.ParsePKCS8PrivateKey(block.Bytes)
		if err != nil {
			return fmt.Errorf("want a private key as PKCS#8: %w", err)
		}
		private, ok := parsed.(ed25519.PrivateKey)
		if !ok {
			return fmt.Errorf("want an Ed25519 key, not %T", parsed)
		}
		public := private.Public().(ed25519.PublicKey)
		id := KeyID(public)
		k.trusted[id] = public
		if k.signing == nil {
			k.signing, k.id = private, id
		}
	case publicBlock:
		parsed, err := x509.ParsePKIXPublicKey(block.Bytes)
		if err != nil {
			return fmt.Errorf("want a public key as PKIX: %w", err)
		}
		public, ok := parsed.(ed25519.PublicKey)
		if !ok {
			return fmt.Errorf("want an Ed25519 key, not %T", parsed)
		}
		k.trusted[KeyID(public)] = public
	default:
		return fmt.Errorf("want %s or %s, not %s", privateBlock, publicBlock, block.Type)
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
