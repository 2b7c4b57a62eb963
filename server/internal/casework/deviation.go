package casework

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// keepDeviations stores every rule that the facts of the report broke.
func (t *telling) keepDeviations() error {
	for _, item := range t.report.Items {
		if item.Application == nil {
			continue
		}
		for _, judge := range []func(firm.ReportItem) (scheduler.Rule, string){
			t.labelRate, t.labelUse, t.labelConditions, t.labelLag, t.leftover, t.licence, t.occupied,
		} {
			if rule, text := judge(item); text != "" {
				t.deviate(rule, item.Item, item.Began, text)
			}
		}
		if err := t.tooEarly(item); err != nil {
			return err
		}
	}
	t.accessTime()
	return t.tx.InsertDeviations(t.deviations)
}

func (t *telling) deviate(rule scheduler.Rule, item scheduler.ItemID, at civil.Instant, text string) {
	t.deviations = append(t.deviations, firm.Deviation{
		ID: fmt.Sprintf("%s-%d", t.report.ID, len(t.deviations)+1), Report: t.report.ID,
		Rule: rule, Item: item, Site: t.site.ID, At: at, Text: text,
	})
}

// labelRate: stronger than the label allows.
func (t *telling) labelRate(item firm.ReportItem) (scheduler.Rule, string) {
	times, above := t.strength(item.Application)
	if !above {
		return "", ""
	}
	product, _ := t.product(item.Application.Product)
	return scheduler.RuleLabel, fmt.Sprintf("%s was mixed at %s times the label's greatest rate (%v in %v; the label allows %v): what is left goes on no plant",
		product.Name, times, item.Application.Concentrate, item.Application.Volume, product.Label.MaxRate)
}

// labelUse: on a plant, at a kind of place or for a pest that the label does not allow.
func (t *telling) labelUse(item firm.ReportItem) (scheduler.Rule, string) {
	product, _ := t.product(item.Application.Product)
	kind := t.placeKind(t.areaOf(item))
	if !slices.Contains(product.Label.Places, kind) {
		return scheduler.RuleLabel, fmt.Sprintf("the label of %s does not list %s as a place of use", product.Name, kind)
	}
	for _, id := range t.plantsOf(item) {
		plant, _ := t.plant(id)
		if slices.Contains(product.Label.MustNot, plant.Species) {
			return scheduler.RuleLabel, fmt.Sprintf("the label of %s excludes %s, of which %s is one", product.Name, plant.Species, plant.Name)
		}
	}
	return "", ""
}

