package rpc_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/types/known/durationpb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/course"
	"vernation/server/internal/casework"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// line writes a change shortly: what happened to what, and an exclamation mark where it is for safety.
func line(c *vernationv1.ChangeEntry) string {
	subject := c.GetSubject()[strings.Index(c.GetSubject(), "/")+1:]
	text := strings.TrimPrefix(c.GetKind().String(), "CHANGE_ENTRY_KIND_") + " " + subject[strings.Index(subject, "/")+1:]
	if c.GetSafety() {
		text += " !"
	}
	return text
}

// listed asks for a page of changes.
func (w *works) listed(t *testing.T, request *vernationv1.ListChangesRequest) (lines []string, token string) {
	t.Helper()
	request.Parent = w.name("")
	answer, err := w.changes().ListChanges(w.integration, request)
	if err != nil {
		t.Fatal(err)
	}
	for _, change := range answer.GetChanges() {
		lines = append(lines, line(change))
	}
	return lines, answer.GetNextPageToken()
}

func TestListChanges_ACursorMeetsEachChangeOnceInOrder(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	none, token := w.listed(t, &vernationv1.ListChangesRequest{FromNow: true})
	if len(none) != 0 || token == "" {
		t.Fatalf("from now on there are %v, token %q: want none, and a token", none, token)
	}
	visit := w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	booked, after := w.listed(t, &vernationv1.ListChangesRequest{PageToken: token})
	id := visit.GetName()[len(w.name("")):][1:]
	if want := []string{"PLANNED " + id}; !slices.Equal(booked, want) {
		t.Errorf("a booking changes %v, want %v", booked, want)
	}
	w.Clock.Set(w.at(t, "2026-03-02 18:00"))
	if _, err := w.reports().CreateReport(w.integration, w.drench(t, "r1", visit)); err != nil {
		t.Fatal(err)
	}
	reported, _ := w.listed(t, &vernationv1.ListChangesRequest{PageToken: after})
	for _, want := range []string{"CREATED reports/r1", "CREATED applicationRecords/r1-1", "CHANGED cases/gnats", "CHANGED cases/gnats/course", "DONE " + id} {
		if !slices.ContainsFunc(reported, func(line string) bool { return strings.HasPrefix(line, want) }) {
			t.Errorf("a report changes %v: want %s among them", reported, want)
		}
	}
	var paged []string
	for page := token; ; {
		var some []string
		if some, page = w.listed(t, &vernationv1.ListChangesRequest{PageToken: page, PageSize: 2}); len(some) == 0 {
			break
		} else {
			paged = append(paged, some...)
		}
	}
	if want := append(booked, reported...); !slices.Equal(paged, want) {
		t.Errorf("by pages of two come %v, want %v", paged, want)
	}
	ofCase, _ := w.listed(t, &vernationv1.ListChangesRequest{Case: w.name("cases/gnats"), Nouns: []vernationv1.ChangeNoun{vernationv1.ChangeNoun_CHANGE_NOUN_CASE}})
	if !slices.Equal(ofCase, []string{"CREATED cases/gnats", "CHANGED cases/gnats", "CHANGED cases/gnats"}) {
		t.Errorf("case gnats was %v, want opened and changed in one deed, then changed by the report", ofCase)
	}
	_, err := w.changes().ListChanges(w.office, &vernationv1.ListChangesRequest{Parent: w.name(""), PageToken: token, Case: w.name("cases/gnats")})
	expectField(t, err, "page_token", "PAGE_TOKEN_INVALID")
}

func TestListChanges_WaitsForSomethingNew(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	_, token := w.listed(t, &vernationv1.ListChangesRequest{FromNow: true})
	began := time.Now()
	if lines, _ := w.listed(t, &vernationv1.ListChangesRequest{PageToken: token, Wait: durationpb.New(time.Second)}); len(lines) != 0 || time.Since(began) < time.Second {
		t.Errorf("%v after %v: want nothing after the second that was waited", lines, time.Since(began))
	}
	answered := make(chan []string, 1)
	go func() {
		lines, _ := w.listed(t, &vernationv1.ListChangesRequest{PageToken: token, Wait: durationpb.New(50 * time.Second)})
		answered <- lines
	}()
	w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	select {
	case lines := <-answered:
		if len(lines) == 0 {
			t.Error("the answer is empty before its time")
		}
	case <-time.After(20 * time.Second):
		t.Error("nothing is answered though something changed")
	}
}

// watching is a stream of a technician's changes.
type watching struct {
	t      *testing.T
	stream grpc.ServerStreamingClient[vernationv1.WatchDayRoutesResponse]
	leave  context.CancelFunc
	token  string
}

