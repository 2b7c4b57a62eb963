package course_test

import (
	"slices"
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// followed is the lineage of the office's plants by some events that are told of no case.
func followed(events ...course.Event) (course.Lineage, course.Input) {
	in := withPlants(week(officeCase), "O-c", "O-d")
	return course.NewLineage(in.Catalogue, in.Sites[0], in.Plants, []course.History{{Site: in.Sites[0].ID, Events: events}}), in
}

func TestLineage_FollowsPlantsThroughMovesSplitsAndJoins(t *testing.T) {
	t.Parallel()
	l, in := followed(
		moved("m-2", "2026-03-07", "O3", "O1", "O-a"), // told first, happened last
		moved("m-1", "2026-03-03", "O1", "O3", "O-a"),
		split("s-1", "2026-03-05", "O-a", "O-a", "O-c"),
		joined("j-1", "2026-03-09", "O-d", "O-c", "O-d"),
		gone("g-1", "2026-03-10", course.TakenAway, "O-b"),
	)
	before, between := newYork().At(date("2026-03-02"), 0), newYork().At(date("2026-03-06"), 0)
	for _, c := range []struct {
		name  string
		got   []site.PlantID
		wants []site.PlantID
	}{
		{"the group before it split", l.Became([]site.PlantID{"O-a"}, before), []site.PlantID{"O-a", "O-d"}},
		{"the rest after it", l.Became([]site.PlantID{"O-a"}, between), []site.PlantID{"O-a"}},
		{"the part after it", l.Became([]site.PlantID{"O-c"}, between), []site.PlantID{"O-d"}},
		{"what is gone", l.Became([]site.PlantID{"O-b"}, before), nil},
	} {
		if !slices.Equal(c.got, c.wants) {
			t.Errorf("%s has become %v, want %v", c.name, c.got, c.wants)
		}
	}
	for id, want := range map[site.PlantID]site.AreaID{"O-a": "O1", "O-c": "O3", "O-b": ""} {
		if to, told := l.MovedTo(id); to != want || told != (want != "") {
			t.Errorf("%s went to %q, %v, want %q", id, to, told, want)
		}
	}
	plant := in.Plants[slices.IndexFunc(in.Plants, func(p site.Plant) bool { return p.ID == "O-a" })]
	for on, want := range map[string]site.AreaID{"2026-03-02": "O1", "2026-03-04": "O3", "2026-03-06": "O3", "2026-03-08": plant.Area} {
		if got := l.StoodIn(plant, date(on)); got != want {
			t.Errorf("on %s it stood in %s, want %s", on, got, want)
		}
	}
}

func TestLineage_WhatWasDoneNamesPlantsAsTheyAreCalledToday(t *testing.T) {
	t.Parallel()
	l, _ := followed(split("s-1", "2026-03-05", "O-a", "O-a", "O-c"))
	told := []course.History{{Case: officeCase, Events: []course.Event{
		sprayed("a-1", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a"),
		sprayed("a-2", "soap-s", date("2026-03-06"), "M/application/1/2", "O-a"),
		looked("l-1", date("2026-03-03"), "", []site.PlantID{"O-a", "O-b"}, "O-a"),
	}}}
	renamed := l.Renamed(told)[0].Events
	if !slices.Equal(renamed[0].Application.Plants, []site.PlantID{"O-a", "O-c"}) || !slices.Equal(renamed[1].Application.Plants, []site.PlantID{"O-a"}) ||
		!slices.Equal(renamed[2].Inspection.Plants, []site.PlantID{"O-a", "O-c", "O-b"}) || !slices.Equal(renamed[2].Inspection.Found, []site.PlantID{"O-a", "O-c"}) {
		t.Errorf("renamed: %v, %v, %+v", renamed[0].Application.Plants, renamed[1].Application.Plants, renamed[2].Inspection)
	}
	if !slices.Equal(told[0].Events[0].Application.Plants, []site.PlantID{"O-a"}) {
		t.Error("what was told was changed")
	}
}

func TestLineage_LearnsFromPatchTestsWithoutACase(t *testing.T) {
	t.Parallel()
	l, in := followed(
		told("p-1", "2026-03-03", func(e *course.Event) {
			e.Patch = &course.PatchResult{Material: "horticultural-oil", Plants: []site.PlantID{"O-a"}, Harmed: true}
		}),
		split("s-1", "2026-03-05", "O-a", "O-a", "O-c"),
	)
	learned := l.Learned(in.Plants)
	if len(learned) != 2 || learned[0].Tolerance.Verdict != catalogue.MustNot || learned[1].Tolerance.Standing != catalogue.OwnRecords {
		t.Errorf("learned %+v: want that both parts do not stand it", learned)
	}
	for _, p := range in.Plants {
		harmed := p.ID == "O-a" || p.ID == "O-c"
		if got := l.Tolerance(p, "horticultural-oil").Verdict; (got == catalogue.MustNot) != harmed && p.Site == "O" {
			t.Errorf("%s: %s", p.ID, got)
		}
	}
}

// A history without a case is part of what a course depends on: its key changes, and its moves are told.
func TestCourse_KnowsWhatIsToldOfPlantsWithoutACase(t *testing.T) {
	t.Parallel()
	in := on(week(officeCase), date("2026-03-08"))
	with := in
	with.Histories = append(slices.Clone(in.Histories), course.History{Site: in.Sites[0].ID, Events: []course.Event{moved("m-1", "2026-03-06", "O3", "O1", "O-a")}})
	before, after := compute(t, in), compute(t, with)
	if before.Key == after.Key || len(after.Advice) != len(before.Advice)+1 {
		t.Errorf("advice %q: want one sentence more than %q", after.Advice, before.Advice)
	}
}

func TestCourse_WhatIsGoneIsNoNeighbour(t *testing.T) {
	t.Parallel()
	in := withPlants(week(officeCase), "O-c")
	neighbours := func(in course.Input) []site.PlantID {
		return kind(compute(t, in), course.KindInspectNeighbours)[0].Plants
	}
	if !slices.Contains(neighbours(in), "O-c") {
		t.Fatal("O-c is no neighbour while it is there")
	}
	in.Plants[len(in.Plants)-1].GoneOn = date("2026-03-01")
	if slices.Contains(neighbours(in), "O-c") {
		t.Error("O-c is looked at though it is gone")
	}
}
