package casework

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/dilution"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// eventID names what a report tells of one item, so that the same report told twice counts once.
func eventID(report string, item int, what string) string {
	return fmt.Sprintf("report/%s/%d/%s", report, item, what)
}

// findingInfix stands between the id of a report and the number of a finding that it tells.
const findingInfix = "-finding-"

// reportOf returns the report that an event came from, or "".
func reportOf(event string) string {
	parts := strings.Split(event, "/")
	if len(parts) < 2 || parts[0] != "report" {
		return ""
	}
	return parts[1]
}

// appendEvents turns the report's items into events of their cases' histories.
func (t *telling) appendEvents() error {
	events := map[course.CaseID][]course.Event{}
	for i, item := range t.report.Items {
		if id := caseOf(item); id != "" {
			events[id] = append(events[id], t.eventsOf(i, item)...)
		}
	}
	for _, id := range t.cases {
		if _, err := t.tx.AppendEvents(id, t.inPlaceOf(id, events[id])); err != nil {
			return err
		}
	}
	return nil
}

// inPlaceOf lets what a correcting report tells of a case take the place of what the report that it corrects told of
// it. What the first told beyond that is withdrawn.
func (t *telling) inPlaceOf(id course.CaseID, told []course.Event) []course.Event {
	if t.report.Corrects == "" {
		return told
	}
	for i, old := range t.toldFirst(id) {
		if i == len(told) {
			told = append(told, course.Event{ID: eventID(t.report.ID, i, "withdrawn"), At: t.report.Arrived})
		}
		told[i].Corrects = old
	}
	return told
}

// toldFirst lists the events of a case that the report that is corrected told. Its findings are among them where
// another one stands: a case lives by what was found.
func (t *telling) toldFirst(id course.CaseID) []string {
	ofFirst := func(e course.Event) bool {
		return e.Finding != nil && strings.HasPrefix(e.ID, "finding/"+t.report.Corrects+findingInfix)
	}
	i := slices.IndexFunc(t.histories, func(h course.History) bool { return h.Case == id })
	if i < 0 {
		return nil
	}
	stands := slices.ContainsFunc(corrected(t.histories)[i].Events, func(e course.Event) bool { return e.Finding != nil && !ofFirst(e) })
	var old []string
	for _, e := range t.histories[i].Events {
		if reportOf(e.ID) == t.report.Corrects || stands && ofFirst(e) {
			old = append(old, e.ID)
		}
	}
	return old
}

// eventsOf tells one item: what was applied, seen or done, and what was not.
func (t *telling) eventsOf(i int, item firm.ReportItem) []course.Event {
	at := t.report.Arrived
	if !item.Began.IsZero() {
		at = item.Began
	}
	plants := t.plantsOf(item)
	var events []course.Event
	tell := func(what string, e course.Event) {
		e.ID, e.At = eventID(t.report.ID, i, what), at
		events = append(events, e)
	}
	looking := item.FollowUpKind() == scheduler.KindInspectInfested || item.FollowUpKind() == scheduler.KindInspectNeighbours
	// Found without the pest a look is done; anything else is not, and the look that showed it is told beside it.
	clean := item.Outcome == course.FoundWithoutPest
	done := item.Outcome == course.OutcomeDone || item.Outcome == course.OutcomeInPart || clean && looking
	if made := item.Application; made != nil {
		tell("application", course.Event{Application: &course.Application{
			FollowUp: item.Item, Product: made.Product, Began: item.Began, Ended: item.Ended, Plants: plants,
			Concentrate: made.Concentrate, Volume: made.Volume, Applied: made.Applied, AboveLabel: t.aboveLabel(made, plants),
			Mass: made.Mass, Organisms: made.Organisms,
		}})
	}
	switch looked := item.Inspection; {
	case looked != nil:
		tell("inspection", course.Event{Inspection: &course.Inspection{
			FollowUp: item.Item, Plants: plants, Found: looked.Found, Severity: looked.Severity, AdultsOnCards: looked.AdultsOnCards,
		}})
	case clean && looking:
		tell("inspection", course.Event{Inspection: &course.Inspection{FollowUp: item.Item, Plants: plants}})
	case clean:
		tell("inspection", course.Event{Inspection: &course.Inspection{Plants: plants}})
	}
	if done && item.Application == nil && item.Inspection == nil && !clean && item.Item != "" {
		tell("done", course.Event{Done: &course.OtherDone{FollowUp: item.Item, Plants: plants}})
	}
	if item.Outcome == course.OutcomeInPart {
		if rest := t.rest(item); len(rest) > 0 {
			tell("rest", course.Event{NotDone: &course.NotDone{FollowUp: item.Item, Outcome: item.Outcome, Plants: rest, Note: item.Note}})
		}
	}
	if !done && item.Item != "" {
		tell("not-done", course.Event{NotDone: &course.NotDone{FollowUp: item.Item, Outcome: item.Outcome, Plants: plants, Note: item.Note}})
	}
	return events
}

// rest returns the plants that a partly done item left, whole or in part.
func (t *telling) rest(item firm.ReportItem) []site.PlantID {
	rest := slices.DeleteFunc(slices.Clone(t.allPlantsOf(item)), func(id site.PlantID) bool { return slices.Contains(item.Plants, id) })
	if item.DoneCount != nil && *item.DoneCount < t.countOf(item.Plants) {
		rest = append(rest, item.Plants...) // groups that were done in part: 3 of 24
	}
	return rest
}

// countOf is how many single plants there are in plants and groups.
func (t *telling) countOf(ids []site.PlantID) int {
	count := 0
	for _, id := range ids {
		if p, ok := t.plant(id); ok {
			count += p.Count
		}
	}
	return count
}

