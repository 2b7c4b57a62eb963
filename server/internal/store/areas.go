package store

import (
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

type keepOutRow struct {
	Area           string `db:"area_id"`
	From           instant
	To             instant
	Product        string  `db:"product_id"`
	By             string  `db:"technician_id"`
	UntilDry       bool    `db:"until_dry"`
	Item           string  `db:"item_id"`
	Visit          string  `db:"visit_id"`
	ConfirmedDryAt instant `db:"confirmed_dry_at"`
}

const keepOutColumnsSQL = `
SELECT
	area_id,
	lower(during) AS "from",
	upper(during) AS "to",
	product_id,
	technician_id,
	until_dry,
	item_id,
	visit_id,
	confirmed_dry_at
FROM area_use
WHERE business_id = $1 AND kind = 'keep-out' `

func keepOuts(tx *Tx, rest string, args ...any) ([]firm.KeepOutFact, error) {
	rows, err := list[keepOutRow](tx, keepOutColumnsSQL+rest, args...)
	return keepOutFacts(rows), err
}

func keepOutFacts(rows []keepOutRow) []firm.KeepOutFact {
	facts := make([]firm.KeepOutFact, len(rows))
	for i, r := range rows {
		facts[i] = firm.KeepOutFact{
			KeepOut: scheduler.KeepOut{
				Area:    site.AreaID(r.Area),
				During:  civil.Interval{From: civil.Instant(r.From), To: civil.Instant(r.To)},
				Product: catalogue.ProductID(r.Product), By: scheduler.TechnicianID(r.By), UntilDry: r.UntilDry,
				Item: scheduler.ItemID(r.Item),
			},
			Visit: scheduler.VisitID(r.Visit), ConfirmedDryAt: civil.Instant(r.ConfirmedDryAt),
		}
	}
	return facts
}

// KeepOuts returns the keep-outs of which some instant lies in the span, by beginning; an unset end is open.
func (tx *Tx) KeepOuts(span civil.Interval) ([]firm.KeepOutFact, error) {
	return keepOuts(tx, `AND during && tstzrange($2, $3) ORDER BY lower(during), area_id, item_id, reported`,
		instant(span.From), instant(span.To))
}

// AwaitingDry returns the keep-outs that have begun and that somebody must still find dry, by beginning.
func (tx *Tx) AwaitingDry() ([]firm.KeepOutFact, error) {
	return keepOuts(tx, `AND until_dry AND confirmed_dry_at IS NULL AND lower(during) <= $2 ORDER BY lower(during), area_id, item_id, reported`,
		instant(tx.now))
}

const nextUntilDrySQL = `
SELECT min(lower(during))
FROM area_use
WHERE business_id = $1 AND kind = 'keep-out' AND until_dry AND during && tstzrange($2, $3) AND lower(during) > $2`

// NextUntilDry is when the next keep-out begins, before an instant, that somebody must find dry afterwards; unset for none.
func (tx *Tx) NextUntilDry(before civil.Instant) (civil.Instant, error) {
	next, err := one[instant](tx, "keep-out", "", nextUntilDrySQL, instant(tx.now), instant(before))
	return civil.Instant(next), err
}

const putKeepOutsSQL = `
INSERT INTO area_use (
	business_id, area_id, kind, item_id, visit_id, during, reported, technician_id, product_id, until_dry, confirmed_dry_at
)
SELECT
	$1,
	k ->> 'area',
	'keep-out',
	k ->> 'item',
	coalesce(k ->> 'visit', ''),
	tstzrange((k #>> '{during,from}')::timestamptz, (k #>> '{during,to}')::timestamptz),
	$3,
	k ->> 'by',
	k ->> 'product',
	coalesce((k ->> 'until_dry')::boolean, false),
	nullif(k ->> 'confirmed_dry_at', '')::timestamptz
FROM jsonb_array_elements($2::jsonb) AS k
ON CONFLICT (business_id, area_id, kind, item_id, visit_id, during, reported) DO NOTHING`

// putKeepOuts writes keep-outs; one that stands already is left as it is.
func (tx *Tx) putKeepOuts(facts []firm.KeepOutFact, reported bool) error {
	if len(facts) == 0 {
		return nil
	}
	_, err := tx.exec(putKeepOutsSQL, jsonOf(facts), reported)
	return err
}

const dropKeepOutsSQL = `
DELETE FROM area_use
WHERE business_id = $1 AND item_id = ANY ($2) AND kind = 'keep-out' AND NOT reported`

// DropKeepOuts removes the planned keep-outs of items: of applications that were not made.
func (tx *Tx) DropKeepOuts(items []scheduler.ItemID) error {
	if len(items) == 0 {
		return nil
	}
	_, err := tx.exec(dropKeepOutsSQL, ids(items))
	return err
}

// ReportedKeepOuts returns the keep-outs at a site of applications that were really made, of which some instant lies in
// the span, by beginning.
func (tx *Tx) ReportedKeepOuts(at site.ID, span civil.Interval) ([]firm.KeepOutFact, error) {
	const rest = `
	AND reported
	AND during && tstzrange($2, $3)
	AND area_id IN (SELECT a.area_id FROM area a WHERE a.business_id = $1 AND a.site_id = $4)
ORDER BY lower(during), area_id, item_id`
	return keepOuts(tx, rest, instant(span.From), instant(span.To), string(at))
}

const dropReportedKeepOutsSQL = `
DELETE FROM area_use
WHERE business_id = $1
	AND kind = 'keep-out'
	AND reported
	AND item_id = $2
	AND technician_id = $3
	AND product_id = $4
	AND lower(during) = $5
RETURNING
	area_id,
	lower(during) AS "from",
	upper(during) AS "to",
	product_id,
	technician_id,
	until_dry,
	item_id,
	visit_id,
	confirmed_dry_at`

// DropReportedKeepOuts takes back what an application shut that a later report corrects, and returns it: that of a
// product by a technician for an item ("" for one that no plan knew) from its beginning on.
func (tx *Tx) DropReportedKeepOuts(item scheduler.ItemID, by scheduler.TechnicianID, product catalogue.ProductID, began civil.Instant) ([]firm.KeepOutFact, error) {
	rows, err := list[keepOutRow](tx, dropReportedKeepOutsSQL, string(item), string(by), string(product), instant(began))
	return keepOutFacts(rows), err
}

// AddKeepOuts adds the keep-outs of applications that were really made; they take the place of the planned ones of
// their items. A fact is never refused: planned work that lies in one is marked as overtaken and shows as a breach.
func (tx *Tx) AddKeepOuts(facts []firm.KeepOutFact) error {
	if len(facts) == 0 {
		return nil
	}
	items := make([]scheduler.ItemID, 0, len(facts))
	areas := make([]site.AreaID, 0, len(facts))
	for _, fact := range facts {
		areas = append(areas, fact.Area)
		if fact.Item != "" {
			items = append(items, fact.Item)
		}
	}
	if err := tx.DropKeepOuts(items); err != nil {
		return err
	}
	if err := tx.putKeepOuts(facts, true); err != nil {
		return err
	}
	if err := tx.tellOfKeepOuts(facts); err != nil {
		return err
	}
	_, err := tx.exec(overtakeSQL+` AND w.area_id = ANY ($2)`, ids(areas))
	return err
}

// overtakeSQL marks work that a reported keep-out of its area overlaps.
const overtakeSQL = `
UPDATE area_use w
SET overtaken = true
WHERE w.business_id = $1
	AND w.kind = 'work'
	AND NOT w.overtaken
	AND EXISTS (
		SELECT
		FROM area_use k
		WHERE k.business_id = $1
			AND k.area_id = w.area_id
			AND k.kind = 'keep-out'
			AND k.reported
			AND k.during && w.during
	)`

const ofFixedVisitsSQL = `
	AND w.visit_id IN (SELECT v.visit_id FROM visit v WHERE v.business_id = $1 AND v.state IN ('begun', 'done', 'pinned'))`

// excuseFixedWork marks the work of fixed visits that lies in a reported keep-out: both are facts, and a breach
// between facts must not block a new plan.
func (tx *Tx) excuseFixedWork() error {
	_, err := tx.exec(overtakeSQL + ofFixedVisitsSQL)
	return err
}

const confirmDrySQL = `
UPDATE area_use
SET confirmed_dry_at = $3
WHERE business_id = $1
	AND area_id = $2
	AND kind = 'keep-out'
	AND until_dry
	AND (confirmed_dry_at IS NULL OR confirmed_dry_at > $3) -- the first look counts, in whatever order looks are told
	AND ($4 = '' OR item_id = $4)
	AND lower(during) <= $3 -- what begins later was not there to be found dry`

// ConfirmDryAfter writes down that an area was found dry after the application there of an item that asked for it; ""
// is every item.
func (tx *Tx) ConfirmDryAfter(item scheduler.ItemID, area site.AreaID, at civil.Instant) error {
	_, err := tx.exec(confirmDrySQL, string(area), instant(at), string(item))
	return err
}
