package casework

import (
	"encoding/json"
	"fmt"
	"slices"

	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// TellPlantEvent stores what happened to plants outside the work items of a visit: the event, the records of the plants,
// the plants of their cases and the courses in one transaction. Events may come late and in any order; one that is known
// already, word for word, gives what was stored the first time.
//
// Fails with Invalid (UNKNOWN_PLANT, OTHER_SITE, UNKNOWN_AREA, UNKNOWN_MATERIAL, IN_THE_FUTURE, OUT_OF_RANGE,
// CONTRADICTION, DUPLICATE, each with its field), Refused (PLANT_GONE for a group that splits or joins and is there no
// longer) and Exists (EXISTS_ALREADY for another event of that id, or for a plant with the id of a part).
func TellPlantEvent(tx *store.Tx, e firm.PlantEvent) (firm.PlantEvent, error) {
	e.Site = "" // where its plants stand, whatever was told
	if first, known, err := plantEventBefore(tx, e); err != nil || known {
		return first, err
	}
	if e.At.IsZero() {
		e.At = tx.Now()
	}
	if e.By == "" {
		e.By = tx.Caller().Subject
	}
	e.ReceivedAt, e.Caller = tx.Now(), tx.Caller().Subject
	t := plantTelling{tx: tx, event: e}
	if err := inOrder(t.lockSite, t.readSite, t.judge); err != nil {
		return firm.PlantEvent{}, err
	}
	// A twin of the event may have held the site until now.
	if first, known, err := plantEventBefore(tx, e); err != nil || known {
		return first, err
	}
	if err := inOrder(t.mayChange, t.lockCases, t.changePlants, t.keep, t.settle); err != nil {
		return firm.PlantEvent{}, err
	}
	return t.event, nil
}

// PlantEvents returns a page of events, those that name a plant or all (""), the latest happening first.
//
// Fails with NotFound for a plant that is not known.
func PlantEvents(tx *store.Tx, plant site.PlantID, page store.Page) ([]firm.PlantEvent, error) {
	if plant != "" {
		if _, err := tx.Plant(plant); err != nil {
			return nil, err
		}
	}
	return tx.NewestPlantEvents(plant, page)
}

// plantEventBefore returns the event of that id when it is known already and says the same.
func plantEventBefore(tx *store.Tx, e firm.PlantEvent) (first firm.PlantEvent, known bool, err error) {
	first, err = tx.PlantEvent(e.ID)
	if fault.Is(err, fault.NotFound) {
		return firm.PlantEvent{}, false, nil
	}
	if err != nil {
		return firm.PlantEvent{}, false, err
	}
	words := func(e firm.PlantEvent) string {
		e.Site, e.ReceivedAt, e.Caller, e.Cases, e.WithdrawnAt, e.WithdrawnBecause = "", 0, "", nil, 0, ""
		if e.At.IsZero() {
			e.At = first.At
		}
		if e.By == "" {
			e.By = first.By
		}
		text, err := json.Marshal(e)
		if err != nil {
			panic(fmt.Sprintf("casework: an event of plants cannot be written: %v", err))
		}
		return string(text)
	}
	if words(first) != words(e) {
		f := fault.New(fault.Exists, "EXISTS_ALREADY", "an event %s is known and says something else: give this one an id of its own", e.ID)
		f.Subject = e.ID
		return firm.PlantEvent{}, false, f
	}
	return first, true, nil
}

// plantTelling is one event of plants on its way into the store.
type plantTelling struct {
	tx        *store.Tx
	event     firm.PlantEvent
	site      site.Site
	plants    []site.Plant // of the site, by id
	histories []course.History
	cases     []course.CaseID // that the event concerns, and those that share plants with them
}

// on is the day of the event at the site.
func (t *plantTelling) on() civil.Date { return t.site.Zone.DateOf(t.event.At) }

// plant returns the record of a plant of the site, to be read or changed; nil for another.
func (t *plantTelling) plant(id site.PlantID) *site.Plant {
	i := slices.IndexFunc(t.plants, func(p site.Plant) bool { return p.ID == id })
	if i < 0 {
		return nil
	}
	return &t.plants[i]
}

// lockSite finds the site by the first plant that is known, and locks it.
func (t *plantTelling) lockSite() error {
	for _, n := range namedIn(t.event) {
		p, err := t.tx.Plant(n.id)
		if fault.Is(err, fault.NotFound) {
			continue
		}
		if err != nil {
			return err
		}
		t.event.Site = p.Site
		return t.tx.LockSite(p.Site)
	}
	return nil
}

func (t *plantTelling) readSite() (err error) {
	if t.event.Site == "" {
		return nil
	}
	if t.site, err = t.tx.Site(t.event.Site); err != nil {
		return err
	}
	if t.plants, err = t.tx.PlantsOf(t.site.ID); err != nil {
		return err
	}
	cases, err := t.tx.CasesOfSite(t.site.ID)
	if err != nil {
		return err
	}
	t.histories, err = Histories(t.tx, cases)
	return err
}

// lockCases locks the cases that have the plants, under the names of then or of today, and those that share plants
// with them.
func (t *plantTelling) lockCases() error {
	lineage, err := Lineage(t.tx, t.site, t.plants, t.histories)
	if err != nil {
		return err
	}
	plants := append(t.event.Plants(), lineage.Became(t.event.Plants(), t.event.At)...)
	found, err := t.tx.CasesOfPlants(plants)
	if err != nil {
		return err
	}
	ids := make([]course.CaseID, len(found))
	for i, c := range found {
		ids[i] = c.ID
	}
	t.cases, err = lockRelated(t.tx, ids)
	return err
}

// keep stores the event. What is part of the history of several cases gives each a new version.
func (t *plantTelling) keep() error {
	t.event.Cases = t.cases
	if err := t.tx.InsertPlantEvent(t.event); err != nil {
		return err
	}
	return t.tx.TouchCases(t.cases)
}

// settle lets cases and records of places follow the plants, and computes the courses anew.
func (t *plantTelling) settle() error {
	if err := followPlants(t.tx, t.cases); err != nil {
		return err
	}
	if err := t.settlePlaces(); err != nil {
		return err
	}
	return recompute(t.tx, t.cases)
}
