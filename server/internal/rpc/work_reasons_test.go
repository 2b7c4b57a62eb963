package rpc_test

import (
	"context"
	"slices"
	"sync"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/casework"
	"vernation/server/internal/firm"
	"vernation/server/internal/load"
	"vernation/server/internal/store"
)

// workRefusal is a call at a works whose first day is over that must be refused for a documented reason.
type workRefusal struct {
	method, reason string
	call           func(t *testing.T, w *works, visit *vernationv1.Visit) error
}

func TestReasons_ThoseOfPlansRoutesReportsAndRecordsAreAsDocumented(t *testing.T) {
	t.Parallel()
	w, visit := over(t)
	if _, err := w.reports().CreateReport(w.techA, w.drench(t, "told", visit)); err != nil {
		t.Fatal(err)
	}
	produced := map[string][]string{}
	for _, r := range slices.Concat(planRefusals, bookingRefusals, routeAndRecordRefusals, reportRefusals, changeRefusals, webhookRefusals, noticeRefusals, measureRefusals, billingRefusals) {
		err := r.call(t, w, visit)
		if err == nil {
			t.Errorf("%s is not refused for %s", r.method, r.reason)
			continue
		}
		if got := reasonsOf(t, err); !slices.Contains(got, r.reason) {
			t.Errorf("%s is refused for %v (%v), want %s", r.method, got, err, r.reason)
		}
		produced[r.method] = append(produced[r.method], r.reason)
	}
	for method, reasons := range documented(t, "plan", "visit", "day_route", "report", "record", "change", "webhook", "notice", "measure") {
		for _, reason := range reasons {
			if !slices.Contains(produced[method], reason) {
				t.Errorf("%s documents %s, which no call here produces", method, reason)
			}
		}
		for _, reason := range produced[method] {
			if !slices.Contains(reasons, reason) {
				t.Errorf("%s is refused for %s, which it does not document", method, reason)
			}
		}
	}
}

// publishing asks for a plan to be published.
func (w *works) publishing(plan *vernationv1.Plan) error {
	_, err := w.plans().PublishPlan(w.office, &vernationv1.PublishPlanRequest{Name: plan.GetName(), Etag: plan.GetEtag(), RequestId: request()})
	return err
}

// replanning asks for a plan around events that cannot be.
func replanning(change func(*works, *vernationv1.ReplanRequest, *vernationv1.Visit)) func(*testing.T, *works, *vernationv1.Visit) error {
	return func(_ *testing.T, w *works, visit *vernationv1.Visit) error {
		asked := &vernationv1.ReplanRequest{Parent: w.name(""), RequestId: request()}
		change(w, asked, visit)
		_, err := w.plans().Replan(w.office, asked)
		return err
	}
}

// pinning pins or unpins a visit, "" the one that is over.
func pinning(id string, pin bool) func(*testing.T, *works, *vernationv1.Visit) error {
	return func(_ *testing.T, w *works, visit *vernationv1.Visit) (err error) {
		name := visit.GetName()
		if id != "" {
			name = w.name("visits/" + id)
		}
		if pin {
			_, err = w.visits().PinVisit(w.office, &vernationv1.PinVisitRequest{Name: name, RequestId: request()})
			return err
		}
		_, err = w.visits().UnpinVisit(w.office, &vernationv1.UnpinVisitRequest{Name: name, RequestId: request()})
		return err
	}
}

