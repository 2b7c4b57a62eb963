package course_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// told is an event at ten in the morning of a day in Pennsylvania.
func told(id, day string, set func(*course.Event)) course.Event {
	e := course.Event{ID: id, At: newYork().At(date(day), civil.NewClock(10, 0))}
	set(&e)
	return e
}

func split(id, day string, from site.PlantID, into ...site.PlantID) course.Event {
	return told(id, day, func(e *course.Event) { e.Split = &course.Split{From: from, Into: into} })
}

func joined(id, day string, into site.PlantID, from ...site.PlantID) course.Event {
	return told(id, day, func(e *course.Event) { e.Joined = &course.Joined{From: from, Into: into} })
}

func gone(id, day string, kind course.GoneKind, plants ...site.PlantID) course.Event {
	return told(id, day, func(e *course.Event) { e.Gone = &course.Gone{Plants: plants, Kind: kind} })
}

func moved(id, day string, from, to site.AreaID, plants ...site.PlantID) course.Event {
	return told(id, day, func(e *course.Event) { e.Moved = &course.Moved{Plants: plants, From: from, To: to} })
}

// withPlants adds groups of pothos beside the office's first.
func withPlants(in course.Input, all ...site.PlantID) course.Input {
	for _, id := range all {
		more := in.Plants[0]
		more.ID, more.Name, more.Count = id, "pothos "+string(id), 4
		in.Plants = append(in.Plants, more)
	}
	return in
}

