package course_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
)

// turning is a case of a shipped pest on the office's pothos with products of several shipped materials, which the plants
// stand, each of whose labels allows so many applications in a row; 0 is no cap.
func turning(pest catalogue.PestID, inRow int, materials ...catalogue.MaterialID) course.Input {
	in := inCase(week(officeCase), "O", pest, 2, "O-a")
	in.Products, in.Plants[0].Tolerance, in.Policy.OrderDays = nil, nil, 0
	for _, material := range materials {
		p := productOf(catalogue.ProductID(material+"-x"), material, pest)
		p.Name = in.Catalogue.Materials[material].Name + " X"
		p.Label.LeastDays, p.Label.MostInRow, p.Label.KeepAway = 3, inRow, nil
		if in.Catalogue.Materials[material].Living != nil {
			p.Form = catalogue.Living
		}
		in.Products = append(in.Products, p)
		in.Plants[0].Tolerance = append(in.Plants[0].Tolerance, catalogue.Tolerance{Material: material, Verdict: catalogue.Stands, Standing: catalogue.OwnRecords})
	}
	return in
}

// rows are cases whose sequences turn, with the products in the order in which they are planned.
func rows() []struct {
	name  string
	input course.Input
	want  string // S soap, O oil, P pyrethrins, B Bti, N nematodes, U neem
} {
	return []struct {
		name  string
		input course.Input
		want  string
	}{
		{"mites, two in a row", turning("two-spotted-mite", 2, "insecticidal-soap", "horticultural-oil"), "OOSS"},
		{"mites, three in a row", turning("two-spotted-mite", 3, "insecticidal-soap", "horticultural-oil"), "OOOS"},
		{"thrips, two in a row", turning("western-flower-thrips", 2, "insecticidal-soap", "pyrethrins"), "PPSSPPSS"},
		{"whitefly, three in a row", turning("greenhouse-whitefly", 3, "horticultural-oil", "pyrethrins"), "OOOPPPO"},
		{"whitefly, a generation", turning("greenhouse-whitefly", 0, "insecticidal-soap", "pyrethrins"), "PPPPPPS"},
		{"gnats, a generation", turning("fungus-gnat", 0, "bti-drench", "steinernema-feltiae"), "BBBBBBBBBNNN"},
		{"mites, three generations", turning("two-spotted-mite", 0, "pyrethrins", "neem-azadirachtin"), "UUUPPPU"},
	}
}

// letter is that of a product of a follow-up.
func letter(f course.FollowUp) string {
	product := string(f.Ways[0].Parts[0].Use.Product)
	letters := map[string]string{"insecticidal": "S", "horticultural": "O", "pyrethrins": "P", "bti": "B", "steinernema": "N", "neem": "U"}
	word, _, _ := strings.Cut(product, "-")
	return letters[word]
}

func letters(all []course.FollowUp) string {
	text := ""
	for _, f := range all {
		text += letter(f)
	}
	return text
}

func TestCourse_ARowTurnsToAnotherGroupWhereCapsOrGenerationsAskForIt(t *testing.T) {
	t.Parallel()
	for _, row := range rows() {
		c := compute(t, row.input)
		all := kind(c, course.KindApplication)
		if got := letters(all); got != row.want {
			t.Errorf("%s: planned %s, want %s", row.name, got, row.want)
		}
		turns := 0
		for i := range all {
			if !slices.IsSorted(all[i].PricePerDay) || len(all[i].PricePerDay) == 0 || all[i].LeftOutPrice < all[i].PricePerDay[len(all[i].PricePerDay)-1] {
				t.Errorf("%s: %s is priced %v, left out %v", row.name, all[i].ID, all[i].PricePerDay, all[i].LeftOutPrice)
			}
			if i > 0 && letter(all[i]) != letter(all[i-1]) {
				turns++
				if turn := c.Turns[turns-1]; turn.On != all[i].Expected || turn.Reason == "" || !strings.Contains(all[i].Reason, turn.Reason) {
					t.Errorf("%s: turn %+v, application %s: %q", row.name, turn, all[i].ID, all[i].Reason)
				}
			}
		}
		if turns != len(c.Turns) {
			t.Errorf("%s: %d turns are told, want %d", row.name, len(c.Turns), turns)
		}
	}
}

