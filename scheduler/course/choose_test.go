package course_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

func refusalOf(c course.Course, product catalogue.ProductID) []string {
	for _, r := range c.Refused {
		if r.Product == product {
			return r.Reasons
		}
	}
	return nil
}

// refusal is a change to the office's week that makes the soap unlawful, and the words of the reason.
type refusal struct {
	name   string
	change func(*course.Input)
	want   string
}

func labelOf(in *course.Input) *catalogue.Label { return &in.Products[0].Label }

// refusalsByPaper are those by label, law and agreement.
func refusalsByPaper() []refusal {
	return []refusal{
		{"pest", func(in *course.Input) { labelOf(in).Pests = nil }, "does not list the citrus mealybug"},
		{"place", func(in *course.Input) { labelOf(in).Places = []catalogue.PlaceKind{catalogue.Home} }, "does not list office"},
		{"place of the area", func(in *course.Input) { in.Sites[0].Areas[0].Kind = catalogue.FoodService }, "does not list food service"},
		{"registration", func(in *course.Input) { in.Products[0].Registration = "" }, "no registration number"},
		{"jurisdiction", func(in *course.Input) { in.Products[0].Jurisdictions = []catalogue.JurisdictionCode{"GB"} }, "not registered in US-PA"},
		{"licence", func(in *course.Input) { in.Held = nil }, "nobody holds a licence of category 22"},
		{"licence for outdoors only", func(in *course.Input) {
			labelOf(in).Categories = []string{"06"}
			in.Held = map[catalogue.JurisdictionCode][]string{"US-PA": {"06"}}
		}, "nobody holds a licence of category 06"},
		{"interval unknown", func(in *course.Input) { labelOf(in).Entry = catalogue.Entry{Kind: catalogue.EntryUnknown} }, "interval before people may enter is unknown"},
		{"interval unset", func(in *course.Input) { labelOf(in).Entry = catalogue.Entry{} }, "interval before people may enter is unknown"},
		{"until dry without the business's time", func(in *course.Input) { in.Policy.UntilDry = nil }, "interval before people may enter is unknown"},
		{"rate", func(in *course.Input) { labelOf(in).MaxRate = nil }, "rate is not recorded"},
		{"material refused", func(in *course.Input) {
			in.Sites[0].Agreement.RefusedMaterials = []catalogue.MaterialID{"insecticidal-soap"}
		}, "the client refuses insecticidal soap"},
		{"method refused", func(in *course.Input) {
			in.Sites[0].Agreement.RefusedMethods = []catalogue.Method{catalogue.WholePlantSpray}
		}, "the client refuses whole plant spray"},
		{"consent missing", func(in *course.Input) {
			in.Sites[0].Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
		}, "has not consented"},
		{"consent to another material", func(in *course.Input) {
			in.Sites[0].Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
			in.Sites[0].Agreement.Consents = []site.Consent{{Method: catalogue.WholePlantSpray, Material: "horticultural-oil", From: date("2026-01-01")}}
		}, "has not consented"},
		{"barred by an incident", func(in *course.Input) {
			in.Sites[0].Barred = []site.BarredProduct{{Product: in.Products[0].ID, Incident: "spill-1", Since: in.Now}}
		}, "barred here since incident spill-1"},
		{"consent lapsed", func(in *course.Input) {
			in.Sites[0].Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
			in.Sites[0].Agreement.Consents = []site.Consent{{Method: catalogue.WholePlantSpray, From: date("2026-01-01"), To: date("2026-03-01")}}
		}, "has not consented"},
	}
}

