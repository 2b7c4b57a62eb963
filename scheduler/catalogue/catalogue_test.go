package catalogue_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler/catalogue"
)

// days = K / (T - T0), with both constants from the named work; the arithmetic is in the last column.
func TestThermal_DaysOfPublishedConstants(t *testing.T) {
	t.Parallel()
	shipped := catalogue.Shipped()
	mealybug, gnat := shipped.Pests["citrus-mealybug"], shipped.Pests["fungus-gnat"]
	nymph := mealybug.Spans[0].Thermal
	stage := func(pest catalogue.Pest, id catalogue.StageID) catalogue.Thermal {
		s, ok := pest.Stage(id)
		if !ok || s.Thermal == nil {
			t.Fatalf("%s has no thermal constants for %s", pest.ID, id)
		}
		return *s.Thermal
	}
	preOviposition, larva := stage(mealybug, "young-female"), gnat.Spans[0].Thermal
	for _, tc := range []struct {
		name    string
		thermal catalogue.Thermal
		celsius float64
		days    float64
		source  string
	}{
		{"mealybug nymph", nymph, 20, 32.60, "Arai 1996: 401/12.3"},
		{"mealybug nymph", nymph, 21, 30.15, "Arai 1996: 401/13.3"},
		{"mealybug nymph", nymph, 25, 23.18, "Arai 1996: 401/17.3; observed on coffee 21.4, within a tenth"},
		{"mealybug nymph", nymph, 27, 20.78, "Arai 1996: 401/19.3"},
		{"mealybug nymph", nymph, 18, 38.93, "Arai 1996: 401/10.3"},
		{"mealybug nymph", nymph, 24, 24.60, "Arai 1996: 401/16.3"},
		{"mealybug before laying", preOviposition, 20, 31.50, "Arai 1996: 378/12"},
		{"mealybug before laying", preOviposition, 21, 29.08, "Arai 1996: 378/13"},
		{"mealybug before laying", preOviposition, 25, 22.24, "Arai 1996: 378/17"},
		{"mealybug before laying", preOviposition, 27, 19.89, "Arai 1996: 378/19"},
		{"gnat egg", stage(gnat, "egg"), 16, 8.56, "Liu Qian: 102.36/11.96"},
		{"gnat egg", stage(gnat, "egg"), 20, 6.41, "Liu Qian: 102.36/15.96"},
		{"gnat egg", stage(gnat, "egg"), 24, 5.13, "Liu Qian: 102.36/19.96"},
		{"gnat egg", stage(gnat, "egg"), 25, 4.88, "Liu Qian: 102.36/20.96"},
		{"gnat larva", larva, 16, 21.35, "Liu Qian: 218.03/10.21"},
		{"gnat larva", larva, 20, 15.34, "Liu Qian: 218.03/14.21"},
		{"gnat larva", larva, 21, 14.33, "Liu Qian: 218.03/15.21"},
		{"gnat larva", larva, 24, 11.97, "Liu Qian: 218.03/18.21"},
		{"gnat larva", larva, 25, 11.35, "Liu Qian: 218.03/19.21"},
		{"gnat pupa", stage(gnat, "pupa"), 16, 6.37, "Liu Qian: 48.57/7.62"},
		{"gnat pupa", stage(gnat, "pupa"), 20, 4.18, "Liu Qian: 48.57/11.62"},
		{"gnat pupa", stage(gnat, "pupa"), 24, 3.11, "Liu Qian: 48.57/15.62"},
		{"gnat pupa", stage(gnat, "pupa"), 25, 2.92, "Liu Qian: 48.57/16.62"},
		// Constants that no shipped stage carries: the formula against other published tables.
		{"gnat, egg to adult", catalogue.Thermal{T0: 4.97, K: 395.79}, 24, 20.80, "Liu Qian: 395.79/19.03; Ontario ministry observed 21"},
		{"spider mite, egg to adult", catalogue.Thermal{T0: 11.63, K: 127.81}, 21, 13.64, "Bayu et al. 2017: 127.81/9.37"},
		{"spider mite egg", catalogue.Thermal{T0: 12.87, K: 63.35}, 21, 7.79, "Egyptian Academic Journal of Biological Sciences: 63.35/8.13"},
		{"western flower thrips", catalogue.Thermal{T0: 9.5, K: 194}, 30, 9.46, "Japanese J. Appl. Ent. Zool. 41(4) 1997: 194/20.5; observed 9.5"},
		{"Phenacoccus solenopsis, generation", catalogue.Thermal{T0: 8.2, K: 774.1}, 20, 65.60, "Shehata: printed 65.6 at 20 °C"},
		{"Phenacoccus solenopsis, generation", catalogue.Thermal{T0: 8.2, K: 774.1}, 30, 35.51, "Shehata: printed 35.5 at 30 °C"},
		{"longtailed mealybug nymph", catalogue.Thermal{T0: 8, K: 422.1}, 20, 35.18, "Santa-Cecília et al. 2011: 422.1/12"},
		{"longtailed mealybug nymph", catalogue.Thermal{T0: 8, K: 422.1}, 25, 24.83, "Santa-Cecília et al. 2011: 422.1/17"},
		{"spider mite, degree-days above 10", catalogue.Thermal{T0: 10, K: 141.3}, 15, 28.26, "Herbert 1981: 141.3/5"},
		{"spider mite, degree-days above 10", catalogue.Thermal{T0: 10, K: 139.8}, 21, 12.71, "Herbert 1981: 139.8/11"},
	} {
		days, ok := tc.thermal.Days(tc.celsius)
		if !ok || math.Abs(days-tc.days) > 0.011 {
			t.Errorf("%s at %v °C takes %.3f days (%v), want %.2f (%s)", tc.name, tc.celsius, days, ok, tc.days, tc.source)
		}
	}
}

