package catalogue_test

import (
	"slices"
	"testing"

	"vernation/scheduler/catalogue"
)

func TestWithTolerances_OwnRecordsComeBeforeWhatIsShipped(t *testing.T) {
	t.Parallel()
	shipped := catalogue.Shipped()
	record := func(species catalogue.SpeciesID, verdict catalogue.Verdict) catalogue.SpeciesTolerance {
		return catalogue.SpeciesTolerance{Species: species, Tolerance: catalogue.Tolerance{
			Material: "insecticidal-soap", Verdict: verdict, Source: "own trial", Standing: catalogue.OwnRecords,
		}}
	}
	was := shipped.Tolerance("epipremnum-aureum", "insecticidal-soap")
	own := []catalogue.SpeciesTolerance{
		record("epipremnum-aureum", catalogue.MustNot), record("spathiphyllum-wallisii", catalogue.PatchTest), record("unheard-of", catalogue.MustNot),
	}
	with := shipped.WithTolerances(own)
	if got := with.Tolerance("epipremnum-aureum", "insecticidal-soap"); got != own[0].Tolerance {
		t.Errorf("own record: %+v, want %+v", got, own[0].Tolerance)
	}
	if got := with.Tolerance("epipremnum-aureum", "neem-oil"); got != shipped.Tolerance("epipremnum-aureum", "neem-oil") {
		t.Errorf("another material: %+v", got)
	}
	if now := shipped.Tolerance("epipremnum-aureum", "insecticidal-soap"); now != was {
		t.Errorf("the shipped catalogue has changed: %+v, was %+v", now, was)
	}
	if _, ok := with.Species["unheard-of"]; ok {
		t.Error("a record made a species known")
	}
	slices.Reverse(own)
	if again := shipped.WithTolerances(own); again.Version != with.Version || with.Version == shipped.Version {
		t.Errorf("versions %s, %s, shipped %s", with.Version, again.Version, shipped.Version)
	}
	if shipped.WithTolerances(nil) != shipped {
		t.Error("without own records the catalogue is another one")
	}
}
