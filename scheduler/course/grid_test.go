package course_test

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// pair is a pest and a material that meets it; leastDays is the near end of its practice.
type pair struct {
	pest      catalogue.PestID
	material  catalogue.MaterialID
	leastDays int
}

// pairs are all of the shipped catalogue that come on plants.
func pairs() []pair {
	c := catalogue.Shipped()
	var all []pair
	for _, pest := range slices.Sorted(maps.Keys(c.Pests)) {
		for _, id := range slices.Sorted(maps.Keys(c.Materials)) {
			material := c.Materials[id]
			met := slices.ContainsFunc(material.Effects, func(e catalogue.Effect) bool { return e.Pest == pest && e.Reach != catalogue.Spared })
			if !met || material.Method == catalogue.Trap || material.Beside {
				continue
			}
			least := 7
			if ceiling, ok := material.Ceilings[pest]; ok {
				least = max(1, int(ceiling.Near))
			}
			all = append(all, pair{pest, id, least})
		}
	}
	return all
}

func (p pair) String() string { return fmt.Sprintf("%s with %s", p.pest, p.material) }

// seasons are a grid of temperatures as they are indoors.
func seasons() []site.Season {
	var all []site.Season
	for _, coldest := range []float64{15, 18, 21, 24} {
		for _, warmer := range []float64{0, 3, 6} {
			all = append(all, site.Season{Coldest: coldest, Usual: coldest + warmer/2, Warmest: coldest + warmer})
		}
	}
	return all
}

func (p pair) input(season site.Season) course.Input {
	return treating(catalogue.Shipped(), p.pest, p.material, p.leastDays, season)
}

// applied tells of an application by the course's own product or work.
func applied(id string, f course.FollowUp, product catalogue.ProductID, day civil.Date) course.Event {
	if product != "" {
		return sprayed(id, product, day, f.ID, f.Plants...)
	}
	return course.Event{ID: id, At: newYork().At(day, civil.NewClock(19, 30)), Done: &course.OtherDone{FollowUp: f.ID, Plants: f.Plants}}
}

func TestCourse_WhatItCallsAbleToClearClearsAnywhereInItsWindows(t *testing.T) {
	t.Parallel()
	all, grid := pairs(), seasons()
	followed := map[catalogue.PestID]int{}
	rapid.Check(t, func(rt *rapid.T) {
		p, season := rapid.SampledFrom(all).Draw(rt, "pair"), rapid.SampledFrom(grid).Draw(rt, "season")
		in := p.input(season)
		in.Products[0].Label.LeastDays = max(1, p.leastDays+rapid.IntRange(-2, 2).Draw(rt, "label"))
		c := compute(t, in)
		if !c.Proof.Clears || c.Material != p.material {
			return
		}
		followed[p.pest]++
		models, _, _ := course.LivesOf(in.Catalogue, in.Catalogue.Pests[p.pest], in.Catalogue.Materials[p.material], in.Products[0].Label.LeastDays, in.Today, in.Today, course.Spell{Season: season})
		var days []civil.Date
		for n := 0; ; n++ {
			applications := kind(c, course.KindApplication)
			if len(applications) == 0 {
				break
			}
			if n > 60 {
				rt.Fatalf("%v: no end after %v", p, days)
			}
			day := anyDay(rt, applications[0].Due)
			days = append(days, day)
			in = on(with(in, applied(fmt.Sprintf("a-%d", n), applications[0], c.Chosen, day)), day)
			if c = compute(t, in); c.Run != 1 {
				rt.Fatalf("%v at %v: run %d though every application lay in its window: %v", p, season, c.Run, days)
			}
		}
		for i, life := range models {
			if !life.Clears(days...) {
				rt.Fatalf("%v at %v: %v leave %v by model %d", p, season, days, life.Left(days...), i)
			}
		}
	})
	if len(followed) < 5 {
		t.Errorf("only %v were followed to the end: the grid shows nothing", followed)
	}
}

func TestCourse_OutlastsALateSparedStageAndAnEarlyOne(t *testing.T) {
	t.Parallel()
	// The rule of thumb beside the proof: where spared stages lie apart, the last application lies on or after the first day
	// that the longest late one and the longest early one make together, at the coldest.
	c, tried := catalogue.Shipped(), map[catalogue.PestID]bool{}
	for _, p := range pairs() {
		for _, season := range seasons() {
			spared, apart := course.LongestSpared(c, c.Pests[p.pest], c.Materials[p.material], season)
			if !apart {
				continue
			}
			got := compute(t, p.input(season))
			if got.Material != p.material || got.Proof.HoldsDown || got.Proof.LastDay == 0 {
				continue
			}
			tried[p.pest] = true
			if thumb := spared[0] + spared[len(spared)-1]; float64(got.Proof.LastDay) < thumb {
				t.Errorf("%v at %v: the last on day %d, spared stages take %v", p, season, got.Proof.LastDay, spared)
			}
		}
	}
	for _, id := range []catalogue.PestID{"greenhouse-whitefly", "western-flower-thrips"} {
		if !tried[id] {
			t.Errorf("%s: nothing that spares two stages was tried", id)
		}
	}
}

