package demo

import (
	"context"
	"fmt"
	"strings"
	"time"

	vernationv1 "vernation/proto/vernation/v1"
)

// reality acts out what became of the first visits, as an integration reports it.
func (s *story) reality(ctx context.Context) error {
	spray, sprayWork, err := s.visitOf(s.mealybug, 1)
	if err != nil {
		return err
	}
	s.moveClock(s.at(time.March, 5, 9, 0))
	report := s.report("spray-1", spray, everythingDone(s, spray))
	if err := s.post(ctx, report, "The first spray, as planned"); err != nil {
		return err
	}
	before, err := s.course(ctx, s.mealybug)
	if err != nil {
		return err
	}
	if err := s.post(ctx, report, "The same report again"); err != nil {
		return err
	}
	again, err := s.course(ctx, s.mealybug)
	if err != nil {
		return err
	}
	s.note("The course is the same: %v.", before.GetEtag() == again.GetEtag())
	_ = sprayWork
	return s.lateAndWrong(ctx)
}

// lateAndWrong: the second spray was not possible; then, out of order, a drench of the week before that was mixed too strong.
func (s *story) lateAndWrong(ctx context.Context) error {
	second, work, err := s.visitOf(s.mealybug, 2)
	if err != nil {
		return err
	}
	s.moveClock(second.GetLeaves().AsTime().Add(10 * time.Minute))
	items := everythingDone(s, second)
	for _, item := range items {
		if item.GetItem() == work.GetItem() {
			item.Outcome, item.Application, item.Began, item.Ended = vernationv1.Outcome_OUTCOME_PEOPLE_PRESENT, nil, nil, nil
			item.Note = "a late meeting on the floor until after nine"
		}
	}
	if err := s.post(ctx, s.report("spray-2", second, items), "The second spray was not possible: people were present"); err != nil {
		return err
	}
	drench, work, err := s.visitOf(s.gnats, 1)
	if err != nil {
		return err
	}
	items = everythingDone(s, drench)
	for _, item := range items {
		if item.GetItem() == work.GetItem() {
			item.Application.Concentrate = doubled(item.GetApplication().GetConcentrate())
			item.Note = "the cup was filled twice"
		}
	}
	if err := s.post(ctx, s.report("drench-1", drench, items), "Late, and out of order: the first drench, mixed at twice the rate"); err != nil {
		return err
	}
	return s.tellRecords(ctx)
}

// visitOf finds the published visit that holds the nth application of a case, and its work item.
func (s *story) visitOf(of string, ordinal int) (*vernationv1.Visit, *vernationv1.WorkItem, error) {
	seen := map[string]bool{}
	for _, route := range s.plan.GetRoutes() {
		for _, visit := range route.GetVisits() {
			for _, work := range visit.GetWorkItems() {
				if work.GetUse() == nil || !strings.HasPrefix(work.GetItem(), last(of)+"/") {
					continue
				}
				seen[work.GetItem()] = true
				if len(seen) == ordinal {
					return visit, work, nil
				}
			}
		}
	}
	return nil, nil, fmt.Errorf("the plan holds %d applications of case %s, the story needs %d", len(seen), last(of), ordinal)
}

// report tells a visit with what came of its items.
func (s *story) report(id string, visit *vernationv1.Visit, items []*vernationv1.ReportedItem) *vernationv1.CreateReportRequest {
	return &vernationv1.CreateReportRequest{
		Parent: name(), ReportId: id, RequestId: requestID("report", id),
		Report: &vernationv1.Report{
			Visit: visit.GetName(), Technician: visit.GetTechnician(), Site: visit.GetSite(),
			Arrived: visit.GetArrives(), Left: visit.GetLeaves(), ClientTime: stamp(s.now), Items: items,
		},
	}
}

// everythingDone tells that each work item was done as planned; an inspection found nothing.
func everythingDone(s *story, visit *vernationv1.Visit) []*vernationv1.ReportedItem {
	var items []*vernationv1.ReportedItem
	told := map[string]*vernationv1.ReportedItem{}
	for _, work := range visit.GetWorkItems() {
		if item := told[work.GetItem()]; item != nil {
			item.Plants = append(item.Plants, work.GetPlants()...)
			continue
		}
		item := &vernationv1.ReportedItem{Item: work.GetItem(), Outcome: vernationv1.Outcome_OUTCOME_DONE,
			Began: work.GetBegins(), Ended: work.GetEnds(), Plants: append([]string(nil), work.GetPlants()...)}
		switch work.GetFollowUpKind() {
		case vernationv1.FollowUpKind_FOLLOW_UP_KIND_INSPECT_INFESTED, vernationv1.FollowUpKind_FOLLOW_UP_KIND_INSPECT_NEIGHBOURS:
			item.Inspection = &vernationv1.InspectionMade{}
		}
		if use := work.GetUse(); use != nil {
			item.Application = s.applied(visit, work)
		}
		told[work.GetItem()] = item
		items = append(items, item)
	}
	return items
}

