package course_test

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// invented puts a material of the test's own into a copy of the catalogue.
func invented(in course.Input, materials ...catalogue.Material) course.Input {
	c := *in.Catalogue
	c.Materials = maps.Clone(c.Materials)
	for _, m := range materials {
		c.Materials[m.ID] = m
	}
	in.Catalogue = &c
	return in
}

// against is a material that reaches every stage of a pest but its eggs.
func against(in course.Input, id catalogue.MaterialID, pest catalogue.PestID) catalogue.Material {
	m := catalogue.Material{
		ID: id, Name: strings.ReplaceAll(string(id), "-", " "), Method: catalogue.WholePlantSpray, Law: catalogue.RegisteredProduct,
		MinutesPerPlant: catalogue.Figure{Value: 4, Unit: catalogue.UnitMinutes, Standing: catalogue.Assumption},
		Tolerated:       &catalogue.Tolerance{Verdict: catalogue.Stands, Standing: catalogue.CommonPractice},
		AmountBySize:    []catalogue.AmountBySize{{UpToHeightCM: 200, Millilitres: catalogue.Range{Near: 100, Far: 100, Unit: catalogue.UnitMillilitres}}},
		Ceilings:        map[catalogue.PestID]catalogue.Range{pest: {Near: 7, Far: 10, Unit: catalogue.UnitDays, Standing: catalogue.Assumption}},
	}
	for i, stage := range in.Catalogue.Pests[pest].Stages {
		reach, kill := catalogue.Reached, 0.9
		if i == 0 {
			reach, kill = catalogue.Spared, 0
		}
		m.Effects = append(m.Effects, catalogue.Effect{Pest: pest, Stage: stage.ID, Reach: reach, Kill: catalogue.Figure{Value: kill, Unit: catalogue.UnitShare, Standing: catalogue.Assumption}})
	}
	return m
}

// productOf is a product of a material with the soap's label, for a pest.
func productOf(id catalogue.ProductID, material catalogue.MaterialID, pest catalogue.PestID) catalogue.Product {
	p := soap()
	p.ID, p.Name, p.Material = id, string(id), material
	p.Label.Pests = []catalogue.PestID{pest}
	return p
}

// gnatsInTheOffice is a second case on the office's pothos: its own pest, its own history.
func gnatsInTheOffice(in course.Input, events ...course.Event) course.Input {
	in.Histories = append(in.Histories, course.History{Case: "N", Site: "O", Pest: "fungus-gnat", Plants: []site.PlantID{"O-a"}, Events: append([]course.Event{
		finding("n-1", "2026-03-02T14:40:00Z", course.Finding{Pest: "fungus-gnat", Certainty: course.Confirmed, Life: course.Living, Severity: 2, Plants: []site.PlantID{"O-a"}}),
	}, events...)})
	return in
}

func TestCourse_WhatAnotherCaseAppliedToThePlantCountsForIt(t *testing.T) {
	t.Parallel()
	// The soap went on for the other case, on Tuesday: the label's 7 days hold for this one too.
	in := on(gnatsInTheOffice(week(officeCase), sprayed("n-2", "soap-s", date("2026-03-03"), "N/application/1/1", "O-a")), date("2026-03-04"))
	next := kind(compute(t, in), course.KindApplication)[0]
	if next.Due.EarliestOn != date("2026-03-10") || next.ID != "M/application/1/2" {
		t.Errorf("next %s from %v, want M/application/1/2 from 10 March", next.ID, next.Due.EarliestOn)
	}
	in.Products[0].Label.MostInRow = 1
	if got := strings.Join(refusalOf(compute(t, in), "soap-s"), "; "); !strings.Contains(got, "allows 1 application in a row and 1 were made") {
		t.Errorf("the cap is not the plant's: %q", got)
	}
}

func TestCourse_AnApplicationToldInTwoCasesCountsOnce(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Products[0].Label.MostAYear = 2
	one := sprayed("n-2", "soap-s", date("2026-03-03"), "", "O-a")
	two := one
	two.ID = "m-2"
	in = on(with(gnatsInTheOffice(in, one), two), date("2026-03-04"))
	c := compute(t, in)
	if n := len(kind(c, course.KindApplication)); n != 1 || kind(c, course.KindApplication)[0].ID != "M/application/1/2" {
		t.Errorf("%d applications left of 2 a year after one made, first %v", n, c.FollowUps[0].ID)
	}
}

