package course_test

import (
	"flag"
	"os"
	"testing"
)

// TestMain runs every property 200 times; -rapid.checks says otherwise.
func TestMain(m *testing.M) {
	if err := flag.Set("rapid.checks", "200"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}
