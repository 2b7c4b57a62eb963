package store

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

const insertReportSQL = `
INSERT INTO report (
	business_id, report_id, visit_id, technician_id, site_id, arrived_at, left_at, corrects, sent_at, received_at,
	caller, off_plan, external_id, detail
)
SELECT
	$1,
	r ->> 'id',
	nullif(r ->> 'visit', ''),
	r ->> 'technician',
	r ->> 'site',
	(r ->> 'arrived')::timestamptz,
	(r ->> 'left')::timestamptz,
	nullif(r ->> 'corrects', ''),
	nullif(r ->> 'sent_at', '')::timestamptz,
	(r ->> 'received_at')::timestamptz,
	r ->> 'caller',
	coalesce((r ->> 'off_plan')::boolean, false),
	nullif(r ->> 'external_id', ''),
	r
FROM (SELECT $2::jsonb AS r) AS told`

// InsertReport stores a report as told; Exists when one of that id is known. An unset ReceivedAt becomes now, an
// unset Caller the transaction's.
func (tx *Tx) InsertReport(r firm.Report) error {
	if r.ReceivedAt.IsZero() {
		r.ReceivedAt = tx.now
	}
	if r.Caller == "" {
		r.Caller = tx.caller.Subject
	}
	told := firm.Change{Noun: firm.NounReport, ID: r.ID, Kind: firm.Created, Site: r.Site}
	if len(r.Cases) == 1 {
		told.Case = r.Cases[0]
	}
	tx.Tell(told)
	_, err := tx.exec(insertReportSQL, jsonOf(r))
	return err
}

// Report returns a report.
func (tx *Tx) Report(id string) (firm.Report, error) {
	row, err := one[document[firm.Report]](tx, "report", id, `SELECT detail FROM report WHERE business_id = $1 AND report_id = $2`, id)
	return row.value, err
}

// ReportOfExternalID returns the id of the report that another program knows under an id; "" when there is none.
func (tx *Tx) ReportOfExternalID(external string) (id string, err error) {
	found, err := list[string](tx, `SELECT report_id FROM report WHERE business_id = $1 AND external_id = $2 ORDER BY report_id`, external)
	if err != nil || len(found) == 0 {
		return "", err
	}
	return found[0], nil
}

const standingReportsSQL = `
SELECT r.detail
FROM report r
WHERE r.business_id = $1
	AND r.site_id = $2
	AND r.arrived_at < $4
	AND r.left_at > $3
	AND NOT EXISTS (SELECT FROM report c WHERE c.business_id = $1 AND c.corrects = r.report_id)
ORDER BY r.arrived_at, r.report_id`

// StandingReports returns the reports of stays at a site of which some instant lies in the span, by arrival, without
// those that a later one corrects.
func (tx *Tx) StandingReports(at site.ID, span civil.Interval) ([]firm.Report, error) {
	return documents[firm.Report](tx, standingReportsSQL, string(at), instant(span.From), instant(span.To))
}

const insertDeviationsSQL = `
INSERT INTO deviation (business_id, deviation_id, report_id, rule, item_id, site_id, happened_at, text)
SELECT
	$1,
	d ->> 'id',
	d ->> 'report',
	d ->> 'rule',
	coalesce(d ->> 'item', ''),
	d ->> 'site',
	(d ->> 'at')::timestamptz,
	d ->> 'text'
FROM jsonb_array_elements($2::jsonb) AS d`

// InsertDeviations stores deviations of reports.
func (tx *Tx) InsertDeviations(deviations []firm.Deviation) error {
	return inserted(tx, insertDeviationsSQL, deviations)
}

type deviationRow struct {
	ID     string `db:"deviation_id"`
	Report string `db:"report_id"`
	Rule   string
	Item   string  `db:"item_id"`
	Site   string  `db:"site_id"`
	At     instant `db:"happened_at"`
	Text   string
	LookAt instant `db:"looked_at"`
	LookBy text    `db:"looked_by"`
	Note   text
}

const deviationColumnsSQL = `
SELECT d.deviation_id, d.report_id, d.rule, d.item_id, d.site_id, d.happened_at, d.text, l.looked_at, l.looked_by, l.note
FROM deviation d
LEFT JOIN deviation_look l ON l.business_id = $1 AND l.deviation_id = d.deviation_id
WHERE d.business_id = $1 `

