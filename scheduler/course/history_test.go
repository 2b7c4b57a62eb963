package course_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

func TestCourse_LateReportGivesSameCourse(t *testing.T) {
	t.Parallel()
	in := on(with(week(officeCase),
		approved("m-2", date("2026-03-02"), "soap-s", course.InPlace),
		looked("m-3", date("2026-03-03"), "M/inspect-infested/1/1", []site.PlantID{"O-a"}, "O-a"),
		sprayed("m-4", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a"),
		course.Event{ID: "m-5", At: instant("2026-03-10T23:10:00Z"), NotDone: &course.NotDone{FollowUp: "M/application/1/2", Outcome: course.PeoplePresent}},
		sprayed("m-6", "soap-s", date("2026-03-12"), "M/application/1/2", "O-a"),
		looked("m-7", date("2026-03-13"), "", []site.PlantID{"O-b"}),
	), date("2026-03-14"))
	want := compute(t, in)
	events := in.Histories[0].Events
	rapid.Check(t, func(rt *rapid.T) {
		other := in
		other.Histories = rapid.Permutation(in.Histories).Draw(rt, "histories")
		other.Histories = slices.Clone(other.Histories)
		told := append(slices.Clone(events), rapid.SliceOfN(rapid.SampledFrom(events), 0, 5).Draw(rt, "told twice")...)
		at := slices.IndexFunc(other.Histories, func(h course.History) bool { return h.Case == officeCase })
		other.Histories[at].Events = rapid.Permutation(told).Draw(rt, "order")
		other.Plants = rapid.Permutation(in.Plants).Draw(rt, "plants")
		other.Products = rapid.Permutation(in.Products).Draw(rt, "products")
		got, err := course.Compute(other)
		if err != nil {
			rt.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			rt.Fatalf("another course (-want +got):\n%s", diff)
		}
		if other.Key() != in.Key() {
			rt.Fatal("another key")
		}
	})
}

func TestCourse_KeyChangesWithEveryValueOfTheInput(t *testing.T) {
	t.Parallel()
	base := week(officeCase).Key()
	for name, change := range map[string]func(*course.Input){
		"today":   func(in *course.Input) { in.Today++ },
		"now":     func(in *course.Input) { in.Now++ },
		"case":    func(in *course.Input) { in.Case = lobbyCase },
		"event":   func(in *course.Input) { *in = with(*in, looked("m-9", in.Today, "", []site.PlantID{"O-a"})) },
		"plant":   func(in *course.Input) { in.Plants[0].HeightCM++ },
		"climate": func(in *course.Input) { in.Sites[0].Areas[0].Climate = climate(17, 21, 24) },
		"label":   func(in *course.Input) { in.Products[0].Label.LeastDays++ },
		"policy":  func(in *course.Input) { in.Policy.MostLooks++ },
		"held":    func(in *course.Input) { in.Held = nil },
		"service": func(in *course.Input) { in.Services = nil },
	} {
		in := week(officeCase)
		change(&in)
		if in.Key() == base {
			t.Errorf("%s: same key", name)
		}
	}
}

func TestCourse_ApplicationReallyMadeMovesTheRestAndKeepsTheirIDs(t *testing.T) {
	t.Parallel()
	in := with(week(officeCase), sprayed("m-2", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a"))
	locked := course.Event{ID: "m-3", At: instant("2026-03-10T23:10:00Z"), NotDone: &course.NotDone{FollowUp: "M/application/1/2", Outcome: course.LockedOut}}
	in = with(in, locked)
	in.Today, in.Now = date("2026-03-10"), instant("2026-03-10T23:10:00Z")
	c := compute(t, in)
	next := kind(c, course.KindApplication)[0]
	// Due again from the next day; the run stands to day 10 after 3 March.
	if next.ID != "M/application/1/2" || next.Due.EarliestOn != date("2026-03-11") || next.Due.StandsUntilOn != date("2026-03-13") {
		t.Errorf("next %s %+v, want M/application/1/2 from 11 to 13 March", next.ID, next.Due)
	}
	// Second really on day 9, then weekly: 7 applications to day 44.
	c = compute(t, on(with(in, sprayed("m-4", "soap-s", date("2026-03-12"), "M/application/1/2", "O-a")), date("2026-03-13")))
	if c.Run != 1 || c.Proof.Applications != 7 || c.Proof.LastDay != 44 {
		t.Errorf("run %d, %d applications to day %d: want run 1, 7 to day 44", c.Run, c.Proof.Applications, c.Proof.LastDay)
	}
	rest := kind(c, course.KindApplication)
	if rest[0].ID != "M/application/1/3" || rest[0].Due.IdealOn != date("2026-03-19") || rest[4].Expected != date("2026-04-16") {
		t.Errorf("third %s %+v, last on %v: want 19 March, 16 April", rest[0].ID, rest[0].Due, rest[4].Expected)
	}
}

func TestCourse_RunRisesOnlyWhenTheItemStoodNoLonger(t *testing.T) {
	t.Parallel()
	in := with(week(officeCase), sprayed("m-2", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a"))
	for _, test := range []struct {
		day   string
		run   int
		first course.ItemID
	}{
		{"2026-03-13", 1, "M/application/1/2"}, // day 10, the far end of practice
		{"2026-03-14", 2, "M/application/2/1"},
	} {
		c := compute(t, on(in, date(test.day)))
		first := kind(c, course.KindApplication)[0]
		if c.Run != test.run || first.ID != test.first {
			t.Errorf("%s: run %d, %s; want run %d, %s", test.day, c.Run, first.ID, test.run, test.first)
		}
		if first.Due.EarliestOn != date(test.day) {
			t.Errorf("%s: earliest %v, want that day", test.day, first.Due.EarliestOn)
		}
	}
	// A late report shows that the second was made in time: the run goes on.
	late := on(with(in, sprayed("m-3", "soap-s", date("2026-03-11"), "M/application/1/2", "O-a")), date("2026-03-14"))
	if c := compute(t, late); c.Run != 1 || kind(c, course.KindApplication)[0].ID != "M/application/1/3" {
		t.Errorf("after the late report: run %d", c.Run)
	}
}

func TestCourse_OtherPestFoundOutRaisesTheRun(t *testing.T) {
	t.Parallel()
	in := with(week(lobbyCase), sprayed("g-2", "bti-b", date("2026-03-03"), "G/application/1/1", "L-a"),
		finding("g-3", "2026-03-06T15:00:00Z", course.Finding{Pest: "citrus-mealybug", Certainty: course.Confirmed, Life: course.Living, Severity: 1, Plants: []site.PlantID{"L-a"}}))
	c := compute(t, on(in, date("2026-03-07")))
	if c.Run != 2 || c.FollowUps[0].Pest != "citrus-mealybug" || c.Material != "removal-by-hand" {
		t.Errorf("run %d, material %s: want run 2 against the mealybug, by hand at severity 1", c.Run, c.Material)
	}
}

func TestCourse_ApprovalCoversProductRateAndWay(t *testing.T) {
	t.Parallel()
	withdrawn := approved("a-2", date("2026-03-02"), "soap-s", course.InPlace)
	withdrawn.Approval.Withdrawn = true
	weaker := approved("a-1", date("2026-03-01"), "soap-s", course.InPlace)
	weaker.Approval.MaxRate = rate("2 US fl oz", "1 US gal")
	above := sprayed("s-1", "soap-s", date("2026-03-02"), "M/application/1/1", "O-a")
	above.Application.AboveLabel = true
	for _, test := range []struct {
		name   string
		events []course.Event
		want   bool
	}{
		{"none", nil, false},
		{"covers", []course.Event{approved("a-1", date("2026-03-01"), "soap-s", course.InPlace)}, true},
		{"another product", []course.Event{approved("a-1", date("2026-03-01"), "bti-b", course.InPlace)}, false},
		{"another way", []course.Event{approved("a-1", date("2026-03-01"), "soap-s", course.AtTreatmentPlace)}, false},
		{"a weaker rate", []course.Event{weaker}, false},
		{"withdrawn", []course.Event{approved("a-1", date("2026-03-01"), "soap-s", course.InPlace), withdrawn}, false},
		{"above the label since", []course.Event{approved("a-1", date("2026-03-01"), "soap-s", course.InPlace), above}, false},
		{"given again after above the label", []course.Event{above, approved("a-1", date("2026-03-03"), "soap-s", course.InPlace)}, true},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			f := kind(compute(t, on(with(week(officeCase), test.events...), date("2026-03-03"))), course.KindApplication)[0]
			if f.Approved != test.want {
				t.Errorf("approved %v, want %v: %s", f.Approved, test.want, f.Reason)
			}
			if !f.Approved && !strings.Contains(f.Reason, "approv") {
				t.Errorf("the reason does not say what is missing: %s", f.Reason)
			}
		})
	}
}

func TestCourse_AboveTheLabelCountsOnceAndAsksForALook(t *testing.T) {
	t.Parallel()
	event := sprayed("m-2", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a")
	plain := compute(t, on(with(week(officeCase), event), date("2026-03-04")))
	above := *event.Application
	above.AboveLabel = true
	event.Application = &above
	c := compute(t, on(with(week(officeCase), event), date("2026-03-04")))
	if c.Proof.LastDay != plain.Proof.LastDay || c.Proof.Applications != plain.Proof.Applications {
		t.Errorf("%d applications to day %d, want those of the label's rate: %d to %d", c.Proof.Applications, c.Proof.LastDay, plain.Proof.Applications, plain.Proof.LastDay)
	}
	look := kind(c, course.KindInspectInfested)[0]
	if look.Due.EarliestOn != date("2026-03-04") || !strings.Contains(look.Reason, "burnt") {
		t.Errorf("look %+v %q, want one from the next day", look.Due, look.Reason)
	}
	if a, b := kind(c, course.KindApplication)[0], kind(plain, course.KindApplication)[0]; a.ID != b.ID || a.Due != b.Due {
		t.Errorf("%s %+v, want %s %+v", a.ID, a.Due, b.ID, b.Due)
	}
}

func TestCourse_DoneInPartIsCaughtUp(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	more := in.Plants[0]
	more.ID, more.Name, more.Count = "O-c", "pothos by the window", 3
	in.Plants = append(in.Plants, more)
	in.Histories[0].Plants = []site.PlantID{"O-a", "O-c"}
	in = on(with(in, sprayed("m-2", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a"),
		course.Event{ID: "m-3", At: instant("2026-03-04T01:10:00Z"), NotDone: &course.NotDone{FollowUp: "M/application/1/1", Outcome: course.OutcomeInPart, Plants: []site.PlantID{"O-c"}}}), date("2026-03-04"))
	applications := kind(compute(t, in), course.KindApplication)
	if first := applications[0]; !slices.Equal(first.Plants, []site.PlantID{"O-c"}) || first.ID != "M/application/1/2" || first.Due.EarliestOn != date("2026-03-04") {
		t.Errorf("first %s on %v %+v, want O-c alone from 4 March", first.ID, first.Plants, first.Due)
	}
	// The others go on from their own day; each plant's ages are proved from the days on which it was really treated.
	if second := applications[1]; !slices.Equal(second.Plants, []site.PlantID{"O-a"}) || second.ID != "M/application/1/3" || second.Due.IdealOn != date("2026-03-10") {
		t.Errorf("second %s on %v %+v, want O-a on 10 March", second.ID, second.Plants, second.Due)
	}
	// Treated together once more, they are due together.
	in = on(with(in, sprayed("m-4", "soap-s", date("2026-03-11"), "", "O-a", "O-c")), date("2026-03-12"))
	if next := kind(compute(t, in), course.KindApplication)[0]; len(next.Plants) != 2 || next.Due.IdealOn != date("2026-03-18") {
		t.Errorf("next on %v %+v, want both on 18 March", next.Plants, next.Due)
	}
}

func TestCourse_EndsClearAfterTwoInspectionsWithoutAFind(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	for i := range 7 {
		day := date("2026-03-03").AddDays(7 * i)
		in = with(in, sprayed(fmt.Sprintf("s-%d", i), "soap-s", day, course.NewItemID(officeCase, course.KindApplication, 1, i+1), "O-a"))
	}
	last := date("2026-04-14")
	c := compute(t, on(in, last.AddDays(1)))
	if len(kind(c, course.KindApplication)) > 0 || c.Looks.FirstOn != last.AddDays(21) || c.Looks.Needed != 2 || !c.Looks.Reachable {
		t.Fatalf("applications %v, looks %+v: want none, and two looks from 5 May", kind(c, course.KindApplication), c.Looks)
	}
	early := on(with(in, looked("l-0", last.AddDays(14), "", []site.PlantID{"O-a"})), last.AddDays(15))
	if c := compute(t, early); c.Looks.Made != 0 {
		t.Errorf("a look before the eggs have hatched counts: %+v", c.Looks)
	}
	in = with(in, looked("l-1", last.AddDays(21), "", []site.PlantID{"O-a"}))
	if c := compute(t, on(in, last.AddDays(21))); c.Ended != nil || c.Looks.Made != 1 || len(kind(c, course.KindInspectInfested)) != 1 {
		t.Errorf("after one look: ended %+v, looks %+v", c.Ended, c.Looks)
	}
	next := with(in, looked("l-1b", last.AddDays(22), "", []site.PlantID{"O-a"}))
	if c := compute(t, on(next, last.AddDays(22))); c.Ended != nil || c.Looks.Made != 1 {
		t.Errorf("a look on the next day counts as one of its own: ended %+v, looks %+v", c.Ended, c.Looks)
	}
	clear := compute(t, on(with(in, looked("l-2", last.AddDays(28), "", []site.PlantID{"O-a"})), last.AddDays(28)))
	if clear.Ended == nil || clear.Ended.Kind != course.Clear || clear.Ended.Chance < 0.95 || len(clear.FollowUps) != 0 {
		t.Errorf("ended %+v with %d follow-ups, want clear at 0.95 or more", clear.Ended, len(clear.FollowUps))
	}
	found := compute(t, on(with(in, looked("l-2", last.AddDays(28), "", []site.PlantID{"O-a"}, "O-a")), last.AddDays(28)))
	if found.Ended != nil || len(kind(found, course.KindApplication)) == 0 || found.Run != 2 {
		t.Errorf("after a find: ended %+v, run %d, want a new run of applications", found.Ended, found.Run)
	}
}

func TestCourse_LivingFindLengthensTheSequence(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	for i := range 5 {
		in = with(in, sprayed(fmt.Sprintf("s-%d", i), "soap-s", date("2026-03-03").AddDays(7*i), "", "O-a"))
	}
	in = with(in, looked("l-1", date("2026-04-02"), "", []site.PlantID{"O-a"}, "O-a"))
	// Found on day 30, hatching until 30 + 21 = 51: the next weekly day is 56.
	if c := compute(t, on(in, date("2026-04-03"))); c.Proof.LastDay != 56 || c.Proof.Applications != 9 {
		t.Errorf("%d applications to day %d, want 9 to day 56", c.Proof.Applications, c.Proof.LastDay)
	}
}

func TestCourse_CardsWithoutAFlyShortenTheHoldingDown(t *testing.T) {
	t.Parallel()
	in := week(lobbyCase)
	for i := range 3 {
		in = with(in, sprayed(fmt.Sprintf("s-%d", i), "bti-b", date("2026-03-04").AddDays(5*i), "", "L-a"))
	}
	cards := func(id, day string, caught int) course.Event {
		e := looked(id, date(day), "", []site.PlantID{"L-a"})
		e.Inspection.AdultsOnCards = &caught
		return e
	}
	// Last adult on 11 March, egg 6.41 days at 20 °C: until 18 March; drenches on 4, 9, 14 and 19 March.
	in = with(in, cards("c-1", "2026-03-11", 4), cards("c-2", "2026-03-15", 0))
	c := compute(t, on(in, date("2026-03-15")))
	if c.Proof.Applications != 4 || c.Proof.LastDay != 15 {
		t.Errorf("%d drenches to day %d, want 4 to day 15", c.Proof.Applications, c.Proof.LastDay)
	}
}

func TestCourse_AVisitLockedOutMakesAllItsItemsDueTheNextDay(t *testing.T) {
	t.Parallel()
	in := week(lobbyCase)
	kinds := []course.FollowUpKind{course.KindApplication, course.KindInspectInfested, course.KindInspectNeighbours, course.KindTrapChange}
	for i, k := range kinds {
		in = with(in, course.Event{ID: fmt.Sprintf("n-%d", i), At: instant("2026-03-04T15:00:00Z"),
			NotDone: &course.NotDone{FollowUp: course.NewItemID(lobbyCase, k, 1, 1), Outcome: course.LockedOut}})
	}
	c := compute(t, on(in, date("2026-03-04")))
	for _, k := range kinds {
		first := kind(c, k)[0]
		if first.ID != course.NewItemID(lobbyCase, k, 1, 1) || first.Due.EarliestOn != date("2026-03-05") || first.Due.IdealOn < first.Due.EarliestOn {
			t.Errorf("%s %+v, want the same id from 5 March", first.ID, first.Due)
		}
	}
}

func TestCourse_VersionIsOfWhatItSaysAndKeyOfWhatItWasComputedFrom(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	a := compute(t, in)
	in.Now++ // a second later says the same
	if b := compute(t, in); a.Key == b.Key || a.Version() != b.Version() {
		t.Errorf("keys %s and %s, versions %s and %s: want other keys and one version", a.Key, b.Key, a.Version(), b.Version())
	}
	if c := compute(t, on(in, date("2026-03-04"))); c.Version() == a.Version() {
		t.Error("two days later says the same")
	}
}

// An application that was not made, for whatever reason, counts for nothing: the item stays under its id, due again by the
// table of outcomes, and as many are needed as before.
func TestCourse_AnApplicationThatWasNotMadeStaysDueUnderItsID(t *testing.T) {
	t.Parallel()
	planned := compute(t, week(officeCase)).Proof.Applications
	for _, outcome := range course.Outcomes() {
		follows, _ := course.Consequences(outcome, course.KindApplication)
		if follows.CountsAsApplication {
			continue
		}
		in := with(week(officeCase), course.Event{ID: "n-1", At: newYork().At(date("2026-03-03"), civil.NewClock(19, 30)),
			NotDone: &course.NotDone{FollowUp: "M/application/1/1", Outcome: outcome, Plants: []site.PlantID{"O-a"}}})
		c := compute(t, on(in, date("2026-03-03")))
		all := kind(c, course.KindApplication)
		if len(all) != planned || all[0].ID != "M/application/1/1" || c.Run != 1 || all[0].Due.EarliestOn != date("2026-03-03").AddDays(follows.AfterDays) {
			t.Errorf("%s: %d applications, the first %s from %v in run %d; want %d, the same one, %d days later", outcome, len(all), all[0].ID, all[0].Due.EarliestOn, c.Run, planned, follows.AfterDays)
		}
	}
}

// What stood in for the planned product counts by what it reaches itself; what never ends the pest, whatever it reaches on paper,
// does not count for the proof at all.
func TestCourse_AStandInCountsByWhatItReaches(t *testing.T) {
	t.Parallel()
	left := func(first catalogue.MaterialID) int {
		in := week(officeCase)
		// The label of the stand-in does not list the pest: it was wrong to use it, and it was used.
		in.Products = append(in.Products, productOf("stand-in", first, "green-peach-aphid"))
		in = with(in, sprayed("s-1", "stand-in", date("2026-03-03"), "M/application/1/1", "O-a"))
		c := compute(t, on(in, date("2026-03-04")))
		if c.Chosen != "soap-s" || c.Run != 1 {
			t.Fatalf("after %s: chosen %q in run %d", first, c.Chosen, c.Run)
		}
		return len(kind(c, course.KindApplication))
	}
	soap, oil, systemic := left("insecticidal-soap"), left("horticultural-oil"), left("imidacloprid-soil")
	if soap != 6 || oil > soap || systemic != 7 {
		t.Errorf("%d left after soap, %d after oil, %d after a systemic that only holds mealybugs down: want 6, no more, 7", soap, oil, systemic)
	}
}
