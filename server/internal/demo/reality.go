package demo

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	vernationv1 "vernation/proto/vernation/v1"
)

// soonAfter a visit its report is posted.
const soonAfter = 10 * time.Minute

// reality acts out what became of the visits up to the second drench, as an integration reports it.
func (s *story) reality(ctx context.Context) error {
	spray, _, err := s.visitOf(s.mealybug, 1)
	if err != nil {
		return err
	}
	first, _, err := s.visitOf(s.gnats, 1)
	if err != nil {
		return err
	}
	second, drench, err := s.visitOf(s.gnats, 2)
	if err != nil {
		return err
	}
	others := 0
	for _, visit := range s.visitsUntil(second) {
		s.moveClock(visit.GetLeaves().AsTime().In(s.zone).Add(soonAfter))
		switch visit.GetName() {
		case spray.GetName(): // its report is forgotten until later
		case first.GetName():
			if err := s.asPlanned(ctx, visit); err != nil {
				return err
			}
		case second.GetName():
			if err := s.notPossible(ctx, visit, drench.GetItem()); err != nil {
				return err
			}
		default:
			others++
			if _, err := s.integration.Reports().CreateReport(ctx, s.report(fmt.Sprintf("visit-%03d", others), visit, everythingDone(s, visit))); err != nil {
				return err
			}
		}
	}
	s.reports = others
	s.item("Between them %s, as planned.", plural(others, "other report"))
	return s.lateAndWrong(ctx, spray)
}

// asPlanned: the first drench is reported as planned, and reported again.
func (s *story) asPlanned(ctx context.Context, visit *vernationv1.Visit) error {
	report := s.report("drench-1", visit, everythingDone(s, visit))
	if err := s.post(ctx, report, "The first drench, as planned"); err != nil {
		return err
	}
	before, err := s.course(ctx, s.gnats)
	if err != nil {
		return err
	}
	if err := s.post(ctx, report, "The same report again, which has no effect"); err != nil {
		return err
	}
	again, err := s.course(ctx, s.gnats)
	if err != nil {
		return err
	}
	if before.GetEtag() != again.GetEtag() {
		return fmt.Errorf("the report told twice changed the course")
	}
	return nil
}

// notPossible: people were present, so the application was not made; the rest of the visit was.
func (s *story) notPossible(ctx context.Context, visit *vernationv1.Visit, application string) error {
	items := everythingDone(s, visit)
	for _, item := range items {
		if item.GetItem() == application {
			item.Outcome, item.Application, item.Began, item.Ended = vernationv1.Outcome_OUTCOME_PEOPLE_PRESENT, nil, nil, nil
			item.Note = "a reading club stayed on all day"
		}
	}
	return s.post(ctx, s.report("drench-2", visit, items), "The second drench was not possible: people were present")
}

// lateAndWrong: out of order, the spray of the week before, that was mixed too strong.
func (s *story) lateAndWrong(ctx context.Context, visit *vernationv1.Visit) error {
	items := everythingDone(s, visit)
	for _, item := range items {
		if made := item.GetApplication(); made != nil {
			made.Concentrate = doubled(made.GetConcentrate())
			item.Note = "the cup was filled twice"
		}
	}
	if err := s.post(ctx, s.report("spray-1", visit, items), "Days late and out of order: the first spray, mixed at double rate"); err != nil {
		return err
	}
	if err := s.tellHistory(ctx, s.mealybug); err != nil {
		return err
	}
	return s.tellRecords(ctx)
}

// tellHistory prints a case's events: in order of time, whatever the order in which they were told.
func (s *story) tellHistory(ctx context.Context, of string) error {
	now, err := s.office.Cases().GetCase(ctx, &vernationv1.GetCaseRequest{Name: of})
	if err != nil {
		return err
	}
	s.say("The history of case %s, in order of time:", last(of))
	for _, event := range now.GetEvents() {
		s.item("%s: %s", s.clock(event.GetEventTime()), event.GetText())
	}
	return nil
}

// visitsUntil returns the plan's visits in order of time, up to and with one of them.
func (s *story) visitsUntil(end *vernationv1.Visit) []*vernationv1.Visit {
	var visits []*vernationv1.Visit
	for _, visit := range s.ahead(time.Time{}) {
		if !visit.GetLeaves().AsTime().After(end.GetLeaves().AsTime()) {
			visits = append(visits, visit)
		}
	}
	return visits
}

// ahead returns the published plan's visits that begin after an instant, in order of their end.
func (s *story) ahead(after time.Time) []*vernationv1.Visit {
	var visits []*vernationv1.Visit
	for _, route := range s.plan.GetRoutes() {
		for _, visit := range route.GetVisits() {
			if visit.GetArrives().AsTime().After(after) {
				visits = append(visits, visit)
			}
		}
	}
	slices.SortFunc(visits, func(a, b *vernationv1.Visit) int { return a.GetLeaves().AsTime().Compare(b.GetLeaves().AsTime()) })
	return visits
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
			if work.GetFollowUpKind() == vernationv1.FollowUpKind_FOLLOW_UP_KIND_INSPECT_INFESTED && s.now.Before(s.at(time.March, 13, 0, 0)) {
				// Before the first applications have told, the infested plants still show it.
				item.Inspection.Found, item.Inspection.Severity = append([]string(nil), work.GetPlants()...), 2
			}
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
		s.tellApplications(course)
	}
	if err := s.approveAgain(ctx, s.mealybug); err != nil {
		return err
	}
	plan, err := s.makePlan(ctx, "second", iterations)
	if err != nil {
		return err
	}
	difference, err := s.office.Plans().ComparePlans(ctx, &vernationv1.ComparePlansRequest{Name: plan.GetName(), Before: old.GetName()})
	if err != nil {
		return err
	}
	s.tellDifference(difference)
	s.tellCost("Cost of the new plan", plan.GetCost())
	return nil
}

// tellDifference prints which follow-ups stand elsewhere; routine work is only counted.
func (s *story) tellDifference(d *vernationv1.ComparePlansResponse) {
	s.say("Against the plan before, over both horizons: %d moved, %d new, %d gone. Follow-ups that moved:", len(d.GetMoved()), len(d.GetAdded()), len(d.GetRemoved()))
	for _, change := range d.GetMoved() {
		if strings.Contains(change.GetItem(), "#") {
			continue
		}
		s.item("%s: %s %s, now %s %s", change.GetItem(), s.clock(change.GetBefore().GetBegins()), s.places.technicians[change.GetBefore().GetTechnician()],
			s.clock(change.GetAfter().GetBegins()), s.places.technicians[change.GetAfter().GetTechnician()])
	}
	s.tellCost("Difference in cost", d.GetCostDifference())
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