func deviations(tx *Tx, rest string, args ...any) ([]firm.Deviation, error) {
	rows, err := list[deviationRow](tx, deviationColumnsSQL+rest, args...)
	found := make([]firm.Deviation, len(rows))
	for i, r := range rows {
		found[i] = firm.Deviation{
			ID: r.ID, Report: r.Report, Rule: scheduler.Rule(r.Rule), Item: scheduler.ItemID(r.Item),
			Site: site.ID(r.Site), At: civil.Instant(r.At), Text: r.Text,
		}
		if r.LookBy != "" {
			found[i].Look = &firm.DeviationLook{At: civil.Instant(r.LookAt), By: string(r.LookBy), Note: string(r.Note)}
		}
	}
	return found, err
}

// DeviationsOf returns the deviations of a report by id.
func (tx *Tx) DeviationsOf(report string) ([]firm.Deviation, error) {
	return deviations(tx, `AND d.report_id = $2 ORDER BY d.deviation_id`, report)
}

// Deviation returns a deviation.
func (tx *Tx) Deviation(id string) (firm.Deviation, error) {
	found, err := deviations(tx, `AND d.deviation_id = $2`, id)
	if err != nil || len(found) > 0 {
		return append(found, firm.Deviation{})[0], err
	}
	return firm.Deviation{}, absent("deviation", id)
}

const lookAtDeviationSQL = `
INSERT INTO deviation_look (business_id, deviation_id, looked_at, looked_by, note)
VALUES ($1, $2, $3, $4, $5)`

// LookAtDeviation notes that the office looked at a deviation; Exists when it has before.
func (tx *Tx) LookAtDeviation(id string, look firm.DeviationLook) error {
	_, err := tx.exec(lookAtDeviationSQL, id, instant(look.At), look.By, look.Note)
	return err
}

// recordToStore is a record with its amounts as decimals: SQL cannot compute with units.
type recordToStore struct {
	Record        firm.Record `json:"record"`
	ConcentrateML string      `json:"concentrate_ml"`
	AppliedML     string      `json:"applied_ml"`
}

const insertRecordsSQL = `
INSERT INTO application_record (
	business_id, record_id, report_id, corrects, case_id, client, site_id, area_id, jurisdiction, product_id, product_name,
	registration, label_version, catalogue_version, concentrate_ml, applied_ml, began_at, ended_at, entry_from_at,
	technician_id, licence, keep_until_on, detail
)
SELECT
	$1,
	r ->> 'id',
	r ->> 'report',
	nullif(r ->> 'corrects', ''),
	nullif(r ->> 'case', ''),
	r ->> 'client',
	r ->> 'site',
	r ->> 'area',
	r ->> 'jurisdiction',
	r ->> 'product',
	r ->> 'product_name',
	r ->> 'registration',
	r ->> 'label_version',
	r ->> 'catalogue_version',
	(told ->> 'concentrate_ml')::numeric,
	(told ->> 'applied_ml')::numeric,
	(r ->> 'began')::timestamptz,
	(r ->> 'ended')::timestamptz,
	nullif(r ->> 'entry_from', '')::timestamptz,
	r ->> 'technician',
	coalesce(r ->> 'licence', ''),
	(r ->> 'keep_until')::date,
	r
FROM
	jsonb_array_elements($2::jsonb) AS told,
	LATERAL (SELECT told -> 'record' AS r) AS record`

// InsertRecords stores application records.
func (tx *Tx) InsertRecords(records []firm.Record) error {
	const decimals = 6
	batch := make([]recordToStore, len(records))
	for i, record := range records {
		batch[i] = recordToStore{
			Record:        record,
			ConcentrateML: quantity.Decimal(record.Concentrate.Millilitres(), decimals),
			AppliedML:     quantity.Decimal(record.Applied.Millilitres(), decimals),
		}
		tx.Tell(firm.Change{Noun: firm.NounRecord, ID: record.ID, Kind: firm.Created, Case: record.Case, Site: record.Site})
	}
	return inserted(tx, insertRecordsSQL, batch)
}

// RecordsOf returns the application records of a report by id.
func (tx *Tx) RecordsOf(report string) ([]firm.Record, error) {
	return documents[firm.Record](tx,
		`SELECT detail FROM application_record WHERE business_id = $1 AND report_id = $2 ORDER BY record_id`, report)
}
