package course_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// carried is the office's case of a pest whose plants stood in the cleaners' store at one season's temperatures and in the
// open floor at another's, with a move between the two.
func carried(in course.Input, before, after site.Season, move func(*course.Moved), found string) course.Input {
	in.Sites = slices.Clone(in.Sites)
	in.Sites[0].Areas = slices.Clone(in.Sites[0].Areas)
	in.Sites[0].Areas[0].Climate = climate(after.Coldest, after.Usual, after.Warmest)
	in.Sites[0].Areas[1].Climate = climate(before.Coldest, before.Usual, before.Warmest)
	event := moved("m-1", found, "O3", "O1", "O-a")
	move(event.Moved)
	return with(in, event)
}

// miteOnTheMove is the mite of the published constants, sprayed on 3 March in a room at 27 °C and carried to one at 21.
func miteOnTheMove(found string, move func(*course.Moved)) course.Input {
	pest, spray := miteOf()
	in := carried(treating(knowing(pest, spray), pest.ID, spray.ID, 3, steady(21)), steady(27), steady(21), move, found)
	return on(with(in, sprayed("s-1", "p", date("2026-03-03"), "M/application/1/1", "O-a")), date(found))
}

func TestCourse_SumsRatesOverTheDaysAsThePlantsStood(t *testing.T) {
	t.Parallel()
	// At 27 °C egg 4.48 and mobile stages 5.67 days, at 21 °C 7.79 and 9.70 (constants: Egypt. Acad. J. Biol. Sci., eajbsa article
	// 12844). Carried on 5 March, on which it counts as both. Eggs of 3 March: 2 days at 27 are 0.446 of them, the rest at 21 is
	// 4.32 days: hatched after 6.32. Larvae of 3 March: 3 days at 27, then 0.379 of a protonymph and a deutonymph at 21, 1.01
	// and 3.71 days: adult after 7.72. So day 7 and no other ends it: neither 5 as at 27 °C nor 8 as at 21.
	c := compute(t, miteOnTheMove("2026-03-05", func(*course.Moved) {}))
	applications := kind(c, course.KindApplication)
	if len(applications) != 1 || !c.Proof.Clears {
		t.Fatalf("%d applications to come, want one that clears: %s", len(applications), c.Proof.Text)
	}
	if due := applications[0].Due; due.IdealOn != date("2026-03-10") || due.LatestOn != date("2026-03-10") {
		t.Errorf("the second is due %+v, want it on 10 March and not later", due)
	}
	near(t, "days in reach", c.Proof.GreatestLag, 7.72, 0.005)
	for _, want := range []string{"(27 °C, from Thu 5 Mar 21 °C to 27 °C, from Fri 6 Mar 21 °C)", "each at its coldest and at its warmest"} {
		if !strings.Contains(c.Proof.Text, want) {
			t.Errorf("%q is not said in %s", want, c.Proof.Text)
		}
	}
	if want := "begin to lay from day 7.72 on at 27 °C, from Fri 6 Mar 21 °C"; !strings.Contains(applications[0].Reason, want) {
		t.Errorf("%q is not said in %s", want, applications[0].Reason)
	}
}

func TestCourse_AMoveFoundLaterTakesTheSafeDayForEachPurpose(t *testing.T) {
	t.Parallel()
	// Carried on a day from 4 to 6 March, nobody knows which. Eggs may have been in the cool since the 4th: 1/4.48 = 0.223 at 27 °C
	// and 0.777 x 7.79 = 6.05 at 21: hatched after 7.05. Larvae may have been in the warm until the 6th: 4 days are the larva, the
	// protonymph and 0.166 of the deutonymph, the rest 0.834 x 3.71 = 3.09: adult after 7.09. Day 7 comes before the last egg and
	// day 8 after the first adult: two applications cannot be enough, which neither day alone would say.
	c := compute(t, miteOnTheMove("2026-03-06", func(m *course.Moved) { m.NotBefore, m.NotAfter = date("2026-03-04"), date("2026-03-06") }))
	if !c.Proof.Clears || c.Proof.Applications != 3 {
		t.Errorf("%d applications in all, want 3: %s", c.Proof.Applications, c.Proof.Text)
	}
	near(t, "days in reach", c.Proof.GreatestLag, 7.09, 0.005)
	for _, day := range []string{"2026-03-04", "2026-03-06"} {
		known := compute(t, miteOnTheMove("2026-03-06", func(m *course.Moved) { m.NotBefore, m.NotAfter = date(day), date(day) }))
		if known.Proof.Applications != 2 {
			t.Errorf("carried on %s: %d applications in all, want 2", day, known.Proof.Applications)
		}
	}
}

