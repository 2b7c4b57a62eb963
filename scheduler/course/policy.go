package course

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
)

// Policy is the business's own settings; every default carries its standing. Money is in minor units.
type Policy struct {
	// FirstDaysBySeverity is the latest day of a first application after the finding, by severity 0 to 3.
	FirstDaysBySeverity [4]int `json:"first_days_by_severity"`
	// ExtentBySeverity is on what a treatment goes, by severity 0 to 3; unset is the catalogue's default.
	ExtentBySeverity [4]catalogue.Extent `json:"extent_by_severity"`
	// NoticeLead is used where neither agreement nor jurisdiction says; PublishingDelay is added to now.
	NoticeLead      time.Duration `json:"notice_lead"`
	PublishingDelay time.Duration `json:"publishing_delay"`
	// AcknowledgeWithin is how long a technician may take to acknowledge a change for safety before the office hears of it.
	AcknowledgeWithin time.Duration `json:"acknowledge_within"`
	// UntilDry is the least keep-out by method where a label says until dry; UnventilatedFactorPercent scales it.
	UntilDry                  map[catalogue.Method]time.Duration `json:"until_dry"`
	UnventilatedFactorPercent int                                `json:"unventilated_factor_percent"`
	ReservePercent            int                                `json:"reserve_percent"`
	LeastRatePercent          int                                `json:"least_rate_percent"`
	// NeighbourDays is the most days between two looks at neighbours.
	NeighbourDays int `json:"neighbour_days"`
	// ClearBound is the chance of being free at which a case ends; MostChance caps the prior; MostLooks the looks.
	ClearBound          float64 `json:"clear_bound"`
	MostChance          float64 `json:"most_chance"`
	MostLooks           int     `json:"most_looks"`
	IntroductionPerLook float64 `json:"introduction_per_look"`
	LookEveryDays       int     `json:"look_every_days"`
	RecurrenceMonths    int     `json:"recurrence_months"`
	// IsolateBelowCM: suspected and new plants under this height are kept apart.
	IsolateBelowCM int `json:"isolate_below_cm"`
	// StartPerPlant is the assumed number of insects of all stages on one infested plant by severity 0 to 3.
	StartPerPlant [4]float64 `json:"start_per_plant"`
	// Money.
	PaidPerMinute quantity.Money `json:"paid_per_minute"`
	VisitCost     quantity.Money `json:"visit_cost"`
	// LateApplicationDay is what a day past an application's latest is worth beside what the model expects of it.
	LateApplicationDay   quantity.Money `json:"late_application_day"`
	ShareOfVisitPercent  int            `json:"share_of_visit_percent"`
	MaterialPerLitre     quantity.Money `json:"material_per_litre"`
	WastePerReplacement  quantity.Money `json:"waste_per_replacement"`
	FittingMinutes       int            `json:"fitting_minutes"`
	LossShareBySeverity  [4]float64     `json:"loss_share_by_severity"`
	SpreadPerInsectDay   float64        `json:"spread_per_insect_day"`
	InspectMinutes       int            `json:"inspect_minutes"` // per plant
	CardMinutes          int            `json:"card_minutes"`
	CarryMinutesPerPlant int            `json:"carry_minutes_per_plant"`
	// MostAway is the greatest time that plants carried to a treatment place stay away.
	MostAway time.Duration `json:"most_away"`
	// PatchTestDays pass between a patch test and the treatment.
	PatchTestDays int `json:"patch_test_days"`
	// QuarantineDays is how long a new plant stays apart, looked at every LookEveryDays.
	QuarantineDays int `json:"quarantine_days"`
	// WatchEveryDays is how often a case that is kept low is looked at; 0 is as often as any other (LookEveryDays).
	WatchEveryDays int `json:"watch_every_days"`
	// LinerDrenchPercent of the pot volume is all that is poured into a liner without drain; 0 is no such bound.
	LinerDrenchPercent int `json:"liner_drench_percent"`
	// OrderDays pass at least between the order and the delivery of living goods; 0 is that they are at hand.
	OrderDays int `json:"order_days"`
	// CardThreshold is the number of adults on the cards of one look from which a course of drenches is worth its cost.
	CardThreshold int                           `json:"card_threshold"`
	Standings     map[string]catalogue.Standing `json:"standings"` // by field name
}

// Validate says what of a policy cannot be: paths are of its fields.
func (p Policy) Validate() []catalogue.FieldError {
	var fields []catalogue.FieldError
	for severity, extent := range p.ExtentBySeverity {
		if extent != "" && !slices.Contains(catalogue.Extents[:], extent) {
			fields = append(fields, catalogue.FieldError{Path: fmt.Sprintf("extent_by_severity[%d]", severity), Reason: "UNKNOWN_EXTENT",
				Text: fmt.Sprintf("%q for severity %d: want one of %q", extent, severity, catalogue.Extents)})
		}
	}
	return fields
}

// extent is on what a treatment goes at a severity.
func (p Policy) extent(c *catalogue.Catalogue, severity int) catalogue.Extent {
	severity = min(max(severity, 0), worstSeverity)
	if own := p.ExtentBySeverity[severity]; own != "" {
		return own
	}
	return c.ExtentDefaults.BySeverity[severity]
}
