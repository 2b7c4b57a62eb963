package route_test

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler/internal/route"
)

// drawn draws an instance: a few stops with one to three windows, vehicles of different kinds, two profiles, travel that is longer
// uphill than downhill (times keep the triangle inequality, costs are anything).
func drawn(t *rapid.T) *route.Instance {
	small := rapid.Int32Range(0, 9)
	in := &route.Instance{Places: rapid.Int32Range(2, 7).Draw(t, "places")}
	for profile := range int32(2) {
		var x, y []int32
		for range in.Places {
			x, y = append(x, small.Draw(t, "x")), append(y, small.Draw(t, "y"))
		}
		var time, cost []int32
		for i := range in.Places {
			for j := range in.Places {
				up, down := max(0, x[j]-x[i]), max(0, x[i]-x[j])
				time = append(time, 2*up+down+max(y[j]-y[i], y[i]-y[j])+profile*min(1, up))
				cost = append(cost, rapid.Int32Range(0, 30).Draw(t, "cost"))
			}
		}
		in.Time, in.Cost = append(in.Time, time), append(in.Cost, cost)
	}
	for range rapid.IntRange(1, 8).Draw(t, "stops") {
		stop := route.Stop{Place: rapid.Int32Range(0, in.Places-1).Draw(t, "place"), Takes: small.Draw(t, "takes"), Load: rapid.Int32Range(0, 4).Draw(t, "load")}
		from := int32(0)
		for range rapid.IntRange(1, 3).Draw(t, "windows") {
			from += rapid.Int32Range(1, 25).Draw(t, "gap")
			to := from + rapid.Int32Range(0, 25).Draw(t, "open")
			stop.Windows = append(stop.Windows, route.Window{From: from, To: to})
			from = to + 1
		}
		in.Stops = append(in.Stops, stop)
	}
	for range rapid.IntRange(1, 4).Draw(t, "vehicles") {
		in.Vehicles = append(in.Vehicles, route.Vehicle{
			From: rapid.Int32Range(0, 1).Draw(t, "from"), Base: rapid.Int32Range(0, 1).Draw(t, "base"), Profile: rapid.Int32Range(0, 1).Draw(t, "profile"),
			Start: rapid.SampledFrom([]int32{0, 5}).Draw(t, "start"), End: rapid.SampledFrom([]int32{60, 100}).Draw(t, "end"),
			Capacity: rapid.SampledFrom([]int32{5, 12}).Draw(t, "capacity"), Opens: rapid.SampledFrom([]int64{0, 50}).Draw(t, "opens"),
		})
	}
	in.Ready()
	return in
}

// simulated walks a route from its beginning; it returns its cost, and whether every stop is begun in a window, the load fits and the
// base is reached in time. It reads the instance alone.
func simulated(in *route.Instance, v int32, stops []int32) (cost int64, holds bool) {
	if len(stops) == 0 {
		return 0, true
	}
	vehicle := in.Vehicles[v]
	at, now, load := vehicle.From, vehicle.Start, int32(0)
	cost = vehicle.Opens
	for _, s := range stops {
		stop := in.Stops[s]
		cost += int64(in.Cost[vehicle.Profile][at*in.Places+stop.Place])
		now += in.Time[vehicle.Profile][at*in.Places+stop.Place]
		open := slices.IndexFunc(stop.Windows, func(w route.Window) bool { return now <= w.To })
		if open < 0 {
			return cost, false
		}
		now = max(now, stop.Windows[open].From) + stop.Takes
		load += stop.Load
		at = stop.Place
	}
	cost += int64(in.Cost[vehicle.Profile][at*in.Places+vehicle.Base])
	now += in.Time[vehicle.Profile][at*in.Places+vehicle.Base]
	return cost, now <= vehicle.End && load <= vehicle.Capacity
}

// routes are all routes of a state, as its readers tell them.
func routes(s *route.State) [][]int32 {
	all := make([][]int32, len(s.In.Vehicles))
	for v := range all {
		all[v] = s.Stops([]int32{}, int32(v))
	}
	return all
}

// outside lists the stops without a place.
func outside(s *route.State) []int32 {
	var out []int32
	for stop := range s.In.Stops {
		if s.Of(int32(stop)) == route.None {
			out = append(out, int32(stop))
		}
	}
	return out
}