func TestThermal_NothingDevelopsAtOrBelowT0(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		thermal := catalogue.Thermal{T0: rapid.Float64Range(-10, 20).Draw(t, "T0"), K: rapid.Float64Range(1, 1000).Draw(t, "K")}
		below := rapid.Float64Range(0, 40).Draw(t, "below")
		if days, ok := thermal.Days(thermal.T0 - below); ok || days != 0 {
			t.Fatalf("%v at %v °C takes %v days", thermal, thermal.T0-below, days)
		}
		cooler := thermal.T0 + rapid.Float64Range(0.1, 10).Draw(t, "above")
		slow, ok1 := thermal.Days(cooler)
		fast, ok2 := thermal.Days(cooler + rapid.Float64Range(0.1, 10).Draw(t, "warmer by"))
		if !ok1 || !ok2 || fast >= slow {
			t.Fatalf("%v takes %v days at %v °C and %v where it is warmer", thermal, slow, cooler, fast)
		}
	})
	if _, ok := (catalogue.Thermal{T0: 5, K: 100}).Days(math.NaN()); ok {
		t.Error("a temperature that is no number gives days")
	}
}

// Rinker & Alm 2008: 87, 75, 8 and 0 % when drenched 4, 6, 8 and 10 days after the flies came, so that
// one figure for all larvae would be wrong.
func TestEffect_BtiReachesYoungLarvaeOnly(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	for stage, want := range map[catalogue.StageID]struct {
		reach catalogue.Reach
		kill  float64
	}{
		"egg": {catalogue.Spared, 0}, "young-larva": {catalogue.Reached, 0.75}, "older-larva": {catalogue.Spared, 0},
		"pupa": {catalogue.Spared, 0}, "adult": {catalogue.Spared, 0},
	} {
		got := c.Effect("bti-drench", "fungus-gnat", stage)
		if got.Reach != want.reach || got.Kill.Value != want.kill {
			t.Errorf("Bti on %s: %s, kills %v, want %s, %v", stage, got.Reach, got.Kill.Value, want.reach, want.kill)
		}
	}
}

