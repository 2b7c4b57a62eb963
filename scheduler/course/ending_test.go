package course_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/course"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.Abs(got-want) > tolerance {
		t.Errorf("%s = %.5f, want %.5f", what, got, want)
	}
}

func TestLooks_FollowThePublishedFormulae(t *testing.T) {
	t.Parallel()
	// One infested of 8 plants, all looked at: Se = 1 - (1 - 0.6*8/8)^1 = 0.6.
	near(t, "sensitivity, all seen", course.LookSensitivity(0.6, 8, 8, 0), 0.6, 1e-12)
	near(t, "sensitivity, half seen", course.LookSensitivity(0.6, 4, 8, 0), 0.3, 1e-12)
	near(t, "sensitivity, two of 8 infested", course.LookSensitivity(0.6, 8, 8, 0.25), 1-0.4*0.4, 1e-12)
	near(t, "nothing looked at", course.LookSensitivity(0.6, 0, 8, 0), 0, 0)

	// From 0.85 with phi 0.6 and introduction 0.02: 0.85*0.98 = 0.833, 0.833/(1 - 0.167*0.6) = 0.9258.
	first := course.ChanceAfterLook(0.85, 0.6, 0.02)
	near(t, "after one look", first, 0.926, 0.0005)
	near(t, "after two looks", course.ChanceAfterLook(first, 0.6, 0.02), 0.961, 0.0005)

	// epiR (Stevenson and Sergeant), rsu.pfree.equ: plateau 0.986, at visit 9 from prior 0.50.
	near(t, "plateau", course.GreatestChance(0.6, 0.02), 0.986, 0.0005)
	chance := 0.5
	for range 9 {
		chance = course.ChanceAfterLook(chance, 0.6, 0.02)
	}
	near(t, "visit 9 from 0.5", chance, 0.986, 0.0006)
	near(t, "plateau with more brought in than seen", course.GreatestChance(0.01, 0.02), 0, 0)

	// Detection by two and three independent looks: 1 - 0.4^2 and 1 - 0.4^3.
	near(t, "two looks", 1-math.Pow(1-course.LookSensitivity(0.6, 1, 1, 0), 2), 0.84, 1e-9)
	near(t, "three looks", 1-math.Pow(1-course.LookSensitivity(0.6, 1, 1, 0), 3), 0.936, 1e-9)
}

func TestLooks_HowManyPlantsFollowsThePublishedWorkedValues(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name                   string
		sensitivity, detection float64
		plants                 int
		prevalence             float64
		want                   int
		source                 string
	}{
		// ln 0.05/ln(1 - 0.9*0.05) = 65.07.
		{"very many, 5 %, Se 0.90", 0.95, 0.90, 0, 0.05, 66, "epiR 2.0.94 surveillance vignette (Stevenson and Sergeant 2026)"},
		// 1000/0.9 (1 - 0.05^(1/50)) = 64.6; 500/0.9 (1 - 0.05^(1/25)) = 62.7.
		{"1000, 5 %, Se 0.90", 0.95, 0.90, 1000, 0.05, 65, "epiR manual and vignette"},
		{"500, 5 %, Se 0.90", 0.95, 0.90, 500, 0.05, 63, "the same"},
		// 20000/0.9 (1 - 0.05^(1/100)) = 655.8.
		{"20000, 0.5 %, Se 0.90", 0.95, 0.90, 20000, 0.005, 656, "the same"},
		// 200 (1 - 0.05^(1/40)) = 14.4; exactly 13: see TestLooks_TheApproximationLooksAtNoFewerThanTheExactNumber.
		{"200, 20 %, Se 1", 0.95, 1, 200, 0.20, 15, "epiR manual"},
		{"66 and more, 10 %, Se 1", 0.95, 1, 0, 0.10, 29, "40 CFR 1090.1805(a)(1),(2): 95 % confidence, 0 expected, 10 % tolerable"},
		// ln 0.05/ln(1 - 0.005) = 597.6: the 600 of the standard are enough, 0.9506.
		{"very many, 0.5 %, Se 1", 0.95, 1, 0, 0.005, 598, "600 fruit by CSIRO on ISPM 31"},
	} {
		if got := course.PlantsToLookAt(test.sensitivity, test.detection, test.plants, test.prevalence); got != test.want {
			t.Errorf("%s: %d plants, want %d (%s)", test.name, got, test.want, test.source)
		}
	}
	// By the formula for very many, C and detection with prevalences of 20, 10, 5, 2, 1, 0.5 and 0.1 % (own arithmetic).
	for _, row := range []struct {
		confidence, detection float64
		want                  []int
	}{
		{0.95, 1.0, []int{14, 29, 59, 149, 299, 598, 2995}},
		{0.95, 0.8, []int{18, 36, 74, 186, 373, 748, 3744}},
		{0.95, 0.5, []int{29, 59, 119, 299, 598, 1197, 5990}},
		{0.99, 1.0, []int{21, 44, 90, 228, 459, 919, 4603}},
	} {
		for i, prevalence := range []float64{0.20, 0.10, 0.05, 0.02, 0.01, 0.005, 0.001} {
			if got := course.PlantsToLookAt(row.confidence, row.detection, 0, prevalence); got != row.want[i] {
				t.Errorf("%v, %v, %v: %d plants, want %d", row.confidence, row.detection, prevalence, got, row.want[i])
			}
		}
	}
}