// refusalsByPlace are those by the plants, what is near them, temperature and what was applied before.
func refusalsByPlace() []refusal {
	return []refusal{
		{"plant must not", func(in *course.Input) {
			in.Plants[0].Tolerance = []catalogue.Tolerance{{Material: "insecticidal-soap", Verdict: catalogue.MustNot, Standing: catalogue.OwnRecords}}
		}, "does not stand insecticidal soap"},
		{"label excludes the species, whatever the own record", func(in *course.Input) {
			labelOf(in).MustNot = []catalogue.SpeciesID{"epipremnum-aureum"}
		}, "the label excludes the species"},
		{"in flower", func(in *course.Input) { in.Plants[0].InFlower = true }, "in flower"},
		{"edible", func(in *course.Input) { in.Plants[0].Edible = true }, "edible"},
		{"not in care", func(in *course.Input) { in.Plants[0].NotInCare = true }, "not in our care"},
		{"its owner consents no more", func(in *course.Input) {
			in.Plants[0].NotInCare = true
			in.Plants[0].OwnerConsents = []site.OwnerConsent{{By: "its owner", On: in.Today - 9, WithdrawnOn: in.Today}}
		}, "not in our care"},
		{"fish", func(in *course.Input) {
			in.Sites[0].Areas[0].Sensitive = []catalogue.Sensitive{catalogue.FishTank}
		}, "keeps it away from fish tank, which is in open floor"},
		{"fish in an area open to it", func(in *course.Input) {
			in.Sites[0].Areas[1].Sensitive = []catalogue.Sensitive{catalogue.FishTank}
			in.Sites[0].Areas[1].OpenTo = []site.AreaID{"O1"}
		}, "which is in cleaners' store"},
		{"too hot", func(in *course.Input) { high := 17.0; labelOf(in).MaxCelsius = &high }, "the label ends at 17 °C"},
		{"too cold", func(in *course.Input) { low := 25.0; labelOf(in).MinCelsius = &low }, "the label begins at 25 °C"},
		{"cap a year", func(in *course.Input) {
			labelOf(in).MostAYear = 1
			*in = with(*in, sprayed("s", "soap-s", date("2026-02-20"), "", "O-a"))
		}, "allows 1 application a year"},
		{"cap in a row", func(in *course.Input) {
			labelOf(in).MostInRow = 1
			*in = with(*in, sprayed("s", "soap-s", date("2026-02-20"), "", "O-a"))
		}, "allows 1 application in a row"},
	}
}

func TestCourse_RefusesAProductWithEveryReason(t *testing.T) {
	t.Parallel()
	for _, test := range append(refusalsByPaper(), refusalsByPlace()...) {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			in := week(officeCase)
			if refusalOf(compute(t, in), "soap-s") != nil {
				t.Fatal("refused before the change")
			}
			test.change(&in)
			c := compute(t, in)
			if reasons := strings.Join(refusalOf(c, "soap-s"), "; "); !strings.Contains(reasons, test.want) {
				t.Errorf("reasons %q, want %q", reasons, test.want)
			}
			if c.Chosen == "soap-s" {
				t.Error("chosen all the same")
			}
		})
	}
}

func TestCourse_ReasonsAddUp(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Products[0].Label.Pests, in.Products[0].Registration, in.Held = nil, "", nil
	if got := refusalOf(compute(t, in), "soap-s"); len(got) != 3 {
		t.Errorf("reasons %q, want three", got)
	}
}

func TestCourse_ConditionOfTheLabelIsAStepOfTheVisit(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Sites[0].Areas[0].Sensitive = []catalogue.Sensitive{catalogue.FishTank}
	in.Products[0].Label.KeepAway[0].Condition = "cover the tank, stop its pump"
	c := compute(t, in)
	if c.Chosen != "soap-s" || !strings.Contains(strings.Join(c.Advice, "\n"), "cover the tank, stop its pump") {
		t.Errorf("chosen %q, advice %q", c.Chosen, c.Advice)
	}
}

func TestCourse_HouseholdRemedyIsLawfulOnlyWithTheApplicatorsRecord(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Products = append(in.Products, catalogue.Product{ID: "alcohol", Name: "alcohol", Material: "isopropyl-alcohol", Form: catalogue.ReadyToUse,
		LawfulBecause: map[catalogue.JurisdictionCode]string{"GB": "elsewhere"},
		Label: catalogue.Label{Places: []catalogue.PlaceKind{catalogue.Office}, Pests: []catalogue.PestID{"citrus-mealybug"},
			Entry: catalogue.Entry{Kind: catalogue.EntryUntilDry}}})
	if refusalOf(compute(t, in), "alcohol") == nil {
		t.Error("lawful in US-PA by a record for GB")
	}
	in.Products[2].LawfulBecause["US-PA"] = "recorded"
	if got := refusalOf(compute(t, in), "alcohol"); got != nil {
		t.Errorf("refused though recorded: %q", got)
	}
}

func TestCourse_NothingLawfulIsAnAnswer(t *testing.T) {
	t.Parallel()
	in := week(lobbyCase)
	in.Products = nil
	c := compute(t, in)
	if c.Material != "" || len(kind(c, course.KindApplication)) > 0 || len(kind(c, course.KindInspectInfested)) == 0 || len(kind(c, course.KindTrapChange)) == 0 {
		t.Errorf("material %q, follow-ups %v: want looks and cards alone", c.Material, c.FollowUps)
	}
	if c.Looks.Reachable || c.Replacement.Replacement == 0 {
		t.Errorf("looks %+v, replacement %+v", c.Looks, c.Replacement)
	}
}