func TestEffect_WhatIsNotListedIsSpared(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	for _, of := range []struct {
		material catalogue.MaterialID
		pest     catalogue.PestID
		stage    catalogue.StageID
	}{
		{"insecticidal-soap", "fungus-gnat", "adult"}, {"sticky-cards", "citrus-mealybug", "laying-female"}, {"hydrogen-peroxide", "fungus-gnat", "pupa"}, {"no-such", "citrus-mealybug", "egg"},
	} {
		got := c.Effect(of.material, of.pest, of.stage)
		if got.Reach != catalogue.Spared || got.Kill.Value != 0 || got.Kill.Unit != catalogue.UnitShare || got.Pest != of.pest || got.Stage != of.stage {
			t.Errorf("%v: %+v, want spared", of, got)
		}
	}
	if got := c.Effect("insecticidal-soap", "citrus-mealybug", "egg"); got.Reach != catalogue.Spared {
		t.Errorf("soap on eggs: %v, want spared (no contact insecticide of its kind kills eggs)", got.Reach)
	}
}

func TestInForce_TheMaterialHoldsWhereTheLabelIsSilentOrMilder(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	neem := catalogue.Product{ID: "neem-a", Material: "neem-azadirachtin"}
	if c.InForce(neem).Label.MixLife != 4*time.Hour {
		t.Errorf("mix life of a silent label: %v, want the material's 4 h", c.InForce(neem).Label.MixLife)
	}
	neem.Label.MixLife = 2 * time.Hour
	if got := c.InForce(neem).Label.MixLife; got != 2*time.Hour {
		t.Errorf("mix life of a label: %v, want its own 2 h", got)
	}
	days := func(p catalogue.Product, other catalogue.MaterialID) int {
		i := slices.IndexFunc(c.InForce(p).Label.Incompatible, func(n catalogue.Incompatible) bool { return n.Material == other })
		if i < 0 {
			return 0
		}
		return c.InForce(p).Label.Incompatible[i].Days
	}
	sulphur := catalogue.Product{ID: "sulphur-a", Material: "sulphur-spray"}
	for _, p := range []struct {
		product catalogue.Product
		other   catalogue.MaterialID
	}{{neem, sulphur.Material}, {sulphur, neem.Material}} { // oil and sulphur ask it both ways
		if got := days(p.product, p.other); got != 30 {
			t.Errorf("%s stands %d days from %s, want 30", p.product.Material, got, p.other)
		}
		p.product.Label.Incompatible = []catalogue.Incompatible{{Material: p.other, Days: 14}}
		if got := days(p.product, p.other); got != 30 {
			t.Errorf("a label of 14 days: %s stands %d days from %s, want the stricter 30", p.product.Material, got, p.other)
		}
		p.product.Label.Incompatible[0].Days = 60
		if got := days(p.product, p.other); got != 60 {
			t.Errorf("a label of 60 days: %s stands %d days from %s, want the stricter 60", p.product.Material, got, p.other)
		}
		if p.product.Label.Incompatible[0].Days != 60 {
			t.Error("the caller's own label was changed")
		}
	}
}

func TestTolerance_TheSpeciesThenTheMaterialThenAPatchTest(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		species  catalogue.SpeciesID
		material catalogue.MaterialID
		want     catalogue.Verdict
		standing catalogue.Standing
		source   string
	}{
		{"adiantum-raddianum", "insecticidal-soap", catalogue.MustNot, catalogue.Secondary, "extension agent's list: maidenhair fern"},
		{"crassula-ovata", "insecticidal-soap", catalogue.PatchTest, catalogue.Secondary, "garden pages: jade"},
		{"epipremnum-aureum", "insecticidal-soap", catalogue.PatchTest, catalogue.Assumption, "not said"},
		{"adiantum-raddianum", "sticky-cards", catalogue.Stands, catalogue.CommonPractice, "nothing is put on the plant"},
		{"adiantum-raddianum", "isopropyl-alcohol", catalogue.MustNot, catalogue.Secondary, "plant pages: thin leaves such as ferns'"},
		{"epipremnum-aureum", "isopropyl-alcohol", catalogue.PatchTest, catalogue.Assumption, "not said"},
		{"no-such-plant", "bti-drench", catalogue.Stands, catalogue.CommonPractice, "follows the material"},
		{"no-such-plant", "no-such-material", catalogue.PatchTest, catalogue.Assumption, "not said"},
	} {
		got := catalogue.Shipped().Tolerance(tc.species, tc.material)
		if got.Verdict != tc.want || got.Standing != tc.standing || got.Material != tc.material {
			t.Errorf("%s and %s: %+v, want %s, %s (%s)", tc.species, tc.material, got, tc.want, tc.standing, tc.source)
		}
	}
}