// anyDay draws a day inside a window.
func anyDay(rt *rapid.T, due course.Due) civil.Date {
	to := due.LatestOn
	if !due.StandsUntilOn.IsZero() && rapid.Bool().Draw(rt, "late") {
		to = due.StandsUntilOn
	}
	return due.EarliestOn.AddDays(rapid.IntRange(0, to.DaysSince(due.EarliestOn)).Draw(rt, "day"))
}

func TestCourse_NoDayOfDelayIsCheaperThanTheOneBefore(t *testing.T) {
	t.Parallel()
	all, grid := pairs(), seasons()
	rapid.Check(t, func(rt *rapid.T) {
		p, season := rapid.SampledFrom(all).Draw(rt, "pair"), rapid.SampledFrom(grid).Draw(rt, "season")
		in := p.input(season)
		in.Histories[0].Events[0].Finding.Severity = rapid.IntRange(0, 3).Draw(rt, "severity")
		in.Plants[0].Count = rapid.IntRange(1, 40).Draw(rt, "plants")
		for _, f := range compute(t, in).FollowUps {
			if !slices.IsSorted(f.PricePerDay) || len(f.PricePerDay) > 0 && f.PricePerDay[0] < 0 {
				rt.Fatalf("%v at %v, %s: %v falls", p, season, f.ID, f.PricePerDay)
			}
			if n := len(f.PricePerDay); n > 0 && f.LeftOutPrice < f.PricePerDay[n-1] {
				rt.Fatalf("%v, %s: leaving it out costs %v, its last day %v", p, f.ID, f.LeftOutPrice, f.PricePerDay[n-1])
			}
		}
	})
}

// miteOf is the two-spotted mite of the published constants (Egypt. Acad. J. Biol. Sci., eajbsa article 12844), whose eggs
// soap spares, laying 14 days (UF/IFAS IN307: 2 to 4 weeks).
func miteOf() (catalogue.Pest, catalogue.Material) {
	pest := brood("test-mite", 100, 14, 0.7, 0.862, developing("egg", 12.87, 63.35), developing("larva", 12.92, 26.81),
		developing("protonymph", 9.45, 30.95), developing("deutonymph", 13.94, 26.17))
	// Soap leaves the eggs and 93 to 98 % of the others dead (Taiwanese journal, December 2006, pp. 379-390).
	return pest, contact(pest, 0.93, 0.02, catalogue.Spared, catalogue.Reached, catalogue.Reached, catalogue.Reached, catalogue.Reached)
}

func TestCourse_IdealDayTakesTheLagThatNeedsTheFewestApplications(t *testing.T) {
	t.Parallel()
	pest, spray := miteOf()
	c := knowing(pest, spray)
	for _, test := range []struct {
		celsius           float64
		lag, applications int
		why               string
	}{
		{21, 8, 2, "8 and 9 lie between the egg's 7.79 and the 9.71 days of reach, and the model leaves less at 8; weekly would take {0, 7, 14}"},
		{27, 5, 2, "5 lies between 4.48 and 5.67: {0, 5}; every 4 days would take {0, 4, 8}"},
	} {
		in := treating(c, pest.ID, spray.ID, 3, steady(test.celsius))
		got := compute(t, in)
		if got.Proof.LagDays != test.lag || got.Proof.Applications != test.applications || !got.Proof.Clears {
			t.Errorf("%v °C: %d applications every %d days, want %d every %d: %s", test.celsius, got.Proof.Applications, got.Proof.LagDays, test.applications, test.lag, test.why)
		}
		if second := kind(got, course.KindApplication)[1]; second.Due.IdealLag != test.lag || second.Due.EarliestLag != 3 {
			t.Errorf("%v °C: window %+v, want the ideal day on lag %d", test.celsius, second.Due, test.lag)
		}
	}
}