// labelConditions: near a sensitive thing without what the label asks for there.
func (t *telling) labelConditions(item firm.ReportItem) (scheduler.Rule, string) {
	product, _ := t.product(item.Application.Product)
	unmet := slices.DeleteFunc(Conditions(t.site, t.areaOf(item), product), func(condition string) bool {
		return slices.Contains(item.ConditionsMet, condition)
	})
	if len(unmet) == 0 {
		return "", ""
	}
	return scheduler.RuleLabel, fmt.Sprintf("%s was applied in %s, and nobody ticked what its label asks for there: %s",
		product.Name, nameOf(t.site, t.areaOf(item)), strings.Join(unmet, "; "))
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

// labelLag: nearer to another application to a plant than the label allows. Reports come in any order: the other one
// may have been made later.
func (t *telling) labelLag(item firm.ReportItem) (scheduler.Rule, string) {
	product, _ := t.product(item.Application.Product)
	if product.Label.LeastDays == 0 {
		return "", ""
	}
	day := t.site.Zone.DateOf(item.Began)
	for _, last := range t.applicationsTo(t.plantsOf(item), item.Item) {
		if last.Product != product.ID {
			continue
		}
		days, which := day.DaysSince(t.site.Zone.DateOf(last.Began)), "after the application before"
		if last.Began > item.Began {
			days, which = -days, "before the next application"
		}
		if days < product.Label.LeastDays {
			return scheduler.RuleLabel, fmt.Sprintf("%s was applied %d days %s; its label asks for %d", product.Name, days, which, product.Label.LeastDays)
		}
	}
	return "", ""
}

// leftover: what was left of a mix went into a drain.
func (t *telling) leftover(item firm.ReportItem) (scheduler.Rule, string) {
	if item.Application.LeftWent != firm.IntoDrain {
		return "", ""
	}
	rest := "the rest"
	if left := item.Application.Left; left != nil {
		rest = left.String()
	}
	return scheduler.RuleLabel, fmt.Sprintf("%s of the mix went into a drain: a rest goes onto plants that the label allows or home in the labelled container, never into a drain", rest)
}

// applicationsTo returns the other applications to any of the plants, over all their cases; what the report corrects is
// none of them.
func (t *telling) applicationsTo(plants []site.PlantID, but scheduler.ItemID) []course.Application {
	var made []course.Application
	for _, h := range corrected(t.histories) {
		for _, e := range h.Events {
			if e.Application == nil || (but != "" && e.Application.FollowUp == but) || (t.report.Corrects != "" && reportOf(e.ID) == t.report.Corrects) {
				continue
			}
			if slices.ContainsFunc(e.Application.Plants, func(id site.PlantID) bool { return slices.Contains(plants, id) }) {
				made = append(made, *e.Application)
			}
		}
	}
	return made
}

// licence: by somebody without a licence of a category that the label asks for.
func (t *telling) licence(item firm.ReportItem) (scheduler.Rule, string) {
	product, _ := t.product(item.Application.Product)
	if len(product.Label.Categories) == 0 {
		return "", ""
	}
	if _, ok := t.licenceFor(product, t.site.Zone.DateOf(item.Began)); ok {
		return "", ""
	}
	return scheduler.RuleLicence, fmt.Sprintf("%s asks for a licence of category %v in %s; technician %s held none on that day",
		product.Name, product.Label.Categories, t.site.Jurisdiction, t.report.Technician)
}

func (t *telling) licenceFor(product catalogue.Product, on civil.Date) (scheduler.Licence, bool) {
	for _, l := range t.technician().Licences {
		if l.Jurisdiction == t.site.Jurisdiction && slices.Contains(product.Label.Categories, l.Category) &&
			l.From <= on && (l.To.IsZero() || on <= l.To) {
			return l, true
		}
	}
	return scheduler.Licence{}, false
}

// tooEarly: before the earliest day that the course of that time allowed.
func (t *telling) tooEarly(item firm.ReportItem) error {
	if item.Item == "" {
		return nil
	}
	then, err := courseAt(t.tx, caseOf(item), item.Began)
	if err != nil {
		return err
	}
	for _, f := range then.FollowUps {
		if f.ID != item.Item || f.Due.After != "" || f.Due.EarliestOn.IsZero() {
			continue
		}
		if day := t.site.Zone.DateOf(item.Began); day < f.Due.EarliestOn {
			t.deviate(scheduler.RuleTiming, item.Item, item.Began,
				fmt.Sprintf("%s was done on %s, before its earliest day %s", f.ID, day.Short(), f.Due.EarliestOn.Short()))
		}
	}
	return nil
}

// occupied: people's hours overlap the keep-out and the client did not agree to shut the area.
func (t *telling) occupied(item firm.ReportItem) (scheduler.Rule, string) {
	if item.Application.PeoplePresent {
		return scheduler.RuleReentry, fmt.Sprintf("people were in %s while it was treated", nameOf(t.site, t.areaOf(item)))
	}
	for _, k := range t.keepOuts(item) {
		i := slices.IndexFunc(t.site.Areas, func(a site.Area) bool { return a.ID == k.Area })
		if i < 0 || t.agreedToShut(k) {
			continue
		}
		if people := t.site.Areas[i].People.Open(t.site.Zone, k.During); len(people) > 0 {
			return scheduler.RuleReentry, fmt.Sprintf("%s is shut from %s to %s, and people are there from %s",
				t.site.Areas[i].Name, t.site.Zone.Format(k.During.From), t.site.Zone.Format(k.During.To), t.site.Zone.Format(people[0].From))
		}
	}
	return "", ""
}

func (t *telling) agreedToShut(k firm.KeepOutFact) bool {
	return slices.ContainsFunc(t.site.Agreement.ShutAreas, func(s site.ShutArea) bool {
		return s.Area == k.Area && s.From <= k.During.From && k.During.To <= s.To
	})
}

// accessTime: at the site outside its access windows.
func (t *telling) accessTime() {
	stay := civil.Interval{From: t.report.Arrived, To: max(t.report.Left, t.report.Arrived+1)}
	for _, run := range t.site.Access.Open(t.site.Zone, civil.Interval{From: stay.From.Add(-48 * time.Hour), To: stay.To.Add(48 * time.Hour)}) {
		if run.Covers(stay) {
			return
		}
	}
	t.deviate(scheduler.RuleAccess, "", t.report.Arrived, fmt.Sprintf("at %s from %s to %s, outside its access windows",
		t.site.Name, t.site.Zone.Format(stay.From), t.site.Zone.Format(stay.To)))
}

// keepOuts returns the areas that an application as made shuts, and until when. An unknown interval shuts as long
// as the longest known one of the label's kind would not tell: it is recorded without an end to be assumed, so none is made.
func (t *telling) keepOuts(item firm.ReportItem) []firm.KeepOutFact {
	product, _ := t.product(item.Application.Product)
	method := catalogue.Shipped().Materials[product.Material].Method
	shut, unventilated, err := reentry.Resolve(product.Label.Entry, method, t.business.Policy.UntilDry, t.business.Policy.UnventilatedFactorPercent)
	area := t.areaOf(item)
	if err != nil || area == "" {
		return nil
	}
	var facts []firm.KeepOutFact
	for _, k := range reentry.KeepOuts(t.site, reentry.Treatment{Area: area, Begins: item.Began, Ends: item.Ended, KeepOut: shut, Unventilated: unventilated}) {
		fact := firm.KeepOutFact{KeepOut: scheduler.KeepOut{
			Area: k.Area, During: k.During, Product: product.ID, By: t.report.Technician, Item: item.Item,
			UntilDry: product.Label.Entry.Kind == catalogue.EntryUntilDry,
		}}
		if t.visit != nil {
			fact.Visit = t.visit.ID
		}
		facts = append(facts, fact)
	}
	return facts
}

func nameOf(s site.Site, id site.AreaID) string {
	for _, a := range s.Areas {
		if a.ID == id {
			return a.Name
		}
	}
	return string(id)
}

func (t *telling) placeKind(area site.AreaID) catalogue.PlaceKind {
	for _, a := range t.site.Areas {
		if a.ID == area && a.Kind != "" {
			return a.Kind
		}
	}
	return t.site.Kind
}