func TestCourse_CapsAreCountedByPlant(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	more := in.Plants[0]
	more.ID, more.Name, more.Count = "O-c", "pothos by the window", 3
	in.Plants = append(in.Plants, more)
	in.Histories[0].Plants = []site.PlantID{"O-a", "O-c"}
	in.Products[0].Label.MostAYear = 2
	// One application in two parts: each plant had one of its two.
	in = on(with(in, sprayed("s-1", "soap-s", date("2026-03-03"), "", "O-a"), sprayed("s-2", "soap-s", date("2026-03-04"), "", "O-c")), date("2026-03-05"))
	if c := compute(t, in); c.Chosen != "soap-s" || len(kind(c, course.KindApplication)) != 2 {
		t.Errorf("chosen %q with %d applications, want one more for each plant", c.Chosen, len(kind(c, course.KindApplication)))
	}
}

func TestCourse_IncompatibleMaterialsKeepApartBothWays(t *testing.T) {
	t.Parallel()
	// Oil and sulphur are kept 30 days apart, whichever came first (labels of horticultural oils; common practice).
	oilOnly := func(in *course.Input) {
		in.Products[1].Label.Incompatible = []catalogue.Incompatible{{Material: "insecticidal-soap", Days: 30}}
	}
	soapOnly := func(in *course.Input) {
		in.Products[0].Label.Incompatible = []catalogue.Incompatible{{Material: "bti-drench", Days: 30}}
	}
	conflict := func(of, with catalogue.MaterialID, order catalogue.Order) func(*course.Input) {
		return func(in *course.Input) {
			m := in.Catalogue.Materials[of]
			m.Incompatible = []catalogue.Conflict{{Material: with, Order: order, Days: catalogue.Figure{Value: 30, Unit: catalogue.UnitDays}, Why: "for a test"}}
			other := in.Catalogue.Materials[with]
			other.Incompatible = nil
			*in = invented(*in, m, other)
		}
	}
	for _, test := range []struct {
		name   string
		change func(*course.Input)
		want   string
	}{
		{"nothing said", func(in *course.Input) {
			m := in.Catalogue.Materials["insecticidal-soap"]
			m.Incompatible = nil
			b := in.Catalogue.Materials["bti-drench"]
			b.Incompatible = nil
			*in = invented(*in, m, b)
		}, "2026-03-02"},
		{"label of what was used", oilOnly, "2026-03-31"},
		{"label of what is to be used", soapOnly, "2026-03-31"},
		{"material to be used, either way", conflict("insecticidal-soap", "bti-drench", catalogue.Either), "2026-03-31"},
		{"material used, either way", conflict("bti-drench", "insecticidal-soap", catalogue.Either), "2026-03-31"},
		{"may not follow", conflict("insecticidal-soap", "bti-drench", catalogue.After), "2026-03-31"},
		{"may follow", conflict("insecticidal-soap", "bti-drench", catalogue.Before), "2026-03-02"},
		{"the other may not follow this", conflict("bti-drench", "insecticidal-soap", catalogue.Before), "2026-03-31"},
	} {
		in := week(officeCase)
		test.change(&in)
		// A drench on 1 March; the spray is to follow it.
		in = with(in, sprayed("s-1", "bti-b", date("2026-03-01"), "", "O-a"))
		if first := kind(compute(t, in), course.KindApplication)[0]; first.Due.EarliestOn != date(test.want) {
			t.Errorf("%s: from %v, want %s", test.name, first.Due.EarliestOn, test.want)
		}
	}
}

func TestCourse_GroupsAlternateBetweenGenerations(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	first, second := against(in, "first-of-its-group", "citrus-mealybug"), against(in, "second-of-its-group", "citrus-mealybug")
	first.ModeOfAction, second.ModeOfAction = "4A", "9"
	in = invented(in, first, second)
	in.Products = []catalogue.Product{productOf("p-1", first.ID, "citrus-mealybug"), productOf("p-2", second.ID, "citrus-mealybug")}
	if c := compute(t, in); c.Chosen != "p-1" || !strings.Contains(strings.Join(c.Advice, "\n"), "next would be second of its group") {
		t.Fatalf("chosen %q, advice %q", c.Chosen, c.Advice)
	}
	in = with(in, sprayed("s-1", "p-1", date("2026-03-03"), "M/application/1/1", "O-a"), sprayed("s-2", "p-1", date("2026-03-10"), "M/application/1/2", "O-a"))
	if c := compute(t, on(in, date("2026-03-11"))); c.Chosen != "p-1" {
		t.Errorf("within the generation: chosen %q", c.Chosen)
	}
	// Usual temperature 21 °C: egg to egg takes some 60 to 80 days; in the generation after the first use another group works.
	later := on(with(in, looked("l-1", date("2026-06-01"), "", []site.PlantID{"O-a"}, "O-a")), date("2026-06-02"))
	if c := compute(t, later); c.Chosen != "p-2" {
		t.Errorf("in the next generation: chosen %q, want the other group", c.Chosen)
	}
	alone := later
	alone.Products = in.Products[:1]
	if c := compute(t, alone); c.Chosen != "p-1" || !strings.Contains(strings.Join(c.Advice, "\n"), "another should be used until") {
		t.Errorf("alone: chosen %q, advice %q: want it used, and said", c.Chosen, c.Advice)
	}
}