func (w *works) watch(t *testing.T, ctx context.Context, token string) *watching {
	t.Helper()
	ctx, leave := context.WithCancel(ctx)
	t.Cleanup(leave)
	stream, err := w.changes().WatchDayRoutes(ctx, &vernationv1.WatchDayRoutesRequest{Parent: w.name("technicians/tech-a"), ResumeToken: token, Heartbeat: durationpb.New(time.Second)})
	if err != nil {
		t.Fatal(err)
	}
	return &watching{t, stream, leave, token}
}

// next waits for a change, past signs of life, or for the end of the stream.
func (w *watching) next() (string, error) {
	for {
		message, err := w.stream.Recv()
		if err != nil {
			return "", err
		}
		w.token = message.GetResumeToken()
		if message.GetChange() != nil {
			return line(message.GetChange()), nil
		}
	}
}

func TestWatchDayRoutes_AStreamGoesOnWhereTheLastOneEnded(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	first := w.watch(t, w.techA, "")
	if message, err := first.stream.Recv(); err != nil || message.GetChange() != nil || message.GetResumeToken() == "" {
		t.Fatalf("the first message is %v, %v: want a sign of life with a token", message, err)
	}
	visit := w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	id := visit.GetName()[len(w.name("")):][1:]
	if got, err := first.next(); err != nil || got != "PLANNED "+id {
		t.Fatalf("%q, %v: want the visit planned", got, err)
	}
	first.leave()
	w.Clock.Set(w.at(t, "2026-03-02 18:00"))
	if _, err := w.reports().CreateReport(w.integration, w.drench(t, "r1", visit)); err != nil {
		t.Fatal(err)
	}
	second := w.watch(t, w.techA, first.token)
	if got, err := second.next(); err != nil || got != "DONE "+id {
		t.Fatalf("%q, %v: want what happened between the streams and nothing that was seen", got, err)
	}
	if message, err := second.stream.Recv(); err != nil || message.GetChange() != nil {
		t.Errorf("%v, %v: want a sign of life when nothing happens", message, err)
	}
	close(w.ending)
	_, err := second.next()
	expect(t, err, codes.Unavailable, "SERVER_ENDS")
	if detail[*errdetails.RetryInfo](t, err).GetRetryDelay().AsDuration() <= 0 {
		t.Error("nothing says when to come back")
	}
}

func TestWatchDayRoutes_HoldsItsCallerLikeEveryMethod(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	ask := func(ctx context.Context, change func(*vernationv1.WatchDayRoutesRequest)) error {
		request := &vernationv1.WatchDayRoutesRequest{Parent: w.name("technicians/tech-a")}
		change(request)
		stream, err := w.changes().WatchDayRoutes(ctx, request)
		if err == nil {
			_, err = stream.Recv()
		}
		return err
	}
	same := func(*vernationv1.WatchDayRoutesRequest) {}
	expect(t, ask(context.Background(), same), codes.Unauthenticated, "TOKEN_MISSING")
	expect(t, ask(w.integration, same), codes.PermissionDenied, "ROLE_NEEDED")
	expect(t, ask(w.techB, same), codes.PermissionDenied, "NOT_YOUR_DAY_ROUTE")
	expect(t, ask(w.office, func(r *vernationv1.WatchDayRoutesRequest) { r.Parent = "businesses/another/technicians/tech-a" }), codes.PermissionDenied, "OTHER_BUSINESS")
	expect(t, ask(w.office, func(r *vernationv1.WatchDayRoutesRequest) { r.Parent = w.name("technicians/none") }), codes.NotFound, "NOT_FOUND")
	expectField(t, ask(w.office, func(r *vernationv1.WatchDayRoutesRequest) { r.Heartbeat = durationpb.New(time.Hour) }), "heartbeat", "DURATION_GTE_LTE")
	expectField(t, ask(w.techA, func(r *vernationv1.WatchDayRoutesRequest) { r.ResumeToken = "bm9uc2Vuc2U" }), "resume_token", "RESUME_TOKEN_INVALID")
	token, err := w.keys.Issue(w.crew("tech-a", false), 2*time.Second)
	if err != nil {
		t.Fatal(err)
	}
	stream := w.watch(t, bearing("Bearer "+token), "")
	_, err = stream.next()
	expect(t, err, codes.Unauthenticated, "TOKEN_EXPIRED")
}