func TestNoticeLead_IsTheStrictestKnownInTheChain(t *testing.T) {
	t.Parallel()
	// Pennsylvania Act 36 of 2002: notice at schools at least 72 hours before a treatment.
	lead, known, text := catalogue.Shipped().NoticeLead("US-PA", catalogue.School)
	if lead != 72*time.Hour || !known || !strings.Contains(text, "72 hours") {
		t.Errorf("school in Pennsylvania: %v, %v, %q, want 72 h", lead, known, text)
	}
	for _, unknown := range []struct {
		code  catalogue.JurisdictionCode
		place catalogue.PlaceKind
	}{{"US-PA", catalogue.Office}, {"GB", catalogue.School}, {"XX", catalogue.School}} {
		if lead, known, text := catalogue.Shipped().NoticeLead(unknown.code, unknown.place); known || lead != 0 || text != "" {
			t.Errorf("%v: %v, %v, %q, want unknown", unknown, lead, known, text)
		}
	}
	hours := func(h float64) catalogue.Figure {
		return catalogue.Figure{Value: h, Unit: catalogue.UnitHours, Standing: catalogue.Assumption}
	}
	places := []catalogue.PlaceKind{catalogue.Office}
	c := &catalogue.Catalogue{Jurisdictions: map[catalogue.JurisdictionCode]catalogue.Jurisdiction{
		"A":   {Code: "A", Notices: []catalogue.NoticeRule{{Places: places, LeadHours: hours(48), Text: "of A"}}},
		"A-1": {Code: "A-1", Within: "A", Notices: []catalogue.NoticeRule{{Places: places, LeadHours: hours(24), Text: "of A-1"}}},
		"B":   {Code: "B", Notices: []catalogue.NoticeRule{{Places: places, LeadHours: hours(0), Text: "none needed"}}},
	}}
	if lead, known, text := c.NoticeLead("A-1", catalogue.Office); lead != 48*time.Hour || !known || text != "of A" {
		t.Errorf("the narrower, laxer rule won: %v, %v, %q", lead, known, text)
	}
	if lead, known, _ := c.NoticeLead("B", catalogue.Office); lead != 0 || !known {
		t.Errorf("a known lead of none is %v, %v", lead, known)
	}
}

// Pennsylvania Act 36 of 2002: no application where students are expected to be present within 7 hours.
func TestLeastEntry_IsKnownForSchoolsInPennsylvania(t *testing.T) {
	t.Parallel()
	if least, known, text := catalogue.Shipped().LeastEntry("US-PA", catalogue.School); least != 7*time.Hour || !known || text == "" {
		t.Errorf("school in Pennsylvania: %v, %v, %q, want 7 h", least, known, text)
	}
	if least, known, _ := catalogue.Shipped().LeastEntry("US-PA", catalogue.Office); known || least != 0 {
		t.Errorf("office in Pennsylvania: %v, %v, want unknown", least, known)
	}
}

func TestRecordRule_JoinsTheChain(t *testing.T) {
	t.Parallel()
	// 7 Pa. Code § 128.35: three years; 40 CFR 171.303(b)(7): two.
	rule := catalogue.Shipped().RecordRule("US-PA")
	if rule.KeepYears.Value != 3 {
		t.Errorf("kept %v years, want 3", rule.KeepYears.Value)
	}
	for _, element := range []string{"hour completed where a re-entry time applies", "supervised noncertified person"} {
		if !slices.Contains(rule.Elements, element) {
			t.Errorf("no element %q in %q", element, rule.Elements)
		}
	}
	if sorted := slices.Sorted(slices.Values(rule.Elements)); len(slices.Compact(sorted)) != len(rule.Elements) {
		t.Errorf("an element is there twice: %q", rule.Elements)
	}
	if federal := catalogue.Shipped().RecordRule("US"); federal.KeepYears.Value != 2 {
		t.Errorf("federal records are kept %v years, want 2", federal.KeepYears.Value)
	}
	if unknown := catalogue.Shipped().RecordRule("XX"); len(unknown.Elements) != 0 {
		t.Errorf("an unknown jurisdiction asks for %q", unknown.Elements)
	}
}