// What is planned is what comes: when an application was made on its day, the next keeps the id and the product that it had before;
// only one that moves to a better day, which saves some, may be of another product there.
func TestCourse_ARowFollowedOnItsDaysIsTheOneThatWasPlanned(t *testing.T) {
	t.Parallel()
	kept := 0
	for _, row := range rows() {
		in, same := row.input, 0
		all := kind(compute(t, in), course.KindApplication)
		for n := 0; len(all) > 0; n++ {
			product := all[0].Ways[0].Parts[0].Use.Product
			in = on(with(in, sprayed(fmt.Sprintf("a-%d", n), product, all[0].Expected, all[0].ID, all[0].Plants...)), all[0].Expected)
			c := compute(t, in)
			left := kind(c, course.KindApplication)
			if len(left) == 0 {
				break
			}
			if len(all) < 2 {
				t.Errorf("%s: after the last, %s of %s on %v, another is planned: %s of %s on %v: %s", row.name, all[0].ID, letter(all[0]), all[0].Expected, left[0].ID, letter(left[0]), left[0].Expected, left[0].Reason)
				break
			}
			moved := left[0].Expected != all[1].Expected
			if left[0].ID != all[1].ID || !moved && letter(left[0]) != letter(all[1]) || c.Run != 1 {
				t.Errorf("%s: after %s the next is %s of %s on %v in run %d; planned %s of %s on %v", row.name, all[0].ID,
					left[0].ID, letter(left[0]), left[0].Expected, c.Run, all[1].ID, letter(all[1]), all[1].Expected)
			}
			if !moved {
				same++
			}
			all = left
		}
		kept += same
	}
	if kept < 20 {
		t.Errorf("only %d applications kept their day", kept)
	}
}

// Followed on any day of its windows a row keeps its run, ends, keeps every cap, and by a simulation of its own leaves nothing.
func TestCourse_ARowThatTurnsClearsAnywhereInItsWindowsAndKeepsItsCaps(t *testing.T) {
	t.Parallel()
	const histories = 36 // each computes a course some ten times
	random := rand.New(rand.NewPCG(1, 2))
	pests := []catalogue.PestID{"two-spotted-mite", "greenhouse-whitefly", "western-flower-thrips"}
	for n := range histories {
		pest, most := pests[n%len(pests)], 1+n/len(pests)%4
		in := turning(pest, most, "insecticidal-soap", "horticultural-oil", "pyrethrins")
		made, ok := followedThrough(t, in, most, random)
		for k := range 2 { // at the coldest, at the warmest
			if left := survivors(in, pest, made, k); ok && left > 0 {
				t.Fatalf("%v leave %d cells of ages by model %d", made, left, k)
			}
		}
	}
}

// followedThrough makes what a course asks for on any days of its windows until nothing is asked for; ok is false where the course does
// not say that it clears.
func followedThrough(t *testing.T, in course.Input, mostInRow int, random *rand.Rand) (made []used, ok bool) {
	t.Helper()
	c := compute(t, in)
	if !c.Proof.Clears {
		return []used{{date("2026-03-02"), in.Products[0].Material}}, false
	}
	for n := 0; len(kind(c, course.KindApplication)) > 0; n++ {
		if n > 60 {
			t.Fatalf("no end after %v", made)
		}
		next := kind(c, course.KindApplication)[0]
		to := max(next.Due.LatestOn, next.Due.StandsUntilOn)
		day := next.Due.EarliestOn.AddDays(random.IntN(1 + to.DaysSince(next.Due.EarliestOn)))
		product := next.Ways[0].Parts[0].Use.Product
		made = append(made, used{day, in.Products[slices.IndexFunc(in.Products, func(p catalogue.Product) bool { return p.ID == product })].Material})
		if tail := made[max(0, len(made)-mostInRow-1):]; len(tail) > mostInRow && !slices.ContainsFunc(tail, func(u used) bool { return u.material != tail[0].material }) {
			t.Fatalf("more than %d in a row: %v", mostInRow, made)
		}
		in = on(with(in, sprayed(fmt.Sprintf("a-%d", n), product, day, next.ID, "O-a")), day)
		if c = compute(t, in); c.Run != 1 {
			t.Fatalf("run %d though every application lay in its window: %v", c.Run, made)
		}
	}
	return made, true
}

