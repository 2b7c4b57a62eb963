package feed_test

import (
	"bytes"
	"testing"

	"vernation/server/internal/feed"
)

// RFC 4231, section 4.8, test case 7 of HMAC-SHA-256: its data hold a full stop, so that they read as a time and a body.
func TestSignature_IsThatOfThePublishedTestCase(t *testing.T) {
	t.Parallel()
	key := bytes.Repeat([]byte{0xaa}, 131)
	got := feed.Signature(key, "This is a test using a larger than block-size key and a larger than block-size data",
		[]byte(" The key needs to be hashed before being used by the HMAC algorithm."))
	if want := "9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2"; got != want {
		t.Errorf("the signature is %s, want %s", got, want)
	}
}
