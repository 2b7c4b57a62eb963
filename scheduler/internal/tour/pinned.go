package tour

import "vernation/scheduler/internal/instance"

// The rule "pinned": visits that are begun, done or held by the office do not move; the day is walked around them.

// meetFixed arrives at a visit that does not move.
func (w *Walker) meetFixed(slot int, at *Seconds) bool {
	s := &w.slots[slot]
	if *at > s.starts {
		return w.refuse(RulePinned, FixedVisitInTheWay, instance.None, s.starts)
	}
	w.walk.Visits[s.stop] = Visit{Arrives: s.starts, Leaves: s.starts + s.length}
	*at = s.starts + s.length
	return true
}
