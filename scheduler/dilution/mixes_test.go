package dilution_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
)

func using(t testing.TB) dilution.Using {
	t.Helper()
	return dilution.Using{
		Limits: limitsOf(t, bti(t)), Vessel: sprayer(t, "128 US fl oz"), Measures: []dilution.Measure{cup(t, "1/8 US fl oz")},
		Mixing: 6 * time.Minute, MixLife: 4 * time.Hour, ShiftEnds: 10 * 3600,
	}
}

// drench is an application of so many US fl oz from one minute to another.
func drench(ounces int64, begins, ends int) dilution.Application {
	return dilution.Application{Need: quantity.NewVolume(ounces, 1, quantity.USFluidOunce), Begins: civil.Instant(begins * 60), Ends: civil.Instant(ends * 60)}
}

func TestMixes_ShareWhileVesselAndLifeAllow(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		in   []dilution.Application
		want [][2]int // first and last of each mix
	}{
		{"none", nil, nil},
		{"one", []dilution.Application{drench(40, 60, 90)}, [][2]int{{0, 0}}},
		// 126 + 2 dead is the vessel; 127 is more.
		{"to the brim", []dilution.Application{drench(60, 60, 90), drench(66, 100, 120)}, [][2]int{{0, 1}}},
		{"over the brim", []dilution.Application{drench(60, 60, 90), drench(67, 100, 120)}, [][2]int{{0, 0}, {1, 1}}},
		// Mixed from minute 54, 4 h of life: until 294, touching allowed.
		{"to the last minute", []dilution.Application{drench(10, 60, 90), drench(10, 280, 294)}, [][2]int{{0, 1}}},
		{"a minute too long", []dilution.Application{drench(10, 60, 90), drench(10, 280, 295)}, [][2]int{{0, 0}, {1, 1}}},
		{"three of four", []dilution.Application{drench(40, 60, 70), drench(40, 80, 90), drench(40, 100, 110), drench(40, 120, 130)}, [][2]int{{0, 2}, {3, 3}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			mixes, err := dilution.Mixes(c.in, using(t))
			if err != nil || len(mixes) != len(c.want) {
				t.Fatalf("Mixes = %v, %v; want %v", mixes, err, c.want)
			}
			for i, mix := range mixes {
				if mix.First != c.want[i][0] || mix.Last != c.want[i][1] {
					t.Errorf("mix %d serves %d to %d, want %v", i, mix.First, mix.Last, c.want[i])
				}
				if begins := c.in[mix.First].Begins.Add(-6 * time.Minute); mix.Begins != begins || mix.UseBy != begins.Add(4*time.Hour) || mix.LastUse != c.in[mix.Last].Ends {
					t.Errorf("mix %d: begins %d, used until %d, use by %d", i, mix.Begins, mix.LastUse, mix.UseBy)
				}
			}
		})
	}
}

func TestMixes_SayWhichApplicationNeverFits(t *testing.T) {
	t.Parallel()
	_, err := dilution.Mixes([]dilution.Application{drench(40, 60, 90), drench(130, 100, 120)}, using(t))
	if !errors.Is(err, dilution.ErrVessel) || !strings.HasPrefix(err.Error(), "application 1: ") {
		t.Errorf("more than the vessel holds: %v", err)
	}
	_, err = dilution.Mixes([]dilution.Application{drench(40, 60, 295)}, using(t))
	if err == nil || !strings.HasPrefix(err.Error(), "application 0: ") {
		t.Errorf("longer than a mix lives: %v", err)
	}
	// A mix of the label's "same day" lives until the shift ends, minute 600.
	sameDay := using(t)
	sameDay.MixLife = 0
	if _, err := dilution.Mixes([]dilution.Application{drench(40, 60, 601)}, sameDay); err == nil {
		t.Error("a mix is used after the shift")
	}
	// A long life ends with the shift all the same.
	long := using(t)
	long.MixLife = 24 * time.Hour
	if _, err := dilution.Mixes([]dilution.Application{drench(40, 60, 601)}, long); err == nil {
		t.Error("a mix of long life is used after the shift")
	}
	if mixes, err := dilution.Mixes([]dilution.Application{drench(40, 60, 600)}, sameDay); err != nil || mixes[0].UseBy != 36_000 {
		t.Errorf("until the end of the shift: %v, %v", mixes, err)
	}
}

// TestMixes_AsFewAsAnyDivision compares with every division of up to six applications into runs of neighbours.
func TestMixes_AsFewAsAnyDivision(t *testing.T) {
	t.Parallel()
	use := using(t)
	rapid.Check(t, func(t *rapid.T) {
		var applications []dilution.Application
		minute := 10
		for range rapid.IntRange(0, 6).Draw(t, "applications") {
			begins := minute + rapid.IntRange(0, 90).Draw(t, "gap")
			minute = begins + rapid.IntRange(1, 60).Draw(t, "takes")
			applications = append(applications, drench(rapid.Int64Range(1, 130).Draw(t, "ounces"), begins, minute))
		}
		got, err := dilution.Mixes(applications, use)
		fewest := fewestRuns(applications, use)
		switch {
		case err == nil && len(got) != fewest:
			t.Fatalf("%d mixes, and %d are enough", len(got), fewest)
		case err != nil && fewest >= 0:
			t.Fatalf("%v, though %d mixes do", err, fewest)
		}
		next := 0
		for _, mix := range got {
			if mix.First != next {
				t.Fatalf("application %d draws on no mix", next)
			}
			next = mix.Last + 1
		}
	})
}

// fewestRuns returns the least number of mixes over all 2^(n-1) divisions, or -1 when none is lawful.
func fewestRuns(applications []dilution.Application, use dilution.Using) int {
	n := len(applications)
	if n == 0 {
		return 0
	}
	fewest := -1
	for cuts := range 1 << (n - 1) {
		runs, lawful, first := 0, true, 0
		for last := range n {
			if last < n-1 && cuts>>last&1 == 0 {
				continue
			}
			lawful = lawful && oneMixServes(applications[first:last+1], use)
			runs, first = runs+1, last+1
		}
		if lawful && (fewest < 0 || runs < fewest) {
			fewest = runs
		}
	}
	return fewest
}

// oneMixServes says it in plain numbers: the marks are every 8 to 128, 2 are dead; all of Bti's marks within its wide range can be read.
func oneMixServes(run []dilution.Application, use dilution.Using) bool {
	var need quantity.Volume
	for _, a := range run {
		need = need.Add(a.Need)
	}
	mixed := run[0].Begins - civil.Instant(use.Mixing/time.Second)
	ends := run[len(run)-1].Ends
	return need.Cmp(quantity.NewVolume(126, 1, quantity.USFluidOunce)) <= 0 && ends-mixed <= 4*3600 && ends <= use.ShiftEnds
}
