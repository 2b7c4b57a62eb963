package store

import (
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// correctedBySQL is the record that corrects a record; the last one told where two do.
const correctedBySQL = `coalesce((
	SELECT c.record_id
	FROM application_record c
	JOIN report t ON t.business_id = $1 AND t.report_id = c.report_id
	WHERE c.business_id = $1 AND c.corrects = r.record_id
	ORDER BY t.received_at DESC, c.record_id DESC
	LIMIT 1
), '')`

const recordSQL = `r.detail || jsonb_build_object('corrected_by', ` + correctedBySQL + `)`

var recordsListed = source{
	document: recordSQL, from: "FROM application_record r WHERE r.business_id = $1",
	columns: map[string]string{
		"name": "r.record_id", "site": "r.site_id", "case": "coalesce(r.case_id, '')", "technician": "r.technician_id", "product": "r.product_id",
		"pest": "coalesce(r.detail ->> 'pest', '')", "area": "r.area_id", "jurisdiction": "r.jurisdiction", "report": "r.report_id",
		"item": "coalesce(r.detail ->> 'item', '')", "began": "r.began_at", "ended": "r.ended_at", "keep_until_on": "r.keep_until_on",
		"registration": "r.registration", "corrects": "coalesce(r.corrects, '')", "corrected_by": correctedBySQL,
		"not_made": "coalesce(r.detail ->> 'not_made', '')",
	},
}

// ListedRecords returns a page of application records, each with what corrects it.
func (tx *Tx) ListedRecords(asked listing.Question) ([]Listed[firm.Record], error) {
	return listed[firm.Record](tx, recordsListed, asked)
}

// Record returns an application record with what corrects it.
func (tx *Tx) Record(id string) (firm.Record, error) {
	row, err := one[document[firm.Record]](tx, "application record", id,
		selecting+recordSQL+` FROM application_record r WHERE r.business_id = $1 AND r.record_id = $2`, id)
	return row.value, err
}
