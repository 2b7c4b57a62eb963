package course_test

import (
	"slices"
	"strings"
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

func decided(id, day string, what course.DecisionKind, plants ...site.PlantID) course.Event {
	return told(id, day, func(e *course.Event) {
		e.Decision = &course.Decision{Kind: what, Plants: plants, By: "client"}
	})
}

func TestCourse_ReplacementIsAFollowUpWhenPeopleDecideForIt(t *testing.T) {
	t.Parallel()
	c := compute(t, week(officeCase))
	proposed := c.Replacement.Proposed
	if proposed == nil || proposed.Kind != course.KindReplacement || len(kind(c, course.KindReplacement)) > 0 {
		t.Fatalf("proposed %+v, want it beside the course and not in it", proposed)
	}
	all := compute(t, on(with(week(officeCase), decided("d-1", "2026-03-03", course.DecideReplace)), date("2026-03-03")))
	if got := kind(all, course.KindReplacement); len(got) != 1 || got[0].ID != proposed.ID || len(kind(all, course.KindApplication)) > 0 || len(kind(all, course.KindInspectNeighbours)) == 0 {
		t.Errorf("replacement %v, applications %v: want it under the id proposed, and the neighbours looked at", got, kind(all, course.KindApplication))
	}
	back := compute(t, on(with(week(officeCase), decided("d-1", "2026-03-03", course.DecideReplace), decided("d-2", "2026-03-04", course.DecideTreat)), date("2026-03-04")))
	if len(kind(back, course.KindReplacement)) > 0 || len(kind(back, course.KindApplication)) == 0 {
		t.Error("a decision taken back still stands")
	}
	done := told("r-1", "2026-03-05", func(e *course.Event) {
		e.Done = &course.OtherDone{FollowUp: proposed.ID, Plants: []site.PlantID{"O-a"}}
	})
	gone := compute(t, on(with(week(officeCase), decided("d-1", "2026-03-03", course.DecideReplace), done), date("2026-03-06")))
	if gone.Ended == nil || gone.Ended.Kind != course.PlantsGone {
		t.Errorf("after the replacement: ended %+v, want plants gone", gone.Ended)
	}
}

func TestCourse_PartOfThePlantsIsReplacedTheRestTreated(t *testing.T) {
	t.Parallel()
	in := withPlants(week(officeCase), "O-c")
	in.Histories[0].Plants = []site.PlantID{"O-a", "O-c"}
	c := compute(t, on(with(in, decided("d-1", "2026-03-03", course.DecideReplace, "O-c")), date("2026-03-03")))
	if got := kind(c, course.KindReplacement); len(got) != 1 || !slices.Equal(got[0].Plants, []site.PlantID{"O-c"}) {
		t.Errorf("replacement %v, want O-c", got)
	}
	for _, f := range kind(c, course.KindApplication) {
		if slices.Contains(f.Plants, "O-c") {
			t.Errorf("%s treats a plant that is to be replaced", f.ID)
		}
	}
}

func TestCourse_KeptLowIsWatchedAndBeginsAgainWhenMoreIsFound(t *testing.T) {
	t.Parallel()
	in := keptLow()
	c := compute(t, in)
	// The last look was on 20 March; four weeks later is 17 April.
	if c.Ended == nil || c.Ended.Kind != course.KeptLow || len(c.FollowUps) != 1 || c.FollowUps[0].Due.IdealOn != date("2026-04-17") {
		t.Fatalf("ended %+v, follow-ups %+v: want a look on 17 April", c.Ended, c.FollowUps)
	}
	found := func(severity int) course.Course {
		look := looked("l-9", date("2026-04-17"), c.FollowUps[0].ID, []site.PlantID{"O-a"}, "O-a")
		look.Inspection.Severity = severity
		return compute(t, on(with(keptLow(), look), date("2026-04-17")))
	}
	if again := found(1); again.Ended == nil || len(again.FollowUps) != 1 || again.FollowUps[0].Due.IdealOn != date("2026-05-15") {
		t.Errorf("a few: ended %+v, %v: want the watch to go on", again.Ended, again.FollowUps)
	}
	if again := found(2); again.Ended != nil || len(kind(again, course.KindApplication)) == 0 || !strings.Contains(strings.Join(again.Advice, "\n"), "a course again") {
		t.Errorf("more: ended %+v, advice %q", again.Ended, again.Advice)
	}
}

func TestCourse_CardsBelowTheThresholdComeBeforeADrench(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		severity, caught int
		drenches         bool
	}{{1, 0, false}, {1, 2, false}, {1, 3, true}, {2, 2, true}} {
		in := week(lobbyCase)
		in.Histories[1].Events[0].Finding.Severity = test.severity
		caught := test.caught
		cards := looked("c-1", date("2026-03-09"), "", []site.PlantID{"L-a"})
		cards.Inspection.AdultsOnCards = &caught
		c := compute(t, on(with(in, cards), date("2026-03-10")))
		if got := len(kind(c, course.KindApplication)) > 0; got != test.drenches || len(kind(c, course.KindTrapChange)) == 0 {
			t.Errorf("severity %d, %d on the cards: drenches %v, want %v, and cards beside", test.severity, test.caught, got, test.drenches)
		}
	}
}

