package load_test

import (
	"os"
	"testing"

	"vernation/server/internal/load"
)

func BenchmarkRead_DemoBusiness(b *testing.B) {
	text, err := os.ReadFile(demoFile)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := load.Read("demo.yaml", text); err != nil {
			b.Fatal(err)
		}
	}
}
