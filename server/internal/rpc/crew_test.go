package rpc_test

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	vernationv1 "vernation/proto/vernation/v1"
)

func TestTechnicians_WhatIsCreatedIsReadChangedAndDeleted(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	asked := d.technician("tech-c", func(m *vernationv1.Technician) { m.ExternalId = "payroll-7" })
	created, err := d.technicians().CreateTechnician(d.office, asked)
	if err != nil {
		t.Fatal(err)
	}
	want := proto.Clone(asked.GetTechnician()).(*vernationv1.Technician)
	want.Name, want.Etag = d.name("technicians/tech-c"), `W/"1"`
	if diff := cmp.Diff(want, created, protocmp.Transform()); diff != "" {
		t.Errorf("what was created is not what was asked for (-asked +created):\n%s", diff)
	}
	lapsed := proto.Clone(created.GetLicences()[0]).(*vernationv1.Licence)
	lapsed.ToOn = "2026-02-28"
	changed, err := d.technicians().UpdateTechnician(d.office, &vernationv1.UpdateTechnicianRequest{
		Technician: &vernationv1.Technician{Name: created.GetName(), Etag: created.GetEtag(), DisplayName: "not named", Licences: []*vernationv1.Licence{lapsed}},
		UpdateMask: mask("licences", "skills"), RequestId: request(),
	})
	want.Licences, want.Etag = []*vernationv1.Licence{lapsed}, `W/"2"`
	if diff := cmp.Diff(want, changed, protocmp.Transform()); err != nil || diff != "" {
		t.Errorf("changed: %v (-want +changed):\n%s", err, diff)
	}
	deleted, err := d.technicians().DeleteTechnician(d.office, &vernationv1.DeleteTechnicianRequest{Name: created.GetName(), RequestId: request()})
	if err != nil || deleted.GetDeleteTime() == nil {
		t.Fatalf("deleted: %v, %v", deleted, err)
	}
	page, err := d.technicians().ListTechnicians(d.office, &vernationv1.ListTechniciansRequest{Parent: d.name("")})
	if err != nil || slices.ContainsFunc(page.GetTechnicians(), func(m *vernationv1.Technician) bool { return m.GetName() == created.GetName() }) {
		t.Errorf("who left is listed: %v, %v", page, err)
	}
	read, err := d.technicians().GetTechnician(d.office, &vernationv1.GetTechnicianRequest{Name: created.GetName()})
	if err != nil || !proto.Equal(read, deleted) {
		t.Errorf("who left is read: %v, %v", read, err)
	}
	_, err = d.absences().CreateAbsence(d.office, d.absence("late", func(a *vernationv1.Absence) { a.Technician = created.GetName() }))
	expect(t, err, codes.FailedPrecondition, "DELETED")
}

func TestTechnicians_ALicenceThatLapsedChangesTheCourse(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	// tech-a alone holds the licence of category 22 that the labels of soap and drench ask for: without it what is left of the
	// courses is work that asks for none.
	read, err := w.technicians().GetTechnician(w.office, &vernationv1.GetTechnicianRequest{Name: w.name("technicians/tech-a")})
	if err != nil {
		t.Fatal(err)
	}
	plan := w.makePlan(t, 5)
	visitOf(t, plan, "mealybugs/application/1/1")
	for _, licence := range read.GetLicences() {
		licence.ToOn = "2026-03-01"
		if licence.GetFromOn() > licence.GetToOn() {
			licence.FromOn = licence.GetToOn()
		}
	}
	_, err = w.technicians().UpdateTechnician(w.office, &vernationv1.UpdateTechnicianRequest{Technician: read, UpdateMask: mask("licences"), RequestId: request()})
	if err != nil {
		t.Fatal(err)
	}
	again := w.makePlan(t, 5)
	for _, route := range again.GetRoutes() {
		for _, visit := range route.GetVisits() {
			for _, work := range visit.GetWorkItems() {
				if product := work.GetUse().GetProduct(); product != "" && slices.Contains([]string{w.name("products/soap"), w.name("products/bti")}, product) {
					t.Errorf("%s applies %s without a licence that holds", route.GetTechnician(), product)
				}
			}
		}
	}
	_, err = w.plans().PublishPlan(w.office, &vernationv1.PublishPlanRequest{Name: plan.GetName(), Etag: plan.GetEtag(), RequestId: request()})
	if err == nil {
		t.Error("a plan from before the licence lapsed could be published")
	}
}

