package bound_test

import (
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/internal/bound"
	"vernation/scheduler/internal/instance"
)

// Whatever the drives, there and back of different length and no triangle kept: the parts of any two places come to no more than
// the drive between them, none is negative, and together they come to no less than halves of the least drives.
func TestParted_PartsComeToNoMoreThanTheDrive(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int32Range(1, 7).Draw(t, "places")
		takes := rapid.SliceOfN(rapid.Int32Range(0, 60), int(n*n), int(n*n)).Draw(t, "half minutes")
		between := func(from, to int32) instance.Seconds { return instance.Seconds(takes[from*n+to]) }
		var places []int32
		for place := range n {
			places = append(places, place)
		}
		in, out := bound.Parted(n, places, between)
		parts, halves := instance.Seconds(0), instance.Seconds(0)
		for i := range n {
			leastIn, leastOut := instance.Far, instance.Far
			for j := range n {
				if i == j {
					continue
				}
				if out[i]+in[j] > between(i, j) || in[i] < 0 || out[i] < 0 {
					t.Errorf("from %d to %d: parts %d and %d of a drive of %d", i, j, out[i], in[j], between(i, j))
				}
				leastIn, leastOut = min(leastIn, between(j, i)), min(leastOut, between(i, j))
			}
			if n > 1 {
				parts, halves = parts+in[i]+out[i], halves+leastIn/2+leastOut/2
			}
		}
		if parts < halves {
			t.Errorf("the parts come to %d, half of the least drives to %d", parts, halves)
		}
	})
}
