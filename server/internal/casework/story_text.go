package casework

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// words are the names by which people know what a history speaks of. What has no name is written by its id.
type words struct {
	plants   map[site.PlantID]string
	products map[catalogue.ProductID]string
	people   map[string]string // crew, by id
	areas    map[site.AreaID]string
}

// readWords reads the names that the history of a case needs.
func readWords(tx *store.Tx, c firm.Case) (words, error) {
	w := words{map[site.PlantID]string{}, map[catalogue.ProductID]string{}, map[string]string{}, map[site.AreaID]string{}}
	at, err := tx.Site(site.ID(c.Site))
	if err != nil {
		return words{}, err
	}
	for _, area := range at.Areas {
		w.areas[area.ID] = area.Name
	}
	plants, err := tx.PlantsOf(site.ID(c.Site))
	if err != nil {
		return words{}, err
	}
	for _, plant := range plants {
		w.plants[plant.ID] = plant.Name
	}
	for _, id := range plantIDs(c.Plants) {
		if w.plants[id] != "" {
			continue
		}
		plant, err := tx.Plant(id) // it was moved to another site since
		if err != nil && !fault.Is(err, fault.NotFound) {
			return words{}, err
		}
		w.plants[id] = plant.Name
	}
	products, err := tx.AllProducts()
	if err != nil {
		return words{}, err
	}
	for _, product := range products {
		w.products[product.ID] = product.Name
	}
	crew, err := tx.EverCrew()
	if err != nil {
		return words{}, err
	}
	for _, member := range crew {
		w.people[string(member.ID)] = member.Name
	}
	return w, nil
}

// event says an event for people, and which follow-up it concerns.
func (w words) event(e course.Event) (text string, item course.ItemID) {
	switch {
	case e.Finding != nil:
		f := e.Finding
		return fmt.Sprintf("%s found, %s, %s, severity %d, on %s", pestName(f.Pest), plain(f.Certainty), plain(f.Life), f.Severity, w.plantList(f.Plants)), ""
	case e.Application != nil:
		return w.application(e.Application), e.Application.FollowUp
	case e.Inspection != nil:
		return w.inspection(e.Inspection), e.Inspection.FollowUp
	case e.NotDone != nil:
		text := "not done: " + plain(e.NotDone.Outcome)
		if follows, known := course.Consequences(e.NotDone.Outcome, kindOfItem(e.NotDone.FollowUp)); known {
			text = "not done: " + follows.Text
		}
		if e.NotDone.Note != "" {
			text += "; " + e.NotDone.Note
		}
		return text, e.NotDone.FollowUp
	case e.Approval != nil:
		return w.approval(e.Approval), ""
	case e.Ending != nil:
		return fmt.Sprintf("ended, %s: %s", plain(e.Ending.Kind), e.Ending.Reason), ""
	case e.Done != nil:
		return "done on " + w.plantList(e.Done.Plants), e.Done.FollowUp
	case e.Decision != nil:
		return w.decision(e.Decision), ""
	}
	return w.plantEvent(e), ""
}

func (w words) decision(d *course.Decision) string {
	of := "all plants of the case"
	if len(d.Plants) > 0 {
		of = w.plantList(d.Plants)
	}
	text := fmt.Sprintf("decided by %s: %s %s", w.person(d.By), plain(d.Kind), of)
	if d.Reason != "" {
		text += ", " + d.Reason
	}
	return text
}

// plantEvent says what happened to plants themselves.
func (w words) plantEvent(e course.Event) string {
	switch {
	case e.Patch != nil:
		verdict := "shows no harm"
		if e.Patch.Harmed {
			verdict = "shows harm: not to be used on it"
		}
		text := fmt.Sprintf("patch test of %s on %s %s", materialName(e.Patch.Material), w.plantList(e.Patch.Plants), verdict)
		if e.Patch.Note != "" {
			text += "; " + e.Patch.Note
		}
		return text
	case e.Moved != nil:
		text := fmt.Sprintf("%s went from %s to %s", w.plantList(e.Moved.Plants), w.area(e.Moved.From), w.area(e.Moved.To))
		if first, last := e.Moved.NotBefore, e.Moved.NotAfter; !first.IsZero() || !last.IsZero() {
			text += ", found late:"
			if !first.IsZero() {
				text += " not before " + first.Short()
			}
			if !last.IsZero() {
				text += " not after " + last.Short()
			}
		}
		return text
	case e.Split != nil:
		return fmt.Sprintf("%s split into %s", w.plantList([]site.PlantID{e.Split.From}), w.plantList(e.Split.Into))
	case e.Joined != nil:
		return fmt.Sprintf("%s joined into %s", w.plantList(e.Joined.From), w.plantList([]site.PlantID{e.Joined.Into}))
	case e.Gone != nil:
		text := fmt.Sprintf("%s %s", w.plantList(e.Gone.Plants), plain(e.Gone.Kind))
		if len(e.Gone.Successors) > 0 {
			text += "; in their place " + w.plantList(e.Gone.Successors)
		}
		return text
	}
	return ""
}

