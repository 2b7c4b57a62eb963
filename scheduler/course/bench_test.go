package course_test

import (
	"testing"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
)

// BenchmarkModel_Run is one run of the model over a course of a year of weekly applications: at most 2 ms.
func BenchmarkModel_Run(b *testing.B) {
	c := catalogue.Shipped()
	model := course.ModelOf(c, c.Pests["citrus-mealybug"], c.Materials["insecticidal-soap"], nil, 21)
	days := weeksOfYear()
	for b.Loop() {
		model.Left(days...)
	}
}

// BenchmarkModel_Chance is the chance after the same year.
func BenchmarkModel_Chance(b *testing.B) {
	c := catalogue.Shipped()
	model := course.ModelOf(c, c.Pests["citrus-mealybug"], c.Materials["insecticidal-soap"], nil, 21)
	days := weeksOfYear()
	for b.Loop() {
		model.Chance(480, 8, days...)
	}
}

// BenchmarkModel_Build is the model of a pest and a material with its stable ages.
func BenchmarkModel_Build(b *testing.B) {
	c := catalogue.Shipped()
	hand := c.Materials["removal-by-hand"]
	for b.Loop() {
		course.ModelOf(c, c.Pests["citrus-mealybug"], c.Materials["insecticidal-soap"], &hand, 21)
	}
}

func TestModel_ARunTakesAtMostTwoMilliseconds(t *testing.T) {
	c := catalogue.Shipped()
	hand := c.Materials["removal-by-hand"]
	// The fastest of some: what else the machine does counts for nothing.
	fastest := time.Hour
	for range 20 {
		began := time.Now()
		model := course.ModelOf(c, c.Pests["citrus-mealybug"], c.Materials["insecticidal-soap"], &hand, 21)
		model.Left(weeksOfYear()...)
		model.Chance(480, 8, weeksOfYear()...)
		fastest = min(fastest, time.Since(began))
	}
	if fastest > 2*time.Millisecond {
		t.Errorf("building and running the model over a year takes %v, want at most 2 ms", fastest)
	}
}

// weeksOfYear are 52 weekly applications.
func weeksOfYear() []int {
	days := make([]int, 52)
	for i := range days {
		days[i] = 7 * i
	}
	return days
}

// BenchmarkCompute_ARowThatTurns is a course of eight applications that turns to another product three times.
func BenchmarkCompute_ARowThatTurns(b *testing.B) {
	in := turning("western-flower-thrips", 2, "insecticidal-soap", "pyrethrins")
	for b.Loop() {
		compute(b, in)
	}
}
