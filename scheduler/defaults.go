package scheduler

import (
	"fmt"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
)

// DefaultRates are the rates of a business that has set none of its own: the catalogue's, with their standings.
// It panics when one is missing, which the catalogue's own tests exclude.
func DefaultRates(c *catalogue.Catalogue) Rates {
	var r Rates
	for name, rate := range r.ByName() {
		figure, ok := c.RateDefaults[name]
		if !ok {
			panic(fmt.Sprintf("scheduler: the catalogue has no default rate %q", name))
		}
		*rate = Rate{Amount: quantity.Money(figure.Value), Unit: figure.Unit, Standing: figure.Standing, Source: figure.Source}
	}
	return r
}

// ByName gives each rate under the name that data files use for it; setting through it sets the rate.
func (r *Rates) ByName() map[string]*Rate {
	return map[string]*Rate{
		"overtime_percent": &r.OvertimePercent, "least_paid_minutes": &r.LeastPaidMinutes, "vehicle_minute": &r.VehicleMinute,
		"visit": &r.Visit, "other_technician": &r.OtherTechnician, "other_weekday": &r.OtherWeekday,
		"late_service_day": &r.LateServiceDay, "left_out_service": &r.LeftOutService, "late_inspection_day": &r.LateInspectionDay,
		"moved_published": &r.MovedPublished, "moved_announced": &r.MovedAnnounced, "uneven_minute": &r.UnevenMinute,
		"deferred_visit": &r.DeferredVisit, "sanitation_minute": &r.SanitationMinute,
	}
}

// DefaultRules are the rules of a business that has set none of its own: the catalogue's. Notices, categories and
// supervision are resolved per Problem. It panics when one is missing, which the catalogue's own tests exclude.
func DefaultRules(c *catalogue.Catalogue) PlaceRules {
	var rules PlaceRules
	for name, number := range rules.ByName() {
		figure, ok := c.RuleDefaults[name]
		if !ok {
			panic(fmt.Sprintf("scheduler: the catalogue has no default of rule %q", name))
		}
		number.Set(figure.Value, figure.Unit)
	}
	return rules
}

// ByName gives each number of the rules under the name that data files use for it; setting through it sets the rule.
func (r *PlaceRules) ByName() map[string]catalogue.Number {
	return map[string]catalogue.Number{
		"publishing_delay": catalogue.Length(&r.PublishingDelay), "notice_tolerance": catalogue.Length(&r.NoticeTolerance),
		"break_after": catalogue.Length(&r.BreakAfter), "most_work": catalogue.Length(&r.MostWork),
		"mixing": catalogue.Length(&r.Mixing), "rinsing": catalogue.Length(&r.Rinsing), "sanitation": catalogue.Length(&r.Sanitation),
		"least_rate_percent": catalogue.Count(&r.LeastRatePercent),
	}
}
