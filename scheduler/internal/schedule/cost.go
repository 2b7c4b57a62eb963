package schedule

import "vernation/scheduler/internal/instance"

// Status says why an item is not planned.
type Status int8

// The statuses.
const (
	Planned Status = iota
	LeftOut
	Deferred
	Outside // of the horizon: not asked for
)

// Unplanned returns what leaving an item out costs, by how the plan stands: its window ends inside the horizon, or it may
// still be done on the first open day after. What waits for an unplanned item shares its fate.
func (s *State) Unplanned(item int32) (Cost, Status) {
	it := &s.In.Items[item]
	if it.Outside {
		return 0, Outside
	}
	if s.around.Placed[item].Placed {
		return 0, Planned
	}
	after := it.Due.After
	if after != instance.None && !s.around.Placed[after].Placed {
		_, before := s.Unplanned(after)
		if before == LeftOut {
			return it.NotPlannedBehind(true), LeftOut
		}
		return it.NotPlannedBehind(false), Deferred
	}
	earliest, latest, stands, _ := s.walker.Days(item)
	cost, leftOut := it.NotPlanned(earliest, latest, stands, s.In.LastDay)
	if leftOut {
		return cost, LeftOut
	}
	return cost, Deferred
}

// Planned is the cost of all day routes, and of uneven days.
func (s *State) Planned() Cost { return s.cost + s.Uneven() }

const secondsPerMinute = 60

// Uneven prices the minutes by which a technician's days lie above the mean of their days with work.
func (s *State) Uneven() Cost {
	if s.In.Rates.UnevenMinute == 0 {
		return 0
	}
	if s.worked == nil {
		s.worked, s.busy = make([]Seconds, len(s.In.Crew)), make([]Seconds, len(s.In.Crew))
	}
	clear(s.worked)
	clear(s.busy)
	for t := range s.Tours {
		if work := s.Tours[t].Walk.Work; work > 0 {
			technician := s.In.Shifts[t].Technician
			s.worked[technician] += work
			s.busy[technician]++
		}
	}
	total := Cost(0)
	for t := range s.Tours {
		if work := s.Tours[t].Walk.Work; work > 0 {
			technician := s.In.Shifts[t].Technician
			total += Cost(max(0, work-s.worked[technician]/s.busy[technician])/secondsPerMinute) * s.In.Rates.UnevenMinute
		}
	}
	return total
}
