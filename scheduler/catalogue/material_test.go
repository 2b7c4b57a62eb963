package catalogue_test

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
)

func TestMaterials_AreThoseOfTheTrade(t *testing.T) {
	t.Parallel()
	for id, want := range map[catalogue.MaterialID]struct {
		method catalogue.Method
		law    catalogue.LegalStanding
		group  string
	}{
		"insecticidal-soap":      {catalogue.WholePlantSpray, catalogue.RegisteredProduct, ""},
		"horticultural-oil":      {catalogue.WholePlantSpray, catalogue.RegisteredProduct, ""},
		"neem-azadirachtin":      {catalogue.WholePlantSpray, catalogue.RegisteredProduct, "UN"},
		"pyrethrins":             {catalogue.WholePlantSpray, catalogue.RegisteredProduct, "3A"},
		"imidacloprid-soil":      {catalogue.Drench, catalogue.RegisteredProduct, "4A"},
		"bti-drench":             {catalogue.Drench, catalogue.RegisteredProduct, "11A"},
		"steinernema-feltiae":    {catalogue.Drench, catalogue.DeviceOrOrganism, ""},
		"cryptolaemus":           {catalogue.Release, catalogue.DeviceOrOrganism, ""},
		"sticky-cards":           {catalogue.Trap, catalogue.DeviceOrOrganism, ""},
		"removal-by-hand":        {catalogue.ByHand, catalogue.PhysicalWork, ""},
		"water-jet":              {catalogue.WholePlantSpray, catalogue.PhysicalWork, ""},
		"pruning":                {catalogue.ByHand, catalogue.PhysicalWork, ""},
		"isopropyl-alcohol":      {catalogue.SpotSpray, catalogue.HouseholdRemedy, ""},
		"isopropyl-alcohol-wipe": {catalogue.Wipe, catalogue.HouseholdRemedy, ""},
		"hydrogen-peroxide":      {catalogue.Drench, catalogue.HouseholdRemedy, ""},
	} {
		material, err := catalogue.Shipped().MaterialByID(id)
		if err != nil {
			t.Error(err)
			continue
		}
		if material.Method != want.method || material.Law != want.law || material.ModeOfAction != want.group {
			t.Errorf("%s: %s, %s, group %q, want %+v", id, material.Method, material.Law, material.ModeOfAction, want)
		}
	}
}

