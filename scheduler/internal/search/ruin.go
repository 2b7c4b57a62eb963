package search

import (
	"vernation/scheduler/internal/instance"
)

// How much a round takes out, in items, and how long a string is at most, in stops.
const (
	removed     = 10
	stringStops = 4
	daySpan     = 24 * 60 * 60
)

// ruin chooses what to take out: strings of visits in day routes near one another, all of a site over some days, or an item with
// its chain and some others.
func (s *search) ruin() []int32 {
	planned := len(s.in.Items) - len(s.absent) - len(s.hopeless)
	if planned <= 0 || len(s.members) == 0 {
		return nil
	}
	seed := instance.None
	for range 64 {
		if item := s.members[s.random.IntN(len(s.members))]; s.movable(item) {
			seed = item
			break
		}
	}
	if seed == instance.None {
		return nil
	}
	switch d := s.random.IntN(10); {
	case d < 7:
		return s.strings(seed)
	case d < 9:
		return s.ofSite(seed)
	}
	if s.random.IntN(3) == 0 {
		return s.wholeDay(seed)
	}
	out := []int32{seed}
	for range s.random.IntN(3) {
		if item := s.members[s.random.IntN(len(s.members))]; s.movable(item) {
			out = append(out, item)
		}
	}
	return out
}

// movable says whether an item is planned in a tour that the search may change.
func (s *search) movable(item int32) bool {
	at := s.state.Placed(item)
	return at.Placed && s.open[at.Tour]
}

// strings takes strings of stops from the day routes of the sites around a seed, on days not too far from its own.
func (s *search) strings(seed int32) []int32 {
	var out []int32
	want := 1 + s.random.IntN(2*removed)
	far := instance.Seconds(1+s.random.IntN(5)) * daySpan
	begins := s.state.Placed(seed).Begins
	for _, site := range s.near[s.in.Items[seed].Site] {
		items := s.at[site]
		from := s.random.IntN(len(items) + 1)
		for k := range items {
			item := items[(from+k)%len(items)]
			at := s.state.Placed(item)
			if !at.Placed || !s.open[at.Tour] || s.hit[at.Tour] == s.round || at.Begins-begins > far || begins-at.Begins > far {
				continue
			}
			s.hit[at.Tour] = s.round
			out = s.stringAt(out, at.Tour, at.Stop)
			if len(out) >= want {
				return out
			}
		}
	}
	return out
}

// stringAt adds the items of a string of stops around one.
func (s *search) stringAt(out []int32, t, stop int32) []int32 {
	stops := s.state.Tours[t].Stops
	length := 1 + s.random.IntN(min(stringStops, len(stops)))
	low, high := max(0, int(stop)-length+1), min(int(stop), len(stops)-length)
	from := low + s.random.IntN(high-low+1)
	for _, stop := range stops[from : from+length] {
		last := instance.None
		for _, ref := range stop.Refs {
			if ref.Item != last {
				out = append(out, ref.Item)
			}
			last = ref.Item
		}
	}
	return out
}

// mostOfDay is the most items of a day that is taken out whole.
const mostOfDay = 40

// wholeDay takes everything out of one technician-day, of two that it looks at the one with less in it: a day without work has no
// least paid minutes, so what is left of a thin day may be cheaper on others.
func (s *search) wholeDay(seed int32) []int32 {
	day := s.state.Placed(seed).Tour
	if other := s.members[s.random.IntN(len(s.members))]; s.movable(other) {
		if tour := s.state.Placed(other).Tour; s.state.Tours[tour].Walk.Work < s.state.Tours[day].Walk.Work {
			day = tour
		}
	}
	var out []int32
	for _, stop := range s.state.Tours[day].Stops {
		last := instance.None
		for _, ref := range stop.Refs {
			if ref.Item != last {
				out = append(out, ref.Item)
			}
			last = ref.Item
		}
		if len(out) >= mostOfDay {
			break
		}
	}
	return out
}

// ofSite takes the items of a seed's site out that lie within some days of it.
func (s *search) ofSite(seed int32) []int32 {
	var out []int32
	far := instance.Seconds(s.random.IntN(5)) * daySpan
	begins := s.state.Placed(seed).Begins
	for _, item := range s.at[s.in.Items[seed].Site] {
		if at := s.state.Placed(item); at.Placed && s.open[at.Tour] && at.Begins-begins <= far && begins-at.Begins <= far {
			out = append(out, item)
		}
	}
	return out
}
