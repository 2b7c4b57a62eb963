package store

import (
	"maps"
	"slices"

	"github.com/lib/pq"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

const insertCrewSQL = `
INSERT INTO technician (
	business_id, technician_id, name, base_latitude, base_longitude, paid_per_minute_minor, speed_percent,
	responsible_applicator, detail
)
SELECT
	$1,
	t ->> 'id',
	t ->> 'name',
	(t ->> 'base_latitude')::double precision,
	(t ->> 'base_longitude')::double precision,
	(t ->> 'paid_per_minute')::numeric,
	(t ->> 'speed_percent')::integer,
	coalesce((t ->> 'responsible_applicator')::boolean, false),
	t
FROM jsonb_array_elements($2::jsonb) AS t`

// InsertCrew adds technicians; Exists when one is known already.
func (tx *Tx) InsertCrew(crew []firm.CrewMember) error {
	for _, member := range crew {
		tx.Tell(firm.Change{Noun: firm.NounTechnician, ID: string(member.ID), Kind: firm.Created})
	}
	return inserted(tx, insertCrewSQL, crew)
}

// CrewMember returns a technician, one who left the crew too.
func (tx *Tx) CrewMember(id scheduler.TechnicianID) (firm.CrewMember, error) {
	row, err := one[document[firm.CrewMember]](tx, "technician", string(id),
		`SELECT detail FROM technician WHERE business_id = $1 AND technician_id = $2`, string(id))
	return row.value, err
}

// Crew returns every technician of the business by id, without those who left.
func (tx *Tx) Crew() ([]firm.CrewMember, error) {
	return documents[firm.CrewMember](tx,
		`SELECT detail FROM technician WHERE business_id = $1 AND deleted_at IS NULL ORDER BY technician_id`)
}

// EverCrew returns every technician of the business by id, those who left included: what they did stays theirs.
func (tx *Tx) EverCrew() ([]firm.CrewMember, error) {
	return documents[firm.CrewMember](tx, `SELECT detail FROM technician WHERE business_id = $1 ORDER BY technician_id`)
}

const leftCrewSQL = `
SELECT t.detail
FROM technician t
WHERE t.business_id = $1
	AND t.deleted_at IS NOT NULL
	AND EXISTS (
		SELECT FROM visit v
		WHERE v.business_id = $1 AND v.technician_id = t.technician_id AND v.during && tstzrange($2, NULL)
	)
ORDER BY t.technician_id`

// LeftCrew returns those who left the crew and have visits that end after an instant, by id: visits that somebody else is
// to make, or that are facts.
func (tx *Tx) LeftCrew(since civil.Instant) ([]firm.CrewMember, error) {
	return documents[firm.CrewMember](tx, leftCrewSQL, instant(since))
}

const insertServicesSQL = `
INSERT INTO service (business_id, service_id, site_id, kind, groups, earliest_days, ideal_days, latest_days, last_done_on)
SELECT
	$1,
	s ->> 'id',
	s ->> 'site',
	s ->> 'kind',
	s -> 'groups',
	(s ->> 'earliest')::integer,
	(s ->> 'ideal')::integer,
	(s ->> 'latest')::integer,
	nullif(s ->> 'last', '')::date
FROM jsonb_array_elements($2::jsonb) AS s`

// InsertServices adds services; Exists when one is known already.
func (tx *Tx) InsertServices(services []site.Service) error {
	if err := inserted(tx, insertServicesSQL, services); err != nil {
		return err
	}
	touched := make([]site.ID, len(services))
	for i, service := range services {
		touched[i] = service.Site
	}
	return tx.touchSites(touched)
}

const addServiceGroupsSQL = `
UPDATE service
SET groups = groups || $3::jsonb, revision = revision + 1
WHERE business_id = $1 AND service_id = $2
RETURNING site_id`

// AddServiceGroups adds plants with their minutes to a service.
func (tx *Tx) AddServiceGroups(id string, groups []site.Group) error {
	at, err := one[site.ID](tx, "service", id, addServiceGroupsSQL, id, jsonOf(groups))
	if err != nil {
		return err
	}
	return tx.touchSites([]site.ID{at})
}

// SetServiceGroups gives a service other plants or minutes.
func (tx *Tx) SetServiceGroups(id string, groups []site.Group) error {
	at, err := one[site.ID](tx, "service", id, `UPDATE service SET groups = $3::jsonb, revision = revision + 1 WHERE business_id = $1 AND service_id = $2 RETURNING site_id`,
		id, jsonOf(groups))
	if err != nil {
		return err
	}
	return tx.touchSites([]site.ID{at})
}

const setServicesDoneSQL = `
UPDATE service
SET last_done_on = greatest(last_done_on, told.done_on)
FROM unnest($2::text[], $3::date[]) AS told (service_id, done_on)
WHERE service.business_id = $1 AND service.service_id = told.service_id
RETURNING service.site_id`

// SetServicesDone moves the last day of services on; an earlier day than the known one changes nothing, so that
// reports may come in any order.
func (tx *Tx) SetServicesDone(lastOn map[string]civil.Date) error {
	return setLast(tx, setServicesDoneSQL, lastOn)
}

// setLast runs a statement over ids ($2) and days ($3) that returns the sites concerned; every id must be known.
func setLast[ID ~string](tx *Tx, statement string, lastOn map[ID]civil.Date) error {
	if len(lastOn) == 0 {
		return nil
	}
	order := slices.Sorted(maps.Keys(lastOn))
	days := make([]string, len(order))
	for i, id := range order {
		days[i] = lastOn[id].String()
	}
	touched, err := list[site.ID](tx, statement, ids(order), pq.Array(days))
	if err != nil {
		return err
	}
	if len(touched) < len(order) {
		return fault.New(fault.NotFound, "NOT_FOUND", "of %d plants or services named, only %d are known in this business", len(order), len(touched))
	}
	return tx.touchSites(touched)
}

// areaTaken is the failure of an area's id that another site has.
func areaTaken() error {
	return fault.New(fault.Exists, "EXISTS_ALREADY", "an area has an id that an area of another site has; area ids are unique in a business")
}
