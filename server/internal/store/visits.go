package store

import (
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// VisitFilter narrows a list of visits.
type VisitFilter struct {
	// From and To: visits of which some instant lies in [From, To); an unset end is open.
	From, To   civil.Instant
	Technician scheduler.TechnicianID // "" is everybody
	Site       site.ID                // "" is every site
	States     []scheduler.VisitState // empty is every state
}

type visitRow struct {
	ID         string `db:"visit_id"`
	State      string
	Technician string `db:"technician_id"`
	Site       string `db:"site_id"`
	Arrives    instant
	Leaves     instant
	SignIn     int64 `db:"sign_in_seconds"`
	Cost       document[scheduler.Cost]
}

// value is the row as the scheduler speaks of it, without work.
func (r visitRow) value() scheduler.Visit {
	return scheduler.Visit{
		ID: scheduler.VisitID(r.ID), State: scheduler.VisitState(r.State), Technician: scheduler.TechnicianID(r.Technician),
		Site: site.ID(r.Site), Arrives: civil.Instant(r.Arrives), Leaves: civil.Instant(r.Leaves),
		SignIn: time.Duration(r.SignIn) * time.Second, Cost: r.Cost.value,
	}
}

const visitColumnsSQL = `
SELECT
	visit_id,
	state,
	technician_id,
	site_id,
	lower(during) AS arrives,
	upper(during) AS leaves,
	sign_in_seconds,
	cost
FROM visit
WHERE business_id = $1 `

const workSQL = `
SELECT visit_id, detail
FROM visit_work
WHERE business_id = $1 AND visit_id = ANY ($2)
ORDER BY visit_id, ordinal`

// visits reads visits by a predicate and an order, with their work.
func visits(tx *Tx, rest string, args ...any) ([]scheduler.Visit, error) {
	rows, err := list[visitRow](tx, visitColumnsSQL+rest, args...)
	if err != nil {
		return nil, err
	}
	found := make([]scheduler.Visit, len(rows))
	names := make([]string, len(rows))
	at := make(map[string]int, len(rows))
	for i, row := range rows {
		found[i], names[i], at[row.ID] = row.value(), row.ID, i
	}
	work, err := list[struct {
		Visit  string `db:"visit_id"`
		Detail document[scheduler.WorkItem]
	}](tx, workSQL, ids(names))
	for _, row := range work {
		visit := &found[at[row.Visit]]
		visit.Work = append(visit.Work, row.Detail.value)
	}
	return found, err
}

// Visits returns visits with their work, by arrival.
func (tx *Tx) Visits(filter VisitFilter) ([]scheduler.Visit, error) {
	const rest = `
	AND during && tstzrange($2, $3)
	AND ($4 = '' OR technician_id = $4)
	AND ($5 = '' OR site_id = $5)
	AND (cardinality($6::text[]) = 0 OR state = ANY ($6))
ORDER BY lower(during), visit_id`
	return visits(tx, rest, instant(filter.From), instant(filter.To), string(filter.Technician), string(filter.Site), ids(filter.States))
}

// Visit returns a visit with its work.
func (tx *Tx) Visit(id scheduler.VisitID) (scheduler.Visit, error) {
	found, err := visits(tx, `AND visit_id = $2 ORDER BY visit_id`, string(id))
	if err == nil && len(found) == 0 {
		return scheduler.Visit{}, absent("visit", string(id))
	}
	if err != nil {
		return scheduler.Visit{}, err
	}
	return found[0], nil
}

const setVisitStateSQL = `
UPDATE visit v
SET state = $3
FROM (SELECT state FROM visit WHERE business_id = $1 AND visit_id = $2 FOR UPDATE) AS before
WHERE v.business_id = $1 AND v.visit_id = $2
RETURNING before.state AS before, v.technician_id AS technician, v.site_id AS site, lower(v.during) AS arrives`

const dropWorkAheadSQL = `
DELETE FROM area_use
WHERE business_id = $1 AND visit_id = $2 AND kind = 'work' AND NOT reported AND lower(during) > $3`

// SetVisitState moves a visit to a state, as when it begins or is done. The work of one that is done which was still to come
// keeps no area any more: what was done is told by its report.
func (tx *Tx) SetVisitState(id scheduler.VisitID, state scheduler.VisitState) error {
	row, err := one[struct {
		Before, Technician, Site string
		Arrives                  instant
	}](tx, "visit", string(id), setVisitStateSQL, string(id), string(state))
	if err != nil || row.Before == string(state) {
		return err
	}
	tx.Tell(firm.Change{
		Noun: firm.NounVisit, ID: string(id), Kind: kindOfState(state), Site: site.ID(row.Site),
		Technician: scheduler.TechnicianID(row.Technician), Begins: civil.Instant(row.Arrives),
	})
	if state != scheduler.Done {
		return nil
	}
	_, err = tx.exec(dropWorkAheadSQL, string(id), instant(tx.now))
	return err
}

// ReplaceVisits swaps visits in one go: remove goes, upsert is added or takes the place of what its ids named before,
// with all that hangs on them (work, area use, day routes and mixes, keep-outs). Every keep-out names its visit.
// Only published and announced visits can be removed (Conflict). At commit the database refuses a technician at two
// places at one time and work inside a keep-out (Conflict). Reported keep-outs stay. planID names the plan that placed
// the visits; "" is none.
func (tx *Tx) ReplaceVisits(remove []scheduler.VisitID, upsert []scheduler.Visit, routes []firm.Route, keepOuts []firm.KeepOutFact, planID string) error {
	for _, keepOut := range keepOuts {
		if keepOut.Visit == "" {
			return fault.New(fault.Invalid, "KEEP_OUT_WITHOUT_VISIT", "the keep-out of item %q names no visit; name the visit whose application makes it", keepOut.Item)
		}
	}
	before, err := tx.visitsBefore(remove, upsert)
	if err != nil {
		return err
	}
	tx.tellVisits(before, remove, upsert)
	touched, err := tx.clearVisits(remove, upsert)
	if err != nil {
		return err
	}
	if err := tx.putVisits(upsert, planID); err != nil {
		return err
	}
	if err := tx.putKeepOuts(keepOuts, false); err != nil {
		return err
	}
	if err := tx.excuseFixedWork(); err != nil {
		return err
	}
	return tx.putRoutes(routes, touched)
}

const (
	techniciansOfSQL = `
SELECT DISTINCT technician_id
FROM visit
WHERE business_id = $1 AND visit_id = ANY ($2)
ORDER BY technician_id`

	dropWorkSQL    = `DELETE FROM visit_work WHERE business_id = $1 AND visit_id = ANY ($2)`
	dropAreaUseSQL = `DELETE FROM area_use WHERE business_id = $1 AND visit_id = ANY ($2) AND NOT reported`
	dropVisitsSQL  = `DELETE FROM visit WHERE business_id = $1 AND visit_id = ANY ($2) AND state IN ('published', 'announced')`
)

// clearVisits takes away what is to be written anew, and returns whose days are concerned.
func (tx *Tx) clearVisits(remove []scheduler.VisitID, upsert []scheduler.Visit) ([]string, error) {
	all := append([]scheduler.VisitID{}, remove...)
	var touched []string
	for _, visit := range upsert {
		all = append(all, visit.ID)
		touched = append(touched, string(visit.Technician))
	}
	before, err := list[string](tx, techniciansOfSQL, ids(all))
	if err != nil {
		return nil, err
	}
	for _, statement := range []string{dropWorkSQL, dropAreaUseSQL} {
		if _, err := tx.exec(statement, ids(all)); err != nil {
			return nil, err
		}
	}
	removed, err := tx.exec(dropVisitsSQL, ids(remove))
	if err != nil {
		return nil, err
	}
	if removed < len(remove) {
		return nil, fault.New(fault.Conflict, "VISIT_FIXED",
			"of %d visits to be withdrawn, %d have begun, are done or pinned, or are gone already; only published and announced ones may move", len(remove), len(remove)-removed)
	}
	return append(touched, before...), nil
}

const (
	putVisitsSQL = `
INSERT INTO visit (business_id, visit_id, state, technician_id, site_id, during, sign_in_seconds, cost, plan_id)
SELECT
	$1,
	v ->> 'id',
	v ->> 'state',
	v ->> 'technician',
	v ->> 'site',
	tstzrange((v ->> 'arrives')::timestamptz, (v ->> 'leaves')::timestamptz),
	(v ->> 'sign_in')::bigint / 1000000000, -- nanoseconds
	v -> 'cost',
	$3
FROM jsonb_array_elements($2::jsonb) AS v
ON CONFLICT (business_id, visit_id) DO UPDATE
SET
	state = excluded.state,
	technician_id = excluded.technician_id,
	site_id = excluded.site_id,
	during = excluded.during,
	sign_in_seconds = excluded.sign_in_seconds,
	cost = excluded.cost,
	plan_id = excluded.plan_id`

	putWorkSQL = `
INSERT INTO visit_work (business_id, visit_id, ordinal, item_id, area_id, begins_at, ends_at, detail)
SELECT
	$1,
	v ->> 'id',
	w.ordinal,
	w.item ->> 'item',
	nullif(w.item ->> 'area', ''),
	(w.item ->> 'begins')::timestamptz,
	(w.item ->> 'ends')::timestamptz,
	w.item
FROM
	jsonb_array_elements($2::jsonb) AS v,
	jsonb_array_elements(nullif(v -> 'work', 'null')) WITH ORDINALITY AS w (item, ordinal)`

	// An application stands as the keep-out that it makes, in which its own technician may be; work without a product
	// is somebody in its area, or in the areas of its plants where it names none.
	putWorkUseSQL = `
INSERT INTO area_use (business_id, area_id, kind, item_id, visit_id, during, technician_id, product_id)
SELECT $1, a.area_id, 'work', w.item_id, w.visit_id, tstzrange(w.begins_at, w.ends_at), v.technician_id, ''
FROM visit_work w
JOIN visit v ON v.business_id = $1 AND v.visit_id = w.visit_id
CROSS JOIN LATERAL (
	SELECT w.area_id
	WHERE w.area_id IS NOT NULL
	UNION
	SELECT p.area_id
	FROM plant p
	WHERE p.business_id = $1 AND w.area_id IS NULL AND (w.detail -> 'plants') ? p.plant_id
) AS a
WHERE w.business_id = $1 AND w.visit_id = ANY ($2) AND NOT w.detail ? 'use' AND w.begins_at < w.ends_at
ON CONFLICT (business_id, area_id, kind, item_id, visit_id, during, reported) DO NOTHING`
)

// putVisits writes visits, their work and where it is done.
func (tx *Tx) putVisits(upsert []scheduler.Visit, planID string) error {
	if len(upsert) == 0 {
		return nil
	}
	if _, err := tx.exec(putVisitsSQL, jsonOf(upsert), text(planID)); err != nil {
		return err
	}
	if _, err := tx.exec(putWorkSQL, jsonOf(upsert)); err != nil {
		return err
	}
	written := make([]scheduler.VisitID, len(upsert))
	for i, visit := range upsert {
		written[i] = visit.ID
	}
	_, err := tx.exec(putWorkUseSQL, ids(written))
	return err
}

const (
	putRoutesSQL = `
INSERT INTO day_route (business_id, technician_id, day_on, departs_at, returns_at, break_from_at, break_to_at, mixes)
SELECT
	$1,
	r ->> 'technician',
	(r ->> 'day')::date,
	(r ->> 'departs')::timestamptz,
	(r ->> 'returns')::timestamptz,
	nullif(r #>> '{break,from}', '')::timestamptz,
	nullif(r #>> '{break,to}', '')::timestamptz,
	coalesce(r -> 'mixes', '[]')
FROM jsonb_array_elements($2::jsonb) AS r
ON CONFLICT (business_id, technician_id, day_on) DO UPDATE
SET
	departs_at = excluded.departs_at,
	returns_at = excluded.returns_at,
	break_from_at = excluded.break_from_at,
	break_to_at = excluded.break_to_at,
	mixes = excluded.mixes`

	// A day from which every visit has moved away is no day route any more.
	dropEmptyRoutesSQL = `
DELETE FROM day_route r
WHERE r.business_id = $1
	AND r.technician_id = ANY ($2)
	AND NOT EXISTS (
		SELECT
		FROM visit v
		WHERE v.business_id = $1
			AND v.technician_id = r.technician_id
			AND v.during && tstzrange(r.departs_at, r.returns_at, '[]')
	)`
)

// putRoutes writes day routes and removes those of the technicians that have become empty.
func (tx *Tx) putRoutes(routes []firm.Route, technicians []string) error {
	if err := inserted(tx, putRoutesSQL, routes); err != nil {
		return err
	}
	_, err := tx.exec(dropEmptyRoutesSQL, ids(technicians))
	return err
}

// RouteFilter narrows a list of day routes.
type RouteFilter struct {
	From, To   civil.Date             // days, both included; an unset end is open
	Technician scheduler.TechnicianID // "" is everybody
}

type routeRow struct {
	Technician string  `db:"technician_id"`
	Day        date    `db:"day_on"`
	Departs    instant `db:"departs_at"`
	Returns    instant `db:"returns_at"`
	BreakFrom  instant `db:"break_from_at"`
	BreakTo    instant `db:"break_to_at"`
	Mixes      document[[]scheduler.Mix]
}

const routesSQL = `
SELECT technician_id, day_on, departs_at, returns_at, break_from_at, break_to_at, mixes
FROM day_route
WHERE business_id = $1
	AND ($2::date IS NULL OR day_on >= $2)
	AND ($3::date IS NULL OR day_on <= $3)
	AND ($4 = '' OR technician_id = $4)
ORDER BY day_on, technician_id`

// Routes returns published day routes by day, then technician.
func (tx *Tx) Routes(filter RouteFilter) ([]firm.Route, error) {
	rows, err := list[routeRow](tx, routesSQL, date(filter.From), date(filter.To), string(filter.Technician))
	routes := make([]firm.Route, len(rows))
	for i, r := range rows {
		routes[i] = firm.Route{
			Technician: scheduler.TechnicianID(r.Technician), Day: civil.Date(r.Day),
			Departs: civil.Instant(r.Departs), Returns: civil.Instant(r.Returns),
			Break: civil.Interval{From: civil.Instant(r.BreakFrom), To: civil.Instant(r.BreakTo)}, Mixes: r.Mixes.value,
		}
	}
	return routes, err
}
