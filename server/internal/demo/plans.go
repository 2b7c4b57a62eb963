package demo

import (
	"context"
	"fmt"
	"strings"
	"time"

	vernationv1 "vernation/proto/vernation/v1"
)

// makePlan runs a plan over the horizon from today, waits for it and publishes it.
func (s *story) makePlan(ctx context.Context, id string, most int32) (*vernationv1.Plan, error) {
	run, err := s.office.Plans().CreatePlan(ctx, &vernationv1.CreatePlanRequest{
		Parent: name(), FirstOn: s.now.Format(time.DateOnly), Days: horizon, MaxIterations: most, Seed: 1, RequestId: requestID("plan", id),
	})
	if err != nil {
		return nil, err
	}
	for run.GetState() == vernationv1.PlanRunState_PLAN_RUN_STATE_PENDING || run.GetState() == vernationv1.PlanRunState_PLAN_RUN_STATE_RUNNING {
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(50 * time.Millisecond):
		}
		if run, err = s.office.Plans().GetPlanRun(ctx, &vernationv1.GetPlanRunRequest{Name: run.GetName()}); err != nil {
			return nil, err
		}
	}
	if run.GetState() != vernationv1.PlanRunState_PLAN_RUN_STATE_DONE {
		return nil, fmt.Errorf("the run ended %s: %s", words(run.GetState(), "PLAN_RUN_STATE_"), run.GetFailure())
	}
	plan, err := s.office.Plans().GetPlan(ctx, &vernationv1.GetPlanRequest{Name: run.GetPlan()})
	if err != nil {
		return nil, err
	}
	published, err := s.office.Plans().PublishPlan(ctx, &vernationv1.PublishPlanRequest{Name: plan.GetName(), Etag: plan.GetEtag(), RequestId: requestID("publish", id)})
	if err != nil {
		return nil, err
	}
	s.plan = published
	return published, nil
}

func (s *story) firstPlan(ctx context.Context) error {
	plan, err := s.makePlan(ctx, "first", iterations)
	if err != nil {
		return err
	}
	s.tellPlan(plan)
	return nil
}

func (s *story) tellPlan(plan *vernationv1.Plan) {
	followUps, riding := 0, 0
	for _, route := range plan.GetRoutes() {
		s.say("%s, %s: leaves the base %s, back %s%s.", day(route.GetOn()), s.places.technicians[route.GetTechnician()],
			s.hour(route.GetDeparts()), s.hour(route.GetReturns()), s.breakText(route))
		for _, visit := range route.GetVisits() {
			work, count, rides := s.workText(visit)
			followUps += count
			riding += rides
			s.item("%s-%s %s: %s", s.hour(visit.GetArrives()), s.hour(visit.GetLeaves()), s.places.sites[visit.GetSite()], work)
		}
	}
	s.say("%s, of which %d ride on a visit that is made for routine work too.", plural(followUps, "follow-up"), riding)
	for _, k := range plan.GetKeepOuts() {
		s.item("Shut: %s", k.GetText())
	}
	s.tellCost("Cost", plan.GetCost())
	s.say("No plan of this problem costs less than %s (bound), so at most %s could be saved; %d iterations, seed %d.",
		money(plan.GetBoundMinor()), money(plan.GetGapMinor()), plan.GetIterations(), plan.GetSeed())
	if len(plan.GetUnplanned()) == 0 {
		s.say("Nothing was left out or deferred.")
	}
	later := 0
	for _, u := range plan.GetUnplanned() {
		if !ruled(u) {
			later++
			continue
		}
		s.item("%s, %s at %s: %s", words(u.GetStatus(), "UNPLANNED_STATUS_"), u.GetItem(), money(u.GetCostMinor()), reasons(u))
	}
	if later > 0 {
		s.item("%s more fall behind the horizon or wait for one that is not planned.", plural(later, "follow-up"))
	}
	s.say("Published: these visits are real now.")
}

// ruled says whether a rule, and not the horizon or another follow-up, keeps an item out.
func ruled(u *vernationv1.Unplanned) bool {
	for _, reason := range u.GetReasons() {
		if reason.GetRule() != vernationv1.Rule_RULE_UNSPECIFIED && reason.GetRule() != vernationv1.Rule_RULE_TIMING {
			return true
		}
	}
	return false
}

func reasons(u *vernationv1.Unplanned) string {
	var texts []string
	for _, reason := range u.GetReasons() {
		texts = append(texts, reason.GetText())
	}
	return strings.Join(texts, "; ")
}

