package casework

import (
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// occupied: people were there, or their hours overlap the keep-out and the client did not agree to shut the area.
func (t *telling) occupied(a application) {
	if a.made.PeoplePresent {
		t.breach(a, scheduler.RuleReentry, "people were in %s while it was treated", nameOf(t.site, a.area))
	}
	for _, k := range t.keepOuts(a.ReportItem) {
		i := slices.IndexFunc(t.site.Areas, func(area site.Area) bool { return area.ID == k.Area })
		if i < 0 || t.agreedToShut(k) {
			continue
		}
		if people := t.site.Areas[i].People.Open(t.site.Zone, k.During); len(people) > 0 {
			t.breach(a, scheduler.RuleReentry, "%s is shut from %s to %s, and people are there from %s",
				t.site.Areas[i].Name, t.site.Zone.Format(k.During.From), t.site.Zone.Format(k.During.To), t.site.Zone.Format(people[0].From))
		}
	}
}

func (t *telling) agreedToShut(k firm.KeepOutFact) bool {
	return slices.ContainsFunc(t.site.Agreement.ShutAreas, func(s site.ShutArea) bool {
		return s.Area == k.Area && s.From <= k.During.From && k.During.To <= s.To
	})
}

// insideKeepOut: work inside the running keep-out of another treatment. The applications of a visit in one area are one
// treatment and may follow each other; everything else of that visit there comes before. It stands in no record of an
// application, because it may be known later than the record.
func (t *telling) insideKeepOut(index int, item firm.ReportItem) {
	if !wasDone(item) {
		return
	}
	var told []string
	for _, k := range t.shutByOthers(index, item) {
		text, inside := t.insideText(k, t.report, item, t.areasOf(item))
		if inside && !slices.Contains(told, text) {
			told = append(told, text)
			t.deviate(visitWide, scheduler.RuleReentry, item.Item, beganAt(t.report, item), text)
		}
	}
}

// insideText says of an item of a report that it was done in some areas inside a keep-out; inside is false where it was not.
func (t *telling) insideText(k firm.KeepOutFact, report firm.Report, item firm.ReportItem, areas []site.AreaID) (text string, inside bool) {
	during, certain := timeOf(report, item)
	inside = k.During.Overlaps(during)
	if !certain { // the item's own time is not told: it was inside only where the whole stay was
		inside = k.During.Covers(during)
	}
	product, _ := t.product(k.Product)
	zone := t.site.Zone
	return t.nameOfTechnician(report.Technician) + " worked in " + nameOf(t.site, k.Area) + " at " + zone.Format(during.From) + ", which " + product.Name +
		" kept shut from " + zone.Format(k.During.From) + " to " + zone.Format(k.During.To), inside && slices.Contains(areas, k.Area)
}

// beganAt is when an item was begun, or the stay where that is not told.
func beganAt(report firm.Report, item firm.ReportItem) civil.Instant {
	during, _ := timeOf(report, item)
	return during.From
}

// shutByOthers lists the keep-outs that an item had to stay out of: those of treatments told before, and those of this
// report's other applications.
func (t *telling) shutByOthers(index int, item firm.ReportItem) []firm.KeepOutFact {
	var others []firm.KeepOutFact
	for _, k := range t.shut {
		sameVisit := item.Application != nil && k.Visit != "" && k.Visit == t.report.Visit
		if !sameVisit && (item.Item == "" || k.Item != item.Item) {
			others = append(others, k)
		}
	}
	for i, other := range t.report.Items {
		if i == index || other.Application == nil || item.Application != nil && t.areaOf(item) == t.areaOf(other) {
			continue
		}
		others = append(others, t.keepOuts(other)...)
	}
	return others
}

// othersInside: work that was reported before this application, and that turns out to have been done in what it shut. It is a
// deviation of the report that told the work.
func (t *telling) othersInside(a application) {
	for _, other := range t.meanwhile {
		for i, item := range other.Items {
			sameTreatment := item.Application != nil && other.Visit != "" && other.Visit == t.report.Visit
			if sameTreatment || !wasDone(item) || item.Item != "" && item.Item == a.Item {
				continue
			}
			areas := t.areasToldOf(other, i)
			for _, k := range t.keepOuts(a.ReportItem) {
				if text, inside := t.insideText(k, other, item, areas); inside {
					t.deviateOther(other.ID, scheduler.RuleReentry, item.Item, beganAt(other, item), text)
				}
			}
		}
	}
}

// readMeanwhile reads the reports of stays during what this report's applications shut; what this one tells anew is
// none of them.
func (t *telling) readMeanwhile() (err error) {
	var shut civil.Interval
	for _, item := range t.report.Items {
		if item.Application == nil {
			continue
		}
		for _, k := range t.keepOuts(item) {
			if shut.Empty() {
				shut = k.During
			}
			shut.From, shut.To = min(shut.From, k.During.From), max(shut.To, k.During.To)
		}
	}
	if shut.Empty() {
		return nil
	}
	t.meanwhile, err = t.tx.StandingReports(t.site.ID, shut)
	t.meanwhile = slices.DeleteFunc(t.meanwhile, func(r firm.Report) bool { return r.ID == t.report.ID })
	return err
}

// areasToldOf lists the areas in which an item of another report was done: the one named, else those in which its plants
// stand: named, of its service, or as the histories tell.
func (t *telling) areasToldOf(report firm.Report, index int) []site.AreaID {
	item := report.Items[index]
	if item.Area != "" {
		return []site.AreaID{item.Area}
	}
	plants := slices.Clone(item.Plants)
	if len(plants) == 0 {
		plants = t.servicePlants(item)
	}
	for _, h := range t.around {
		for _, e := range h.Events {
			if strings.HasPrefix(e.ID, eventID(report.ID, index, "")) {
				plants = append(plants, workedOn(e)...)
			}
		}
	}
	return t.areasOfPlants(plants)
}

// servicePlants are those of the service of which an item is an occurrence.
func (t *telling) servicePlants(item firm.ReportItem) (plants []site.PlantID) {
	name, _, _ := strings.Cut(string(item.Item), "#")
	for _, s := range t.services {
		if s.ID == name {
			for _, group := range s.Groups {
				plants = append(plants, group.Plant)
			}
		}
	}
	return plants
}

// workedOn returns the plants that an event tells of work on.
func workedOn(e course.Event) []site.PlantID {
	switch {
	case e.Application != nil:
		return e.Application.Plants
	case e.Inspection != nil:
		return e.Inspection.Plants
	case e.Done != nil:
		return e.Done.Plants
	}
	return nil
}

// wasDone says whether somebody worked on an item.
func wasDone(item firm.ReportItem) bool {
	return item.Application != nil || item.Inspection != nil ||
		item.Outcome == course.OutcomeDone || item.Outcome == course.OutcomeInPart || item.Outcome == course.FoundWithoutPest
}

// timeOf is when an item was done; without its own times it is the whole stay, and not certain.
func timeOf(report firm.Report, item firm.ReportItem) (during civil.Interval, certain bool) {
	if item.Began.IsZero() {
		return civil.Interval{From: report.Arrived, To: max(report.Left, report.Arrived+1)}, false
	}
	return civil.Interval{From: item.Began, To: max(item.Ended, item.Began+1)}, true
}

// areasOf lists the areas in which an item was done: the one named, else all in which its plants stand.
func (t *telling) areasOf(item firm.ReportItem) []site.AreaID {
	if item.Area != "" {
		return []site.AreaID{item.Area}
	}
	if plants := t.plantsOf(item); len(plants) > 0 {
		return t.areasOfPlants(plants)
	}
	return t.areasOfPlants(t.servicePlants(item))
}

func (t *telling) areasOfPlants(plants []site.PlantID) []site.AreaID {
	var areas []site.AreaID
	for _, id := range plants {
		if plant, ok := t.plant(id); ok && !slices.Contains(areas, plant.Area) {
			areas = append(areas, plant.Area)
		}
	}
	return areas
}