func TestLooks_HowManyPlantsFollowsThePublishedQuarantineSamples(t *testing.T) {
	t.Parallel()
	// McSorley and Littell 1993, Nematropica 23(2): 177-181, by the binomial distribution and perfect detection: 5 % infested ask for 59
	// and 90 samples for 95 and 99 %; 1 % for 299 and 459 by the same formula, which the abstract rounds up to 300 and 500.
	for _, row := range []struct {
		confidence, prevalence float64
		want, printed          int
	}{
		{0.95, 0.05, 59, 59}, {0.99, 0.05, 90, 90}, {0.95, 0.01, 299, 300}, {0.99, 0.01, 459, 500},
	} {
		if got := course.PlantsToLookAt(row.confidence, 1, 0, row.prevalence); got != row.want {
			t.Errorf("%v at %v: %d plants, want %d", row.confidence, row.prevalence, got, row.want)
		}
		enough, short := course.LookSensitivity(1, row.printed, 0, row.prevalence), course.LookSensitivity(1, row.want-1, 0, row.prevalence)
		if enough < row.confidence || short >= row.confidence {
			t.Errorf("%v at %v: the printed %d see %v, one less than %d %v", row.confidence, row.prevalence, row.printed, enough, row.want, short)
		}
	}
}

func TestLooks_WhatIsSeenFollowsThePublishedWorkedValues(t *testing.T) {
	t.Parallel()
	// 600 clean fruit, 0.5 %: 1 - 0.995^600 = 0.9506 (CSIRO on ISPM 31: 95 %).
	near(t, "600 clean", course.LookSensitivity(1, 600, 0, 0.005), 0.9506, 0.0001)
	// 300 clean, 1 %, Se 0.95: 1 - (1 - 0.0095)^300 = 0.943 (epiR vignette, example 4).
	near(t, "300 clean", course.LookSensitivity(0.95, 300, 0, 0.01), 0.943, 0.0005)
	// 20 whole plants, 20 %: more than 95 % needs a recognition of at least 0.696 (Spinner et al. 2011 state the 20 plants).
	near(t, "20 plants", course.LookSensitivity(0.696, 20, 0, 0.20), 0.95, 0.0005)
	near(t, "20 plants, always recognised", course.LookSensitivity(1, 20, 0, 0.20), 0.9885, 0.0001)
	// Two looks of 0.90 and 0.95 at one plant: either 1 - 0.10*0.05 = 0.995, both 0.855 (epiR rsu.dxtest).
	first, second := course.LookSensitivity(0.90, 1, 1, 0), course.LookSensitivity(0.95, 1, 1, 0)
	near(t, "either", 1-(1-first)*(1-second), 0.995, 1e-9)
	near(t, "both", first*second, 0.855, 1e-9)
	// P(free) of 0.95 in the end with 0.10 brought in asks for 0.69: 0.10/(1 - 0.95*0.90) = 0.6897 (epiR rsu.pfree.equ).
	near(t, "plateau of 0.69", course.GreatestChance(0.10/(1-0.95*0.90), 0.10), 0.95, 1e-9)
	if below, above := course.GreatestChance(0.685, 0.10), course.GreatestChance(0.69, 0.10); below >= 0.95 || above < 0.95 {
		t.Errorf("0.685 leads to %v and 0.69 to %v, want 0.95 between them", below, above)
	}
	// From 0.50 to 0.95 in one look with 0.01 brought in: Se = (1 - 0.495/0.95)/0.505 = 0.948, which 65 of very many
	// give at 5 % and Se 0.90 (epiR vignette).
	needed, ok := course.SensitivityNeeded(0.5, 0.01, 0.95, 1)
	near(t, "sensitivity for 0.95", needed, (1-0.495/0.95)/0.505, 1e-9)
	if n := course.PlantsToLookAt(needed, 0.90, 0, 0.05); !ok || n != 65 {
		t.Errorf("%d plants, %v, want 65", n, ok)
	}
	if _, ok := course.SensitivityNeeded(0, 0.02, 0.95, 8); ok {
		t.Error("from no chance at all looks lead nowhere")
	}
}