func (s *story) breakText(route *vernationv1.DayRoute) string {
	if route.GetBreakBegins() == nil {
		return ""
	}
	return fmt.Sprintf(", break %s-%s", s.hour(route.GetBreakBegins()), s.hour(route.GetBreakEnds()))
}

// workText tells a visit's work, and counts its follow-ups and those that ride with routine work.
func (s *story) workText(visit *vernationv1.Visit) (text string, followUps, riding int) {
	var parts []string
	routine := false
	seen := map[string]bool{}
	for _, work := range visit.GetWorkItems() {
		if work.GetServiceKind() != vernationv1.ServiceKind_SERVICE_KIND_UNSPECIFIED {
			routine = true
			if !seen[work.GetItem()] {
				parts = append(parts, words(work.GetServiceKind(), "SERVICE_KIND_"))
			}
		} else {
			if !seen[work.GetItem()] {
				followUps++
			}
			parts = append(parts, fmt.Sprintf("%s %s-%s", work.GetItem(), s.hour(work.GetBegins()), s.hour(work.GetEnds())))
		}
		seen[work.GetItem()] = true
	}
	if routine {
		riding = followUps
	}
	return strings.Join(parts, "; "), followUps, riding
}

func (s *story) tellCost(title string, cost *vernationv1.Cost) {
	var parts []string
	for _, part := range cost.GetParts() {
		parts = append(parts, words(part.GetPart(), "COST_PART_")+" "+money(part.GetAmountMinor()))
	}
	s.say("%s %s: %s.", title, money(cost.GetTotalMinor()), strings.Join(parts, ", "))
}

func (s *story) dayRoute(ctx context.Context) error {
	s.moveClock(s.at(time.March, 2, 18, 0))
	s.say("It is Monday evening; the technician pulls tomorrow.")
	route, err := s.technician.DayRoutes().GetDayRoute(ctx, &vernationv1.GetDayRouteRequest{Name: name("technicians", "tech-a", "dayRoutes", "2026-03-03")})
	if err != nil {
		return err
	}
	s.say("Leave the base %s, back %s%s.", s.hour(route.GetDeparts()), s.hour(route.GetReturns()), s.breakText(route))
	for _, visit := range route.GetVisits() {
		s.tellVisit(visit)
	}
	for i, mix := range route.GetMixes() {
		s.tellMix(i, mix)
	}
	for _, k := range route.GetKeepOuts() {
		s.item("Keep out: %s", k.GetText())
	}
	s.cautions(route.GetCautions())
	return nil
}

func (s *story) tellVisit(visit *vernationv1.Visit) {
	s.say("%s-%s %s", s.hour(visit.GetArrives()), s.hour(visit.GetLeaves()), s.places.sites[visit.GetSite()])
	if notes := visit.GetBrief().GetAccessNotes(); notes != "" {
		s.item("Access: %s", notes)
	}
	if len(visit.GetBrief().GetKeyIds()) > 0 {
		s.item("Take along: %s", strings.Join(visit.GetBrief().GetKeyIds(), ", "))
	}
	if water := visit.GetBrief().GetWaterText(); water != "" {
		s.item("%s.", strings.ToUpper(water[:1])+water[1:])
	}
	for _, open := range visit.GetBrief().GetOpenConfirmations() {
		s.item("First: is %s dry? Confirm before anybody is let in.", last(open.GetArea()))
	}
	for _, work := range visit.GetWorkItems() {
		s.item("%s-%s %s", s.hour(work.GetBegins()), s.hour(work.GetEnds()), work.GetText())
		for _, condition := range work.GetConditions() {
			s.note("Before it: %s", condition)
		}
		if len(work.GetEquipment()) > 0 {
			s.note("Wear: %s", strings.Join(work.GetEquipment(), ", "))
		}
	}
}

func (s *story) tellMix(i int, mix *vernationv1.Mix) {
	sheet := mix.GetSheet()
	s.say("Mix sheet %d: %s of %s in %s of finished mix, %s", i+1, mix.GetConcentrate(), s.places.products[mix.GetProduct()], mix.GetVolume(), sheet.GetRateText())
	for _, text := range append([]string{sheet.GetWhere(), sheet.GetWaterNote()}, sheet.GetSteps()...) {
		if text != "" {
			s.item("%s", text)
		}
	}
	s.item("Wear: %s", strings.Join(sheet.GetEquipment(), ", "))
	s.item("Write on the vessel: %s", sheet.GetContainerText())
	s.item("What is left: %s", sheet.GetLeftoverText())
	s.cautions(sheet.GetCautions())
}
