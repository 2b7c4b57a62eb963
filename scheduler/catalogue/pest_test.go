package catalogue_test

import (
	"maps"
	"math"
	"slices"
	"testing"

	"vernation/scheduler/catalogue"
)

func TestPests_AreTheCommonOnesOfInteriors(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	for _, id := range []catalogue.PestID{
		"citrus-mealybug", "longtailed-mealybug", "root-mealybug", "mealybug-unknown", "brown-soft-scale", "oleander-scale", "two-spotted-mite",
		"greenhouse-whitefly", "sweetpotato-whitefly", "green-peach-aphid", "western-flower-thrips", "fungus-gnat",
	} {
		pest, err := c.PestByID(id)
		if err != nil {
			t.Error(err)
			continue
		}
		if len(pest.LookAlikes) == 0 || len(pest.Favours) == 0 {
			t.Errorf("%s: no look-alikes, or nothing that favours it", id)
		}
		if pest.SeverityStanding != catalogue.Assumption {
			t.Errorf("%s: a severity scale that is %s; it is our own", id, pest.SeverityStanding)
		}
		for _, stage := range pest.Stages {
			known := stage.Thermal != nil || len(stage.Observed) > 0 || stage.Practice != nil || len(stage.Reported) > 0 ||
				slices.ContainsFunc(pest.Spans, func(s catalogue.Span) bool { return s.From == stage.ID || s.To == stage.ID })
			if !known {
				t.Errorf("%s: nothing says how long %s last", id, stage.Name)
			}
		}
		// A pest that bears its young alive has no egg, every other begins with one.
		if pest.BearsLive == (pest.Stages[0].ID == "egg") {
			t.Errorf("%s bears live: %v, and begins with %s", id, pest.BearsLive, pest.Stages[0].ID)
		}
	}
}

// mostOff is how far the linear rate may lie from a duration that was seen, as a share of it.
const mostOff = 0.05

// Each pest's checks carry their sources. Where a check says why the linear rate fails, it must fail: near T0, near the
// upper limit, on another plant, or because honest studies disagree.
func TestDevelopment_AgreesWithPublishedDurationsWhereTheRateIsLinear(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	agreed := map[catalogue.PestID]int{}
	for _, id := range slices.Sorted(maps.Keys(c.Pests)) {
		pest := c.Pests[id]
		for _, check := range pest.Checks {
			days, ok := pest.Development(check.From, check.To, check.Celsius)
			if !ok {
				t.Errorf("%s: no constants from %s to %s at %v °C", id, check.From, check.To, check.Celsius)
				continue
			}
			off := math.Abs(days-check.Days) / check.Days
			t.Logf("%-22s %s to %s at %v °C: model %.2f, seen %.2f (%.1f %% off; %s) %s", id, check.From, check.To, check.Celsius, days, check.Days, 100*off, check.Source, check.Off)
			switch {
			case check.Off == "" && off > mostOff:
				t.Errorf("%s at %v °C: model %.2f days, seen %.2f by %s", id, check.Celsius, days, check.Days, check.Source)
			case check.Off != "" && off <= mostOff:
				t.Errorf("%s at %v °C: model %.2f days agrees with %.2f, though it is said to miss it: %s", id, check.Celsius, days, check.Days, check.Off)
			case check.Off == "":
				agreed[id]++
			}
		}
	}
	for _, id := range []catalogue.PestID{"two-spotted-mite", "greenhouse-whitefly", "western-flower-thrips", "fungus-gnat", "green-peach-aphid"} {
		if agreed[id] == 0 {
			t.Errorf("%s: no published duration within %v", id, mostOff)
		}
	}
}

