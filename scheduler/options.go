package scheduler

import (
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
)

// Options steer a search and price its answers. Rates are a copy of the business's policy.
type Options struct {
	Seed uint64 `json:"seed"`
	// Iterations bounds the search of each island; the answer is then the same for a seed. 0 is as many as Limit allows, and
	// without a Limit the construction only.
	Iterations int `json:"iterations"`
	// Limit bounds the time; 0 is none. Under a limit that strikes first the answer is not repeatable.
	Limit time.Duration `json:"limit,omitempty"`
	// Islands are searches side by side that look at one another now and then; 0 is one. The answer depends on their number,
	// never on that of the processor's cores; more than there are cores only take longer.
	Islands int   `json:"islands,omitempty"`
	Rates   Rates `json:"rates"`
	// Report is called after every improvement and now and then; it must be quick. nil is nobody.
	Report func(Progressed) `json:"-"`
}

// Progressed is how far a search has come.
type Progressed struct {
	Iteration int
	Best      Cost
	Bound     quantity.Money
}

// Rates are what the weighed terms cost, in minor units of the business's currency.
type Rates struct {
	OvertimePercent   Rate `json:"overtime_percent"`    // added to pay past MostWork's usual length
	LeastPaidMinutes  Rate `json:"least_paid_minutes"`  // on a day with work
	VehicleMinute     Rate `json:"vehicle_minute"`      // a driven minute
	Visit             Rate `json:"visit"`               // opening a visit
	OtherTechnician   Rate `json:"other_technician"`    // another technician than usual
	OtherWeekday      Rate `json:"other_weekday"`       // another weekday than usual
	LateServiceDay    Rate `json:"late_service_day"`    // a service a day past its latest day, per group
	LeftOutService    Rate `json:"left_out_service"`    // a promised service left out
	LateInspectionDay Rate `json:"late_inspection_day"` // an inspection a day past its latest day
	MovedPublished    Rate `json:"moved_published"`     // a published visit that moves
	MovedAnnounced    Rate `json:"moved_announced"`     // an announced visit that moves
	UnevenMinute      Rate `json:"uneven_minute"`       // a minute by which a technician's day lies above their mean
	DeferredVisit     Rate `json:"deferred_visit"`      // usual cost of a visit, for what is deferred
	SanitationMinute  Rate `json:"sanitation_minute"`   // after an infested site
}

// Rate is an amount with its unit and standing; the standing is shown beside costs.
type Rate struct {
	Amount   quantity.Money     `json:"amount"`
	Unit     string             `json:"unit"`
	Standing catalogue.Standing `json:"standing"`
	Source   string             `json:"source,omitempty"`
}
