package rpc_test

import (
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
)

// askNotices asks for a page of notices.
func (w *works) askNotices(filter, order string) error {
	_, err := w.notices().ListNotices(w.office, &vernationv1.ListNoticesRequest{Parent: w.name(""), Filter: filter, OrderBy: order})
	return err
}

// notice is the only notice of an item.
func (w *works) notice(t *testing.T, item string) *vernationv1.Notice {
	t.Helper()
	found, err := w.notices().ListNotices(w.office, &vernationv1.ListNoticesRequest{Parent: w.name(""), Filter: `item = "` + item + `"`})
	if err != nil || len(found.GetNotices()) != 1 {
		t.Fatalf("notices of %s are %v, %v: want one", item, found.GetNotices(), err)
	}
	one, err := w.notices().GetNotice(w.integration, &vernationv1.GetNoticeRequest{Name: found.GetNotices()[0].GetName()})
	if err != nil {
		t.Fatal(err)
	}
	return one
}

// marking says that a notice was sent by mail at an instant; unset is now.
func (w *works) marking(n *vernationv1.Notice, at *timestamppb.Timestamp) *vernationv1.MarkNoticeSentRequest {
	return &vernationv1.MarkNoticeSentRequest{
		Name: n.GetName(), SentTime: at, Way: vernationv1.NoticeWay_NOTICE_WAY_EMAIL, Recipient: "front desk", Note: "read back", RequestId: request(),
	}
}

// countOnceSent sets the policy so that publishing does not count as sending.
func (w *works) countOnceSent(t *testing.T) {
	t.Helper()
	policy, err := w.policies().UpdatePolicy(w.office, &vernationv1.UpdatePolicyRequest{
		Policy: &vernationv1.Policy{Name: w.name("policy"), NoticesCountOnceSent: true}, UpdateMask: mask("notices_count_once_sent"), RequestId: request(),
	})
	if err != nil || !policy.GetNoticesCountOnceSent() || policy.GetSpeedKmh() == 0 {
		t.Fatal(policy, err)
	}
}

const sprayItem = "mealybugs/application/1/1"

func TestNotices_PublishingCountsUntilAPolicySaysOtherwise(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.book(t, sprayItem, "2026-03-05 20:00")
	n := w.notice(t, sprayItem)
	presumed := w.at(t, "2026-03-02 07:00").Add(w.Business.Rules.PublishingDelay)
	if n.GetState() != vernationv1.NoticeState_NOTICE_STATE_SENT || !n.GetPresumedTime().AsTime().Equal(presumed.Time()) ||
		!n.GetSentTime().AsTime().Equal(presumed.Time()) || len(n.GetSendings()) != 0 || !n.GetPublished() {
		t.Errorf("notice %v: want it to count as sent within the publishing delay", n)
	}
	if n.GetDueTime().AsTime() != n.GetBegins().AsTime().Add(-24*time.Hour) {
		t.Errorf("due %v of a beginning %v: want the agreed 24 hours before", n.GetDueTime().AsTime(), n.GetBegins().AsTime())
	}
	// What was really sent comes before what is presumed.
	marked, err := w.notices().MarkNoticeSent(w.office, w.marking(n, w.stamp(t, "2026-03-02 06:30")))
	if err != nil || !marked.GetSentTime().AsTime().Equal(w.at(t, "2026-03-02 06:30").Time()) {
		t.Errorf("marked: %v, %v", marked, err)
	}
}

func TestNotices_CountOnceSomebodySaysThatTheyWereSent(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.countOnceSent(t)
	w.book(t, sprayItem, "2026-03-05 20:00")
	n := w.notice(t, sprayItem)
	state := func(at string, want vernationv1.NoticeState) {
		t.Helper()
		w.Clock.Set(w.at(t, at))
		if got := w.notice(t, sprayItem); got.GetState() != want || got.GetSentTime() != nil && want != vernationv1.NoticeState_NOTICE_STATE_SENT {
			t.Errorf("at %s it is %v, sent %v: want %v", at, got.GetState(), got.GetSentTime(), want)
		}
	}
	state("2026-03-02 08:00", vernationv1.NoticeState_NOTICE_STATE_DUE)
	state("2026-03-04 21:00", vernationv1.NoticeState_NOTICE_STATE_OVERDUE)
	state("2026-03-05 21:00", vernationv1.NoticeState_NOTICE_STATE_MISSED)
	w.Clock.Set(w.at(t, "2026-03-02 08:00"))
	ask := w.marking(n, nil)
	first, err := w.notices().MarkNoticeSent(w.office, ask)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := w.notices().MarkNoticeSent(w.office, ask); err != nil || !proto.Equal(again, first) {
		t.Errorf("the same request again: %v, %v", again, err)
	}
	second := w.marking(n, w.stamp(t, "2026-03-02 07:45"))
	second.Way, second.Recipient = vernationv1.NoticeWay_NOTICE_WAY_POSTED, "door of the open floor"
	both, err := w.notices().MarkNoticeSent(w.office, second)
	if err != nil || len(both.GetSendings()) != 2 || !both.GetSentTime().AsTime().Equal(w.at(t, "2026-03-02 07:45").Time()) {
		t.Fatalf("sent twice: %v, %v; want both, the first counting", both, err)
	}
	if s := both.GetSendings()[0]; s.GetToldBy() == "" || s.GetRecipient() != "door of the open floor" || !s.GetToldTime().AsTime().Equal(w.at(t, "2026-03-02 08:00").Time()) {
		t.Errorf("sending %v: want who says it, and when", s)
	}
	state("2026-03-04 21:00", vernationv1.NoticeState_NOTICE_STATE_SENT)
	for _, sending := range both.GetSendings() {
		_, err := w.notices().WithdrawNoticeSending(w.office, &vernationv1.WithdrawNoticeSendingRequest{Name: n.GetName(), SendingId: sending.GetSendingId(), Note: "came back", RequestId: request()})
		if err != nil {
			t.Fatal(err)
		}
	}
	state("2026-03-04 21:00", vernationv1.NoticeState_NOTICE_STATE_OVERDUE)
	_, err = w.notices().MarkNoticeSent(w.integration, w.marking(n, nil))
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}

