package store

import (
	"strings"

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
