package store

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

const insertStampSQL = `
INSERT INTO stamp (business_id, stamp_id, visit_id, technician_id, item_id, event, happened_at, received_at, caller, off_plan)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
ON CONFLICT (business_id, stamp_id) DO NOTHING`

// InsertStamp stores a stamp as told; fresh is false when one of that id is known, also where a twin stored it just now.
func (tx *Tx) InsertStamp(s firm.Stamp) (fresh bool, err error) {
	written, err := tx.exec(insertStampSQL, s.ID, string(s.Visit), string(s.Technician), text(s.Item), string(s.Event), instant(s.At),
		instant(s.ReceivedAt), s.Caller, s.OffPlan)
	return written == 1, err
}

type stampRow struct {
	ID         string `db:"stamp_id"`
	Visit      string `db:"visit_id"`
	Technician string `db:"technician_id"`
	Item       text   `db:"item_id"`
	Event      string
	At         instant `db:"happened_at"`
	ReceivedAt instant `db:"received_at"`
	Caller     string
	OffPlan    bool `db:"off_plan"`
}

const stampColumnsSQL = `
SELECT stamp_id, visit_id, technician_id, item_id, event, happened_at, received_at, caller, off_plan
FROM stamp
WHERE business_id = $1 `

func stamps(tx *Tx, rest string, args ...any) ([]firm.Stamp, error) {
	rows, err := list[stampRow](tx, stampColumnsSQL+rest, args...)
	found := make([]firm.Stamp, len(rows))
	for i, r := range rows {
		found[i] = firm.Stamp{
			ID: r.ID, Visit: scheduler.VisitID(r.Visit), Technician: scheduler.TechnicianID(r.Technician), Item: scheduler.ItemID(r.Item),
			Event: firm.StampEvent(r.Event), At: civil.Instant(r.At), ReceivedAt: civil.Instant(r.ReceivedAt), Caller: r.Caller, OffPlan: r.OffPlan,
		}
	}
	return found, err
}

// Stamp returns a stamp.
func (tx *Tx) Stamp(id string) (firm.Stamp, error) {
	found, err := stamps(tx, `AND stamp_id = $2 ORDER BY stamp_id`, id)
	if err == nil && len(found) == 0 {
		return firm.Stamp{}, absent("stamp", id)
	}
	if err != nil {
		return firm.Stamp{}, err
	}
	return found[0], nil
}

// StampsOf returns the stamps of some visits, in the order in which they happened.
func (tx *Tx) StampsOf(visits ...scheduler.VisitID) ([]firm.Stamp, error) {
	return stamps(tx, `AND visit_id = ANY ($2) ORDER BY happened_at, stamp_id`, ids(visits))
}

// NewestStamps returns a page of stamps, of one visit or of all (""), the latest happening first; its keys are NewestKey(At, ID).
func (tx *Tx) NewestStamps(visit scheduler.VisitID, page Page) ([]firm.Stamp, error) {
	const rest = `
	AND ($2::timestamptz IS NULL OR (happened_at, stamp_id) < ($2, $3))
	AND ($4 = '' OR visit_id = $4)
ORDER BY happened_at DESC, stamp_id DESC
LIMIT $5`
	at, id, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	return stamps(tx, rest, at, id, string(visit), page.limit())
}

// BeginVisit makes a visit a begun one, unless it is begun or done already. Its site then gets a new version, so that a plan
// that is being published is held against it again.
func (tx *Tx) BeginVisit(id scheduler.VisitID) error {
	const statement = `
UPDATE visit
SET state = 'begun'
WHERE business_id = $1 AND visit_id = $2 AND state IN ('published', 'announced', 'pinned')
RETURNING site_id`
	began, err := list[string](tx, statement, string(id))
	if err != nil || len(began) == 0 {
		return err
	}
	return tx.touchSites([]site.ID{site.ID(began[0])})
}
