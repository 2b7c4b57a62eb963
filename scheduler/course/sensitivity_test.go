package course_test

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
)

// scaled is the shipped catalogue with detection, kill and missed shares multiplied.
func scaled(detection, kill, missed float64) *catalogue.Catalogue {
	c := *catalogue.Shipped()
	c.Pests, c.Materials = maps.Clone(c.Pests), maps.Clone(c.Materials)
	for id, pest := range c.Pests {
		pest.Detection.Value = min(1, pest.Detection.Value*detection)
		c.Pests[id] = pest
	}
	for id, material := range c.Materials {
		material.Effects = append([]catalogue.Effect(nil), material.Effects...)
		for i := range material.Effects {
			material.Effects[i].Kill.Value = min(1, material.Effects[i].Kill.Value*kill)
		}
		if material.MissedShare != nil {
			share := *material.MissedShare
			share.Value = min(1, share.Value*missed)
			material.MissedShare = &share
		}
		c.Materials[id] = material
	}
	return &c
}

// TestSensitivity_GoldenTable shows how far the answers move when a figure that no trial measured is wrong by half: the dates
// stay, since the proof by ages knows neither kill nor detection; the chances, the looks and what they lead to do not.
func TestSensitivity_GoldenTable(t *testing.T) {
	t.Parallel()
	variants := []struct {
		name                    string
		detection, kill, missed float64
	}{
		{"as assumed", 1, 1, 1},
		{"detection half", 0.5, 1, 1},
		{"kill half", 1, 0.5, 1},
		{"both half", 0.5, 0.5, 1},
		{"missed share double", 1, 1, 2},
		{"missed share half", 1, 1, 0.5},
	}
	var text strings.Builder
	fmt.Fprintf(&text, "%-28s %-20s %4s %5s %8s %8s %9s %6s %7s %s\n", "case", "figures", "days", "round", "outgrown", "chance", "left", "looks", "reached", "second late by 3 days costs")
	for _, row := range []struct {
		name string
		of   course.CaseID
		with func(course.Input) course.Input
	}{
		{"mealybug, soap, by hand", officeCase, func(in course.Input) course.Input { return in }},
		{"mealybug, soap alone", officeCase, func(in course.Input) course.Input {
			for id, material := range in.Catalogue.Materials {
				if material.Law == catalogue.PhysicalWork {
					in.Sites[0].Agreement.RefusedMaterials = append(in.Sites[0].Agreement.RefusedMaterials, id)
				}
			}
			return in
		}},
		{"gnat, Bti and cards", lobbyCase, func(in course.Input) course.Input { return in }},
	} {
		for _, v := range variants {
			in := row.with(week(row.of))
			in.Catalogue = scaled(v.detection, v.kill, v.missed)
			c := compute(t, in)
			applications := kind(c, course.KindApplication)
			late := applications[1].PricePerDay
			fmt.Fprintf(&text, "%-28s %-20s %4d %5.2f %8v %6.1f %% %7.1f %% %6d %7v %v\n", row.name, v.name, c.Proof.LastDay, c.Proof.RoundGrowth, c.Proof.Outgrown,
				100*c.ChanceFree, 100*c.ExpectedLeft, c.Looks.Needed, c.Looks.Reachable, late[min(3, len(late)-1)])
		}
	}
	path := filepath.Join("testdata", "sensitivity.golden")
	if *update {
		if err := os.WriteFile(path, []byte(text.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), text.String()); diff != "" {
		t.Errorf("%s (-want +got; -update rewrites it):\n%s", path, diff)
	}
}

func TestSensitivity_NoDateMovesWithKillOrDetection(t *testing.T) {
	t.Parallel()
	for _, p := range pairs() {
		season := site.Season{Coldest: 18, Usual: 21, Warmest: 24}
		base := compute(t, p.input(season))
		in := p.input(season)
		in.Catalogue = scaled(0.5, 0.5, 1)
		c := compute(t, in)
		if c.Proof.Applications != base.Proof.Applications {
			t.Errorf("%v: %d applications after %d", p, c.Proof.Applications, base.Proof.Applications)
		}
		if c.ChanceFree > base.ChanceFree+1e-9 {
			t.Errorf("%v: chance %v with half the kill and detection, %v before", p, c.ChanceFree, base.ChanceFree)
		}
		if !base.Proof.Clears && c.Proof.Clears {
			t.Errorf("%v clears with half the kill and did not before", p)
		}
	}
}