var planRefusals = []workRefusal{
	{"CreatePlan", "INVALID_ARGUMENT OUT_OF_RANGE", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().CreatePlan(w.office, &vernationv1.CreatePlanRequest{Parent: w.name(""), Days: 14, FirstOn: "2026-03-01", RequestId: request()})
		return err
	}},
	{"Replan", "INVALID_ARGUMENT OUT_OF_RANGE", replanning(func(w *works, r *vernationv1.ReplanRequest, _ *vernationv1.Visit) {
		r.AbsentTechnicians = []*vernationv1.AbsentTechnician{{Technician: w.name("technicians/tech-a"), From: timestamppb.New(time.Unix(2e9, 0)), Until: timestamppb.New(time.Unix(2e9, 0))}}
	})},
	{"Replan", "INVALID_ARGUMENT UNKNOWN_TECHNICIAN", replanning(func(w *works, r *vernationv1.ReplanRequest, _ *vernationv1.Visit) {
		r.AbsentTechnicians = []*vernationv1.AbsentTechnician{{Technician: w.name("technicians/nobody"), From: timestamppb.New(time.Unix(2e9, 0)), Until: timestamppb.New(time.Unix(3e9, 0))}}
	})},
	{"Replan", "INVALID_ARGUMENT UNKNOWN_SITE", replanning(func(w *works, r *vernationv1.ReplanRequest, _ *vernationv1.Visit) {
		r.ShutSites = []*vernationv1.ShutSite{{Site: w.name("sites/nowhere"), From: timestamppb.New(time.Unix(2e9, 0)), Until: timestamppb.New(time.Unix(3e9, 0))}}
	})},
	{"Replan", "INVALID_ARGUMENT NOT_UNDER_WAY", replanning(func(w *works, r *vernationv1.ReplanRequest, visit *vernationv1.Visit) {
		r.Overruns = []*vernationv1.Overrun{{Visit: w.name("visits/none"), Leaves: visit.GetLeaves()}}
	})},
	{"Replan", "FAILED_PRECONDITION VISITS_PINNED", func(t *testing.T, _ *works, _ *vernationv1.Visit) error {
		w := openWorks(t)
		pinned := w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
		_, err := w.plans().Replan(w.office, &vernationv1.ReplanRequest{Parent: w.name(""), RequestId: request(), AbsentTechnicians: []*vernationv1.AbsentTechnician{{
			Technician: pinned.GetTechnician(), From: pinned.GetArrives(), Until: pinned.GetLeaves(),
		}}})
		return err
	}},
	{"ListPlanRuns", "INVALID_ARGUMENT FILTER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().ListPlanRuns(w.office, &vernationv1.ListPlanRunsRequest{Parent: w.name(""), Filter: "cost > 3"})
		return err
	}},
	{"ListPlanRuns", "INVALID_ARGUMENT ORDER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().ListPlanRuns(w.office, &vernationv1.ListPlanRunsRequest{Parent: w.name(""), OrderBy: "cost"})
		return err
	}},
	{"ListPlanRuns", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().ListPlanRuns(w.office, &vernationv1.ListPlanRunsRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
	{"GetVisit", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.visits().GetVisit(w.office, &vernationv1.GetVisitRequest{Name: w.name("visits/none")})
		return err
	}},
	{"ListVisits", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.visits().ListVisits(w.office, &vernationv1.ListVisitsRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
	{"ListVisits", "INVALID_ARGUMENT FILTER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.visits().ListVisits(w.office, &vernationv1.ListVisitsRequest{Parent: w.name(""), Filter: "cost > 3"})
		return err
	}},
	{"ListVisits", "INVALID_ARGUMENT ORDER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.visits().ListVisits(w.office, &vernationv1.ListVisitsRequest{Parent: w.name(""), OrderBy: "cost"})
		return err
	}},
	{"PinVisit", "NOT_FOUND NOT_FOUND", pinning("none", true)},
	{"PinVisit", "FAILED_PRECONDITION VISIT_BEGUN", pinning("", true)},
	{"UnpinVisit", "NOT_FOUND NOT_FOUND", pinning("none", false)},
	{"UnpinVisit", "FAILED_PRECONDITION VISIT_BEGUN", pinning("", false)},
	{"GetPlanRun", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().GetPlanRun(w.office, &vernationv1.GetPlanRunRequest{Name: w.name("planRuns/none")})
		return err
	}},
	{"CancelPlanRun", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().CancelPlanRun(w.office, &vernationv1.CancelPlanRunRequest{Name: w.name("planRuns/none"), RequestId: request()})
		return err
	}},
	{"GetPlan", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().GetPlan(w.office, &vernationv1.GetPlanRequest{Name: w.name("plans/none")})
		return err
	}},
	{"ListPlans", "INVALID_ARGUMENT FILTER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().ListPlans(w.office, &vernationv1.ListPlansRequest{Parent: w.name(""), Filter: "cost > 3"})
		return err
	}},
	{"ListPlans", "INVALID_ARGUMENT ORDER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().ListPlans(w.office, &vernationv1.ListPlansRequest{Parent: w.name(""), OrderBy: "cost"})
		return err
	}},
	{"ListPlans", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().ListPlans(w.office, &vernationv1.ListPlansRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
	{"ComparePlans", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().ComparePlans(w.office, &vernationv1.ComparePlansRequest{Name: w.name("plans/none"), Before: w.name("plans/none")})
		return err
	}},
	{"PublishPlan", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		return w.publishing(&vernationv1.Plan{Name: w.name("plans/none"), Etag: `W/"0"`})
	}},
	{"PublishPlan", "ABORTED PLAN_HEAD_MOVED", func(t *testing.T, w *works, _ *vernationv1.Visit) error {
		plan := w.makePlan(t, 2)
		plan.Etag = `W/"999"` // of another head
		return w.publishing(plan)
	}},
	{"PublishPlan", "FAILED_PRECONDITION PLAN_BREAKS_RULES", func(t *testing.T, _ *works, _ *vernationv1.Visit) error {
		w := openWorks(t)
		plan := w.makePlan(t, 14)
		_, work := visitOf(t, plan, "gnats/application/1/1") // whose product is no longer approved
		w.withdrawApproval(t)
		if work.GetUse().GetProduct() != w.name("products/"+string(gnatsProduct)) {
			t.Fatal(work.GetUse())
		}
		return w.publishing(plan)
	}},
	{"PublishPlan", "FAILED_PRECONDITION FOLLOW_UPS_GONE", func(t *testing.T, _ *works, _ *vernationv1.Visit) error {
		w := openWorks(t)
		plan := w.makePlan(t, 14)
		visitOf(t, plan, "gnats/application/1/1")
		w.Clock.Set(w.at(t, "2026-03-02 13:05"))
		err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
			_, err := casework.AppendReport(tx, w.drenched(t, "2026-03-02 12:15"))
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return w.publishing(plan)
	}},
	{"PublishPlan", "ABORTED CASES_KEEP_MOVING", func(t *testing.T, _ *works, _ *vernationv1.Visit) error {
		w := openWorks(t)
		plan := w.makePlan(t, 14)
		ctx, stop := context.WithCancel(t.Context())
		// Whenever the publisher comes to the head, several are in line before it, and each changes the sites.
		var stirring sync.WaitGroup
		for range 8 {
			stirring.Go(func() {
				for ctx.Err() == nil {
					if err := w.Store.In(ctx, w.Office, stir); err != nil && ctx.Err() == nil {
						t.Error(err)
						return
					}
				}
			})
		}
		err := w.publishing(plan)
		stop()
		stirring.Wait()
		return err
	}},
}

