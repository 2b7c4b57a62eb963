package store

import (
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// NewestKey is the key of a row in a list that goes from the newest to the oldest: Page.After of such a list.
func NewestKey(at civil.Instant, id string) string { return at.String() + "/" + id }

// newestAfter reads such a key; two unset values on the first page.
func newestAfter(key string) (at instant, id string, err error) {
	if key == "" {
		return 0, "", nil
	}
	when, id, _ := strings.Cut(key, "/")
	read, err := civil.ParseInstant(when)
	if err != nil || id == "" {
		return 0, "", fault.InvalidFields([]catalogue.FieldError{{Path: "page_token", Reason: "PAGE_TOKEN_INVALID",
			Text: "the token does not say after which row the page begins: want next_page_token of the page before"}})
	}
	return instant(read), id, nil
}

// NewestPlans returns a page of plans, the newest first; its keys are NewestKey(MadeAt, ID).
func (tx *Tx) NewestPlans(page Page) ([]firm.KeptPlan, error) {
	const rest = `
	AND ($2::timestamptz IS NULL OR (p.made_at, p.plan_id) < ($2, $3))
ORDER BY p.made_at DESC, p.plan_id DESC
LIMIT $4`
	at, id, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	rows, err := list[planRow](tx, planColumnsSQL+rest, at, id, page.limit())
	plans := make([]firm.KeptPlan, len(rows))
	for i, row := range rows {
		plans[i] = row.value()
	}
	return plans, err
}

// NewestPlanRuns returns a page of runs, the newest first; its keys are NewestKey(CreatedAt, ID).
func (tx *Tx) NewestPlanRuns(page Page) ([]firm.PlanRun, error) {
	const rest = `
	AND ($2::timestamptz IS NULL OR (created_at, plan_run_id) < ($2, $3))
ORDER BY created_at DESC, plan_run_id DESC
LIMIT $4`
	at, id, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	rows, err := list[planRunRow](tx, planRunColumnsSQL+rest, at, id, page.limit())
	runs := make([]firm.PlanRun, len(rows))
	for i, row := range rows {
		runs[i] = row.value()
	}
	return runs, err
}

// VisitsFrom returns a page of visits by arrival, the earliest first, of those that pass a filter; its keys are
// NewestKey(Arrives, ID).
func (tx *Tx) VisitsFrom(filter VisitFilter, page Page) ([]firm.PublishedVisit, error) {
	const rest = `
	AND during && tstzrange($2, $3)
	AND ($4 = '' OR technician_id = $4)
	AND ($5 = '' OR site_id = $5)
	AND (cardinality($6::text[]) = 0 OR state = ANY ($6))
	AND ($7::timestamptz IS NULL OR (lower(during), visit_id) > ($7, $8))
ORDER BY lower(during), visit_id
LIMIT $9`
	at, id, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	found, err := visits(tx, rest, instant(filter.From), instant(filter.To), string(filter.Technician), string(filter.Site), ids(filter.States),
		at, id, page.limit())
	if err != nil {
		return nil, err
	}
	return tx.asReported(found)
}

const offPlanSQL = `
SELECT DISTINCT visit_id
FROM report
WHERE business_id = $1 AND visit_id = ANY ($2) AND off_plan
ORDER BY visit_id`

// asReported says of visits which of them were reported off plan.
func (tx *Tx) asReported(visits []scheduler.Visit) ([]firm.PublishedVisit, error) {
	names := make([]string, len(visits))
	for i, v := range visits {
		names[i] = string(v.ID)
	}
	off, err := list[string](tx, offPlanSQL, ids(names))
	if err != nil {
		return nil, err
	}
	known := make([]firm.PublishedVisit, len(visits))
	for i, v := range visits {
		known[i] = firm.PublishedVisit{Visit: v, OffPlan: slices.Contains(off, string(v.ID))}
	}
	return known, nil
}

// PublishedVisit returns a visit with its work and what reports say of it; NotFound where there is none.
func (tx *Tx) PublishedVisit(id scheduler.VisitID) (firm.PublishedVisit, error) {
	visit, err := tx.Visit(id)
	if err != nil {
		return firm.PublishedVisit{}, err
	}
	known, err := tx.asReported([]scheduler.Visit{visit})
	if err != nil {
		return firm.PublishedVisit{}, err
	}
	return known[0], nil
}

// NewestDeviations returns a page of deviations, of one report or of all (""), the latest happening first; its keys
// are NewestKey(At, ID).
func (tx *Tx) NewestDeviations(report string, page Page) ([]firm.Deviation, error) {
	const rest = `
	AND ($2::timestamptz IS NULL OR (happened_at, deviation_id) < ($2, $3))
	AND ($4 = '' OR report_id = $4)
ORDER BY happened_at DESC, deviation_id DESC
LIMIT $5`
	at, id, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	return deviations(tx, rest, at, id, report, page.limit())
}

// RecordFilter narrows a list of application records.
type RecordFilter struct {
	Site site.ID       // "" is every site
	Case course.CaseID // "" is every case
}

const newestRecordsSQL = `
SELECT detail
FROM application_record
WHERE business_id = $1
	AND ($2::timestamptz IS NULL OR (began_at, record_id) < ($2, $3))
	AND ($4 = '' OR site_id = $4)
	AND ($5 = '' OR case_id = $5)
ORDER BY began_at DESC, record_id DESC
LIMIT $6`

// NewestRecords returns a page of application records, the latest application first; its keys are NewestKey(Began, ID).
func (tx *Tx) NewestRecords(filter RecordFilter, page Page) ([]firm.Record, error) {
	at, id, err := newestAfter(page.After)
	if err != nil {
		return nil, err
	}
	return documents[firm.Record](tx, newestRecordsSQL, at, id, string(filter.Site), string(filter.Case), page.limit())
}