func TestCategories_SayWhichPlacesTheyCover(t *testing.T) {
	t.Parallel()
	covering := func(code catalogue.JurisdictionCode, place catalogue.PlaceKind) (ids []string) {
		for _, category := range catalogue.Shipped().Categories(code) {
			if slices.Contains(category.Covers, place) {
				ids = append(ids, category.ID)
			}
		}
		return ids
	}
	if got := covering("US-PA", catalogue.Office); !slices.Equal(got, []string{"22"}) {
		t.Errorf("offices in Pennsylvania: %q", got)
	}
	if got := covering("US-PA", catalogue.Outdoors); !slices.Equal(got, []string{"06"}) {
		t.Errorf("outdoors in Pennsylvania: %q", got)
	}
	if _, known := catalogue.Shipped().Supervision("US-PA"); !known {
		t.Error("supervision in Pennsylvania is not known")
	}
	if text, known := catalogue.Shipped().Supervision("GB"); known {
		t.Errorf("supervision in Great Britain is known to be %q", text)
	}
}

func TestChain_EndsInACircle(t *testing.T) {
	t.Parallel()
	c := &catalogue.Catalogue{Jurisdictions: map[catalogue.JurisdictionCode]catalogue.Jurisdiction{
		"A": {Code: "A", Within: "B"}, "B": {Code: "B", Within: "A"},
	}}
	if chain := c.Chain("A"); len(chain) > 3 {
		t.Errorf("%d jurisdictions in a circle of two", len(chain))
	}
}

func TestByID_NamesWhatIsKnown(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	if pest, err := c.PestByID("fungus-gnat"); err != nil || pest.Scientific == "" {
		t.Errorf("fungus gnat: %+v, %v", pest, err)
	}
	_, err := c.PestByID("gnat")
	if err == nil || err.Error() != `unknown pest "gnat": want one of brown-soft-scale, citrus-mealybug, fungus-gnat, green-peach-aphid, greenhouse-whitefly, longtailed-mealybug, mealybug-unknown, oleander-scale, root-mealybug, sweetpotato-whitefly, two-spotted-mite, western-flower-thrips` {
		t.Errorf("unknown pest: %v", err)
	}
	_, materialErr := c.MaterialByID("soap")
	_, speciesErr := c.SpeciesByID("x")
	_, jurisdictionErr := c.JurisdictionByCode("US-XX")
	for _, tc := range []struct {
		err   error
		wants []string
	}{
		{materialErr, []string{`unknown material "soap"`, "insecticidal-soap"}},
		{speciesErr, []string{`unknown species "x"`, "ficus-lyrata"}},
		{jurisdictionErr, []string{`unknown jurisdiction "US-XX"`, "GB, US, US-AK, US-AZ, US-CA, US-CT, US-GA, US-IL, US-KY, US-MD, US-MI, US-NJ, US-NY, US-PA, US-WA"}},
	} {
		for _, want := range tc.wants {
			if tc.err == nil || !strings.Contains(tc.err.Error(), want) {
				t.Errorf("error %v, want %q in it", tc.err, want)
			}
		}
	}
}

func TestFigure_Duration(t *testing.T) {
	t.Parallel()
	for unit, want := range map[string]time.Duration{
		catalogue.UnitSeconds: 1500 * time.Millisecond, catalogue.UnitMinutes: 90 * time.Second, catalogue.UnitHours: 90 * time.Minute, catalogue.UnitDays: 36 * time.Hour,
	} {
		if got, ok := (catalogue.Figure{Value: 1.5, Unit: unit}).Duration(); !ok || got != want {
			t.Errorf("1.5 %s is %v, %v, want %v", unit, got, ok, want)
		}
	}
	if got, ok := (catalogue.Figure{Value: 1.5, Unit: catalogue.UnitShare}).Duration(); ok {
		t.Errorf("a share lasts %v", got)
	}
}
