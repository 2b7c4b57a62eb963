package records

import (
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
	"vernation/server/internal/store"
)

// Notices returns a page of notices with where each stands now.
func Notices(tx *store.Tx, asked listing.Question) ([]store.Listed[firm.SentNotice], error) {
	found, err := tx.SentNotices(asked)
	for i := range found {
		found[i].Value.State = stateOf(found[i].Value, tx.Now())
	}
	return found, err
}

// Notice returns a notice with where it stands now, and what it says to whom.
//
// Fails with NotFound.
func Notice(tx *store.Tx, id string) (firm.SentNotice, firm.NoticeText, error) {
	n, err := tx.SentNotice(id)
	if err != nil {
		return n, firm.NoticeText{}, err
	}
	n.State = stateOf(n, tx.Now())
	text, err := noticeText(tx, n)
	return n, text, err
}

// stateOf says where a notice stands at an instant.
func stateOf(n firm.SentNotice, now civil.Instant) firm.NoticeState {
	switch {
	case n.Notice.Used:
		return firm.NoticeUsedUp
	case !n.Notice.SentAt.IsZero():
		return firm.NoticeSent
	case !n.Published:
		return firm.NoticeWithdrawn
	case n.Notice.Begins <= now:
		return firm.NoticeMissed
	case n.Notice.DueAt <= now:
		return firm.NoticeOverdue
	}
	return firm.NoticeDue
}

// clockTolerance is how fast a client's clock may be.
const clockTolerance = 5 * time.Minute

// MarkSent appends that a notice was sent. An unset SentAt is now. From then on the access rule counts with the first
// sending instead of what publishing presumes.
//
// Fails with NotFound, and Invalid (IN_THE_FUTURE).
func MarkSent(tx *store.Tx, sending firm.NoticeSending) error {
	if _, err := tx.SentNotice(sending.Notice); err != nil {
		return err
	}
	if sending.SentAt.IsZero() {
		sending.SentAt = tx.Now()
	}
	if sending.SentAt > tx.Now().Add(clockTolerance) {
		return fault.InvalidFields([]catalogue.FieldError{{Path: "sent_time", Reason: "IN_THE_FUTURE",
			Text: "sent at " + sending.SentAt.String() + ", now is " + tx.Now().String() + ": want when it was sent, once it was"}})
	}
	return tx.InsertNoticeSending(sending)
}

// WithdrawSending appends, under an id of its own, that a sending was told wrongly: it counts as not sent.
//
// Fails with NotFound for the notice or the sending, and Refused (WITHDRAWN_ALREADY).
func WithdrawSending(tx *store.Tx, id, notice, sending, note string) error {
	n, err := tx.SentNotice(notice)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(n.Sendings, func(s firm.NoticeSending) bool { return s.ID == sending })
	if i < 0 {
		f := fault.New(fault.NotFound, "NOT_FOUND", "the notice has no sending %q: want one that it lists", sending)
		f.Thing, f.Subject = "sending", sending
		return f
	}
	if n.Sendings[i].Withdrawn {
		return fault.New(fault.Refused, "WITHDRAWN_ALREADY", "the sending %q was withdrawn before: mark the notice sent when it is", sending)
	}
	return tx.WithdrawNoticeSending(id, n.Sendings[i], note)
}
