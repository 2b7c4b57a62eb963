package dilution_test

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
)

var update = flag.Bool("update", false, "write the golden files anew")

func making(t testing.TB, p catalogue.Product, need string) dilution.Making {
	t.Helper()
	zone, err := civil.LoadZone("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	vessel, limits := sprayer(t, "128 US fl oz"), limitsOf(t, p)
	filling, err := dilution.Fill(volume(t, need), limits, vessel, []dilution.Measure{cup(t, "1/8 US fl oz")})
	if err != nil {
		t.Fatal(err)
	}
	return dilution.Making{Product: p, Limits: limits, Filling: filling, Vessel: vessel, Zone: zone, Technician: "technician 1"}
}

// clock is an instant of March 2026 before the change of clocks: EST is five hours behind UTC.
func clock(day, hour, minute int) civil.Instant {
	return civil.InstantOf(time.Date(2026, time.March, day, hour+5, minute, 0, 0, time.UTC))
}

func soapMaking(t testing.TB) dilution.Making {
	t.Helper()
	m := making(t, soap(t), "660 mL")
	m.Place = "cleaners' store"
	m.Begins, m.UseBy = clock(3, 19, 24), clock(3, 22, 30)
	m.Shut = []dilution.Shut{{Area: "office floor", During: civil.Interval{From: clock(3, 19, 30), To: clock(3, 23, 2)}, UntilDry: true}}
	m.Cautions = []string{"Makes stone and wood floors slippery and marks leather, wallpaper and screens: cover, cordon, wipe, dry before leaving."}
	return m
}

func btiMaking(t testing.TB) dilution.Making {
	t.Helper()
	m := making(t, bti(t), "3300 mL")
	m.Place = "plant room"
	hardness := 85.0
	m.HardnessMgL = &hardness
	m.Begins, m.UseBy = clock(4, 9, 0), clock(4, 16, 0)
	m.Shut = []dilution.Shut{{Area: "plant room", During: civil.Interval{From: clock(4, 9, 6), To: clock(4, 13, 30)}}}
	m.LeftoverOn = []string{"Spathiphyllum (6)"}
	return m
}

func TestSheet_Golden(t *testing.T) {
	t.Parallel()
	for name, m := range map[string]dilution.Making{
		"soap": soapMaking(t), "bti": btiMaking(t), "powder": powderMaking(t), "organisms": organismMaking(t), "ready": readyMaking(t), "two-step": twoStepMaking(t),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name, dilution.MakeSheet(m).Text())
		})
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name+".golden.txt")
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("read the difference, then run with -update if it is right:\n%s", diff)
	}
}

func TestSheet_SaysWhereAndWithWhatWater(t *testing.T) {
	t.Parallel()
	soft, hard, limit := 40.0, 300.0, 120.0
	for _, c := range []struct {
		name     string
		hardness *float64
		limit    *float64
		want     string
	}{
		{"unknown counts as hard", nil, nil, "counts as hard: use soft or carried water"},
		{"unknown, and the label has a limit", nil, &limit, "counts as hard: use carried water of known hardness"},
		{"within the label", &soft, &limit, "has 40 mg/L CaCO3; the label allows up to 120"},
		{"above the label", &hard, &limit, "do not use it"},
		{"known, no limit", &hard, nil, "the label states no limit"},
	} {
		m := soapMaking(t)
		m.HardnessMgL, m.Product.Label.MaxHardness = c.hardness, c.limit
		if got := dilution.MakeSheet(m).Water; !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	m := soapMaking(t)
	m.Place = ""
	for _, want := range []string{"bring it with you", "kitchen", "hand basin", "toilet", "food area", "hose"} {
		if got := dilution.MakeSheet(m).Where; !strings.Contains(got, want) {
			t.Errorf("where: %q lacks %q", got, want)
		}
	}
}

func TestSheet_SaysWhatIsNotKnown(t *testing.T) {
	t.Parallel()
	m := soapMaking(t)
	m.Product.Label.Equipment = nil
	m.Product.Label.Entry = catalogue.Entry{Kind: catalogue.EntryNone, Reason: "The label of a drench says so."}
	m.Shut = nil
	sheet := dilution.MakeSheet(m)
	if len(sheet.Equipment) != 1 || !strings.Contains(sheet.Equipment[0], "read the label") {
		t.Errorf("equipment %q", sheet.Equipment)
	}
	if want := []string{"No area is shut: The label of a drench says so."}; !cmp.Equal(sheet.KeepOut, want) {
		t.Errorf("keep out %q, want %q", sheet.KeepOut, want)
	}
}

func TestSheet_WritesTheDateOfAKeepOutPastMidnight(t *testing.T) {
	t.Parallel()
	m := soapMaking(t)
	m.Shut[0].During.To = clock(4, 0, 32)
	want := "office floor: nobody enters from Tue 3 Mar 19:30 until Wed 4 Mar 00:32, and until somebody has looked and confirmed that it is dry."
	if got := dilution.MakeSheet(m).KeepOut[0]; got != want {
		t.Errorf("keep out %q, want %q", got, want)
	}
}

func TestSheet_FirstWaterLeavesRoom(t *testing.T) {
	t.Parallel()
	// One mark only: there is none below it to fill to first.
	m := soapMaking(t)
	m.Vessel.Marks = m.Filling.Volume
	if got := dilution.MakeSheet(m).Steps[0]; !strings.Contains(got, "a part of the water") {
		t.Errorf("first step %q", got)
	}
	if got := dilution.MakeSheet(soapMaking(t)).Steps[0]; !strings.Contains(got, "to the 24 US fl oz mark") {
		t.Errorf("first step %q", got)
	}
}
