package planning

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// sendNotices writes down the notices of visits that become real, but what is known for the same item and beginning.
func sendNotices(tx *store.Tx, rules scheduler.PlaceRules, visits []scheduler.Visit) error {
	known, err := tx.Notices(civil.Interval{From: tx.Now()})
	if err != nil {
		return err
	}
	business, err := tx.Business()
	if err != nil {
		return err
	}
	due := slices.DeleteFunc(notices(rules, visits, tx.Now()), func(n firm.Notice) bool {
		return n.Begins < tx.Now() || slices.ContainsFunc(known, func(k firm.Notice) bool {
			return k.ID == n.ID || business.NoticesCountOnceSent && covers(k, n, rules.NoticeTolerance)
		})
	})
	for i := range due {
		if business.NoticesCountOnceSent {
			due[i].SentAt = civil.Instant(0) // somebody will say when it was
		}
	}
	return tx.InsertNotices(due)
}

// covers says whether a notice that was sent serves another beginning of the same application.
func covers(sent, n firm.Notice, tolerance time.Duration) bool {
	return sent.Item == n.Item && !sent.Used && !sent.SentAt.IsZero() && sent.Begins.Sub(n.Begins).Abs() <= tolerance
}

// noticeID names the notice of an application that begins at an instant: a hash, so that it stands in a path.
func noticeID(item scheduler.ItemID, begins civil.Instant) string {
	sum := sha256.Sum256([]byte(string(item) + "@" + begins.String()))
	return "n-" + hex.EncodeToString(sum[:])[:32]
}

// notices are due for every application at a site that asks for a lead. They count as sent within the policy's publishing
// delay, where the business does not say otherwise.
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
						ID: noticeID(work.Item, work.Begins), Item: work.Item, Site: visit.Site,
						Begins: work.Begins, DueAt: work.Begins.Add(-lead.Lead), Known: lead.Known, SentAt: now.Add(rules.PublishingDelay),
					})
				}
			}
		}
	}
	return notices
}