// gnatsProduct is the product of the gnats' course.
const gnatsProduct = "bti"

// stir takes the plan head and tells again when the plants were watered last, which gives every site a new version with
// nothing else changed.
func stir(tx *store.Tx) error {
	if _, err := tx.LockHead(); err != nil {
		return err
	}
	plants, err := tx.AllPlants()
	if err != nil {
		return err
	}
	watered := make(map[site.PlantID]civil.Date, len(plants))
	for _, p := range plants {
		watered[p.ID] = p.Watering.Last
	}
	return tx.SetPlantsWatered(watered)
}

// booking asks for the gnats' next drench to be booked, with a change that cannot be right.
func booking(change func(w *works, wish *vernationv1.BookFollowUpRequest)) func(*testing.T, *works, *vernationv1.Visit) error {
	return func(t *testing.T, w *works, _ *vernationv1.Visit) error {
		wish := &vernationv1.BookFollowUpRequest{
			Parent: w.name(""), Item: "gnats/application/1/2", Technician: w.name("technicians/tech-a"), Begins: w.stamp(t, "2026-03-09 12:00"), RequestId: request(),
		}
		change(w, wish)
		_, err := w.plans().BookFollowUp(w.office, wish)
		return err
	}
}

// bookingElsewhere is the same at a works of its own, whose file is changed.
func bookingElsewhere(change func(*load.File), kind vernationv1.WayKind) func(*testing.T, *works, *vernationv1.Visit) error {
	return func(t *testing.T, _ *works, _ *vernationv1.Visit) error {
		w := openWorks(t, change)
		return booking(func(_ *works, wish *vernationv1.BookFollowUpRequest) {
			wish.Item, wish.Begins, wish.WayKind = "gnats/application/1/1", w.stamp(t, "2026-03-02 12:00"), kind
		})(t, w, nil)
	}
}

