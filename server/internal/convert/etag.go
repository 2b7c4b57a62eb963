package convert

import (
	"strconv"
	"strings"
)

// Etag writes a version as a weak entity tag (RFC 9110, section 8.8.3): W/"7".
func Etag(version int64) string { return `W/"` + strconv.FormatInt(version, 10) + `"` }

// EtagFrom reads the version of an etag; ok is false for a text that is none of ours, which no version matches.
func EtagFrom(etag string) (version int64, ok bool) {
	digits, begins := strings.CutPrefix(etag, `W/"`)
	digits, ends := strings.CutSuffix(digits, `"`)
	version, err := strconv.ParseInt(digits, 10, 64)
	return version, begins && ends && err == nil && Etag(version) == etag
}

// VersionFrom reads the version that a change is held to: nil for an empty etag, which holds it to none, and one that
// nothing has for a text that is no etag of ours.
func VersionFrom(etag string) *int64 {
	if etag == "" {
		return nil
	}
	version, ok := EtagFrom(etag)
	if !ok {
		version = -1
	}
	return &version
}