func TestCourse_IdealDayIsLaterWhereALaterDayNeedsFewerApplications(t *testing.T) {
	t.Parallel()
	// Mite at 21 °C, practice 4 to 5 days: {0, 4, 8}, since an egg lasts 7.79 days. Made on day 3 instead of 4, the usual lag leads to day 7 and
	// leaves eggs of day 0, so that a fourth were needed; day 8, 5 days later and on time, needs none.
	pest, spray := miteOf()
	spray.Ceilings = map[catalogue.PestID]catalogue.Range{pest.ID: {Near: 4, Far: 5, Unit: catalogue.UnitDays, Standing: catalogue.CommonPractice}}
	in := treating(knowing(pest, spray), pest.ID, spray.ID, 3, steady(21))
	first := date("2026-03-02")
	in = on(with(in, sprayed("a-1", "p", first, "", "O-a")), first)
	if c := compute(t, in); c.Proof.Applications != 3 || c.Proof.LagDays != 4 {
		t.Fatalf("%d applications every %d days, want 3 every 4", c.Proof.Applications, c.Proof.LagDays)
	}
	in = on(with(in, sprayed("a-2", "p", first.AddDays(3), "", "O-a")), first.AddDays(3))
	c := compute(t, in)
	applications := kind(c, course.KindApplication)
	if len(applications) != 1 || applications[0].Due.IdealOn != first.AddDays(8) || c.Proof.Applications != 3 || c.Proof.LastDay != 8 {
		t.Errorf("%d to come, the next %+v, %d in all to day %d: want one on 10 March, the third", len(applications), applications[0].Due, c.Proof.Applications, c.Proof.LastDay)
	}
}

func TestCourse_NoDayOnTimeNeedsFewerApplicationsThanTheIdealOne(t *testing.T) {
	t.Parallel()
	all, grid := pairs(), seasons()
	rapid.Check(t, func(rt *rapid.T) {
		p, season := rapid.SampledFrom(all).Draw(rt, "pair"), rapid.SampledFrom(grid).Draw(rt, "season")
		in := p.input(season)
		c := compute(t, in)
		if !c.Proof.Clears || c.Material != p.material {
			return
		}
		for n := range rapid.IntRange(0, 3).Draw(rt, "made") {
			applications := kind(c, course.KindApplication)
			if len(applications) == 0 {
				return
			}
			day := anyDay(rt, applications[0].Due)
			in = on(with(in, applied(fmt.Sprintf("a-%d", n), applications[0], c.Chosen, day)), day)
			c = compute(t, in)
		}
		applications := kind(c, course.KindApplication)
		if len(applications) == 0 {
			return
		}
		f := applications[0]
		needs := func(day civil.Date) int {
			made := on(with(in, applied("next", f, c.Chosen, day)), day)
			return compute(t, made).Proof.Applications
		}
		ideal := needs(f.Due.IdealOn)
		for day := f.Due.EarliestOn; day <= f.Due.LatestOn; day = day.AddDays(1) {
			if got := needs(day); got < ideal {
				rt.Fatalf("%v at %v, window %+v: %v needs %d in all, the ideal day %d", p, season, f.Due, day, got, ideal)
			}
		}
	})
}

func TestCourse_OfEveryShippedPestBelowItsThresholdHasNoEndDateAndSaysSo(t *testing.T) {
	t.Parallel()
	said := map[catalogue.PestID]bool{}
	for _, p := range pairs() {
		pest := catalogue.Shipped().Pests[p.pest]
		cold := pest.LowerLimit.Value
		for _, stage := range pest.Stages {
			if stage.Thermal != nil {
				cold = max(cold, stage.Thermal.T0)
			}
		}
		for name, season := range map[string]site.Season{
			"at a threshold": steady(cold - 0.01), "above the upper limit": {Coldest: pest.UpperLimit.Value - 3, Usual: pest.UpperLimit.Value, Warmest: pest.UpperLimit.Value + 1},
		} {
			c := compute(t, p.input(season))
			if c.Material == "" {
				continue // a living material does not work there either
			}
			said[p.pest] = true
			if c.Proof.Clears || c.Proof.Outgrown || c.Proof.RoundGrowth != 0 || !strings.Contains(c.Proof.Text, "there is no end date") {
				t.Errorf("%v %s: %+v", p, name, c.Proof)
			}
			if strings.HasPrefix(name, "above") && !strings.Contains(c.Proof.Text, "none is extrapolated") {
				t.Errorf("%v %s: %s", p, name, c.Proof.Text)
			}
			if len(kind(c, course.KindApplication)) == 0 {
				t.Errorf("%v %s: nothing is due", p, name)
			}
			for _, f := range c.FollowUps {
				for _, price := range f.PricePerDay {
					if price < 0 {
						t.Errorf("%v %s: %s costs %v", p, name, f.ID, price)
					}
				}
			}
		}
	}
	for id := range catalogue.Shipped().Pests {
		if !said[id] {
			t.Errorf("%s: no material was tried below its threshold and above its limit", id)
		}
	}
}

func TestDurations_LongestAreNeverShorterWhereItIsColder(t *testing.T) {
	t.Parallel()
	for id, pest := range catalogue.Shipped().Pests {
		before := math.Inf(1)
		for celsius := math.Ceil(pest.LowerLimit.Value); celsius <= pest.UpperLimit.Value; celsius++ {
			now := 0.0
			for _, days := range course.Longest(pest, steady(celsius)) {
				now += days
			}
			if now > before+1e-9 {
				t.Errorf("%s: longest %v days at %v °C, %v a degree colder", id, now, celsius, before)
			}
			before = now
		}
	}
}