func TestDevelopment_OfPublishedConstants(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		pest     catalogue.PestID
		from, to catalogue.StageID
		celsius  float64
		days     float64
		source   string
	}{
		{"two-spotted-mite", "egg", "egg", 20, 8.88, "Egyptian Academic Journal of Biological Sciences: 63.35/7.13"},
		{"two-spotted-mite", "egg", "egg", 27, 4.48, "same: 63.35/14.13"},
		{"two-spotted-mite", "larva", "deutonymph", 21, 9.71, "same: 26.81/8.08 + 30.95/11.55 + 26.17/7.06"},
		{"two-spotted-mite", "larva", "deutonymph", 27, 5.67, "same: 26.81/14.08 + 30.95/17.55 + 26.17/13.06"},
		{"two-spotted-mite", "egg", "deutonymph", 20, 15.27, "Bayu et al. 2017: 127.81/8.37"},
		{"two-spotted-mite", "egg", "deutonymph", 25, 9.56, "Bayu et al. 2017: 127.81/13.37"},
		{"western-flower-thrips", "egg", "pupa", 20, 18.48, "Japanese J. Appl. Ent. Zool. 41(4) 1997: 194/10.5"},
		{"western-flower-thrips", "egg", "pupa", 27, 11.09, "same: 194/17.5"},
		{"greenhouse-whitefly", "egg", "pupa", 20, 32.52, "Osborne 1982: 381.1/11.72"},
		{"greenhouse-whitefly", "egg", "pupa", 25, 22.79, "Osborne 1982: 381.1/16.72"},
		{"greenhouse-whitefly", "egg", "egg", 20, 10.52, "Osborne 1982: 123.3/11.72"},
		{"sweetpotato-whitefly", "egg", "pupa", 20, 37.11, "Mansoura University: 299.1/8.06"},
		{"sweetpotato-whitefly", "egg", "pupa", 27, 19.86, "Mansoura University: 299.1/15.06"},
		{"green-peach-aphid", "first-nymph", "young-adult", 20, 8.48, "American Potato Journal: 135.7/16"},
		{"green-peach-aphid", "first-nymph", "young-adult", 27, 5.90, "American Potato Journal: 135.7/23"},
		{"green-peach-aphid", "first-nymph", "fourth-nymph", 20, 7.12, "same: (25.2 + 27.1 + 30.9 + 30.7)/16"},
		{"longtailed-mealybug", "crawler", "older-nymph", 20, 35.18, "Santa-Cecília et al. 2011: 422.1/12"},
		{"longtailed-mealybug", "crawler", "older-nymph", 25, 24.83, "Santa-Cecília et al. 2011: 422.1/17"},
		{"fungus-gnat", "egg", "pupa", 24, 20.21, "Liu Qian by stage: 102.36/19.96 + 218.03/18.21 + 48.57/15.62"},
	} {
		days, ok := catalogue.Shipped().Pests[tc.pest].Development(tc.from, tc.to, tc.celsius)
		if !ok || math.Abs(days-tc.days) > 0.011 {
			t.Errorf("%s, %s to %s at %v °C: %.3f days (%v), want %.2f (%s)", tc.pest, tc.from, tc.to, tc.celsius, days, ok, tc.days, tc.source)
		}
	}
	mite := catalogue.Shipped().Pests["two-spotted-mite"]
	for _, none := range []struct {
		why      string
		from, to catalogue.StageID
		celsius  float64
	}{
		{"below every T0", "egg", "deutonymph", 10}, {"below the T0 of one stage", "larva", "deutonymph", 13.5}, {"no constants of adults", "egg", "adult", 25},
		{"turned round", "deutonymph", "egg", 25}, {"no such stage", "egg", "imago", 25},
	} {
		if days, ok := mite.Development(none.from, none.to, none.celsius); ok {
			t.Errorf("%s: %v days", none.why, days)
		}
	}
}

// A published whole that is shared out among stages must come out whole again.
func TestSpans_AreTheSumOfTheStagesSharedOutOfThem(t *testing.T) {
	t.Parallel()
	for _, id := range []catalogue.PestID{"longtailed-mealybug", "greenhouse-whitefly", "sweetpotato-whitefly", "western-flower-thrips"} {
		pest := catalogue.Shipped().Pests[id]
		whole := pest.Spans[0].Thermal
		sum := 0.0
		for _, stage := range pest.Stages {
			if stage.Thermal == nil {
				continue
			}
			if stage.Thermal.T0 != whole.T0 || stage.Thermal.Source != whole.Source {
				t.Errorf("%s: %s has %+v beside %+v: constants of two works", id, stage.ID, *stage.Thermal, whole)
			}
			sum += stage.Thermal.K
		}
		if math.Abs(sum-whole.K) > 0.01 {
			t.Errorf("%s: stages sum to %.2f degree-days, the whole is %v", id, sum, whole.K)
		}
	}
}

// daysAt is the least and the greatest that the catalogue knows of a stretch of a mealybug at a temperature.
func daysAt(pest catalogue.Pest, from, to catalogue.StageID, celsius float64) (least, most float64) {
	if days, ok := pest.Development(from, to, celsius); ok {
		return days, days
	}
	for _, stage := range pest.Stages {
		if stage.ID != from && stage.ID != to {
			continue
		}
		near, far := math.Inf(1), 0.0
		widen := func(a, b float64) { near, far = min(near, a), max(far, b) }
		for _, seen := range stage.Observed {
			widen(seen.Days, seen.Days)
		}
		if stage.Practice != nil {
			widen(stage.Practice.Near, stage.Practice.Far)
		}
		least, most = least+near, most+far
		if from == to {
			break
		}
	}
	return least, most
}

