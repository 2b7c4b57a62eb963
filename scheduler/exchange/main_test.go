package exchange_test

import (
	"flag"
	"os"
	"testing"
)

// TestMain runs every property 5 times, since each draws a whole week; -rapid.checks says otherwise.
func TestMain(m *testing.M) {
	if err := flag.Set("rapid.checks", "5"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}
