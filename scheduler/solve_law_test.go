package scheduler_test

import (
	"slices"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// oneSpray is the round with its first spray alone, to be made from Tuesday 3 to Thursday 5 March.
func oneSpray() scheduler.Problem {
	p := roundWeek()
	p.FollowUps, p.Services, p.Rules.NoticeLead = p.FollowUps[:1], nil, nil
	p.FollowUps[0].Due = scheduler.Due{EarliestOn: march(3), StandsUntilOn: march(5)}
	return p
}

// The label says 4 h, the law 7 h at this school, as in Pennsylvania (Act 36 of 2002). The technician is there on Tuesday
// and Thursday until 22:30, cleaners leave at 19:30: 19:30 + 32 min + 4 h = 00:02, + 7 h = 03:02.
func TestSolve_TheLongerOfLabelAndLawShutsASchool(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name   string
		guard  string // when somebody comes at night
		least  time.Duration
		keeps  time.Duration
		reason string
	}{
		{"the label alone", "00:30", 0, 4 * time.Hour, ""},
		{"the law, and the guard comes before it is over", "03:00", 7 * time.Hour, 0, "not open at the times at which open floor may be shut"},
		{"the law, and the guard comes as it is over", "03:02", 7 * time.Hour, 7 * time.Hour, ""},
		{"the law is shorter", "00:30", 2 * time.Hour, 4 * time.Hour, ""},
	} {
		p := oneSpray()
		p.Sites[0].Kind = catalogue.School
		p.Products[0].Label.Places = append(p.Products[0].Label.Places, catalogue.School)
		p.Rules.Categories[0].Covers = append(p.Rules.Categories[0].Covers, catalogue.School)
		p.Products[0].Label.Entry = catalogue.Entry{Kind: catalogue.EntryHours, Hours: 4 * time.Hour}
		use := p.FollowUps[0].Ways[0].Parts[0].Use
		use.Entry, use.KeepOut, use.KeepOutUnventilated = catalogue.EntryHours, 4*time.Hour, 0
		people := &p.Sites[0].Areas[0].People
		people.Weekly = append(slices.Clone(people.Weekly), weekly(everyDay, tc.guard, "05:00"))
		if tc.least > 0 {
			p.Rules.LeastEntry = []scheduler.SiteEntry{{Site: "office", Least: tc.least}}
		}
		plan := solved(t, p, 5)
		work, _ := workOf(plan, sprayID(1))
		if tc.reason != "" {
			if len(work) > 0 || !hasReason(unplannedOf(t, plan, sprayID(1)), scheduler.RuleAccess, tc.reason) {
				t.Errorf("%s: want it unplanned for %q:\n%s", tc.name, tc.reason, planText(plan))
			}
			continue
		}
		if len(work) != 1 || len(plan.KeepOuts) != 1 || plan.KeepOuts[0].During.To != work[0].Ends.Add(tc.keeps) {
			t.Errorf("%s: want the floor shut until %v after the end:\n%s", tc.name, tc.keeps, planText(plan))
		}
	}
}

// The air is changed from 06:30 on and people come at 10:00. 32 min of work that end at 06:30 or later leave 3 h in the
// air: it may begin from 05:58 to 06:28. Ended before it needs 4 h 30 and begun at 06:30 it ends too late.
func TestSolve_TheAirCountsFromTheEndOfAnApplication(t *testing.T) {
	t.Parallel()
	p := oneSpray()
	p.Sites[0].Access = civil.Calendar{Always: true}
	p.Sites[0].Areas[0].Ventilation = civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, "06:30", "20:00")}}
	p.Sites[0].Areas[0].People = civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, "10:00", "29:00")}}
	p.Technicians = p.Technicians[:1]
	p.Technicians[0].Shifts = []scheduler.Shift{{Day: march(4), During: during(4, "05:00", "09:00")}}
	plan := solved(t, p, 5)
	work, _ := workOf(plan, sprayID(1))
	if len(work) != 1 || work[0].Begins < at(4, "05:58") || work[0].Begins > at(4, "06:28") {
		t.Fatalf("want it to begin from 05:58 to 06:28:\n%s", planText(plan))
	}
	if until := plan.KeepOuts[0].During.To; until != work[0].Ends.Add(3*time.Hour) {
		t.Errorf("shut until %s: want 3 h after the end", newYork.Format(until))
	}
}