func TestCourse_PlantsThatMayNotBeTreatedAreNamedAndTheOthersTreated(t *testing.T) {
	t.Parallel()
	in := week(lobbyCase)
	in.Histories[1].Plants = []site.PlantID{"L-a", "L-b"}
	c := compute(t, in)
	f := kind(c, course.KindApplication)[0]
	if !slices.Equal(f.Plants, []site.PlantID{"L-a"}) || !strings.Contains(strings.Join(c.Advice, "\n"), "corn plant: a sub irrigated planter takes no drench") {
		t.Errorf("plants %v, advice %q", f.Plants, c.Advice)
	}
	// The plant that is never drenched must not be caught up for ever.
	in = on(with(in, sprayed("d-1", "bti-b", date("2026-03-04"), f.ID, "L-a")), date("2026-03-05"))
	if next := kind(compute(t, in), course.KindApplication)[0]; next.Due.EarliestOn != date("2026-03-09") {
		t.Errorf("next from %v, want 9 March", next.Due.EarliestOn)
	}
}

func TestCourse_PatchTestComesFirstWhereItIsNotKnownWhatThePlantStands(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Plants[0].Tolerance = []catalogue.Tolerance{{Material: "insecticidal-soap", Verdict: catalogue.PatchTest, Standing: catalogue.OwnRecords}}
	c := compute(t, in)
	tests, first := kind(c, course.KindPatchTest), kind(c, course.KindApplication)[0]
	if use := tests[0].Ways[0].Parts[0].Use; use == nil || !use.Doses[0].Amount.Equal(quantity.NewVolume(75, 1, quantity.Millilitre)) || tests[0].Approved {
		t.Errorf("patch test %+v, want an application of the product to one plant, to be approved", tests[0])
	}
	if len(tests) != 1 || first.Due.After != tests[0].ID || first.Due.EarliestLag != in.Policy.PatchTestDays {
		t.Fatalf("patch tests %+v, first application %+v", tests, first.Due)
	}
	in = with(in, course.Event{ID: "p-1", At: instant("2026-03-03T15:00:00Z"), Done: &course.OtherDone{FollowUp: tests[0].ID, Plants: []site.PlantID{"O-a"}}})
	c = compute(t, on(in, date("2026-03-05")))
	if got := kind(c, course.KindApplication)[0]; len(kind(c, course.KindPatchTest)) > 0 || got.Due.After != "" || got.ID != first.ID {
		t.Errorf("after the test: %s %+v", got.ID, got.Due)
	}
}

func TestCourse_ShutAreaAgreedMakesInPlaceLawful(t *testing.T) {
	t.Parallel()
	in := week(lobbyCase)
	in.Sites[1].Agreement.ShutAreas = []site.ShutArea{{Area: "L1", From: in.Now, To: in.Now.Add(72 * time.Hour)}}
	ways := kind(compute(t, in), course.KindApplication)[0].Ways
	if len(ways) != 2 || ways[0].Kind != course.InPlace || ways[1].Kind != course.AtTreatmentPlace {
		t.Errorf("ways %+v, want in place and the treatment place", ways)
	}
}

func TestCourse_PeopleInAnAreaOpenToItForbidInPlace(t *testing.T) {
	t.Parallel()
	for name, open := range map[string]func(*site.Site){
		"open to it":       func(s *site.Site) { s.Areas[0].OpenTo = []site.AreaID{"O3"} },
		"open from there":  func(s *site.Site) { s.Areas[1].OpenTo = []site.AreaID{"O1"} },
		"reached through":  func(s *site.Site) { s.Areas[1].ReachedOnlyThrough = "O1" },
		"the area itself":  func(s *site.Site) { s.Areas[0].People.Always, s.Areas[0].People.Weekly = true, nil },
		"not joined (not)": func(*site.Site) {},
	} {
		in := week(officeCase)
		in.Sites[0].Areas[1].People.Always = true
		open(&in.Sites[0])
		said := strings.Contains(strings.Join(compute(t, in).Advice, "\n"), "no lawful way is known")
		if c := compute(t, in); c.Material == "removal-by-hand" {
			said = true // a method that shuts nothing is chosen instead
		}
		if want := name != "not joined (not)"; said != want {
			t.Errorf("%s: said %v, want %v", name, said, want)
		}
	}
}