// applied is the application as planned: the mix of the visit's day, all but what stays in the pump.
func (s *story) applied(visit *vernationv1.Visit, work *vernationv1.WorkItem) *vernationv1.ApplicationMade {
	made := &vernationv1.ApplicationMade{Product: work.GetUse().GetProduct()}
	for _, route := range s.plan.GetRoutes() {
		for _, other := range route.GetVisits() {
			if other.GetName() != visit.GetName() || work.MixIndex == nil {
				continue
			}
			mix := route.GetMixes()[work.GetMixIndex()]
			made.VesselId, made.Concentrate, made.Volume, made.Applied = mix.GetVesselId(), mix.GetConcentrate(), mix.GetVolume(), mix.GetNeed()
			made.LeftWent = vernationv1.LeftoverWay_LEFTOVER_WAY_TAKEN_HOME
		}
	}
	return made
}

// doubled doubles an amount such as "5/8 US fl oz" or "0.625 US fl oz" exactly, as twice a fraction.
func doubled(amount string) string {
	number, unit, _ := strings.Cut(amount, " ")
	if top, bottom, ok := strings.Cut(number, "/"); ok {
		var n int64
		if _, err := fmt.Sscan(top, &n); err == nil {
			return fmt.Sprintf("%d/%s %s", 2*n, bottom, unit)
		}
	}
	var value float64
	if _, err := fmt.Sscan(number, &value); err != nil {
		return amount
	}
	return fmt.Sprintf("%g %s", 2*value, unit)
}

func (s *story) post(ctx context.Context, request *vernationv1.CreateReportRequest, title string) error {
	answer, err := s.integration.Reports().CreateReport(ctx, request)
	if err != nil {
		return fmt.Errorf("%s: %w", title, err)
	}
	s.item("%s: stored as %s, %s.", title, last(answer.GetName()), plural(len(answer.GetApplicationRecords()), "application record"))
	for _, d := range answer.GetDeviations() {
		s.note("Deviation, rule %s: %s.", words(d.GetRule(), "RULE_"), d.GetText())
	}
	return nil
}

func (s *story) tellRecords(ctx context.Context) error {
	records, err := s.office.Records().ListApplicationRecords(ctx, &vernationv1.ListApplicationRecordsRequest{Parent: name(), PageSize: 50})
	if err != nil {
		return err
	}
	s.say("The application records so far:")
	for _, r := range records.GetApplicationRecords() {
		count := 0
		for _, plant := range r.GetPlants() {
			count += int(plant.GetCount())
		}
		s.item("%s to %s, %s (%s): %s on %s, %s of mix at %s %% (%s of concentrate), by %s, licence %s; entry from %s; kept until %s.",
			s.clock(r.GetBegan()), s.hour(r.GetEnded()), r.GetSiteDisplayName(), last(r.GetArea()), r.GetProductDisplayName(), plural(count, "plant"),
			r.GetApplied(), r.GetRatePercent(), r.GetConcentrate(), last(r.GetTechnician()), r.GetLicenceNumber(), s.clock(r.GetEntryTime()), r.GetKeepUntilOn())
	}
	return nil
}

func (s *story) secondPlan(ctx context.Context) error {
	old := s.plan
	for _, of := range []string{s.mealybug, s.gnats} {
		course, err := s.course(ctx, of)
		if err != nil {
			return err
		}
		s.say("What case %s still needs:", last(of))
		for _, f := range course.GetFollowUps() {
			if f.GetKind() == vernationv1.FollowUpKind_FOLLOW_UP_KIND_APPLICATION {
				approved := "approved"
				if !f.GetApproved() {
					approved = "to be approved again"
				}
				s.item("%s %s (%s): %s", day(f.GetExpectedOn()), f.GetItem(), approved, f.GetReason())
			}
		}
	}
	if err := s.approveAgain(ctx, s.gnats); err != nil {
		return err
	}
	plan, err := s.makePlan(ctx, "second")
	if err != nil {
		return err
	}
	difference, err := s.office.Plans().ComparePlans(ctx, &vernationv1.ComparePlansRequest{Name: plan.GetName(), Before: old.GetName()})
	if err != nil {
		return err
	}
	s.say("Against the plan before: %d moved, %d new, %d gone.", len(difference.GetMoved()), len(difference.GetAdded()), len(difference.GetRemoved()))
	for _, change := range difference.GetMoved() {
		s.item("%s: %s %s, now %s %s", change.GetItem(), s.clock(change.GetBefore().GetBegins()), s.places.technicians[change.GetBefore().GetTechnician()],
			s.clock(change.GetAfter().GetBegins()), s.places.technicians[change.GetAfter().GetTechnician()])
	}
	s.tellCost("Cost of the new plan", plan.GetCost())
	return nil
}

// approveAgain: after an application above the label the approval has to be given anew.
func (s *story) approveAgain(ctx context.Context, of string) error {
	course, err := s.course(ctx, of)
	if err != nil {
		return err
	}
	_, err = s.technician.Cases().ApproveCourse(ctx, &vernationv1.ApproveCourseRequest{
		Name: of + "/course", Product: course.GetProduct(), RequestId: requestID("approve again", of),
		WayKinds: []vernationv1.WayKind{vernationv1.WayKind_WAY_KIND_IN_PLACE},
	})
	if err == nil {
		s.say("The responsible applicator approves case %s again, after the wrong rate.", last(of))
	}
	return err
}
