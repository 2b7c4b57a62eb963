package planning

import (
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// sendNotices sends the notices of visits that become real, but what was sent before for the same item and beginning.
func sendNotices(tx *store.Tx, rules scheduler.PlaceRules, visits []scheduler.Visit) error {
	known, err := tx.Notices(civil.Interval{From: tx.Now()})
	if err != nil {
		return err
	}
	return tx.InsertNotices(slices.DeleteFunc(notices(rules, visits, tx.Now()), func(n firm.Notice) bool {
		return n.Begins < tx.Now() || slices.ContainsFunc(known, func(k firm.Notice) bool { return k.ID == n.ID })
	}))
}

// notices are due for every application at a site that asks for a lead. They go out within the policy's publishing
// delay.
func notices(rules scheduler.PlaceRules, visits []scheduler.Visit, now civil.Instant) []firm.Notice {
	var notices []firm.Notice
	for _, visit := range visits {
		for _, lead := range rules.NoticeLead {
			if lead.Site != visit.Site || lead.Lead <= time.Duration(0) {
				continue
			}
			for _, work := range visit.Work {
				if work.Use != nil {
					notices = append(notices, firm.Notice{
						ID: string(work.Item) + "@" + work.Begins.String(), Item: work.Item, Site: visit.Site,
						Begins: work.Begins, DueAt: work.Begins.Add(-lead.Lead), Known: lead.Known, SentAt: now.Add(rules.PublishingDelay),
					})
				}
			}
		}
	}
	return notices
}