func TestCourse_PlantsInTwoAreasAreTwoApplicationsOfOneRun(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	more := in.Plants[0]
	more.ID, more.Name, more.Area, more.Count = "O-c", "pothos in the store", "O3", 2
	in.Plants = append(in.Plants, more)
	in.Histories[0].Plants = []site.PlantID{"O-a", "O-c"}
	all := kind(compute(t, in), course.KindApplication)
	if len(all) != 14 {
		t.Fatalf("%d applications, want 7 for each area", len(all))
	}
	for _, f := range all {
		if len(f.Plants) != 1 || len(f.Ways[0].Parts) != 1 || len(f.Ways[0].Parts[0].Use.Doses) != 1 {
			t.Errorf("%s on %v by %+v, want the plants of one area", f.ID, f.Plants, f.Ways)
		}
	}
	// The second of the two was done first: the first keeps its id, and no id is given twice.
	in = on(with(in, sprayed("s-2", "soap-s", date("2026-03-03"), all[1].ID, all[1].Plants...)), date("2026-03-04"))
	next := kind(compute(t, in), course.KindApplication)
	if next[0].ID != all[0].ID || !slices.Equal(next[0].Plants, all[0].Plants) || next[1].ID != all[2].ID {
		t.Errorf("next %s on %v, then %s; want %s on %v, then %s", next[0].ID, next[0].Plants, next[1].ID, all[0].ID, all[0].Plants, all[2].ID)
	}
}

func TestCourse_TreatmentPlaceMustHoldThePlants(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*site.Area){
		"room for 5":   func(a *site.Area) { a.Treatment.Capacity = 5 },
		"no drain":     func(a *site.Area) { a.Treatment.Drain = false },
		"other kind":   func(a *site.Area) { a.Kind = catalogue.Retail },
		"always there": func(a *site.Area) { a.People.Always, a.People.Weekly = true, nil },
	} {
		in := week(lobbyCase)
		change(&in.Sites[1].Areas[1])
		c := compute(t, in)
		if ways := kind(c, course.KindApplication)[0].Ways; len(ways) != 1 || ways[0].Kind != course.InPlace {
			t.Errorf("%s: ways %+v", name, ways)
		}
		if !strings.Contains(strings.Join(c.Advice, "\n"), "not at plant room") {
			t.Errorf("%s: not said: %q", name, c.Advice)
		}
	}
}

func TestCourse_CapsOfTheLabelEndTheSequenceAndAreSaid(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Products[0].Label.MostInRow = 3
	c := compute(t, in)
	if n := len(kind(c, course.KindApplication)); n != 3 || c.Proof.Clears || !strings.Contains(c.Proof.Text, "caps end the sequence") {
		t.Errorf("%d applications, clears %v, %q", n, c.Proof.Clears, c.Proof.Text)
	}
}

func TestCourse_ReplacementStandsBesideWithBothCosts(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	value := quantity.Money(1800)
	in.Plants[0].Replacement = &value
	c := compute(t, in)
	p := in.Policy
	// 8 x (value + fitting + waste) + a visit.
	want := 8*(value+quantity.Money(p.FittingMinutes)*p.PaidPerMinute+p.WastePerReplacement) + p.VisitCost
	if c.Replacement.Replacement != want {
		t.Errorf("replacement %v, want %v", c.Replacement.Replacement, want)
	}
	if !strings.Contains(c.Replacement.Text, "people decide") {
		t.Errorf("%q", c.Replacement.Text)
	}
}

func TestCourse_PhysicalWorkDoneCountsAsItsApplication(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Histories[0].Events[0].Finding.Severity = 1
	first := kind(compute(t, in), course.KindApplication)[0]
	in = with(in, course.Event{ID: "h-1", At: instant("2026-03-03T15:00:00Z"), Done: &course.OtherDone{FollowUp: first.ID, Plants: []site.PlantID{"O-a"}}})
	next := kind(compute(t, on(in, date("2026-03-04"))), course.KindApplication)[0]
	if next.ID != course.NewItemID(officeCase, course.KindApplication, 1, 2) || next.Due.IdealOn != date("2026-03-10") {
		t.Errorf("next %s %+v, want the second a week later", next.ID, next.Due)
	}
}