func TestMealybugUnknown_IsTheSafeSideOverAll(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	unknown := c.Pests["mealybug-unknown"]
	if len(unknown.Covers) != 3 {
		t.Fatalf("covers %v", unknown.Covers)
	}
	ends := func(from, to catalogue.StageID) (near, far float64) {
		inside := false
		for _, stage := range unknown.Stages {
			if inside = inside || stage.ID == from; inside {
				near, far = near+stage.Practice.Near, far+stage.Practice.Far
			}
			if stage.ID == to {
				break
			}
		}
		return near, far
	}
	for _, stretch := range []struct {
		pest            catalogue.PestID
		from, to        catalogue.StageID // of the pest
		unFrom, unUntil catalogue.StageID // of the unknown one
	}{
		{"citrus-mealybug", "egg", "egg", "egg", "egg"}, {"citrus-mealybug", "crawler", "older-nymph", "crawler", "older-nymph"},
		{"citrus-mealybug", "young-female", "young-female", "young-female", "young-female"}, {"longtailed-mealybug", "crawler", "crawler", "crawler", "crawler"},
		{"longtailed-mealybug", "older-nymph", "older-nymph", "older-nymph", "older-nymph"}, {"longtailed-mealybug", "young-female", "young-female", "young-female", "young-female"},
		{"root-mealybug", "egg", "egg", "egg", "egg"}, {"root-mealybug", "nymph", "nymph", "crawler", "young-female"},
	} {
		for celsius := unknown.LowerLimit.Value; celsius <= unknown.UpperLimit.Value; celsius++ {
			least, most := daysAt(c.Pests[stretch.pest], stretch.from, stretch.to, celsius)
			near, far := ends(stretch.unFrom, stretch.unUntil)
			if near > least || far < most {
				t.Errorf("%s to %s at %v °C: %v to %v days, the %s takes %.2f to %.2f", stretch.unFrom, stretch.unUntil, celsius, near, far, stretch.pest, least, most)
			}
		}
	}
	for _, id := range unknown.Covers {
		known := c.Pests[id]
		if unknown.LayingDays.Near > known.LayingDays.Near || unknown.LayingDays.Far < known.LayingDays.Far {
			t.Errorf("lays for %v, the %s for %v", unknown.LayingDays, id, known.LayingDays)
		}
		if unknown.EggsPerFemale.Far < known.EggsPerFemale.Far || unknown.FemaleShare.Value < known.FemaleShare.Value || unknown.Survival.Value < known.Survival.Value {
			t.Errorf("breeds less than the %s", id)
		}
		for celsius := unknown.LowerLimit.Value; celsius <= unknown.UpperLimit.Value; celsius++ {
			if unknown.EggsAt(celsius) < known.EggsAt(celsius) {
				t.Errorf("at %v °C it lays %v eggs, the %s %v", celsius, unknown.EggsAt(celsius), id, known.EggsAt(celsius))
			}
		}
		if unknown.Detection.Value > known.Detection.Value {
			t.Errorf("is found more surely than the %s", id)
		}
		if unknown.LowerLimit.Value < known.LowerLimit.Value || unknown.UpperLimit.Value > known.UpperLimit.Value {
			t.Errorf("holds where the %s does not", id)
		}
	}
	if near, _ := ends("egg", "egg"); near != 0 {
		t.Error("waits for eggs, though the longtailed mealybug bears live young")
	}
}

// The worse reach counts, over those of the covered pests that a material meets at all: a spray says nothing of the root ball.
func TestMealybugUnknown_IsReachedNoBetterThanAnyThatItMayBe(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	worse := map[catalogue.Reach]int{catalogue.Reached: 0, catalogue.Partly: 1, catalogue.Spared: 2}
	alike := map[catalogue.StageID][]catalogue.StageID{"nymph": {"crawler", "older-nymph", "young-female"}}
	compared := 0
	for _, material := range c.Materials {
		for _, effect := range material.Effects {
			if !slices.Contains(c.Pests["mealybug-unknown"].Covers, effect.Pest) || !meetsAny(material, effect.Pest) {
				continue
			}
			stages := alike[effect.Stage]
			if stages == nil {
				stages = []catalogue.StageID{effect.Stage}
			}
			for _, stage := range stages {
				unknown := c.Effect(material.ID, "mealybug-unknown", stage)
				compared++
				if worse[unknown.Reach] < worse[effect.Reach] || unknown.Kill.Value > effect.Kill.Value {
					t.Errorf("%s: unknown %s %s %v, %s %s %v", material.ID, stage, unknown.Reach, unknown.Kill.Value, effect.Pest, effect.Reach, effect.Kill.Value)
				}
			}
		}
	}
	if compared < 50 {
		t.Errorf("only %d stages were compared", compared)
	}
}