// used is one application of a material on a day.
type used struct {
	on       civil.Date
	material catalogue.MaterialID
}

// survivors fills cells of a tenth of a day by age, moves them on, lets adults lay and empties what each application's own
// material reaches: the propagation of ages done the long way round. It counts the cells that live after the last.
func survivors(in course.Input, pest catalogue.PestID, made []used, model int) int {
	const perDay = 10
	reach := map[catalogue.MaterialID]course.Ages{}
	for _, u := range made {
		models, _, _ := course.LivesOf(in.Catalogue, in.Catalogue.Pests[pest], in.Catalogue.Materials[u.material], 3, u.on, u.on, course.Spell{Season: in.Sites[0].Areas[0].Climate[0]})
		reach[u.material] = models[model].Ages()
	}
	ages := reach[made[0].material]
	total, laying := 0.0, 0.0
	for i, stage := range ages {
		if i == len(ages)-1 {
			laying = total
		}
		total += stage.Days
	}
	alive := make([]bool, int(total*perDay))
	for i := range alive {
		alive[i] = true
	}
	for n, u := range made {
		if n > 0 {
			for range perDay * u.on.DaysSince(made[n-1].on) {
				lays := slices.Contains(alive[int(laying*perDay)+1:], true)
				copy(alive[1:], alive)
				alive[0] = lays
			}
		}
		for i := range alive {
			if reachedAt(reach[u.material], (float64(i)+0.5)/perDay) {
				alive[i] = false
			}
		}
	}
	left := 0
	for _, cell := range alive {
		if cell {
			left++
		}
	}
	return left
}

// reachedAt says whether an application meets an age: partly reached counts, but for the adult that lays.
func reachedAt(ages course.Ages, age float64) bool {
	from := 0.0
	for i, stage := range ages {
		if age < from+stage.Days {
			whole := stage.UpToDays == 0 || age < from+stage.UpToDays
			return whole && (stage.Reach == catalogue.Reached || stage.Reach == catalogue.Partly && i < len(ages)-1)
		}
		from += stage.Days
	}
	return false
}

func TestCourse_WithoutASecondProductTheRowEndsAndSaysWhatEscapes(t *testing.T) {
	t.Parallel()
	c := compute(t, turning("two-spotted-mite", 2, "insecticidal-soap"))
	if n := len(kind(c, course.KindApplication)); n != 2 || c.Proof.Clears || len(c.Turns) > 0 {
		t.Errorf("%d applications, clears %v, turns %v: want two and no more", n, c.Proof.Clears, c.Turns)
	}
	for _, want := range []string{"allows 2 in a row", "no product of another group", "there live on by the ages eggs", "What would help"} {
		if !strings.Contains(c.Proof.Text, want) {
			t.Errorf("not said: %q in %q", want, c.Proof.Text)
		}
	}
}

// Looks to the end begin when what the last product spares has shown itself: oil meets the eggs, soap does not.
func TestCourse_LooksAfterARowWaitForWhatItsLastProductSpares(t *testing.T) {
	t.Parallel()
	c := compute(t, turning("two-spotted-mite", 2, "insecticidal-soap", "horticultural-oil"))
	last := kind(c, course.KindApplication)[3]
	// Eggs at 18 °C: 63.35/(18-12.87) = 12.35 days (Egypt. Acad. J. Biol. Sci., eajbsa article 12844).
	if want := last.Expected.AddDays(13); letter(last) != "S" || c.Looks.FirstOn != want {
		t.Errorf("last %s on %v, first look %v, want %v", letter(last), last.Expected, c.Looks.FirstOn, want)
	}
}