func TestProof_ALineThatNeverChangesGivesTheAnswerOfItsTemperatures(t *testing.T) {
	t.Parallel()
	c, from := catalogue.Shipped(), date("2026-03-02")
	for _, p := range pairs() {
		for _, season := range seasons() {
			pest, material := c.Pests[p.pest], c.Materials[p.material]
			if season.Coldest < pest.LowerLimit.Value || season.Warmest > pest.UpperLimit.Value {
				continue
			}
			one, lag, clears := course.LivesOf(c, pest, material, p.leastDays, from, from, course.Spell{Season: season})
			many, sameLag, sameClears := course.LivesOf(c, pest, material, p.leastDays, from, from, course.Spell{From: from.AddDays(-9), Season: season},
				course.Spell{From: from.AddDays(4), Season: season}, course.Spell{From: from.AddDays(17), Season: season}, course.Spell{From: from.AddDays(18), Season: season})
			if lag != sameLag || clears != sameClears || len(one) != len(many) {
				t.Errorf("%v at %v: every %d days, clears %v; over equal spells every %d, %v", p, season, lag, clears, sameLag, sameClears)
				continue
			}
			var days []civil.Date
			for i := range 6 {
				days = append(days, from.AddDays(i*max(1, p.leastDays)))
				for j := range one {
					if diff := apart(one[j].Left(days...), many[j].Left(days...)); diff > 1e-7 {
						t.Errorf("%v at %v after %v: %v left, over equal spells %v", p, season, days, one[j].Left(days...), many[j].Left(days...))
					}
				}
			}
		}
	}
}

// apart is how far apart the ends of spans lie; infinite where they are not as many.
func apart(x, y [][2]float64) float64 {
	if len(x) != len(y) {
		return math.Inf(1)
	}
	most := 0.0
	for i := range x {
		most = max(most, math.Abs(x[i][0]-y[i][0]), math.Abs(x[i][1]-y[i][1]))
	}
	return most
}

// insect is one that is followed hour by hour: its stage and the share of it that it has passed.
type insect struct {
	laid   float64
	stage  int
	passed float64
	dead   bool
}

// playedOut plays a pest out insect by insect, in so many steps a day over the days' temperatures, each application with what it
// reaches: the obvious way. It returns when the eggs of those that live after the last application were laid, and how many of
// the insects of the first day live then.
func playedOut(pest catalogue.Pest, reach func(day civil.Date) []catalogue.Reach, celsius func(day civil.Date) float64, layingDays float64, days []civil.Date, steps int) (laid []float64, first int) {
	step := 1 / float64(steps)
	rate := func(stage int, on civil.Date) float64 {
		if thermal := pest.Stages[stage].Thermal; thermal != nil {
			return max(0, celsius(on)-thermal.T0) / thermal.K
		}
		return 1 / layingDays
	}
	grow := func(x *insect, on civil.Date) {
		for left := step; left > 0 && !x.dead; {
			speed := rate(x.stage, on)
			if speed*left < 1-x.passed {
				x.passed += speed * left
				return
			}
			left -= (1 - x.passed) / speed
			x.stage, x.passed = x.stage+1, 0
			x.dead = x.stage == len(pest.Stages)
		}
	}
	var all []insect
	for stage := range pest.Stages { // of every age on the first day
		for i := range 50 * steps {
			all = append(all, insect{laid: math.NaN(), stage: stage, passed: (float64(i) + 0.5) / float64(50*steps)})
		}
	}
	for on := days[0]; ; on++ {
		if slices.Contains(days, on) {
			all = slices.DeleteFunc(all, func(x insect) bool { return reach(on)[x.stage] == catalogue.Reached })
		}
		if on == days[len(days)-1] {
			break
		}
		for i := range steps {
			hour := float64(i) * step
			laying := slices.ContainsFunc(all, func(x insect) bool { return pest.Stages[x.stage].Lays })
			if laying {
				all = append(all, insect{laid: float64(on) + hour})
			}
			for i := range all {
				grow(&all[i], on)
			}
			all = slices.DeleteFunc(all, func(x insect) bool { return x.dead })
		}
	}
	for _, x := range all {
		if math.IsNaN(x.laid) {
			first++
			continue
		}
		laid = append(laid, x.laid)
	}
	slices.Sort(laid)
	return laid, first
}

