package schedule

import (
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/tour"
)

// Remove takes items out, with all that cannot stand without them. It returns all that it took out; the list is the
// state's own until the next call.
func (s *State) Remove(items []int32) []int32 {
	if s.out == nil {
		s.out = make([]bool, len(s.In.Items))
	}
	for _, item := range s.removed {
		s.out[item] = false
	}
	s.removed = s.removed[:0]
	for len(items) > 0 {
		items = s.following(items, s.out)
		s.removed = append(s.removed, items...)
		items = append(s.takeOut(items, s.out), s.broken(items)...)
		items = slices.DeleteFunc(items, func(item int32) bool { return s.out[item] })
	}
	return s.removed
}

// following adds to items those placed that count from them or were changed by them, and marks all as out.
func (s *State) following(items []int32, out []bool) []int32 {
	var all []int32
	queue := slices.Clone(items)
	for len(queue) > 0 {
		item := queue[0]
		queue = queue[1:]
		if out[item] || !s.around.Placed[item].Placed {
			continue
		}
		out[item] = true
		all = append(all, item)
		for _, bond := range s.In.Items[item].Bonds {
			if bond.From != item || !s.around.Placed[bond.To].Placed {
				continue
			}
			switch bond.Kind {
			case instance.DueAfter, instance.BeginsAfter, instance.OneVisit:
				queue = append(queue, bond.To)
			case instance.Replaces:
				if s.dayOf(bond.To) == s.dayOf(item) {
					queue = append(queue, bond.To) // its minutes change
				}
			}
		}
	}
	return all
}

func (s *State) dayOf(item int32) Day { return s.around.Placed[item].Day }

// takeOut takes items out of their tours. It returns the items of tours that do not hold without them: they must go too,
// and until then their tour stays as it was.
func (s *State) takeOut(items []int32, out []bool) []int32 {
	var touched []int32
	for _, item := range items {
		placed := s.around.Placed[item]
		touched = append(touched, placed.Tour)
		if placed.Returned {
			touched = append(touched, placed.BackTour)
		}
	}
	slices.Sort(touched)
	var more []int32
	for _, t := range slices.Compact(touched) {
		stops := s.without(t, out)
		if !s.besideFixed(t, stops) {
			if walk, ok := s.walker.Walk(t, stops); ok {
				s.set(t, stops, walk)
				continue
			}
		}
		for _, stop := range stops {
			for _, ref := range stop.Refs {
				more = append(more, ref.Item)
			}
		}
	}
	return more
}

// besideFixed says whether a stop has come to lie beside a fixed visit of its site, of which it cannot become part.
func (s *State) besideFixed(t int32, stops []tour.Stop) bool {
	for i := range stops {
		last, fixed := s.In.Shifts[t].LastSite, true
		if i > 0 {
			last, fixed = stops[i-1].Site, stops[i-1].Fixed != instance.None
		}
		if stops[i].Site == last && fixed != (stops[i].Fixed != instance.None) {
			return true
		}
	}
	return false
}

// without returns the stops of a tour without the items that are out; neighbours at one site become one stop.
func (s *State) without(t int32, out []bool) []tour.Stop {
	var stops []tour.Stop
	for _, stop := range s.Tours[t].Stops {
		kept := stop
		if stop.Fixed == instance.None {
			kept.Refs = nil
			for _, ref := range stop.Refs {
				if !out[ref.Item] {
					kept.Refs = append(kept.Refs, ref)
				}
			}
			if len(kept.Refs) == 0 {
				continue
			}
		}
		last := len(stops) - 1
		if last >= 0 && stops[last].Site == kept.Site && stops[last].Fixed == instance.None && kept.Fixed == instance.None {
			stops[last].Refs = append(stops[last].Refs, kept.Refs...)
			slices.SortStableFunc(stops[last].Refs, func(a, b tour.Ref) int { return tour.Before(s.In, a, b) })
			continue
		}
		stops = append(stops, kept)
	}
	return stops
}

// broken returns items whose rules do not hold any more without some others, such as a spray without the watering before it.
func (s *State) broken(items []int32) []int32 {
	var more []int32
	for _, item := range items {
		for _, bond := range s.In.Items[item].Bonds {
			other := bond.From + bond.To - item
			if s.around.Placed[other].Placed && !s.walker.Allows(other) {
				more = append(more, other)
			}
		}
	}
	return more
}
