package scheduler_test

import (
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
)

func TestCheckLicence_AsksForTheCategoryOnTheDay(t *testing.T) {
	t.Parallel()
	supervised := func(s *story) {
		s.crew().Licences[0].Under = "T2"
		second := storyTechnician()
		second.ID = "T2"
		s.Problem.Technicians = append(s.Problem.Technicians, second)
		s.Problem.Rules.Supervision = []catalogue.JurisdictionCode{"US-PA"}
	}
	expectBreaches(t, scheduler.RuleLicence, []breachCase{
		{name: "none", change: func(s *story) { s.crew().Licences = nil }, want: "without a licence valid on that day: want one of interior in US-PA"},
		{name: "lapsed the day before", change: func(s *story) { s.crew().Licences[0].To = march(2) }, want: "on 2026-03-03 without a licence"},
		{name: "on its last day", change: func(s *story) { s.crew().Licences[0].To = march(3) }},
		{name: "until further notice", change: func(s *story) { s.crew().Licences[0].To = 0 }},
		{name: "until further notice, but not yet", change: func(s *story) {
			s.crew().Licences[0].From, s.crew().Licences[0].To = march(4), 0
		}, want: "without a licence"},
		{name: "not yet", change: func(s *story) { s.crew().Licences[0].From = march(4) }, want: "without a licence"},
		{name: "other jurisdiction", change: func(s *story) { s.crew().Licences[0].Jurisdiction = "US-MD" }, want: "without a licence"},
		{name: "other category", change: func(s *story) { s.crew().Licences[0].Category = "lawns" }, want: "without a licence"},
		{name: "category does not cover the place", change: func(s *story) {
			s.Problem.Rules.Categories[0].Covers = []catalogue.PlaceKind{catalogue.Lodging}
		}, want: "no category that its label asks for (interior) is known to cover places of the kind office"},
		{name: "a category of which nothing is known covers nothing", change: func(s *story) {
			s.Problem.Rules.Categories[0].Category = "another"
		}, want: "no category that its label asks for (interior) is known to cover"},
		{name: "the area's own kind counts", change: func(s *story) {
			s.office().Areas[0].Kind = catalogue.PlantRoom
			s.Problem.Rules.Categories[0].Covers = []catalogue.PlaceKind{catalogue.Office, catalogue.Lodging}
		}, want: "cover places of the kind plant-room"},
		{name: "the label asks for none", change: func(s *story) { s.crew().Licences, s.label().Categories = nil, nil }},
		{name: "under a supervisor", change: supervised},
		{name: "both until further notice", change: func(s *story) {
			supervised(s)
			s.crew().Licences[0].To, s.Problem.Technicians[1].Licences[0].To = 0, 0
		}},
		{name: "under a supervisor without a licence", want: "without a licence", change: func(s *story) {
			supervised(s)
			s.Problem.Technicians[1].Licences = nil
		}},
		{name: "under somebody unknown", want: "without a licence", change: func(s *story) {
			supervised(s)
			s.crew().Licences[0].Under = "T7"
		}},
		{name: "where supervision is not allowed", want: "without a licence", change: func(s *story) {
			supervised(s)
			s.Problem.Rules.Supervision = nil
		}},
		{name: "under somebody who is supervised too", want: "without a licence", change: func(s *story) {
			supervised(s)
			s.Problem.Technicians[1].Licences[0].Under = "T1"
		}},
	})
}

func TestCheckLicence_UnapprovedIsPlannedNotPublished(t *testing.T) {
	t.Parallel()
	state := func(state scheduler.VisitState) func(*story) {
		return func(s *story) {
			s.Problem.FollowUps[0].Approved = false
			s.visit().State = state
		}
	}
	expectBreaches(t, scheduler.RuleLicence, []breachCase{
		{name: "planned", change: state(scheduler.Planned)},
		{name: "published", change: state(scheduler.Published), want: "has not approved it"},
		{name: "announced", change: state(scheduler.Announced), want: "has not approved it"},
		{name: "an inspection needs no approval", change: func(s *story) { s.visit().State = scheduler.Published }},
	})
}

func TestCheckLicence_Skills(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleLicence, []breachCase{
		{name: "missing", change: func(s *story) { s.wayPart().Skills = []string{"ladder"} }, want: `the skill "ladder"`},
		{name: "there", change: func(s *story) {
			s.wayPart().Skills, s.crew().Skills = []string{"ladder"}, []string{"lift", "ladder"}
		}},
	})
}
