package store

import (
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
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
