package reentry_test

import (
	"errors"
	"testing"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/reentry"
)

func TestLongest_TakesTheLongerForEachStateOfTheAir(t *testing.T) {
	t.Parallel()
	const h = time.Hour
	for _, c := range []struct {
		name                         string
		keepOut, unventilated, least time.Duration
		want, wantUnventilated       time.Duration
	}{
		{"no other rule", 3 * h, 4*h + h/2, 0, 3 * h, 4*h + h/2},
		{"the other rule is longer", 3 * h, 4*h + h/2, 7 * h, 7 * h, 7 * h},
		{"longer in the air only", 3 * h, 8 * h, 7 * h, 7 * h, 8 * h},
		{"the label is longer", 12 * h, 12 * h, 7 * h, 12 * h, 12 * h},
		{"a label that needs none", 0, 0, 7 * h, 7 * h, 7 * h},
		{"never shorter without air", 4 * h, 3 * h, 0, 4 * h, 4 * h},
	} {
		if got, unventilated := reentry.Longest(c.keepOut, c.unventilated, c.least); got != c.want || unventilated != c.wantUnventilated {
			t.Errorf("%s: %v and %v, want %v and %v", c.name, got, unventilated, c.want, c.wantUnventilated)
		}
	}
}

// TestLongest_OfASchoolInPennsylvania: Pennsylvania Act 36 of 2002: no application where pupils are expected within seven
// hours after it. Until dry by the policy would be three.
func TestLongest_OfASchoolInPennsylvania(t *testing.T) {
	t.Parallel()
	dry := map[catalogue.Method]time.Duration{catalogue.WholePlantSpray: 3 * time.Hour}
	keepOut, unventilated, err := reentry.Resolve(catalogue.Entry{Kind: catalogue.EntryUntilDry}, catalogue.WholePlantSpray, dry, 150)
	if err != nil {
		t.Fatal(err)
	}
	least, known, _ := catalogue.Shipped().LeastEntry("US-PA", catalogue.School)
	if !known {
		t.Fatal("no least interval is known")
	}
	if keepOut, unventilated = reentry.Longest(keepOut, unventilated, least); keepOut != 7*time.Hour || unventilated != 7*time.Hour {
		t.Errorf("%v and %v, want 7h", keepOut, unventilated)
	}
}

// TestByToxicity_TakesTheWorstAndOnlyWhereTheRuleGoverns: EPA's Label Review Manual, chapter 10, and 40 CFR 156.208: category
// I 48 h, II 24 h, III and IV 12 h. That a missing category counts as I is the safe reading.
func TestByToxicity_TakesTheWorstAndOnlyWhereTheRuleGoverns(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		in   []catalogue.ToxicityCategory
		want time.Duration
	}{
		{"I", []catalogue.ToxicityCategory{"I"}, 48 * time.Hour},
		{"II", []catalogue.ToxicityCategory{"II"}, 24 * time.Hour},
		{"III", []catalogue.ToxicityCategory{"III"}, 12 * time.Hour},
		{"IV", []catalogue.ToxicityCategory{"IV"}, 12 * time.Hour},
		{"the worst of three", []catalogue.ToxicityCategory{"IV", "II", "III"}, 24 * time.Hour},
		{"a missing one", []catalogue.ToxicityCategory{"IV", "", "III"}, 48 * time.Hour},
		{"none told", nil, 48 * time.Hour},
		{"a category that is none", []catalogue.ToxicityCategory{"V"}, 48 * time.Hour},
	} {
		if got, err := reentry.ByToxicity(catalogue.Shipped(), true, c.in...); err != nil || got != c.want {
			t.Errorf("%s: %v, %v, want %v", c.name, got, err, c.want)
		}
	}
	if got, err := reentry.ByToxicity(catalogue.Shipped(), false, "IV"); !errors.Is(err, reentry.ErrNotGoverned) || got != 0 {
		t.Errorf("an office: %v, %v, want no default", got, err)
	}
}
