package quantity_test

import (
	"flag"
	"math/big"
	"os"
	"testing"

	"vernation/scheduler/quantity"
)

// TestMain runs every property 200 times; -rapid.checks says otherwise.
func TestMain(m *testing.M) {
	if err := flag.Set("rapid.checks", "200"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

func volume(t testing.TB, text string) quantity.Volume {
	t.Helper()
	v, err := quantity.ParseVolume(text)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func number(t testing.TB, text string) *big.Rat {
	t.Helper()
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		t.Fatalf("%q is no number", text)
	}
	return r
}