func meetsAny(material catalogue.Material, pest catalogue.PestID) bool {
	return slices.ContainsFunc(material.Effects, func(e catalogue.Effect) bool { return e.Pest == pest && e.Reach != catalogue.Spared })
}

// r = ln(R0)/T holds within a twentieth in every life table that gives all three: Herbert 1981 (ln 20.8/44.0 = 0.0690),
// Bayındır Erol & Özgökçe 2018 (ln 14.07/67.51 = 0.0392), Bemisia on cotton and rapeseed (ln 27.84/32.74 = 0.1016).
func TestLifeTables_AgreeWithThemselves(t *testing.T) {
	t.Parallel()
	whole := 0
	for id, pest := range catalogue.Shipped().Pests {
		for _, table := range pest.LifeTables {
			if table.IntrinsicRate == 0 || table.NetReproduction == 0 || table.GenerationDays == 0 {
				continue
			}
			whole++
			r := math.Log(table.NetReproduction) / table.GenerationDays
			if math.Abs(r-table.IntrinsicRate) > mostOff*table.IntrinsicRate {
				t.Errorf("%s at %v °C: ln(R0)/T is %.4f, r is %v (%s)", id, table.Celsius, r, table.IntrinsicRate, table.Source)
			}
		}
	}
	if whole < 7 {
		t.Errorf("only %d life tables are whole", whole)
	}
}

// Rettke, Greenhouse Product News: fewer than 10 thrips a card and week on African violet, the strictest level of those
// that hold without predators or a virus. Of no other pest is a level known.
func TestCardThreshold_IsKnownOfThripsOnly(t *testing.T) {
	t.Parallel()
	for id, pest := range catalogue.Shipped().Pests {
		if (pest.CardThreshold != nil) != (id == "western-flower-thrips") {
			t.Errorf("%s: card threshold %v", id, pest.CardThreshold)
		}
	}
	if level := catalogue.Shipped().Pests["western-flower-thrips"].CardThreshold; level.Value != 10 || level.Unit != catalogue.UnitInsects {
		t.Errorf("thrips: %+v", level)
	}
}

func TestLaying_TakesWhatWasCountedAndBetweenTwoCountsTheSafeOne(t *testing.T) {
	t.Parallel()
	pest := catalogue.Pest{
		EggsPerFemale: catalogue.Range{Near: 50, Far: 70}, LayingDays: catalogue.Range{Near: 10, Far: 20},
		Laying: []catalogue.Laying{{Celsius: 15, Eggs: 40, Days: 30}, {Celsius: 18, Days: 25}, {Celsius: 20, Eggs: 100}, {Celsius: 25, Eggs: 80, Days: 9}},
	}
	for _, tc := range []struct{ celsius, eggs, days, most float64 }{
		{12, 60, 30, 0},    // nothing was counted in the cooler: not less eggs than usual, the nearest days, no longest for sure
		{15, 40, 30, 30},   // as counted
		{17, 100, 25, 30},  // between 40 and 100 eggs the more; the nearest days, and at the most those of 15 °C
		{18, 100, 25, 25},  // days were counted here, eggs were not
		{20, 100, 25, 25},  // eggs were counted, days were not: of 18 and 25 °C the nearer
		{21.5, 100, 9, 25}, // as near to 18 as to 25 °C: the quicker growth
		{24, 100, 9, 25},
		{25, 80, 9, 9},
		{29, 80, 9, 9}, // in the warmer nothing was counted: not less than the middle of 60
	} {
		days, ok := pest.LayingAt(tc.celsius)
		most, sure := pest.LayingAtMost(tc.celsius)
		if eggs := pest.EggsAt(tc.celsius); eggs != tc.eggs || !ok || days.Days != tc.days || most.Days != tc.most || sure != (tc.most > 0) {
			t.Errorf("%v °C: %v eggs in %v days, at most %v; want %v, %v and %v", tc.celsius, eggs, days.Days, most.Days, tc.eggs, tc.days, tc.most)
		}
	}
	plain := catalogue.Pest{EggsPerFemale: pest.EggsPerFemale, LayingDays: pest.LayingDays}
	if _, ok := plain.LayingAt(20); ok || plain.EggsAt(20) != 60 {
		t.Errorf("without a count: %v eggs, want the middle of the usual range, 60", plain.EggsAt(20))
	}
}