// What published trials say of each material on each stage. A kill that is a surrogate or our own guess is an assumption.
func TestEffect_AsPublished(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		material catalogue.MaterialID
		pest     catalogue.PestID
		stage    catalogue.StageID
		reach    catalogue.Reach
		kill     float64
		standing catalogue.Standing
		source   string
	}{
		{"insecticidal-soap", "two-spotted-mite", "egg", catalogue.Spared, 0, catalogue.Published, "household soaps on two-spotted mite, Taiwan 2006: no effect on eggs"},
		{"insecticidal-soap", "two-spotted-mite", "adult", catalogue.Reached, 0.93, catalogue.Published, "same: 93.1 to 98.6 %, the lower end"},
		{"insecticidal-soap", "two-spotted-mite", "protonymph", catalogue.Reached, 0.89, catalogue.Published, "same: nymphs 89.2 to 98.8 %, the lower end"},
		{"insecticidal-soap", "oleander-scale", "crawler", catalogue.Reached, 0.78, catalogue.Published, "Quesada & Sadof: 78 % of armoured crawlers"},
		{"insecticidal-soap", "oleander-scale", "settled-nymph", catalogue.Partly, 0.54, catalogue.Published, "Quesada & Sadof: 54 % of settled Aspidiotus nerii"},
		{"insecticidal-soap", "oleander-scale", "laying-female", catalogue.Spared, 0, catalogue.Published, "Quesada & Sadof: adults not different from untreated"},
		{"insecticidal-soap", "brown-soft-scale", "crawler", catalogue.Reached, 0.93, catalogue.Assumption, "Quesada & Sadof: 93 %, on another soft scale"},
		{"insecticidal-soap", "brown-soft-scale", "bearing-adult", catalogue.Spared, 0, catalogue.Assumption, "Quesada & Sadof: either family"},
		{"insecticidal-soap", "sweetpotato-whitefly", "nymph", catalogue.Reached, 0.95, catalogue.Published, "Liu & Stansly 2000: 95 % of nymphs"},
		{"horticultural-oil", "oleander-scale", "crawler", catalogue.Reached, 0.67, catalogue.Published, "Quesada & Sadof: 67 %"},
		{"horticultural-oil", "oleander-scale", "settled-nymph", catalogue.Reached, 0.9, catalogue.Published, "Quesada & Sadof: 90 % of settled Aspidiotus nerii"},
		{"horticultural-oil", "brown-soft-scale", "settled-nymph", catalogue.Partly, 0.05, catalogue.Assumption, "Quesada & Sadof: 5 %, on another soft scale"},
		{"horticultural-oil", "brown-soft-scale", "bearing-adult", catalogue.Spared, 0, catalogue.Assumption, "Quesada & Sadof: adults not different from untreated"},
		{"pyrethrins", "green-peach-aphid", "first-nymph", catalogue.Reached, 0.8, catalogue.Published, "Yankova et al. 2025: more than 80 %"},
		{"imidacloprid-soil", "citrus-mealybug", "crawler", catalogue.Partly, 0.35, catalogue.Assumption, "Herrick & Cloyd 2017: at most 35 % curative"},
		{"imidacloprid-soil", "oleander-scale", "settled-nymph", catalogue.Spared, 0, catalogue.Secondary, "not armoured scales"},
		{"imidacloprid-soil", "two-spotted-mite", "adult", catalogue.Spared, 0, catalogue.CommonPractice, "does nothing to mites"},
		{"steinernema-feltiae", "western-flower-thrips", "pupa", catalogue.Partly, 0.1, catalogue.Published, "Chyzik et al.: about 10 %, the safer of two laboratories"},
	} {
		got := catalogue.Shipped().Effect(tc.material, tc.pest, tc.stage)
		if got.Reach != tc.reach || got.Kill.Value != tc.kill || got.Kill.Standing != tc.standing {
			t.Errorf("%s on %s %s: %s, kills %v (%s), want %s, %v, %s (%s)", tc.material, tc.pest, tc.stage, got.Reach, got.Kill.Value, got.Kill.Standing, tc.reach, tc.kill, tc.standing, tc.source)
		}
	}
}

// Xue et al. 2009, LC50 in µg/cm²: eggs 17.55, adults 63.89, protonymphs 70.44, larvae 93.86.
func TestEffect_OilIsStrongestOnMiteEggs(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	egg := c.Effect("horticultural-oil", "two-spotted-mite", "egg")
	larva := c.Effect("horticultural-oil", "two-spotted-mite", "larva")
	for _, stage := range c.Pests["two-spotted-mite"].Stages {
		effect := c.Effect("horticultural-oil", "two-spotted-mite", stage.ID)
		if effect.Kill.Value > egg.Kill.Value || effect.Kill.Value < larva.Kill.Value {
			t.Errorf("oil kills %v of %s, %v of eggs, %v of larvae", effect.Kill.Value, stage.Name, egg.Kill.Value, larva.Kill.Value)
		}
	}
}

