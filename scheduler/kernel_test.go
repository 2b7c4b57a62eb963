package scheduler_test

import (
	"cmp"
	"math"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/schedule"
	"vernation/scheduler/internal/tour"
	"vernation/scheduler/quantity"
)

// The kernel on the numbers of drawn Problems, with all that rules forbid in them.

// drawState draws a Problem and puts some of its items in, wherever the first place is that is lawful.
func drawState(t *rapid.T) *schedule.State {
	rates := roundRates()
	rates.UnevenMinute.Amount = quantity.Money(rapid.IntRange(0, 5).Draw(t, "uneven minute"))
	ready, err := scheduler.Prepare(drawProblem(t), rates)
	if err != nil {
		t.Fatal(err)
	}
	s := schedule.New(ready.InstanceForTest())
	for range 2 {
		for item := range s.In.Items {
			if rapid.IntRange(0, 3).Draw(t, "leave out") > 0 {
				put(t, s, int32(item))
			}
		}
	}
	return s
}

// put puts an item into some place of those that are lawful, with its carry back or not at all.
func put(t *rapid.T, s *schedule.State, item int32) bool {
	if s.Placed(item).Placed || s.In.Items[item].Outside || waits(s, item) {
		return false
	}
	var lawful []schedule.Place
	for way := range s.In.Items[item].Ways {
		for _, p := range anywhere(s, item, int16(way), 0) {
			if _, ok := s.Try(p); ok {
				lawful = append(lawful, p)
			}
		}
	}
	if len(lawful) == 0 {
		return false
	}
	p := lawful[rapid.IntRange(0, len(lawful)-1).Draw(t, "place")]
	was := s.Snapshot()
	s.Put(p)
	if len(s.In.Items[item].Ways[p.Way].Legs) == 1 {
		return true
	}
	for _, back := range anywhere(s, item, p.Way, 1) {
		if s.Put(back) {
			return true
		}
	}
	s.Restore(was)
	return false
}

// waits says whether something that an item needs is not planned.
func waits(s *schedule.State, item int32) bool {
	for _, before := range s.In.Items[item].Before {
		if before.Hard && !s.Placed(before.Item).Placed {
			return true
		}
	}
	return false
}

// anywhere lists the places of a leg on all days on which its technician may do it: each visit of its site that may move,
// and a new one between any two that are not of it.
func anywhere(s *schedule.State, item int32, way, leg int16) []schedule.Place {
	var places []schedule.Place
	site := s.In.Items[item].Site
	for t := range s.Tours {
		if s.Tours[t].Frozen || !s.In.Items[item].Ways[way].Legs[leg].On[t] {
			continue
		}
		stops := s.Tours[t].Stops
		before := s.In.Shifts[t].LastSite
		for at := 0; at <= len(stops); at++ {
			p := schedule.Place{Item: item, Way: way, Leg: leg, Tour: int32(t), Stop: int32(at)}
			here := instance.None
			if at < len(stops) {
				here = stops[at].Site
			}
			if here == site && stops[at].Fixed == instance.None {
				places = append(places, p)
			}
			if here != site && before != site {
				p.New = true
				places = append(places, p)
			}
			before = here
		}
	}
	return places
}

func TestSieve_DropsNoLawfulPlaceAndNeverBoundsAboveWhatAWalkAdds(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawState(t)
		sieve := schedule.NewSieve(s)
		for i := range s.In.Items {
			item := int32(i)
			if s.Placed(item).Placed || s.In.Items[item].Outside || waits(s, item) {
				continue
			}
			for w := range s.In.Items[item].Ways {
				way := int16(w)
				sieved(t, s, sieve, item, way, 0)
				if len(s.In.Items[item].Ways[way].Legs) == 1 {
					continue
				}
				was := s.Snapshot()
				for _, out := range anywhere(s, item, way, 0) {
					if s.Put(out) {
						sieved(t, s, sieve, item, way, 1)
						s.Restore(was)
					}
				}
			}
		}
	})
}

// sieved holds the sieve's answers for a leg against walks of all places.
func sieved(t *rapid.T, s *schedule.State, sieve *schedule.Sieve, item int32, way, leg int16) {
	type key struct {
		tour, stop int32
		isNew      bool
	}
	left := map[key]instance.Cost{}
	for tr := range s.Tours {
		for _, p := range sieve.Append(nil, item, way, leg, int32(tr), math.MaxInt64) {
			left[key{p.Tour, p.Stop, p.New}] = p.Added
		}
	}
	for _, p := range anywhere(s, item, way, leg) {
		adds, ok := s.Try(p)
		if !ok {
			continue
		}
		bound, passed := left[key{p.Tour, p.Stop, p.New}]
		switch {
		case !passed:
			t.Errorf("item %d, way %d, leg %d may lie in tour %d at stop %d (new: %v), which the sieve dropped", item, way, leg, p.Tour, p.Stop, p.New)
		case bound > adds:
			t.Errorf("item %d, way %d, leg %d in tour %d at stop %d (new: %v) adds %d, the sieve says %d at least", item, way, leg, p.Tour, p.Stop, p.New, adds, bound)
		case hasPlace(sieve.Append(nil, item, way, leg, p.Tour, bound), p):
			t.Errorf("item %d: a place that adds %d at least passes under a limit of as much", item, bound)
		}
	}
}

func hasPlace(places []schedule.Place, p schedule.Place) bool {
	for _, q := range places {
		if q.Tour == p.Tour && q.Stop == p.Stop && q.New == p.New {
			return true
		}
	}
	return false
}

// same compares all of a state that anything asks for; the stretches of an area come in any order.
var same = gocmp.Options{
	gocmp.AllowUnexported(schedule.State{}, tour.Walk{}, tour.Mix{}),
	cmpopts.IgnoreFields(schedule.State{}, "In", "walker", "scratch", "tried", "changes", "epoch", "kept", "journal", "worked", "busy", "removed", "out", "days", "towards"),
	cmpopts.EquateEmpty(),
	cmpopts.SortSlices(func(a, b tour.Stretch) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To), cmp.Compare(a.Tour, b.Tour))
	}),
}

func TestUndo_RestoresAStateExactly(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawState(t)
		was, cost := s.With(s.In), s.Planned()
		for range rapid.IntRange(1, 3).Draw(t, "rounds") {
			s.Begin()
			changed := false
			for range rapid.IntRange(1, 3).Draw(t, "changes") {
				if len(s.In.Items) == 0 {
					break
				}
				item := int32(rapid.IntRange(0, len(s.In.Items)-1).Draw(t, "item"))
				if s.Placed(item).Placed {
					changed = len(s.Remove([]int32{item})) > 0 || changed
				} else {
					changed = put(t, s, item) || changed
				}
			}
			s.Undo()
			if diff := gocmp.Diff(was, s, same); diff != "" {
				t.Fatalf("after Undo the state is another (-was +is, changed: %v):\n%s", changed, diff)
			}
			if s.Planned() != cost {
				t.Errorf("after Undo the day routes cost %d, before it %d", s.Planned(), cost)
			}
		}
	})
}
