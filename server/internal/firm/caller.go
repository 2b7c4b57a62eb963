package firm

import (
	"sync/atomic"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// BusinessID names a business, the tenant; every row belongs to exactly one.
type BusinessID string

// Role is what kind of caller a credential speaks for.
type Role string

// The roles.
const (
	Office      Role = "office"
	Technician  Role = "technician"
	Integration Role = "integration"
)

// Caller is who makes a call, as its credential says. A caller belongs to exactly one business.
type Caller struct {
	Business BusinessID
	Subject  string // stable name of the person or integration; never a personal name in logs
	Role     Role
	// Technician is set for a technician: whose day routes are theirs.
	Technician scheduler.TechnicianID
	// ResponsibleApplicator may approve the applications of a course.
	ResponsibleApplicator bool
	// Scopes are the collections that an integration key is for, with a space between them as RFC 6749, section 3.3 writes
	// scopes; "" is all that the role may.
	Scopes string
}

// Business is a tenant with its own policy.
type Business struct {
	ID       BusinessID    `json:"id"`
	Name     string        `json:"name"`
	Zone     civil.Zone    `json:"zone"`
	Currency string        `json:"currency"` // ISO 4217
	Policy   course.Policy `json:"policy"`
	// Rates price plans; Rules are notice, break, mixing and rinsing (site notices and categories are resolved per Problem).
	Rates scheduler.Rates      `json:"rates"`
	Rules scheduler.PlaceRules `json:"rules"`
	// DetourPercent and SpeedKMH turn positions into travel times.
	DetourPercent int `json:"detour_percent"`
	SpeedKMH      int `json:"speed_kmh"`
	// PoisonLine and EmergencyLine are set by the business and never shipped.
	PoisonLine    string `json:"poison_line,omitempty"`
	EmergencyLine string `json:"emergency_line,omitempty"`
	// NoticesCountOnceSent says that a notice counts only once somebody says that it was sent; if not, publishing counts.
	NoticesCountOnceSent bool `json:"notices_count_once_sent,omitempty"`
}

// Client is who pays.
type Client struct {
	ID            string    `json:"id"`
	Name          string    `json:"name"`
	PostalAddress string    `json:"postal_address,omitempty"`
	Contacts      []Contact `json:"contacts,omitempty"`
}

// Contact is a person of a client, or a place of theirs where somebody answers.
type Contact struct {
	Name         string    `json:"name"`
	Phone        string    `json:"phone,omitempty"`
	Email        string    `json:"email,omitempty"`
	MayConsent   bool      `json:"may_consent,omitempty"`   // in the client's name
	TakesNotices bool      `json:"takes_notices,omitempty"` // notices go there
	Sites        []site.ID `json:"sites,omitempty"`         // for which they speak; empty is all of the client's
	// Reachable is in the zone of the business; one that is never open is not known.
	Reachable civil.Calendar `json:"reachable,omitzero"`
}

// CrewMember is a technician as the business keeps it: the scheduler's Technician follows from it for a horizon.
type CrewMember struct {
	ID            scheduler.TechnicianID `json:"id"`
	Name          string                 `json:"name"`
	BaseLatitude  float64                `json:"base_latitude"`
	BaseLongitude float64                `json:"base_longitude"`
	// Shifts are of the business's zone; an exception without windows is an absence or holiday.
	Shifts civil.Calendar `json:"shifts"`
	// BreakFrom and BreakTo bound the break of each shift day in the business's zone; BreakTakes is its length.
	BreakFrom     civil.Clock         `json:"break_from"`
	BreakTo       civil.Clock         `json:"break_to"`
	BreakTakes    time.Duration       `json:"break_takes"`
	Licences      []scheduler.Licence `json:"licences,omitempty"`
	Skills        []string            `json:"skills,omitempty"`
	Keys          []scheduler.KeyHeld `json:"keys,omitempty"`
	Vessels       []scheduler.Vessel  `json:"vessels,omitempty"`
	Measures      []scheduler.Measure `json:"measures,omitempty"`
	Scales        []scheduler.Scale   `json:"scales,omitempty"`
	PaidPerMinute int64               `json:"paid_per_minute"` // minor units
	SpeedPercent  int                 `json:"speed_percent"`
	// ResponsibleApplicator is the licence holder who may approve.
	ResponsibleApplicator bool `json:"responsible_applicator,omitempty"`
}

// Clock is one of the two clocks. The firm's may be moved (findings, plans, notices, records follow it);
// the machine's (tokens, leases, queue, limits) is time.Now and is never moved.
type Clock struct {
	fixed atomic.Int64 // unix seconds; 0 follows the machine
}

// Now returns the firm's present instant.
func (c *Clock) Now() civil.Instant {
	if at := c.fixed.Load(); at != 0 {
		return civil.Instant(at)
	}
	return civil.InstantOf(time.Now())
}

// Set stops the firm's clock at an instant; the unset Instant lets it follow the machine again.
func (c *Clock) Set(at civil.Instant) { c.fixed.Store(int64(at)) }

// Case is one infestation until it ends. Its history and course stand beside it.
type Case struct {
	ID       course.CaseID    `json:"id"`
	Site     string           `json:"site"`
	Pest     catalogue.PestID `json:"pest"`
	Plants   []string         `json:"plants"`
	OpenedAt civil.Instant    `json:"opened_at"`
	// Ending is set once it ended; EndedAt when.
	Ending  *course.Ending `json:"ending,omitempty"`
	EndedAt civil.Instant  `json:"ended_at,omitempty"`
	// RecurrenceOf is an earlier case at the same site within the policy's months.
	RecurrenceOf course.CaseID `json:"recurrence_of,omitempty"`
	// Recurrences are the later cases of which that is this one, oldest first.
	Recurrences []course.CaseID `json:"recurrences,omitempty"`
	// Version rises with each appended event; plans compare it.
	Version int64 `json:"version"`
}