func TestProof_AgreesWithFollowingInsectsDayByDayOverALine(t *testing.T) {
	t.Parallel()
	pest, _ := miteOf()
	pest.LayingDays = catalogue.Range{Near: 10, Far: 10, Unit: catalogue.UnitDays, Standing: catalogue.CommonPractice}
	from := date("2026-03-02")
	rapid.Check(t, func(rt *rapid.T) {
		var reach []catalogue.Reach
		for range pest.Stages {
			reach = append(reach, rapid.SampledFrom([]catalogue.Reach{catalogue.Reached, catalogue.Spared}).Draw(rt, "reach"))
		}
		material := contact(pest, 0.9, 0, reach...)
		var spells []course.Spell
		on := from.AddDays(-3)
		for range rapid.IntRange(2, 5).Draw(rt, "spells") {
			spells = append(spells, course.Spell{From: on, Season: steady(float64(rapid.IntRange(16, 29).Draw(rt, "celsius")))})
			on = on.AddDays(rapid.IntRange(2, 9).Draw(rt, "length"))
		}
		days := []civil.Date{from}
		for range rapid.IntRange(1, 4).Draw(rt, "repeats") {
			days = append(days, days[len(days)-1].AddDays(rapid.IntRange(2, 9).Draw(rt, "lag")))
		}
		celsius := func(on civil.Date) float64 {
			i := len(spells) - 1
			for i > 0 && spells[i].From > on {
				i--
			}
			return spells[i].Season.Usual
		}
		lives, _, _ := course.LivesOf(knowing(pest, material), pest, material, 3, from, days[len(days)-1], spells...)
		always := func(civil.Date) []catalogue.Reach { return reach }
		alive, _ := playedOut(pest, always, celsius, 10, days, 4)
		left := lives[0].Left(days...)
		shown := func(x [2]float64) bool {
			first, last := max(x[0], float64(from)), min(x[1], float64(days[len(days)-1]))
			return last-first <= 2.5 || slices.ContainsFunc(alive, func(laid float64) bool { return first <= laid && laid <= last })
		}
		if slices.ContainsFunc(left, func(x [2]float64) bool { return !shown(x) }) {
			alive, _ = playedOut(pest, always, celsius, 10, days, 64) // their parents may have been few
		}
		for _, laid := range alive {
			if !slices.ContainsFunc(left, func(x [2]float64) bool { return x[0]-0.5 <= laid && laid <= x[1]+0.5 }) {
				rt.Fatalf("%v, %v at %v: an egg of %v lives, and only %v are said to", reach, days, spells, laid-float64(from), left)
			}
		}
		for _, x := range left {
			if !shown(x) {
				rt.Fatalf("%v, %v at %v: eggs of %v to %v are said to live, and none does", reach, days, spells, x[0]-float64(from), x[1]-float64(from))
			}
		}
	})
}

// twoSprays is the office's case of the mite of the published constants, which lays for so many days, with two sprays of no group
// that reach different stages and whose labels allow so many applications in a row, over a spring.
func twoSprays(pest catalogue.Pest, reach map[catalogue.MaterialID][]catalogue.Reach, inRow int, spring site.Climate) course.Input {
	first := contact(pest, 0.9, 0, reach["test-spray"]...)
	c := knowing(pest, first)
	second := contact(pest, 0.9, 0, reach["test-oil"]...)
	second.ID, second.Name = "test-oil", "test oil"
	c.Materials[second.ID] = second
	in := treating(c, pest.ID, first.ID, 3, steady(20))
	in.Sites[0].Areas[0].Climate = spring
	in.Sites[0].Agreement.RefusedMaterials = slices.DeleteFunc(in.Sites[0].Agreement.RefusedMaterials, func(id catalogue.MaterialID) bool { return id == second.ID })
	in.Plants[0].Tolerance = append(in.Plants[0].Tolerance, catalogue.Tolerance{Material: second.ID, Verdict: catalogue.Stands, Standing: catalogue.OwnRecords})
	in.Products[0].Label.MostInRow = inRow
	other := in.Products[0]
	other.ID, other.Name, other.Material = "o", "other", second.ID
	in.Products = append(in.Products, other)
	return on(in, date("2026-03-18"))
}