// bookingOpening asks for the first opening of the gnats' first drench to be booked, at a works of its own, after something has
// changed; where none is opened, for a text that is no token.
func bookingOpening(open func(*testing.T, ...func(*load.File)) *works, change func(*testing.T, *works, *firm.OpeningMark)) func(*testing.T, *works, *vernationv1.Visit) error {
	return func(t *testing.T, w *works, _ *vernationv1.Visit) error {
		token := "none"
		if open != nil {
			w = open(t)
			mark, ok := firm.ReadOpeningMark(w.openings(t, nil).GetOpenings()[0].GetToken())
			if !ok {
				t.Fatal("the token of an opening cannot be read")
			}
			change(t, w, &mark)
			token = mark.Token()
		}
		_, err := w.plans().BookOpening(w.office, &vernationv1.BookOpeningRequest{Parent: w.name(""), Token: token, RequestId: request()})
		return err
	}
}

var bookingRefusals = []workRefusal{
	{"BookFollowUp", "INVALID_ARGUMENT UNKNOWN_TECHNICIAN", booking(func(w *works, wish *vernationv1.BookFollowUpRequest) {
		wish.Technician = w.name("technicians/nobody")
	})},
	{"BookFollowUp", "INVALID_ARGUMENT UNKNOWN_WAY", booking(func(_ *works, wish *vernationv1.BookFollowUpRequest) {
		wish.WayKind = vernationv1.WayKind_WAY_KIND_SHUTS_NOTHING
	})},
	{"BookFollowUp", "INVALID_ARGUMENT WAY_WITH_RETURN", bookingElsewhere(func(file *load.File) {
		for i := range file.Sites {
			for j := range file.Sites[i].Areas {
				if area := &file.Sites[i].Areas[j]; area.ID == "hotel-plant-room" {
					area.Treatment = &site.TreatmentPlace{Hours: area.Ventilation, Water: true, Drain: true, Capacity: 10}
				}
			}
		}
	}, vernationv1.WayKind_WAY_KIND_AT_TREATMENT_PLACE)},
	{"BookFollowUp", "FAILED_PRECONDITION NOTHING_FITS", bookingElsewhere(func(file *load.File) {
		for i := range file.Crew {
			file.Crew[i].Measures = nil
		}
	}, vernationv1.WayKind_WAY_KIND_IN_PLACE)},
	{"FindOpenings", "NOT_FOUND FOLLOW_UP_UNKNOWN", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().FindOpenings(w.office, &vernationv1.FindOpeningsRequest{Parent: w.name(""), Item: "gnats/application/9/9"})
		return err
	}},
	{"FindOpenings", "INVALID_ARGUMENT UNKNOWN_TECHNICIAN", func(t *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().FindOpenings(w.office, &vernationv1.FindOpeningsRequest{
			Parent: w.name(""), Item: "gnats/application/1/2", Days: 28,
			Slots: []*vernationv1.Slot{{Technician: w.name("technicians/nobody"), Begins: w.stamp(t, "2026-03-04 12:00")}},
		})
		return err
	}},
	{"BookOpening", "INVALID_ARGUMENT OPENING_UNKNOWN", bookingOpening(nil, func(t *testing.T, _ *works, _ *firm.OpeningMark) {})},
	{"BookOpening", "NOT_FOUND FOLLOW_UP_UNKNOWN", bookingOpening(openWorks, func(_ *testing.T, _ *works, mark *firm.OpeningMark) { mark.Item = "gnats/application/9/9" })},
	{"BookOpening", "ABORTED OPENING_STALE", bookingOpening(openWorks, func(t *testing.T, w *works, _ *firm.OpeningMark) {
		w.book(t, "gnats/application/1/1", "2026-03-02 12:00")
	})},
	{"BookOpening", "FAILED_PRECONDITION BOOKING_BREAKS_RULES", bookingOpening(openWorks, func(t *testing.T, w *works, _ *firm.OpeningMark) {
		w.withdrawApproval(t)
	})},
	{"ExplainFollowUp", "NOT_FOUND FOLLOW_UP_UNKNOWN", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.plans().ExplainFollowUp(w.office, &vernationv1.ExplainFollowUpRequest{Parent: w.name(""), Item: "gnats/application/9/9"})
		return err
	}},
	{"BookFollowUp", "NOT_FOUND FOLLOW_UP_UNKNOWN", booking(func(_ *works, wish *vernationv1.BookFollowUpRequest) { wish.Item = "gnats/application/9/9" })},
	{"BookFollowUp", "FAILED_PRECONDITION BOOKING_BREAKS_RULES", booking(func(w *works, wish *vernationv1.BookFollowUpRequest) {
		wish.Technician = w.name("technicians/tech-b")
	})},
	{"BookFollowUp", "FAILED_PRECONDITION RATE_ABOVE_LABEL", booking(func(_ *works, wish *vernationv1.BookFollowUpRequest) {
		wish.Rate = &vernationv1.Rate{Concentrate: "3 US fl oz", Per: "1 US gal", Convention: vernationv1.Convention_CONVENTION_MADE_UP_TO}
	})},
	{"BookFollowUp", "ABORTED TECHNICIAN_BUSY", func(t *testing.T, w *works, _ *vernationv1.Visit) error {
		w.book(t, "mealybugs/inspect-infested/1/1", "2026-03-03 20:30")
		return booking(func(w *works, wish *vernationv1.BookFollowUpRequest) {
			wish.Item, wish.Begins = "mealybugs/inspect-neighbours/1/1", w.stamp(t, "2026-03-03 20:30")
		})(t, w, nil)
	}},
}