// change puts a stop in at its best place, or cuts a piece out of a route.
func change(t *rapid.T, s *route.State) {
	if out := outside(s); len(out) > 0 && rapid.IntRange(0, 3).Draw(t, "put") > 0 {
		stop := rapid.SampledFrom(out).Draw(t, "stop")
		if place := s.Best(stop); place.Vehicle != route.None {
			s.Put(stop, place.Vehicle, place.Position)
		}
		return
	}
	if len(s.Used()) == 0 {
		return
	}
	v := rapid.SampledFrom(slices.Sorted(slices.Values(s.Used()))).Draw(t, "vehicle")
	from := rapid.IntRange(0, s.Len(v)-1).Draw(t, "from")
	to := rapid.IntRange(from+1, s.Len(v)).Draw(t, "to")
	want := s.Stops(nil, v)[from:to]
	if got := s.Cut(nil, v, from, to); !slices.Equal(got, want) {
		t.Fatalf("cut [%d, %d) took out %v, want %v", from, to, got, want)
	}
}

// holds compares all that a state tells with its routes, walked from scratch.
func holds(t *rapid.T, s *route.State) {
	total, used := int64(0), 0
	for v, stops := range routes(s) {
		cost, ok := simulated(s.In, int32(v), stops)
		if !ok {
			t.Fatalf("route %d %v does not hold", v, stops)
		}
		total += cost
		if s.Len(int32(v)) != len(stops) || (len(stops) > 0) != slices.Contains(s.Used(), int32(v)) {
			t.Fatalf("route %d has %d stops, told are %d and in use %v", v, len(stops), s.Len(int32(v)), s.Used())
		}
		used += min(1, len(stops))
		for p, stop := range stops {
			if s.Of(stop) != int32(v) || s.At(stop) != int32(p) || s.StopAt(int32(v), p) != stop {
				t.Fatalf("stop %d stands in route %d at %d, told are %d and %d", stop, v, p, s.Of(stop), s.At(stop))
			}
		}
	}
	if s.Cost() != total || len(s.Used()) != used {
		t.Fatalf("cost %d with %d routes, told are %d and %v", total, used, s.Cost(), s.Used())
	}
}

// cheapest tries every place of every vehicle by walking the route that would be.
func cheapest(s *route.State, stop int32) (added int64, found bool) {
	added = math.MaxInt64
	for v, stops := range routes(s) {
		before, _ := simulated(s.In, int32(v), stops)
		for p := range len(stops) + 1 {
			if after, ok := simulated(s.In, int32(v), slices.Insert(slices.Clone(stops), p, stop)); ok {
				added, found = min(added, after-before), true
			}
		}
	}
	return added, found
}

func TestState_BestIsTheCheapestPlaceThatAWalkOfEveryRouteAllows(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := route.New(drawn(t))
		for range rapid.IntRange(1, 15).Draw(t, "changes") {
			change(t, s)
			holds(t, s)
			for _, stop := range outside(s) {
				place := s.Best(stop)
				want, found := cheapest(s, stop)
				if (place.Vehicle != route.None) != found || found && place.Added != want {
					t.Fatalf("stop %d goes to %+v; a walk of all places adds %d (one there is: %v)", stop, place, want, found)
				}
				if !found {
					continue
				}
				cost := s.Cost()
				s.Put(stop, place.Vehicle, place.Position)
				holds(t, s)
				if s.Cost() != cost+place.Added {
					t.Fatalf("the place adds %d, told was %d", s.Cost()-cost, place.Added)
				}
				at := int(s.At(stop))
				s.Cut(nil, place.Vehicle, at, at+1)
			}
		}
	})
}

func TestState_UndoRestoresWhatWasAtBegin(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := route.New(drawn(t))
		for range rapid.IntRange(1, 5).Draw(t, "rounds") {
			change(t, s)
			s.Begin()
			before, cost := routes(s), s.Cost()
			for range rapid.IntRange(0, 6).Draw(t, "changes") {
				change(t, s)
			}
			s.Undo()
			holds(t, s)
			if diff := cmp.Diff(before, routes(s)); diff != "" || s.Cost() != cost {
				t.Fatalf("after undo the cost is %d, was %d; routes: %s", s.Cost(), cost, diff)
			}
			for _, stop := range outside(s) { // times are as they were too: places are judged by them
				if want, found := cheapest(s, stop); found != (s.Best(stop).Vehicle != route.None) || found && s.Best(stop).Added != want {
					t.Fatalf("after undo stop %d goes to %+v, want %d added", stop, s.Best(stop), want)
				}
			}
		}
		s.Clear()
		holds(t, s)
		if len(outside(s)) != len(s.In.Stops) {
			t.Fatalf("a cleared state still has stops: %v", routes(s))
		}
	})
}

// leastPriced tries every set of at most so many stops of every route, at every place.
func leastPriced(s *route.State, stop int32, prices []int64, most int) int64 {
	least := int64(math.MaxInt64)
	for v, stops := range routes(s) {
		for set := range 1 << len(stops) {
			var stay []int32
			price, out := int64(0), 0
			for p, other := range stops {
				if set>>p&1 == 1 {
					price += prices[other]
					out++
				} else {
					stay = append(stay, other)
				}
			}
			for p := range len(stay) + 1 {
				if _, ok := simulated(s.In, int32(v), slices.Insert(slices.Clone(stay), p, stop)); ok && out <= most && len(stops) > 0 {
					least = min(least, price)
				}
			}
		}
	}
	return least
}