func TestCourse_ARowThatTurnsOverALineClearsWhenItsInsectsAreFollowedDayByDay(t *testing.T) {
	t.Parallel()
	pest, _ := miteOf()
	pest.LayingDays = catalogue.Range{Near: 10, Far: 10, Unit: catalogue.UnitDays, Standing: catalogue.CommonPractice}
	turned := 0
	rapid.Check(t, func(rt *rapid.T) {
		reach := map[catalogue.MaterialID][]catalogue.Reach{}
		for _, id := range []catalogue.MaterialID{"test-spray", "test-oil"} {
			for range pest.Stages {
				reach[id] = append(reach[id], rapid.SampledFrom([]catalogue.Reach{catalogue.Reached, catalogue.Reached, catalogue.Spared}).Draw(rt, string(id)))
			}
		}
		celsius := map[time.Month]float64{}
		for _, month := range []time.Month{time.March, time.April, time.May} {
			celsius[month] = float64(rapid.IntRange(17, 28).Draw(rt, month.String()))
		}
		spring := springOf(steady(celsius[time.March]), steady(celsius[time.April]), steady(celsius[time.May]))
		in := twoSprays(pest, reach, rapid.IntRange(1, 2).Draw(rt, "in a row"), spring)
		c := compute(t, in)
		if !c.Proof.Clears || len(c.Turns) == 0 {
			return
		}
		turned++
		materials := map[catalogue.ProductID]catalogue.MaterialID{"p": "test-spray", "o": "test-oil"}
		var days []civil.Date
		by := map[civil.Date]catalogue.MaterialID{}
		for _, f := range kind(c, course.KindApplication) {
			days = append(days, f.Expected)
			by[f.Expected] = materials[f.Ways[0].Parts[0].Use.Product]
		}
		of := func(day civil.Date) float64 {
			_, month, _ := day.YearMonthDay()
			return celsius[min(month, time.May)]
		}
		alive, first := playedOut(pest, func(day civil.Date) []catalogue.Reach { return reach[by[day]] }, of, 10, days, 4)
		if len(alive)+first > 0 {
			rt.Fatalf("%v by %v, which reach %v at %v: eggs of %v live and %d of the first day: %s", days, by, reach, celsius, alive, first, c.Proof.Text)
		}
	})
	if turned == 0 {
		t.Error("no row turned and cleared: nothing was followed")
	}
	t.Logf("%d rows that turn were followed", turned)
}

// springOf is a climate that changes with the months of spring.
func springOf(march, april, later site.Season) site.Climate {
	march.Months, april.Months = []time.Month{time.January, time.February, time.March}, []time.Month{time.April}
	return site.Climate{march, april, later}
}

func TestCourse_WhatItCallsAbleToClearClearsOverItsTimeLine(t *testing.T) {
	t.Parallel()
	all, grid := pairs(), seasons()
	followed, turned := map[catalogue.PestID]int{}, 0
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.SampledFrom(all).Draw(rt, "pair")
		season := func(name string) site.Season { return rapid.SampledFrom(grid).Draw(rt, name) }
		march, april, later := season("march"), season("april"), season("later")
		in := p.input(march)
		in.Sites = slices.Clone(in.Sites)
		in.Sites[0].Areas = slices.Clone(in.Sites[0].Areas)
		in.Sites[0].Areas[0].Climate = springOf(march, april, later)
		in.Products[0].Label.LeastDays = max(1, p.leastDays+rapid.IntRange(-2, 2).Draw(rt, "label"))
		in = on(in, date("2026-03-02").AddDays(rapid.IntRange(0, 27).Draw(rt, "begins")))
		began := in.Today
		c := compute(t, in)
		if !c.Proof.Clears || c.Material != p.material {
			return
		}
		followed[p.pest]++
		days := follow(rt, t, p, in, c)
		if days[len(days)-1] >= date("2026-04-01") {
			turned++
		}
		var spells []course.Spell
		for year := 2026; year < 2029; year++ {
			spells = append(spells, course.Spell{From: civil.NewDate(year, time.January, 1), Season: march}, course.Spell{From: civil.NewDate(year, time.April, 1), Season: april},
				course.Spell{From: civil.NewDate(year, time.May, 1), Season: later})
		}
		models, _, _ := course.LivesOf(in.Catalogue, in.Catalogue.Pests[p.pest], in.Catalogue.Materials[p.material], in.Products[0].Label.LeastDays, began, days[len(days)-1], spells...)
		for i, life := range models {
			if !life.Clears(days...) {
				rt.Fatalf("%v at %v, %v, %v: %v leave %v by model %d", p, march, april, later, days, life.Left(days...), i)
			}
		}
	})
	if len(followed) < 4 || turned == 0 {
		t.Errorf("only %v were followed to the end, %d past the change of a month: the grid shows nothing", followed, turned)
	}
}

