package route

import "math"

// Place is a place for a stop: before the stop at Position of a vehicle's route.
type Place struct {
	Vehicle  int32
	Position int
	Added    int64
}

// nowhere is the place of what fits nowhere.
var nowhere = Place{Vehicle: None, Added: math.MaxInt64}

// Best returns the cheapest place of a stop among routes in use and one empty vehicle of each kind; Vehicle is None when it fits nowhere.
// Places are passed over at the rate of the state's Blink.
func (s *State) Best(stop int32) Place {
	best := nowhere
	for _, v := range s.used {
		s.bestIn(stop, v, &best)
	}
	return s.bestEmpty(stop, best)
}

// bestEmpty tries the empty vehicles, one of each kind.
func (s *State) bestEmpty(stop int32, best Place) Place {
	s.asked++
	for v, left := 0, len(s.tried); v < len(s.In.Vehicles) && left > 0; v++ {
		kind := s.In.Kinds[v]
		if s.usedAt[v] != None || s.tried[kind] == s.asked {
			continue
		}
		s.tried[kind] = s.asked
		left--
		s.bestIn(stop, int32(v), &best)
	}
	return best
}

// bestIn keeps the cheapest place of a stop in one route, when it is cheaper than the best so far.
func (s *State) bestIn(u, v int32, best *Place) {
	in := s.In
	stop, vehicle := &in.Stops[u], &in.Vehicles[v]
	if s.load[v]+stop.Load > vehicle.Capacity {
		return
	}
	nodes := s.routes[v]
	row := stop.Place * in.Places
	timeFrom, timeTo := in.timeTo[vehicle.Profile][row:row+in.Places], in.Time[vehicle.Profile][row:row+in.Places]
	costFrom, costTo := in.costTo[vehicle.Profile][row:row+in.Places], in.Cost[vehicle.Profile][row:row+in.Places]
	first, takes := stop.Windows[0], stop.Takes
	single := len(stop.Windows) == 1
	last := stop.Windows[len(stop.Windows)-1].To
	limit, opens := best.Added, int64(0)
	if len(nodes) == 2 {
		opens = vehicle.Opens
	}
	limit -= opens
	earliest := first.From + takes
	for i := range len(nodes) - 1 {
		here, next := &nodes[i], &nodes[i+1]
		if here.depart > last {
			break
		}
		if next.latest < earliest || s.blink.next() {
			continue
		}
		added := int64(costFrom[here.place] + costTo[next.place] - here.arc)
		if added >= limit {
			continue
		}
		at := here.depart + timeFrom[here.place]
		if single {
			if at > first.To {
				continue
			}
			at = max(at, first.From)
		} else {
			at = begin(stop.Windows, at)
		}
		if at+takes+timeTo[next.place] > next.latest {
			continue
		}
		limit = added
		*best = Place{Vehicle: v, Position: i, Added: added + opens}
	}
}