func (w words) incident(i firm.Incident) string {
	text := "incident, " + plain(i.Kind)
	if i.Product != "" {
		text += " with " + w.product(i.Product)
	}
	return text + ": " + i.Text
}

// askedFor says what a client was asked for.
func (w words) askedFor(q firm.ClientConsent) string {
	var parts []string
	switch {
	case q.Material != "":
		parts = append(parts, materialName(q.Material))
	case q.Method != "":
		parts = append(parts, plain(q.Method))
	}
	if q.Shut != nil {
		parts = append(parts, fmt.Sprintf("%s shut", w.area(q.Shut.Area)))
	}
	if q.Sum != nil {
		parts = append(parts, fmt.Sprintf("a sum of %v", *q.Sum))
	}
	return strings.Join(parts, ", ")
}

func (w words) area(id site.AreaID) string {
	if name := w.areas[id]; name != "" {
		return name
	}
	return string(id)
}

func (w words) person(id string) string {
	if name := w.people[id]; name != "" {
		return name
	}
	return id
}

func materialName(id catalogue.MaterialID) string {
	if material, err := catalogue.Shipped().MaterialByID(id); err == nil {
		return material.Name
	}
	return string(id)
}

func (w words) application(a *course.Application) string {
	text := fmt.Sprintf("%s applied to %s", w.product(a.Product), w.plantList(a.Plants))
	if !a.Applied.IsZero() {
		text += fmt.Sprintf(", %v", a.Applied)
	}
	if !a.Concentrate.IsZero() {
		text += fmt.Sprintf(" of a mix of %v made up to %v", a.Concentrate, a.Volume)
	}
	switch {
	case a.Organisms > 0 && a.Volume.IsZero():
		text += fmt.Sprintf(", %s organisms", quantity.Thousands(a.Organisms))
	case a.Organisms > 0:
		text += fmt.Sprintf(" of a mix of %s organisms made up to %v", quantity.Thousands(a.Organisms), a.Volume)
	case a.Mass.Sign() > 0 && a.Volume.IsZero():
		text += fmt.Sprintf(", %v", a.Mass)
	case a.Mass.Sign() > 0:
		text += fmt.Sprintf(" of a mix of %v made up to %v", a.Mass, a.Volume)
	}
	if a.AboveLabel {
		text += "; above the label"
	}
	return text
}

func (w words) inspection(i *course.Inspection) string {
	text := w.plantList(i.Plants) + " looked at, "
	if len(i.Found) == 0 {
		text += "no find"
	} else {
		text += fmt.Sprintf("living insects on %s, severity %d", w.plantList(i.Found), i.Severity)
	}
	if i.AdultsOnCards != nil {
		text += fmt.Sprintf("; %d adults on the cards", *i.AdultsOnCards)
	}
	return text
}

func (w words) approval(a *course.Approval) string {
	by := w.person(a.By)
	if a.Withdrawn {
		return fmt.Sprintf("approval of %s withdrawn by %s", w.product(a.Product), by)
	}
	ways := slices.Clone(a.Ways)
	for i, way := range ways {
		ways[i] = course.WayKind(plain(way))
	}
	rate := "at the label's rate"
	if a.MaxRate != nil {
		rate = "up to " + a.MaxRate.String()
	}
	return fmt.Sprintf("%s approved by %s, %s, %s", w.product(a.Product), by, rate, either(ways))
}

func (w words) product(id catalogue.ProductID) string {
	if name := w.products[id]; name != "" {
		return name
	}
	return string(id)
}

// plantList names a few plants and counts many.
func (w words) plantList(plants []site.PlantID) string {
	const most = 3
	if len(plants) > most {
		return fmt.Sprintf("%d plants", len(plants))
	}
	names := make([]string, len(plants))
	for i, id := range plants {
		if names[i] = w.plants[id]; names[i] == "" {
			names[i] = string(id)
		}
	}
	return strings.Join(names, ", ")
}