func TestState_EjectTakesTheLeastPricedSetOfAllThatMakeRoom(t *testing.T) {
	t.Parallel()
	made := 0
	rapid.Check(t, func(t *rapid.T) {
		s := route.New(drawn(t))
		prices := rapid.SliceOfN(rapid.Int64Range(1, 5), len(s.In.Stops), len(s.In.Stops)).Draw(t, "prices")
		for range 2 * len(s.In.Stops) {
			change(t, s)
		}
		for _, stop := range outside(s) {
			most := rapid.IntRange(0, 3).Draw(t, "most")
			want := leastPriced(s, stop, prices, most)
			e := s.Eject(stop, prices, most)
			if e.Price != want || (e.Vehicle == route.None) != (want == math.MaxInt64) {
				t.Fatalf("stop %d takes the place of %+v, want a price of %d", stop, e, want)
			}
			if e.Vehicle == route.None {
				continue
			}
			s.Begin()
			price := int64(0)
			out := s.Apply(nil, stop, e)
			for _, left := range out {
				price += prices[left]
			}
			holds(t, s)
			if s.Of(stop) != e.Vehicle || price != e.Price || len(out) > most {
				t.Fatalf("stop %d is in route %d for %v at %d, told was %+v", stop, s.Of(stop), out, price, e)
			}
			s.Undo()
			made += len(out)
		}
	})
	if made == 0 {
		t.Error("no stop was ever taken out for another: the instances drawn are too easy")
	}
}

func TestState_SeveralWindowsByHand(t *testing.T) {
	t.Parallel()
	// One place a minute's travel from the base, open at 10-20 and 40-50. Two stops of 15 minutes: the first is begun at 10 at the
	// earliest, so the second waits for 40; a third of 8 fits before 20 only where it is first (10-18, then 18-33, then 40), and one of
	// 11 minutes fits nowhere: what follows it would be begun at 21, after the window, and there is one window more but two stops.
	in := &route.Instance{
		Places: 2, Time: [][]int32{{0, 1, 1, 0}}, Cost: [][]int32{{0, 1, 1, 0}},
		Vehicles: []route.Vehicle{{Start: 0, End: 56, Capacity: 10}},
	}
	open := []route.Window{{From: 10, To: 20}, {From: 40, To: 50}}
	for _, takes := range []int32{15, 15, 8, 11} {
		in.Stops = append(in.Stops, route.Stop{Place: 1, Takes: takes, Load: 1, Windows: open})
	}
	in.Ready()
	s := route.New(in)
	s.Put(0, 0, 0)
	if place := s.Best(1); place != (route.Place{Vehicle: 0, Position: 0, Added: 0}) {
		t.Fatalf("the second goes to %+v", place)
	}
	s.Put(1, 0, 1)
	if place := s.Best(2); place != (route.Place{Vehicle: 0, Position: 0, Added: 0}) {
		t.Errorf("the third goes to %+v, want before both", place)
	}
	if place := s.Best(3); place.Vehicle != route.None {
		t.Errorf("what fits nowhere goes to %+v", place)
	}
}

func TestState_BlinkingPassesOverTheShareOfPlacesAndRepeats(t *testing.T) {
	t.Parallel()
	in := &route.Instance{
		Places: 1, Time: [][]int32{{0}}, Cost: [][]int32{{0}}, Vehicles: []route.Vehicle{{End: 10, Capacity: 1}},
		Stops: []route.Stop{{Windows: []route.Window{{From: 0, To: 10}}}},
	}
	in.Ready()
	const asked = 20000
	passed := func(rate float64, seed uint64) (list []int) {
		s := route.New(in)
		s.Blinking(rate, seed)
		for i := range asked {
			if s.Best(0).Vehicle == route.None { // there is one place only
				list = append(list, i)
			}
		}
		return list
	}
	if none := passed(0, 1); len(none) > 0 {
		t.Errorf("a rate of 0 passes over %d places", len(none))
	}
	for _, rate := range []float64{0.01, 0.2} {
		// The number passed over is binomial; five standard deviations are left to chance.
		got, want := float64(len(passed(rate, 1))), rate*asked
		if math.Abs(got-want) > 5*math.Sqrt(want*(1-rate)) {
			t.Errorf("a rate of %g passes over %g of %d", rate, got, asked)
		}
	}
	if diff := cmp.Diff(passed(0.01, 7), passed(0.01, 7)); diff != "" {
		t.Errorf("the same seed passes over others: %s", diff)
	}
	if slices.Equal(passed(0.01, 7), passed(0.01, 9)) {
		t.Error("another seed passes over the same")
	}
}