// A product that an incident stops is told for safety to whoever has it in a visit ahead at that site.
func TestChanges_AnIncidentsProductIsToldForSafety(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	w.publish(t, w.makePlan(t, 2))
	_, token := w.listed(t, &vernationv1.ListChangesRequest{FromNow: true})
	incident := firm.Incident{ID: "spill", Kind: firm.Spill, Site: "hotel-quarry-square", Product: gnatsProduct, Text: "on the carpet"}
	if err := w.Store.In(t.Context(), w.crew("tech-a", true), func(tx *store.Tx) error {
		_, err := casework.TellIncident(tx, incident)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	lines, _ := w.listed(t, &vernationv1.ListChangesRequest{PageToken: token})
	for _, want := range []string{"CREATED incidents/spill", "STOPPED products/" + gnatsProduct + " !"} {
		if !slices.Contains(lines, want) {
			t.Errorf("told %q: want %q among them", lines, want)
		}
	}
}

func TestAcknowledge_WhatWasNotSeenInTimeRisesToTheOffice(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	stream := w.watch(t, w.techA, "")
	if _, err := stream.stream.Recv(); err != nil {
		t.Fatal(err)
	}
	w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	w.publish(t, w.makePlan(t, 2))
	w.withdrawApproval(t)
	var safety *vernationv1.ChangeEntry
	for safety == nil {
		message, err := stream.stream.Recv()
		if err != nil {
			t.Fatal(err)
		}
		if message.GetChange().GetSafety() {
			safety = message.GetChange()
		}
	}
	if got := line(safety); got != "APPROVAL_WITHDRAWN cases/gnats !" || !strings.HasSuffix(safety.GetDayRoute(), "technicians/tech-a/dayRoutes/2026-03-02") {
		t.Errorf("%s on %s: want the approval that was withdrawn, on the day route of its visit", got, safety.GetDayRoute())
	}
	rises := func() (found []*vernationv1.ChangeEntry) {
		answer, err := w.changes().ListUnacknowledgedChanges(w.office, &vernationv1.ListUnacknowledgedChangesRequest{Parent: w.name(""), PageSize: 1})
		if err != nil {
			t.Fatal(err)
		}
		return answer.GetChanges()
	}
	w.Clock.Set(w.at(t, "2026-03-02 07:29"))
	if found := rises(); len(found) != 0 {
		t.Errorf("after 29 minutes %v has risen, the policy gives 30", found)
	}
	w.Clock.Set(w.at(t, "2026-03-02 07:31"))
	if found := rises(); len(found) != 1 || found[0].GetName() != safety.GetName() {
		t.Errorf("after 31 minutes %v has risen, want %v", found, safety)
	}
	acknowledge := func(ctx context.Context, technician string, names ...string) (*vernationv1.AcknowledgeChangesResponse, error) {
		return w.changes().AcknowledgeChanges(ctx, &vernationv1.AcknowledgeChangesRequest{Parent: w.name("technicians/" + technician), Changes: names, RequestId: request()})
	}
	_, err := acknowledge(w.techB, "tech-a", safety.GetName())
	expect(t, err, codes.PermissionDenied, "NOT_YOUR_DAY_ROUTE")
	_, err = acknowledge(w.techB, "tech-b", safety.GetName())
	expect(t, err, codes.NotFound, "CHANGE_NOT_FOUND")
	_, err = acknowledge(w.office, "none", safety.GetName())
	expect(t, err, codes.NotFound, "NOT_FOUND")
	_, err = acknowledge(w.techA, "tech-a", w.name("changes/1"))
	expectField(t, err, "changes[0]", "NAME_FORM")
	answer, err := acknowledge(w.techA, "tech-a", safety.GetName())
	if err != nil || !answer.GetChanges()[0].GetAcknowledgeTime().AsTime().Equal(w.at(t, "2026-03-02 07:31").Time()) {
		t.Errorf("%v, %v: want the change with when it was acknowledged", answer, err)
	}
	if found := rises(); len(found) != 0 {
		t.Errorf("what was acknowledged still rises: %v", found)
	}
	_, err = w.changes().ListUnacknowledgedChanges(w.office, &vernationv1.ListUnacknowledgedChangesRequest{Parent: w.name(""), Technician: w.name("technicians/none")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	_, err = w.changes().ListUnacknowledgedChanges(w.office, &vernationv1.ListUnacknowledgedChangesRequest{Parent: w.name(""), PageToken: "nonsense"})
	expectField(t, err, "page_token", "PAGE_TOKEN_INVALID")
}

// withdrawApproval takes the approval of the gnats' product back.
func (w *works) withdrawApproval(t *testing.T) {
	t.Helper()
	err := w.Store.In(t.Context(), w.crew("tech-a", true), func(tx *store.Tx) error {
		_, present, err := casework.Course(tx, gnats)
		if err != nil {
			return err
		}
		_, _, err = casework.Approve(tx, casework.Decision{ID: "withdrawal", Case: gnats, Approval: course.Approval{Product: present.Chosen, Withdrawn: true}})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}
