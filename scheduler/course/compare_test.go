package course_test

import (
	"math"
	"strings"
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
)

func partOf(t *testing.T, parts []course.CostPart, what string) quantity.Money {
	t.Helper()
	for _, part := range parts {
		if part.What == what {
			return part.Amount
		}
	}
	t.Fatalf("no part %q in %+v", what, parts)
	return 0
}

// The sums of the weekly soap on eight pothos, by hand, at the default rates: 0.60 a minute, 1.50 a litre, 21.00 a visit of which
// half counts, 1 minute a look and plant.
func TestCompare_PartsAreTheSumsByHand(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	value := quantity.Money(3200) // 32.00 a plant
	in.Plants[0].Replacement = &value
	c := compute(t, in)
	r := c.Replacement
	loss := float64(7*3060) + 0.15*8*3200 // one more run, and 15 % of the plants' value at severity 2
	for _, part := range []struct {
		of   []course.CostPart
		what string
		want quantity.Money
		sum  string
	}{
		{r.CourseParts, "applications", 13440, "7 x 8 plants x 4 min x 0.60"},
		{r.CourseParts, "material", 630, "7 x 0.6 L x 1.50"},
		{r.CourseParts, "looks", 4320, "9 looks (7 before applications, 2 to the end) x 8 min x 0.60"},
		{r.CourseParts, "visits", 9450, "9 days x half of 21.00; the looks of an application ride with it"},
		{r.CourseParts, "expected loss", quantity.Money(math.Round((1 - c.ChanceFree) * loss)), "the chance of not being clear x (7 x 30.60 + 15 % of 256.00)"},
		{r.ReplacementParts, "plants", 25600, "8 x 32.00"},
		{r.ReplacementParts, "fitting", 2400, "8 x 5 min x 0.60"},
		{r.ReplacementParts, "waste", 800, "8 x 1.00"},
		{r.ReplacementParts, "a visit", 2100, "21.00"},
	} {
		if got := partOf(t, part.of, part.what); got != part.want {
			t.Errorf("%s: %v, want %v = %s", part.what, got, part.want, part.sum)
		}
	}
	var course, replacement quantity.Money
	for _, part := range r.CourseParts {
		course += part.Amount
	}
	for _, part := range r.ReplacementParts {
		replacement += part.Amount
	}
	if course != r.Course || replacement != r.Replacement || replacement != 30900 {
		t.Errorf("parts add up to %v and %v, told are %v and %v", course, replacement, r.Course, r.Replacement)
	}
}

// The spread is that of the model: its insect-days until the last application, times the policy's rate, times the neighbours' value.
func TestCompare_SpreadIsTheModelsInsectDays(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	value := quantity.Money(5000)
	in.Plants[1].Replacement = &value // two figs beside them
	in.Sites[0].Areas[0].Climate = climate(21, 21, 21)
	c := compute(t, in)
	hand := in.Catalogue.Materials["removal-by-hand"]
	model := course.ModelOf(in.Catalogue, in.Catalogue.Pests["citrus-mealybug"], in.Catalogue.Materials["insecticidal-soap"], &hand, 21)
	var days []int
	for i := range c.Proof.Applications {
		days = append(days, i*c.Proof.LagDays)
	}
	start := in.Policy.StartPerPlant[2] * 8
	want := start * model.InsectDays(c.Proof.LastDay, days...) * in.Policy.SpreadPerInsectDay * float64(2*value)
	if got := float64(partOf(t, c.Replacement.CourseParts, "expected spread")); want < 1 || math.Abs(got-want) > 1 {
		t.Errorf("spread %v, want %.1f", got, want)
	}
	in.Plants = in.Plants[:1]
	if got := partOf(t, compute(t, in).Replacement.CourseParts, "expected spread"); got != 0 {
		t.Errorf("without neighbours it spreads for %v", got)
	}
}

func TestCompare_ACourseThatCannotClearIsNeverTheCheaper(t *testing.T) {
	t.Parallel()
	dear := func(in course.Input) course.Input {
		value := quantity.Money(1000000)
		for i := range in.Plants {
			in.Plants[i].Replacement = &value
		}
		return in
	}
	for name, in := range map[string]course.Input{
		"holds down":               week(lobbyCase),
		"capped":                   turning("two-spotted-mite", 2, "insecticidal-soap"),
		"bound out of reach":       turning("western-flower-thrips", 0, "insecticidal-soap", "pyrethrins"),
		"a systemic that holds it": figWithScale(),
	} {
		c := compute(t, dear(in))
		if c.Proof.Clears && c.Looks.Reachable {
			t.Fatalf("%s: it can clear", name)
		}
		if c.Replacement.Cheaper != "" || strings.Contains(c.Replacement.Text, "is the cheaper") || !strings.Contains(c.Replacement.Text, "does not end the case") {
			t.Errorf("%s: cheaper %q: %s", name, c.Replacement.Cheaper, c.Replacement.Text)
		}
		cheap := quantity.Money(1)
		for i := range in.Plants {
			in.Plants[i].Replacement = &cheap
		}
		if c := compute(t, in); c.Replacement.Cheaper != course.CheaperReplacement {
			t.Errorf("%s: plants for a cent, and cheaper is %q", name, c.Replacement.Cheaper)
		}
	}
	if c := compute(t, dear(week(officeCase))); c.Replacement.Cheaper != course.CheaperCourse {
		t.Errorf("a course that clears dear plants: cheaper %q: %s", c.Replacement.Cheaper, c.Replacement.Text)
	}
}