// Herrick & Cloyd 2017 and Herrick et al. 2018: at most 35 % curative, none of 11 trials stopped the second generation.
func TestImidacloprid_IsNoCureForMealybug(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	material := c.Materials["imidacloprid-soil"]
	for _, pest := range []catalogue.PestID{"citrus-mealybug", "longtailed-mealybug", "mealybug-unknown", "root-mealybug"} {
		if !material.HoldsDownOnly(pest) {
			t.Errorf("it is said to end the %s", pest)
		}
		for _, stage := range c.Pests[pest].Stages {
			if effect := c.Effect(material.ID, pest, stage.ID); effect.Kill.Value > 0.35 || effect.Reach == catalogue.Reached {
				t.Errorf("%s, %s: %s, %v", pest, stage.ID, effect.Reach, effect.Kill.Value)
			}
		}
	}
	if material.HoldsDownOnly("green-peach-aphid") {
		t.Error("it is said to hold aphids down only")
	}
	// Label text of a systemic granule: no run-out for 3 irrigations or 10 days, whichever is longer. Uptake takes "a couple
	// of weeks" (Colorado State University 5.599).
	if rule := material.NoLeaching; rule == nil || rule.Days != 10 || rule.Waterings != 3 || rule.Standing != catalogue.Published {
		t.Errorf("no leaching: %+v", rule)
	}
	if after := material.TakesEffectAfter; after == nil || after.Near != 14 {
		t.Errorf("takes effect after %+v", after)
	}
}

func TestApart_HoldsInTheOrderOfUse(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	for _, tc := range []struct {
		earlier, later catalogue.MaterialID
		days           float64
		known          bool
		source         string
	}{
		{"horticultural-oil", "sulphur-spray", 30, true, "labels: oil not within 30 days of sulphur"},
		{"sulphur-spray", "horticultural-oil", 30, true, "both ways"},
		{"hydrogen-peroxide", "steinernema-feltiae", 3, true, "not compatible with hydrogen dioxide; the days are ours"},
		{"steinernema-feltiae", "hydrogen-peroxide", 3, true, "both ways"},
		{"imidacloprid-soil", "cryptolaemus", 56, true, "residues of about two months"},
		{"pyrethrins", "cryptolaemus", 7, true, "ours"},
		{"cryptolaemus", "pyrethrins", 28, true, "while the beetles work"},
		{"insecticidal-soap", "cryptolaemus", 1, true, "kills while it is wet"},
		{"cryptolaemus", "insecticidal-soap", 0, false, "not said"},
		{"sticky-cards", "cryptolaemus", 0, true, "cards come down before the release"},
		{"cryptolaemus", "sticky-cards", 28, true, "while the beetles work"},
		{"bti-drench", "hydrogen-peroxide", 2, true, "from memory"},
		{"bti-drench", "sticky-cards", 0, false, "they go together"},
		{"no-such", "sticky-cards", 0, false, "unknown"},
	} {
		days, known, why := c.Apart(tc.earlier, tc.later)
		if days != tc.days || known != tc.known || known == (why == "") {
			t.Errorf("%s, then %s: %v days (%v, %q), want %v (%s)", tc.earlier, tc.later, days, known, why, tc.days, tc.source)
		}
	}
}

// Whichever of two materials states the conflict, it is found; both-way conflicts are symmetric.
func TestApart_EitherIsSymmetric(t *testing.T) {
	t.Parallel()
	ids := slices.Sorted(maps.Keys(catalogue.Shipped().Materials))
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.SampledFrom(ids).Draw(t, "a"), rapid.SampledFrom(ids).Draw(t, "b")
		days := rapid.Float64Range(0, 100).Draw(t, "days")
		conflict := catalogue.Conflict{Material: b, Order: catalogue.Either, Days: catalogue.Figure{Value: days}, Why: "so"}
		c := &catalogue.Catalogue{Materials: map[catalogue.MaterialID]catalogue.Material{a: {ID: a, Incompatible: []catalogue.Conflict{conflict}}}}
		there, known, _ := c.Apart(a, b)
		back, knownBack, _ := c.Apart(b, a)
		if !known || !knownBack || there != days || back != days {
			t.Fatalf("%s and %s: %v (%v) one way, %v (%v) the other, want %v", a, b, there, known, back, knownBack, days)
		}
	})
}

