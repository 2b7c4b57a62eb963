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
}

// readWords reads the names that the history of a case needs.
func readWords(tx *store.Tx, c firm.Case) (words, error) {
	w := words{map[site.PlantID]string{}, map[catalogue.ProductID]string{}, map[string]string{}}
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
	crew, err := tx.Crew()
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
	}
	return "", ""
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
	by := a.By
	if name := w.people[a.By]; name != "" {
		by = name
	}
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