func TestSolve_LicenceRegistrationAndWaterAreReadAsCheckReadsThem(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name   string
		change func(*scheduler.Problem)
		rule   scheduler.Rule // of the reason; "" where it is planned
		reason string
	}{
		{"a licence until further notice", func(p *scheduler.Problem) { p.Technicians[0].Licences[0].To = 0 }, "", ""},
		{"under a supervisor, both until further notice", func(p *scheduler.Problem) {
			own := p.Technicians[0].Licences[0]
			own.To = 0
			under := own
			under.Under = "T2"
			p.Technicians[0].Licences, p.Technicians[1].Licences = []scheduler.Licence{under}, []scheduler.Licence{own}
			p.Rules.Supervision = []catalogue.JurisdictionCode{"US-PA"}
		}, "", ""},
		{"a category of which nothing is known", func(p *scheduler.Problem) { p.Rules.Categories = nil }, scheduler.RuleLicence, "holds no licence"},
		{"registered in the jurisdiction around it alone", func(p *scheduler.Problem) {
			p.Products[0].Jurisdictions = []catalogue.JurisdictionCode{"US"}
		}, scheduler.RuleLabel, "registered in US-PA only"},
		{"water of unknown hardness", func(p *scheduler.Problem) { p.Products[0].Label.MaxHardness = figure(120) }, scheduler.RuleLabel, "is not known and counts as hard"},
		{"water that is too hard", func(p *scheduler.Problem) {
			p.Products[0].Label.MaxHardness, p.Sites[0].Water.HardnessMgL = figure(120), figure(121)
		}, scheduler.RuleLabel, "that of the office has 121"},
		{"water that is soft enough", func(p *scheduler.Problem) {
			p.Products[0].Label.MaxHardness, p.Sites[0].Water.HardnessMgL = figure(120), figure(120)
		}, "", ""},
		{"carried water", func(p *scheduler.Problem) {
			p.Products[0].Label.MaxHardness, p.Sites[0].Water.Area = figure(120), ""
		}, "", ""},
	} {
		p := oneSpray()
		tc.change(&p)
		plan := solved(t, p, 5)
		work, _ := workOf(plan, sprayID(1))
		if planned := len(work) == 1; planned != (tc.rule == "") {
			t.Errorf("%s: planned %v:\n%s", tc.name, planned, planText(plan))
		} else if !planned && !hasReason(unplannedOf(t, plan, sprayID(1)), tc.rule, tc.reason) {
			t.Errorf("%s: want the reason %s: %s:\n%s", tc.name, tc.rule, tc.reason, planText(plan))
		}
	}
}

func TestSolve_WhereThereIsNoWaterItIsCarriedAndMixedInNoArea(t *testing.T) {
	t.Parallel()
	p := oneSpray()
	p.Sites[0].Water = site.Water{}
	plan := solved(t, p, 5)
	if len(plan.Routes) != 1 || len(plan.Routes[0].Mixes) != 1 {
		t.Fatalf("want one route with one mix:\n%s", planText(plan))
	}
	if mix := plan.Routes[0].Mixes[0]; mix.Area != "" || !mix.RinseAtBase {
		t.Errorf("mixed in %q, rinsed at the base %v: want no area, and the base", mix.Area, mix.RinseAtBase)
	}
}

// A product that an open incident bars from the site is not planned there, whatever else is barred with it.
func TestSolve_LeavesOutWhatAnIncidentBars(t *testing.T) {
	t.Parallel()
	p := oneSpray()
	product := p.FollowUps[0].Ways[0].Parts[0].Use.Product
	p.Sites[0].Barred = []site.BarredProduct{{Product: "another", Incident: "i-1"}}
	if work, _ := workOf(solved(t, p, 5), sprayID(1)); len(work) != 1 {
		t.Fatalf("an incident with another product keeps it away: %d pieces of work", len(work))
	}
	p.Sites[0].Barred = append(p.Sites[0].Barred, site.BarredProduct{Product: product, Incident: "i-2"})
	plan := solved(t, p, 5)
	if work, _ := workOf(plan, sprayID(1)); len(work) > 0 || !hasReason(unplannedOf(t, plan, sprayID(1)), scheduler.RuleLabel, "barred from") {
		t.Errorf("want it unplanned, with the incident as its reason:\n%s", planText(plan))
	}
}

// A plant that is not in the business's care is sprayed on the days on which its owner's consent holds, and on no other.
func TestSolve_TreatsAForeignPlantWhileItsOwnerConsents(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name     string
		consents []site.OwnerConsent
		want     civil.Date // unset: not at all
	}{
		{"no consent", nil, 0},
		{"from the first day", []site.OwnerConsent{{By: "its owner", On: march(1)}}, march(3)},
		{"from Wednesday on", []site.OwnerConsent{{By: "its owner", On: march(4)}}, march(5)},
		{"withdrawn before", []site.OwnerConsent{{By: "its owner", On: march(1) - 30, WithdrawnOn: march(1) - 9}}, 0},
	} {
		p := oneSpray()
		at := slices.IndexFunc(p.Plants, func(s scheduler.PlantState) bool { return s.Plant.ID == p.FollowUps[0].Plants[0] })
		p.Plants[at].Plant.NotInCare, p.Plants[at].Plant.OwnerConsents = true, tc.consents
		plan := solved(t, p, 5)
		work, _ := workOf(plan, sprayID(1))
		if tc.want.IsZero() {
			if len(work) > 0 || !hasReason(unplannedOf(t, plan, sprayID(1)), scheduler.RuleAccess, "owner's consent") {
				t.Errorf("%s: want it unplanned for want of a consent:\n%s", tc.name, planText(plan))
			}
			continue
		}
		if len(work) != 1 || p.Sites[0].Zone.DateOf(work[0].Begins) != tc.want {
			t.Errorf("%s: want it on %v:\n%s", tc.name, tc.want, planText(plan))
		}
	}
}
