package reentry_test

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// TestBeginnings_AgreesWithTheChecker: the independent checker shares no arithmetic with this package. An application at an
// instant that Beginnings allows, with the keep-outs that KeepOuts says, breaks no rule of re-entry; at any other
// instant it does.
func TestBeginnings_AgreesWithTheChecker(t *testing.T) {
	t.Parallel()
	zone := newYork(t)
	nights := []civil.Instant{at(t, "2026-03-08T07:00:00Z"), at(t, "2026-11-01T06:00:00Z"), at(t, "2026-06-03T04:00:00Z")}
	rapid.Check(t, func(t *rapid.T) {
		change := rapid.SampledFrom(nights).Draw(t, "night")
		s := smallSite(t, zone, change)
		takes, keepOut := seconds(t, "takes", 1, 1800), seconds(t, "keepOut", 1, 5400)
		treatment := reentry.Treatment{
			Area: "treated", Begins: change.Add(seconds(t, "begins", 0, 14400) - 2*time.Hour),
			KeepOut: keepOut, Unventilated: keepOut + seconds(t, "longer", 0, 3600),
		}
		treatment.Ends = treatment.Begins.Add(takes)
		span := civil.Interval{From: treatment.Begins, To: treatment.Begins + 1}
		allowed := len(reentry.Beginnings(s, "treated", takes, keepOut, treatment.Unventilated, span)) == 1
		found := slices.DeleteFunc(scheduler.Check(oneSpray(s, treatment)), func(v scheduler.Violation) bool { return v.Rule != scheduler.RuleReentry })
		if allowed != (len(found) == 0) {
			t.Fatalf("Beginnings allows it: %v; the checker says %v", allowed, found)
		}
	})
}

// oneSpray is a plan with one application and nothing else that the rule of re-entry reads.
func oneSpray(s site.Site, t reentry.Treatment) (scheduler.Problem, scheduler.Plan) {
	const item, product = "case/application/1/1", "spray"
	use := &scheduler.Use{Product: product, Method: catalogue.WholePlantSpray, Entry: catalogue.EntryHours, KeepOut: t.KeepOut, KeepOutUnventilated: t.Unventilated}
	problem := scheduler.Problem{
		Now: t.Begins - 1, Zone: s.Zone, FirstDay: s.Zone.DateOf(t.Begins), Days: 2, Sites: []site.Site{s},
		Products: []catalogue.Product{{ID: product, Form: catalogue.ReadyToUse, Label: catalogue.Label{Entry: catalogue.Entry{Kind: catalogue.EntryHours, Hours: t.KeepOut}}}},
		FollowUps: []scheduler.FollowUp{{ID: item, Kind: scheduler.KindApplication, Site: s.ID, Ways: []scheduler.Way{{ID: "in-place", Kind: scheduler.InPlace, Parts: []scheduler.Part{
			{Kind: scheduler.ApplicationPart, Area: t.Area, Takes: t.Ends.Sub(t.Begins), Persons: 1, Use: use},
		}}}}},
	}
	plan := scheduler.Plan{Routes: []scheduler.DayRoute{{Technician: "T1", Day: problem.FirstDay, Departs: t.Begins, Returns: t.Ends, Visits: []scheduler.Visit{{
		State: scheduler.Planned, Technician: "T1", Site: s.ID, Arrives: t.Begins, Leaves: t.Ends,
		Work: []scheduler.WorkItem{{Item: item, Kind: scheduler.KindApplication, Way: "in-place", Area: t.Area, Begins: t.Begins, Ends: t.Ends, Use: use, MixIndex: -1}},
	}}}}}
	for _, k := range reentry.KeepOuts(s, t) {
		plan.KeepOuts = append(plan.KeepOuts, scheduler.KeepOut{Area: k.Area, During: k.During, Product: product, By: "T1", Item: item})
	}
	return problem, plan
}
