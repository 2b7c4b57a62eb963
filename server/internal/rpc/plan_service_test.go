package rpc_test

import (
	"path"
	"slices"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/server/internal/casework"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

func TestCreatePlan_RefusesAHorizonThatCannotBe(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	for _, c := range []struct {
		name, path, reason string
		days               int32
		firstOn            string
	}{
		{"no day", "days", "INT32_GTE_LTE", 0, ""},
		{"more than a year", "days", "INT32_GTE_LTE", 400, ""},
		{"yesterday", "first_on", "OUT_OF_RANGE", 14, "2026-03-01"},
		{"a day that no calendar has", "first_on", "DATE_FORM", 14, "2026-02-30"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := w.plans().CreatePlan(w.office, &vernationv1.CreatePlanRequest{Parent: w.name(""), Days: c.days, FirstOn: c.firstOn, RequestId: request()})
			expectField(t, err, c.path, c.reason)
		})
	}
	_, err := w.plans().GetPlanRun(w.office, &vernationv1.GetPlanRunRequest{Name: w.name("planRuns/none")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	_, err = w.plans().CancelPlanRun(w.office, &vernationv1.CancelPlanRunRequest{Name: w.name("planRuns/none"), RequestId: request()})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	_, err = w.plans().CreatePlan(w.techA, &vernationv1.CreatePlanRequest{Parent: w.name(""), Days: 14, RequestId: request()})
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}

func TestPlan_FromAskingToPublishing(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	asked := &vernationv1.CreatePlanRequest{Parent: w.name(""), Days: 14, MaxIterations: 10, Seed: 7, RequestId: request()}
	run, err := w.plans().CreatePlan(w.office, asked)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := w.plans().CreatePlan(w.office, asked); err != nil || again.GetName() != run.GetName() {
		t.Errorf("the same request again = %v, %v; want the run %s", again, err, run.GetName())
	}
	if run.GetFirstOn() != "2026-03-02" || run.GetDays() != 14 || run.GetMaxIterations() != 10 || run.GetSeed() != 7 {
		t.Errorf("run %v: want what was asked, from today", run)
	}
	run = w.await(t, run)
	ended, err := w.plans().CancelPlanRun(w.office, &vernationv1.CancelPlanRunRequest{Name: run.GetName(), RequestId: request()})
	if err != nil || ended.GetState() != vernationv1.PlanRunState_PLAN_RUN_STATE_DONE {
		t.Errorf("cancelling a run that is done = %v, %v; want it as it is", ended.GetState(), err)
	}
	draft := w.plan(t, run.GetPlan())
	if visit, _ := visitOf(t, draft, "gnats/application/1/1"); visit.GetName() != "" || draft.GetState() != vernationv1.PlanState_PLAN_STATE_DRAFT {
		t.Errorf("a %v holds visit %q: want no name before publishing", draft.GetState(), visit.GetName())
	}
	if len(draft.GetCautions()) == 0 || len(draft.GetKeepOuts()) == 0 || draft.GetKeepOuts()[0].GetText() == "" {
		t.Errorf("cautions %v, keep-outs %v: want both, in words", draft.GetCautions(), draft.GetKeepOuts())
	}
	if travel := draft.GetTravelSource(); travel.GetWayCount() == 0 || travel.GetEstimatedWayCount() != travel.GetWayCount() || travel.GetProvider() != "" {
		t.Errorf("travel times come from %v: want all ways estimated where no matrix service is configured", travel)
	}
	publishing := &vernationv1.PublishPlanRequest{Name: draft.GetName(), Etag: draft.GetEtag(), RequestId: request()}
	published, err := w.plans().PublishPlan(w.office, publishing)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := w.plans().PublishPlan(w.office, publishing); err != nil || !proto.Equal(again, published) {
		t.Errorf("the same request again = %v, %v; want the first answer", again, err)
	}
	if visit, _ := visitOf(t, published, "gnats/application/1/1"); visit.GetName() == "" || visit.GetState() != vernationv1.VisitState_VISIT_STATE_PUBLISHED {
		t.Errorf("visit %q is %v: want a name and published", visit.GetName(), visit.GetState())
	}
	if published.GetState() != vernationv1.PlanState_PLAN_STATE_PUBLISHED || published.GetEtag() == draft.GetEtag() {
		t.Errorf("plan %v with etag %s after %s: want it published under a new etag", published.GetState(), published.GetEtag(), draft.GetEtag())
	}
	publishing.Name = w.name("plans/none")
	_, err = w.plans().PublishPlan(w.office, publishing)
	expect(t, err, codes.InvalidArgument, "REQUEST_ID_REUSED")
	publishing.RequestId, publishing.Etag = request(), published.GetEtag()
	_, err = w.plans().PublishPlan(w.office, publishing)
	expect(t, err, codes.NotFound, "NOT_FOUND")
}

func TestListPlans_NewestFirstAndComparedItemByItem(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	first := w.makePlan(t, 10)
	w.Clock.Set(w.at(t, "2026-03-03 06:00"))
	second := w.makePlan(t, 10)
	page, err := w.plans().ListPlans(w.integration, &vernationv1.ListPlansRequest{Parent: w.name(""), PageSize: 1})
	if err != nil {
		t.Fatal(err)
	}
	rest, err := w.plans().ListPlans(w.integration, &vernationv1.ListPlansRequest{Parent: w.name(""), PageSize: 5, PageToken: page.GetNextPageToken()})
	if err != nil {
		t.Fatal(err)
	}
	if len(page.GetPlans()) != 1 || page.GetPlans()[0].GetName() != second.GetName() || len(page.GetPlans()[0].GetRoutes()) != 0 {
		t.Errorf("first page %v: want the newer plan %s without its routes", page, second.GetName())
	}
	if len(rest.GetPlans()) != 1 || rest.GetPlans()[0].GetName() != first.GetName() || rest.GetNextPageToken() != "" {
		t.Errorf("second page %v: want the older plan %s and no more", rest, first.GetName())
	}
	_, err = w.plans().ListPlans(w.office, &vernationv1.ListPlansRequest{Parent: w.name(""), PageToken: "bm90IG91cnMgYXQgYWxs"})
	expectField(t, err, "page_token", "PAGE_TOKEN_INVALID")

	same, err := w.plans().ComparePlans(w.integration, &vernationv1.ComparePlansRequest{Name: first.GetName(), Before: first.GetName()})
	if err != nil {
		t.Fatal(err)
	}
	if len(same.GetAdded())+len(same.GetRemoved())+len(same.GetMoved()) != 0 || same.GetSameCount() == 0 || same.GetCostDifference().GetTotalMinor() != 0 {
		t.Errorf("a plan beside itself: %v", same)
	}
	there, err := w.plans().ComparePlans(w.office, &vernationv1.ComparePlansRequest{Name: second.GetName(), Before: first.GetName()})
	if err != nil {
		t.Fatal(err)
	}
	back, err := w.plans().ComparePlans(w.office, &vernationv1.ComparePlansRequest{Name: first.GetName(), Before: second.GetName()})
	if err != nil {
		t.Fatal(err)
	}
	if len(there.GetAdded()) != len(back.GetRemoved()) || len(there.GetMoved()) != len(back.GetMoved()) ||
		there.GetCostDifference().GetTotalMinor() != -back.GetCostDifference().GetTotalMinor() {
		t.Errorf("there %v, back %v: want one the other's reverse", there, back)
	}
	_, err = w.plans().ComparePlans(w.office, &vernationv1.ComparePlansRequest{Name: second.GetName(), Before: w.name("plans/none")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
	_, err = w.plans().GetPlan(w.office, &vernationv1.GetPlanRequest{Name: w.name("plans/none")})
	expect(t, err, codes.NotFound, "NOT_FOUND")
}

func TestPublishPlan_OfTwoPublishersOneWins(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	plans := []*vernationv1.Plan{w.makePlan(t, 7), w.makePlan(t, 8)}
	failures := make(chan error, len(plans))
	for _, plan := range plans {
		go func() {
			_, err := w.plans().PublishPlan(w.office, &vernationv1.PublishPlanRequest{Name: plan.GetName(), Etag: plan.GetEtag(), RequestId: request()})
			failures <- err
		}()
	}
	first, second := <-failures, <-failures
	if first != nil {
		first, second = second, first
	}
	if first != nil {
		t.Fatalf("neither was published: %v; %v", first, second)
	}
	expect(t, second, codes.Aborted, "PLAN_HEAD_MOVED")
	states := map[vernationv1.PlanState]int{}
	for _, plan := range plans {
		states[w.plan(t, plan.GetName()).GetState()]++
	}
	if states[vernationv1.PlanState_PLAN_STATE_PUBLISHED] != 1 || states[vernationv1.PlanState_PLAN_STATE_DRAFT] != 1 {
		t.Errorf("states %v: want one published and one draft", states)
	}
}

// Whoever publishes while a report is being stored waits for it, and then finds that the work is done.
func TestPublishPlan_WaitsForAReportAndThenKnowsIt(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	plan := w.makePlan(t, 14)
	visitOf(t, plan, "gnats/application/1/1")
	stored, commit := make(chan struct{}), make(chan struct{})
	reporting, publishing := make(chan error, 1), make(chan error, 1)
	go func() {
		reporting <- w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
			_, err := casework.AppendReport(tx, w.drenched(t, "2026-03-02 06:10"))
			close(stored)
			<-commit
			return err
		})
	}()
	<-stored
	go func() { publishing <- w.publishing(plan) }()
	select {
	case err := <-publishing:
		t.Errorf("publishing did not wait for the report: %v", err)
		publishing <- err
	case <-time.After(500 * time.Millisecond):
	}
	close(commit)
	if err := <-reporting; err != nil {
		t.Fatal(err)
	}
	err := <-publishing
	if reason := detail[*errdetails.ErrorInfo](t, err).GetReason(); reason != "FOLLOW_UPS_GONE" && reason != "PLAN_BREAKS_RULES" {
		t.Errorf("publishing = %v, want it refused: the drench that the plan holds is done", err)
	}
}

// drenched is the report of the gnats' first drench, at no visit that a plan knows; it takes 20 minutes.
func (w *works) drenched(t *testing.T, began string) firm.Report {
	t.Helper()
	at := w.at(t, began)
	ml := func(text string) quantity.Volume {
		volume, err := quantity.ParseVolume(text)
		if err != nil {
			t.Fatal(err)
		}
		return volume
	}
	return firm.Report{
		ID: "drenched", Technician: "tech-a", Site: "hotel-quarry-square",
		Arrived: at.Add(-5 * time.Minute), Left: at.Add(25 * time.Minute), SentAt: at.Add(30 * time.Minute),
		Items: []firm.ReportItem{{
			Item: "gnats/application/1/1", Outcome: "done", Began: at, Ended: at.Add(20 * time.Minute),
			Application: &firm.Applied{Product: "bti", Vessel: "can", Concentrate: ml("1.375 US fl oz"), Volume: ml("72 US fl oz"), Applied: ml("1.92 L")},
		}},
	}
}

func TestPublishPlan_VisitsThatStayKeepTheirNames(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	first := w.publish(t, w.makePlan(t, 14))
	second := w.publish(t, w.makePlan(t, 14)) // of the same problem by the same seed, but that moving now has a price
	if state := w.plan(t, first.GetName()).GetState(); state != vernationv1.PlanState_PLAN_STATE_SUPERSEDED {
		t.Errorf("the first plan is %v, want it superseded", state)
	}
	comparison, err := w.plans().ComparePlans(w.office, &vernationv1.ComparePlansRequest{Name: second.GetName(), Before: first.GetName()})
	if err != nil {
		t.Fatal(err)
	}
	if len(comparison.GetAdded())+len(comparison.GetRemoved())+len(comparison.GetMoved()) != 0 || comparison.GetSameCount() == 0 {
		t.Fatalf("comparison %v: want nothing moved where moving has a price", comparison)
	}
	for _, route := range second.GetRoutes() {
		for _, visit := range route.GetVisits() {
			for _, work := range visit.GetWorkItems() {
				if before, _ := visitOf(t, first, work.GetItem()); before.GetName() != visit.GetName() || visit.GetName() == "" {
					t.Errorf("%s is at visit %q, before at %q", work.GetItem(), visit.GetName(), before.GetName())
				}
			}
		}
	}
}

func TestBookFollowUp_PinsAVisitOrNamesTheRule(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	book := func(technician, when string, change func(*vernationv1.BookFollowUpRequest)) (*vernationv1.Visit, error) {
		wish := &vernationv1.BookFollowUpRequest{
			Parent: w.name(""), Item: "gnats/application/1/1", Technician: w.name("technicians/" + technician),
			Begins: w.stamp(t, when), RequestId: request(),
		}
		if change != nil {
			change(wish)
		}
		return w.plans().BookFollowUp(w.office, wish)
	}
	_, err := book("tech-a", "2026-03-02 09:00", nil) // guests have breakfast there until 11:00
	expectRule(t, err, "BOOKING_BREAKS_RULES", "RULE_REENTRY")
	_, err = book("tech-b", "2026-03-02 12:00", nil) // category 06 does not cover lodging under this label
	expectRule(t, err, "BOOKING_BREAKS_RULES", "RULE_LICENCE")
	_, err = book("tech-a", "2026-03-02 12:00", func(wish *vernationv1.BookFollowUpRequest) {
		wish.Rate = &vernationv1.Rate{Concentrate: "3 US fl oz", Per: "1 US gal", Convention: vernationv1.Convention_CONVENTION_MADE_UP_TO} // label: 2.56
	})
	expectRule(t, err, "RATE_ABOVE_LABEL", "RULE_LABEL")
	_, err = book("tech-a", "2026-03-02 12:00", func(wish *vernationv1.BookFollowUpRequest) {
		wish.WayKind = vernationv1.WayKind_WAY_KIND_SHUTS_NOTHING
	})
	expectField(t, err, "way_kind", "UNKNOWN_WAY")
	_, err = book("nobody", "2026-03-02 12:00", nil)
	expectField(t, err, "technician", "UNKNOWN_TECHNICIAN")
	_, err = book("tech-a", "2026-03-02 12:00", func(wish *vernationv1.BookFollowUpRequest) { wish.Item = "gnats/application/9/9" })
	expect(t, err, codes.NotFound, "FOLLOW_UP_UNKNOWN")

	visit, err := book("tech-a", "2026-03-02 12:00", nil)
	if err != nil {
		t.Fatal(err)
	}
	if visit.GetState() != vernationv1.VisitState_VISIT_STATE_PINNED || visit.GetWorkItems()[0].GetUse() == nil {
		t.Errorf("visit %v: want a pinned one with its application", visit)
	}
	_, err = book("tech-a", "2026-03-02 12:10", func(wish *vernationv1.BookFollowUpRequest) { wish.Item = "gnats/inspect-infested/1/1" })
	expect(t, err, codes.Aborted, "TECHNICIAN_BUSY")
	plan := w.publish(t, w.makePlan(t, 7))
	if held, _ := visitOf(t, plan, "gnats/application/1/1"); held.GetName() != visit.GetName() || !proto.Equal(held.GetArrives(), visit.GetArrives()) {
		t.Errorf("a plan moves the pinned visit %v to %v", visit, held)
	}
}

// await waits for the end of a run, which must be done.
func (w *works) await(t *testing.T, run *vernationv1.PlanRun) *vernationv1.PlanRun {
	t.Helper()
	var err error
	for run.GetState() == vernationv1.PlanRunState_PLAN_RUN_STATE_PENDING || run.GetState() == vernationv1.PlanRunState_PLAN_RUN_STATE_RUNNING {
		time.Sleep(10 * time.Millisecond)
		if run, err = w.plans().GetPlanRun(w.office, &vernationv1.GetPlanRunRequest{Name: run.GetName()}); err != nil {
			t.Fatal(err)
		}
	}
	if run.GetState() != vernationv1.PlanRunState_PLAN_RUN_STATE_DONE {
		t.Fatalf("the run ended %v: %s", run.GetState(), run.GetFailure())
	}
	return run
}

// plan reads a plan by its name.
func (w *works) plan(t *testing.T, name string) *vernationv1.Plan {
	t.Helper()
	plan, err := w.plans().GetPlan(w.office, &vernationv1.GetPlanRequest{Name: name})
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

func TestBookFollowUp_TakesItOutOfTheVisitThatHeldItAndCountsFromWhatIsPublished(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	plan := w.publish(t, w.makePlan(t, 14))
	old, applied, i := visitWithTwoFollowUps(t, plan)
	other := old.GetWorkItems()[i].GetItem()
	on := w.zone.DateOf(civil.InstantOf(old.GetArrives().AsTime()))
	if !w.bookSomewhen(t, other, on.AddDays(-1), on.AddDays(3)) {
		t.Fatalf("%s cannot be booked from the day before %v to three days later", other, on)
	}
	_, first := visitOf(t, plan, "gnats/application/1/1")
	day := w.zone.DateOf(civil.InstantOf(first.GetBegins().AsTime()))
	err := w.Store.Reading(t.Context(), w.Office, func(tx *store.Tx) error {
		visit, err := tx.Visit(scheduler.VisitID(path.Base(old.GetName())))
		if err != nil {
			return err
		}
		for _, work := range visit.Work {
			if string(work.Item) == other {
				t.Error("the booked follow-up stands in two visits")
			}
		}
		shut, err := tx.KeepOuts(civil.Interval{})
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(shut, func(k firm.KeepOutFact) bool { return string(k.Item) == applied && k.Visit == visit.ID }) {
			t.Errorf("keep-outs %v: want that of the application which stays", shut)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	// The label asks for 5 days between drenches, and the first one is published and not done.
	if w.bookSomewhen(t, "gnats/application/1/2", day.AddDays(1), day.AddDays(4)) {
		t.Error("the second drench is booked less than 5 days after the first")
	}
	found, err := w.plans().FindOpenings(w.office, &vernationv1.FindOpeningsRequest{Parent: w.name(""), Item: "gnats/application/1/2"})
	if err != nil || len(found.GetOpenings()) == 0 {
		t.Fatalf("openings of the second drench: %v, %v; want some", found, err)
	}
	for _, o := range found.GetOpenings() {
		if begins := w.zone.DateOf(civil.InstantOf(o.GetBegins().AsTime())); begins < day.AddDays(5) {
			t.Errorf("the second drench may be booked on %v, less than 5 days after the first of %v, which is published", begins, day)
		}
	}
}

// visitWithTwoFollowUps finds a visit of a plan that holds an application and another follow-up, by its place in the work.
func visitWithTwoFollowUps(t *testing.T, plan *vernationv1.Plan) (visit *vernationv1.Visit, application string, other int) {
	t.Helper()
	for _, route := range plan.GetRoutes() {
		for _, visit := range route.GetVisits() {
			applies := slices.IndexFunc(visit.GetWorkItems(), func(work *vernationv1.WorkItem) bool { return work.GetUse() != nil })
			other := slices.IndexFunc(visit.GetWorkItems(), func(work *vernationv1.WorkItem) bool {
				return work.GetUse() == nil && work.GetServiceKind() == vernationv1.ServiceKind_SERVICE_KIND_UNSPECIFIED
			})
			if applies >= 0 && other >= 0 {
				return visit, visit.GetWorkItems()[applies].GetItem(), other
			}
		}
	}
	t.Fatal("no visit of the plan holds an application and another follow-up")
	return nil, "", 0
}

// bookSomewhen tries to book a follow-up at each hour of some days until one is free.
func (w *works) bookSomewhen(t *testing.T, item string, from, to civil.Date) bool {
	t.Helper()
	for day := from; day <= to; day++ {
		for hour := 7; hour < 21; hour++ {
			_, err := w.plans().BookFollowUp(w.office, &vernationv1.BookFollowUpRequest{
				Parent: w.name(""), Item: item, Technician: w.name("technicians/tech-a"), RequestId: request(),
				Begins: timestamppb.New(w.zone.At(day, civil.NewClock(hour, 30)).Time()),
			})
			switch status.Code(err) {
			case codes.OK:
				return true
			case codes.FailedPrecondition, codes.Aborted:
			default:
				t.Fatal(err)
			}
		}
	}
	return false
}

// Two calls with one request id and different bodies: only one publishes, however close they come.
func TestPublishPlan_OneRequestIDPublishesOnePlan(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	first, second := w.makePlan(t, 7), w.makePlan(t, 3)
	held, release, released := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	go func() {
		released <- w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
			_, err := tx.LockHead()
			close(held)
			<-release
			return err
		})
	}()
	<-held
	id := request()
	publish := func(plan *vernationv1.Plan, etag string) chan error {
		told := make(chan error, 1)
		go func() {
			_, err := w.plans().PublishPlan(w.office, &vernationv1.PublishPlanRequest{Name: plan.GetName(), Etag: etag, RequestId: id})
			told <- err
		}()
		time.Sleep(700 * time.Millisecond) // longer than the check takes: it waits for the head
		return told
	}
	one := publish(first, first.GetEtag())
	two := publish(second, convert.Etag(1)) // as it is once the first is published
	close(release)
	if err := <-released; err != nil {
		t.Fatal(err)
	}
	if err := <-one; err != nil {
		t.Fatal(err)
	}
	expect(t, <-two, codes.InvalidArgument, "REQUEST_ID_REUSED")
	if plan := w.plan(t, first.GetName()); plan.GetState() != vernationv1.PlanState_PLAN_STATE_PUBLISHED {
		t.Errorf("the first plan is %v: want it published still", plan.GetState())
	}
}
