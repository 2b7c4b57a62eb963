package casework

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// application is one application that the report tells, with what it is judged by.
type application struct {
	firm.ReportItem
	index    int // of the item in the report
	made     firm.Applied
	product  catalogue.Product
	material catalogue.Material
	area     site.AreaID
	kind     catalogue.PlaceKind
	plants   []site.Plant
	on       civil.Date // in the site's zone
}

// keepDeviations stores every rule that the facts of the report broke: of one application all of them, not the first.
func (t *telling) keepDeviations() error {
	if err := t.readAround(); err != nil {
		return err
	}
	for _, a := range t.applications() {
		for _, judge := range []func(application){
			t.lawful, t.barred, t.labelRate, t.labelUse, t.labelKeepAway, t.labelConditions, t.labelWeather, t.labelHumidity, t.labelHours, t.intervalKnown,
			t.plantsStandIt, t.plantsNotDry, t.labelOverTime, t.mixLife, t.vesselHolds, t.leftover, t.agreed, t.approved, t.licensed, t.occupied, t.othersInside,
		} {
			judge(a)
		}
		if err := t.tooEarly(a); err != nil {
			return err
		}
	}
	for i, item := range t.report.Items {
		t.insideKeepOut(i, item)
	}
	t.accessTime()
	if err := t.othersTooEarly(); err != nil {
		return err
	}
	if err := t.dropKnown(); err != nil {
		return err
	}
	return t.tx.InsertDeviations(t.deviations)
}

// readAround reads what the applications are judged by beyond the cases that the report speaks of: plants are treated
// as neighbours of other cases too, and rooms are shut by other visits.
func (t *telling) readAround() (err error) {
	t.broke = map[int][]string{}
	if t.services, err = t.tx.Services(t.site.ID); err != nil {
		return err
	}
	if slices.ContainsFunc(t.report.Items, func(item firm.ReportItem) bool { return item.Application != nil }) {
		if err := t.readApplicationsAround(); err != nil {
			return err
		}
	}
	span := civil.Interval{From: t.report.Arrived, To: max(t.report.Left, t.report.Arrived+1)}
	for _, item := range t.report.Items {
		if during, certain := timeOf(t.report, item); certain {
			span.From, span.To = min(span.From, during.From), max(span.To, during.To)
		}
	}
	t.shut, err = t.tx.ReportedKeepOuts(t.site.ID, span)
	return err
}

func (t *telling) readApplicationsAround() error {
	cases, err := t.tx.CasesOfSite(t.site.ID)
	if err != nil {
		return err
	}
	if t.around, err = Histories(t.tx, cases); err != nil {
		return err
	}
	for i := range t.around {
		t.around[i].Events = slices.DeleteFunc(t.around[i].Events, t.ofThisReport)
	}
	if t.ofPlants, err = t.tx.PlantHistories(t.site.ID); err != nil {
		return err
	}
	if t.incidents, err = t.tx.IncidentsOf(t.site.ID); err != nil {
		return err
	}
	if t.consents, err = t.tx.ClientConsentsOf(t.site.ID); err != nil {
		return err
	}
	if t.known, err = Catalogue(t.tx); err != nil {
		return err
	}
	t.lineage = course.NewLineage(t.known, t.site, t.plants, slices.Concat(t.around, t.ofPlants))
	return t.readMeanwhile()
}

// met says whether what was done to some plants at an instant met a plant of a later or earlier one, under whatever
// names: groups split and join.
func (t *telling) met(plants []site.PlantID, at civil.Instant, id site.PlantID, when civil.Instant) bool {
	if slices.Contains(plants, id) {
		return true
	}
	now := t.lineage.Became([]site.PlantID{id}, when)
	return slices.ContainsFunc(t.lineage.Became(plants, at), func(other site.PlantID) bool { return slices.Contains(now, other) })
}

// verdictThen is what was known before an application of what a plant stands of its material: patch tests that were read
// later tell nothing of it.
func (t *telling) verdictThen(a application, plant site.Plant) catalogue.Verdict {
	then := slices.Concat(t.around, t.ofPlants)
	for i, h := range then {
		then[i].Events = slices.DeleteFunc(slices.Clone(h.Events), func(e course.Event) bool { return e.Patch != nil && e.At > a.Began })
	}
	return course.NewLineage(t.known, t.site, t.plants, then).Tolerance(plant, a.material.ID).Verdict
}