// find returns the visit of a plan that holds an item, or nil.
func find(plan *vernationv1.Plan, item string) *vernationv1.Visit {
	for _, route := range plan.GetRoutes() {
		for _, visit := range route.GetVisits() {
			if slices.ContainsFunc(visit.GetWorkItems(), func(w *vernationv1.WorkItem) bool { return w.GetItem() == item }) {
				return visit
			}
		}
	}
	return nil
}

// routesOn counts the day routes of a plan by technician, of one day or of all ("").
func routesOn(plan *vernationv1.Plan, technician, day string) int {
	count := 0
	for _, route := range plan.GetRoutes() {
		if (technician == "" || route.GetTechnician() == technician) && (day == "" || route.GetOn() == day) && len(route.GetVisits()) > 0 {
			count++
		}
	}
	return count
}

func TestAbsences_TakeTheTechnicianOutOfTheNextPlan(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	tech := w.name("technicians/tech-a")
	plan := w.makePlan(t, 5)
	if routesOn(plan, tech, "") == 0 {
		t.Fatal("tech-a has no day route in the first plan, so that this test shows nothing")
	}
	absence, err := w.absences().CreateAbsence(w.office, w.absence("flu", func(a *vernationv1.Absence) { a.Technician = tech }))
	if err != nil || len(absence.GetVisits()) != 0 {
		t.Fatalf("%v, %v: nothing is published yet", absence, err)
	}
	// The plan was made from another crew: publishing checks again and says the rule.
	_, err = w.plans().PublishPlan(w.office, &vernationv1.PublishPlanRequest{Name: plan.GetName(), Etag: plan.GetEtag(), RequestId: request()})
	expectRule(t, err, "PLAN_BREAKS_RULES", "RULE_SHIFT")
	if again := w.makePlan(t, 5); routesOn(again, tech, "") != 0 {
		t.Errorf("the plan after the absence has %d day routes of tech-a", routesOn(again, tech, ""))
	}
	back, err := w.absences().DeleteAbsence(w.office, &vernationv1.DeleteAbsenceRequest{Name: absence.GetName(), Etag: absence.GetEtag(), RequestId: request()})
	if err != nil || back.GetDeleteTime() == nil {
		t.Fatalf("taken back: %v, %v", back, err)
	}
	again := w.makePlan(t, 5)
	if routesOn(again, tech, "") == 0 {
		t.Error("after the absence was taken back tech-a is still not planned")
	}
	// What is published stays until the next plan; the absence names what lies in it.
	w.publish(t, again)
	absence, err = w.absences().CreateAbsence(w.office, w.absence("flu-2", func(a *vernationv1.Absence) { a.Technician = tech }))
	if err != nil || len(absence.GetVisits()) == 0 {
		t.Fatalf("%v, %v: want the published visits of tech-a", absence, err)
	}
	last := w.publish(t, w.makePlan(t, 5))
	if routesOn(last, tech, "") != 0 {
		t.Error("after publishing again tech-a still has visits")
	}
	read, err := w.absences().GetAbsence(w.office, &vernationv1.GetAbsenceRequest{Name: absence.GetName()})
	if err != nil || len(read.GetVisits()) != 0 {
		t.Errorf("%v, %v: want no visit in it any more", read, err)
	}
}