func TestMeets_GoesByHabitat(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	for _, tc := range []struct {
		material catalogue.MaterialID
		pest     catalogue.PestID
		stage    catalogue.StageID
		want     bool
	}{
		{"bti-drench", "fungus-gnat", "young-larva", true}, {"bti-drench", "citrus-mealybug", "crawler", false},
		{"insecticidal-soap", "root-mealybug", "nymph", false}, {"insecticidal-soap", "western-flower-thrips", "pupa", false},
		{"insecticidal-soap", "brown-soft-scale", "bearing-adult", true}, // lives on stems, comes to it and fails
		{"sticky-cards", "greenhouse-whitefly", "adult", true}, {"sticky-cards", "citrus-mealybug", "laying-female", false},
		{"imidacloprid-soil", "greenhouse-whitefly", "nymph", true}, {"imidacloprid-soil", "greenhouse-whitefly", "pupa", false},
		{"removal-by-hand", "root-mealybug", "nymph", true}, {"removal-by-hand", "fungus-gnat", "egg", true},
	} {
		stage, ok := c.Pests[tc.pest].Stage(tc.stage)
		if !ok {
			t.Fatalf("%s has no %s", tc.pest, tc.stage)
		}
		if got := c.Materials[tc.material].Meets(stage); got != tc.want {
			t.Errorf("%s comes to %s of %s: %v, want %v", tc.material, tc.stage, tc.pest, got, tc.want)
		}
	}
	for _, method := range catalogue.Methods {
		if len(method.Habitats()) == 0 {
			t.Errorf("%s comes to nothing", method)
		}
	}
	if got := catalogue.Method("magic").Habitats(); got != nil {
		t.Errorf("magic comes to %v", got)
	}
}

// 10,000 nematodes a litre of medium, kept at 4 to 10 °C, applied at 10 to 25 °C (greenhouse trade article).
func TestLivingGoods_SayHowTheyKeep(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	nematodes, beetles := c.Materials["steinernema-feltiae"], c.Materials["cryptolaemus"]
	if living := nematodes.Living; living == nil || living.PerLitre.Value != 10_000 || living.StorageCelsius.Near != 4 || living.StorageCelsius.Far != 10 || living.KeepDays.Value <= 0 {
		t.Errorf("nematodes: %+v", living)
	}
	if nematodes.MinCelsius.Value != 10 || nematodes.MaxCelsius.Value != 25 {
		t.Errorf("nematodes work at %v to %v °C", nematodes.MinCelsius.Value, nematodes.MaxCelsius.Value)
	}
	if living := beetles.Living; living == nil || living.PerPlant.Near != 2 || living.PerPlant.Far != 5 {
		t.Errorf("beetles: %+v", living)
	}
	for id, material := range c.Materials {
		if (material.Living != nil) != (id == "steinernema-feltiae" || id == "cryptolaemus") {
			t.Errorf("%s: living goods %v", id, material.Living != nil)
		}
	}
}

// Whoever handles it is told: the label first where there is one, and what can hurt.
func TestMaterials_CautionWhoeverHandlesThem(t *testing.T) {
	t.Parallel()
	for id, material := range catalogue.Shipped().Materials {
		all := strings.Join(material.Cautions, " ")
		for _, tc := range []struct {
			when  bool
			wants []string
		}{
			{material.Law == catalogue.RegisteredProduct, []string{"label", "outrank", "yes, rinse at once"}},
			{material.Law == catalogue.RegisteredProduct && material.Method.Sprays(), []string{"Fish, birds and cats", "slippery", "patch test", "No food"}},
			{material.Law == catalogue.HouseholdRemedy, []string{"law of the place", "bleach", "patch test"}},
			{material.Method == catalogue.ByHand, []string{"Gloves", "ladder"}},
			{material.ActiveIngredient == "isopropyl alcohol", []string{"Flammable"}},
			{id == "imidacloprid-soil", []string{"edible", "children", "waterings", "drains", "cuttings"}},
			{id == "hydrogen-peroxide", []string{"burns skin and eyes", "vented cap"}},
			{id == "horticultural-oil" || id == "neem-azadirachtin" || id == "pyrethrins", []string{"flower"}},
		} {
			for _, want := range tc.wants {
				if tc.when && !strings.Contains(all, want) {
					t.Errorf("%s: no word of %q in its cautions", id, want)
				}
			}
		}
	}
}
