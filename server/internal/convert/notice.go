package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

var noticeStates = tableOf(map[vernationv1.NoticeState]firm.NoticeState{
	vernationv1.NoticeState_NOTICE_STATE_DUE:       firm.NoticeDue,
	vernationv1.NoticeState_NOTICE_STATE_OVERDUE:   firm.NoticeOverdue,
	vernationv1.NoticeState_NOTICE_STATE_SENT:      firm.NoticeSent,
	vernationv1.NoticeState_NOTICE_STATE_USED_UP:   firm.NoticeUsedUp,
	vernationv1.NoticeState_NOTICE_STATE_WITHDRAWN: firm.NoticeWithdrawn,
	vernationv1.NoticeState_NOTICE_STATE_MISSED:    firm.NoticeMissed,
})

var noticeWays = tableOf(map[vernationv1.NoticeWay]firm.NoticeWay{
	vernationv1.NoticeWay_NOTICE_WAY_EMAIL:     firm.ByEmail,
	vernationv1.NoticeWay_NOTICE_WAY_LETTER:    firm.ByLetter,
	vernationv1.NoticeWay_NOTICE_WAY_TELEPHONE: firm.ByTelephone,
	vernationv1.NoticeWay_NOTICE_WAY_IN_PERSON: firm.InPerson,
	vernationv1.NoticeWay_NOTICE_WAY_POSTED:    firm.Posted,
	vernationv1.NoticeWay_NOTICE_WAY_OTHER:     firm.OtherWay,
})

var noticeWordings = tableOf(map[vernationv1.NoticeWording]firm.NoticeWording{
	vernationv1.NoticeWording_NOTICE_WORDING_OWN: firm.OwnWording,
})

// NoticeList declares by what notices may be filtered and put in order.
var NoticeList = listing.Declare(
	named(listing.NameField), text("item"), named("site"), listing.Field{Name: "begins", Kind: listing.Instant}, listing.Field{Name: "due_time", Kind: listing.Instant},
	truth("sent"), truth("published"), truth("used"), truth("lead_known"),
)

// Notice writes a notice without its text.
func Notice(names Names, n firm.SentNotice) *vernationv1.Notice {
	return &vernationv1.Notice{
		Name: names.Notice(n.Notice.ID), Item: string(n.Notice.Item), Site: names.Site(n.Notice.Site), Begins: Timestamp(n.Notice.Begins),
		DueTime: Timestamp(n.Notice.DueAt), State: noticeStates.enum(n.State), LeadKnown: n.Notice.Known, Published: n.Published,
		SentTime: Timestamp(n.Notice.SentAt), PresumedTime: Timestamp(n.Presumed),
		Sendings: each(n.Sendings, func(s firm.NoticeSending) *vernationv1.NoticeSending {
			return &vernationv1.NoticeSending{
				SendingId: s.ID, SentTime: Timestamp(s.SentAt), ToldTime: Timestamp(s.ToldAt), ToldBy: s.Caller,
				Way: noticeWays.enum(s.Way), Recipient: s.Recipient, Note: s.Note, Withdrawn: s.Withdrawn,
			}
		}),
	}
}

// WholeNotice writes a notice with its text and to whom it goes.
func WholeNotice(names Names, n firm.SentNotice, told firm.NoticeText) *vernationv1.Notice {
	written := Notice(names, n)
	written.Recipients = each(told.Recipients, func(c firm.Contact) *vernationv1.NoticeRecipient {
		return &vernationv1.NoticeRecipient{DisplayName: c.Name, Phone: c.Phone, Email: c.Email}
	})
	written.AskedFor, written.Unknown = told.AskedFor, told.Unknown
	written.Text, written.Wording = told.Text, noticeWordings.enum(told.Wording)
	return written
}

// NoticeSendingFrom reads how a notice was sent, under an id of its own.
func NoticeSendingFrom(id string, m *vernationv1.MarkNoticeSentRequest) firm.NoticeSending {
	return firm.NoticeSending{
		ID: id, Notice: ID[string](m.GetName()), SentAt: InstantFrom(m.GetSentTime()), Way: noticeWays.word(m.GetWay()), Recipient: m.GetRecipient(), Note: m.GetNote(),
	}
}