func TestCourse_RowIsOfTheGroupNotOfTheProduct(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	first, second := against(in, "first-of-its-group", "citrus-mealybug"), against(in, "second-of-its-group", "citrus-mealybug")
	first.ModeOfAction, second.ModeOfAction = "4A", "4A"
	in = invented(in, first, second)
	p := productOf("p-1", first.ID, "citrus-mealybug")
	p.Label.MostInRow = 2
	in.Products = []catalogue.Product{p, productOf("p-2", second.ID, "citrus-mealybug")}
	in = with(in, sprayed("s-1", "p-1", date("2026-02-10"), "", "O-a"), sprayed("s-2", "p-2", date("2026-02-20"), "", "O-a"))
	if got := strings.Join(refusalOf(compute(t, in), "p-1"), "; "); !strings.Contains(got, "2 applications in a row and 2 were made") {
		t.Errorf("refusal %q, want the group counted", got)
	}
}

// mixed is an application with the mix that was made.
func mixed(event course.Event, concentrate, volume string) course.Event {
	a := *event.Application
	r := rate(concentrate, volume)
	a.Concentrate, a.Volume = r.Concentrate, r.Per
	event.Application = &a
	return event
}

func TestCourse_MixAsItWasMadeDecidesHowItCounts(t *testing.T) {
	t.Parallel()
	// Label 2.5 US fl oz per gallon, least 90 % of it: 2.25.
	plain := sprayed("s-1", "soap-s", date("2026-03-03"), "M/application/1/1", "O-a")
	for _, test := range []struct {
		name, concentrate, volume string
		applications              int // of the whole course, the made one among them
		want                      string
	}{
		{"the label's", "2.5 US fl oz", "1 US gal", 7, ""},
		{"the least", "2.25 US fl oz", "1 US gal", 7, ""},
		{"half of it", "1.25 US fl oz", "1 US gal", 8, "below the label's least rate"},
		{"twice as strong", "5 US fl oz", "1 US gal", 7, "above the label's rate"},
	} {
		c := compute(t, on(with(week(officeCase), mixed(plain, test.concentrate, test.volume)), date("2026-03-04")))
		next := kind(c, course.KindApplication)[0]
		// Never stacked closer than the label allows, whatever the mix was.
		if next.ID != "M/application/1/2" || next.Due.EarliestOn != date("2026-03-10") {
			t.Errorf("%s: next %s from %v, want M/application/1/2 from 10 March", test.name, next.ID, next.Due.EarliestOn)
		}
		if c.Proof.Applications != test.applications {
			t.Errorf("%s: %d applications, want %d", test.name, c.Proof.Applications, test.applications)
		}
		if advice := strings.Join(c.Advice, "\n"); test.want != "" && !strings.Contains(advice, test.want) {
			t.Errorf("%s: not said: %s", test.name, advice)
		}
	}
}

func TestCourse_WrongProductDoesNotCountAndIsSaid(t *testing.T) {
	t.Parallel()
	in := on(with(week(officeCase), sprayed("s-1", "bti-b", date("2026-03-03"), "M/application/1/1", "O-a")), date("2026-03-04"))
	c := compute(t, in)
	if advice := strings.Join(c.Advice, "\n"); !strings.Contains(advice, "does not reach the citrus mealybug") {
		t.Errorf("not said: %s", advice)
	}
	if all := kind(c, course.KindApplication); len(all) != 7 || c.Proof.Applications != 7 {
		t.Errorf("%d still needed of %d, want all seven", len(all), c.Proof.Applications)
	}
}

