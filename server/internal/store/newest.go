package store

import (
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
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