var routeAndRecordRefusals = []workRefusal{
	{"GetDayRoute", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.dayRoutes().GetDayRoute(w.office, &vernationv1.GetDayRouteRequest{Name: w.name("technicians/nobody/dayRoutes/2026-03-02")})
		return err
	}},
	{"GetDayRoute", "NOT_FOUND NO_DAY_ROUTE", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.dayRoutes().GetDayRoute(w.office, &vernationv1.GetDayRouteRequest{Name: w.name("technicians/tech-a/dayRoutes/2026-03-01")})
		return err
	}},
	{"GetDayRoute", "PERMISSION_DENIED NOT_YET_YOUR_DAY", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.dayRoutes().GetDayRoute(w.techA, &vernationv1.GetDayRouteRequest{Name: w.name("technicians/tech-a/dayRoutes/2026-06-02")})
		return err
	}},
	{"GetDayPack", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.dayRoutes().GetDayPack(w.office, &vernationv1.GetDayPackRequest{Name: w.name("technicians/nobody/dayPack")})
		return err
	}},
	{"GetDayPack", "PERMISSION_DENIED NOT_YOUR_DAY_ROUTE", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.dayRoutes().GetDayPack(w.techB, &vernationv1.GetDayPackRequest{Name: w.name("technicians/tech-a/dayPack")})
		return err
	}},
	{"GetDayRoute", "PERMISSION_DENIED NOT_YOUR_DAY_ROUTE", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.dayRoutes().GetDayRoute(w.techB, &vernationv1.GetDayRouteRequest{Name: w.name("technicians/tech-a/dayRoutes/2026-03-02")})
		return err
	}},
	{"GetReport", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.reports().GetReport(w.office, &vernationv1.GetReportRequest{Name: w.name("reports/none")})
		return err
	}},
	{"GetReport", "PERMISSION_DENIED NOT_YOUR_REPORT", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.reports().GetReport(w.techB, &vernationv1.GetReportRequest{Name: w.name("reports/told")})
		return err
	}},
	{"ListDeviations", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.reports().ListDeviations(w.office, &vernationv1.ListDeviationsRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
	{"ListDeviations", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.reports().ListDeviations(w.office, &vernationv1.ListDeviationsRequest{Parent: w.name(""), Report: w.name("reports/none")})
		return err
	}},
	{"ListDeviations", "INVALID_ARGUMENT FILTER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.reports().ListDeviations(w.office, &vernationv1.ListDeviationsRequest{Parent: w.name(""), Filter: `mood = "bad"`})
		return err
	}},
	{"ListDeviations", "INVALID_ARGUMENT ORDER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.reports().ListDeviations(w.office, &vernationv1.ListDeviationsRequest{Parent: w.name(""), OrderBy: "mood"})
		return err
	}},
	{"ListReports", "INVALID_ARGUMENT FILTER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.reports().ListReports(w.office, &vernationv1.ListReportsRequest{Parent: w.name(""), Filter: `mood = "bad"`})
		return err
	}},
	{"ListReports", "INVALID_ARGUMENT ORDER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.reports().ListReports(w.office, &vernationv1.ListReportsRequest{Parent: w.name(""), OrderBy: "mood"})
		return err
	}},
	{"ListReports", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.reports().ListReports(w.office, &vernationv1.ListReportsRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
	{"ListOutcomes", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.reports().ListOutcomes(w.office, &vernationv1.ListOutcomesRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
	{"AcknowledgeDeviation", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.reports().AcknowledgeDeviation(w.office, &vernationv1.AcknowledgeDeviationRequest{Name: w.name("deviations/none"), RequestId: request()})
		return err
	}},
	{"AcknowledgeDeviation", "FAILED_PRECONDITION ACKNOWLEDGED_ALREADY", func(t *testing.T, w *works, _ *vernationv1.Visit) error {
		name := w.atNight(t)
		for range 2 {
			if _, err := w.reports().AcknowledgeDeviation(w.office, &vernationv1.AcknowledgeDeviationRequest{Name: name, RequestId: request()}); err != nil {
				return err
			}
		}
		return nil
	}},
	{"ListApplicationRecords", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.records().ListApplicationRecords(w.office, &vernationv1.ListApplicationRecordsRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
	{"ListApplicationRecords", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.records().ListApplicationRecords(w.office, &vernationv1.ListApplicationRecordsRequest{Parent: w.name(""), Site: w.name("sites/none")})
		return err
	}},
	{"ListApplicationRecords", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.records().ListApplicationRecords(w.office, &vernationv1.ListApplicationRecordsRequest{Parent: w.name(""), Case: w.name("cases/none")})
		return err
	}},
	{"ListApplicationRecords", "INVALID_ARGUMENT FILTER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		return w.askRecords("colour = 1", "")
	}},
	{"ListApplicationRecords", "INVALID_ARGUMENT ORDER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		return w.askRecords("", "colour")
	}},
	{"GetApplicationRecord", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.records().GetApplicationRecord(w.office, &vernationv1.GetApplicationRecordRequest{Name: w.name("applicationRecords/none")})
		return err
	}},
	{"ExportApplicationRecords", "INVALID_ARGUMENT FILTER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.records().ExportApplicationRecords(w.office, &vernationv1.ExportApplicationRecordsRequest{Parent: w.name(""), Filter: "colour = 1"})
		return err
	}},
	{"ExportApplicationRecords", "INVALID_ARGUMENT ORDER_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.records().ExportApplicationRecords(w.office, &vernationv1.ExportApplicationRecordsRequest{Parent: w.name(""), OrderBy: "colour"})
		return err
	}},
	{"ExportApplicationRecords", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.records().ExportApplicationRecords(w.office, &vernationv1.ExportApplicationRecordsRequest{Parent: w.name(""), PageToken: "page-2"})
		return err
	}},
}

