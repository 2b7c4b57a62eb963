package firm

import (
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// MeasureWish says of what measures are asked: days of the business, both included, and what narrows them; "" is everything.
type MeasureWish struct {
	First, Last civil.Date
	Client      string
	Site        site.ID
	Technician  scheduler.TechnicianID
}

// FollowUpWindow is when a follow-up was to be done, as a plan was made for it.
type FollowUpWindow struct {
	ID   scheduler.ItemID       `json:"id"`
	Kind scheduler.FollowUpKind `json:"kind"`
	Site site.ID                `json:"site"`
	Due  course.Due             `json:"due"`
}

// PlannedWindows are the windows of the follow-ups that one plan was made for.
type PlannedWindows struct {
	MadeAt  civil.Instant
	Windows []FollowUpWindow
}

// Measures are what a span of days came to. Each is a count beside what it is counted among, so that spans can be added.
type Measures struct {
	Wish MeasureWish

	// Of the follow-ups whose latest day lies in the span: done from their earliest to their latest day, before, after, or not yet.
	OnTime, Early, Late, NotDone int
	// NoWindow were done in the span and no plan was ever made for them, so that their days are not known.
	NoWindow int

	// Of the follow-ups done in the span, those at a visit at which a service was done too.
	DoneFollowUps, RodeOnServices int

	// Cases that ended in the span, those of them that ended clear, and the days from finding to clearance of the latter.
	EndedCases, ClearedCases, DaysToClearance, MostDaysToClearance int

	// Paid time of the published day routes of the span, breaks left out, and the part of it outside visits: drives, and waits
	// between sites.
	Paid, OutsideVisits time.Duration

	Materials []MaterialUse
	// CaseCost is of the cases that ended in the span, over their whole lives.
	CaseCost CaseCost
	Minutes  []WorkMinutes
}

// MaterialUse is what came onto plants of one product in a span.
type MaterialUse struct {
	Product      catalogue.ProductID
	Name         string
	Applications int
	Concentrate  quantity.Volume
	Applied      quantity.Volume
	Mass         quantity.Mass
	Organisms    int64
}

// CaseCost is what cases cost: the minutes of their work by who did it, the mix by the litre, the policy's share of a
// visit for each application.
type CaseCost struct {
	Cases                     int
	Labour, Material, Visits  quantity.Money
	WithoutTimes, NotByVolume int // items without times, applications not measured by volume: they cost nothing here
}

// Total is the whole cost.
func (c CaseCost) Total() quantity.Money { return c.Labour + c.Material + c.Visits }

// WorkMinutes are the business's own minutes of one kind of work beside those planned for the same items.
type WorkMinutes struct {
	Kind                      string // of follow-up or service
	Items                     int    // done, with times, that a published visit held
	Taken, Planned            time.Duration
	Shortest, Middle, Longest time.Duration // of one item
}
