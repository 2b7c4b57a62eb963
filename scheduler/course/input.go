package course

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// InvalidInput says everything in an Input that cannot be understood, all at once.
type InvalidInput struct{ Fields []catalogue.FieldError }

// Error lists the fields.
func (e *InvalidInput) Error() string {
	texts := make([]string, len(e.Fields))
	for i, f := range e.Fields {
		texts[i] = f.Path + ": " + f.Text
	}
	return "invalid input of a course: " + strings.Join(texts, "; ")
}

// Key returns the hash of exactly the values of the input, 64 hexadecimal digits. The order of histories, events,
// sites, plants, services, products and licences does not change it, nor does an event told twice.
func (in Input) Key() string {
	in = in.ordered()
	version := ""
	if in.Catalogue != nil {
		version = in.Catalogue.Version
	}
	text, err := json.Marshal(struct {
		Today     civil.Date
		Now       civil.Instant
		Case      CaseID
		Histories []History
		Sites     []site.Site
		Plants    []site.Plant
		Services  []site.Service
		Products  []catalogue.Product
		Withdrawn []catalogue.ProductID
		Held      map[catalogue.JurisdictionCode][]string
		Catalogue string
		Policy    Policy
		Prefer    catalogue.ProductID `json:",omitempty"`
	}{in.Today, in.Now, in.Case, in.Histories, in.Sites, in.Plants, in.Services, in.Products, in.Withdrawn, in.Held, version, in.Policy, in.Prefer})
	if err != nil {
		panic(fmt.Sprintf("course: the input is not writable as JSON: %v", err))
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// ordered returns the input in the one order in which it is read; the argument's slices are left as they are.
func (in Input) ordered() Input {
	in.Histories = sortedBy(in.Histories, func(h History) CaseID { return h.Case })
	for i, history := range in.Histories {
		history.Plants = sortedBy(history.Plants, func(p site.PlantID) site.PlantID { return p })
		history.Events = orderedEvents(history.Events)
		in.Histories[i] = history
	}
	in.Sites = sortedBy(in.Sites, func(s site.Site) site.ID { return s.ID })
	in.Plants = sortedBy(in.Plants, func(p site.Plant) site.PlantID { return p.ID })
	in.Services = sortedBy(in.Services, func(s site.Service) string { return s.ID })
	in.Products = sortedBy(in.Products, func(p catalogue.Product) catalogue.ProductID { return p.ID })
	in.Withdrawn = sortedBy(in.Withdrawn, func(id catalogue.ProductID) catalogue.ProductID { return id })
	held := make(map[catalogue.JurisdictionCode][]string, len(in.Held))
	for code, categories := range in.Held {
		held[code] = slices.Compact(sortedBy(categories, func(c string) string { return c }))
	}
	in.Held = held
	// Only notices ask for the present instant, and they count in hours: so a course holds for an hour, and counts from
	// that hour's end.
	in.Now = (in.Now + secondsPerHour - 1) / secondsPerHour * secondsPerHour
	return in
}

const secondsPerHour = 60 * 60

func sortedBy[T any, K cmp.Ordered](all []T, key func(T) K) []T {
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(x, y T) int { return cmp.Compare(key(x), key(y)) })
	return all
}

// orderedEvents sorts by time, then id, and keeps each id once: of two tellings that differ, the one whose
// text comes first, so that the order in which they arrive never decides.
func orderedEvents(events []Event) []Event {
	once := make(map[string]Event, len(events))
	for _, event := range events {
		if known, ok := once[event.ID]; ok && eventText(known) <= eventText(event) {
			continue
		}
		once[event.ID] = event
	}
	sorted := make([]Event, 0, len(once))
	for _, event := range once {
		sorted = append(sorted, event)
	}
	slices.SortFunc(sorted, func(x, y Event) int {
		return cmp.Or(cmp.Compare(x.At, y.At), cmp.Compare(x.ID, y.ID))
	})
	return sorted
}

func eventText(event Event) string {
	text, err := json.Marshal(event)
	if err != nil {
		panic(fmt.Sprintf("course: event %q is not writable as JSON: %v", event.ID, err))
	}
	return string(text)
}

// checker collects what is wrong with an input.
type checker struct{ fields []catalogue.FieldError }

func (c *checker) fail(path, reason, format string, args ...any) {
	c.fields = append(c.fields, catalogue.FieldError{Path: path, Reason: reason, Text: fmt.Sprintf(format, args...)})
}

// validate says what cannot be understood. A fact that breaks a rule is no error: it is read as what it is.
func (in Input) validate() error {
	if in.Catalogue == nil {
		return &InvalidInput{[]catalogue.FieldError{{Path: "catalogue", Reason: "MISSING", Text: "no catalogue: want the shipped one or another that was read"}}}
	}
	c := &checker{}
	for _, field := range in.Policy.Validate() {
		c.fail("policy."+field.Path, field.Reason, "%s", field.Text)
	}
	if in.Today.IsZero() {
		c.fail("today", "MISSING", "no date: want the day of the business such as 2026-03-02")
	}
	index := slices.IndexFunc(in.Histories, func(h History) bool { return h.Case == in.Case })
	if index < 0 {
		c.fail("case", "UNKNOWN_CASE", "case %q has no history: want the id of one of the %d histories given", in.Case, len(in.Histories))
		return &InvalidInput{c.fields}
	}
	in.validateHistory(c, fmt.Sprintf("histories[%d]", index), in.Histories[index])
	for i, s := range in.Sites {
		for j, area := range s.Areas {
			if h := area.Humidity; h != nil && !(0 <= h.Least && h.Least <= h.Usual && h.Usual <= h.Greatest && h.Greatest <= 100) {
				c.fail(fmt.Sprintf("sites[%d].areas[%d].humidity", i, j), "OUT_OF_RANGE", "%v, %v and %v %%: want least, usual and greatest in rising order from 0 to 100",
					h.Least, h.Usual, h.Greatest)
			}
			for k, season := range area.Climate {
				// Written so that a value that is no number fails too.
				if !(coldestCelsius <= season.Coldest && season.Coldest <= season.Usual && season.Usual <= season.Warmest && season.Warmest <= warmestCelsius) {
					c.fail(fmt.Sprintf("sites[%d].areas[%d].climate[%d]", i, j, k), "OUT_OF_RANGE", "%v, %v and %v °C: want coldest, usual and warmest in rising order from %d to %d °C",
						season.Coldest, season.Usual, season.Warmest, coldestCelsius, warmestCelsius)
				}
			}
		}
	}
	for i, plant := range in.Plants {
		if _, ok := in.Catalogue.Species[plant.Species]; !ok {
			c.fail(fmt.Sprintf("plants[%d].species", i), "UNKNOWN_SPECIES", "species %q of plant %q is not in the catalogue: want one that is", plant.Species, plant.ID)
		}
		if plant.Count < 1 || plant.Count > site.MaxPlantCount {
			c.fail(fmt.Sprintf("plants[%d].count", i), "OUT_OF_RANGE", "%d plants: want 1 to %d", plant.Count, site.MaxPlantCount)
		}
	}
	for i, product := range in.Products {
		if _, ok := in.Catalogue.Materials[product.Material]; !ok {
			c.fail(fmt.Sprintf("products[%d].material", i), "UNKNOWN_MATERIAL", "material %q of product %q is not in the catalogue: want one that is", product.Material, product.ID)
		}
	}
	if len(c.fields) > 0 {
		return &InvalidInput{c.fields}
	}
	return nil
}

func (in Input) validateHistory(c *checker, path string, history History) {
	known := func(pest catalogue.PestID, path string) {
		if _, ok := in.Catalogue.Pests[pest]; !ok {
			c.fail(path, "UNKNOWN_PEST", "pest %q is not in the catalogue: want one that is", pest)
		}
	}
	known(history.Pest, path+".pest")
	at := slices.IndexFunc(in.Sites, func(s site.Site) bool { return s.ID == history.Site })
	if at < 0 {
		c.fail(path+".site", "UNKNOWN_SITE", "site %q is not among the sites given", history.Site)
	}
	if len(history.Plants) == 0 {
		c.fail(path+".plants", "MISSING", "no plants: a case is of at least one")
	}
	check := func(ids []site.PlantID, path string) {
		for i, id := range ids {
			p := slices.IndexFunc(in.Plants, func(p site.Plant) bool { return p.ID == id })
			if p < 0 {
				c.fail(fmt.Sprintf("%s[%d]", path, i), "UNKNOWN_PLANT", "plant %q is not among the plants given", id)
			} else if at >= 0 {
				in.validateArea(c, fmt.Sprintf("%s[%d]", path, i), in.Sites[at], in.Plants[p])
			}
		}
	}
	check(history.Plants, path+".plants")
	for i, event := range history.Events {
		path := fmt.Sprintf("%s.events[%d]", path, i)
		if event.ID == "" {
			c.fail(path+".id", "MISSING", "no id: an event has one, so that it counts once")
		}
		if event.Finding != nil {
			known(event.Finding.Pest, path+".finding.pest")
			check(event.Finding.Plants, path+".finding.plants")
			if event.Finding.Severity < 0 || event.Finding.Severity > worstSeverity {
				c.fail(path+".finding.severity", "OUT_OF_RANGE", "severity %d: want 0 to %d", event.Finding.Severity, worstSeverity)
			}
		}
		in.validateOther(c, path, event, at)
	}
}

// validateOther judges patch tests, moves, splits, joins and decisions; at is the index of the case's site, -1 where unknown.
func (in Input) validateOther(c *checker, path string, event Event, at int) {
	if p := event.Patch; p != nil {
		if _, ok := in.Catalogue.Materials[p.Material]; !ok {
			c.fail(path+".patch.material", "UNKNOWN_MATERIAL", "material %q is not in the catalogue: want one that is", p.Material)
		}
	}
	if m := event.Moved; m != nil && at >= 0 {
		for _, end := range []struct {
			field string
			id    site.AreaID
		}{{"from", m.From}, {"to", m.To}} {
			if _, ok := areaOf(in.Sites[at], end.id); !ok {
				c.fail(path+".moved."+end.field, "UNKNOWN_AREA", "site %q has no area %q: want one of its areas", in.Sites[at].ID, end.id)
			}
		}
		if !m.NotBefore.IsZero() && !m.NotAfter.IsZero() && m.NotAfter < m.NotBefore {
			c.fail(path+".moved.not_after", "OUT_OF_RANGE", "moved not before %v and not after %v: want the days in rising order", m.NotBefore, m.NotAfter)
		}
	}
	if s := event.Split; s != nil && len(s.Into) == 0 {
		c.fail(path+".split.into", "MISSING", "a group split into nothing: want at least one; plants that are gone are told as gone")
	}
	if j := event.Joined; j != nil && len(j.From) == 0 {
		c.fail(path+".joined.from", "MISSING", "a group joined of nothing: want at least one")
	}
	if d := event.Decision; d != nil && d.Kind != DecideReplace && d.Kind != DecideTreat {
		c.fail(path+".decision.kind", "UNKNOWN_DECISION", "decision %q: want %q or %q", d.Kind, DecideReplace, DecideTreat)
	}
}

// A room with plants is never outside these temperatures.
const (
	coldestCelsius = -40
	warmestCelsius = 60
)

// worstSeverity ends the scale of what is seen: 0 to 3.
const worstSeverity = 3

func (in Input) validateArea(c *checker, path string, s site.Site, plant site.Plant) {
	area, ok := areaOf(s, plant.Area)
	if !ok {
		c.fail(path, "UNKNOWN_AREA", "plant %q stands in area %q, which site %q has not", plant.ID, plant.Area, s.ID)
		return
	}
	if _, ok := area.Climate.On(in.Today); !ok {
		c.fail(path, "NO_CLIMATE", "area %q has no temperatures for %v: want coldest, usual and warmest of the season; nothing is assumed", area.ID, in.Today)
	}
}

func areaOf(s site.Site, id site.AreaID) (site.Area, bool) {
	for _, area := range s.Areas {
		if area.ID == id {
			return area, true
		}
	}
	return site.Area{}, false
}
