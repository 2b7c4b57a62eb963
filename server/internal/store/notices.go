package store

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

const insertNoticesSQL = `
INSERT INTO notice (business_id, notice_id, item_id, site_id, begins_at, due_at, sent_at, known, used)
SELECT
	$1,
	n ->> 'id',
	n ->> 'item',
	n ->> 'site',
	(n ->> 'begins')::timestamptz,
	(n ->> 'due_at')::timestamptz,
	nullif(n ->> 'sent_at', '')::timestamptz,
	(n ->> 'known')::boolean,
	coalesce((n ->> 'used')::boolean, false)
FROM jsonb_array_elements($2::jsonb) AS n
-- The same application published again needs no second notice: the first stays, with when it was sent.
ON CONFLICT (business_id, notice_id) DO NOTHING`

// InsertNotices adds notices; one of an id that is known stays as it is.
func (tx *Tx) InsertNotices(notices []firm.Notice) error {
	return inserted(tx, insertNoticesSQL, notices)
}

type noticeRow struct {
	ID     string  `db:"notice_id"`
	Item   string  `db:"item_id"`
	Site   string  `db:"site_id"`
	Begins instant `db:"begins_at"`
	DueAt  instant `db:"due_at"`
	SentAt instant `db:"sent_at"`
	Known  bool
	Used   bool
}

// sentSQL is when a notice counts as sent: what was really sent comes before what publishing presumes.
const sentSQL = `coalesce((
	SELECT min(s.sent_at)
	FROM notice_sending s
	WHERE s.business_id = $1
		AND s.notice_id = n.notice_id
		AND s.withdraws IS NULL
		AND NOT EXISTS (SELECT FROM notice_sending w WHERE w.business_id = $1 AND w.withdraws = s.sending_id)
), n.sent_at)`

const noticesSQL = selecting + `n.notice_id, n.item_id, n.site_id, n.begins_at, n.due_at, ` + sentSQL + ` AS sent_at, n.known, n.used
FROM notice n
WHERE n.business_id = $1
	AND ($2::timestamptz IS NULL OR n.begins_at >= $2)
	AND ($3::timestamptz IS NULL OR n.begins_at < $3)
ORDER BY n.begins_at, n.notice_id`

// Notices returns the notices of applications that begin in the span, by beginning; an unset end is open. SentAt is what
// counts: the first sending that was told of, else that of publishing.
func (tx *Tx) Notices(span civil.Interval) ([]firm.Notice, error) {
	rows, err := list[noticeRow](tx, noticesSQL, instant(span.From), instant(span.To))
	notices := make([]firm.Notice, len(rows))
	for i, r := range rows {
		notices[i] = firm.Notice{
			ID: r.ID, Item: scheduler.ItemID(r.Item), Site: site.ID(r.Site), Begins: civil.Instant(r.Begins),
			DueAt: civil.Instant(r.DueAt), SentAt: civil.Instant(r.SentAt), Known: r.Known, Used: r.Used,
		}
	}
	return notices, err
}

// UseUpNotices marks the notices of items as used up, as when a visit did not take place.
func (tx *Tx) UseUpNotices(items []scheduler.ItemID) error {
	_, err := tx.exec(`UPDATE notice SET used = true WHERE business_id = $1 AND item_id = ANY ($2) AND NOT used`, ids(items))
	return err
}

const (
	publishedSQL = `EXISTS (
	SELECT
	FROM visit_work w
	WHERE w.business_id = $1 AND w.item_id = n.item_id AND w.begins_at = n.begins_at AND w.detail ? 'use'
)`

	sendingsSQL = `(
	SELECT jsonb_agg(jsonb_build_object(
		'id', s.sending_id, 'notice', s.notice_id, 'sent_at', s.sent_at, 'told_at', s.told_at, 'caller', s.caller, 'way', s.way,
		'recipient', s.recipient, 'note', s.note,
		'withdrawn', EXISTS (SELECT FROM notice_sending w WHERE w.business_id = $1 AND w.withdraws = s.sending_id)
	) ORDER BY s.sent_at, s.sending_id)
	FROM notice_sending s
	WHERE s.business_id = $1 AND s.notice_id = n.notice_id AND s.withdraws IS NULL
)`

	sentNoticeSQL = `jsonb_build_object(
	'notice', jsonb_build_object(
		'id', n.notice_id, 'item', n.item_id, 'site', n.site_id, 'begins', n.begins_at, 'due_at', n.due_at,
		'sent_at', ` + sentSQL + `, 'known', n.known, 'used', n.used),
	'presumed', n.sent_at,
	'sendings', ` + sendingsSQL + `,
	'published', ` + publishedSQL + `)`
)

var noticesListed = source{
	document: sentNoticeSQL, from: "FROM notice n WHERE n.business_id = $1",
	columns: map[string]string{
		"name": "n.notice_id", "item": "n.item_id", "site": "n.site_id", "begins": "n.begins_at", "due_time": "n.due_at",
		"sent": "(" + sentSQL + " IS NOT NULL)", "published": publishedSQL, "used": "n.used", "lead_known": "n.known",
	},
}

// SentNotices returns a page of notices with what came of them.
func (tx *Tx) SentNotices(asked listing.Question) ([]Listed[firm.SentNotice], error) {
	return listed[firm.SentNotice](tx, noticesListed, asked)
}

// SentNotice returns a notice with what came of it.
func (tx *Tx) SentNotice(id string) (firm.SentNotice, error) {
	row, err := one[document[firm.SentNotice]](tx, "notice", id,
		selecting+sentNoticeSQL+` FROM notice n WHERE n.business_id = $1 AND n.notice_id = $2`, id)
	return row.value, err
}

const insertSendingSQL = `
INSERT INTO notice_sending (business_id, sending_id, notice_id, withdraws, sent_at, told_at, caller, way, recipient, note)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`

// InsertNoticeSending appends that a notice was sent. ToldAt and Caller are the transaction's.
func (tx *Tx) InsertNoticeSending(s firm.NoticeSending) error {
	_, err := tx.exec(insertSendingSQL, s.ID, s.Notice, text(""), instant(s.SentAt), instant(tx.now), tx.caller.Subject, string(s.Way), s.Recipient, s.Note)
	return err
}

// WithdrawNoticeSending appends, under an id of its own, that a sending was told wrongly; Exists when that was said before.
func (tx *Tx) WithdrawNoticeSending(id string, wrong firm.NoticeSending, note string) error {
	_, err := tx.exec(insertSendingSQL, id, wrong.Notice, text(wrong.ID), instant(wrong.SentAt), instant(tx.now), tx.caller.Subject, string(wrong.Way), "", note)
	return err
}

// PublishedWork returns the visits that hold work of an item, by arrival.
func (tx *Tx) PublishedWork(item scheduler.ItemID) ([]scheduler.Visit, error) {
	const rest = `
	AND visit_id IN (SELECT w.visit_id FROM visit_work w WHERE w.business_id = $1 AND w.item_id = $2)
ORDER BY lower(during), visit_id`
	return visits(tx, rest, string(item))
}