func TestCourse_NeighboursAreLookedAtAtMostTheDaysApart(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	first := kind(compute(t, in), course.KindInspectNeighbours)
	if !slices.Equal(first[0].Plants, []site.PlantID{"O-b"}) || first[1].Due.LatestLag != in.Policy.NeighbourDays {
		t.Errorf("neighbours %v, then %+v", first[0].Plants, first[1].Due)
	}
	in = with(in, looked("n-1", date("2026-03-03"), first[0].ID, []site.PlantID{"O-b"}))
	next := kind(compute(t, on(in, date("2026-03-04"))), course.KindInspectNeighbours)[0]
	if next.ID != first[1].ID || next.Due.IdealOn != date("2026-03-10") {
		t.Errorf("next %s %+v, want %s on 10 March", next.ID, next.Due, first[1].ID)
	}
	in.Plants[1].Touches = []site.PlantID{"elsewhere"}
	if got := kind(compute(t, in), course.KindInspectNeighbours); len(got) > 0 {
		t.Errorf("a plant that names what it touches is a neighbour by its area: %v", got)
	}
}

func TestCourse_FindOnANeighbourJoinsTheCase(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Plants[1].Tolerance = in.Plants[0].Tolerance
	in = on(with(in, sprayed("s-1", "soap-s", date("2026-03-03"), "", "O-a"), looked("n-1", date("2026-03-04"), "", []site.PlantID{"O-b"}, "O-b")), date("2026-03-04"))
	if first := kind(compute(t, in), course.KindApplication)[0]; !slices.Equal(first.Plants, []site.PlantID{"O-b"}) {
		t.Errorf("first on %v, want the plant just found", first.Plants)
	}
}

func TestCourse_EndingToldByPeopleEndsIt(t *testing.T) {
	t.Parallel()
	in := with(week(officeCase), course.Event{ID: "e-1", At: instant("2026-03-05T15:00:00Z"), Ending: &course.Ending{Kind: course.PlantsGone, Reason: "replaced"}})
	if c := compute(t, on(in, date("2026-03-06"))); c.Ended == nil || c.Ended.Kind != course.PlantsGone || len(c.FollowUps) != 0 {
		t.Errorf("ended %+v, %d follow-ups", c.Ended, len(c.FollowUps))
	}
}

func TestCourse_RecurrenceIsSaid(t *testing.T) {
	t.Parallel()
	in := week(officeCase)
	in.Histories = append(in.Histories, course.History{Case: "M0", Site: "O", Pest: "citrus-mealybug", Plants: []site.PlantID{"O-a"}, Events: []course.Event{
		{ID: "old", At: instant("2025-12-01T15:00:00Z"), Ending: &course.Ending{Kind: course.Clear, Reason: "two looks"}},
	}})
	if got := strings.Join(compute(t, in).Advice, "\n"); !strings.Contains(got, "a recurrence: case M0") {
		t.Errorf("advice %q", got)
	}
}

func TestConsequences_AreTotalAndNarrowedToApplications(t *testing.T) {
	t.Parallel()
	if n := len(course.Outcomes()); n != 16 {
		t.Errorf("%d outcomes, want 16", n)
	}
	for _, outcome := range course.Outcomes() {
		application, ok := course.Consequences(outcome, course.KindApplication)
		if !ok || application.Text == "" {
			t.Errorf("%s: %+v, %v", outcome, application, ok)
		}
		counts := outcome == course.OutcomeDone || outcome == course.OutcomeInPart
		if application.CountsAsApplication != counts {
			t.Errorf("%s counts as an application: %v", outcome, application.CountsAsApplication)
		}
		if application.DueAgain == (outcome == course.OutcomeDone) {
			t.Errorf("%s due again: %v", outcome, application.DueAgain)
		}
		look, _ := course.Consequences(outcome, course.KindInspectInfested)
		if look.NoticeAgain || look.CountsAsApplication {
			t.Errorf("%s of an inspection: %+v", outcome, look)
		}
	}
	if _, ok := course.Consequences("eaten by the cat", course.KindApplication); ok {
		t.Error("an unknown outcome has a consequence")
	}
}

func TestDefaultPolicy_IsWholeAndCarriesStandings(t *testing.T) {
	t.Parallel()
	p := course.DefaultPolicy(catalogue.Shipped())
	if p.ClearBound != 0.95 || p.MostChance != 0.85 || p.FirstDaysBySeverity != [4]int{7, 7, 3, 2} || p.PublishingDelay != 2*time.Hour || p.UnventilatedFactorPercent != 150 {
		t.Errorf("policy %+v", p)
	}
	for _, name := range []string{"clear_bound", "until_dry.whole-plant-spray", "first_days_by_severity.2", "paid_per_minute"} {
		if p.Standings[name] == "" {
			t.Errorf("%s has no standing", name)
		}
	}
}
