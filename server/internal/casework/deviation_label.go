package casework

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/site"
)

// lawful: a household remedy that nobody recorded as lawful there, or a product that is not registered there where the
// law asks for a registered one.
func (t *telling) lawful(a application) {
	where := t.site.Jurisdiction
	switch a.material.Law {
	case catalogue.HouseholdRemedy:
		if strings.TrimSpace(a.product.LawfulBecause[where]) == "" {
			t.breach(a, scheduler.RuleLabel, "%s is a household remedy, and the responsible applicator has not recorded why it is lawful in %s", a.product.Name, where)
		}
	case catalogue.RegisteredProduct:
		if a.product.Registration == "" {
			t.breach(a, scheduler.RuleLabel, "%s has no registration number on record; the law asks for a registered product", a.product.Name)
		}
		// A registration in the country around is none in the state: plans are judged so too.
		if !slices.Contains(a.product.Jurisdictions, where) {
			t.breach(a, scheduler.RuleLabel, "%s is not registered in %s by its record", a.product.Name, where)
		}
	}
}

// labelRate: stronger than the label allows, or weaker than the least rate that it states.
func (t *telling) labelRate(a application) {
	if a.product.Form != catalogue.Concentrate && a.product.Label.MaxPortion != nil {
		t.portionRate(a)
		return
	}
	if times, above := t.strength(&a.made, a.plants); above {
		t.breach(a, scheduler.RuleLabel, "%s was mixed at %s times the label's greatest rate (%v in %v; the label allows %v): what is left goes on no plant",
			a.product.Name, times, a.made.Concentrate, a.made.Volume, a.product.Label.MaxRate)
	}
	if least := a.product.Label.MinRate; least != nil && !a.made.Volume.IsZero() && dilution.Strength(a.made.Concentrate, a.made.Volume).Cmp(least.Share()) < 0 {
		t.breach(a, scheduler.RuleMix, "%s was mixed %v in %v, weaker than its label's least rate of %v", a.product.Name, a.made.Concentrate, a.made.Volume, *least)
	}
}

// portionRate: more, or less than the least that it states, of what is weighed or counted: in the mix, or for the plants' pots or soil.
func (t *telling) portionRate(a application) {
	label := a.product.Label
	if times, above := t.strength(&a.made, a.plants); above {
		t.breach(a, scheduler.RuleLabel, "%s was applied at %s times the label's greatest rate, %v: what is left goes on no plant", a.product.Name, times, label.MaxPortion)
	}
	if label.MinPortion == nil {
		return
	}
	if times, known := a.made.Dosed().TimesRate(*label.MinPortion, a.plants); known && times.Cmp(big.NewRat(1, 1)) < 0 {
		t.breach(a, scheduler.RuleMix, "%s was applied at %s times its label's least rate, %v", a.product.Name, times.FloatString(3), label.MinPortion)
	}
}

// labelUse: at a kind of place, for a pest or on a species that the label does not allow. Physical work has no label.
func (t *telling) labelUse(a application) {
	label := a.product.Label
	if a.product.Form != catalogue.NoSupply {
		if !slices.Contains(label.Places, a.kind) {
			t.breach(a, scheduler.RuleLabel, "the label of %s does not list %s as a place of use", a.product.Name, a.kind)
		}
		if pest := t.pestOf(a.ReportItem); pest != "" && !slices.Contains(label.Pests, pest) {
			t.breach(a, scheduler.RuleLabel, "the label of %s does not list %s", a.product.Name, pestName(pest))
		}
	}
	var told []catalogue.SpeciesID
	for _, plant := range a.plants {
		if slices.Contains(label.MustNot, plant.Species) && !slices.Contains(told, plant.Species) {
			told = append(told, plant.Species)
			t.breach(a, scheduler.RuleLabel, "the label of %s excludes %s, of which %s is one", a.product.Name, plant.Species, plant.Name)
		}
	}
}

// intervalKnown: applied though nobody knows when people may come back.
func (t *telling) intervalKnown(a application) {
	if _, known := t.term(a.product, a.area); !known {
		t.breach(a, scheduler.RuleLabel, "the interval before entry of %s is not known: read it from the label; none is assumed, and nobody can be told when people may enter", a.product.Name)
	}
}