// The rule of access counts with what was really sent: an application published for tomorrow evening, of which nobody was
// told, cannot be planned again for then; once the notice was sent in time it can.
func TestNotices_TheAccessRuleCountsWhatWasReallySent(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.countOnceSent(t)
	check := func() bool {
		t.Helper()
		w.Clock.Set(w.at(t, "2026-03-05 12:00"))
		answer, err := w.technicians().CheckApplication(w.office, &vernationv1.CheckApplicationRequest{
			Name: w.name("technicians/tech-a"), Product: w.name("products/soap"), Plants: []string{w.name("plants/pothos-stairs")},
			Takes: durationpb.New(30 * time.Minute), Begins: w.stamp(t, "2026-03-05 20:00"),
		})
		if err != nil {
			t.Fatal(err)
		}
		return len(wordsOf(answer, vernationv1.ApplicationRule_APPLICATION_RULE_NOTICE)) == 0
	}
	w.book(t, sprayItem, "2026-03-05 20:00")
	if check() {
		t.Error("an application of which nobody was told may begin")
	}
	if _, err := w.notices().MarkNoticeSent(w.office, w.marking(w.notice(t, sprayItem), w.stamp(t, "2026-03-04 12:00"))); err != nil {
		t.Fatal(err)
	}
	if !check() {
		t.Error("the notice was sent a day and more before, and the application may not begin")
	}
}

func TestNotices_EveryDeclaredFieldFiltersAndOrders(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	everyField(t, "notices", convert.NoticeList, w.askNotices)
}

// noticeRefusals are those of notices; the first booking's notice is there.
var noticeRefusals = []workRefusal{
	{"GetNotice", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.notices().GetNotice(w.office, &vernationv1.GetNoticeRequest{Name: w.name("notices/none")})
		return err
	}},
	{"ListNotices", "INVALID_ARGUMENT FILTER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		return w.askNotices("colour = 1", "")
	}},
	{"ListNotices", "INVALID_ARGUMENT ORDER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		return w.askNotices("", "colour")
	}},
	{"ListNotices", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.notices().ListNotices(w.office, &vernationv1.ListNoticesRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
	{"MarkNoticeSent", "INVALID_ARGUMENT IN_THE_FUTURE", func(t *testing.T, _ *works, _ *vernationv1.Visit) error {
		w := openWorks(t)
		w.book(t, sprayItem, "2026-03-05 20:00")
		_, err := w.notices().MarkNoticeSent(w.office, w.marking(w.notice(t, sprayItem), w.stamp(t, "2026-03-02 07:06")))
		return err
	}},
	{"MarkNoticeSent", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.notices().MarkNoticeSent(w.office, w.marking(&vernationv1.Notice{Name: w.name("notices/none")}, nil))
		return err
	}},
	{"WithdrawNoticeSending", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.notices().WithdrawNoticeSending(w.office, &vernationv1.WithdrawNoticeSendingRequest{Name: w.name("notices/none"), SendingId: "none", RequestId: request()})
		return err
	}},
	{"WithdrawNoticeSending", "NOT_FOUND NOT_FOUND", func(t *testing.T, _ *works, _ *vernationv1.Visit) error {
		w := openWorks(t)
		w.book(t, sprayItem, "2026-03-05 20:00")
		_, err := w.notices().WithdrawNoticeSending(w.office, &vernationv1.WithdrawNoticeSendingRequest{Name: w.notice(t, sprayItem).GetName(), SendingId: "none", RequestId: request()})
		return err
	}},
	{"WithdrawNoticeSending", "FAILED_PRECONDITION WITHDRAWN_ALREADY", func(t *testing.T, _ *works, _ *vernationv1.Visit) error {
		w := openWorks(t)
		w.book(t, sprayItem, "2026-03-05 20:00")
		marked, err := w.notices().MarkNoticeSent(w.office, w.marking(w.notice(t, sprayItem), nil))
		for range 2 {
			if err == nil {
				_, err = w.notices().WithdrawNoticeSending(w.office, &vernationv1.WithdrawNoticeSendingRequest{
					Name: marked.GetName(), SendingId: marked.GetSendings()[0].GetSendingId(), RequestId: request(),
				})
			}
		}
		return err
	}},
}
