package tour

import "vernation/scheduler/internal/instance"

// The rule "pinned": visits that are begun, done or held by the office do not move; the day is walked around them.

// pinnedRule is the rule "pinned" on a walk.
type pinnedRule struct{ *Walker }

// extend arrives at a visit that does not move.
func (r pinnedRule) extend(slot int, at *Seconds) bool {
	s := &r.slots[slot]
	if *at > s.starts {
		return r.reason(FixedVisitInTheWay, instance.None, s.starts)
	}
	r.walk.Visits[s.stop] = Visit{Arrives: s.starts, Leaves: s.starts + s.length}
	*at = s.starts + s.length
	return true
}

// reason notes what the rule says against the walk and returns false.
func (r pinnedRule) reason(text Text, item int32, at Seconds) bool {
	return r.refuse(RulePinned, text, item, at)
}
