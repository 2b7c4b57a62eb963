package exchange_test

import (
	"bytes"
	"io"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/exchange"
	"vernation/scheduler/week"
)

// BenchmarkRead and BenchmarkWrite are of a middle week: 500 follow-ups, 1,500 services, some 330 places.
func BenchmarkRead(b *testing.B) {
	p, err := week.New(week.Middle, 1)
	if err != nil {
		b.Fatal(err)
	}
	var text bytes.Buffer
	if err := exchange.WriteProblem(&text, p, scheduler.Options{}); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		if _, _, err := exchange.ReadProblem(bytes.NewReader(text.Bytes())); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkWrite is the way back.
func BenchmarkWrite(b *testing.B) {
	p, err := week.New(week.Middle, 1)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if err := exchange.WriteProblem(io.Discard, p, scheduler.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
