package rpc_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/store"
)

// replan asks for a plan around events and waits for it.
func (w *works) replan(t *testing.T, change func(*vernationv1.ReplanRequest)) *vernationv1.Plan {
	t.Helper()
	asked := &vernationv1.ReplanRequest{Parent: w.name(""), MaxIterations: 20, RequestId: request()}
	change(asked)
	run, err := w.plans().Replan(w.office, asked)
	if err != nil {
		t.Fatal(err)
	}
	return w.plan(t, w.await(t, run).GetPlan())
}

// besidePublished compares a plan with what is published.
func (w *works) besidePublished(t *testing.T, plan *vernationv1.Plan) *vernationv1.ComparePlansResponse {
	t.Helper()
	changes, err := w.plans().ComparePlans(w.office, &vernationv1.ComparePlansRequest{Name: plan.GetName()})
	if err != nil {
		t.Fatal(err)
	}
	return changes
}

// works of a technician on a day of a plan.
func visitsOf(plan *vernationv1.Plan, technician string, from, to time.Time) (visits []*vernationv1.Visit) {
	for _, route := range plan.GetRoutes() {
		for _, v := range route.GetVisits() {
			if v.GetTechnician() == technician && v.GetArrives().AsTime().Before(to) && v.GetLeaves().AsTime().After(from) {
				visits = append(visits, v)
			}
		}
	}
	return visits
}

func TestReplan_WithNothingToldKeepsWhatIsPublished(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.publish(t, w.makePlan(t, 14))
	again := w.replan(t, func(*vernationv1.ReplanRequest) {})
	changes := w.besidePublished(t, again)
	if again.GetDays() != 14 || again.GetFirstOn() != "2026-03-02" {
		t.Errorf("%d days from %s: want those of the published plan that are left", again.GetDays(), again.GetFirstOn())
	}
	if len(changes.GetAdded())+len(changes.GetRemoved()) > 0 || changes.GetSameCount() == 0 || len(changes.GetTechnicians()) > 0 && len(changes.GetMoved()) == 0 {
		t.Errorf("beside what is published: %v; want nothing come or gone", changes)
	}
}

func TestReplan_SomebodySickIsPlannedAroundAndWhomItConcernsIsTold(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	published := w.publish(t, w.makePlan(t, 14))
	visit, _ := visitOf(t, published, "gnats/application/1/1")
	day := visit.GetArrives().AsTime().In(w.zone.Location())
	from := time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, day.Location())
	sick := func(r *vernationv1.ReplanRequest) {
		r.AbsentTechnicians = []*vernationv1.AbsentTechnician{{Technician: visit.GetTechnician(), From: timestamppb.New(from), Until: timestamppb.New(from.AddDate(0, 0, 1))}}
	}
	w.Clock.Set(w.at(t, "2026-03-02 07:01"))
	plan := w.replan(t, sick)
	if left := visitsOf(plan, visit.GetTechnician(), from, from.AddDate(0, 0, 1)); len(left) > 0 {
		t.Errorf("on the day of the absence the plan has %v", left)
	}
	changes := w.besidePublished(t, plan)
	told := slices.IndexFunc(changes.GetTechnicians(), func(a *vernationv1.Affected) bool { return a.GetName() == visit.GetTechnician() })
	if told < 0 || len(changes.GetSites()) == 0 || changes.GetCostDifference() != nil {
		t.Errorf("changes for %v at %v: want %s told, and the sites", changes.GetTechnicians(), changes.GetSites(), visit.GetTechnician())
	}
	if again := w.publish(t, plan); again.GetState() != vernationv1.PlanState_PLAN_STATE_PUBLISHED {
		t.Errorf("it is %v: want it published", again.GetState())
	}
	if still := w.besidePublished(t, plan); len(still.GetAdded())+len(still.GetRemoved())+len(still.GetMoved()) > 0 {
		t.Errorf("published, it differs from what is published: %v", still)
	}
	runs, err := w.plans().ListPlanRuns(w.office, &vernationv1.ListPlanRunsRequest{Parent: w.name(""), PageSize: 1})
	if err != nil || len(runs.GetPlanRuns()) != 1 || runs.GetNextPageToken() == "" || len(runs.GetPlanRuns()[0].GetAbsentTechnicians()) != 1 ||
		runs.GetPlanRuns()[0].GetPlan() != plan.GetName() || runs.GetPlanRuns()[0].GetBest().GetTotalMinor() == 0 {
		t.Errorf("runs %v, %v: want the last one first, with what it was told and its cost", runs, err)
	}
	rest, err := w.plans().ListPlanRuns(w.office, &vernationv1.ListPlanRunsRequest{Parent: w.name(""), PageSize: 5, PageToken: runs.GetNextPageToken()})
	if err != nil || len(rest.GetPlanRuns()) != 1 || rest.GetNextPageToken() != "" || len(rest.GetPlanRuns()[0].GetAbsentTechnicians()) != 0 {
		t.Errorf("the runs before %v, %v: want the one that was told nothing", rest, err)
	}
}