func TestCourse_NewPlantsStayInQuarantine(t *testing.T) {
	t.Parallel()
	// At least three weeks (Colorado State 5.595), looked at weekly: found on 2 March, so until 23 March.
	in := week(homeCase)
	in.Plants[4].New = true
	c := compute(t, in)
	looks := kind(c, course.KindInspectInfested)
	last := looks[len(looks)-1]
	if !strings.Contains(last.Reason, "quarantine") || last.Expected != date("2026-03-23") {
		t.Errorf("last look %+v on %v, want a weekly one until 23 March", last.Reason, last.Expected)
	}
	// A plant that stands where another is gone is new as well: it is kept apart, and the neighbours' looks go on.
	in = week(homeCase)
	in = on(with(in, told("g-1", "2026-03-04", func(e *course.Event) {
		e.Gone = &course.Gone{Plants: []site.PlantID{"H-x"}, Kind: course.Swapped, Successors: []site.PlantID{"H-b"}}
	})), date("2026-03-05"))
	in.Plants[5].HeightCM = 40
	c = compute(t, in)
	if got := kind(c, course.KindIsolation); len(got) != 1 || !slices.Contains(got[0].Plants, "H-b") {
		t.Errorf("isolation %v, want the successor in it", got)
	}
	if first := kind(c, course.KindInspectNeighbours)[0]; !strings.Contains(first.Reason, "quarantine until Wed 25 Mar") {
		t.Errorf("%s", first.Reason)
	}
}

func TestCourse_ARecurrenceSearchesForItsSource(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Histories = append(in.Histories, course.History{Case: "old", Site: "O", Pest: "citrus-mealybug", Plants: []site.PlantID{"O-a"}, Events: []course.Event{
		told("o-1", "2025-12-01", func(e *course.Event) { e.Ending = &course.Ending{Kind: course.Clear, Reason: "two looks"} }),
	}})
	c := compute(t, in)
	if first := kind(c, course.KindInspectNeighbours)[0]; !strings.Contains(first.Reason, "search for the source") {
		t.Errorf("%s", first.Reason)
	}
}