func TestCourse_PatchTestResultIsARecordOfWhatThePlantStands(t *testing.T) {
	t.Parallel()
	unknown := func() course.Input {
		in := week(officeCase)
		in.Plants[0].Tolerance = []catalogue.Tolerance{{Material: "insecticidal-soap", Verdict: catalogue.PatchTest, Standing: catalogue.OwnRecords}}
		return in
	}
	result := func(id, day string, harmed bool) course.Event {
		return course.Event{ID: id, At: newYork().At(date(day), 36000), Patch: &course.PatchResult{Material: "insecticidal-soap", Plants: []site.PlantID{"O-a"}, Harmed: harmed}}
	}
	stands := compute(t, on(with(unknown(), result("p-1", "2026-03-04", false)), date("2026-03-04")))
	if len(kind(stands, course.KindPatchTest)) > 0 || stands.Chosen != "soap-s" || len(stands.Learned) != 1 || stands.Learned[0].Tolerance.Verdict != catalogue.Stands {
		t.Errorf("chosen %q, learned %+v: want the treatment, and a record that it stands soap", stands.Chosen, stands.Learned)
	}
	harmed := compute(t, on(with(unknown(), result("p-1", "2026-03-04", true)), date("2026-03-04")))
	if reasons := strings.Join(refusalOf(harmed, "soap-s"), "; "); !strings.Contains(reasons, "a patch test of this plant") {
		t.Errorf("after harm: refusal %q", reasons)
	}
	// A later test that harms outranks an earlier one that did not, in whatever order they are told.
	both := compute(t, on(with(unknown(), result("p-2", "2026-03-05", true), result("p-1", "2026-03-04", false)), date("2026-03-05")))
	if refusalOf(both, "soap-s") == nil {
		t.Error("the earlier test decides")
	}
	// Read within hours of the test it says nothing yet; harm does.
	tested := course.Event{ID: "d-1", At: newYork().At(date("2026-03-04"), 8*3600), Done: &course.OtherDone{FollowUp: "M/patch-test/1/1", Plants: []site.PlantID{"O-a"}}}
	soon := compute(t, on(with(unknown(), tested, result("p-1", "2026-03-04", false)), date("2026-03-04")))
	if first := kind(soon, course.KindApplication)[0]; len(soon.Learned) > 0 || len(kind(soon, course.KindPatchTest)) > 0 || first.Due.EarliestOn != date("2026-03-06") {
		t.Errorf("read too soon: learned %+v, patch tests %v, first from %v: want it two days after the test, and no second test", soon.Learned, kind(soon, course.KindPatchTest), first.Due.EarliestOn)
	}
	if bad := compute(t, on(with(unknown(), tested, result("p-1", "2026-03-04", true)), date("2026-03-04"))); refusalOf(bad, "soap-s") == nil {
		t.Error("harm within hours is not believed")
	}
	// Another case on the plant learns it too.
	other := gnatsInTheOffice(unknown(), result("p-1", "2026-03-04", false))
	if c := compute(t, on(other, date("2026-03-04"))); len(kind(c, course.KindPatchTest)) > 0 {
		t.Error("a test told in another case is asked for again")
	}
}

func TestCourse_LeastEntryOfTheLawIsKeptWhereItIsLonger(t *testing.T) {
	t.Parallel()
	// Pennsylvania, Act 36 of 2002: no application where pupils are expected within 7 hours after it.
	in := week(officeCase)
	in.Sites[0].Kind = catalogue.School
	in.Products[0].Label.Places = append(in.Products[0].Label.Places, catalogue.School)
	for _, test := range []struct {
		entry catalogue.Entry
		hours float64
		kind  catalogue.EntryKind
	}{
		{catalogue.Entry{Kind: catalogue.EntryUntilDry}, 7, catalogue.EntryUntilDry},
		{catalogue.Entry{Kind: catalogue.EntryHours, Hours: 12 * 3600e9}, 12, catalogue.EntryHours},
		{catalogue.Entry{Kind: catalogue.EntryNone, Reason: "by its label"}, 7, catalogue.EntryHours},
	} {
		in.Products[0].Label.Entry = test.entry
		c := compute(t, in)
		use := kind(c, course.KindApplication)[0].Ways[0].Parts[0].Use
		if use == nil || use.KeepOut.Hours() != test.hours || use.KeepOutUnventilated < use.KeepOut || use.Entry != test.kind {
			t.Errorf("%s: %+v, want %v hours", test.entry.Kind, use, test.hours)
		}
		if !strings.Contains(strings.Join(c.Cautions, "\n"), "By law open floor stays shut at least 7 h") {
			t.Errorf("%s: the law is not named: %q", test.entry.Kind, c.Cautions)
		}
	}
}

