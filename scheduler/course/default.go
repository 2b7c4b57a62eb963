package course

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
)

// DefaultPolicy returns the policy of a business that has set none of its own: the catalogue's defaults with
// their standings. It panics when a default is missing, which the catalogue's own tests exclude.
func DefaultPolicy(c *catalogue.Catalogue) Policy {
	r := defaults{c.PolicyDefaults, map[string]catalogue.Standing{}}
	p := Policy{
		NoticeLead: r.duration("notice_lead"), PublishingDelay: r.duration("publishing_delay"), AcknowledgeWithin: r.duration("acknowledge_within"),
		UntilDry: map[catalogue.Method]time.Duration{}, UnventilatedFactorPercent: r.whole("unventilated_factor_percent"),
		ReservePercent: r.whole("reserve_percent"), LeastRatePercent: r.whole("least_rate_percent"),
		NeighbourDays: r.whole("neighbour_days"),
		ClearBound:    r.value("clear_bound"), MostChance: r.value("most_chance"), MostLooks: r.whole("most_looks"),
		IntroductionPerLook: r.value("introduction_per_look"), LookEveryDays: r.whole("look_every_days"),
		RecurrenceMonths: r.whole("recurrence_months"), IsolateBelowCM: r.whole("isolate_below_cm"),
		PaidPerMinute: r.money("paid_per_minute"), VisitCost: r.money("visit_cost"), LateApplicationDay: r.money("late_application_day"),
		ShareOfVisitPercent: r.whole("share_of_visit_percent"), MaterialPerLitre: r.money("material_per_litre"),
		WastePerReplacement: r.money("waste_per_replacement"), FittingMinutes: r.whole("fitting_minutes"),
		SpreadPerInsectDay: r.value("spread_per_insect_day"), InspectMinutes: r.whole("inspect_minutes"),
		CardMinutes: r.whole("card_minutes"), CarryMinutesPerPlant: r.whole("carry_minutes_per_plant"),
		MostAway: r.duration("most_away"), PatchTestDays: r.whole("patch_test_days"),
		QuarantineDays: r.whole("quarantine_days"), WatchEveryDays: r.whole("watch_every_days"),
		LinerDrenchPercent: r.whole("liner_drench_percent"), OrderDays: r.whole("order_days"), CardThreshold: r.whole("card_threshold"),
		Standings: r.standings,
	}
	copy(p.ExtentBySeverity[:], c.ExtentDefaults.BySeverity)
	r.standings["extent_by_severity"] = c.ExtentDefaults.Standing
	for severity := 0; severity <= worstSeverity; severity++ {
		key := "." + strconv.Itoa(severity)
		p.FirstDaysBySeverity[severity] = r.whole("first_days_by_severity" + key)
		p.StartPerPlant[severity] = r.value("start_per_plant" + key)
		p.LossShareBySeverity[severity] = r.value("loss_share_by_severity" + key)
	}
	for _, method := range catalogue.Methods {
		if name := "until_dry." + string(method); r.has(name) {
			p.UntilDry[method] = r.duration(name)
		}
	}
	return p
}

// defaults reads figures by name and keeps their standings.
type defaults struct {
	figures   map[string]catalogue.Figure
	standings map[string]catalogue.Standing
}

func (d defaults) has(name string) bool { _, ok := d.figures[name]; return ok }

func (d defaults) figure(name string) catalogue.Figure {
	figure, ok := d.figures[name]
	if !ok {
		panic(fmt.Sprintf("course: the catalogue has no default of %q", name))
	}
	d.standings[name] = figure.Standing
	return figure
}

func (d defaults) value(name string) float64 { return d.figure(name).Value }

func (d defaults) whole(name string) int { return int(math.Round(d.value(name))) }

func (d defaults) money(name string) quantity.Money {
	return quantity.Money(math.Round(d.value(name)))
}

func (d defaults) duration(name string) time.Duration {
	length, ok := d.figure(name).Duration()
	if !ok {
		panic(fmt.Sprintf("course: default %q is in %q: want a unit of time", name, d.figures[name].Unit))
	}
	return length
}
