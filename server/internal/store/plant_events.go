package store

import (
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

const insertPlantEventSQL = `
INSERT INTO plant_event (business_id, plant_event_id, site_id, plant_ids, happened_at, told_at, caller, event)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`

// InsertPlantEvent stores an event of plants as told; Exists when one of that id is known. The site gets a new version.
func (tx *Tx) InsertPlantEvent(e firm.PlantEvent) error {
	_, err := tx.exec(insertPlantEventSQL, e.ID, string(e.Site), ids(e.Plants()), instant(e.At), instant(e.ReceivedAt), e.Caller, jsonOf(e))
	if err != nil {
		return err
	}
	tx.Tell(firm.Change{Noun: firm.NounPlantEvent, ID: e.ID, Kind: firm.Created, Site: e.Site})
	return tx.touchSites([]site.ID{e.Site})
}

// PlantEvent returns an event of plants.
func (tx *Tx) PlantEvent(id string) (firm.PlantEvent, error) {
	row, err := one[document[firm.PlantEvent]](tx, "plant event", id,
		`SELECT event FROM plant_event WHERE business_id = $1 AND plant_event_id = $2`, id)
	return row.value, err
}

// PlantEventsOf returns the events of the plants of a site, in the order in which they happened.
func (tx *Tx) PlantEventsOf(at site.ID) ([]firm.PlantEvent, error) {
	return documents[firm.PlantEvent](tx,
		`SELECT event FROM plant_event WHERE business_id = $1 AND site_id = $2 ORDER BY happened_at, plant_event_id`, string(at))
}

// NewestPlantEvents returns a page of events, those that name a plant or all (""), the latest happening first; its
// keys are NewestKey(At, ID).
func (tx *Tx) NewestPlantEvents(plant site.PlantID, page Page) ([]firm.PlantEvent, error) {
	const statement = `
SELECT event
FROM plant_event
WHERE business_id = $1
	AND ($2::timestamptz IS NULL OR (happened_at, plant_event_id) < ($2, $3))
	AND ($4 = '' OR $4 = ANY (plant_ids))
ORDER BY happened_at DESC, plant_event_id DESC
LIMIT $5`
	at, id, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	return documents[firm.PlantEvent](tx, statement, at, id, string(plant), page.limit())
}

const plantHistorySQL = `SELECT event FROM plant_event WHERE business_id = $1 AND site_id = ANY ($2) ORDER BY site_id, happened_at, plant_event_id`

// PlantHistories returns for each of some sites what happened to its plants, as a history without a case; a site of
// whose plants nothing is told has none.
func (tx *Tx) PlantHistories(of ...site.ID) ([]course.History, error) {
	events, err := documents[firm.PlantEvent](tx, plantHistorySQL, ids(of))
	if err != nil {
		return nil, err
	}
	var histories []course.History
	for _, e := range events {
		if n := len(histories); n == 0 || histories[n-1].Site != e.Site {
			histories = append(histories, course.History{Site: e.Site})
		}
		last := &histories[len(histories)-1]
		last.Events = append(last.Events, e.Event())
	}
	return histories, nil
}