func TestReplan_NobodyComesToASiteWhileItIsShut(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	visit, _ := visitOf(t, w.publish(t, w.makePlan(t, 14)), "gnats/application/1/1")
	from, until := visit.GetArrives().AsTime().Add(-time.Hour), visit.GetArrives().AsTime().Add(time.Hour)
	shut := func(r *vernationv1.ReplanRequest) {
		r.ShutSites = []*vernationv1.ShutSite{{Site: visit.GetSite(), From: timestamppb.New(from), Until: timestamppb.New(until)}}
	}
	plan := w.replan(t, shut)
	for _, technician := range []string{"tech-a", "tech-b"} {
		for _, v := range visitsOf(plan, w.name("technicians/"+technician), from, until) {
			if v.GetSite() == visit.GetSite() {
				t.Errorf("%s is at %s at %s while it is shut", technician, v.GetSite(), v.GetArrives().AsTime())
			}
		}
	}
	w.publish(t, plan)
	if _, err := w.visits().PinVisit(w.office, &vernationv1.PinVisitRequest{Name: w.listedVisits(t, nil)[0].GetName(), RequestId: request()}); err != nil {
		t.Fatal(err)
	}
	pinned := w.listedVisits(t, nil)[0]
	_, err := w.plans().Replan(w.office, &vernationv1.ReplanRequest{Parent: w.name(""), RequestId: request(), ShutSites: []*vernationv1.ShutSite{{
		Site: pinned.GetSite(), From: pinned.GetArrives(), Until: pinned.GetLeaves(),
	}}})
	expect(t, err, codes.FailedPrecondition, "VISITS_PINNED")
}

// A visit under way that takes two hours longer pushes what follows on that day, and the plan is published around it.
func TestReplan_AnOverrunIsPlannedAround(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.publish(t, w.makePlan(t, 14))
	first := w.listedVisits(t, nil)[0]
	w.Clock.Set(w.atStamp(first.GetArrives()) + 60)
	overrun := func(leaves time.Duration) func(*vernationv1.ReplanRequest) {
		return func(r *vernationv1.ReplanRequest) {
			r.Overruns = []*vernationv1.Overrun{{Visit: first.GetName(), Leaves: timestamppb.New(first.GetLeaves().AsTime().Add(leaves))}}
		}
	}
	plan := w.replan(t, overrun(2*time.Hour))
	until := first.GetLeaves().AsTime().Add(2 * time.Hour)
	for _, v := range visitsOf(plan, first.GetTechnician(), first.GetLeaves().AsTime(), until) {
		if !v.GetLeaves().AsTime().Equal(until) || v.GetSite() != first.GetSite() {
			t.Errorf("while %s takes longer the plan has its technician at %s from %s", first.GetName(), v.GetSite(), v.GetArrives().AsTime())
		}
	}
	w.publish(t, plan)
	asked := &vernationv1.ReplanRequest{Parent: w.name(""), RequestId: request()}
	overrun(-time.Minute)(asked)
	_, err := w.plans().Replan(w.office, asked)
	expectField(t, err, "overruns[0].leaves", "OUT_OF_RANGE")
}

