package course_test

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
)

// after is the office's course when the first applications were made with these lags.
func after(t testing.TB, in course.Input, lags ...int) course.Course {
	t.Helper()
	day := date("2026-03-03")
	for i, lag := range append([]int{0}, lags...) {
		day = day.AddDays(lag)
		in = with(in, sprayed(fmt.Sprintf("s-%d", i), "soap-s", day, "", "O-a"))
	}
	return compute(t, on(in, day))
}

func TestModel_ALateApplicationLowersTheChance(t *testing.T) {
	t.Parallel()
	// The timing rule by the proof (7.86 days of full reach) and the model agree on the direction, each by its own arithmetic.
	before := after(t, week(officeCase), 7)
	for lag := 8; lag <= 10; lag++ {
		late := after(t, week(officeCase), lag)
		if late.ChanceFree >= before.ChanceFree {
			t.Errorf("second after %d days: chance %v, after %d: %v", lag, late.ChanceFree, lag-1, before.ChanceFree)
		}
		before = late
	}
}

func TestModel_ChanceFallsWithPlantsAndSeverityAndStaysInBounds(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		in := week(officeCase)
		in.Plants[0].Count = rapid.IntRange(1, 60).Draw(rt, "plants")
		c := compute(t, in)
		if c.ChanceFree < 0 || c.ChanceFree > in.Policy.MostChance || c.ChanceMissed < 0 || c.ChanceMissed > 1 || c.ExpectedLeft < 0 {
			rt.Fatalf("chance %v, missed %v, left %v", c.ChanceFree, c.ChanceMissed, c.ExpectedLeft)
		}
		in.Plants[0].Count++
		if more := compute(t, in); more.ChanceFree > c.ChanceFree {
			rt.Fatalf("one plant more: chance %v after %v", more.ChanceFree, c.ChanceFree)
		}
		in.Plants[0].Count--
		in.Histories[0].Events[0].Finding.Severity = 3
		if worse := compute(t, in); worse.ChanceFree > c.ChanceFree {
			rt.Fatalf("severity 3: chance %v after %v", worse.ChanceFree, c.ChanceFree)
		}
	})
}

func TestModel_AnUntreatedBroodGrowsAndSoapDoesNotLeaveWhatItMissesAlone(t *testing.T) {
	t.Parallel()
	// 8 plants of which coverage misses a share of 0.02 each: 1 - 0.98^8 = 0.1492.
	c := compute(t, week(officeCase))
	near(t, "chance of a missed colony", c.ChanceMissed, 0.1492, 0.0001)
	if c.ExpectedLeft < 0.02 {
		t.Errorf("expected left %v: the missed share, 0.02 on the first day, grows while the rest is treated", c.ExpectedLeft)
	}
}

func TestModel_WithoutRemovalByHandSoapAloneLeavesFarMore(t *testing.T) {
	t.Parallel()
	with, without := week(officeCase), week(officeCase)
	without.Sites[0].Agreement.RefusedMethods = []catalogue.Method{catalogue.ByHand}
	a, b := compute(t, with), compute(t, without)
	if b.ChanceFree >= a.ChanceFree/2 || b.Looks.Needed <= a.Looks.Needed {
		t.Errorf("chance %v with, %v without; looks %d and %d", a.ChanceFree, b.ChanceFree, a.Looks.Needed, b.Looks.Needed)
	}
	if a.Proof.LastDay != b.Proof.LastDay {
		t.Errorf("the proof moved from day %d to %d: it knows no removal by hand beside the soap", a.Proof.LastDay, b.Proof.LastDay)
	}
}

func TestCourse_LengthLiesInsideThePractice(t *testing.T) {
	t.Parallel()
	// Weekly for 4 to 8 weeks, the last at least 3 weeks after the first (common practice, no source).
	for _, celsius := range []float64{16, 19, 22} {
		in := week(officeCase)
		in.Sites[0].Areas[0].Climate = climate(celsius, celsius+1, celsius+2)
		c := compute(t, in)
		if c.Proof.LastDay < 21 || c.Proof.LastDay > 56 {
			t.Errorf("%v °C: last day %d, practice says 4 to 8 weeks and at least 3", celsius, c.Proof.LastDay)
		}
	}
}