// labelKeepAway: near a sensitive thing from which the label keeps away on any condition.
func (t *telling) labelKeepAway(a application) {
	near := sensitiveNear(t.site, a.area)
	for _, away := range a.product.Label.KeepAway {
		if away.Condition == "" && slices.Contains(near, away.Thing) {
			t.breach(a, scheduler.RuleLabel, "the label of %s keeps away from %s, which is in %s or open to it", a.product.Name, plain(away.Thing), nameOf(t.site, a.area))
		}
	}
}

// labelConditions: near a sensitive thing without what the label asks for there.
func (t *telling) labelConditions(a application) {
	unmet := slices.DeleteFunc(Conditions(t.site, a.area, a.product), func(condition string) bool {
		return slices.Contains(a.ConditionsMet, condition)
	})
	if len(unmet) > 0 {
		t.breach(a, scheduler.RuleLabel, "%s was applied in %s, and nobody ticked what its label asks for there: %s",
			a.product.Name, nameOf(t.site, a.area), strings.Join(unmet, "; "))
	}
}

// Conditions lists the steps without which the label forbids a product near the sensitive things in an area and in
// those open to it, in order of the things: a day route shows them, and a report ticks them word for word.
func Conditions(at site.Site, area site.AreaID, product catalogue.Product) []string {
	var conditions []string
	for _, thing := range sensitiveNear(at, area) {
		for _, away := range product.Label.KeepAway {
			if away.Thing == thing && away.Condition != "" {
				conditions = append(conditions, fmt.Sprintf("%s: %s", thing, away.Condition))
			}
		}
	}
	return conditions
}

// sensitiveNear lists the sensitive things in an area and in those open to it, each once.
func sensitiveNear(at site.Site, id site.AreaID) []catalogue.Sensitive {
	var here site.Area
	if i := slices.IndexFunc(at.Areas, func(a site.Area) bool { return a.ID == id }); i >= 0 {
		here = at.Areas[i]
	}
	var things []catalogue.Sensitive
	for _, a := range at.Areas {
		if a.ID == id || slices.Contains(a.OpenTo, id) || slices.Contains(here.OpenTo, a.ID) {
			things = append(things, a.Sensitive...)
		}
	}
	slices.Sort(things)
	return slices.Compact(things)
}

// labelWeather: what was measured in the area, or where nothing was the coldest and the warmest of the season there, does not
// lie within the label's temperatures.
func (t *telling) labelWeather(a application) {
	label := a.product.Label
	i := slices.IndexFunc(t.site.Areas, func(area site.Area) bool { return area.ID == a.area })
	if i < 0 || label.MinCelsius == nil && label.MaxCelsius == nil {
		return
	}
	if a.made.Celsius != nil {
		t.measuredWeather(a, *a.made.Celsius)
		return
	}
	season, known := t.site.Areas[i].Climate.On(a.on)
	if !known {
		t.breach(a, scheduler.RuleLabel, "the temperature of %s on %s is not known; the label of %s states a limit", t.site.Areas[i].Name, a.on.Short(), a.product.Name)
		return
	}
	if label.MinCelsius != nil && season.Coldest < *label.MinCelsius {
		t.breach(a, scheduler.RuleLabel, "%s may be as cold as %g °C; the label of %s asks for %g °C at least", t.site.Areas[i].Name, season.Coldest, a.product.Name, *label.MinCelsius)
	}
	if label.MaxCelsius != nil && season.Warmest > *label.MaxCelsius {
		t.breach(a, scheduler.RuleLabel, "%s may be as warm as %g °C; the label of %s allows %g °C at most", t.site.Areas[i].Name, season.Warmest, a.product.Name, *label.MaxCelsius)
	}
}

