package firm

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// AccessSecrets are what opens a site: codes, and where its keys lie. They are stored apart from the site, and nothing that
// is logged, listed, exported or kept as the answer to a request holds them.
type AccessSecrets struct {
	Site  site.ID      `json:"site"`
	Codes []AccessCode `json:"codes,omitempty"`
	// KeyPlace says where keys lie; Note what else opens the site.
	KeyPlace string `json:"key_place,omitempty"`
	Note     string `json:"note,omitempty"`
	// Version rises with each change; 0 is that none were ever set. UpdatedAt is when the last one was made.
	Version   int64         `json:"-"`
	UpdatedAt civil.Instant `json:"-"`
}

// AccessCode is one code and what it opens.
type AccessCode struct {
	Opens string `json:"opens"` // the front door, the alarm by the porter's desk
	Code  string `json:"code"`
}

// SecretReading is one reading of the access secrets of a site; appended, never changed.
type SecretReading struct {
	ID     string
	Site   site.ID
	ReadAt civil.Instant
	Reader string // subject of the caller
	Role   Role
	// Technician and Day are those of the day route in which they were read; unset when the office read them.
	Technician scheduler.TechnicianID
	Day        civil.Date
}