// follow makes every application that is asked for on some day of its window, to the end, and returns the days.
func follow(rt *rapid.T, t *testing.T, p pair, in course.Input, c course.Course) []civil.Date {
	var days []civil.Date
	for n := 0; ; n++ {
		applications := kind(c, course.KindApplication)
		if len(applications) == 0 {
			return days
		}
		if n > 200 { // a label of a day, and a female that lays for three months
			rt.Fatalf("%v: no end after %v", p, days)
		}
		day := anyDay(rt, applications[0].Due)
		days = append(days, day)
		in = on(with(in, applied(fmt.Sprintf("a-%d", n), applications[0], c.Chosen, day)), day)
		if c = compute(t, in); c.Run != 1 {
			rt.Fatalf("%v: run %d though every application lay in its window: %v, %v", p, c.Run, days, in.Sites[0].Areas[0].Climate)
		}
	}
}

func TestCourse_WhatItCallsAbleToClearClearsThoughPlantsAreMoved(t *testing.T) {
	t.Parallel()
	all, grid := pairs(), seasons()
	cleared := map[catalogue.PestID]int{}
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.SampledFrom(all).Draw(rt, "pair")
		before, after := rapid.SampledFrom(grid).Draw(rt, "before"), rapid.SampledFrom(grid).Draw(rt, "after")
		in := p.input(before)
		told, hidden := rapid.IntRange(1, 30).Draw(rt, "told"), rapid.IntRange(0, 14).Draw(rt, "hidden")
		first, last := in.Today.AddDays(max(0, told-hidden)), in.Today.AddDays(told)
		move := func(in course.Input) course.Input {
			return carried(in, before, after, func(m *course.Moved) { m.NotBefore, m.NotAfter = first, last }, last.String())
		}
		c := compute(t, in)
		var days []civil.Date
		isTold, run := false, 1
		for n := 0; ; n++ {
			if !c.Proof.Clears || c.Material != p.material || n > 60 {
				return
			}
			applications := kind(c, course.KindApplication)
			if len(applications) == 0 {
				break
			}
			day := anyDay(rt, applications[0].Due)
			if !isTold && day >= last {
				isTold, in = true, on(move(in), max(in.Today, last))
				c = compute(t, in)
				continue
			}
			in = on(with(in, applied(fmt.Sprintf("a-%d", n), applications[0], c.Chosen, day)), day)
			if c = compute(t, in); c.Run > run {
				days, run = nil, c.Run // what was in time before the move was known stood no longer after it
			}
			days = append(days, day)
		}
		if !isTold {
			return
		}
		cleared[p.pest]++
		both := site.Season{Coldest: min(before.Coldest, after.Coldest), Usual: after.Usual, Warmest: max(before.Warmest, after.Warmest)}
		models, _, _ := course.LivesOf(in.Catalogue, in.Catalogue.Pests[p.pest], in.Catalogue.Materials[p.material], in.Products[0].Label.LeastDays, days[0], days[len(days)-1],
			course.Spell{From: days[0].AddDays(-99), Season: before}, course.Spell{From: first, Season: both}, course.Spell{From: last.AddDays(1), Season: after})
		for i, life := range models {
			if !life.Clears(days...) {
				rt.Fatalf("%v moved from %v to %v between %v and %v: %v leave %v by model %d", p, before, after, first, last, days, life.Left(days...), i)
			}
		}
	})
	if len(cleared) < 4 {
		t.Errorf("only %v were followed to the end past a move: the grid shows nothing", cleared)
	}
}

