package course_test

import (
	"math"
	"testing"

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
