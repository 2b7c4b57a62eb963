package course

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
)

// Version returns the hash of what the course says, 64 hexadecimal digits, whatever the Key that it was computed
// under: two courses that say the same have one version.
func (c Course) Version() string {
	c.Key = ""
	text, err := json.Marshal(c)
	if err != nil {
		panic(fmt.Sprintf("course: the course of case %q is not writable as JSON: %v", c.Case, err))
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}