// measuredWeather: the temperature that was measured does not lie within the label's.
func (t *telling) measuredWeather(a application, celsius float64) {
	label := a.product.Label
	if label.MinCelsius != nil && celsius < *label.MinCelsius {
		t.breach(a, scheduler.RuleLabel, "it was %g °C in %s; the label of %s asks for %g °C at least", celsius, nameOf(t.site, a.area), a.product.Name, *label.MinCelsius)
	}
	if label.MaxCelsius != nil && celsius > *label.MaxCelsius {
		t.breach(a, scheduler.RuleLabel, "it was %g °C in %s; the label of %s allows %g °C at most", celsius, nameOf(t.site, a.area), a.product.Name, *label.MaxCelsius)
	}
}

// labelHumidity: what was measured in the area, or where nothing was the greatest that is on record there, lies above the
// label's relative humidity.
func (t *telling) labelHumidity(a application) {
	limit := a.product.Label.MaxHumidity
	i := slices.IndexFunc(t.site.Areas, func(area site.Area) bool { return area.ID == a.area })
	if limit == nil || i < 0 {
		return
	}
	measured, area := a.made.HumidityPercent, t.site.Areas[i]
	switch {
	case measured != nil && *measured > *limit:
		t.breach(a, scheduler.RuleLabel, "the relative humidity in %s was %g %%; the label of %s allows %g %% at most", area.Name, *measured, a.product.Name, *limit)
	case measured != nil:
	case area.Humidity == nil:
		t.breach(a, scheduler.RuleLabel, "nobody measured the relative humidity of %s, which is not known; the label of %s allows %g %% at most", area.Name, a.product.Name, *limit)
	case area.Humidity.Greatest > *limit:
		t.breach(a, scheduler.RuleLabel, "nobody measured the relative humidity of %s, which may be %g %%; the label of %s allows %g %% at most", area.Name, area.Humidity.Greatest, a.product.Name, *limit)
	}
}

// Readings lists what is to be measured in an area before an application and told with it, because the label states a limit
// that the area's record does not keep for certain.
func Readings(at site.Site, id site.AreaID, on civil.Date, product catalogue.Product) []string {
	i := slices.IndexFunc(at.Areas, func(a site.Area) bool { return a.ID == id })
	if i < 0 {
		return nil
	}
	area, label := at.Areas[i], product.Label
	var asked []string
	season, known := area.Climate.On(on)
	if low := label.MinCelsius; low != nil && (!known || season.Coldest < *low) {
		asked = append(asked, fmt.Sprintf("the temperature of %s: the label of %s asks for %g °C at least", area.Name, product.Name, *low))
	}
	if high := label.MaxCelsius; high != nil && (!known || season.Warmest > *high) {
		asked = append(asked, fmt.Sprintf("the temperature of %s: the label of %s allows %g °C at most", area.Name, product.Name, *high))
	}
	if high := label.MaxHumidity; high != nil && (area.Humidity == nil || area.Humidity.Greatest > *high) {
		asked = append(asked, fmt.Sprintf("the relative humidity of %s: the label of %s allows %g %% at most", area.Name, product.Name, *high))
	}
	return asked
}

// labelHours: at a time of day at which the label does not allow it.
func (t *telling) labelHours(a application) {
	hours := a.product.Label.Hours
	if len(hours) == 0 {
		return
	}
	var runs []civil.Interval
	for day := a.on.AddDays(-1); day <= a.on; day++ { // a window of the day before may close after midnight
		for _, window := range hours {
			runs = append(runs, t.site.Zone.Runs(day, window)...)
		}
	}
	if slices.ContainsFunc(civil.Merge(runs), func(run civil.Interval) bool { return run.Covers(a.during()) }) {
		return
	}
	allowed := make([]string, len(hours))
	for i, window := range hours {
		allowed[i] = fmt.Sprintf("%v to %v", window.Opens, window.Closes)
	}
	t.breach(a, scheduler.RuleLabel, "%s was applied from %s to %s; its label allows %s",
		a.product.Name, t.site.Zone.FormatClock(a.Began), t.site.Zone.FormatClock(a.Ended), strings.Join(allowed, " or "))
}

func pestName(id catalogue.PestID) string {
	if pest, err := catalogue.Shipped().PestByID(id); err == nil {
		return pest.Name
	}
	return string(id)
}
