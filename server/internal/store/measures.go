package store

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/server/internal/firm"
)

// ReportsWithin returns the reports of stays that began in the span, by arrival, without those that a later one corrects.
func (tx *Tx) ReportsWithin(span civil.Interval) ([]firm.Report, error) {
	const query = `
SELECT r.detail
FROM report r
WHERE r.business_id = $1
	AND r.arrived_at >= $2
	AND r.arrived_at < $3
	AND NOT EXISTS (SELECT FROM report c WHERE c.business_id = $1 AND c.corrects = r.report_id)
ORDER BY r.arrived_at, r.report_id`
	return documents[firm.Report](tx, query, instant(span.From), instant(span.To))
}

// VisitsNamed returns visits by id with their work, in no order; those that are gone are left out.
func (tx *Tx) VisitsNamed(named []scheduler.VisitID) ([]scheduler.Visit, error) {
	return visits(tx, `AND visit_id = ANY ($2)`, ids(named))
}

// WindowsPlanned returns the windows of the follow-ups that plans made in the span were made for, the earliest plan first.
func (tx *Tx) WindowsPlanned(span civil.Interval) ([]firm.PlannedWindows, error) {
	const query = `
SELECT
	p.made_at,
	(
		SELECT jsonb_agg(jsonb_build_object('id', f -> 'id', 'kind', f -> 'kind', 'site', f -> 'site', 'due', f -> 'due'))
		FROM jsonb_array_elements(nullif(p.follow_ups, 'null')) AS f
	) AS windows
FROM plan p
WHERE p.business_id = $1 AND p.made_at >= $2 AND p.made_at < $3
ORDER BY p.made_at, p.plan_id`
	rows, err := list[struct {
		MadeAt  instant `db:"made_at"`
		Windows document[[]firm.FollowUpWindow]
	}](tx, query, instant(span.From), instant(span.To))
	planned := make([]firm.PlannedWindows, len(rows))
	for i, row := range rows {
		planned[i] = firm.PlannedWindows{MadeAt: civil.Instant(row.MadeAt), Windows: row.Windows.value}
	}
	return planned, err
}

// RecordsWithin returns the application records that stand of applications begun in the span: neither corrected nor of
// one that was not made; the earliest first.
func (tx *Tx) RecordsWithin(span civil.Interval) ([]firm.Record, error) {
	return documents[firm.Record](tx, standingRecordsSQL+`
	AND r.began_at >= $2
	AND r.began_at < $3
ORDER BY r.began_at, r.record_id`, instant(span.From), instant(span.To))
}

// RecordsOfCases returns the application records of cases that stand, the earliest first.
func (tx *Tx) RecordsOfCases(of []course.CaseID) ([]firm.Record, error) {
	return documents[firm.Record](tx, standingRecordsSQL+`
	AND r.case_id = ANY ($2)
ORDER BY r.began_at, r.record_id`, ids(of))
}

const standingRecordsSQL = `
SELECT r.detail
FROM application_record r
WHERE r.business_id = $1
	AND NOT r.detail ? 'not_made'
	AND NOT EXISTS (SELECT FROM application_record c WHERE c.business_id = $1 AND c.corrects = r.record_id)`

// CasesEnded returns the cases that ended in the span, by id.
func (tx *Tx) CasesEnded(span civil.Interval) ([]firm.Case, error) {
	rows, err := list[caseRow](tx, caseColumnsSQL+`AND c.ended_at >= $2 AND c.ended_at < $3 ORDER BY c.case_id`, instant(span.From), instant(span.To))
	cases := make([]firm.Case, len(rows))
	for i, row := range rows {
		cases[i] = row.value()
	}
	return cases, err
}
