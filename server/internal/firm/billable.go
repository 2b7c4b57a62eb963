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

// BillTerms say how the agreement has a piece of work paid.
type BillTerms string

// The terms.
const (
	BilledWork     BillTerms = "billed"           // a follow-up that the agreement does not include
	IncludedWork   BillTerms = "included"         // a follow-up that it includes
	RoutineService BillTerms = "routine-services" // as agreed for the round
)

// BillableWork is one piece of work that was done, with what whoever writes the invoice needs.
type BillableWork struct {
	Report     string
	Visit      scheduler.VisitID
	Day        civil.Date // in the site's zone
	Zone       string     // of the site
	ClientID   string
	Client     string
	Site       site.ID
	SiteName   string
	Technician string
	Item       scheduler.ItemID
	Kind       string
	Case       course.CaseID
	Terms      BillTerms

	Began, Ended civil.Instant // unset where the report tells none
	Took         time.Duration
	Product      catalogue.ProductID // "" where nothing was applied
	ProductName  string
	Applied      quantity.Volume
	Mass         quantity.Mass
	Organisms    int64
}
