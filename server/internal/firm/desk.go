package firm

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// FindingTold is a finding as the history of its case tells it.
type FindingTold struct {
	ID        string
	Case      course.CaseID // that it opened, where it has the same id, or joined
	Site      site.ID
	At        civil.Instant // when it was seen
	ToldAt    civil.Instant // when the firm heard of it
	Corrected bool          // a later report took it back or told it otherwise
	course.Finding
}

// AwaitedApproval is one product on one case whose applications wait for the responsible applicator.
type AwaitedApproval struct {
	Case     course.CaseID
	Site     site.ID
	Pest     catalogue.PestID
	Product  catalogue.Product
	Ways     []course.WayKind
	Items    []course.ItemID
	Plants   []site.PlantID
	Areas    []site.AreaID
	Expected civil.Date    // of the first
	Since    civil.Instant // the case was opened, or the approval withdrawn
	Course   string        // its version
	Cautions []string
}

// NeededConsent is what the course of a case waits for until its client consents: a method, or a sum.
type NeededConsent struct {
	Case     course.CaseID
	Site     site.ID
	Method   catalogue.Method
	Material catalogue.MaterialID
	Products []catalogue.ProductID
	Sum      quantity.Money // what the course costs, where that is above AskAbove
	AskAbove quantity.Money
	Asked    string // a question about it that waits for its answer; "" where there is none
	Since    civil.Instant
}

// CourseComparison is a course beside the one that would follow if something were otherwise.
type CourseComparison struct {
	Case                     Case
	Present, Changed         course.Course
	PresentCost, ChangedCost quantity.Money // from today to the end; of new plants what they cost
	DelayCost                quantity.Money // of waiting until the other first day, by the present course
	Differences              []string       // for people
}

// DeviationLook says who of the office looked at a deviation, when, and what was made of it.
type DeviationLook struct {
	At   civil.Instant `json:"at"`
	By   string        `json:"by"`
	Note string        `json:"note,omitempty"`
}
