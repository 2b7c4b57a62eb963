package anneal_test

import (
	"os"
	"testing"

	"vernation/scheduler/internal/anneal"
	"vernation/scheduler/internal/vrptw"
)

func BenchmarkRound(b *testing.B) {
	f, err := os.Open(os.Getenv("INST"))
	if err != nil {
		b.Skip(err)
	}
	in, _ := vrptw.Read(f)
	c := in.Compile(vrptw.Dimacs, 0)
	s := anneal.New(c, anneal.Near(c, 100), anneal.Config{Seed: 1, Removed: 10, String: 10, Blink: 0.01, Out: 1 << 30})
	for b.Loop() {
		s.Round(30)
	}
}
