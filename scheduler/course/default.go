package course

import (
	"fmt"
	"strconv"

	"vernation/scheduler/catalogue"
)

// DefaultPolicy returns the policy of a business that has set none of its own: the catalogue's defaults with
// their standings. It panics when a default is missing, which the catalogue's own tests exclude.
func DefaultPolicy(c *catalogue.Catalogue) Policy {
	p := Policy{Standings: map[string]catalogue.Standing{"extent_by_severity": c.ExtentDefaults.Standing}}
	copy(p.ExtentBySeverity[:], c.ExtentDefaults.BySeverity)
	for name, number := range p.ByName(c) {
		figure, ok := c.PolicyDefaults[name]
		if !ok {
			panic(fmt.Sprintf("course: the catalogue has no default of %q", name))
		}
		number.Set(figure.Value, figure.Unit)
		p.Standings[name] = figure.Standing
	}
	return p
}

// ByName gives each number of a policy under the name that data files use for it; setting through it sets the policy.
func (p *Policy) ByName(c *catalogue.Catalogue) map[string]catalogue.Number {
	numbers := map[string]catalogue.Number{
		"notice_lead": catalogue.Length(&p.NoticeLead), "publishing_delay": catalogue.Length(&p.PublishingDelay), "acknowledge_within": catalogue.Length(&p.AcknowledgeWithin),
		"unventilated_factor_percent": catalogue.Count(&p.UnventilatedFactorPercent),
		"reserve_percent":             catalogue.Count(&p.ReservePercent), "least_rate_percent": catalogue.Count(&p.LeastRatePercent),
		"neighbour_days": catalogue.Count(&p.NeighbourDays), "clear_bound": catalogue.Real(&p.ClearBound),
		"most_chance": catalogue.Real(&p.MostChance), "most_looks": catalogue.Count(&p.MostLooks),
		"introduction_per_look": catalogue.Real(&p.IntroductionPerLook), "look_every_days": catalogue.Count(&p.LookEveryDays),
		"recurrence_months": catalogue.Count(&p.RecurrenceMonths), "isolate_below_cm": catalogue.Count(&p.IsolateBelowCM),
		"paid_per_minute": catalogue.Price(&p.PaidPerMinute), "visit_cost": catalogue.Price(&p.VisitCost),
		"late_application_day": catalogue.Price(&p.LateApplicationDay), "share_of_visit_percent": catalogue.Count(&p.ShareOfVisitPercent),
		"material_per_litre": catalogue.Price(&p.MaterialPerLitre), "waste_per_replacement": catalogue.Price(&p.WastePerReplacement),
		"fitting_minutes": catalogue.Count(&p.FittingMinutes), "spread_per_insect_day": catalogue.Real(&p.SpreadPerInsectDay),
		"inspect_minutes": catalogue.Count(&p.InspectMinutes), "card_minutes": catalogue.Count(&p.CardMinutes),
		"carry_minutes_per_plant": catalogue.Count(&p.CarryMinutesPerPlant), "most_away": catalogue.Length(&p.MostAway),
		"patch_test_days": catalogue.Count(&p.PatchTestDays), "quarantine_days": catalogue.Count(&p.QuarantineDays),
		"watch_every_days": catalogue.Count(&p.WatchEveryDays), "liner_drench_percent": catalogue.Count(&p.LinerDrenchPercent),
		"order_days": catalogue.Count(&p.OrderDays), "card_threshold": catalogue.Count(&p.CardThreshold),
	}
	for severity := 0; severity <= worstSeverity; severity++ {
		key := "." + strconv.Itoa(severity)
		numbers["first_days_by_severity"+key] = catalogue.Count(&p.FirstDaysBySeverity[severity])
		numbers["start_per_plant"+key] = catalogue.Real(&p.StartPerPlant[severity])
		numbers["loss_share_by_severity"+key] = catalogue.Real(&p.LossShareBySeverity[severity])
	}
	for _, method := range catalogue.Methods {
		name := "until_dry." + string(method)
		if _, has := c.PolicyDefaults[name]; has {
			numbers[name] = catalogue.LengthUnder(&p.UntilDry, method)
		}
	}
	return numbers
}