func TestCourse_PlanterCapsWhatIsPoured(t *testing.T) {
	t.Parallel()
	for planter, want := range map[site.Planter]int64{site.Drained: 2880, site.Liner: 2400} { // 12 and 10 % of 6 x 4 L
		in := week(lobbyCase)
		in.Plants[2].Planter = planter
		f := kind(compute(t, in), course.KindApplication)[0]
		use := f.Ways[0].Parts[slices.IndexFunc(f.Ways[0].Parts, func(p course.Part) bool { return p.Use != nil })].Use
		if !use.Doses[0].Amount.Equal(quantity.NewVolume(want, 1, quantity.Millilitre)) {
			t.Errorf("%s: %v, want %d mL", planter, use.Doses[0].Amount, want)
		}
	}
	for _, planter := range []site.Planter{site.SubIrrigated, site.Hydroculture} {
		in := week(lobbyCase)
		in.Plants[2].Planter = planter
		if c := compute(t, in); len(kind(c, course.KindApplication)) > 0 {
			t.Errorf("%s: drenched all the same", planter)
		}
	}
}

func TestCourse_ShippedMaterialsKeepApart(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name      string
		pest      catalogue.PestID
		used, now catalogue.MaterialID
		days      int
		source    string
	}{
		{"oil after sulphur", "two-spotted-mite", "sulphur-spray", "horticultural-oil", 30, "labels of horticultural oils: 30 days, both ways"},
		{"sulphur after oil", "two-spotted-mite", "horticultural-oil", "sulphur-spray", 30, "the same"},
		{"nematodes after peroxide", "fungus-gnat", "hydrogen-peroxide", "steinernema-feltiae", 3, "producers: not compatible with hydrogen dioxide; the days are an assumption"},
		{"Bti after peroxide", "fungus-gnat", "hydrogen-peroxide", "bti-drench", 2, "from memory"},
		{"beetles after pyrethrins", "citrus-mealybug", "pyrethrins", "cryptolaemus", 7, "residues harm what is released; the days are an assumption"},
		{"beetles after azadirachtin", "citrus-mealybug", "neem-azadirachtin", "cryptolaemus", 7, "the same"},
		{"beetles after sulphur", "citrus-mealybug", "sulphur-spray", "cryptolaemus", 14, "the same"},
		{"beetles after oil", "citrus-mealybug", "horticultural-oil", "cryptolaemus", 3, "kills while it is wet; the days are an assumption"},
		{"beetles after soap", "citrus-mealybug", "insecticidal-soap", "cryptolaemus", 1, "kills while it is wet only; common practice"},
		{"pyrethrins after beetles", "citrus-mealybug", "cryptolaemus", "pyrethrins", 28, "while the beetles work; an assumption"},
		{"beetles after a soil systemic", "citrus-mealybug", "imidacloprid-soil", "cryptolaemus", 56, "residues of the past two months or so can kill what is released (an interior entomologist)"},
	} {
		in := inCase(week(officeCase), "O", test.pest, 2, "O-a")
		in.Policy.OrderDays = 0
		in.Sites[0].Agreement.RefusedMethods = []catalogue.Method{catalogue.ByHand}
		in.Plants[0].Tolerance = []catalogue.Tolerance{{Material: test.now, Verdict: catalogue.Stands, Standing: catalogue.OwnRecords}}
		next, before := productOf("p-now", test.now, test.pest), productOf("p-used", test.used, "western-flower-thrips")
		next.Label.LeastDays, next.Label.KeepAway = 1, nil
		if in.Catalogue.Materials[test.now].Living != nil {
			next.Form = catalogue.Living
		} else {
			in.Sites[0].Agreement.RefusedMethods = append(in.Sites[0].Agreement.RefusedMethods, catalogue.Release)
		}
		in.Products = []catalogue.Product{next, before}
		in = with(in, sprayed("s-1", "p-used", date("2026-03-02"), "", "O-a"))
		applications := kind(compute(t, in), course.KindApplication)
		if len(applications) == 0 {
			t.Errorf("%s: nothing is applied: %+v", test.name, compute(t, in).Refused)
			continue
		}
		if want := date("2026-03-02").AddDays(test.days); applications[0].Due.EarliestOn != want {
			t.Errorf("%s: from %v, want %v (%s)", test.name, applications[0].Due.EarliestOn, want, test.source)
		}
	}
}
