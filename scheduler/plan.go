package scheduler

import (
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// Plan is an answer over the horizon of a Problem. It is immutable.
//
// Readings that Solve and Check share, beside those of each type:
//   - Travel from a to b takes ceil(seconds(a, b) * 100 / SpeedPercent).
//   - A technician is, in order, under way, signing in, mixing, working, rinsing, or free; these stretches never
//     overlap. Waits may lie anywhere between them, inside a visit too. What a gap between two visits holds
//     is travel, a break perhaps, and waiting.
//   - A visit is [Arrives, Leaves). It holds the sign-in from Arrives, then mixings, work items and rinses.
//     Two visits of a day route that follow one another are at different sites.
//   - A follow-up's way is placed as one work item for each of its parts but waits. All parts before the first
//     wait are on one visit, one right after the other but for mixing; the parts after a wait may be on another.
//   - An occurrence of a service is placed on one visit, as one work item for each pair of health and area among
//     its plants; each takes the minutes of its groups. Groups taken out by an InsteadOf link are absent.
//   - Inside a visit the order is by health of the plants (the worst of the item's), cleanest first.
//   - A follow-up or occurrence begins when its first work item begins; its civil date is that instant's in the site's zone.
//   - Occurrence k of a service counts from occurrence k-1, the first from Last. Those whose ideal day lies in
//     the horizon are asked for: Last + k*Ideal, where an ideal day before FirstDay is FirstDay.
type Plan struct {
	Routes    []DayRoute  `json:"routes"` // by day, then technician; only days with work
	KeepOuts  []KeepOut   `json:"keep_outs"`
	Unplanned []Unplanned `json:"unplanned"`
	Cost      Cost        `json:"cost"`
	// Bound is proved: no plan of this Problem costs less. Gap is Cost.Total - Bound.
	Bound      quantity.Money `json:"bound"`
	Gap        quantity.Money `json:"gap"`
	Iterations int            `json:"iterations"`
	Elapsed    time.Duration  `json:"elapsed"`
	Seed       uint64         `json:"seed"`
}

// DayRoute is a technician's visits of one shift in order.
type DayRoute struct {
	Technician TechnicianID  `json:"technician"`
	Day        civil.Date    `json:"day"`     // of the shift
	Departs    civil.Instant `json:"departs"` // from the base
	Returns    civil.Instant `json:"returns"` // to the base, rinsing there included
	// Break is the break taken; empty when none is due.
	Break  civil.Interval `json:"break"`
	Visits []Visit        `json:"visits"`
	Mixes  []Mix          `json:"mixes,omitempty"`
	Cost   Cost           `json:"cost"`
}

// VisitID names a visit; it keeps its id when it moves. "" in a new plan.
type VisitID string

// VisitState is the state of a visit.
type VisitState string

// The states of a visit. Only Begun, Done and Pinned ones are fixed.
const (
	Planned   VisitState = "planned"
	Published VisitState = "published"
	Announced VisitState = "announced"
	Begun     VisitState = "begun"
	Done      VisitState = "done"
	Pinned    VisitState = "pinned"
)

// Visit is the work items done at one site in one go.
type Visit struct {
	ID         VisitID       `json:"id,omitempty"`
	State      VisitState    `json:"state"`
	Technician TechnicianID  `json:"technician"`
	Site       site.ID       `json:"site"`
	Arrives    civil.Instant `json:"arrives"`
	Leaves     civil.Instant `json:"leaves"`
	// SignIn is paid once, from Arrives.
	SignIn time.Duration `json:"sign_in"`
	Work   []WorkItem    `json:"work"`
	Cost   Cost          `json:"cost"`
}

// WorkItem is a follow-up (or one stretch of its way) or a service as placed in a plan. Waits lie between work items.
type WorkItem struct {
	Item ItemID `json:"item"`
	// Service is set for an occurrence of a service; Kind, Way and Part for a follow-up.
	Service site.ServiceKind `json:"service,omitempty"`
	Kind    FollowUpKind     `json:"kind,omitempty"`
	Way     WayID            `json:"way,omitempty"`
	Part    int              `json:"part,omitempty"` // index into the way's parts
	Area    site.AreaID      `json:"area,omitempty"` // empty for a service that covers several areas
	Plants  []site.PlantID   `json:"plants"`
	Begins  civil.Instant    `json:"begins"`
	Ends    civil.Instant    `json:"ends"`
	// Use is what was applied or is to be; MixIndex is the day route's mix it draws on, -1 for none.
	Use      *Use `json:"use,omitempty"`
	MixIndex int  `json:"mix_index"`
	// Marked says that a Not link holds: water, but do not let it run through.
	Marked bool `json:"marked,omitempty"`
	// Cost is what the item's day costs, its delay or lateness, told with its first work item. All else of a visit's cost is the
	// visit's: the way there, opening it, another technician, cleaning up. Pay is the day route's.
	Cost Cost `json:"cost,omitzero"`
}

// Mix is one filling of one product at one rate in one vessel.
type Mix struct {
	Technician TechnicianID        `json:"technician"`
	Product    catalogue.ProductID `json:"product"`
	Vessel     VesselID            `json:"vessel"`
	Measure    string              `json:"measure"`
	Site       site.ID             `json:"site"` // where it is made, at the visit of first use
	// Area is where it is made at the site; "" where the site has no water: then with carried water, of which as much is
	// carried as the vessel holds.
	Area        site.AreaID     `json:"area"`
	Need        quantity.Volume `json:"need"`        // sum of the amounts with reserve
	Volume      quantity.Volume `json:"volume"`      // finished, a mark of the vessel
	Concentrate quantity.Volume `json:"concentrate"` // a mark of the measure; nothing where the product is weighed or counted
	// Mass is weighed in by Measure, a scale; Organisms are counted in by Measure, a pack of the product.
	Mass      quantity.Mass `json:"mass,omitzero"`
	Organisms int64         `json:"organisms,omitempty"`
	Begins    civil.Instant `json:"begins"`   // mixing
	Ready     civil.Instant `json:"ready"`    // mixed; the mix life counts from Begins
	LastUse   civil.Instant `json:"last_use"` // end of the last application from it
	UseBy     civil.Instant `json:"use_by"`
	// Rinse ends the mix; at the site's water, or at the base on return when Site is not where it lies.
	Rinse       civil.Interval `json:"rinse"`
	RinseAtBase bool           `json:"rinse_at_base,omitempty"`
	// Note says why a larger mark than the least was taken, or "".
	Note string `json:"note,omitempty"`
}

// UnplannedStatus says why an item is not in the plan.
type UnplannedStatus string

// The statuses.
const (
	LeftOut  UnplannedStatus = "left-out" // its window ends inside the horizon
	Deferred UnplannedStatus = "deferred" // it may still be done after the horizon
)

// Unplanned is a follow-up or service that the plan does not hold, and why.
type Unplanned struct {
	Item    ItemID          `json:"item"`
	Status  UnplannedStatus `json:"status"`
	Reasons []Reason        `json:"reasons"` // at least one
	Cost    quantity.Money  `json:"cost"`
}

// Reason is one obstacle: the rule that speaks and a sentence for people.
type Reason struct {
	Rule Rule   `json:"rule,omitempty"` // "" when price and not a rule decided
	Text string `json:"text"`
}

// CostPart is a term of the cost.
type CostPart string

// The parts of the cost, all in minor units of the business's currency.
const (
	CostPaid            CostPart = "paid-time"
	CostOvertime        CostPart = "overtime"
	CostTravel          CostPart = "travel"
	CostVisits          CostPart = "opening-visits"
	CostOtherTechnician CostPart = "other-technician-or-day"
	CostDelay           CostPart = "delay-of-follow-ups"
	CostLateService     CostPart = "late-services"
	CostUnplanned       CostPart = "left-out-and-deferred"
	CostSanitation      CostPart = "sanitation"
	CostChanges         CostPart = "changes-to-published"
	CostUneven          CostPart = "uneven-days"
)

// CostParts lists every part in the order in which it is shown.
var CostParts = [...]CostPart{
	CostPaid, CostOvertime, CostTravel, CostVisits, CostOtherTechnician, CostDelay,
	CostLateService, CostUnplanned, CostSanitation, CostChanges, CostUneven,
}

// Cost is money by part; parts that are zero are left out, and Total is the exact sum of the parts.
type Cost struct {
	Total quantity.Money              `json:"total"`
	Parts map[CostPart]quantity.Money `json:"parts,omitempty"`
}

// Add adds an amount to a part and to the total.
func (c *Cost) Add(part CostPart, amount quantity.Money) {
	if amount == 0 {
		return
	}
	if c.Parts == nil {
		c.Parts = map[CostPart]quantity.Money{}
	}
	c.Parts[part] += amount
	c.Total += amount
	if c.Parts[part] == 0 {
		delete(c.Parts, part)
	}
}

// Plus adds every part of another cost.
func (c *Cost) Plus(other Cost) {
	for _, part := range CostParts {
		c.Add(part, other.Parts[part])
	}
}
