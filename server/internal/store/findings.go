package store

import (
	"strings"

	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// findingPrefix begins the ids by which histories know findings.
const findingPrefix = "finding/"

// findingRow is a row of a list of findings as JSON.
type findingRow struct {
	Event     course.Event  `json:"event"`
	Case      course.CaseID `json:"case"`
	Site      site.ID       `json:"site"`
	ToldAt    civil.Instant `json:"told_at"`
	Corrected bool          `json:"corrected"`
}

func (r findingRow) value() firm.FindingTold {
	told := firm.FindingTold{
		ID: strings.TrimPrefix(r.Event.ID, findingPrefix), Case: r.Case, Site: r.Site, At: r.Event.At, ToldAt: r.ToldAt, Corrected: r.Corrected,
	}
	if r.Event.Finding != nil {
		told.Finding = *r.Event.Finding
	}
	return told
}

// correctedSQL says whether a later event of its case takes the place of an event h.
const correctedSQL = `EXISTS (SELECT FROM history x WHERE x.business_id = $1 AND x.case_id = h.case_id AND x.event ->> 'corrects' = h.event_id)`

// Finding returns a finding, also one that a report told.
func (tx *Tx) Finding(id string) (firm.FindingTold, error) {
	row, err := one[document[findingRow]](tx, "finding", id, selecting+findingsListed.document+" "+findingsListed.from+` AND h.event_id = $2`, findingPrefix+id)
	return row.value.value(), err
}