func TestCourse_BetweenTwoMaterialsTheStricterOfBothLabelsHolds(t *testing.T) {
	t.Parallel()
	// Oil, then soap; both labels keep the two apart, the longer wait of the two holds, both ways.
	for _, test := range []struct {
		name         string
		oil, soap    int // days that the label of each asks for from the other
		least, ideal int
	}{
		{"nothing said", 0, 0, 1, 5}, {"oil's label", 9, 0, 9, 9}, {"soap's label", 0, 8, 8, 8}, {"both", 6, 8, 8, 8},
	} {
		in := turning("two-spotted-mite", 2, "insecticidal-soap", "horticultural-oil")
		in.Products[0].Label.Incompatible = []catalogue.Incompatible{{Material: "horticultural-oil", Days: test.soap}}
		in.Products[1].Label.Incompatible = []catalogue.Incompatible{{Material: "insecticidal-soap", Days: test.oil}}
		all := kind(compute(t, in), course.KindApplication)
		if got := all[2].Due; letter(all[2]) != "S" || got.EarliestLag != test.least || got.IdealLag != test.ideal || got.LatestLag < got.IdealLag || got.StandsUntilLag < got.LatestLag {
			t.Errorf("%s: third application %s %+v, want soap from %d, best %d days after", test.name, letter(all[2]), got, test.least, test.ideal)
		}
	}
}

func TestCourse_WhatIsTurnedToHasItsOwnApprovalAmountWayAndPatchTest(t *testing.T) {
	t.Parallel()
	in := turning("two-spotted-mite", 2, "insecticidal-soap", "horticultural-oil")
	in.Plants[0].Tolerance[0].Verdict = catalogue.PatchTest // soap, to which it turns
	in.Products[0].Label.Entry = catalogue.Entry{Kind: catalogue.EntryHours, Hours: 12 * 3600e9}
	in = with(in, approved("a-1", date("2026-03-02"), "horticultural-oil-x", course.InPlace))
	c := compute(t, in)
	all, tests := kind(c, course.KindApplication), kind(c, course.KindPatchTest)
	if letters(all) != "OOSS" || !all[0].Approved || all[2].Approved {
		t.Errorf("%s, approved %v and %v: want the oil alone approved", letters(all), all[0].Approved, all[2].Approved)
	}
	if use := all[2].Ways[0].Parts[0].Use; use.KeepOut.Hours() != 12 || use.Doses[0].Amount.Sign() <= 0 {
		t.Errorf("soap is used as %+v, want its own label's 12 hours", use)
	}
	if len(tests) != 1 || letter(tests[0]) != "S" || tests[0].Expected > all[2].Expected.AddDays(-in.Policy.PatchTestDays) {
		t.Fatalf("patch tests %+v, want one of soap, two days before it", tests)
	}
	for _, link := range []course.LinkKind{course.LeastLag, course.Needs} {
		if !slices.ContainsFunc(c.Links, func(l course.Link) bool { return l.Kind == link && l.From == tests[0].ID && l.To == all[2].ID }) {
			t.Errorf("no link %s from the test to the application", link)
		}
	}
	caps := strings.Join(c.Cautions, "\n")
	if strings.Count(caps, "Eyes, rinse at once") != 1 {
		t.Errorf("cautions of both products are said twice or not at all: %q", c.Cautions)
	}
}