// What was spent is spent: of a course under way only what is still to come counts.
func TestCompare_CountsFromToday(t *testing.T) {
	t.Parallel()
	in := on(with(week(officeCase), sprayed("s-1", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a")), date("2026-03-04"))
	if got := partOf(t, compute(t, in).Replacement.CourseParts, "applications"); got != 6*1920 {
		t.Errorf("after one of seven: %v, want 6 x 19.20", got)
	}
}

func TestCourse_PolicyMapsSeverityToWhatIsTreated(t *testing.T) {
	t.Parallel()
	extents := func(extent catalogue.Extent, severity int) course.Input {
		in := withPlants(week(officeCase), "O-c")
		in.Histories[0].Events[0].Finding.Severity = severity
		for i, p := range in.Plants {
			if p.Site == "O" {
				in.Plants[i].Tolerance = in.Plants[0].Tolerance
			}
			if p.ID == "O-b" {
				in.Plants[i].Touches = append(in.Plants[i].Touches, "O-a")
			}
		}
		in.Policy.ExtentBySeverity[severity] = extent
		return in
	}
	for _, test := range []struct {
		extent    catalogue.Extent
		severity  int
		material  catalogue.MaterialID
		plants    int
		replaced  bool
		likewise  string
		neighbour bool
	}{
		{catalogue.ExtentSpot, 2, "removal-by-hand", 1, false, "few, by hand", false},
		{catalogue.ExtentWhole, 1, "insecticidal-soap", 1, false, "every plant whole", false},
		{"", 2, "insecticidal-soap", 1, false, "the catalogue's default", false},
		{catalogue.ExtentTouching, 2, "insecticidal-soap", 2, false, "and the figs that touch", true},
		{catalogue.ExtentNeighbours, 2, "insecticidal-soap", 2, false, "and the neighbours", true},
		{"", 3, "insecticidal-soap", 2, false, "the catalogue's default", true},
		{catalogue.ExtentRemoval, 3, "", 0, true, "replaced", false},
	} {
		c := compute(t, extents(test.extent, test.severity))
		first := kind(c, course.KindApplication)
		if c.Material != test.material || len(kind(c, course.KindReplacement)) > 0 != test.replaced {
			t.Errorf("%s at severity %d: %q, replaced %v; want %q (%s)", test.extent, test.severity, c.Material, kind(c, course.KindReplacement), test.material, test.likewise)
		}
		if plants := map[string]bool{}; len(first) > 0 {
			for _, id := range first[0].Plants {
				plants[string(id)] = true
			}
			if !plants["O-a"] || plants["O-b"] != test.neighbour {
				t.Errorf("%s at severity %d: on %v (%s)", test.extent, test.severity, first[0].Plants, test.likewise)
			}
		}
	}
}

func TestCourse_RemovalByPolicyGivesWayToPeople(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Policy.ExtentBySeverity[2] = catalogue.ExtentRemoval
	c := compute(t, in)
	if f := kind(c, course.KindReplacement); len(f) != 1 || !strings.Contains(f[0].Reason, "by the business's policy for severity 2") || len(kind(c, course.KindApplication)) > 0 {
		t.Errorf("follow-ups %v: want a replacement by policy alone", c.FollowUps)
	}
	if !strings.Contains(c.Replacement.Text, "the course costs about") {
		t.Errorf("the course is not put beside it: %q", c.Replacement.Text)
	}
	in = with(in, told("d-1", "2026-03-03", func(e *course.Event) { e.Decision = &course.Decision{Kind: course.DecideTreat, By: "client"} }))
	if c := compute(t, on(in, date("2026-03-03"))); len(kind(c, course.KindReplacement)) > 0 || c.Chosen != "soap-s" {
		t.Errorf("people decided to treat, and %q is chosen, replaced %v", c.Chosen, kind(c, course.KindReplacement))
	}
}

func TestCourse_AnExtentThatIsNoneIsAnError(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Policy.ExtentBySeverity[1] = "everything"
	_, err := course.Compute(in)
	if err == nil || !strings.Contains(err.Error(), "policy.extent_by_severity[1]") || !strings.Contains(err.Error(), "neighbours") {
		t.Errorf("%v, want the field and what would be right", err)
	}
}
