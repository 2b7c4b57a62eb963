package schedule_test

import (
	"testing"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
)

// work is an item of one piece in an area that begins no earlier than an instant, by the technicians of some tours.
func work(area int32, begins, takes instance.Seconds, tours ...bool) instance.Item {
	piece := instance.Piece{Area: area, Takes: takes, Product: instance.None}
	leg := instance.Leg{Blocks: []instance.Block{{Class: instance.ClassWork, Area: area, Pieces: []instance.Piece{piece}}}, On: tours}
	return instance.Item{
		Ways: []instance.Way{{Legs: []instance.Leg{leg}, HeldIn: instance.None}},
		Due:  instance.Due{After: instance.None, Latest: instance.FarDay, Stands: instance.FarDay},
		Lo:   begins, Hi: instance.Far, EndBy: instance.Far,
	}
}

// Work from 23:50 to 00:20 may hold an application after midnight: one on the evening of that next day is no day apart.
func TestPut_DaysBetweenApplicationsCountFromAfterMidnight(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		takes instance.Seconds
		lies  bool
	}{{hour / 6, true}, {hour / 2, false}} {
		in := night()
		third := in.Shifts[1]
		third.Start, third.End = 44*hour, 47*hour
		in.Shifts = append(in.Shifts, third)
		begins := 24*hour - hour/6
		in.Items = []instance.Item{work(0, begins, tc.takes, false, true, false), work(0, 45*hour, hour/4, false, false, true)}
		bond := instance.Bond{Kind: instance.NeverClose, From: 0, To: 1, Days: 1}
		in.Items[0].Bonds, in.Items[1].Bonds = []instance.Bond{bond}, []instance.Bond{bond}
		in.Items[0].Hi = begins
		s := schedule.New(in)
		if !s.Put(schedule.Place{Item: 0, Tour: 1, New: true}) {
			t.Fatal("the first does not find its place")
		}
		if lies := s.Put(schedule.Place{Item: 1, Tour: 2, New: true}); lies != tc.lies {
			t.Errorf("after work of %d s from 23:50 on the second lies: %v, want %v", tc.takes, lies, tc.lies)
		}
	}
}

// One takes the break between two works at a site. Another may treat it just then where a second area is left to sit in.
func TestPut_NobodyShutsTheLastAreaOpenOverAnothersBreak(t *testing.T) {
	t.Parallel()
	for _, areas := range []int{1, 2} {
		in := night()
		in.BreakAfter = hour
		in.Shifts[0].BreakWindow, in.Shifts[0].BreakTakes = instance.Window{From: 10 * hour, To: 12 * hour}, hour/2
		in.Shifts[1].Start, in.Shifts[1].End = 8*hour, 16*hour
		if areas == 2 {
			in.Areas = append(in.Areas, instance.Area{Shuts: []int32{1}})
		}
		spray := work(0, 0, hour/12, false, true)
		spray.Ways[0].Legs[0].Blocks[0].Class = instance.ClassApplication
		piece := &spray.Ways[0].Legs[0].Blocks[0].Pieces[0]
		piece.Application, piece.KeepOut, piece.Unaired = true, hour/4, hour/4
		in.Items = []instance.Item{work(0, 8*hour, 2*hour, true, false), work(0, 8*hour, 2*hour, true, false), spray}
		in.Items[0].Hi = 8 * hour
		s := schedule.New(in)
		if !s.Put(schedule.Place{Item: 0, Tour: 0, New: true}) || !s.Put(schedule.Place{Item: 1, Tour: 0}) {
			t.Fatal("the works do not find their places")
		}
		pause := s.Tours[0].Walk.Break
		if pause.From <= s.Placed(0).Begins || pause.To > s.Placed(1).Begins {
			t.Fatalf("the break %+v lies not between the works %+v, %+v", pause, s.Placed(0), s.Placed(1))
		}
		in.Items[2].Lo, in.Items[2].Hi = pause.From, pause.From
		if lies := s.Put(schedule.Place{Item: 2, Tour: 1, New: true}); lies != (areas == 2) {
			t.Errorf("with %d areas the treatment in the break lies: %v", areas, lies)
		}
	}
}