// billing asks for the billable work of a span, with a change.
func (w *works) billing(first, last string, change func(*vernationv1.ExportBillableWorkRequest)) (*vernationv1.ExportBillableWorkResponse, error) {
	ask := &vernationv1.ExportBillableWorkRequest{Parent: w.name(""), FirstOn: first, LastOn: last}
	if change != nil {
		change(ask)
	}
	return w.records().ExportBillableWork(w.office, ask)
}

var billingRefusals = []workRefusal{
	{"ExportBillableWork", "INVALID_ARGUMENT OUT_OF_RANGE", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.billing("2026-03-02", "2026-03-01", nil)
		return err
	}},
	{"ExportBillableWork", "INVALID_ARGUMENT DATE_FORM", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.billing("2026-02-30", "2026-03-01", nil)
		return err
	}},
	{"ExportBillableWork", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.billing("2026-03-02", "2026-03-02", func(r *vernationv1.ExportBillableWorkRequest) { r.PageToken = "page-2" })
		return err
	}},
	{"ExportBillableWork", "NOT_FOUND NOT_FOUND", func(_ *testing.T, w *works, _ *vernationv1.Visit) error {
		_, err := w.billing("2026-03-02", "2026-03-02", func(r *vernationv1.ExportBillableWorkRequest) { r.Client = w.name("clients/none") })
		return err
	}},
}