func TestAbsences_APartOfADayLeavesTheRest(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	tech := w.name("technicians/tech-b")
	window := func(opens, closes string) *vernationv1.Window {
		return &vernationv1.Window{Opens: opens, Closes: closes}
	}
	_, err := w.absences().CreateAbsence(w.office, w.absence("school-run", func(a *vernationv1.Absence) {
		a.Technician, a.ToOn, a.Window = tech, "2026-03-31", window("00:00", "12:00")
	}))
	if err != nil {
		t.Fatal(err)
	}
	plan := w.makePlan(t, 5)
	for _, route := range plan.GetRoutes() {
		if route.GetTechnician() != tech {
			continue
		}
		for _, visit := range route.GetVisits() {
			if begins := visit.GetArrives().AsTime().In(w.zone.Location()); begins.Hour() < 12 {
				t.Errorf("tech-b arrives at %v, in the absence", begins)
			}
		}
	}
}

func TestHolidays_ShutTheBusinessButForWhoHasADatedShift(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	before := w.makePlan(t, 5)
	if routesOn(before, "", "2026-03-03") == 0 {
		t.Fatal("nobody works on 3 March, so that this test shows nothing")
	}
	made, err := w.holidays().CreateHoliday(w.office, w.holiday("founders-day", func(h *vernationv1.Holiday) { h.ToOn = "2026-03-06" }))
	if err != nil {
		t.Fatal(err)
	}
	for _, day := range []string{"2026-03-03", "2026-03-04", "2026-03-05", "2026-03-06"} {
		if shut := w.makePlan(t, 5); routesOn(shut, "", day) != 0 {
			t.Errorf("somebody works on the holiday, %s", day)
		}
	}
	if _, err := w.holidays().DeleteHoliday(w.office, &vernationv1.DeleteHolidayRequest{Name: made.GetName(), RequestId: request()}); err != nil {
		t.Fatal(err)
	}
	if open := w.makePlan(t, 5); routesOn(open, "", "2026-03-03") == 0 {
		t.Error("after the holiday was taken back nobody works on its days")
	}
	if _, err := w.holidays().CreateHoliday(w.office, w.holiday("another-day", nil)); err != nil {
		t.Fatal(err)
	}
	read, err := w.technicians().GetTechnician(w.office, &vernationv1.GetTechnicianRequest{Name: w.name("technicians/tech-a")})
	if err != nil {
		t.Fatal(err)
	}
	read.Shifts.Exceptions = append(read.GetShifts().GetExceptions(), &vernationv1.DatedException{
		On: "2026-03-03", Windows: []*vernationv1.Window{{Opens: "13:00", Closes: "22:00"}},
	})
	_, err = w.technicians().UpdateTechnician(w.office, &vernationv1.UpdateTechnicianRequest{Technician: read, UpdateMask: mask("shifts"), RequestId: request()})
	if err != nil {
		t.Fatal(err)
	}
	dated := w.makePlan(t, 5)
	if routesOn(dated, "", "2026-03-03") != routesOn(dated, read.GetName(), "2026-03-03") || routesOn(dated, read.GetName(), "2026-03-03") == 0 {
		t.Errorf("on the holiday %d work, of whom tech-a %d: want tech-a alone, who has a shift of that date",
			routesOn(dated, "", "2026-03-03"), routesOn(dated, read.GetName(), "2026-03-03"))
	}
}

func TestTechnicians_WhoLeavesIsPlannedNoMoreAndWhatIsPinnedStays(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	tech := w.name("technicians/tech-a")
	pinned := w.book(t, "mealybugs/application/1/1", "2026-03-03 19:30")
	w.publish(t, w.makePlan(t, 5))
	if _, err := w.technicians().DeleteTechnician(w.office, &vernationv1.DeleteTechnicianRequest{Name: tech, RequestId: request()}); err != nil {
		t.Fatal(err)
	}
	plan := w.makePlan(t, 5)
	for _, route := range plan.GetRoutes() {
		for _, visit := range route.GetVisits() {
			if route.GetTechnician() == tech && visit.GetState() != vernationv1.VisitState_VISIT_STATE_PINNED {
				t.Errorf("a visit at %s is planned for a technician who left", visit.GetSite())
			}
		}
	}
	if visit := find(plan, "mealybugs/application/1/1"); !proto.Equal(visit.GetArrives(), pinned.GetArrives()) {
		t.Errorf("the pinned visit became %v", visit)
	}
	w.publish(t, plan)
}