// A contact product holds the pest until the systemic works: 14 to 21 days (catalogue).
func TestCourse_AContactProductCoversASlowSystemic(t *testing.T) {
	t.Parallel()
	in := turning("brown-soft-scale", 0, "imidacloprid-soil", "insecticidal-soap")
	c := compute(t, in)
	all := kind(c, course.KindApplication)
	covers := slices.DeleteFunc(slices.Clone(all), func(f course.FollowUp) bool { return letter(f) != "S" })
	if c.Chosen != "imidacloprid-soil-x" || c.Cover != "insecticidal-soap-x" || len(kind(c, course.KindLeafWashing)) > 0 {
		t.Fatalf("chosen %q, cover %q, washings %v", c.Chosen, c.Cover, kind(c, course.KindLeafWashing))
	}
	// Practice repeats soap on soft scale every 6 to 7 days: on days 6, 12 and 18 of 21.
	for i, f := range covers {
		if want := all[0].Expected.AddDays(6 * (i + 1)); f.Expected != want || !strings.Contains(f.Reason, "contact cover") || f.Approved {
			t.Errorf("cover %s on %v: %q, want it on %v", f.ID, f.Expected, f.Reason, want)
		}
	}
	if len(covers) != 3 || covers[0].Due.After != all[0].ID || covers[1].Due.After != covers[0].ID {
		t.Errorf("%d covers, the first %+v", len(covers), covers[0].Due)
	}
	// The cover is no round of the systemic: its next application stays where it was, under its id, and it stays the chosen one.
	next := all[slices.IndexFunc(all[1:], func(f course.FollowUp) bool { return letter(f) == "" })+1]
	in = on(with(in, sprayed("s-1", "imidacloprid-soil-x", all[0].Expected, all[0].ID, "O-a"), sprayed("s-2", "insecticidal-soap-x", covers[0].Expected, covers[0].ID, "O-a")), covers[0].Expected)
	c = compute(t, in)
	later := kind(c, course.KindApplication)
	at := slices.IndexFunc(later, func(f course.FollowUp) bool { return letter(f) == "" })
	if c.Chosen != "imidacloprid-soil-x" || later[at].ID != next.ID || later[at].Expected != next.Expected {
		t.Errorf("after a cover: chosen %q, next %s on %v; want %s on %v", c.Chosen, later[at].ID, later[at].Expected, next.ID, next.Expected)
	}
	if later[0].ID != covers[1].ID || later[0].Expected != covers[1].Expected {
		t.Errorf("next cover %s on %v, want %s on %v", later[0].ID, later[0].Expected, covers[1].ID, covers[1].Expected)
	}
}

// Soap that was in use before somebody also applied a systemic goes on as itself: it does not become the systemic's cover.
func TestCourse_ASystemicAppliedBesideARowDoesNotTakeItOver(t *testing.T) {
	t.Parallel()
	in := turning("citrus-mealybug", 0, "insecticidal-soap", "imidacloprid-soil")
	in = with(in, sprayed("s-1", "insecticidal-soap-x", date("2026-03-03"), "C/application/1/1", "O-a"),
		sprayed("s-2", "imidacloprid-soil-x", date("2026-03-05"), "", "O-a"), sprayed("s-3", "insecticidal-soap-x", date("2026-03-10"), "C/application/1/2", "O-a"))
	c := compute(t, on(in, date("2026-03-11")))
	if c.Chosen != "insecticidal-soap-x" || c.Run != 1 || c.Cover != "" {
		t.Errorf("chosen %q in run %d, cover %q: want the soap to go on", c.Chosen, c.Run, c.Cover)
	}
}

func TestCourse_InsideATimeWithoutLeachingLeavesAreWipedNotWashed(t *testing.T) {
	t.Parallel()
	// No water through the pot for 10 days or 3 waterings, whichever is longer (a granule's label): 3 x 7 days here.
	for _, f := range kind(compute(t, figWithScale()), course.KindLeafWashing) {
		wiped := strings.Contains(f.Reason, "wipe off with a damp cloth") && strings.Contains(f.Reason, "wash nothing")
		if inside := f.Expected < date("2026-03-24"); wiped != inside {
			t.Errorf("%s on %v: %q", f.ID, f.Expected, f.Reason)
		}
	}
	// The film of an oil that covers is wiped off too.
	in := turning("brown-soft-scale", 0, "imidacloprid-soil", "horticultural-oil")
	rinses := kind(compute(t, in), course.KindLeafWashing)
	for _, f := range rinses {
		if wiped := strings.Contains(f.Reason, "rinse nothing"); wiped != (f.Expected < date("2026-03-13").AddDays(1)) {
			t.Errorf("%s on %v: %q", f.ID, f.Expected, f.Reason)
		}
	}
	if len(rinses) == 0 {
		t.Error("oil leaves a film and nothing takes it off")
	}
}
