package schedule_test

import (
	"testing"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
)

const hour = instance.Seconds(3600)

// night is two technicians at one site without travel: a day shift, and one from 20:00 to 06:00. A service of two plants is
// of the day, and a follow-up of the night takes the first of them out of it where both are on one day. Another
// follow-up is of the night too, among cleaner plants, and so comes first.
func night() *instance.Instance {
	work := func(rank int8, begins, takes instance.Seconds, tours ...bool) instance.Item {
		piece := instance.Piece{Takes: takes, Product: instance.None}
		leg := instance.Leg{Blocks: []instance.Block{{Rank: rank, Class: instance.ClassWork, Pieces: []instance.Piece{piece}}}, On: tours}
		return instance.Item{
			Ways: []instance.Way{{Legs: []instance.Leg{leg}, HeldIn: instance.None}},
			Due:  instance.Due{After: instance.None, Latest: instance.FarDay, Stands: instance.FarDay},
			Lo:   begins, Hi: instance.Far, EndBy: instance.Far,
		}
	}
	shift := func(technician int32, start, end instance.Seconds) instance.Shift {
		return instance.Shift{Technician: technician, Start: start, End: end, Departed: instance.Far, LastSite: instance.None}
	}
	in := &instance.Instance{
		Shifts: []instance.Shift{shift(0, 8*hour, 16*hour), shift(1, 20*hour, 30*hour)},
		Crew:   []instance.Technician{{}, {}},
		Sites: []instance.Site{{
			Place: 1, Access: []instance.Window{{From: -24 * hour, To: 72 * hour}}, WaterArea: instance.None, Usual: instance.None, UsualDay: -1,
			Midnights: []instance.Seconds{-24 * hour, 0, 24 * hour, 48 * hour}, FirstMidnight: -1,
		}},
		Areas:  []instance.Area{{Shuts: []int32{0}}},
		Plants: []instance.Plant{{Count: 1, DryFrom: instance.FarDay, DryLag: instance.FarDay}, {Count: 1, DryFrom: instance.FarDay, DryLag: instance.FarDay}},
		Travel: [][]instance.Seconds{{0, 0, 0, 0}, {0, 0, 0, 0}}, Places: 2,
		LastDay: 1, BreakAfter: instance.Far,
	}
	service := work(instance.RankClean, 0, hour, true, false)
	service.Service = true
	service.Ways[0].Legs[0].Blocks[0].Pieces[0].Groups = []instance.Group{{Plant: 0, Takes: hour / 2, ReplacedBy: []int32{1}}, {Plant: 1, Takes: hour / 2}}
	in.Items = []instance.Item{service, work(instance.RankConfirmed, 23*hour, hour/4, false, true), work(instance.RankClean, 23*hour, hour, false, true)}
	bond := instance.Bond{Kind: instance.Replaces, From: 1, To: 0}
	in.Items[0].Bonds, in.Items[1].Bonds = []instance.Bond{bond}, []instance.Bond{bond}
	return in
}

func TestPut_NothingPushesAFollowUpOffTheDayOfTheServiceItTakesPlantsFrom(t *testing.T) {
	t.Parallel()
	s := schedule.New(night())
	if !s.Put(schedule.Place{Item: 1, Tour: 1, New: true}) || !s.Put(schedule.Place{Item: 0, Tour: 0, New: true}) {
		t.Fatal("the follow-up before midnight and the service of that day do not find their places")
	}
	if service := s.Placed(0); service.Ends-service.Begins != hour/2 {
		t.Fatalf("the service takes %d s: want half an hour, for one of its plants is replaced that day", service.Ends-service.Begins)
	}
	// From 23:00 to 24:00 before it: the follow-up would begin at 24:00, a day after the service that counts on it.
	if s.Put(schedule.Place{Item: 2, Tour: 1}) {
		t.Errorf("the follow-up was pushed to %d s and the service still takes %d s", s.Placed(1).Begins, s.Placed(0).Ends-s.Placed(0).Begins)
	}
}

func TestPut_AFollowUpMayPassMidnightWhereNoServiceCountsOnIt(t *testing.T) {
	t.Parallel()
	s := schedule.New(night())
	if !s.Put(schedule.Place{Item: 1, Tour: 1, New: true}) || !s.Put(schedule.Place{Item: 2, Tour: 1}) {
		t.Fatal("want both: the service is not planned")
	}
	if begins := s.Placed(1).Begins; begins < 24*hour {
		t.Errorf("it begins at %d s: want it after the other, from midnight on", begins)
	}
}