// What is found and reported is known without being told: an urgent case comes in, and a follow-up that a report ended goes.
func TestReplan_KnowsFindingsAndReports(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	visitOf(t, w.publish(t, w.makePlan(t, 14)), "gnats/application/1/1")
	w.Clock.Set(w.at(t, "2026-03-02 13:05"))
	err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
		if _, err := casework.AppendReport(tx, w.drenched(t, "2026-03-02 12:15")); err != nil {
			return err
		}
		_, _, err := casework.RecordFinding(tx, casework.NewFinding{ID: "urgent", Site: "offices-alder-row", At: tx.Now(), Finding: course.Finding{
			Pest: "citrus-mealybug", Certainty: course.Confirmed, Life: course.Living, Severity: 3, Plants: []site.PlantID{"fig-window"},
		}})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	changes := w.besidePublished(t, w.replan(t, func(*vernationv1.ReplanRequest) {}))
	if !slices.ContainsFunc(changes.GetAdded(), func(c *vernationv1.PlanChange) bool { return strings.HasPrefix(c.GetItem(), "urgent/") }) {
		t.Errorf("added %v: want work of the urgent case", changes.GetAdded())
	}
	if !slices.ContainsFunc(changes.GetRemoved(), func(c *vernationv1.PlanChange) bool { return c.GetItem() == "gnats/application/1/1" }) {
		t.Errorf("removed %v: want the drench that was made", changes.GetRemoved())
	}
}

// While a run searches its progress is seen: iterations, the cost by part of the best plan and the proved bound; a second run of
// the business waits until it is its turn.
func TestGetPlanRun_ShowsTheSearchWhileItRunsAndTheNextWaits(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	ask := func() *vernationv1.PlanRun {
		run, err := w.plans().CreatePlan(w.office, &vernationv1.CreatePlanRequest{Parent: w.name(""), Days: 14, TimeLimit: durationpb.New(time.Minute), RequestId: request()})
		if err != nil {
			t.Fatal(err)
		}
		return run
	}
	first := ask()
	w.Clock.Set(w.at(t, "2026-03-02 07:01"))
	second := ask()
	var seen *vernationv1.PlanRun
	for deadline := time.Now().Add(30 * time.Second); seen.GetIteration() == 0 && time.Now().Before(deadline); time.Sleep(50 * time.Millisecond) {
		var err error
		if seen, err = w.plans().GetPlanRun(w.office, &vernationv1.GetPlanRunRequest{Name: first.GetName()}); err != nil {
			t.Fatal(err)
		}
	}
	if seen.GetState() != vernationv1.PlanRunState_PLAN_RUN_STATE_RUNNING || seen.GetIteration() == 0 || len(seen.GetBest().GetParts()) == 0 || seen.GetBoundMinor() == 0 ||
		seen.GetBoundMinor() > seen.GetBest().GetTotalMinor() {
		t.Errorf("while it runs %v: want iterations, the cost by part and a bound below it", seen)
	}
	runs, err := w.plans().ListPlanRuns(w.office, &vernationv1.ListPlanRunsRequest{Parent: w.name("")})
	if err != nil || len(runs.GetPlanRuns()) != 2 || runs.GetPlanRuns()[0].GetState() != vernationv1.PlanRunState_PLAN_RUN_STATE_PENDING {
		t.Errorf("runs %v, %v: want the second first, pending", runs, err)
	}
	for _, run := range []*vernationv1.PlanRun{second, first} {
		if _, err := w.plans().CancelPlanRun(w.office, &vernationv1.CancelPlanRunRequest{Name: run.GetName(), RequestId: request()}); err != nil {
			t.Error(err)
		}
	}
	for deadline := time.Now().Add(30 * time.Second); seen.GetState() == vernationv1.PlanRunState_PLAN_RUN_STATE_RUNNING && time.Now().Before(deadline); time.Sleep(50 * time.Millisecond) {
		if seen, err = w.plans().GetPlanRun(w.office, &vernationv1.GetPlanRunRequest{Name: first.GetName()}); err != nil {
			t.Fatal(err)
		}
	}
	if seen.GetState() != vernationv1.PlanRunState_PLAN_RUN_STATE_CANCELLED || seen.GetPlan() != "" {
		t.Errorf("cancelled it is %v: want no plan", seen)
	}
}