func TestCourse_ASummerBeyondTheCourseSaysNothingAboutIt(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	want := compute(t, in).Proof
	hot := site.Season{Coldest: 22, Usual: 30, Warmest: 38}
	in.Sites[0].Areas[0].Climate = append(site.Climate{{Months: []time.Month{time.August}, Coldest: hot.Coldest, Usual: hot.Usual, Warmest: hot.Warmest}}, in.Sites[0].Areas[0].Climate...)
	got := compute(t, in).Proof
	if got.Text != want.Text || got.LastDay != want.LastDay || got.GreatestLag != want.GreatestLag {
		t.Errorf("with a hot August: %s, want as without it: %s", got.Text, want.Text)
	}
}

func TestCourse_StandsStillInTheColdAndEndsWithNoFigureInTheHeat(t *testing.T) {
	t.Parallel()
	pest, spray := miteOf()
	// Below 15 °C no figure of this mite is used, which the slow line takes as a stand: 11 days of March more, 11 days later.
	pest.LowerLimit.Value, pest.UpperLimit.Value = 15, 30
	april := func(march site.Season) course.Proof {
		in := treating(knowing(pest, spray), pest.ID, spray.ID, 3, march)
		in.Sites = slices.Clone(in.Sites)
		in.Sites[0].Areas = slices.Clone(in.Sites[0].Areas)
		in.Sites[0].Areas[0].Climate = springOf(march, steady(21), steady(21))
		return compute(t, on(in, date("2026-03-20"))).Proof
	}
	warm, cold, hot := april(steady(21)), april(site.Season{Coldest: 10, Usual: 10, Warmest: 10}), april(steady(32))
	if !warm.Clears || warm.LastDay != 8 {
		t.Fatalf("warm: to day %d, %s", warm.LastDay, warm.Text)
	}
	if first := 12; !cold.Clears || cold.LastDay < first+int(math.Floor(7.79)) {
		t.Errorf("cold until 1 April: to day %d: eggs of 20 March hatch only %d days and 7.79 later: %s", cold.LastDay, first, cold.Text)
	}
	if hot.Clears || !strings.Contains(hot.Text, "none is extrapolated") {
		t.Errorf("hot until 1 April: %s", hot.Text)
	}
}

func TestCourse_EachGroupFollowsItsOwnTimeLine(t *testing.T) {
	t.Parallel()
	// Two groups stand in one room at 21 °C and were sprayed on different days; one of them came from a room at 27 °C on 5 March.
	pest, spray := miteOf()
	in := carried(withPlants(treating(knowing(pest, spray), pest.ID, spray.ID, 3, steady(21)), "O-c"), steady(27), steady(21), func(*course.Moved) {}, "2026-03-05")
	in.Histories[0].Plants = []site.PlantID{"O-a", "O-c"}
	in.Plants[len(in.Plants)-1].Tolerance = in.Plants[0].Tolerance
	c := compute(t, on(with(in, sprayed("s-1", "p", date("2026-03-03"), "M/application/1/1", "O-a"), sprayed("s-2", "p", date("2026-03-04"), "M/application/1/2", "O-c")), date("2026-03-05")))
	due := map[site.PlantID]civil.Date{}
	for _, f := range kind(c, course.KindApplication) {
		for _, plant := range f.Plants {
			due[plant] = f.Due.IdealOn
		}
	}
	// The moved one on day 7, see TestCourse_SumsRatesOverTheDaysAsThePlantsStood; the other at 21 °C throughout on day 8.
	if due["O-a"] != date("2026-03-10") || due["O-c"] != date("2026-03-12") {
		t.Errorf("due %v, want the one that was carried on 10 March and the other on 12 March", due)
	}
}

func TestCourse_PlantsThatAreToStandApartTakeTheTemperaturesOfThere(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Sites = slices.Clone(in.Sites)
	in.Sites[0].Areas = slices.Clone(in.Sites[0].Areas)
	in.Sites[0].Areas[1].Climate = climate(15, 16, 17)
	in.Sites[0].Agreement.IsolationArea = "O3"
	in.Plants[0].New, in.Plants[0].HeightCM = true, 30
	c := compute(t, in)
	if len(kind(c, course.KindIsolation)) == 0 {
		t.Fatal("no isolation is asked for")
	}
	// By 5 March at the latest: until then either place counts, from then on the store alone.
	if want := "from Fri 6 Mar 15 °C to 17 °C"; !strings.Contains(c.Proof.Text, want) {
		t.Errorf("%q is not said in %s", want, c.Proof.Text)
	}
}
