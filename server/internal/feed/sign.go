package feed

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"strconv"
	"strings"
	"time"

	"vernation/server/internal/firm"
)

// The headers of a delivery. A receiver computes HMAC-SHA256 (RFC 2104, FIPS 180-4) with its secret over the value of
// HeaderSentAt, a full stop and the body as it came, and takes the request when one of the hexadecimal values of
// HeaderSignature is equal and the time is not older than a few minutes.
const (
	HeaderDelivery  = "Vernation-Delivery"  // resource name; the same at each attempt
	HeaderAttempt   = "Vernation-Attempt"   // from 1
	HeaderSentAt    = "Vernation-Sent-At"   // seconds since 1970 in UTC
	HeaderSignature = "Vernation-Signature" // one value, two with a comma between them for a while after the secret was changed
)

// Signature signs a body that is sent at a time.
func Signature(secret []byte, sentAt string, body []byte) string {
	mac := hmac.New(sha256.New, secret)
	mac.Write([]byte(sentAt))
	mac.Write([]byte{'.'})
	mac.Write(body)
	return hex.EncodeToString(mac.Sum(nil))
}

// sign puts time and signatures into the headers of a request.
func sign(header http.Header, w firm.Webhook, now time.Time, body []byte) {
	sentAt := strconv.FormatInt(now.Unix(), 10)
	signatures := []string{Signature(w.Secret, sentAt, body)}
	if len(w.OldSecret) > 0 && now.Before(w.OldSecretUntil.Time()) {
		signatures = append(signatures, Signature(w.OldSecret, sentAt, body))
	}
	header.Set(HeaderSentAt, sentAt)
	header.Set(HeaderSignature, strings.Join(signatures, ", "))
}
