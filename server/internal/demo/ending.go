package demo

import (
	"context"
	"fmt"
	"time"

	vernationv1 "vernation/proto/vernation/v1"
)

// mostRounds bounds the plans of the weeks after: each looks two weeks ahead, and a new one follows every week, so that
// what falls behind a horizon is planned in time.
const mostRounds = 14

// ending carries out plan after plan, every visit as planned and every inspection without a find, until the mealybugs'
// case ends.
func (s *story) ending(ctx context.Context) error {
	s.say("From here on every visit is made as planned and reported on its day, every inspection is without a find, and every week a new plan follows.")
	for round := range mostRounds {
		ended, err := s.carryOut(ctx)
		if err != nil {
			return err
		}
		if ended != nil {
			return s.tellEnding(ctx)
		}
		if _, err := s.makePlan(ctx, fmt.Sprint("round", round), quickly); err != nil {
			return err
		}
	}
	return fmt.Errorf("case %s has not ended after %d plans", last(s.mealybug), mostRounds)
}

// carryOut reports the visits of the published plan that lie ahead, in order of time, until the case ends.
func (s *story) carryOut(ctx context.Context) (*vernationv1.Ending, error) {
	// A new plan is made in the small hours, when nobody is under way.
	year, month, day := s.now.AddDate(0, 0, 7).Date()
	until := time.Date(year, month, day, 5, 0, 0, 0, s.zone)
	for _, visit := range s.ahead(s.now) {
		if visit.GetLeaves().AsTime().After(until) {
			break
		}
		s.moveClock(visit.GetLeaves().AsTime().In(s.zone).Add(soonAfter))
		s.reports++
		request := s.report(fmt.Sprintf("visit-%03d", s.reports), visit, everythingDone(s, visit))
		if _, err := s.integration.Reports().CreateReport(ctx, request); err != nil {
			return nil, fmt.Errorf("report of the visit at %s: %w", s.clock(visit.GetArrives()), err)
		}
		if err := s.tellProgress(ctx, visit); err != nil {
			return nil, err
		}
		now, err := s.office.Cases().GetCase(ctx, &vernationv1.GetCaseRequest{Name: s.mealybug})
		if err != nil || now.GetEnding() != nil {
			return now.GetEnding(), err
		}
	}
	s.moveClock(until)
	return nil, nil
}

// tellProgress prints a line for each visit that served the mealybugs' case.
func (s *story) tellProgress(ctx context.Context, visit *vernationv1.Visit) error {
	for _, work := range visit.GetWorkItems() {
		spray := work.GetUse() != nil
		look := work.GetFollowUpKind() == vernationv1.FollowUpKind_FOLLOW_UP_KIND_INSPECT_INFESTED
		if !ofCase(work.GetItem(), s.mealybug) || (!spray && !look) {
			continue
		}
		course, err := s.course(ctx, s.mealybug)
		if err != nil {
			return err
		}
		if spray {
			s.item("%s: %s done.", s.clock(work.GetBegins()), work.GetItem())
		} else if course.GetLooks().GetMade() > 0 {
			s.item("%s: looked, nothing found; %d of %d looks, the chance that it is free is %s.", s.clock(work.GetBegins()),
				course.GetLooks().GetMade(), course.GetLooks().GetNeeded(), percent(course.GetLooks().GetChance()))
		}
	}
	return nil
}

func ofCase(item, resource string) bool {
	id := last(resource) + "/"
	return len(item) > len(id) && item[:len(id)] == id
}

func (s *story) tellEnding(ctx context.Context) error {
	now, err := s.office.Cases().GetCase(ctx, &vernationv1.GetCaseRequest{Name: s.mealybug})
	if err != nil {
		return err
	}
	s.say("Case %s has ended %s on %s: %s.", last(s.mealybug), words(now.GetEnding().GetKind(), "ENDING_KIND_"),
		s.now.Format("Mon 2 Jan"), now.GetEnding().GetReason())
	s.say("An estimate from laboratory figures: look at the plants; the responsible applicator decides.")
	return nil
}
