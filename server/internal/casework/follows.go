package casework

import (
	"vernation/scheduler"
	"vernation/scheduler/course"
	"vernation/server/internal/firm"
)

// follows says what follows from the outcome of each item that a plan or course knows, by the table of outcomes.
func (t *telling) follows() []firm.Follows {
	var all []firm.Follows
	for _, item := range t.report.Items {
		if item.Item == "" {
			continue
		}
		follows, _ := course.Consequences(item.Outcome, item.FollowUpKind())
		told := firm.Follows{Item: item.Item, Outcome: item.Outcome, Consequence: follows}
		if follows.DueAgain {
			at := t.report.Arrived
			if !item.Began.IsZero() {
				at = item.Began
			}
			told.DueOn = t.site.Zone.DateOf(at).AddDays(follows.AfterDays)
		}
		all = append(all, told)
	}
	return all
}

// usedUp lists the items whose notice is spent: of what was done, and of what a visit came for in vain, where the table asks
// for notice again.
func (t *telling) usedUp() []scheduler.ItemID {
	var items []scheduler.ItemID
	for _, follows := range t.follows() {
		if follows.NoticeAgain || !follows.DueAgain {
			items = append(items, follows.Item)
		}
	}
	return items
}
