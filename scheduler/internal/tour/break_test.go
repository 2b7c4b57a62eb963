package tour_test

import (
	"testing"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/tour"
)

// The day without a break begins at 8:00, where its mix can be made, and ends at 10:40: a break is due above two hours. With
// the break at 8:40 the mix is made behind it, and the whole day takes two hours: then no break is due, and a day with one is
// not lawful.
func TestWalk_NoBreakIsTakenWhereItMakesTheDayTooShortForOne(t *testing.T) {
	t.Parallel()
	const minute, hour = instance.Seconds(60), instance.Seconds(3600)
	window := func(from, to instance.Seconds) []instance.Window { return []instance.Window{{From: from, To: to}} }
	item := func(piece instance.Piece) instance.Item {
		return instance.Item{
			Ways: []instance.Way{{HeldIn: instance.None, Legs: []instance.Leg{{On: []bool{true}, Blocks: []instance.Block{{Pieces: []instance.Piece{piece}}}}}}},
			Due:  instance.Due{After: instance.None, Latest: instance.FarDay, Stands: instance.FarDay}, Hi: instance.Far, EndBy: instance.Far,
		}
	}
	in := &instance.Instance{
		Crew:  []instance.Technician{{Holds: [][]int64{{100}}, Vessels: 1}},
		Sites: []instance.Site{{Access: window(0, 24*hour), Midnights: []instance.Seconds{0, 24 * hour, 48 * hour}, WaterArea: 0, Usual: instance.None, UsualDay: -1}},
		Areas: []instance.Area{{Shuts: []int32{0}}, {Shuts: []int32{1}}},
		Items: []instance.Item{
			item(instance.Piece{Area: 1, Application: true, Takes: 5 * minute, Need: 10, Windows: window(8*hour, 9*hour+30*minute+1)}),
			item(instance.Piece{Area: 1, Takes: 5 * minute, Product: instance.None, Windows: window(10*hour+35*minute, 11*hour)}),
		},
		MixLife: []instance.Seconds{0}, Travel: [][]instance.Seconds{{0}}, Places: 1, Mixing: 10 * minute, BreakAfter: 2 * hour,
		Shifts: []instance.Shift{{
			Start: 8 * hour, End: 12 * hour, Departed: instance.Far, LastSite: instance.None, Busy: []bool{false},
			BreakWindow: instance.Window{From: 8*hour + 40*minute, To: 9 * hour}, BreakTakes: 20 * minute,
		}},
	}
	around := &tour.Around{Shut: make([][]tour.Stretch, 2), Present: make([][]tour.Stretch, 2), Placed: make([]tour.Times, 2), Breaks: make([][]tour.Stretch, 1)}
	for area := range around.Shut { // no mix is ready by 9:30
		around.Shut[area] = []tour.Stretch{{Window: instance.Window{From: 9*hour + 16*minute, To: 9*hour + 25*minute}, Tour: instance.None}}
	}
	walk, ok := tour.NewWalker(in, around).Walk(0, []tour.Stop{{Fixed: instance.None, Refs: []tour.Ref{{Item: 0}, {Item: 1}}}})
	if ok && walk.Break.From < walk.Break.To && walk.Work+walk.Break.To-walk.Break.From <= in.BreakAfter {
		t.Errorf("a break from %d to %d on a day of %d seconds of work, where none is due", walk.Break.From, walk.Break.To, walk.Work)
	}
}