// aboveLabel says whether a mix was stronger than the label allows.
func (t *telling) aboveLabel(made *firm.Applied, on []site.PlantID) bool {
	var plants []site.Plant
	for _, id := range on {
		if plant, ok := t.plant(id); ok {
			plants = append(plants, plant)
		}
	}
	_, above := t.strength(made, plants)
	return above
}

// strength returns how many times the label's greatest rate a mix, or what the plants got of it, was, as text, and whether that is
// above it.
func (t *telling) strength(made *firm.Applied, plants []site.Plant) (times string, above bool) {
	product, ok := t.product(made.Product)
	if ok && product.Form != catalogue.Concentrate && product.Label.MaxPortion != nil {
		ratio, known := made.Dosed().TimesRate(*product.Label.MaxPortion, plants)
		if !known {
			return "", false
		}
		return ratio.FloatString(3), ratio.Cmp(big.NewRat(1, 1)) > 0
	}
	if !ok || !product.Diluted() || made.Volume.IsZero() {
		return "", false
	}
	limits, err := dilution.LabelLimits(product, t.business.Rules.LeastRatePercent)
	if err != nil {
		return "", false
	}
	ratio, above := dilution.AboveLabel(dilution.Strength(made.Concentrate, made.Volume), limits)
	return ratio.FloatString(3), above
}

// settleServices moves the rhythm of services that were done, and of plants that a drench watered.
func (t *telling) settleServices() error {
	day := t.site.Zone.DateOf(t.report.Arrived)
	watered := map[site.PlantID]bool{}
	services := map[string]bool{}
	for _, item := range t.report.Items {
		if item.Outcome != course.OutcomeDone && item.Outcome != course.OutcomeInPart {
			continue
		}
		if made := item.Application; made != nil {
			if product, ok := t.product(made.Product); ok && catalogue.Shipped().Materials[product.Material].Method == catalogue.Drench {
				for _, id := range t.plantsOf(item) {
					watered[id] = true
				}
			}
		}
		if name, _, ok := strings.Cut(string(item.Item), "#"); ok && caseOf(item) == "" {
			services[name] = true
		}
	}
	return t.keepRhythm(day, services, watered)
}

func (t *telling) keepRhythm(day civil.Date, services map[string]bool, watered map[site.PlantID]bool) error {
	lastOn := map[string]civil.Date{}
	for _, s := range t.services {
		if !services[s.ID] {
			continue
		}
		lastOn[s.ID] = max(day, s.Last)
		for _, g := range s.Groups {
			watered[g.Plant] = watered[g.Plant] || s.Kind == site.WateringService
		}
	}
	plantsOn := map[site.PlantID]civil.Date{}
	for id := range watered {
		if p, ok := t.plant(id); ok {
			plantsOn[id] = max(day, p.Watering.Last)
		}
	}
	if err := t.tx.SetServicesDone(lastOn); err != nil {
		return err
	}
	return t.tx.SetPlantsWatered(plantsOn)
}

// settleVisit marks the visit done and lets keep-outs follow what was really applied.
func (t *telling) settleVisit() error {
	var notDone []scheduler.ItemID
	var facts []firm.KeepOutFact
	for _, item := range t.report.Items {
		if item.Application != nil {
			facts = append(facts, t.confirmedBefore(t.keepOuts(item))...)
		} else if item.Item != "" {
			notDone = append(notDone, item.Item)
		}
	}
	facts, err := t.confirmedSince(facts)
	if err != nil {
		return err
	}
	if err := t.tx.DropKeepOuts(notDone); err != nil {
		return err
	}
	if err := t.tx.AddKeepOuts(facts); err != nil {
		return err
	}
	for _, dry := range t.report.DryConfirmed {
		if !dry.Dry {
			continue
		}
		if err := t.tx.ConfirmDryAfter(dry.Item, dry.Area, dry.At); err != nil {
			return err
		}
	}
	if err := t.tx.UseUpNotices(t.usedUp()); err != nil {
		return err
	}
	if t.visit == nil {
		return nil
	}
	return t.tx.SetVisitState(t.visit.ID, scheduler.Done)
}

// confirmedSince keeps that somebody found an area dry, where that was told before the application: the earliest look after
// its beginning counts.
func (t *telling) confirmedSince(facts []firm.KeepOutFact) ([]firm.KeepOutFact, error) {
	if len(facts) == 0 {
		return facts, nil
	}
	from := facts[0].During.From
	for _, fact := range facts {
		from = min(from, fact.During.From)
	}
	told, err := t.tx.StandingReports(t.site.ID, civil.Interval{From: from, To: t.tx.Now().Add(clockTolerance) + 1})
	for _, report := range told {
		for _, dry := range report.DryConfirmed {
			for i, fact := range facts {
				of := dry.Dry && fact.UntilDry && dry.Area == fact.Area && (dry.Item == "" || dry.Item == fact.Item) && fact.During.From <= dry.At
				if of && (fact.ConfirmedDryAt.IsZero() || dry.At < fact.ConfirmedDryAt) {
					facts[i].ConfirmedDryAt = dry.At
				}
			}
		}
	}
	return facts, err
}

// confirmedBefore keeps that somebody found an area dry after an application that a correction tells anew.
func (t *telling) confirmedBefore(facts []firm.KeepOutFact) []firm.KeepOutFact {
	for i, fact := range facts {
		for _, old := range t.dropped {
			if old.Area == fact.Area && old.Item == fact.Item && old.Product == fact.Product && old.ConfirmedDryAt >= fact.During.From {
				facts[i].ConfirmedDryAt = old.ConfirmedDryAt
			}
		}
	}
	return facts
}