// applications lists what the report applied, in its order.
func (t *telling) applications() []application {
	var all []application
	for i, item := range t.report.Items {
		if item.Application == nil {
			continue
		}
		a := application{ReportItem: item, index: i, made: *item.Application, area: t.areaOf(item), on: t.site.Zone.DateOf(item.Began)}
		a.product, _ = t.product(a.made.Product)
		a.material = catalogue.Shipped().Materials[a.product.Material]
		a.kind = t.placeKind(a.area)
		for _, id := range t.plantsOf(item) {
			if plant, ok := t.plant(id); ok {
				a.plants = append(a.plants, plant)
			}
		}
		all = append(all, a)
	}
	return all
}

// during is when it was made; never empty.
func (a application) during() civil.Interval {
	return civil.Interval{From: a.Began, To: max(a.Ended, a.Began+1)}
}

// physical says that it is work, a device or a living thing: nothing is put on a plant, so that flowers, edible plants
// and patch tests are no matter to it.
func (a application) physical() bool { return putsNothing(a.material) }

func putsNothing(material catalogue.Material) bool {
	return material.Law == catalogue.PhysicalWork || material.Law == catalogue.DeviceOrOrganism
}

// breach keeps that an application broke a rule.
func (t *telling) breach(a application, rule scheduler.Rule, text string, args ...any) {
	t.deviate(a.index, rule, a.Item, a.Began, fmt.Sprintf(text, args...))
}

// visitWide is the index of a deviation that is not of one item.
const visitWide = -1

// deviateOther keeps that something which an earlier report told broke a rule, as this report shows. It is a deviation of that
// report, the same that would have been kept had this one come first; the records of that report stand as they are.
func (t *telling) deviateOther(report string, rule scheduler.Rule, item scheduler.ItemID, at civil.Instant, text string) {
	if t.toldOf(report, text) {
		return
	}
	t.deviations = append(t.deviations, firm.Deviation{
		ID: fmt.Sprintf("%s-after-%s-%02d", report, t.report.ID, len(t.deviations)+1), Report: report,
		Rule: rule, Item: item, Site: t.site.ID, At: at, Text: text,
	})
}

// toldOf says whether this report has shown already that something of a report broke a rule.
func (t *telling) toldOf(report, text string) bool {
	return slices.ContainsFunc(t.deviations, func(d firm.Deviation) bool { return d.Report == report && d.Text == text })
}

// dropKnown leaves out what is known of other reports already, as where this one corrects another that showed the same.
func (t *telling) dropKnown() error {
	known := map[string][]firm.Deviation{}
	for _, d := range t.deviations {
		if _, read := known[d.Report]; read || d.Report == t.report.ID {
			continue
		}
		var err error
		if known[d.Report], err = t.tx.DeviationsOf(d.Report); err != nil {
			return err
		}
	}
	t.deviations = slices.DeleteFunc(t.deviations, func(d firm.Deviation) bool {
		return slices.ContainsFunc(known[d.Report], func(k firm.Deviation) bool { return k.Rule == d.Rule && k.Text == d.Text })
	})
	return nil
}

// ownDeviations are those of this report itself.
func (t *telling) ownDeviations() []firm.Deviation {
	return slices.DeleteFunc(slices.Clone(t.deviations), func(d firm.Deviation) bool { return d.Report != t.report.ID })
}

func (t *telling) deviate(index int, rule scheduler.Rule, item scheduler.ItemID, at civil.Instant, text string) {
	t.deviations = append(t.deviations, firm.Deviation{
		ID: fmt.Sprintf("%s-%02d", t.report.ID, len(t.deviations)+1), Report: t.report.ID,
		Rule: rule, Item: item, Site: t.site.ID, At: at, Text: text,
	})
	if index != visitWide {
		t.broke[index] = append(t.broke[index], fmt.Sprintf("%s: %s", rule, text))
	}
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

// either writes a list of words for people: "22 or 06", "none" when there are none.
func either[W ~string](list []W) string {
	if len(list) == 0 {
		return "none"
	}
	words := make([]string, len(list))
	for i, word := range list {
		words[i] = string(word)
	}
	return strings.Join(words, " or ")
}

// named writes plants for people.
func named(plants []site.Plant) string {
	names := make([]string, len(plants))
	for i, plant := range plants {
		names[i] = plant.Name
	}
	return strings.Join(names, ", ")
}
