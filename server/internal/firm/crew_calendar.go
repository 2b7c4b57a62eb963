package firm

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
)

// Absence is a stretch of days on which a technician does not work.
type Absence struct {
	ID         string                 `json:"id"`
	Technician scheduler.TechnicianID `json:"technician"`
	From       civil.Date             `json:"from"` // first day, in the business's zone
	To         civil.Date             `json:"to"`   // last day
	// Window is the part of each of the days; nil is all of every shift that begins on them.
	Window *civil.Window `json:"window,omitempty"`
	Note   string        `json:"note,omitempty"` // for the office alone
}

// Holiday is a stretch of days on which the business is shut. Who has a dated shift on one of them works all the same.
type Holiday struct {
	ID   string     `json:"id"`
	Name string     `json:"name"`
	From civil.Date `json:"from"` // first day, in the business's zone
	To   civil.Date `json:"to"`   // last day
}
