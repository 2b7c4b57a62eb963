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

// plantEventSQL is an event with its withdrawal, where there is one.
const plantEventSQL = `e.event || CASE
	WHEN w.plant_event_id IS NULL THEN '{}'
	ELSE jsonb_build_object('withdrawn_at', to_jsonb(w.withdrawn_at), 'withdrawn_because', w.reason)
END
FROM plant_event e
LEFT JOIN plant_event_withdrawal w ON w.business_id = $1 AND w.plant_event_id = e.plant_event_id
WHERE e.business_id = $1`

// PlantEvent returns an event of plants, withdrawn or not.
func (tx *Tx) PlantEvent(id string) (firm.PlantEvent, error) {
	row, err := one[document[firm.PlantEvent]](tx, "plant event", id, selecting+plantEventSQL+` AND e.plant_event_id = $2`, id)
	return row.value, err
}

// PlantEventsOf returns the events of the plants of a site that count, in the order in which they happened.
func (tx *Tx) PlantEventsOf(at site.ID) ([]firm.PlantEvent, error) {
	const rest = ` AND w.plant_event_id IS NULL AND e.site_id = $2 ORDER BY e.happened_at, e.plant_event_id`
	return documents[firm.PlantEvent](tx, selecting+plantEventSQL+rest, string(at))
}

// NewestPlantEvents returns a page of events, those that name a plant or all (""), withdrawn ones too, the latest
// happening first; its keys are NewestKey(At, ID).
func (tx *Tx) NewestPlantEvents(plant site.PlantID, page Page) ([]firm.PlantEvent, error) {
	const rest = `
	AND ($2::timestamptz IS NULL OR (e.happened_at, e.plant_event_id) < ($2, $3))
	AND ($4 = '' OR $4 = ANY (e.plant_ids))
ORDER BY e.happened_at DESC, e.plant_event_id DESC
LIMIT $5`
	at, id, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	return documents[firm.PlantEvent](tx, selecting+plantEventSQL+rest, at, id, string(plant), page.limit())
}

const withdrawPlantEventSQL = `
INSERT INTO plant_event_withdrawal (business_id, plant_event_id, withdrawn_at, caller, reason)
VALUES ($1, $2, $3, $4, $5)`

// WithdrawPlantEvent lets an event count no more; Exists when it is withdrawn already. Its site gets a new version.
func (tx *Tx) WithdrawPlantEvent(e firm.PlantEvent, reason string) error {
	if _, err := tx.exec(withdrawPlantEventSQL, e.ID, instant(tx.now), tx.caller.Subject, reason); err != nil {
		return err
	}
	return tx.touchSites([]site.ID{e.Site})
}

// PlantHistories returns for each of some sites what happened to its plants, as a history without a case; a site of
// whose plants nothing is told has none.
func (tx *Tx) PlantHistories(of ...site.ID) ([]course.History, error) {
	const rest = ` AND w.plant_event_id IS NULL AND e.site_id = ANY ($2) ORDER BY e.site_id, e.happened_at, e.plant_event_id`
	events, err := documents[firm.PlantEvent](tx, selecting+plantEventSQL+rest, ids(of))
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
