package bound_test

import (
	"testing"

	"vernation/scheduler/internal/bound"
	"vernation/scheduler/internal/instance"
)

// Two technicians at 75 and 45 a minute; the work takes 20 minutes.
func work(on ...bool) []instance.Way {
	piece := instance.Piece{Takes: 1200, Product: instance.None}
	return []instance.Way{{Legs: []instance.Leg{{On: on, Blocks: []instance.Block{{Pieces: []instance.Piece{piece}}}}}}}
}

func TestOf_TakesTheCheapestLawfulWayOrLeavesOut(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		item instance.Item
		want instance.Cost
	}{
		{"the cheaper technician does it: 20 x 45", instance.Item{Ways: work(true, true), LeftOut: 9_000, Deferred: 9_000}, 900},
		{"only the dearer one may: 20 x 75", instance.Item{Ways: work(true, false), LeftOut: 9_000, Deferred: 9_000}, 1_500},
		{"leaving it out is cheaper", instance.Item{Ways: work(true, true), LeftOut: 300, Deferred: 9_000}, 300},
		{"nobody may: deferring, with its first price", instance.Item{Ways: work(false, false), LeftOut: 9_000, Deferred: 500, Price: []instance.Cost{40, 90}}, 540},
		{"a price of its first day adds to the pay", instance.Item{Ways: work(true, true), LeftOut: 9_000, Deferred: 9_000, Price: []instance.Cost{40}}, 940},
		{"what lies past the horizon is not asked for", instance.Item{Ways: work(true, true), LeftOut: 9_000, Outside: true}, 0},
	} {
		in := &instance.Instance{
			Crew:   []instance.Technician{{PaidPerMinute: 75}, {PaidPerMinute: 45}},
			Shifts: []instance.Shift{{Technician: 0}, {Technician: 1}},
			Items:  []instance.Item{c.item},
		}
		if got := bound.Of(in); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}