// askRecords asks for a page of records.
func (w *works) askRecords(filter, order string) error {
	_, err := w.records().ListApplicationRecords(w.office, &vernationv1.ListApplicationRecordsRequest{Parent: w.name(""), Filter: filter, OrderBy: order})
	return err
}

// telling reports the gnats' first drench under a new id, with a change that cannot be right.
func telling(change func(t *testing.T, w *works, ask *vernationv1.CreateReportRequest)) func(*testing.T, *works, *vernationv1.Visit) error {
	return func(t *testing.T, w *works, visit *vernationv1.Visit) error {
		ask := w.drench(t, "another", visit)
		change(t, w, ask)
		_, err := w.reports().CreateReport(w.office, ask)
		return err
	}
}

var reportRefusals = []workRefusal{
	{"CreateReport", "INVALID_ARGUMENT ENDS_BEFORE_IT_BEGINS", telling(func(t *testing.T, w *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Left = w.stamp(t, "2026-03-02 09:00")
	})},
	{"CreateReport", "INVALID_ARGUMENT IN_THE_FUTURE", telling(func(t *testing.T, w *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Left = w.stamp(t, "2026-03-02 18:06")
	})},
	{"CreateReport", "INVALID_ARGUMENT REQUIRED", telling(func(_ *testing.T, _ *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Items[0].Began, ask.Report.Items[0].Ended = nil, nil
	})},
	{"CreateReport", "INVALID_ARGUMENT UNKNOWN_TECHNICIAN", telling(func(_ *testing.T, w *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Technician = w.name("technicians/nobody")
	})},
	{"CreateReport", "INVALID_ARGUMENT UNKNOWN_PLANT", telling(func(_ *testing.T, w *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Items[0].Plants = []string{w.name("plants/fig-window")}
	})},
	{"CreateReport", "INVALID_ARGUMENT UNKNOWN_AREA", telling(func(_ *testing.T, w *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Items[0].Area = w.name("sites/offices-alder-row/areas/offices-floor")
	})},
	{"CreateReport", "INVALID_ARGUMENT UNKNOWN_PRODUCT", telling(func(_ *testing.T, w *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Items[0].Application.Product = w.name("products/none")
	})},
	{"CreateReport", "INVALID_ARGUMENT UNKNOWN_PEST", telling(func(_ *testing.T, w *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Findings = []*vernationv1.Finding{{
			Pest: "gremlin", Certainty: vernationv1.Certainty_CERTAINTY_CONFIRMED, Life: vernationv1.Life_LIFE_LIVING, Plants: []string{w.name("plants/lily-reading")},
		}}
	})},
	{"CreateReport", "NOT_FOUND NOT_FOUND", telling(func(_ *testing.T, w *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Site = w.name("sites/none")
	})},
	{"CreateReport", "NOT_FOUND NOT_FOUND", telling(func(_ *testing.T, w *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Items[0].Item, ask.Report.Items[0].Case = "", w.name("cases/none")
	})},
	{"CreateReport", "NOT_FOUND NOT_FOUND", telling(func(_ *testing.T, w *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Corrects = w.name("reports/none")
	})},
	{"CreateReport", "NOT_FOUND VISIT_NOT_PUBLISHED", telling(func(_ *testing.T, w *works, ask *vernationv1.CreateReportRequest) {
		ask.Report.Visit = w.name("visits/none")
	})},
	{"CreateReport", "PERMISSION_DENIED NOT_YOUR_REPORT", func(t *testing.T, w *works, visit *vernationv1.Visit) error {
		_, err := w.reports().CreateReport(w.techB, w.drench(t, "another", visit))
		return err
	}},
	{"CreateReport", "ALREADY_EXISTS EXISTS_ALREADY", telling(func(_ *testing.T, _ *works, ask *vernationv1.CreateReportRequest) {
		ask.ReportId, ask.Report.Note = "told", "Something else."
	})},
	{"CreateReport", "ALREADY_EXISTS ALREADY_REPORTED", telling(func(*testing.T, *works, *vernationv1.CreateReportRequest) {})},
}
