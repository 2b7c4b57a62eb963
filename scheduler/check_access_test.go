package scheduler_test

import (
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

func TestCheckAccess_NamesWhatIsNotOpenOrNotAgreed(t *testing.T) {
	t.Parallel()
	tuesday, friday := civil.Weekday(2), civil.Weekday(5)
	expectBreaches(t, scheduler.RuleAccess, []breachCase{
		{name: "closes before the visit ends", change: func(s *story) { s.office().Access.Weekly[0].Closes = civil.NewClock(20, 6) }, want: "it is open Tue 3 Mar 06:00 to Tue 3 Mar 20:06"},
		{name: "closes as the visit ends", change: func(s *story) { s.office().Access.Weekly[0].Closes = civil.NewClock(20, 7) }},
		{name: "two windows that touch are one run", change: func(s *story) {
			s.office().Access.Weekly = []civil.Weekly{weekly(workdays, "06:00", "19:30"), weekly("tue", "19:30", "21:00")}
		}},
		{name: "two windows with a gap", want: "the visit at office", change: func(s *story) {
			s.office().Access.Weekly = []civil.Weekly{weekly(workdays, "06:00", "19:30"), weekly("tue", "19:31", "21:00")}
		}},
		{name: "shut by exception", change: func(s *story) {
			s.office().Access.Exceptions = []civil.Exception{{On: march(3)}}
		}, want: "not open then"},
		{name: "no key", change: func(s *story) { s.crew().Keys = nil }, want: "does not hold key badge"},
		{name: "key given back", change: func(s *story) { s.crew().Keys[0].To = march(2) }, want: "does not hold key badge"},
		{name: "material refused", change: func(s *story) {
			s.office().Agreement.RefusedMaterials = []catalogue.MaterialID{"soap"}
		}, want: "refused soap"},
		{name: "method refused", change: func(s *story) {
			s.office().Agreement.RefusedMethods = []catalogue.Method{catalogue.WholePlantSpray}
		}, want: "refused that method"},
		{name: "consent missing", change: func(s *story) {
			s.office().Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
		}, want: "asks for consent"},
		{name: "consent ran out", want: "asks for consent", change: func(s *story) {
			s.office().Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
			s.office().Agreement.Consents = []site.Consent{{Method: catalogue.WholePlantSpray, From: march(1), To: march(2)}}
		}},
		{name: "consent holds", change: func(s *story) {
			s.office().Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
			s.office().Agreement.Consents = []site.Consent{{Method: catalogue.WholePlantSpray, From: march(1), To: march(3)}}
		}},
		{name: "consent to another material", change: func(s *story) {
			s.office().Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
			s.office().Agreement.Consents = []site.Consent{{Method: catalogue.WholePlantSpray, Material: "oil", From: march(1)}}
		}, want: "and none holds on"},
		{name: "consent to its material", change: func(s *story) {
			s.office().Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
			s.office().Agreement.Consents = []site.Consent{{Method: catalogue.WholePlantSpray, Material: "soap", From: march(1)}}
		}},
		{name: "fixed technician", change: func(s *story) {
			s.office().Agreement.UsualTechnician, s.office().Agreement.TechnicianFixed = "T2", true
		}, want: "by T2 only"},
		{name: "preferred technician", change: func(s *story) { s.office().Agreement.UsualTechnician = "T2" }},
		{name: "fixed day", change: func(s *story) {
			s.office().Agreement.UsualDay, s.office().Agreement.DayFixed = &friday, true
		}, want: "on fri only"},
		{name: "on the fixed day", change: func(s *story) {
			s.office().Agreement.UsualDay, s.office().Agreement.DayFixed = &tuesday, true
		}},
		{name: "plants not in our care", change: func(s *story) { s.pothos().Plant.NotInCare = true }, want: "not in our care"},
		{name: "their owner consents", change: func(s *story) { s.foreign(site.OwnerConsent{By: "its owner", On: march(3)}) }},
		{name: "their owner consents later", change: func(s *story) { s.foreign(site.OwnerConsent{By: "its owner", On: march(4)}) }, want: "not in our care"},
		{name: "their owner withdrew", want: "does not hold on 2026-03-03", change: func(s *story) {
			s.foreign(site.OwnerConsent{By: "its owner", On: march(1), WithdrawnOn: march(3)})
		}},
		{name: "their owner withdraws afterwards", change: func(s *story) {
			s.foreign(site.OwnerConsent{By: "its owner", On: march(1), WithdrawnOn: march(4)})
		}},
	})
}

// Now Mon 12:00 + publishing delay 2 h + lead 24 h = Tue 14:00; the spray begins Tue 19:30, 5 h 30 later.
func TestCheckAccess_CountsTheNoticeFromNow(t *testing.T) {
	t.Parallel()
	lead := func(d time.Duration) func(*story) {
		return func(s *story) { s.Problem.Rules.NoticeLead[0].Lead = d }
	}
	noticed := func(begins civil.Instant, used bool) func(*story) {
		return func(s *story) {
			lead(48 * time.Hour)(s)
			s.Problem.Notices = []scheduler.NoticeSent{{Item: sprayItem, Begins: begins, SentAt: at(1, "12:00"), Used: used}}
		}
	}
	expectBreaches(t, scheduler.RuleAccess, []breachCase{
		{name: "just in time", change: lead(29*time.Hour + minutes(30))},
		{name: "a second late", change: lead(29*time.Hour + minutes(30) + time.Second), want: "asks for 29h30m1s of notice"},
		{name: "a notice sent covers it", change: noticed(at(3, "17:30"), false)},
		{name: "beyond the tolerance of 2 h", change: noticed(at(3, "17:29"), false), want: "no notice sent covers"},
		{name: "at the far end of the tolerance", change: noticed(at(3, "21:30"), false)},
		{name: "beyond its far end", change: noticed(at(3, "21:31"), false), want: "no notice sent covers"},
		{name: "used up", change: noticed(at(3, "19:30"), true), want: "no notice sent covers"},
	})
}

// On Sunday 8 March 2026 clocks go from 02:00 to 03:00: Saturday 20:00 to Sunday 08:00 is one run of 11 hours.
// The change of clocks: United States, second Sunday of March (15 U.S.C. 260a).
func TestCheckAccess_OneRunOverTheChangeOfClocks(t *testing.T) {
	t.Parallel()
	night := func(arrives, leaves civil.Instant) []scheduler.Violation {
		s := newStory()
		s.Problem.FollowUps, s.Problem.Fixed = nil, nil
		s.office().Access.Weekly = []civil.Weekly{weekly("sat", "20:00", "32:00")}
		s.crew().Shifts = []scheduler.Shift{{Day: march(7), During: civil.Interval{From: at(7, "19:00"), To: at(8, "09:00")}}}
		s.Problem.Rules.MostWork = 0
		s.Plan = scheduler.Plan{Routes: []scheduler.DayRoute{{
			Technician: "T1", Day: march(7), Departs: arrives.Add(-minutes(20)), Returns: leaves.Add(minutes(20)),
			Visits: []scheduler.Visit{{State: scheduler.Planned, Technician: "T1", Site: "office", Arrives: arrives, Leaves: leaves, SignIn: minutes(5)}},
		}}}
		return s.check()
	}
	opens, closes := at(7, "20:00"), at(8, "08:00")
	if got := closes.Sub(opens); got != 11*time.Hour {
		t.Errorf("the run lasts %v, want 11h", got)
	}
	if got := night(opens, closes); len(got) != 0 {
		t.Errorf("the whole run is open: %v", got)
	}
	if got := night(opens, closes+1); len(got) != 1 || got[0].Rule != scheduler.RuleAccess {
		t.Errorf("a second past the run: got %v, want one breach of access", got)
	}
}

func TestCheckAccess_TreatmentPlace(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleAccess, []breachCase{
		{name: "room enough", change: carried(4)},
		{name: "too many plants", change: carried(9), want: "9 plants are in plant-room"},
		{name: "not open", want: "not open all that time", change: func(s *story) {
			carried(4)(s)
			s.Problem.Sites[1].Areas[1].Treatment.Hours.Weekly = []civil.Weekly{weekly(everyDay, "12:00", "18:00")}
		}},
	})
}

// foreign makes the pothos a plant that is not in the business's care, with a consent of its owner.
func (s *story) foreign(consent site.OwnerConsent) {
	s.pothos().Plant.NotInCare, s.pothos().Plant.OwnerConsents = true, []site.OwnerConsent{consent}
}
