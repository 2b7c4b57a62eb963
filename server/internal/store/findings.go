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

type findingRow struct {
	Event     document[course.Event]
	Case      string  `db:"case_id"`
	Site      string  `db:"site_id"`
	ToldAt    instant `db:"told_at"`
	Corrected bool
}

func (r findingRow) value() firm.FindingTold {
	e := r.Event.value
	told := firm.FindingTold{
		ID: strings.TrimPrefix(e.ID, findingPrefix), Case: course.CaseID(r.Case), Site: site.ID(r.Site), At: e.At,
		ToldAt: civil.Instant(r.ToldAt), Corrected: r.Corrected,
	}
	if e.Finding != nil {
		told.Finding = *e.Finding
	}
	return told
}

const findingColumnsSQL = `
SELECT
	h.event,
	h.case_id,
	c.site_id,
	h.told_at,
	EXISTS (
		SELECT FROM history x WHERE x.business_id = $1 AND x.case_id = h.case_id AND x.event ->> 'corrects' = h.event_id
	) AS corrected
FROM history h
JOIN infestation c ON c.business_id = $1 AND c.case_id = h.case_id
WHERE h.business_id = $1 AND h.event ? 'finding' `

// Finding returns a finding, also one that a report told.
func (tx *Tx) Finding(id string) (firm.FindingTold, error) {
	row, err := one[findingRow](tx, "finding", id, findingColumnsSQL+`AND h.event_id = $2`, findingPrefix+id)
	return row.value(), err
}

// FindingFilter narrows a list of findings.
type FindingFilter struct {
	Site      site.ID          // "" is every site
	Case      course.CaseID    // "" is every case
	Certainty course.Certainty // "" is every certainty
}

// NewestFindings returns a page of findings, the latest seen first; its keys are NewestKey(At, ID).
func (tx *Tx) NewestFindings(filter FindingFilter, page Page) ([]firm.FindingTold, error) {
	const rest = `
	AND ($2::timestamptz IS NULL OR (h.happened_at, h.event_id) < ($2, $3))
	AND ($4 = '' OR c.site_id = $4)
	AND ($5 = '' OR h.case_id = $5)
	AND ($6 = '' OR h.event #>> '{finding,certainty}' = $6)
ORDER BY h.happened_at DESC, h.event_id DESC
LIMIT $7`
	at, id, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	rows, err := list[findingRow](tx, findingColumnsSQL+rest, at, findingPrefix+id, string(filter.Site), string(filter.Case), string(filter.Certainty), page.limit())
	found := make([]firm.FindingTold, len(rows))
	for i, row := range rows {
		found[i] = row.value()
	}
	return found, err
}
