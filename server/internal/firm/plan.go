package firm

import (
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// RunState is the state of a plan run.
type RunState string

// The states of a run.
const (
	RunPending   RunState = "pending"
	RunRunning   RunState = "running"
	RunDone      RunState = "done"
	RunFailed    RunState = "failed"
	RunCancelled RunState = "cancelled"
)

// PlanRun is the making of one plan: a row of ours and the operation that callers watch.
type PlanRun struct {
	ID         string        `json:"id"`
	State      RunState      `json:"state"`
	FirstDay   civil.Date    `json:"first_day"`
	Days       int           `json:"days"`
	Seed       uint64        `json:"seed"`
	Iterations int           `json:"iterations"`      // asked for
	Limit      time.Duration `json:"limit,omitempty"` // of time; 0 none
	// Progress.
	IterationsDone int            `json:"iterations_done"`
	Best           scheduler.Cost `json:"best"`
	Bound          quantity.Money `json:"bound"`
	// CancelAsked is set by the office; the worker stops at the next look.
	CancelAsked bool `json:"cancel_asked,omitempty"`
	// Attempt fences: a worker whose attempt is no longer this one may not keep its plan.
	Attempt int `json:"attempt"`
	// Plan is set when done; Failure when failed.
	Plan      string        `json:"plan,omitempty"`
	Failure   string        `json:"failure,omitempty"`
	CreatedAt civil.Instant `json:"created_at"`
	CreatedBy string        `json:"created_by"`
	// Events is what has happened, where it plans again.
	Events Events `json:"events,omitzero"`
}

// Events are what was told to have happened when a plan was asked for again. They hold for that plan alone: what lasts stands in
// the records of technicians and sites, what was found or done in findings and reports.
type Events struct {
	Absent   []Absent  `json:"absent,omitempty"`
	Shut     []Shut    `json:"shut,omitempty"`
	Overruns []Overrun `json:"overruns,omitempty"`
}

// Absent is a technician who is not there for a while.
type Absent struct {
	Technician scheduler.TechnicianID `json:"technician"`
	During     civil.Interval         `json:"during"`
}

// Shut is a site that nobody may come to for a while.
type Shut struct {
	Site   site.ID        `json:"site"`
	During civil.Interval `json:"during"`
}

// Overrun is a visit under way that takes longer than was planned.
type Overrun struct {
	Visit  scheduler.VisitID `json:"visit"`
	Leaves civil.Instant     `json:"leaves"`
}

// KeptPlan is a plan as stored: immutable, with the versions of what it was made from.
type KeptPlan struct {
	ID       string         `json:"id"`
	Run      string         `json:"run,omitempty"`
	FirstDay civil.Date     `json:"first_day"`
	Days     int            `json:"days"`
	MadeAt   civil.Instant  `json:"made_at"`
	Plan     scheduler.Plan `json:"plan"`
	Versions Versions       `json:"versions"`
	// Travel says where its travel times come from; zero in plans kept before that was written down.
	Travel TravelSource `json:"travel,omitzero"`
	// FollowUps are the follow-ups that it was made for, so that a person can read it later.
	FollowUps []scheduler.FollowUp `json:"follow_ups"`
	// PublishedAt is set for plans that were published.
	PublishedAt civil.Instant `json:"published_at,omitempty"`
}

// PlanState says where a kept plan stands.
type PlanState string

// The states of a plan.
const (
	PlanDraft      PlanState = "draft"
	PlanPublished  PlanState = "published"  // the one whose visits are real
	PlanSuperseded PlanState = "superseded" // was published, until another one was
)

// ShownPlan is a kept plan with what people need to read it. The visits of the published one bear their ids and
// present states.
type ShownPlan struct {
	Kept     KeptPlan
	State    PlanState
	Head     int64 // version of the plan head when it was read
	Zone     civil.Zone
	Currency string
	// KeepOuts, SiteOf and Cautions explain the plan; SiteOf names the site of each item that it does not hold.
	KeepOuts []DayKeepOut
	SiteOf   map[scheduler.ItemID]site.ID
	Cautions []string
}

// Versions are those of the rows that a plan depends on; publishing compares them.
type Versions struct {
	Cases       map[course.CaseID]int64          `json:"cases,omitempty"`
	Sites       map[site.ID]int64                `json:"sites,omitempty"`
	Technicians map[scheduler.TechnicianID]int64 `json:"technicians,omitempty"`
	Policy      int64                            `json:"policy,omitempty"`   // of the business's policy, rates and rules
	Products    int64                            `json:"products,omitempty"` // rises with each change of any product
}

// Head is what is published now: one row per business. Its version is the etag of publishing.
type Head struct {
	Version     int64         `json:"version"`
	Plan        string        `json:"plan,omitempty"`
	PublishedAt civil.Instant `json:"published_at,omitempty"`
}

// Route is a published day route without its visits: departure, break, return and mixes.
type Route struct {
	Technician scheduler.TechnicianID `json:"technician"`
	Day        civil.Date             `json:"day"`
	Departs    civil.Instant          `json:"departs"`
	Returns    civil.Instant          `json:"returns"`
	Break      civil.Interval         `json:"break"`
	Mixes      []scheduler.Mix        `json:"mixes,omitempty"`
}

// KeepOutFact is a keep-out that a published or reported application makes.
type KeepOutFact struct {
	scheduler.KeepOut
	Visit scheduler.VisitID `json:"visit,omitempty"`
	// ConfirmedDryAt is set once somebody found it dry.
	ConfirmedDryAt civil.Instant `json:"confirmed_dry_at,omitempty"`
}

// Placement is where an item stands in a plan.
type Placement struct {
	Technician scheduler.TechnicianID `json:"technician"`
	Site       site.ID                `json:"site"`
	Begins     civil.Instant          `json:"begins"`
	Way        scheduler.WayID        `json:"way,omitempty"`
}

// Difference is one item that two plans place differently. Before is nil where it is new, After where it is gone.
type Difference struct {
	Item   scheduler.ItemID `json:"item"`
	Before *Placement       `json:"before,omitempty"`
	After  *Placement       `json:"after,omitempty"`
}

// Comparison is what differs between two plans, and what that costs by part (after minus before).
type Comparison struct {
	Before      string       `json:"before"`
	After       string       `json:"after"`
	Differences []Difference `json:"differences"`
	Same        int          `json:"same"` // items that stand where they stood
	// Technicians and Sites are those for whom something changes, by id.
	Technicians []Affected     `json:"technicians,omitempty"`
	Sites       []Affected     `json:"sites,omitempty"`
	Cost        scheduler.Cost `json:"cost"`
}

// Affected is a technician or a site for whom something changes: how many items come, leave (for somebody else or altogether), and
// stay at another time or by another way.
type Affected struct {
	ID      string `json:"id"`
	Added   int    `json:"added,omitempty"`
	Removed int    `json:"removed,omitempty"`
	Moved   int    `json:"moved,omitempty"`
}

// PublishedVisit is a visit that was made real, with what reports say of it.
type PublishedVisit struct {
	scheduler.Visit
	// OffPlan says that somebody reported it otherwise than it stood by then: another technician, time or place.
	OffPlan bool `json:"off_plan,omitempty"`
}

// Booking is the office's wish to hold a follow-up at an instant.
type Booking struct {
	Visit      scheduler.VisitID      `json:"visit"` // id of the visit to be made
	Item       scheduler.ItemID       `json:"item"`
	Technician scheduler.TechnicianID `json:"technician"`
	Begins     civil.Instant          `json:"begins"`        // of the work, sign-in and mixing lie before
	Way        scheduler.WayKind      `json:"way,omitempty"` // "" is the follow-up's first
	// Rate is the rate to mix at; nil is what label and marks give.
	Rate *quantity.Rate `json:"rate,omitempty"`
}
