package firm

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
)

// StampEvent is what a stamp tells.
type StampEvent string

// The events.
const (
	StampBegun StampEvent = "begun"
	StampEnded StampEvent = "ended"
)

// Stamp is when a technician began or ended a visit, or one of its work items; appended, never changed.
type Stamp struct {
	ID         string
	Visit      scheduler.VisitID
	Technician scheduler.TechnicianID
	Item       scheduler.ItemID // "" is the visit as a whole
	Event      StampEvent
	At         civil.Instant // by the clock of whoever tells it
	// Stored by the server: when and from whom it came, and whether the visit had moved or lost the item meanwhile.
	ReceivedAt civil.Instant
	Caller     string
	OffPlan    bool
}

// Worked is when something was really begun and ended, as stamps tell it; unset while none does.
type Worked struct{ Begun, Ended civil.Instant }

// WorkedOf reads from the stamps of a visit when one of its items ("" is the visit as a whole) was begun, by the first that
// says so, and ended, by the last.
func WorkedOf(stamps []Stamp, item scheduler.ItemID) Worked {
	var w Worked
	for _, s := range stamps {
		switch {
		case s.Item != item:
		case s.Event == StampBegun && (w.Begun.IsZero() || s.At < w.Begun):
			w.Begun = s.At
		case s.Event == StampEnded && s.At > w.Ended:
			w.Ended = s.At
		}
	}
	return w
}