func TestCourse_NothingRunsThroughThePotAfterASystemicAndLeavesAreWashed(t *testing.T) {
	t.Parallel()
	in := figWithScale()
	c := compute(t, in)
	f := kind(c, course.KindApplication)[0]
	// 10 days or 3 waterings, whichever is longer: weekly waterings make 21 (a granule's label, in its words).
	if want := (course.Link{Kind: course.Not, From: f.ID, To: "water-O", Days: 21}); !slices.Contains(c.Links, want) {
		t.Errorf("links %v, want %v", c.Links, want)
	}
	in.Services[len(in.Services)-1].Ideal = 3
	if want := (course.Link{Kind: course.Not, From: f.ID, To: "water-O", Days: 10}); !slices.Contains(compute(t, in).Links, want) {
		t.Errorf("with a watering every 3 days: want %v", want)
	}
	// It takes effect after 2 to 3 weeks: three weekly washings until then.
	washing := kind(c, course.KindLeafWashing)
	if len(washing) != 3 || washing[0].Due.After != f.ID || washing[0].Due.IdealLag != 7 || washing[0].Ways[0].Kind != course.ShutsNothing {
		t.Errorf("contact cover %+v, want three weekly washings", washing)
	}
	// After the application and one washing two are left, a week apart; three weeks after it none.
	washed := func(day string) []course.FollowUp {
		in := with(figWithScale(), sprayed("s-1", "systemic-y", date("2026-03-03"), f.ID, "O-b"), told("w-1", "2026-03-10", func(e *course.Event) {
			e.Done = &course.OtherDone{FollowUp: washing[0].ID, Plants: []site.PlantID{"O-b"}}
		}))
		return kind(compute(t, on(in, date(day))), course.KindLeafWashing)
	}
	if left := washed("2026-03-11"); len(left) != 2 || left[0].ID != washing[1].ID || left[0].Due.IdealOn != date("2026-03-17") {
		t.Errorf("after one washing %+v, want two from 17 March", left)
	}
	if left := washed("2026-03-25"); len(left) != 0 {
		t.Errorf("after three weeks %+v", left)
	}
	// Once it was done, the rule holds on until 21 days after it.
	made := on(with(figWithScale(), sprayed("s-1", "systemic-y", date("2026-03-03"), f.ID, "O-b")), date("2026-03-20"))
	still := course.Link{Kind: course.Not, From: f.ID, To: "water-O", Days: 21}
	if c := compute(t, made); !slices.Contains(c.Links, still) || !strings.Contains(strings.Join(c.Advice, "\n"), "no water may run through the pots before Tue 24 Mar") {
		t.Errorf("links %v, advice %q", c.Links, c.Advice)
	}
	if c := compute(t, on(made, date("2026-03-24"))); slices.Contains(c.Links, still) {
		t.Error("it holds for ever")
	}
}

func TestCourse_LivingGoodsComeAfterTheirDeliveryAndBeforeTheyAreSpent(t *testing.T) {
	t.Parallel()
	in := gnatsWithNematodes()
	first := kind(compute(t, in), course.KindApplication)[0]
	if want := date("2026-03-02").AddDays(in.Policy.OrderDays); first.Due.EarliestOn != want {
		t.Errorf("from %v, want the delivery on %v", first.Due.EarliestOn, want)
	}
	mondays := gnatsWithNematodes()
	mondays.Products[0].DeliveryDays = []civil.Weekday{1}
	if first := kind(compute(t, mondays), course.KindApplication)[0]; first.Due.EarliestOn != date("2026-03-09") {
		t.Errorf("delivered on Mondays alone: from %v, want 9 March", first.Due.EarliestOn)
	}
	// 10,000 a litre of medium (trade leaflets), so 100,000 for a pot of 10 litres; here 6 pots of 4: 240,000.
	if advice := strings.Join(compute(t, gnatsWithNematodes()).Advice, "\n"); !strings.Contains(advice, "about 240,000 of them") {
		t.Errorf("the number is not told: %s", advice)
	}
	// Approved later, they are ordered later; days later they are at hand and wait for nothing.
	later := on(with(gnatsWithNematodes(), approved("a-1", date("2026-03-04"), "nematodes-n", course.ShutsNothing)), date("2026-03-05"))
	if first := kind(compute(t, later), course.KindApplication)[0]; first.Due.EarliestOn != date("2026-03-08") {
		t.Errorf("approved on the 4th: from %v, want 8 March", first.Due.EarliestOn)
	}
	at := kind(compute(t, on(gnatsWithNematodes(), date("2026-03-10"))), course.KindApplication)[0]
	if at.Due.EarliestOn != date("2026-03-10") || at.Due.LatestOn > date("2026-03-20") {
		t.Errorf("delivered on the 6th, kept 14 days: %+v, want from today to no later than 20 March", at.Due)
	}
}

func TestCourse_WhatLeavesAFilmIsAlignedWithTheWateringAndRinsed(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	film := against(in, "film", "citrus-mealybug")
	film.LeavesFilm = true
	in = invented(in, film)
	in.Products = []catalogue.Product{productOf("p-film", "film", "citrus-mealybug")}
	in.Services = append(in.Services, site.Service{ID: "water-O", Site: "O", Kind: site.WateringService, Groups: []site.Group{{Plant: "O-a", Minutes: 4}},
		Earliest: 5, Ideal: 7, Latest: 9, Last: date("2026-02-26")})
	c := compute(t, in)
	f := kind(c, course.KindApplication)[0]
	// Ideal by its notice on 3 March, on time until the 5th; the plants are due for water on the 5th.
	if f.Due.IdealOn != date("2026-03-05") {
		t.Errorf("ideal %v, want the day of watering", f.Due.IdealOn)
	}
	rinse := kind(c, course.KindLeafWashing)
	if len(rinse) == 0 || rinse[0].Due.After != f.ID || rinse[0].Due.EarliestLag != 1 {
		t.Errorf("rinse %+v, want one the day after", rinse)
	}
}

