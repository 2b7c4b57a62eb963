package anneal

import (
	"slices"

	"vernation/scheduler/internal/route"
)

const (
	splits   = 0.5  // share of strings of which a middle stays
	lengthen = 0.01 // chance that the middle does not grow by one more
)

// ruin takes strings out of the routes around a seed.
func (s *search) ruin() {
	stops := len(s.in.Stops)
	used := s.state.Used()
	if len(used) == 0 {
		return
	}
	mean := float64(stops-len(s.out)) / float64(len(used))
	length := min(longest, mean)
	most := 4*removed/(1+length) - 1
	strings := int(s.random.Float64()*most + 1)
	seed := int32(s.random.IntN(stops))
	if s.state.Of(seed) != route.None {
		s.ruinAt(seed, length)
		strings--
	}
	for _, stop := range s.near[seed] {
		if strings <= 0 {
			return
		}
		if v := s.state.Of(stop); v != route.None && s.hit[v] != s.round {
			s.ruinAt(stop, length)
			strings--
		}
	}
}

// ruinAt takes one string out of the route of a stop that contains it.
func (s *search) ruinAt(stop int32, most float64) {
	v := s.state.Of(stop)
	s.hit[v] = s.round
	size := s.state.Len(v)
	length := int(1 + s.random.Float64()*min(float64(size), most))
	length = min(length, size)
	at := int(s.state.At(stop))
	if length > 1 && length < size && s.random.Float64() < splits {
		s.split(v, at, length, size)
		return
	}
	from := s.start(at, length, size)
	s.out = s.state.Cut(s.out, v, from, from+length)
}

// start draws the beginning of a string of a length around a position.
func (s *search) start(at, length, size int) int {
	low, high := max(0, at-length+1), min(at, size-length)
	return low + s.random.IntN(high-low+1)
}

// split takes a longer string out but for a middle part.
func (s *search) split(v int32, at, length, size int) {
	kept := 1
	for length+kept < size && s.random.Float64() > lengthen {
		kept++
	}
	whole := length + kept
	from := s.start(at, whole, size)
	middle := from + s.random.IntN(length+1)
	s.out = s.state.Cut(s.out, v, middle+kept, from+whole)
	s.out = s.state.Cut(s.out, v, from, middle)
}

// order draws the order in which stops are put back.
func (s *search) order() {
	s.random.Shuffle(len(s.out), func(i, j int) { s.out[i], s.out[j] = s.out[j], s.out[i] })
	key := s.key()
	if key == nil {
		return
	}
	for _, stop := range s.out {
		s.keys[stop] = key(stop)
	}
	slices.SortStableFunc(s.out, func(a, b int32) int { return int(min(1, max(-1, s.keys[a]-s.keys[b]))) })
}

// key draws what the order goes by; nil is nothing.
func (s *search) key() func(stop int32) int64 {
	stops := s.in.Stops
	switch d := s.random.IntN(17); {
	case d < 4:
		return nil
	case d < 8:
		return func(i int32) int64 { return -int64(stops[i].Load) }
	case d < 10:
		return func(i int32) int64 { return -s.away(i) }
	case d < 11:
		return s.away
	case d < 13:
		return func(i int32) int64 { return width(stops[i].Windows) }
	case d < 15:
		return func(i int32) int64 { return int64(stops[i].Windows[0].From) }
	default:
		return func(i int32) int64 { return -int64(stops[i].Windows[len(stops[i].Windows)-1].To) }
	}
}

// away is the cost from the first vehicle's beginning.
func (s *search) away(stop int32) int64 {
	first := &s.in.Vehicles[0]
	return int64(s.in.Cost[first.Profile][first.From*s.in.Places+s.in.Stops[stop].Place])
}

// width is the sum of the windows.
func width(windows []route.Window) int64 {
	sum := int64(0)
	for _, w := range windows {
		sum += int64(w.To - w.From)
	}
	return sum
}
