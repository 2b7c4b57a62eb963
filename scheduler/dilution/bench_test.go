package dilution_test

import (
	"testing"

	"vernation/scheduler/dilution"
)

func BenchmarkFill(b *testing.B) {
	limits, need := limitsOf(b, bti(b)), volume(b, "3300 mL")
	vessel, measures := sprayer(b, "128 US fl oz"), []dilution.Measure{cup(b, "1/8 US fl oz")}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := dilution.Fill(need, limits, vessel, measures); err != nil {
			b.Fatal(err)
		}
	}
}