func TestCourse_MoveToAnUnknownAreaIsAnError(t *testing.T) {
	t.Parallel()
	in := with(week(officeCase), told("t-1", "2026-03-03", func(e *course.Event) {
		e.Moved = &course.Moved{Plants: []site.PlantID{"O-a"}, From: "O3", To: "nowhere", NotBefore: date("2026-03-02"), NotAfter: civil.Date(0)}
	}))
	if _, err := course.Compute(in); err == nil || !strings.Contains(err.Error(), `has no area "nowhere"`) {
		t.Errorf("error %v", err)
	}
}

func TestCourse_CardsComeDownBesideWhatTheyWouldCatch(t *testing.T) {
	t.Parallel()
	in := week(lobbyCase)
	m := against(in, "let-loose", "fungus-gnat")
	m.Method = catalogue.Drench
	m.DrenchShare = &catalogue.Figure{Value: 0.1, Unit: catalogue.UnitShare}
	cards := in.Catalogue.Materials["sticky-cards"]
	cards.Incompatible = []catalogue.Conflict{{Material: "let-loose", Order: catalogue.Either, Why: "cards catch what is released"}}
	in = invented(in, m, cards)
	product := productOf("p-loose", "let-loose", "fungus-gnat")
	product.Label.EdiblePlants, product.Label.Places = true, []catalogue.PlaceKind{catalogue.Lodging, catalogue.PlantRoom}
	in.Products = []catalogue.Product{product}
	c := compute(t, in)
	if len(kind(c, course.KindTrapChange)) > 0 || !strings.Contains(strings.Join(c.Advice, "\n"), "cards catch what is released") {
		t.Errorf("cards %v, advice %q", kind(c, course.KindTrapChange), c.Advice)
	}
}

func TestCourse_OfEqualProductsTheOneThatReachesTheOtherPestTooIsChosen(t *testing.T) {
	t.Parallel()
	in := gnatsInTheOffice(week(officeCase))
	one, both := against(in, "a-one", "citrus-mealybug"), against(in, "b-both", "citrus-mealybug")
	both.Effects = append(both.Effects, against(in, "b-both", "fungus-gnat").Effects...)
	in = invented(in, one, both)
	in.Products = []catalogue.Product{productOf("p-1", one.ID, "citrus-mealybug"), productOf("p-2", both.ID, "citrus-mealybug")}
	c := compute(t, in)
	if c.Chosen != "p-2" || !strings.Contains(strings.Join(c.Advice, "\n"), "case N (fungus gnat) is on pothos on the floor too") {
		t.Errorf("chosen %q, advice %q", c.Chosen, c.Advice)
	}
	in.Histories = in.Histories[:3]
	if alone := compute(t, in); alone.Chosen != "p-1" {
		t.Errorf("without the other case: chosen %q, want the first by id", alone.Chosen)
	}
}

func TestCourse_EndingsThatPeopleTellStandUntilTheNextFind(t *testing.T) {
	t.Parallel()
	for _, ending := range []course.EndingKind{course.Clear, course.PlantsGone, course.Declined, course.WrongPest, course.NotFoundPest} {
		in := with(week(officeCase), told("e-1", "2026-03-05", func(e *course.Event) { e.Ending = &course.Ending{Kind: ending, Reason: "told"} }))
		c := compute(t, on(in, date("2026-03-06")))
		if c.Ended == nil || c.Ended.Kind != ending || len(c.FollowUps) > 0 {
			t.Errorf("%s: ended %+v with %d follow-ups", ending, c.Ended, len(c.FollowUps))
		}
		again := with(in, finding("f-2", "2026-03-20T15:00:00Z", course.Finding{Pest: "citrus-mealybug", Certainty: course.Confirmed, Life: course.Living, Severity: 2, Plants: []site.PlantID{"O-a"}}))
		if c := compute(t, on(again, date("2026-03-21"))); c.Ended != nil || len(kind(c, course.KindApplication)) == 0 {
			t.Errorf("%s: after a find: ended %+v, want a course", ending, c.Ended)
		}
	}
}