func TestCourse_HistoryFollowsAGroupThatSplits(t *testing.T) {
	t.Parallel()
	spray := sprayed("s-1", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a")
	in := on(with(withPlants(week(officeCase), "O-c", "O-d"), spray, split("t-1", "2026-03-05", "O-a", "O-c", "O-d")), date("2026-03-06"))
	in.Products[0].Label.MostInRow = 4
	c := compute(t, in)
	next := kind(c, course.KindApplication)[0]
	if !slices.Equal(next.Plants, []site.PlantID{"O-c", "O-d"}) || next.ID != "M/application/1/2" || next.Due.IdealOn != date("2026-03-10") {
		t.Errorf("next %s on %v %+v, want both parts a week after the spray of the whole", next.ID, next.Plants, next.Due)
	}
	if n := len(kind(c, course.KindApplication)); n != 3 {
		t.Errorf("%d applications left of 4 in a row after one: the cap did not follow the plants", n)
	}
}

func TestCourse_PatchTestFollowsAGroupThatSplits(t *testing.T) {
	t.Parallel()
	in := withPlants(week(officeCase), "O-c")
	for i := range in.Plants {
		in.Plants[i].Tolerance = []catalogue.Tolerance{{Material: "insecticidal-soap", Verdict: catalogue.PatchTest, Standing: catalogue.OwnRecords}}
	}
	result := told("p-1", "2026-03-04", func(e *course.Event) {
		e.Patch = &course.PatchResult{Material: "insecticidal-soap", Plants: []site.PlantID{"O-a"}}
	})
	c := compute(t, on(with(in, result, split("t-1", "2026-03-05", "O-a", "O-a", "O-c")), date("2026-03-06")))
	if len(kind(c, course.KindPatchTest)) > 0 || len(c.Learned) != 2 {
		t.Errorf("patch tests %v, learned %+v: want none, and both parts", kind(c, course.KindPatchTest), c.Learned)
	}
}

func TestCourse_OfGroupsThatJoinTheProofCountsWhatAllGot(t *testing.T) {
	t.Parallel()
	base := func(events ...course.Event) course.Course {
		in := withPlants(week(officeCase), "O-c", "O-e")
		in.Histories[0].Plants = []site.PlantID{"O-a", "O-c"}
		return compute(t, on(with(in, append(events, joined("j-1", "2026-03-05", "O-e", "O-a", "O-c"))...), date("2026-03-06")))
	}
	both := base(sprayed("s-1", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a", "O-c"))
	if next := kind(both, course.KindApplication)[0]; !slices.Equal(next.Plants, []site.PlantID{"O-e"}) || both.Proof.Applications != 7 || next.Due.EarliestOn != date("2026-03-10") {
		t.Errorf("both sprayed: %v from %v, %d applications, want 7", next.Plants, next.Due.EarliestOn, both.Proof.Applications)
	}
	one := base(sprayed("s-1", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a"))
	// The label's wait holds for the whole, the proof begins again.
	if next := kind(one, course.KindApplication)[0]; one.Proof.Applications != 8 || next.Due.EarliestOn != date("2026-03-10") {
		t.Errorf("one sprayed: from %v, %d applications, want 8 from 10 March", next.Due.EarliestOn, one.Proof.Applications)
	}
}

func TestCourse_EndsWhenAllPlantsAreGone(t *testing.T) {
	t.Parallel()
	in := withPlants(week(officeCase), "O-c")
	in.Histories[0].Plants = []site.PlantID{"O-a", "O-c"}
	part := compute(t, on(with(in, gone("g-1", "2026-03-04", course.Discarded, "O-a")), date("2026-03-05")))
	if first := kind(part, course.KindApplication)[0]; part.Ended != nil || !slices.Equal(first.Plants, []site.PlantID{"O-c"}) {
		t.Errorf("ended %+v, first on %v, want O-c alone", part.Ended, first.Plants)
	}
	all := compute(t, on(with(in, gone("g-1", "2026-03-04", course.Discarded, "O-a"), gone("g-2", "2026-03-05", course.Swapped, "O-c")), date("2026-03-05")))
	if all.Ended == nil || all.Ended.Kind != course.PlantsGone || len(all.FollowUps) > 0 {
		t.Errorf("ended %+v with %d follow-ups", all.Ended, len(all.FollowUps))
	}
}

// withColdStore has a store at 16 to 18 °C beside the office floor at 18 to 24.
func withColdStore(in course.Input) course.Input {
	in.Sites = slices.Clone(in.Sites)
	in.Sites[0].Areas = slices.Clone(in.Sites[0].Areas)
	in.Sites[0].Areas[1].Climate = climate(15, 16, 18)
	return in
}

func TestCourse_GnatEggsHatchByTheRatesOfTheRealTimeLine(t *testing.T) {
	t.Parallel()
	// Egg 102.36 degree-days above 4.04 °C (Liu Qian): at 20 °C 6.41 days, at 12 °C 12.86. Found on 2 March in a room at 12 °C,
	// moved on 10 March to 20 °C: 8 days x 7.96 = 63.68; the rest 38.68 / 15.96 = 2.42 days, so by 13 March.
	in := week(lobbyCase)
	in.Sites[1].Areas = append(slices.Clone(in.Sites[1].Areas), site.Area{ID: "L3", Name: "cold hall", Climate: climate(12, 13, 14)})
	in = with(in, moved("t-1", "2026-03-10", "L3", "L1", "L-a"))
	none := 0
	cards := looked("c-1", date("2026-03-12"), "", []site.PlantID{"L-a"})
	cards.Inspection.AdultsOnCards = &none
	in = with(in, sprayed("s-1", "bti-b", date("2026-03-03"), "", "L-a"), sprayed("s-2", "bti-b", date("2026-03-08"), "", "L-a"), cards)
	c := compute(t, on(in, date("2026-03-12")))
	// Drenches on 3, 8 and 13 March: the third is the first on or after the day by which all have hatched.
	if c.Proof.Applications != 3 || c.Proof.LastDay != 10 {
		t.Errorf("%d drenches to day %d, want 3 to day 10", c.Proof.Applications, c.Proof.LastDay)
	}
	// Had they stood in the cold hall until the 11th or later, by an uncertain move, a day more in the cold counts.
	late := in
	late.Histories = slices.Clone(in.Histories)
	for i := range late.Histories {
		late.Histories[i].Events = slices.Clone(late.Histories[i].Events)
		for j, e := range late.Histories[i].Events {
			if e.Moved != nil {
				m := *e.Moved
				m.NotBefore, m.NotAfter = date("2026-03-04"), date("2026-03-12")
				late.Histories[i].Events[j].Moved = &m
			}
		}
	}
	// In the cold until 12 March: 10 days x 7.96 = 79.6 and one day more at 12; 102.36 is passed on 14 March: a fourth drench on the 18th.
	if c := compute(t, on(late, date("2026-03-12"))); c.Proof.Applications != 4 || c.Proof.LastDay != 15 {
		t.Errorf("after the uncertain move: %d drenches to day %d, want 4 to day 15", c.Proof.Applications, c.Proof.LastDay)
	}
}

func TestCourse_ProofKnowsTheTemperaturesThatThePlantsCameFrom(t *testing.T) {
	t.Parallel()
	in := withColdStore(week(officeCase))
	in = on(with(in, sprayed("s-1", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a")), date("2026-03-07"))
	if text := compute(t, in).Proof.Text; !strings.Contains(text, "at 18 °C and at 24 °C") {
		t.Fatalf("without a move: %s", text)
	}
	in = with(in, moved("t-1", "2026-03-06", "O3", "O1", "O-a"))
	if text := compute(t, in).Proof.Text; !strings.Contains(text, "15 °C to 18 °C, from Fri 6 Mar 15 °C to 24 °C, from Sat 7 Mar 18 °C to 24 °C") {
		t.Errorf("after a move out of the cold: %s", text)
	}
}

func TestCourse_SpreadJoinsTheCaseAndKeepsItsHistory(t *testing.T) {
	t.Parallel()
	in := withPlants(week(officeCase), "O-c")
	in = on(with(in, sprayed("s-1", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a"),
		looked("l-1", date("2026-03-09"), "", []site.PlantID{"O-a", "O-c"}, "O-c")), date("2026-03-10"))
	c := compute(t, in)
	if advice := strings.Join(c.Advice, "\n"); !strings.Contains(advice, "spread to pothos O-c on Mon 9 Mar") {
		t.Errorf("not said: %s", advice)
	}
	var of []site.PlantID
	for _, f := range kind(c, course.KindApplication) {
		of = append(of, f.Plants...)
	}
	if !slices.Contains(of, "O-c") || !slices.Contains(of, "O-a") || c.Run != 1 {
		t.Errorf("applications on %v in run %d, want both in run 1", of, c.Run)
	}
	// The next of the first plants is due on 10 March, notice for the new ones runs out on the 11th; had it been found the day
	// before, both would be due on one day.
	sooner := withPlants(week(officeCase), "O-c")
	sooner = on(with(sooner, sprayed("s-1", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a"),
		looked("l-1", date("2026-03-08"), "", []site.PlantID{"O-a", "O-c"}, "O-c")), date("2026-03-08"))
	first := kind(compute(t, sooner), course.KindApplication)
	if first[0].Due.IdealOn != date("2026-03-10") || first[1].Due.IdealOn != date("2026-03-10") {
		t.Errorf("due on %v and %v, want both on 10 March", first[0].Due.IdealOn, first[1].Due.IdealOn)
	}
}

// longHistory is a case with everything that a history can hold.
func longHistory() course.Input {
	in := withColdStore(withPlants(week(officeCase), "O-c", "O-d", "O-e"))
	in = gnatsInTheOffice(in, sprayed("n-2", "bti-b", date("2026-03-05"), "", "O-a"))
	return on(with(in,
		approved("m-2", date("2026-03-02"), "soap-s", course.InPlace),
		mixed(sprayed("m-3", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a"), "1 US fl oz", "1 US gal"),
		course.Event{ID: "m-4", At: instant("2026-03-10T23:10:00Z"), NotDone: &course.NotDone{FollowUp: "M/application/1/2", Outcome: course.PeoplePresent}},
		sprayed("m-5", "soap-s", date("2026-03-12"), "M/application/1/2", "O-a"),
		looked("m-6", date("2026-03-13"), "", []site.PlantID{"O-a", "O-b"}, "O-b"),
		moved("m-7", "2026-03-14", "O3", "O1", "O-a"),
		split("m-8", "2026-03-15", "O-a", "O-a", "O-c"),
		sprayed("m-9", "soap-s", date("2026-03-19"), "M/application/1/3", "O-a"),
		joined("m-10", "2026-03-20", "O-e", "O-a", "O-c"),
		gone("m-11", "2026-03-21", course.TakenAway, "O-b"),
		told("m-12", "2026-03-22", func(e *course.Event) {
			e.Patch = &course.PatchResult{Material: "insecticidal-soap", Plants: []site.PlantID{"O-e"}}
		}),
		told("m-13", "2026-03-23", func(e *course.Event) { e.Decision = &course.Decision{Kind: course.DecideReplace, By: "client"} }),
		told("m-14", "2026-03-24", func(e *course.Event) { e.Decision = &course.Decision{Kind: course.DecideTreat, By: "client"} }),
	), date("2026-03-25"))
}

// shuffled tells the histories of an input in another order and some events twice.
func shuffled(rt *rapid.T, in course.Input) course.Input {
	other := in
	other.Histories = slices.Clone(rapid.Permutation(in.Histories).Draw(rt, "histories"))
	for i, h := range other.Histories {
		again := rapid.SliceOfN(rapid.SampledFrom(h.Events), 0, 5).Draw(rt, "told twice")
		other.Histories[i].Events = rapid.Permutation(append(slices.Clone(h.Events), again...)).Draw(rt, "order")
	}
	other.Plants = rapid.Permutation(in.Plants).Draw(rt, "plants")
	other.Products = rapid.Permutation(in.Products).Draw(rt, "products")
	return other
}

func TestCourse_AnyOrderOfEverythingThatCanHappenGivesOneCourse(t *testing.T) {
	t.Parallel()
	in := longHistory()
	want := compute(t, in)
	if len(kind(want, course.KindApplication)) == 0 {
		t.Fatal("nothing is left to do: the history proves nothing")
	}
	rapid.Check(t, func(rt *rapid.T) {
		got, err := course.Compute(shuffled(rt, in))
		if err != nil {
			rt.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			rt.Fatalf("another course (-want +got):\n%s", diff)
		}
	})
}

// What is asked for before a late report is asked for under the same id after it, or was done by it.
func TestCourse_ALateReportKeepsTheIDsOfWhatIsStillNeeded(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		in := week(officeCase)
		day, n := date("2026-03-03"), rapid.IntRange(1, 6).Draw(rt, "applications made")
		for i := range n {
			id := course.NewItemID(officeCase, course.KindApplication, 1, i+1)
			in = with(in, sprayed(fmt.Sprintf("s-%d", i), "soap-s", day, id, "O-a"))
			day = day.AddDays(7)
		}
		today := day.AddDays(-7 + rapid.IntRange(0, 3).Draw(rt, "days since the last"))
		late := on(in, today)
		withheld := late
		withheld.Histories = slices.Clone(in.Histories)
		withheld.Histories[0].Events = in.Histories[0].Events[:len(in.Histories[0].Events)-1]
		before, after := compute(t, withheld), compute(t, late)
		var asked []course.ItemID
		for _, f := range kind(before, course.KindApplication) {
			asked = append(asked, f.ID)
		}
		done := course.NewItemID(officeCase, course.KindApplication, 1, n)
		if !slices.Contains(asked, done) {
			rt.Fatalf("%s was not asked for before it was told: %v", done, asked)
		}
		for _, f := range kind(after, course.KindApplication) {
			if !slices.Contains(asked, f.ID) || f.ID == done {
				rt.Fatalf("%s after the report, of %v before it", f.ID, asked)
			}
		}
	})
}

// A year whose temperatures change with the months, and plants that were carried twice.
func BenchmarkCompute_AYearOfHistoryOverATimeLine(b *testing.B) {
	in := yearOfHistory()
	in.Sites = slices.Clone(in.Sites)
	in.Sites[0].Areas = slices.Clone(in.Sites[0].Areas)
	for i, colder := range []float64{0, 2} {
		in.Sites[0].Areas[i].Climate = site.Climate{
			{Months: []time.Month{time.December, time.January, time.February}, Coldest: 18 - colder, Usual: 20 - colder, Warmest: 22 - colder},
			{Months: []time.Month{time.March, time.April, time.May}, Coldest: 19 - colder, Usual: 21 - colder, Warmest: 23 - colder},
			{Months: []time.Month{time.June, time.July, time.August}, Coldest: 20 - colder, Usual: 23 - colder, Warmest: 26 - colder},
			{Coldest: 18 - colder, Usual: 21 - colder, Warmest: 24 - colder},
		}
	}
	in = with(in, moved("t-2", "2026-02-20", "O3", "O1", "O-c"))
	for b.Loop() {
		compute(b, in)
	}
}

func BenchmarkCompute_AYearOfHistory(b *testing.B) {
	in := yearOfHistory()
	for b.Loop() {
		compute(b, in)
	}
}

// yearOfHistory is a case of weekly looks and sprays, with a find now and then, a move and a split.
func yearOfHistory() course.Input {
	in := withPlants(week(officeCase), "O-c", "O-d")
	for i := range 52 {
		day := date("2025-03-03").AddDays(7 * i)
		in = with(in, looked(fmt.Sprintf("l-%d", i), day, "", []site.PlantID{"O-a", "O-b"}), sprayed(fmt.Sprintf("s-%d", i), "soap-s", day, "", "O-a"))
		if i%8 == 3 {
			in = with(in, looked(fmt.Sprintf("f-%d", i), day.AddDays(1), "", []site.PlantID{"O-a"}, "O-a"))
		}
	}
	in = with(in, moved("t-0", "2025-09-06", "O3", "O1", "O-a"), split("t-1", "2025-11-01", "O-a", "O-a", "O-c"))
	return on(in, date("2026-03-03"))
}
