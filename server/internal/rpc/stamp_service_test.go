package rpc_test

import (
	"context"
	"testing"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/server/internal/store"
)

func (w *works) stamps() vernationv1.StampServiceClient {
	return vernationv1.NewStampServiceClient(w.conn)
}

// stampOf is tech-a's stamp of a visit, or of one of its items.
func (w *works) stampOf(t *testing.T, id, visit, item string, event vernationv1.StampEvent, at string) *vernationv1.CreateStampRequest {
	t.Helper()
	return &vernationv1.CreateStampRequest{Parent: w.name(""), StampId: id, RequestId: request(), Stamp: &vernationv1.Stamp{
		Visit: visit, Technician: w.name("technicians/tech-a"), Item: item, Event: event, EventTime: w.stamp(t, at),
	}}
}

const (
	begun = vernationv1.StampEvent_STAMP_EVENT_BEGUN
	ended = vernationv1.StampEvent_STAMP_EVENT_ENDED
)

// stateOf reads the state of a visit from the store.
func (w *works) stateOf(t *testing.T, name string) (state scheduler.VisitState) {
	t.Helper()
	err := w.Store.Reading(t.Context(), w.Office, func(tx *store.Tx) error {
		visit, err := tx.Visit(scheduler.VisitID(name[len(w.name("visits/")):]))
		state = visit.State
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return state
}

// A day's stamps, sent in any order and some twice, tell the same.
func TestCreateStamp_AnyOrderTellsTheSame(t *testing.T) {
	t.Parallel()
	w, visit := over(t)
	item := "gnats/application/1/1"
	day := []*vernationv1.CreateStampRequest{
		w.stampOf(t, "a", visit.GetName(), "", begun, "2026-03-02 11:50"), w.stampOf(t, "b", visit.GetName(), item, begun, "2026-03-02 12:01"),
		w.stampOf(t, "c", visit.GetName(), item, ended, "2026-03-02 12:18"), w.stampOf(t, "d", visit.GetName(), "", ended, "2026-03-02 12:25"),
		w.stampOf(t, "e", visit.GetName(), "", begun, "2026-03-02 11:52"), // pressed twice: the first counts
	}
	for _, sent := range rapid.Permutation(append(day, day[1], day[3])).Example(7) {
		again := proto.CloneOf(sent)
		again.RequestId = request()
		told, err := w.stamps().CreateStamp(w.techA, again)
		if err != nil || told.GetOffPlan() || told.GetCreateTime() == nil {
			t.Fatalf("stamp %s: %v, %v", sent.GetStampId(), told, err)
		}
		if w.stateOf(t, visit.GetName()) != scheduler.Begun {
			t.Fatalf("after stamp %s the visit is %s: want it begun", sent.GetStampId(), w.stateOf(t, visit.GetName()))
		}
	}
	route, err := w.dayRoutes().GetDayRoute(w.techA, &vernationv1.GetDayRouteRequest{Name: w.name("technicians/tech-a/dayRoutes/2026-03-02")})
	if err != nil {
		t.Fatal(err)
	}
	shown := route.GetVisits()[0]
	work := shown.GetWorkItems()[0]
	if !proto.Equal(shown.GetBegunTime(), w.stamp(t, "2026-03-02 11:50")) || !proto.Equal(shown.GetEndedTime(), w.stamp(t, "2026-03-02 12:25")) ||
		!proto.Equal(work.GetBegunTime(), w.stamp(t, "2026-03-02 12:01")) || !proto.Equal(work.GetEndedTime(), w.stamp(t, "2026-03-02 12:18")) {
		t.Errorf("visit from %v to %v, work from %v to %v: want the first begin and the last end of each", shown.GetBegunTime(), shown.GetEndedTime(), work.GetBegunTime(), work.GetEndedTime())
	}
	listed, err := w.stamps().ListStamps(w.office, &vernationv1.ListStampsRequest{Parent: w.name(""), Visit: visit.GetName()})
	if err != nil || len(listed.GetStamps()) != 5 || listed.GetStamps()[0].GetName() != w.name("stamps/d") {
		t.Errorf("listed %v, %v: want each of the five once, the latest first", listed, err)
	}
	// The report tells what was done; a stamp that comes after it changes nothing of that.
	if _, err := w.reports().CreateReport(w.techA, w.drench(t, "r1", visit)); err != nil {
		t.Fatal(err)
	}
	if _, err := w.stamps().CreateStamp(w.techA, w.stampOf(t, "late", visit.GetName(), "", begun, "2026-03-02 11:51")); err != nil {
		t.Fatal(err)
	}
	if state := w.stateOf(t, visit.GetName()); state != scheduler.Done {
		t.Errorf("after its report the visit is %s: want it done", state)
	}
}

// A twin of a stamp that is sent at the same moment gets the same answer.
func TestCreateStamp_TwinsAtOneMomentAreOne(t *testing.T) {
	t.Parallel()
	w, visit := over(t)
	answers := make([]*vernationv1.Stamp, 6)
	var sending errgroup.Group
	for i := range answers {
		sent := w.stampOf(t, "twin", visit.GetName(), "", begun, "2026-03-02 11:50")
		sending.Go(func() (err error) {
			answers[i], err = w.stamps().CreateStamp(w.techA, sent)
			return err
		})
	}
	if err := sending.Wait(); err != nil {
		t.Fatal(err)
	}
	for _, answer := range answers {
		if !proto.Equal(answer, answers[0]) {
			t.Errorf("one is answered %v, another %v", answers[0], answer)
		}
	}
}

// A visit that begins is fixed: a plan that was made before cannot move it, a new one holds it where it is.
func TestCreateStamp_ABegunVisitIsFixed(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	published := w.publish(t, w.makePlan(t, 5))
	visit, _ := visitOf(t, published, "gnats/application/1/1")
	technician := visit.GetTechnician()
	draft := w.makePlan(t, 5)
	stamp := w.stampOf(t, "begin", visit.GetName(), "", begun, "2026-03-02 07:00")
	stamp.Stamp.Technician = technician
	told, err := w.stamps().CreateStamp(w.office, stamp)
	if err != nil {
		t.Fatal(err)
	}
	if sameDay := w.zone.DateOf(w.at(t, "2026-03-02 07:00")).String() == visit.GetArrives().AsTime().In(w.zone.Location()).Format("2006-01-02"); told.GetOffPlan() == sameDay {
		t.Errorf("off plan %v, on the visit's day %v", told.GetOffPlan(), sameDay)
	}
	// Whether the draft may still be published depends on where it has the visit; it does not move it.
	_, _ = w.plans().PublishPlan(w.office, &vernationv1.PublishPlanRequest{Name: draft.GetName(), Etag: draft.GetEtag(), RequestId: request()})
	next := w.publish(t, w.makePlan(t, 5))
	held, _ := visitOf(t, next, "gnats/application/1/1")
	if held.GetName() != visit.GetName() || held.GetState() != vernationv1.VisitState_VISIT_STATE_BEGUN || !proto.Equal(held.GetArrives(), visit.GetArrives()) {
		t.Errorf("the begun visit stands as %s (%v) at %v: want it where it was, begun", held.GetName(), held.GetState(), held.GetArrives())
	}
}

func TestCreateStamp_OfAVisitThatWentToAnotherIsTakenOffPlan(t *testing.T) {
	t.Parallel()
	w, visit := over(t)
	other := w.stampOf(t, "other", visit.GetName(), "", begun, "2026-03-02 11:50")
	other.Stamp.Technician = w.name("technicians/tech-b")
	elsewhen := w.stampOf(t, "elsewhen", visit.GetName(), "", begun, "2026-03-01 11:50")
	strange := w.stampOf(t, "strange", visit.GetName(), "water-offices-alder-row#1", begun, "2026-03-02 11:50")
	for _, c := range []struct {
		caller context.Context
		sent   *vernationv1.CreateStampRequest
	}{{w.techB, other}, {w.techA, elsewhen}, {w.techA, strange}} {
		told, err := w.stamps().CreateStamp(c.caller, c.sent)
		if err != nil || !told.GetOffPlan() {
			t.Errorf("stamp %s: %v, %v: want it taken, off plan", c.sent.GetStampId(), told, err)
		}
	}
}

// A day without signal is sent in one go: all of it or nothing, and again without effect.
func TestBatchCreateStamps_AllOrNone(t *testing.T) {
	t.Parallel()
	w, visit := over(t)
	day := &vernationv1.BatchCreateStampsRequest{Parent: w.name(""), RequestId: request()}
	for _, one := range []*vernationv1.CreateStampRequest{
		w.stampOf(t, "a", visit.GetName(), "", ended, "2026-03-02 12:25"), w.stampOf(t, "b", visit.GetName(), "", begun, "2026-03-02 11:50"),
	} {
		one.Parent, one.RequestId = "", ""
		day.Requests = append(day.Requests, one)
	}
	wrong := proto.CloneOf(day)
	wrong.RequestId, wrong.Requests[1].Stamp.Visit = request(), w.name("visits/none-1")
	_, err := w.stamps().BatchCreateStamps(w.techA, wrong)
	expect(t, err, codes.NotFound, "VISIT_NOT_PUBLISHED")
	if w.Count(t, "stamp") != 0 {
		t.Error("part of a refused batch is kept")
	}
	first, err := w.stamps().BatchCreateStamps(w.techA, day)
	if err != nil || len(first.GetStamps()) != 2 || first.GetStamps()[1].GetName() != w.name("stamps/b") {
		t.Fatalf("%v, %v: want both, in order", first, err)
	}
	again := proto.CloneOf(day)
	again.RequestId = request()
	if twin, err := w.stamps().BatchCreateStamps(w.techA, again); err != nil || !proto.Equal(twin, first) || w.Count(t, "stamp") != 2 {
		t.Errorf("again %v, %v: want the first answer", twin, err)
	}
}

func TestCreateStamp_RefusalsAreAsDocumented(t *testing.T) {
	t.Parallel()
	w, visit := over(t)
	if _, err := w.stamps().CreateStamp(w.techA, w.stampOf(t, "known", visit.GetName(), "", begun, "2026-03-02 11:50")); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		change func(*vernationv1.CreateStampRequest)
		check  func(error)
	}{
		{"somebody else's", func(r *vernationv1.CreateStampRequest) { r.Stamp.Technician = w.name("technicians/tech-b") },
			func(err error) { expect(t, err, codes.PermissionDenied, "NOT_YOUR_STAMP") }},
		{"never published", func(r *vernationv1.CreateStampRequest) { r.Stamp.Visit = w.name("visits/none-1") },
			func(err error) { expect(t, err, codes.NotFound, "VISIT_NOT_PUBLISHED") }},
		{"ahead", func(r *vernationv1.CreateStampRequest) { r.Stamp.EventTime = w.stamp(t, "2026-03-02 18:06") },
			func(err error) { expectField(t, err, "stamp.event_time", "IN_THE_FUTURE") }},
		{"known", func(r *vernationv1.CreateStampRequest) { r.StampId = "known" },
			func(err error) { expect(t, err, codes.AlreadyExists, "EXISTS_ALREADY") }},
	} {
		sent := w.stampOf(t, "new", visit.GetName(), "", ended, "2026-03-02 12:10")
		c.change(sent)
		_, err := w.stamps().CreateStamp(w.techA, sent)
		if err == nil {
			t.Errorf("%s is taken", c.name)
			continue
		}
		c.check(err)
	}
	nobody := w.stampOf(t, "nobody", visit.GetName(), "", begun, "2026-03-02 11:50")
	nobody.Stamp.Technician = w.name("technicians/nobody")
	_, err := w.stamps().CreateStamp(w.office, nobody)
	expectField(t, err, "stamp.technician", "UNKNOWN_TECHNICIAN")
	if _, err := w.stamps().CreateStamp(w.techA, w.stampOf(t, "fast", visit.GetName(), "", ended, "2026-03-02 18:05")); err != nil {
		t.Errorf("a clock that is 5 minutes fast is refused: %v", err)
	}
	_, err = w.stamps().ListStamps(w.office, &vernationv1.ListStampsRequest{Parent: w.name(""), PageToken: "none"})
	expectField(t, err, "page_token", "PAGE_TOKEN_INVALID")
}