func TestLooks_TheApproximationLooksAtNoFewerThanTheExactNumber(t *testing.T) {
	t.Parallel()
	// Exact, detection 1: the least n with C(N-D, n)/C(N, n) <= 0.05. For N 200, D 40 it is 13 where the approximation says 15.
	exact := func(plants, infested int) int {
		missed := 1.0
		for n := 0; n < plants; n++ {
			if missed <= 0.05 {
				return n
			}
			missed *= max(0, float64(plants-infested-n)) / float64(plants-n)
		}
		return plants
	}
	for _, row := range []struct{ plants, infested, exact int }{
		{200, 40, 13},
		{100, 10, 25}, {100, 5, 45}, {100, 2, 78}, {100, 1, 95},
		{200, 20, 27}, {200, 10, 51}, {200, 4, 105}, {200, 2, 155},
		{1000, 100, 29}, {1000, 50, 57}, {1000, 20, 138}, {1000, 10, 258},
	} {
		got := exact(row.plants, row.infested)
		approximate := course.PlantsToLookAt(0.95, 1, row.plants, float64(row.infested)/float64(row.plants))
		if got != row.exact || approximate < got || approximate > got+got/10+2 {
			t.Errorf("%d of %d: exact %d, want %d; approximation %d", row.infested, row.plants, got, row.exact, approximate)
		}
	}
}

func TestLooks_NumberOfPlantsIsTheLeastThatShowsEnough(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		plants := rapid.IntRange(1, 400).Draw(rt, "plants")
		detection := rapid.Float64Range(0.05, 1).Draw(rt, "detection")
		prevalence := rapid.Float64Range(0, 0.5).Draw(rt, "prevalence")
		asked := rapid.Float64Range(0.01, 0.99).Draw(rt, "sensitivity")
		n := course.PlantsToLookAt(asked, detection, plants, prevalence)
		if n > plants {
			if course.LookSensitivity(detection, plants, plants, prevalence) >= asked {
				rt.Fatalf("%d of %d plants, though all of them are enough", n, plants)
			}
			return
		}
		if got := course.LookSensitivity(detection, n, plants, prevalence); got < asked-1e-9 {
			rt.Fatalf("%d plants show %v, asked %v", n, got, asked)
		}
		if got := course.LookSensitivity(detection, n-1, plants, prevalence); got >= asked+1e-9 {
			rt.Fatalf("%d plants show %v already, asked %v", n-1, got, asked)
		}
	})
}

func TestLooks_TheCourseSaysHowManyPlantsAndHowManyMoreVisits(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Plants[0].Count = 2
	c := compute(t, in)
	// A smaller bound lets a part of the plants do.
	if !c.Looks.Reachable || c.Looks.Plants < 1 || c.Looks.Plants > 2 {
		t.Fatalf("looks %+v", c.Looks)
	}
	for plants := 1; plants <= 2; plants++ {
		chance := c.Looks.Chance
		for range c.Looks.Needed - c.Looks.Made {
			chance = course.ChanceAfterLook(chance, course.LookSensitivity(0.6, plants, 2, 0), in.Policy.IntroductionPerLook)
		}
		if enough := chance >= c.Looks.Bound; enough != (plants >= c.Looks.Plants) {
			t.Errorf("looking at %d leads to %v; the course says %d", plants, chance, c.Looks.Plants)
		}
	}
	in.Policy.ClearBound = 0.87
	if eased := compute(t, in); eased.Looks.Plants > c.Looks.Plants || !strings.Contains(eased.Looks.Text, "without a find") {
		t.Errorf("a bound of 0.87 wants %d plants, one of 0.95 %d", eased.Looks.Plants, c.Looks.Plants)
	}
}

func TestLooks_OnDayOneTheCourseSaysThatTheBoundIsOutOfReachAndWhatTheChoicesCost(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Policy.IntroductionPerLook = 0.10
	c := compute(t, in)
	// (1 - 0.10/0.6)/(1 - 0.10) = 0.926 in the end, below the bound of 0.95.
	if c.Looks.Reachable {
		t.Fatalf("reachable from %v", c.Looks.Chance)
	}
	// 8 plants at 1 minute of 60 and half a visit of 2100: 1530, four looks 6120; removal 8 (2*60 + 100) + 2100 = 3860.
	for _, want := range []string{"do not bring", "even looks without end to 92.6 %", "15.30 for an inspection", "61.20 in four weeks", "removing the plants (38.60", "replacing them (about 309.00"} {
		if !strings.Contains(c.Looks.Text, want) {
			t.Errorf("%q is not said in: %s", want, c.Looks.Text)
		}
	}
}
